"""How letters say what became of findings since the revision before."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from msgspec import UNSET

from checker.reports.sentences import subject_words
from checker.revisions.comparison import Change, Unsure

SINCE = {"still": "again", "better": "better", "worse": "worse", "asked": "perhaps"}
"""The words for a finding that is still there; any other finding is new."""


def unsure_words(one: Unsure) -> str:
    """The words for what could be read in two ways."""
    before, after = (" or ".join(map(subject_words, side)) for side in (one.before, one.after))
    if len(one.before) == len(one.after) == 1:
        return f"{before} may have become {after}, or have gone, and {after} be another"
    return f"{before or 'nothing before'} may have become {after or 'nothing'}"


def was_open(change: Change) -> bool:
    """Whether a finding was open before, so that nothing was wrong that could have been mended."""
    return change.before is not UNSET and change.before.kind in ("open", "review")


def in_words(changes: Iterable[Change]) -> tuple[str, ...]:
    """Changes in words, one sentence for each cause with its first few subjects.

    Args:
        changes: findings with the same change.

    Returns:
        For example `Loop too long (loop L2, loop L3)`, in the order in which causes first occur.
    """
    together: dict[str, list[str]] = defaultdict(list)
    for change in changes:
        together[change.title].append(subject_words(change.subject))
    return tuple(f"{title} ({first_few(own)})" for title, own in together.items())


def first_few(subjects: list[str], most: int = 6) -> str:
    """The first of some subjects, and how many more there are.

    Args:
        subjects: in words, or as reports name them.
        most: how many are named.

    Returns:
        For example `loop L1, loop L2 and 4 more`.
    """
    more = f" and {len(subjects) - most} more" if len(subjects) > most else ""
    return ", ".join(subjects[:most]) + more
