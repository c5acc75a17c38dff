"""Known findings: those of a day, written down, so that later runs fail only on new or worse ones.

A finding is known by its design (the path from the file's folder), rule and subject; lines,
counts and words play no part. It is worse where it goes further beyond its limit, is graver, or
cannot be held against what was written down.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from functools import lru_cache

import msgspec
from msgspec import UNSET, Struct

from checker import __version__
from checker.outcome.results import (
    SEVERITIES,
    DesignReport,
    Kind,
    Measure,
    Mended,
    Notes,
    Result,
    RuleSet,
    Severity,
    State,
)

VERSION = 1
KINDS = ("fail", "open")
"""The kinds of results that are findings here."""
SLACK = 1e-6
"""By this part a margin may differ and count as the same: another machine's last digits."""


class KnownFinding(Struct, frozen=True, omit_defaults=True):
    """A finding as it was; margin: what was left to its limit, negative beyond it."""

    design: str
    rule: str
    subject: str
    kind: Kind
    severity: Severity
    margin: Measure | None = None


class Known(Struct, frozen=True, forbid_unknown_fields=True):
    """A file of known findings."""

    known: int
    tool: str
    rules: RuleSet
    findings: tuple[KnownFinding, ...]


class Baseline(Struct, frozen=True):
    """The known findings that a run is held against; folder: the one that paths start from."""

    folder: str
    data: bytes

    def name_of(self, path: str) -> str:
        """A design's path as the file has it."""
        return os.path.relpath(os.path.abspath(path), self.folder).replace(os.sep, "/")


class BadKnown(Exception):
    """A file of known findings that cannot be used, in words for the person."""


def read(data: bytes) -> Known:
    """The file's content; raises BadKnown."""
    try:
        known = msgspec.json.decode(data, type=Known)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise BadKnown(
            f"this is no file of known findings ({error}); 'prescreed freeze' writes one"
        ) from None
    if known.known != VERSION:
        raise BadKnown(
            f"the file's format is {known.known}, this program knows {VERSION}; "
            "write it anew with 'prescreed freeze'"
        )
    return known


def written(rules: RuleSet, findings: Iterable[KnownFinding]) -> bytes:
    """The file, a finding a line, in the order of design, rule and subject."""
    order = sorted(findings, key=lambda one: (one.design, one.rule, one.subject))
    head = msgspec.json.encode(
        {"known": VERSION, "tool": __version__, "rules": RuleSet(rules.edition, rules.digest)}
    )
    lines = b",\n".join(msgspec.json.encode(one) for one in order)
    return head[:-1] + b',"findings":[\n' + lines + b"\n]}\n"


def finding(design: str, result: Result) -> KnownFinding:
    """A result as it is written down."""
    margin = None if result.margin is UNSET else result.margin
    return KnownFinding(design, result.rule, result.subject, result.kind, result.severity, margin)


def compare(design: DesignReport, whole: str, baseline: Baseline) -> dict[int, Notes]:
    """For each finding, by its place, whether it is new, worse or unchanged.

    whole: the design's absolute path. What is known and no more found is left in `design.mended`.
    """
    before = dict(_index(baseline.data).get(baseline.name_of(whole), {}))
    notes: dict[int, Notes] = {}
    for place, pattern in enumerate(design.found.patterns):
        if pattern.kind not in KINDS:
            continue
        result = design.result(place)
        known = before.pop((result.rule, result.subject), None)
        notes[place] = Notes(state=_state(result, known))
    design.mended = tuple(Mended(rule, subject) for rule, subject in sorted(before))
    return notes


def _state(result: Result, known: KnownFinding | None) -> State:
    if known is None:
        return "new"
    if result.kind == "open":
        return "unchanged" if known.kind == "open" else "worse"
    graver = SEVERITIES.index(result.severity) < SEVERITIES.index(known.severity)
    return "worse" if known.kind == "open" or graver or _further(result, known) else "unchanged"


def _further(result: Result, known: KnownFinding) -> bool:
    """Whether the result goes further beyond its limit."""
    if result.margin is UNSET and known.margin is None:
        return False
    now = None if result.margin is UNSET else result.margin
    then = known.margin
    if now is None or then is None or now.unit != then.unit:
        return True
    if now.magnitude is None or then.magnitude is None:
        return now.magnitude != then.magnitude
    return now.magnitude < then.magnitude - SLACK * max(1.0, abs(then.magnitude))


@lru_cache(maxsize=2)
def _index(data: bytes) -> dict[str, dict[tuple[str, str], KnownFinding]]:
    found: dict[str, dict[tuple[str, str], KnownFinding]] = {}
    for one in read(data).findings:
        found.setdefault(one.design, {})[one.rule, one.subject] = one
    return found
