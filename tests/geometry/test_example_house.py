"""The example house with a plan: its drawing, its plan and its design say the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from checker.cli import main
from checker.design.drawings import load, read
from checker.geometry.measuring import measure
from tests.example import report
from tests.geometry.drawings import plan_of
from tests.geometry.example_house import FOLDER, MAP, NAME, floor, plan

DESIGN = (FOLDER / f"{NAME}.yaml").read_text("utf-8")


def test_the_design_holds_the_plan_of_its_drawing() -> None:
    assert (FOLDER / f"{NAME}.map.yaml").read_text("utf-8") == MAP
    assert DESIGN[DESIGN.index("\nplan:") + 1 :] == plan()


def test_the_drawing_is_the_floor_as_constructed() -> None:
    rooms, routes, others = floor()
    made = read((FOLDER / f"{NAME}.dxf").read_bytes(), load(MAP.encode()))[0]
    found, known = measure(made.plan), measure(plan_of(routes, rooms, **others))
    assert found.routes == [*routes]
    for name in ("length", "spacing", "wall_gap", "bend", "hot_at_wall", "port"):
        assert found.of_route[name] == pytest.approx(known.of_route[name], rel=1e-4), name
    assert found.of_route["area"] == pytest.approx([one.area for one in routes.values()], rel=0.02)


def test_its_schedule_leaves_out_what_the_plan_gives(tmp_path: Path) -> None:
    book = tmp_path / "book.xlsx"
    assert main(["schedule", str(FOLDER / f"{NAME}.yaml"), "--output", str(book)]) == 0
    assert main(["intake", str(book), "--output", str(tmp_path / "back")]) in (0, 1)
    (back,) = (tmp_path / "back").glob("*.yaml")
    assert "drawn" not in back.read_text("utf-8")


def test_it_is_sound_and_all_that_is_stated_agrees_with_the_plan() -> None:
    found = report(DESIGN)
    assert found.verdict == "release"
    drawn = [one for one in found.results if one.rule.startswith("drawing-")]
    assert {one.kind for one in drawn} == {"pass"}
