"""Map files: every mistake told with its place, and the published schema fits."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator

from checker.intake.maps import BadMap, load
from checker.reading.package_data import data_folder

EXAMPLES = sorted(
    (Path(__file__).parents[2] / "example_designs" / "subcontractors").glob("*.map.yaml")
)


def problems(text: str) -> list[tuple[int, str]]:
    with pytest.raises(BadMap) as bad:
        load("a.map.yaml", text.encode())
    return [(one.line, one.message) for one in bad.value.problems]


def test_the_schema_is_one() -> None:
    schema = json.loads((data_folder("schemas") / "map.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_example_maps_are_sound(path: Path) -> None:
    assert load(str(path), path.read_bytes()).parts


def test_there_are_example_maps() -> None:
    assert len(EXAMPLES) == 2


def test_every_mistake_is_told_with_its_line() -> None:
    found = problems(
        "map: 1\n"
        "design: {plant: {supply: 45, sorce: boiler}}\n"
        "every: {loops: {spacing: wide}}\n"
        "sheets:\n"
        "  - ids: {loop: '{A}'}\n"
        "    columns:\n"
        "      - {heading: A, field: loops.lenght, unit: m}\n"
        "      - {heading: B, field: loops.length, unit: kg}\n"
        "      - {heading: C, field: rooms.area, unit: m²}\n"
        "      - {heading: D, field: loops.pattern, words: {x: spiral}}\n"
    )
    told = dict(found)
    assert len(found) == len(told) + 3  # the lines 2, 8 and 10 have two
    assert any("45 has no unit" in words for _, words in found)
    assert any("did you mean 'source'?" in words for _, words in found)
    assert "does not begin with a number" in told[3]
    assert "did you mean 'loops'?" in told[5]
    assert "did you mean 'loops.length'?" in told[7]
    assert any(line == 8 and "mass" in words for line, words in found)
    assert "needs to know which record" in told[9]
    assert any(line == 10 and "'spiral' is not allowed" in words for line, words in found)


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("", 1, "empty"),
        ("map: 2\nsheets: [{cells: []}]", 1, "'2' is not allowed"),
        ("map: 1\n", 1, "'sheets' is missing"),
        ("map: 1\nsheet: []\nsheets: [{columns: []}]", 2, "did you mean 'sheets'?"),
        ("map: 1\nsheets:\n  - columns:\n    - {heding: A, field: loops.length}", 4, "'heding'"),
        ("map: 1\nsheets: [{}]", 2, "needs 'columns' or 'cells'"),
        ("map: 1\nsheets:\n  - cells: [{field: project.name}]", 3, "either 'at' or 'beside'"),
        ("map: 1\nsheets:\n  - cells: [{at: B1, field: loops.length}]", 3, "one of many"),
    ],
)
def test_a_mistake_is_told(text: str, line: int, words: str) -> None:
    assert any(at == line and words in said for at, said in problems(text)), problems(text)


def test_one_sign_cannot_be_both_marks() -> None:
    head = "map: 1\nsheets:\n  - cells: [{at: B1, field: project.name}]\n"
    for keys in ("thousands: point\n", "decimal: comma\nthousands: comma\n"):
        ((line, words),) = problems(head + keys)
        assert line == 3 + keys.count("\n")
        assert "is the decimal mark already" in words
    ((_, words),) = problems(f"{head}thousands: dot\n")
    assert "'dot' is not allowed here" in words
