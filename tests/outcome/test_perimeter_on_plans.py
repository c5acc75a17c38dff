"""Perimeter zones on a plan: at most 1 m from the outer wall (EN 1264-2, peripheral area)."""

from __future__ import annotations

import json
from copy import deepcopy
from typing import Any

import pytest

from checker.outcome.results import Result
from tests.example import report, result
from tests.geometry.drawings import serpentine
from tests.outcome.design_changes import WHOLE, hot_perimeter


def drawn(runs: int, spacing: float, strip: str) -> dict[str, Result]:
    """What the two rules say of a kitchen 3.25 m by 4 m whose outer wall is on the left.

    Its loop has so many runs along that wall, the first half a spacing from it; strip: so much of
    it is stated as perimeter zone.
    """
    design: Any = deepcopy(WHOLE)
    hot_perimeter(strip=strip)(design)
    corners = serpentine(runs, spacing, spacing / 2, 4.0, entry=0.5).corners * 1000
    design["plan"] = {
        "unit": "mm",
        "bend": "50 mm",
        "rooms": {"kitchen": "0 0, 3250 0, 3250 4000, 0 4000"},
        "routes": {"L1": ", ".join(f"{x:.0f} {y:.0f}" for x, y in corners)},
        "outer_walls": {"left": "0 0, 0 4000"},
    }
    found = report(json.dumps(design))
    subjects = {"perimeter-area": "rooms.kitchen", "perimeter-width": "loops.L1"}
    return {rule: result(found, rule, subject) for rule, subject in subjects.items()}


@pytest.mark.parametrize(
    ("runs", "spacing", "strip", "kinds"),
    [
        # A loop that is all perimeter zone: the plan shows its strip, 0.96 m and 3.2 m wide.
        (6, 0.16, "12 m²", ("notApplicable", "pass")),
        (20, 0.16, "12 m²", ("notApplicable", "fail")),
        # A loop in parts: the plan shows where it ends, not its strip, so that the area counts.
        (20, 0.16, "5 m²", ("pass", "notApplicable")),
        (20, 0.16, "11 m²", ("open", "notApplicable")),
    ],
)
def test_one_of_the_two_rules_judges_a_hot_strip(
    runs: int, spacing: float, strip: str, kinds: tuple[str, str]
) -> None:
    found = drawn(runs, spacing, strip)
    assert tuple(one.kind for one in found.values()) == kinds
    assert {one.severity for one in found.values() if one.kind in ("fail", "open")} <= {"major"}
