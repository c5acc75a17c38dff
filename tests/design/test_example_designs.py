"""The example designs and the generated ones: read without problem, valid, and consistent."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

from checker.design.tables import Tables
from checker.reading.package_data import data_folder
from checker.units import parse
from tests.design.designs import generate
from tests.example import report

FOLDER = Path(__file__).parents[2] / "example_designs"
EXAMPLES = sorted(path for path in FOLDER.iterdir() if path.suffix in (".yaml", ".yml", ".json"))
SCHEMA = json.loads((data_folder("schemas") / "design.schema.json").read_text("utf-8"))
VALIDATOR = Draft202012Validator(SCHEMA, format_checker=Draft202012Validator.FORMAT_CHECKER)


class Loader(yaml.CSafeLoader):
    """YAML in which a date stays the text that was typed, as in the design format."""

    yaml_implicit_resolvers = {  # noqa: RUF012  # so the base class declares it
        first: [
            (tag, pattern)
            for tag, pattern in resolvers
            # 'on' is a key, as in YAML 1.2; dates stay the text that was typed.
            if not tag.endswith(":timestamp") and not (tag.endswith(":bool") and first in "oO")
        ]
        for first, resolvers in yaml.CSafeLoader.yaml_implicit_resolvers.items()
    }


def data(path: Path) -> Any:
    text = path.read_text("utf-8")
    return json.loads(text) if path.suffix == ".json" else yaml.load(text, Loader)


def errors(design: Any) -> list[str]:
    return [f"{error.json_path}: {error.message}" for error in VALIDATOR.iter_errors(design)]


def test_the_street_is_there() -> None:
    assert [path.name for path in EXAMPLES] == [
        "mill-lane-9-feet-and-fahrenheit.yaml",
        "millrace-close-3-edge-zone.yaml",
        "millrace-close-5-hall-of-feeds.yaml",
        "millrace-close-7-dry-boards.yaml",
        "orchard-row-1-ground-floor.yaml",
        "orchard-row-1-upper-floor.yaml",
        "orchard-row-2-bathroom.yaml",
        "orchard-row-3-eight-mistakes.yaml",
        "orchard-row-4-installed.yaml",
        "orchard-row-5.json",
    ]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_reads_and_is_valid(path: Path) -> None:
    tables = Tables()
    design = tables.add(path.name, path.read_bytes())
    assert errors(data(path)) == []
    assert 3 <= len(tables["loops"]) <= 14
    assert len(design.name) >= 10
    first_line = path.read_text("utf-8").splitlines()[0]
    assert "invented" in (design.name if path.suffix == ".json" else first_line)


@pytest.mark.parametrize(
    "path", [path for path in EXAMPLES if "dry" not in path.name], ids=lambda path: path.stem
)
def test_an_example_in_screed_runs_in_the_order_of_the_work(path: Path) -> None:
    design = data(path)
    designed = design["project"]["designed_on"]
    screeds = [floor["screed"] for floor in design["floors"].values()]
    tests = [test["tested_on"] for test in design["pressure_tests"].values()]
    assert designed < min(tests)
    assert max(tests) <= min(screed["laid_on"] for screed in screeds)
    assert max(screed["laid_on"] for screed in screeds) < design["heat_up"]["started_on"]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_has_the_pipe_that_its_spacing_asks_for(path: Path) -> None:
    """The length is the heated area over the spacing, plus the feeds, to a metre."""
    design = data(path)
    parts = [(loop, loop.get("parts", [loop]), loop["feeds"]) for loop in design["loops"].values()]
    for loop, own, listed in parts:
        asked = sum(parse(p["area"], "area") / parse(p["spacing"], "length") for p in own)
        feeds = [listed] if isinstance(listed, str) else [feed["length"] for feed in listed]
        asked += sum(parse(feed, "length") for feed in feeds)
        assert parse(loop["length"], "length") == pytest.approx(asked, abs=1)
    for name, room in design["rooms"].items():
        heated = sum(
            parse(p["area"], "area") for _, own, _ in parts for p in own if p["room"] == name
        )
        assert 0 < heated <= parse(room["area"], "area")


def faults(path: Path, *kinds: str) -> list[tuple[str, str, str]]:
    """Rule, subject and severity of the results of these kinds."""
    found = report(path.read_text("utf-8"), path.name)
    return [(r.rule, r.subject, r.severity) for r in found.results if r.kind in kinds]


@pytest.mark.parametrize(
    "path", [path for path in EXAMPLES if "mistakes" not in path.name], ids=lambda path: path.stem
)
def test_a_sound_example_is_released_with_nothing_failing_or_open(path: Path) -> None:
    assert report(path.read_text("utf-8"), path.name).verdict == "release"
    assert faults(path, "fail", "open") == []


def test_the_eight_mistakes_are_found_and_nothing_else() -> None:
    path = FOLDER / "orchard-row-3-eight-mistakes.yaml"
    assert report(path.read_text("utf-8"), path.name).verdict == "hold"
    assert sorted(fault for fault in faults(path, "fail") if fault[2] in ("critical", "major")) == [
        ("covering-resistance", "rooms.small bedroom", "major"),
        ("header-port-clash", "loops.L3", "major"),
        ("header-port-clash", "loops.L4", "major"),
        # The water that is too hot is never reached in the first heating.
        ("heat-up-steps", "design", "major"),
        ("insulation", "floors.upstairs", "major"),
        ("loop-length", "loops.L1", "major"),
        ("pump-duty", "headers.H2", "major"),
        ("room-heat", "rooms.small bedroom", "major"),
        ("room-heat", "rooms.study", "major"),
        ("screed-temperature", "loops.L6", "critical"),
        ("screed-temperature", "loops.L7", "critical"),
        ("test-pressure", "pressure_tests.test of H2", "critical"),
    ]
    # The carpet beyond the tables is judged by the section, and nothing is left open.
    assert ("beyond-tables", "loops.L9", "observation") in faults(path, "fail")
    assert faults(path, "open") == []


@pytest.mark.parametrize(("number", "loops"), [(0, 8), (1, 8), (2, 1), (3, 13), (4, 40), (5, 100)])
def test_a_generated_design_reads_and_is_valid(number: int, loops: int) -> None:
    text = generate(number, loops)
    tables = Tables()
    assert tables.add("generated.yaml", text.encode()).name == f"Invented Street {number}"
    assert len(tables["loops"]) == len(tables["rooms"]) == loops
    assert errors(yaml.load(text.replace(": yes", ": true"), Loader)) == []


def test_generated_designs_vary_and_can_be_had_again() -> None:
    designs = [generate(number) for number in range(50)]
    assert designs == [generate(number) for number in range(50)]
    assert len({*designs}) == 50
    assert generate(0) != generate(0, seed=1)
    assert all(3000 < len(design.encode()) < 4500 for design in designs)
    assert {design.count("\n  H") for design in designs} == {1, 2}
    assert any("pressure: 2.5 bar" in design for design in designs)
