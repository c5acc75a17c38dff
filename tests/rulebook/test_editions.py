"""Which edition of a document counts: on its very first and last day, and beyond those known."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from msgspec import UNSET

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute.meanings import Names
from checker.rulebook.loading import load
from checker.rulebook.model import Document
from tests.example import DESIGN, changed, report, result

BOOK = load(Names())
DATED = [one for one in BOOK.documents.values() if one.start is not None or one.end is not None]
DAY = timedelta(days=1)


def holds(document: Document, on: date | None) -> bool:
    day = np.array([np.nan if on is None else on.toordinal()])
    return bool(document.in_force(day)[0])


@pytest.mark.parametrize("document", DATED, ids=lambda document: document.source.id)
def test_an_edition_holds_from_its_first_day_up_to_its_last(document: Document) -> None:
    first, end = document.start, document.end
    if first is not None:
        assert not holds(document, first - DAY)
        assert holds(document, first)
    if end is not None:
        assert holds(document, end - DAY)
        assert not holds(document, end)


@pytest.mark.parametrize("document", DATED, ids=lambda document: document.source.id)
def test_without_a_day_the_newest_edition_holds(document: Document) -> None:
    assert holds(document, None) == (document.end is None)


def test_days_are_judged_each_for_itself() -> None:
    document = BOOK.documents["en-1264-4-2009"]
    days = [date(2009, 10, 30), date(2009, 10, 31), date(2021, 7, 31), date(2021, 8, 1)]
    held = document.in_force(np.array([np.nan, *(day.toordinal() for day in days)]))
    assert held.tolist() == [False, False, True, True, False]


@pytest.mark.parametrize(
    ("day", "edition"),
    [
        ("2009-10-30", "2001"),
        ("2009-10-31", "2009"),
        ("2021-07-31", "2009"),
        ("2021-08-01", "2021"),
    ],
)
def test_a_design_is_judged_by_the_edition_of_its_very_day(day: str, edition: str) -> None:
    # EN 1264-4: 2009-10-31 is the day of the British edition, 2021-08 the month of the European.
    text = changed(("designed_on: 2026-03-12, region: GB-ENG", f"designed_on: {day}, region: AT"))
    found = result(report(text), "edge-strip", "floors.slab")
    assert found.source is not UNSET
    assert (found.source.id, found.source.edition) == (f"en-1264-4-{edition}", edition)


def test_a_slip_of_the_year_loses_no_finding_and_is_told() -> None:
    slip = ("designed_on: 2026-03-12", "designed_on: 1955-03-12")
    thin = ("edge_strip: 8 mm", "edge_strip: 3 mm")
    found = report(changed(slip, thin))
    one = result(found, "edge-strip", "floors.slab")
    assert (one.kind, one.severity) == ("fail", "major")
    assert one.source is not UNSET
    assert one.source.id == "en-1264-4-2021"
    assert any("before the oldest edition of EN-1264" in remark for remark in found.remarks)
    assert [r for r in report(DESIGN).remarks if "edition" in r] == []


def test_a_code_that_did_not_speak_yet_does_not_speak_by_its_newest_edition() -> None:
    # England's oldest guide known is of 2008, EN 1264-4 of 2001.
    found = report(changed(("designed_on: 2026-03-12", "designed_on: 2007-03-12")))
    told = "the oldest edition of GB-ENG that is known (2008-12-01), so that none of its limits"
    assert [remark for remark in found.remarks if told in remark]
    assert result(found, "floor-loss", "loops.L1").kind == "notApplicable"
    one = result(found, "edge-strip", "floors.slab")
    assert one.source is not UNSET
    assert one.source.id == "en-1264-4-2001"


def test_an_undated_design_and_one_of_an_absurd_year_are_judged_alike() -> None:
    undated = report(changed(("designed_on: 2026-03-12, ", "")))
    absurd = report(changed(("designed_on: 2026-03-12", "designed_on: 1955-03-12")))
    kinds = [[(r.rule, r.subject, r.kind) for r in one.results] for one in (undated, absurd)]
    assert kinds[0] == kinds[1]


def test_a_day_after_the_rules_is_told() -> None:
    year, month = map(int, BOOK.edition.split("-"))
    last = date(year + month // 12, month % 12 + 1, 1) - DAY
    for day, told in ((last, False), (last + DAY, True), (date(2062, 3, 12), True)):
        found = report(changed(("designed_on: 2026-03-12", f"designed_on: {day}")))
        assert any("after these rules" in remark for remark in found.remarks) is told


@pytest.mark.parametrize(
    ("region", "told"),
    [("JP", True), ("IE", True), ("GB-WLS", True), ("AU", False), ("DE", False), ("US", False)],
)
def test_a_region_without_a_code_of_its_own_is_told(region: str, told: bool) -> None:
    found = report(changed(("region: GB-ENG", f"region: {region}")))
    assert (f"no code of {region}'s own is known" in found.remarks) is told
    declared = report(
        changed(("region: GB-ENG", f"region: {region}"), ("plant:", "codes: [DE]\nplant:"))
    )
    assert declared.remarks == ()
