"""What would clear a finding, as plain frozen data."""

from __future__ import annotations

from msgspec import UNSET, Struct, UnsetType

from checker.outcome.results import Kind, Severity


class Brought(Struct, frozen=True):
    """A finding that a change brings, or that stands against it."""

    rule: str
    subject: str
    severity: Severity | UnsetType = UNSET
    kind: Kind | UnsetType = UNSET


class TextEdit(Struct, frozen=True):
    """Signs of a file that are replaced: from a line and column up to another (from 1), by what."""

    start: tuple[int, int]
    end: tuple[int, int]
    text: str


class Proposal(Struct, frozen=True):
    """Changes that clear a finding, as a full check of the changed design told.

    number: among all of the design; changes: a path and its new text each; what: the changes in
    words; then: how the finding's value stands to its limit after them; clears: what else passes
    then; adds: milder findings that they bring; confirm: what is to be confirmed, and by whom.
    """

    number: int
    changes: tuple[str, ...]
    what: str
    then: str
    adds: tuple[Brought, ...]
    clears: tuple[Brought, ...]
    confirm: tuple[str, ...]
    edits: tuple[TextEdit, ...] = ()
    """The changes in the text of the design's file."""


class Remedy(Struct, frozen=True):
    """What would clear a finding; against: where nothing does, what stands against it.

    says: that in a sentence.
    """

    rule: str
    subject: str
    severity: Severity
    proposals: tuple[Proposal, ...]
    against: tuple[Brought, ...]
    says: str = ""
