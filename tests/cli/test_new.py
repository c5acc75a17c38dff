"""`prescreed new`: from nothing to a report, by a workbook or by a file."""

from __future__ import annotations

import re
from pathlib import Path

from checker.forms.declaring import house
from checker.forms.reading import answers
from checker.intake import workbooks
from tests.cli.calling import Calling, put
from tests.cli.calling import calling as calling


def test_a_form_is_made_checked_and_asked_for_what_is_missing(call: Calling) -> None:
    done = call("new", "--name", "Mill Row 1", "--region", "GB-ENG")
    assert (done.status, done.err) == (0, "")
    assert done.out == "house.xlsx: fill it in, then: prescreed check house.xlsx\n"
    found = answers(workbooks.read("house.xlsx", Path("house.xlsx").read_bytes()), house())
    assert found.only("project")["project.name"].text == "Mill Row 1"
    done = call("check", "house.xlsx")
    assert done.status == 1
    assert "Mill Row 1" in done.out
    assert "UNPROVEN" in done.out


def test_nothing_that_is_there_is_written_over(call: Calling) -> None:
    put("house.xlsx", b"somebody's")
    done = call("new", "--region", "DE")
    assert done.status == 2
    assert "--replace" in done.err
    assert Path("house.xlsx").read_bytes() == b"somebody's"
    assert call("new", "--region", "DE", "--replace").status == 0


def test_a_file_to_type_into_is_a_design_and_its_example_one_without_fault(call: Calling) -> None:
    assert call("new", "--yaml", "--name", "Mill Row 1", "--region", "GB-ENG").status == 0
    assert "does not" not in call("check", "house.yaml").err
    text = Path("house.yaml").read_text("utf-8")
    assert "project: {name: Mill Row 1, region: GB-ENG}\n" in text
    assert max(map(len, re.findall(r"^# [A-Z].*$", text, re.MULTILINE))) <= 100
    keys = "|".join(("plant", "defaults", "pipes", "floors", "rooms", "headers", "loops"))
    put("filled.yaml", re.sub(rf"^# (?=(?:{keys}):)|^#(?=   )", "", text, flags=re.MULTILINE))
    (design,) = call("check", "filled.yaml", "--format", "json").json["designs"]
    assert design["verdict"] == "release"
    assert [r["rule"] for r in design["results"] if r["kind"] == "fail"] in ([], ["supply-fits"])


def test_in_the_united_states_it_asks_in_feet_and_inches(call: Calling) -> None:
    call("new", "--region", "US-CA", "--units", "us")
    book = workbooks.read("house.xlsx", Path("house.xlsx").read_bytes())
    loops = next(sheet for sheet in book.sheets if sheet.name == "Rooms and loops")
    units = dict(zip(loops.rows[3], loops.rows[4], strict=False))
    assert (units["Length of pipe"], units["Spacing"], units["Area of the loop"]) == (
        "ft", "in", "ft²",
    )  # fmt: skip
    call("new", "--yaml", "--units", "us")
    assert "spacing: 5.91 in" in Path("house.yaml").read_text("utf-8")


def test_what_cannot_be_meant_is_answered(call: Calling) -> None:
    assert "write 'GB'" in call("new", "--region", "UK").err
    assert "should end in .xlsx" in call("new", "--output", "house.doc").err
