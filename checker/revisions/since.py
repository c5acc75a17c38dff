"""What became of findings since the revision before, as letters word it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from msgspec import UNSET

from checker.reports.sentences import subject_words
from checker.revisions.comparing import Change, Unsure

SINCE = {"still": "again", "better": "better", "worse": "worse", "asked": "perhaps"}
"""How a letter words what became of a finding that stands; any other is new."""


def unsure_words(one: Unsure) -> str:
    """What could be read two ways."""
    before, after = (" or ".join(map(subject_words, side)) for side in (one.before, one.after))
    if len(one.before) == len(one.after) == 1:
        return f"{before} may have become {after}, or have gone, and {after} be another"
    return f"{before or 'nothing before'} may have become {after or 'nothing'}"


def was_open(change: Change) -> bool:
    """Whether it was not known before, so that nothing was wrong that could be mended."""
    return change.before is not UNSET and change.before.kind in ("open", "review")


def in_words(changes: Iterable[Change]) -> tuple[str, ...]:
    """Findings that came to a state, a cause each with its subjects."""
    together: dict[str, list[str]] = defaultdict(list)
    for change in changes:
        together[change.title].append(subject_words(change.subject))
    return tuple(f"{title} ({_some(own)})" for title, own in together.items())


def _some(subjects: list[str], most: int = 6) -> str:
    more = f" and {len(subjects) - most} more" if len(subjects) > most else ""
    return ", ".join(subjects[:most]) + more
