"""Intake and schedule as a person calls them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.calling import prescreed

EXAMPLES = Path(__file__).parents[2] / "example_designs"
FOLDER = EXAMPLES / "subcontractors"


@pytest.mark.parametrize("name", ["haus-am-hang-4", "ridge-lane-12"])
def test_an_example_becomes_a_design_that_can_be_checked(tmp_path: Path, name: str) -> None:
    sheet, plan = str(FOLDER / f"{name}.xlsx"), str(FOLDER / f"{name}.map.yaml")
    done = prescreed("intake", sheet, "--map", plan, "--output", str(tmp_path))
    assert (done.returncode, done.stderr) == (0, "")
    assert "cells used" in done.stdout
    checked = prescreed("check", str(tmp_path))
    assert checked.returncode == 1
    assert "loop-length" in checked.stdout


def test_a_csv_in_a_windows_encoding(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes("Kreis;Raum;Länge [m]\n1;Küche;88,5\n".encode("cp1252"))
    (tmp_path / "a.map.yaml").write_text(
        prescreed("intake", "--suggest", str(tmp_path / "a.csv")).stdout
    )
    done = prescreed(
        "intake", "a.csv", "--map", "a.map.yaml", "--output", "designs", cwd=tmp_path
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    text = (tmp_path / "designs" / "a.yaml").read_text("utf-8")
    assert "length: 88.5 m}  # a, row 2" in text
    assert "Windows-1252" in done.stdout


def test_every_file_is_read_and_mistakes_are_told(tmp_path: Path) -> None:
    (tmp_path / "good.csv").write_text("Loop,Room,Length [m]\n1,hall,88\n")
    (tmp_path / "bad.csv").write_text("Loop,Room,Length [m]\n1,hall,x\n2,hall,y\n")
    (tmp_path / "no.pdf").write_text("")
    (tmp_path / "m.map.yaml").write_text(
        prescreed("intake", "--suggest", str(tmp_path / "good.csv")).stdout
    )
    done = prescreed(
        "intake", "no.pdf", "bad.csv", "gone.csv", "good.csv", "--map", "m.map.yaml", "--output", "d",
        cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode == 2
    assert sorted(path.name for path in (tmp_path / "d").iterdir()) == ["bad.yaml", "good.yaml"]
    assert "x" not in (tmp_path / "d" / "bad.yaml").read_text().partition("design: 1")[2]
    assert "bad.csv, sheet 'bad', row 2, column C 'Length [m]': 'x'" in done.stderr
    assert "bad.csv, sheet 'bad', row 3, column C 'Length [m]': 'y'" in done.stderr
    assert "save it as .xlsx, .ods or .csv" in done.stderr
    assert "gone.csv: the file cannot be read" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_slip_makes_the_status_one(tmp_path: Path) -> None:
    rows = "".join(f"{n},r{n},{88 + n}\n" for n in range(5))
    (tmp_path / "a.csv").write_text(f"Loop,Room,Length [m]\n{rows}9,hall,8.8\n")
    (tmp_path / "m.map.yaml").write_text(
        prescreed("intake", "--suggest", str(tmp_path / "a.csv")).stdout
    )
    done = prescreed("intake", "a.csv", "--map", "m.map.yaml", "--output", "d", cwd=tmp_path)
    assert done.returncode == 1
    assert "row 7, column C 'Length [m]': '8.8' looks like a slipped decimal point" in done.stdout


def test_a_design_that_is_there_is_not_written_over(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("Loop,Room,Length [m]\n1,hall,88\n")
    (tmp_path / "m.map.yaml").write_text(
        prescreed("intake", "--suggest", str(tmp_path / "a.csv")).stdout
    )
    words = ("intake", "a.csv", "--map", "m.map.yaml", "--output", "d")
    assert prescreed(*words, cwd=tmp_path).returncode == 0
    assert prescreed(*words, cwd=tmp_path).returncode == 0  # the same again
    (tmp_path / "d" / "a.yaml").write_text("mine")
    refused = prescreed(*words, cwd=tmp_path)
    assert (refused.returncode, "--replace" in refused.stderr) == (2, True)
    assert (tmp_path / "d" / "a.yaml").read_text() == "mine"
    assert prescreed(*words, "--replace", cwd=tmp_path).returncode == 0
    assert (tmp_path / "d" / "a.yaml").read_text() != "mine"


def test_a_schedule_and_back(tmp_path: Path) -> None:
    design = EXAMPLES / "orchard-row-1-ground-floor.yaml"
    assert prescreed("schedule", str(design), "--output", "b.xlsx", cwd=tmp_path).returncode == 0
    done = prescreed("intake", "b.xlsx", "--output", "d", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    before = prescreed("check", "--format", "json", str(design)).stdout
    after = prescreed("check", "--format", "json", str(tmp_path / "d" / "b.yaml")).stdout
    assert '"verdict":"release"' in before
    assert '"verdict":"release"' in after
    assert before.count('"kind":"pass"') == after.count('"kind":"pass"')


def test_a_schedule_says_that_it_leaves_answers_out(tmp_path: Path) -> None:
    design = EXAMPLES / "orchard-row-4-installed.yaml"
    done = prescreed("schedule", str(design), "--output", "b.xlsx", cwd=tmp_path)
    assert done.returncode == 0
    assert "those under 'seen' are not in it" in done.stderr


def test_an_empty_schedule_is_a_form(tmp_path: Path) -> None:
    assert prescreed("schedule", "--output", "form.xlsx", cwd=tmp_path).returncode == 0
    done = prescreed("intake", "form.xlsx", "--output", "d", cwd=tmp_path)
    assert done.returncode == 0
    assert "0 loops" in done.stdout


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (["intake"], "FILE"),
        (["intake", "a.csv"], "--output"),
        (["intake", "a.csv", "--map", "gone.map.yaml", "--output", "d"], "cannot be read"),
        (["intake", "--suggest", "a.csv", "b.csv"], "one FILE"),
        (["intake", "--suggest", "gone.xlsx"], "cannot be read"),
        (["schedule", "gone.yaml", "--output", "a.xlsx"], "no such file"),
        (["schedule", "--output", "a.ods"], "should end in .xlsx"),
        (["schedule", "--output", "nowhere/a.xlsx"], "cannot be written"),
    ],
)
def test_a_call_that_cannot_be_carried_out_says_why(
    tmp_path: Path, words: list[str], hint: str
) -> None:
    done = prescreed(*words, cwd=tmp_path)
    assert done.returncode == 2
    assert hint in done.stderr
    assert "Traceback" not in done.stderr


def test_maps_are_not_taken_for_designs(tmp_path: Path) -> None:
    (tmp_path / "a.map.yaml").write_text("map: 1\n")
    (tmp_path / "b.yaml").write_text("design: 1\n")
    done = prescreed("check", "--format", "json", str(tmp_path))
    assert done.returncode == 1  # for the design, which has no loop
    report = json.loads(done.stdout)
    assert [Path(design["path"]).name for design in report["designs"]] == ["b.yaml"]
    first = report["files"][0]
    assert (Path(first["path"]).name, first["why"]) == ("a.map.yaml", "a map")
    assert not report["unreadable"]


def test_a_strange_file_without_a_map_is_not_taken_for_an_empty_design(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("Loop,Room,Length [m]\n1,hall,88\n")
    (tmp_path / "b.xlsx").write_bytes((FOLDER / "ridge-lane-12.xlsx").read_bytes())
    for file in ("a.csv", "b.xlsx"):
        done = prescreed("intake", file, "--output", "d", cwd=tmp_path)
        assert done.returncode == 2
        assert "--suggest" in done.stderr
        assert list((tmp_path / "d").iterdir()) == []
