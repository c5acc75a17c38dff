"""The gate's answer: the status and the sentence, from counts alone."""

from __future__ import annotations

import pytest

from checker.outcome.runs import Totals
from checker.outcome.status import CLEAR, FAILED, FOUND, UNUSABLE, GateCounts, answer

MAJORS = Totals(designs=3, standing={"": {"major": 3, "minor": 9}}, gravest={"major": 2})
NEW = Totals(
    designs=2,
    standing={"": {"major": 5}, "new": {"critical": 1}},
    gravest={"critical": 1, "major": 1},
)


def test_the_same_severity_of_two_groups_is_counted_together() -> None:
    found = answer([GateCounts(MAJORS, "major"), GateCounts(NEW, "major")])
    assert (found.status, found.why) == (FOUND, "1 new critical, 8 major in 4 designs")


def test_each_group_counts_from_its_own_threshold_on() -> None:
    found = answer([GateCounts(MAJORS, "minor"), GateCounts(NEW, "critical")])
    assert found.why == "1 new critical, 3 major, 9 minor in 3 designs"
    assert answer([GateCounts(NEW, "never")]).status == CLEAR


@pytest.mark.parametrize(
    ("thresholds", "why"),
    [
        (("major",), "nothing at or above major in 4 designs"),
        (("critical",), "nothing at or above critical in 4 designs"),
        (("minor", "critical"), "nothing at or above minor or critical in 8 designs"),
        (("never", "minor"), "nothing at or above minor in 8 designs"),
        (("never",), "4 designs; no fail counts (fail-on never)"),
        ((), "nothing at or above major in 0 designs"),
    ],
)
def test_what_is_clear_says_from_where_on(thresholds: tuple[str, ...], why: str) -> None:
    found = answer([GateCounts(Totals(designs=4), threshold) for threshold in thresholds])
    assert (found.status, found.why) == (CLEAR, why)


def test_known_findings_that_are_no_worse_are_told_beside() -> None:
    known = Totals(designs=1, known={"major": 2, "minor": 1})
    assert answer([GateCounts(known, "major")]).why.endswith("in 1 design; 3 known and no worse")


def test_the_gravest_status_wins_and_all_is_said() -> None:
    held = [GateCounts(MAJORS, "major")]
    crashed = answer(held, unreadable=2, crashed=1)
    assert crashed.status == FAILED
    assert crashed.why == (
        "the program itself failed on 1 design; 2 files could not be read; 3 major in 2 designs"
    )
    assert answer(held, unreadable=1).status == UNUSABLE
    assert answer([], nothing="all were excluded").status == UNUSABLE
    assert answer([], nothing_to_do="no design changed").status == CLEAR


def test_what_is_open_counts_where_it_counts() -> None:
    totals = Totals(designs=1, asked={"major": 2, "minor": 4}, worse={"major": 1}, loopless=1)
    assert answer([GateCounts(totals, "major")]).why == (
        "2 major open or not reviewed; 1 design without a loop"
    )
    allowed = answer([GateCounts(totals, "major", allow_unproven=True)])
    assert (allowed.status, allowed.why.partition(" open")[0]) == (FOUND, "1 major")
    demanded = GateCounts(Totals(designs=1, open_of={"room-heat": 3}), "critical", ("room-heat",))
    assert answer([demanded]).why == "open because data are missing: room-heat (3)"


def test_cells_that_were_not_read_count_where_anything_counts() -> None:
    totals = Totals(designs=3, unread=3)
    found = answer([GateCounts(totals, "major"), GateCounts(totals, "never")])
    assert (found.status, found.why) == (FOUND, "cells not read in 3 designs")
    assert answer([GateCounts(totals, "never")]).status == CLEAR
