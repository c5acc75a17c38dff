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
    """A replacement in a file.

    Attributes:
        start: line and column, from 1.
        end: line and column after the last replaced character.
        text: what stands there instead.
    """

    start: tuple[int, int]
    end: tuple[int, int]
    text: str


class Proposal(Struct, frozen=True):
    """Changes that clear a finding, confirmed by a full check of the changed design.

    Attributes:
        number: among all proposals of the design, from 1.
        changes: a path and its new text each.
        what: the changes in words.
        then: the finding's value and its limit afterwards; empty where these say nothing more.
        adds: milder findings that they add.
        clears: what else passes then.
        confirm: what is to be confirmed, and by whom.
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
    """What would clear a finding.

    Attributes:
        rule: of the finding.
        subject: of the finding.
        severity: of the finding.
        proposals: the simplest first.
        against: where there are none, the findings that prevent all that was tried.
        says: the same in a sentence; empty where there are proposals.
    """

    rule: str
    subject: str
    severity: Severity
    proposals: tuple[Proposal, ...]
    against: tuple[Brought, ...]
    says: str = ""
