"""Drawings on the command line: a map proposed, a plan written, a drawing beside a design."""

from __future__ import annotations

from pathlib import Path

import pytest

from checker.cli import main
from tests.geometry.drawings import as_text, design, house
from tests.geometry.dxf_files import floor, new, saved

MAP = """\
drawing: 1
unit: mm
layers: {rooms: ROOMS, routes: 'UFH-*', headers: HEADERS}
"""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    (tmp_path / "floor.dxf").write_bytes(saved(floor(new(), house())))
    (tmp_path / "floor.map.yaml").write_text(MAP)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_map_is_proposed_that_can_be_read(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["intake", "--suggest", "floor.dxf"]) == 0
    said = capsys.readouterr().out
    assert "unit: mm " in said
    assert "  rooms: ['ROOMS']" in said
    assert "  routes: ['UFH-*']" in said
    assert "  headers: ['HEADERS']" in said
    (folder / "own.yaml").write_text(said)
    assert main(["intake", "floor.dxf", "--map", "own.yaml", "--output", "out"]) == 0


def test_layers_of_texts_alone_are_proposed_as_labels(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    document = floor(new(), house())
    for entity in document.modelspace().query("LWPOLYLINE[layer ? 'UFH-.*']"):
        x, y = entity[len(entity) // 2][:2]
        tag = document.modelspace().add_text(entity.dxf.layer[4:], dxfattribs={"height": 50})
        tag.set_placement((x + 20, y))
        tag.dxf.layer, entity.dxf.layer = "UFH TAGS", "UFH PIPE"
    (folder / "tags.dxf").write_bytes(saved(document))
    assert main(["intake", "--suggest", "tags.dxf"]) == 0
    said = capsys.readouterr().out
    assert "labels: ['UFH TAGS']" in said
    assert "  routes: ['UFH PIPE']" in said
    (folder / "own.yaml").write_text(said)
    assert main(["intake", "tags.dxf", "--map", "own.yaml", "--output", "out"]) == 0
    assert "8 rooms, 12 routes, 1146.5 m of pipe" in capsys.readouterr().out


def test_a_drawing_becomes_a_plan_that_is_checked(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["intake", "floor.dxf", "--map", "floor.map.yaml", "--output", "out"]) == 0
    assert "8 rooms, 12 routes, 1146.5 m of pipe" in capsys.readouterr().out
    text = (folder / "out" / "floor.yaml").read_text()
    plan = text[text.index("plan:") :]
    (folder / "house.yaml").write_text(design(house(), plan))
    main(["check", "house.yaml", "--no-cache", "--format", "csv"])
    rows = capsys.readouterr().out.splitlines()
    assert not [row for row in rows if ',"drawing-' in row and ',"fail",' in row]
    assert len([row for row in rows if ',"drawing-agrees-length",' in row]) == 12


def test_what_there_is_to_look_at_makes_the_status_1(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "more.map.yaml").write_text(MAP.replace("headers: HEADERS", "joints: JOINTS"))
    assert main(["intake", "floor.dxf", "--map", "more.map.yaml", "--output", "out"]) == 1
    assert "no layer is named 'JOINTS' (joints)" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["floor.dxf", "--output", "out"], "--map: name the map"),
        (["floor.dxf", "--map", "floor.map.yaml"], "--output: name the folder"),
        (["floor.dxf", "loops.csv", "--map", "floor.map.yaml", "--output", "out"], "calls of their"),
        (["none.dxf", "--map", "floor.map.yaml", "--output", "out"], "none.dxf: The file cannot"),
        (["floor.dxf", "--map", "house.map", "--output", "out"], "house.map: The file cannot"),
    ],
)  # fmt: skip
def test_a_call_that_cannot_be_used_is_said_in_a_sentence(
    folder: Path, words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["intake", *words]) == 2
    assert said in capsys.readouterr().err


def test_a_drawing_beside_a_design_is_its_plan_and_a_change_of_it_is_seen(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "house.yaml").write_text(
        design(house(), "plan: {drawing: floor.dxf, map: floor.map.yaml}\n")
    )

    def agreed() -> list[str]:
        main(["check", "house.yaml", "--format", "csv", "--fail-on", "never"])
        rows = capsys.readouterr().out.splitlines()
        return [row for row in rows if ',"drawing-agrees-length",' in row and ',"pass",' in row]

    assert len(agreed()) == 12
    other = house()
    other.plan.routes["L1"] = other.plan.routes["L6"]
    (folder / "floor.dxf").write_bytes(saved(floor(new(), other)))
    assert len(agreed()) == 11


@pytest.mark.parametrize(
    ("plan", "said"),
    [
        ("drawing: none.dxf, map: floor.map.yaml", "'none.dxf' cannot be read"),
        ("drawing: ../floor.dxf, map: floor.map.yaml", "must lie beside the design"),
        ("drawing: floor.pdf, map: floor.map.yaml", "a DXF file is expected here"),
        ("drawing: floor.dxf", "'map' is missing here"),
        ("drawing: floor.dxf, map: floor.map.yaml, unit: mm", "cannot be given with a drawing"),
        ("drawing: floor.dxf, map: bad.map.yaml", "bad.map.yaml:1:1: 'layers' is missing"),
    ],
)
def test_a_drawing_that_cannot_be_read_refuses_the_design(
    folder: Path, plan: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "bad.map.yaml").write_text("drawing: 1\n")
    (folder / "house.yaml").write_text(design(house(), f"plan: {{{plan}}}\n"))
    assert main(["check", "house.yaml", "--no-cache"]) == 2
    out, err = capsys.readouterr()
    assert said in " ".join((out + err).split())


def test_text_and_drawing_say_the_same(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = []
    for plan in (as_text(house()), "plan: {drawing: floor.dxf, map: floor.map.yaml}\n"):
        (folder / "house.yaml").write_text(design(house(), plan))
        main(["check", "house.yaml", "--no-cache", "--format", "csv", "--fail-on", "never"])
        rows = capsys.readouterr().out.splitlines()
        found.append([row.split(",")[4:8] for row in rows if "drawing-" in row])
    assert found[0] == found[1]
