"""All figures on one Markdown page, kept as FIGURES.md."""

from __future__ import annotations

from pathlib import Path
from typing import Protocol

from tests.published import (
    test_en1264,
    test_floor_section,
    test_friction,
    test_glycol,
    test_loops_one_by_one,
    test_section,
    test_water,
    test_water_network,
    test_whole_designs,
)
from tests.published.figures import Figure, table

KEPT = Path(__file__).with_name("FIGURES.md")


class Topic(Protocol):
    """A module that compares one part."""

    def figures(self) -> tuple[Figure, ...]:
        """What was found."""


TOPICS: dict[str, Topic] = {
    "Water": test_water,
    "Glycol": test_glycol,
    "Friction": test_friction,
    "The tables of EN 1264-2": test_en1264,
    "The floor as a cross-section": test_floor_section,
    "Any floor in section": test_section,
    "Loops one by one": test_loops_one_by_one,
    "A header as a network": test_water_network,
    "Whole designs by hand": test_whole_designs,
}

HEAD = """\
# How far the numbers are from the outside world

Each row sets the program against something that nobody here made, over a range of cases, and gives
the least and the greatest difference with its sign. The tests fail where a difference leaves what
is allowed. `python -m tests.published > tests/published/FIGURES.md` writes this page; a test keeps
it true.
"""


def page() -> str:
    """The page as Markdown; the same bytes for the same libraries."""
    parts = [HEAD]
    for title, topic in TOPICS.items():
        parts.append(f"\n## {title}\n\n{table(topic.figures())}\n")
        more = getattr(topic, "details", None)
        if more is not None:
            parts.append(f"\n{more()}\n")
    return "".join(parts)
