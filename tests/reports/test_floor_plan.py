"""The picture of a plan: what is drawn, how it looks, and where it leads."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from checker.cli import main
from checker.outcome.results import Notes, Waived
from checker.reports.floor_plan import floor_plan, plan_key, states
from tests.example import DESIGN, report
from tests.geometry.drawings import House, box, design, house
from tests.reports.pages import html

SVG = "{http://www.w3.org/2000/svg}"


def planted() -> House:
    drawn = house()
    drawn.plan.joints["across"] = np.array([(0.0, 4.0), (2.8, 4.0)])
    drawn.plan.fixed["bath <b>"] = box(9, 2, 0.6, 1.7)
    return drawn


def test_every_room_and_loop_is_drawn_once_with_its_name() -> None:
    found = report(design(planted()))
    root = ElementTree.fromstring(floor_plan(found))
    words = [element.text for element in root.iter(f"{SVG}text")]
    for name in planted().plan.rooms:
        assert words.count(name) == 1
    assert [word for word in words if word and re.fullmatch(r"L\d+( [✕!?])?", word)]
    titles = [element.text or "" for element in root.iter(f"{SVG}title")]
    assert "bath <b>" in titles
    assert sum(title.startswith("L") for title in titles) == 12
    assert len([*root.iter(f"{SVG}polygon")]) == 12  # an arrow a loop


def test_what_is_amiss_differs_in_dash_and_sign() -> None:
    found = report(design(planted()))
    assert states(found)["L1"].sign == "✕"  # heating runs over a joint
    svg = floor_plan(found)
    assert ">L1 ✕</text>" in svg
    looks = {state.dash for state in states(found).values()}
    assert len(looks) == len(set(states(found).values()))
    assert "long dashes and ✕: must change" in plan_key(found).lower()


def test_a_waived_loop_is_marked_and_not_called_kept() -> None:
    found = report(design(planted()))
    waived = Waived("Agreed with the client.", "A. Person", "2026-12-31")
    of_loop = [place for place, one in enumerate(found.results) if one.subject == "loops.L1"]
    found.note({place: Notes(waived=waived) for place in of_loop})
    assert states(found)["L1"].sign == "W"
    assert ">L1 W</text>" in floor_plan(found)
    assert "L1: kept" not in floor_plan(found)
    assert "w: accepted by a waiver" in plan_key(found).lower()


def test_crossings_are_ringed_and_bare_floor_is_dotted() -> None:
    drawn = house()
    text = design(drawn).replace("  routes:\n", "  routes:\n    L99: 1000 1950, 1000 6000\n")
    found = report(text)
    assert floor_plan(found).count("<circle") == 6
    assert "rings: pipes over one another" in plan_key(found).lower()
    assert "bare floor" not in plan_key(found)
    left, low = drawn.plan.rooms["dining"].min(axis=0)
    width, height = np.ptp(drawn.plan.rooms["dining"], axis=0)
    drawn.plan.rooms["dining"] = box(left, low, width + 0.9, height)
    wide = report(design(drawn))
    assert "small dots: bare floor" in plan_key(wide).lower()
    assert "<title>bare floor</title>" in floor_plan(wide)


def test_a_loop_leads_to_its_gravest_finding_or_to_its_row() -> None:
    page = html(("house.yaml", design(planted())))
    links = re.findall(r'<a href="#([^"]+)"><path', page)
    assert len(links) == 12
    for link in links:
        assert page.count(f'id="{link}"') == 1, link
    first = page[page.index(f'id="{links[0]}"') :]
    assert "joint" in first[: first.index("</li>")] or "Loop" in first[: first.index("</li>")]


def test_without_a_plan_there_is_no_picture() -> None:
    assert floor_plan(report(DESIGN)) == ""
    assert "floor-plan" not in html(("house.yaml", DESIGN)).split("</style>", 1)[1]


def test_the_site_sheet_and_the_letter_show_it(tmp_path: Path) -> None:
    (tmp_path / "house.yaml").write_text(design(house()))
    sheet = tmp_path / "sheet.html"
    assert main(["site-sheet", str(tmp_path / "house.yaml"), "--despite-findings",
                 "--output", str(sheet)]) == 0  # fmt: skip
    assert sheet.read_text().count('class="floor-plan"') == 1
    letters = tmp_path / "letters"
    assert main(["review", str(tmp_path / "house.yaml"), "--output", str(letters)]) in (0, 1)
    shown = [page.read_text() for page in letters.glob("*.html")]
    assert sum(page.count('class="floor-plan"') for page in shown) == 1


def test_the_picture_of_a_floor_stays_small() -> None:
    assert len(floor_plan(report(design(house())))) < 60_000


def test_what_is_only_observed_marks_no_loop() -> None:
    found = report(design(planted()))
    told = found.results_of("fail", "open")
    graver = {one.subject for one in told if one.severity != "observation"}
    marked = {f"loops.{name}" for name in states(found)}
    assert marked == {subject for subject in graver if subject.startswith("loops.")}
