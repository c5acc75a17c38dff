"""When a result is certain, on margins whose course over the whole box is known.

Each margin is a function of the shares of its range that the data have, passes from zero on, and
stands in for a rule's: so what is true over the whole box is known, and a wrong certainty is seen.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from types import SimpleNamespace
from typing import cast

import numpy as np
import numpy.typing as npt
import pytest

from checker.compute.certainty import (
    STEPS,
    AtPoints,
    Certain,
    DependentResults,
    Turning,
    merged,
    points_of,
)
from checker.compute.ranges import Unknown as Datum
from checker.outcome.results import SEVERITIES
from checker.rulebook.beside_records import Range
from checker.rulebook.outcomes import FAIL, OPEN, PASS

Array = npt.NDArray[np.float64]
Margin = Callable[[Array], Array]
MAJOR, MINOR = SEVERITIES.index("major"), SEVERITIES.index("minor")


def judged(margin: Margin, points: Array, minor_under: float = 0.0) -> AtPoints:
    """One rule for one row at the points; a fail by less than `minor_under` is minor."""
    margins = margin(points)
    severities = np.where((margins < 0) & (-margins < minor_under), MINOR, MAJOR)
    kinds = np.where(margins >= 0, PASS, FAIL)
    return AtPoints(
        kinds.astype(np.int8)[:, None], severities.astype(np.int8)[:, None], margins[:, None]
    )


def found(
    margin: Margin, count: int, minor_under: float = 0.0
) -> tuple[Certain | None, Turning | None]:
    """What becomes of a result with this margin over a box of so many data."""
    points = points_of(count)
    ranges = cast("tuple[Range, ...]", (SimpleNamespace(least=0.0, most=1.0),) * count)
    one = DependentResults(points, ranges)
    one.take(0, 0, 0, judged(margin, points, minor_under))
    further = one.predictions()
    if further:
        at = np.array(further)
        one.confirm(at, {0: judged(margin, at, minor_under)})
    boxed = one.boxed(0, [Datum("rooms", 0, 0, nth) for nth in range(count)])
    return next(iter(boxed.certain), None), next(iter(boxed.turning), None)


def corners(count: int) -> Array:
    """All corners of the box."""
    return np.array(list(itertools.product((0.0, 1.0), repeat=count)))


@pytest.mark.parametrize("count", [2, 3, 5, 8])
def test_no_corner_contradicts_what_is_certain(count: int) -> None:
    """Margins linear in each datum, with what data do to one another: extreme at corners."""
    chance = np.random.default_rng(count)
    every = corners(count)
    certain = sure = 0
    for _ in range(500):
        slopes = chance.normal(size=count)
        meeting = np.triu(chance.normal(size=(count, count)), 1) * chance.choice([0.0, 0.2, 1.0])
        start = chance.normal() * 4 * count**0.5

        def margin(
            at: Array, start: float = start, slopes: Array = slopes, meeting: Array = meeting
        ) -> Array:
            both = np.einsum("ni,ij,nj->n", at, meeting, at)
            whole: Array = start + at @ slopes + both
            return whole

        here, _ = found(margin, count)
        true = margin(every)
        alike = bool((true >= 0).all() or (true < 0).all())
        sure += alike
        if here is not None:
            certain += 1
            assert alike
            assert here.kind == (PASS if true[0] >= 0 else FAIL)
            assert {*here.data} <= {*range(count)}
    # What is certain in truth is mostly found to be so: a method that is sure of nothing is none.
    assert certain > 0.6 * sure > 100


def test_what_is_certain_is_told_at_its_worst() -> None:
    for sign, worst in ((1, [0.0, 1.0]), (-1, [1.0, 0.0])):

        def margin(at: Array, sign: int = sign) -> Array:
            return sign * (1 + 2 * at[:, 0] - 0.5 * at[:, 1])

        here, _ = found(margin, 2)
        assert here is not None
        assert here.at.tolist() == worst
    (upwards, _), (downwards, _) = (
        found(lambda at: 2 + at[:, 0], 1),
        found(lambda at: 2 - at[:, 0], 1),
    )
    assert upwards is not None
    assert downwards is not None
    assert (float(upwards.at[0]), float(downwards.at[0])) == (0.0, 1.0)


def test_a_fail_is_as_grave_as_its_mildest_case() -> None:
    """A fail within what the method can tell is minor: so is one that may be within it.

    The value that it is told with is that of the worst case all the same.
    """
    here, _ = found(lambda at: -0.01 - at[:, 0], 1, minor_under=0.05)
    assert here is not None
    assert here.severity == "minor"
    assert float(here.at[0]) == 1.0
    graver, _ = found(lambda at: -0.1 - at[:, 0], 1, minor_under=0.05)
    assert graver is not None
    assert graver.severity == "major"


@pytest.mark.parametrize("top", [0.03, 0.27, 0.4999, 0.72, 0.97])
def test_what_turns_back_between_two_points_is_not_certain(top: float) -> None:
    """A margin that dips to just under zero between two steps of the walk, least at no end."""
    least = (np.abs(np.linspace(0, 1, STEPS + 1) - top)).min() ** 2
    here, _ = found(lambda at: (at[:, 0] - top) ** 2 - least * 0.2, 1)
    assert here is None
    # Far enough above zero it is.
    here, _ = found(lambda at: (at[:, 0] - top) ** 2 + 0.2, 1)
    assert here is not None


def test_what_dips_inside_a_box_of_several_is_not_certain() -> None:
    """A pit off the diagonal and off the middle, between all points: the distance alone sees it."""
    for place in ([0.3, 0.7], [0.8, 0.35], [0.15, 0.6]):

        def depth(at: Array, place: list[float] = place) -> Array:
            away: Array = np.hypot(at[:, 0] - place[0], at[:, 1] - place[1]) ** 0.5
            return away

        least = float(depth(points_of(2)).min())
        assert least > 0.2

        def margin(at: Array, depth: Margin = depth, least: float = least) -> Array:
            return depth(at) - least / 2

        here, _ = found(margin, 2)
        assert here is None


def test_what_sags_along_an_edge_is_not_certain() -> None:
    """One way at all points, and no datum minds another; yet least between corners."""
    here, _ = found(lambda at: at[:, 0] * (at[:, 0] - 0.5) + 3 * (1 - at[:, 1]) + 0.03, 2)
    assert here is None
    assert found(lambda at: at[:, 0] * (at[:, 0] - 0.5) + 3 * (1 - at[:, 1]) + 0.3, 2)[0]


def test_corners_are_tried_together_only_where_they_agree() -> None:
    whole, half = np.array([True, True]), np.array([True, False])
    ones, noughts = np.ones(2), np.zeros(2)
    points, became = merged([(half, ones), (~half, noughts), (whole, noughts), (half, ones)])
    assert [one.tolist() for one in points] == [[1.0, 0.0], [0.0, 0.0]]
    assert became == [0, 0, 1, 0]


def test_a_corner_that_no_other_point_tells_of_is_tried() -> None:
    """Under zero in one corner of 1,024 alone, where all data do their worst together."""
    count = 10
    worst = np.array([0.0, 1.0] * 5)
    slopes = np.where(worst == 1, -1.0, 1.0)

    def margin(at: Array) -> Array:
        left: Array = (at - worst) @ slopes - 0.001
        return left

    points = points_of(count)
    assert (margin(points) >= 0).all()
    assert margin(worst[None, :])[0] < 0
    assert found(margin, count)[0] is None


def test_what_shows_on_the_walk_alone_hangs_on_all_data() -> None:
    """Data that do nothing one at a time and much together."""
    here, _ = found(lambda at: 1 + (at[:, 0] - 0.5) * (at[:, 1] - 0.5), 2)
    assert here is not None
    assert here.data == (0, 1)
    assert found(lambda at: 0.24 + (at[:, 0] - 0.5) * (at[:, 1] - 0.5), 2)[0] is None


def test_a_result_on_one_datum_turns_where_its_margin_does() -> None:
    """Also where others are unknown on which it does not hang."""
    for count in (1, 3):
        certain, turning = found(lambda at: 0.3 - at[:, 0], count)
        assert certain is None
        assert turning is not None
        assert turning.value == pytest.approx(0.3, abs=1e-9)
        assert turning.passes_below
    open_too = judged(lambda at: 0.3 - at[:, 0], points_of(1))
    open_too.kinds[-1] = OPEN
    one = DependentResults(points_of(1), ())
    one.take(0, 0, 0, open_too)
    boxed = one.boxed(0, [Datum("rooms", 0, 0, 0)])
    assert not boxed.turning, "something else is missing too"
    assert not boxed.depends_on
    _, twice = found(lambda at: (at[:, 0] - 0.5) ** 2 - 0.04, 1)
    assert twice is None


def test_it_is_not_said_where_a_result_turns_that_leaps() -> None:
    """It turns at 0.31, and all that is known is that 0.25 passes and 0.375 fails."""
    certain, turning = found(lambda at: np.where(at[:, 0] < 0.31, 0.0, -1.0), 1)
    assert certain is None
    assert turning is None
