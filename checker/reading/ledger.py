"""What became of every file that a run was given or found."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from msgspec import Struct

JUDGED, UNREADABLE, CRASHED, PASSED_OVER = "judged", "unreadable", "crashed", "passed over"
READ = "read"
"""For a file that is not a design and is read with one: answers."""
NAMED, FOUND = "named", "found"
"""How a file that was to be judged was found."""


class FileState(Struct, frozen=True):
    """What became of one file.

    Attributes:
        path: as reports show it.
        state: JUDGED, UNREADABLE, CRASHED, PASSED_OVER or READ.
        why: for one that was to be judged, how it was found (NAMED or FOUND); for any other, the
            reason of its state.
    """

    path: str
    state: str
    why: str


def counted(files: Iterable[FileState]) -> str:
    """How many files were passed over and why, in a few words.

    Args:
        files: of any state; only those passed over count. Why is what is before the first colon of
            `why`.

    Returns:
        `5 files passed over: hidden`, or `5 files passed over: a map (3), hidden (2)`; empty where
        there were none.
    """
    reasons = Counter(one.why.partition(": ")[0] for one in files if one.state == PASSED_OVER)
    if not reasons:
        return ""
    total = sum(reasons.values())
    one = len(reasons) == 1
    each = ", ".join(why if one else f"{why} ({count})" for why, count in sorted(reasons.items()))
    return f"{total} file{'s' if total > 1 else ''} passed over: {each}"
