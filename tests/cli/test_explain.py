"""`prescreed explain` as a person calls it."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from tests.cli.calling import prescreed
from tests.example import DESIGN, changed


@pytest.fixture
def house(tmp_path: Path) -> Path:
    path = tmp_path / "house.yaml"
    path.write_text(DESIGN, "utf-8")
    return path


def explained(house: Path, *words: str, width: int = 80) -> subprocess.CompletedProcess[str]:
    return prescreed("explain", str(house), *words, COLUMNS=str(width))


def columns(line: str) -> int:
    return sum(not 0x300 <= ord(sign) < 0x370 for sign in line)


@pytest.mark.parametrize("width", [80, 120])
def test_the_working_is_written_as_by_hand(house: Path, width: int) -> None:
    done = explained(house, "loop-pressure-drop", "L1", width=width)
    assert (done.returncode, done.stderr) == (0, "")
    assert max(map(columns, done.stdout.splitlines())) <= width
    assert "\x1b[" not in done.stdout
    for text in (
        "L = 88 m",
        "d = d_a − 2 · s_R\n      = 16 mm − 2 · 2 mm\n      = 12 mm",
        "Δp = f · L / d · ρ · v² / 2",
        "source: Darcy-Weisbach",
        "Compared with",
        "governs the result",
    ):
        assert squeezed(text) in squeezed(done.stdout)


def squeezed(text: str) -> str:
    return "\n".join(" ".join(line.split()) for line in text.splitlines())


def test_the_line_of_what_is_given_stands_beside_it(house: Path) -> None:
    done = explained(house, "loop-length", "loops.L1")
    number = next(n for n, line in enumerate(DESIGN.splitlines(), 1) if "length: 88 m" in line)
    assert f"L = 88 m loops.L1.length line {number}" in squeezed(done.stdout)


def test_json_carries_every_part(house: Path) -> None:
    done = explained(house, "pump-duty", "H1", "--format", "json")
    worked = json.loads(done.stdout)
    assert worked["explain"] == 1
    assert (worked["rule"], worked["subject"], worked["kind"]) == (
        "pump-duty",
        "headers.H1",
        "pass",
    )
    assert [step["number"] for step in worked["steps"]] == [*range(1, len(worked["steps"]) + 1)]
    assert all(step["symbol"] and step["formula"] and step["source"] for step in worked["steps"])
    assert worked["limits"][0]["governs"] is True


def test_markdown_is_a_page(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(
        changed(("kitchen:", '"<b>|kitchen":'), ("room: kitchen", 'room: "<b>|kitchen"')), "utf-8"
    )
    done = prescreed("explain", str(path), "room-heat", "rooms.<b>|kitchen", "--format", "markdown")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("# room-heat")
    table = [line for line in done.stdout.splitlines() if line.startswith("| ")]
    assert table
    assert not any("<b>" in line for line in table)
    for start in ("## Given", "## Worked", "## Compared with"):
        assert start in done.stdout


def test_codes_and_day_pick_what_counts(house: Path) -> None:
    done = explained(house, "test-pressure", "first", "--codes", "US", "--format", "json")
    assert {limit["code"] for limit in json.loads(done.stdout)["limits"] if limit["counts"]} >= {
        "US"
    }
    done = explained(house, "test-pressure", "--as-of", "2005-06-01", "--format", "json")
    worked = json.loads(done.stdout)
    counts = {limit["id"] for limit in worked["limits"] if limit["counts"]}
    assert "en-1264-4-2001" in counts
    assert "en-1264-4-2021" not in counts


def test_own_limits_are_marked(house: Path, tmp_path: Path) -> None:
    pack = tmp_path / "pack"
    pack.mkdir()
    (pack / "loop-length.yaml").write_text(
        "limits: [{id: practice-loop-length, at_most: 85 m, source: practice-loop-length}]\n",
        "utf-8",
    )
    done = explained(house, "loop-length", "L1", "--rules", str(pack))
    assert "own limit, instead of practice-loop-length" in " ".join(done.stdout.split())
    assert "FAIL" in done.stdout


def test_standard_input() -> None:
    done = prescreed("explain", "-", "loop-length", "L1", stdin=DESIGN)
    assert done.returncode == 0
    assert "standard input" in done.stdout


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (["loop-lenght", "L1"], "did you mean 'loop-length'?"),
        (["loop-length", "L11"], "did you mean 'loops.L1'?"),
        (
            ["loop-length", "kitchen"],
            "'rooms.kitchen' is a room, and 'loop-length' judges each loop",
        ),
        (["loop-length"], "write one of 'loops.L1', 'loops.L2'"),
        (["loop-length", "L1", "--rules", "/nowhere"], "/nowhere"),
        (["loop-length", "L1", "--as-of", "soon"], "is not a date"),
    ],
)
def test_a_call_that_cannot_be_read_says_why(house: Path, words: list[str], hint: str) -> None:
    done = explained(house, *words)
    assert done.returncode == 2
    assert hint in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_a_bad_design_is_named_with_its_place(house: Path) -> None:
    house.write_text(changed(("length: 88 m", "length: 88")), "utf-8")
    done = explained(house, "loop-length", "L1")
    assert done.returncode == 2
    assert "88 has no unit; write '88 m'" in done.stderr
    assert prescreed("explain", "gone.yaml", "loop-length", "L1").returncode == 2


@pytest.mark.parametrize("width", [80, 120])
def test_the_floor_in_section_is_drawn(house: Path, width: int) -> None:
    done = explained(house, "surface-temperature", "L1", width=width)
    assert max(map(columns, done.stdout.splitlines())) <= width
    assert "Floor in section, pipes 150 mm apart: L1" in done.stdout
    assert "screed, 61 mm, 1.2 W/(m·K)" in done.stdout
    assert "Floor in section" not in explained(house, "loop-length", "L1").stdout
    written = explained(house, "surface-temperature", "L1", "--format", "markdown").stdout
    assert "## Floor in section" in written
    worked = json.loads(explained(house, "surface-temperature", "L1", "--format", "json").stdout)
    (section,) = worked["sections"]
    assert section["svg"].startswith("<svg")
    assert section["text"][0] in done.stdout


def test_the_picture_is_written_as_svg(house: Path, tmp_path: Path) -> None:
    file = tmp_path / "floor.svg"
    done = explained(house, "surface-temperature", "L1", "--picture", str(file))
    assert (done.returncode, done.stderr) == (0, "")
    first = file.read_bytes()
    assert first.startswith(b'<svg xmlns="http://www.w3.org/2000/svg"')
    explained(house, "surface-temperature", "L1", "--picture", str(file))
    assert file.read_bytes() == first


@pytest.mark.parametrize(
    ("rule", "name", "hint"),
    [
        ("loop-length", "floor.svg", "no floor's section is worked out for it"),
        ("surface-temperature", "house.yaml", "write 'house.yaml.svg'"),
        ("surface-temperature", "gone/floor.svg", "cannot be written"),
    ],
)
def test_a_picture_that_cannot_be_made_is_said(
    house: Path, tmp_path: Path, rule: str, name: str, hint: str
) -> None:
    before = house.read_bytes()
    done = prescreed("explain", str(house), rule, "L1", "--picture", name, cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert hint in done.stderr
    assert "Traceback" not in done.stderr
    assert house.read_bytes() == before
    assert not (tmp_path / name).exists() or name == house.name
