"""The picture of a header: its ports in order, what is on them, how it looks, where it leads."""

from __future__ import annotations

import itertools
import re
from xml.etree import ElementTree

from checker.outcome.report import DesignReport
from checker.reports.facts import Facts
from checker.reports.header_drawing import header_drawing, on_paper
from tests.example import DESIGN
from tests.reports.pages import html, judged

SVG = "{http://www.w3.org/2000/svg}"


def given(text: str) -> DesignReport:
    (found,) = judged(("house.yaml", text))
    return found


def drawn(text: str, header: str = "H1") -> ElementTree.Element:
    return ElementTree.fromstring(header_drawing(Facts(given(text)), header))


def words(root: ElementTree.Element) -> list[str]:
    return [element.text or "" for element in root.iter(f"{SVG}text")]


def test_ports_stand_in_order_each_with_its_loop_flow_and_room() -> None:
    found = words(drawn(DESIGN))
    assert [word for word in found if word.isdecimal()] == ["1", "2", "3", "4"]
    assert found.count("no loop") == 2
    assert [word.split()[0] for word in found if re.match(r"L\d", word)] == ["L1", "L2"]
    assert sum("l/min" in word for word in found) == 2
    assert [word.split()[0] for word in found if word.startswith(("kitchen", "bath"))] == [
        "kitchen",
        "bath",
    ]


def test_two_loops_on_one_port_and_one_on_none_are_all_there() -> None:
    text = DESIGN.replace("port: 2,", "port: 1,")
    found = words(drawn(text))
    assert [word for word in found if word.isdecimal()] == ["1", "1", "2", "3", "4"]
    found = words(drawn(DESIGN.replace("port: 2, ", "")))
    assert "?" in found
    # Any port that is left may be that loop's, so none is said to have no loop.
    assert found.count("not known which loop") == 3
    assert "no loop" not in found


def test_what_is_amiss_differs_in_dash_and_sign() -> None:
    root = drawn(DESIGN.replace("length: 88 m", "length: 130 m"))
    assert any(word == "L1 ✕" for word in words(root))
    assert any((one.text or "") == "L1: must change" for one in root.iter(f"{SVG}title"))
    dashed = [one for one in root.iter(f"{SVG}path") if one.get("stroke-dasharray")]
    assert len(dashed) >= 2  # its stub and the way to its room


def test_names_are_text_and_nothing_but_text() -> None:
    hostile = DESIGN.replace("  L1: {", "  '<b>L1': {").replace(
        "balance: {L1:", "balance: {'<b>L1':"
    )
    svg = header_drawing(Facts(given(hostile)), "H1")
    assert "<b>" not in svg
    assert "&lt;b&gt;L1" in svg


def test_a_header_without_a_loop_has_no_picture() -> None:
    assert header_drawing(Facts(given(DESIGN)), "H9") == ""


def test_every_loop_of_the_page_leads_to_a_place_on_it() -> None:
    page = html(("house.yaml", DESIGN.replace("length: 88 m", "length: 130 m")))
    picture = re.search(r'<svg class="header-drawing".*?</svg>', page, re.DOTALL)
    assert picture
    links = re.findall(r'href="#([^"]+)"', picture[0])
    assert len(links) >= 2
    for link in links:
        assert f'id="{link}"' in page


def test_a_large_header_is_drawn_in_parts_that_fit_a_page_and_no_box_lies_on_another() -> None:
    rooms = "".join(
        f"  r{n}: {{use: living, temperature: 20 °C, area: 13 m²}}\n" for n in range(60)
    )
    loops = "".join(f"  P{n}: {{header: H1, port: {n + 1}, room: r{n}}}\n" for n in range(60))
    text = DESIGN.replace("ports: 4", "ports: 60").replace("rooms:\n", f"rooms:\n{rooms}")
    text = text.replace("loops:\n", f"loops:\n{loops}").replace(
        "port: 1, room: kitchen", "port: 1, room: bath"
    )
    facts = Facts(given(text))
    parts = [ElementTree.fromstring(one) for one in on_paper(facts, "H1")]
    assert len(parts) == 3
    names = [word for one in parts for word in words(one) if re.match(r"P\d", word)]
    assert len(names) == 60
    whole = ElementTree.fromstring(header_drawing(facts, "H1"))
    tops = sorted(float(one.get("y", 0)) for one in whole.iter(f"{SVG}rect"))[1:]
    assert all(below - above >= 34 for above, below in itertools.pairwise(tops))
