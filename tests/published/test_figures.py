"""Every figure is within what is allowed, and the kept page shows what is found."""

import pytest

from tests.published.figures import Figure, absolute
from tests.published.page import KEPT, TOPICS, page

LONG = ("Any floor in section", "The floor as a cross-section", "Glycol")
"""Topics that take finite elements minutes to work out, and one whose library takes seconds to load:
`tests/physics/test_fluid.py` holds the same against the same tables."""


@pytest.mark.parametrize(
    "title",
    [pytest.param(one, marks=pytest.mark.long if one in LONG else ()) for one in TOPICS],
)
def test_every_difference_is_within_what_is_allowed(title: str) -> None:
    figures = TOPICS[title].figures()
    assert figures
    beyond = [figure for figure in figures if not figure.holds]
    assert beyond == []


@pytest.mark.long
def test_the_kept_page_is_fresh() -> None:
    assert KEPT.read_text("utf-8") == page(), "python -m tests.published > the page"


@pytest.mark.parametrize(
    ("ours", "holds"),
    [([1.0, 2.0], True), ([1.0, 2.2], False), ([0.8, 2.0], False), ([1.0, float("nan")], False)],
)
def test_a_figure_holds_within_both_ends(ours: list[float], holds: bool) -> None:
    assert figure(ours).holds is holds


def figure(ours: list[float]) -> Figure:
    return absolute("a length", "a ruler", ours, [1.0, 2.0], "m", 0.1, "as thick as its marks")
