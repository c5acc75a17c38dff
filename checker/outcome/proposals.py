"""Changes that would clear a finding, as plain frozen data."""

from __future__ import annotations

from msgspec import UNSET, Struct, UnsetType

from checker.outcome.results import Kind, Severity


class Brought(Struct, frozen=True):
    """A finding that a change adds, or because of which it is not proposed."""

    rule: str
    subject: str
    severity: Severity | UnsetType = UNSET
    kind: Kind | UnsetType = UNSET


class TextEdit(Struct, frozen=True):
    """A replacement in a file: from a line and column up to another (from 1), and the new text."""

    start: tuple[int, int]
    end: tuple[int, int]
    text: str


class Proposal(Struct, frozen=True):
    """Changes that clear a finding, confirmed by a full check of the changed design.

    number: among all proposals of the design; changes: a path and its new text each; what: the
    changes in words; then: the finding's value and its limit afterwards; clears: what else passes
    then; adds: milder findings that they add; confirm: what is to be confirmed, and by whom.
    """

    number: int
    changes: tuple[str, ...]
    what: str
    then: str
    adds: tuple[Brought, ...]
    clears: tuple[Brought, ...]
    confirm: tuple[str, ...]
    edits: tuple[TextEdit, ...] = ()
    """The changes as replacements in the text of the design's file."""


class Remedy(Struct, frozen=True):
    """What would clear a finding; against: where nothing does, the findings that prevent it.

    says: the same in a sentence.
    """

    rule: str
    subject: str
    severity: Severity
    proposals: tuple[Proposal, ...]
    against: tuple[Brought, ...]
    says: str = ""
