"""Designs by sender, each with its revisions from the oldest to the newest."""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable
from itertools import pairwise
from typing import NamedTuple

from checker.reading.mistakes import Unreadable
from checker.revisions.comparing import pair
from checker.revisions.comparison import Pair
from checker.revisions.names import plain_name
from checker.revisions.revision import Revision
from checker.run import batch

BY = ("contractor", "designer", "project")
"""What letters are grouped by: a key of the design's project, or its name."""
UNKNOWN = "not named"
"""The sender of a design that names none."""
_PARTS = re.compile(r"(\d+)")


class Project(NamedTuple):
    """One project with all its revisions, the newest last, and the changes from each to the
    next.
    """

    name: str
    by: str
    revisions: tuple[Revision, ...]
    moves: tuple[Pair, ...]
    notes: tuple[str, ...] = ()
    """Remarks on how the sender's forms were read."""
    kept: tuple[tuple[str, tuple[str, ...]], ...] = ()
    """What the sender gave by forms and the design itself does not state: each field with its
    records.
    """

    @property
    def newest(self) -> Revision:
        """The revision that counts."""
        return self.revisions[-1]


def projects(
    revisions: Iterable[Revision], by: str, plan: batch.Plan = batch.BY_THE_DESIGN
) -> list[Project]:
    """The designs by sender and name, each with its revisions.

    Names that differ only in capitals, spaces and punctuation are one, in its most frequent form.

    Args:
        revisions: the designs that came in.
        by: what letters are grouped by, one of BY.
        plan: how designs are judged.

    Returns:
        In the order of sender and name; the revisions of each from the oldest to the newest.
    """
    together: dict[tuple[str, str], list[Revision]] = defaultdict(list)
    spellings: dict[str, Counter[str]] = defaultdict(Counter)
    designs: dict[str, Counter[str]] = defaultdict(Counter)
    for one in revisions:
        sender = " ".join(sender_of(one, by).split())
        spellings[plain_name(sender)][sender] += 1
        designs[plain_name(one.report.name)][one.report.name] += 1
        together[plain_name(sender), plain_name(one.report.name)].append(one)
    named = {key: max(sorted(own), key=own.__getitem__) for key, own in spellings.items()}
    called = {key: max(sorted(own), key=own.__getitem__) for key, own in designs.items()}
    found = []
    for (key, plain), own in sorted(
        together.items(), key=lambda one: (named[one[0][0]], called[one[0][1]])
    ):
        sender, name = named[key], called[plain]
        own.sort(key=age)
        moves = tuple(pair(old, new, plan) for old, new in pairwise(own))
        found.append(Project(name, sender, tuple(own), moves))
    return found


def listed(
    files: Iterable[tuple[str, bytes]], plan: batch.Plan, by: str
) -> tuple[list[tuple[str, tuple[str, str]]], list[Unreadable]]:
    """The designs of some files by sender and name, read but not judged.

    Args:
        files: path and content of each.
        plan: how designs are read.
        by: what letters are grouped by, one of BY.

    Returns:
        The path of each design with its sender and name in the form for comparing; and what cannot
        be read.

    Raises:
        BadRules: rules cannot be used.
    """
    found = batch.read(files, plan, with_given=False)
    keys = [
        (one.path, (plain_name(one.name if by == "project" else one.text("project", by)),
                    plain_name(one.name)))
        for one in found.tables.designs
    ]  # fmt: skip
    return keys, found.unreadable


def sender_of(one: Revision, by: str) -> str:
    """The sender that a design names."""
    if by == "project":
        return one.report.name
    return one.project.get(by, "") or UNKNOWN


def age(one: Revision) -> tuple[str, list[tuple[bool, int, str]], str]:
    """A sort key by which an older revision comes before a newer: its day, then its letter or
    number.
    """
    day = one.project.get("designed_on", "")
    parts = [
        (part.isdigit(), int(part) if part.isdigit() else 0, part)
        for part in _PARTS.split(one.revision.casefold())
        if part
    ]
    return day, parts, one.report.path
