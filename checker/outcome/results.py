"""The results of a check: plain frozen data, in the shape of the JSON report.

These are `schemas/report.schema.json` in Python. Nothing here depends on a clock.
"""

from __future__ import annotations

from typing import Literal, get_args

from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import force_setattr

from checker.reading.digests import blake2b

Kind = Literal["fail", "open", "review", "pass", "notApplicable"]
"""The kinds of SARIF 2.1.0 (OASIS), those that require something first."""

KINDS: tuple[Kind, ...] = get_args(Kind)

Severity = Literal["critical", "major", "minor", "observation"]
"""From the gravest down."""

SEVERITIES: tuple[Severity, ...] = get_args(Severity)

Verdict = Literal["release", "hold", "unproven"]

State = Literal["new", "worse", "judged otherwise", "unchanged"]
"""Of a finding that is compared with known ones."""

PASSING = ("unchanged", "judged otherwise")
"""States of findings that hold nothing up: they were known, or only the rules changed."""

Stage = Literal["design", "laid", "screeded", "heated", "installed"]
"""The stages of a job, in the order of the work."""

HOLDING: tuple[Severity, ...] = ("critical", "major")
"""A fail with one of these severities keeps a design from release."""


class Measure(Struct, frozen=True):
    """A number with its unit.

    Attributes:
        magnitude: the number; None where it could not be computed.
        unit: in which it is shown.
        missing: why there is no number.
    """

    magnitude: float | None
    unit: str
    missing: str | UnsetType = UNSET


Value = Measure | str | bool

Given = Value | tuple[dict[str, Value], ...]
"""What a design states under a name: a value, or the rows of a list."""


class Limit(Struct, frozen=True):
    """What a value is compared with; exactly one of the members is set."""

    at_most: Measure | UnsetType = UNSET
    at_least: Measure | UnsetType = UNSET
    between: tuple[Measure, Measure] | UnsetType = UNSET
    one_of: tuple[Value, ...] | UnsetType = UNSET
    before: str | UnsetType = UNSET
    after: str | UnsetType = UNSET


class Source(Struct, frozen=True):
    """Where a limit was published, and how reliably it was read there.

    Attributes:
        standing: `standard`, `code`, `guidance` or `common practice`.
        seen: `text` (read in the source), `reported` (read elsewhere) or `memory`.
        code: the id of the code that it belongs to, if it belongs to one.
        replaces: the source and clause of the limit that it replaces.
        own: the limit is a firm's own.
    """

    id: str
    title: str
    clause: str
    edition: str
    standing: str
    seen: str
    code: str | UnsetType = UNSET
    replaces: str | UnsetType = UNSET
    own: bool | UnsetType = UNSET


class Judged(Struct, frozen=True):
    """A further limit that the value was compared with, and the outcome."""

    kind: Kind
    severity: Severity
    source: Source
    message: str
    limit: Limit | UnsetType = UNSET


class Waived(Struct, frozen=True):
    """Who accepts a finding, why, and until which day (ISO 8601, inclusive)."""

    reason: str
    by: str
    until: str


class Whatever(Struct, frozen=True):
    """A datum that is not known, and the range over which a result is the same."""

    field: str
    least: Measure
    most: Measure
    source: Source


class TurnsAt(Struct, frozen=True):
    """The datum that decides an open result, and the value at which the result changes."""

    field: str
    value: Measure


class Answer(Struct, frozen=True):
    """A person's answer to a review.

    Attributes:
        result: `as wanted` or `not as wanted`.
        by: who looked.
        on: the day (ISO 8601).
        what: was looked at; may be empty.
        again: why it must be looked at once more; such an answer does not count.
        path: of the file in which it is written.
        line: in it, from 1.
        column: likewise.
    """

    result: str
    by: str
    on: str
    what: str = ""
    again: str | UnsetType = UNSET
    path: str = ""
    line: int = 0
    column: int = 0


COMES_OF = " It comes of {}, and is gone with it."
"""The remark on a finding that is listed under another rule's."""


class Under(Struct, frozen=True):
    """The finding that causes another one: its rule and subject."""

    rule: str
    subject: str


class Notes(Struct, frozen=True):
    """What is known about a finding besides the outcome of its rule."""

    waived: Waived | UnsetType = UNSET
    state: State | UnsetType = UNSET


class Result(Struct, frozen=True):
    """The outcome of one rule for one subject.

    Attributes:
        line: of the file, 1-based; of a design that is a sheet, the row of the cell.
        column: likewise.
        subject: what the rule judged, such as `loops.L1`.
        fingerprint: identifies this finding in reports of other days.
        rule: id of the rule.
        kind: `fail`, `open`, `review`, `pass` or `notApplicable`.
        severity: `critical`, `major`, `minor` or `observation`.
        title: of the rule.
        value: that the rule judged.
        limit: that the value was compared with.
        margin: between the two; below zero where the limit is broken.
        source: of the limit.
        message: the finding in a sentence.
        missing: what an open result lacks.
        remedy: what to do about it.
        also: further limits that the value was compared with.
        caution: where the work can hurt somebody.
        due: the stage from which it counts, where the design is at an earlier one.
        whatever: the data over whose whole range the result is the same.
        turns_at: the datum that decides an open result, and at which value.
        answer: a person's answer to a review.
        under: the finding that causes this one, and with which it goes.
        waived: who accepts it, and why.
        state: compared with what was known.
        cell: its cell in the sheet that the design was read from.
    """

    line: int
    column: int
    subject: str
    fingerprint: str
    rule: str
    kind: Kind
    severity: Severity
    title: str
    value: Value | UnsetType = UNSET
    limit: Limit | UnsetType = UNSET
    margin: Measure | UnsetType = UNSET
    source: Source | UnsetType = UNSET
    message: str = ""
    missing: str | UnsetType = UNSET
    remedy: str = ""
    also: tuple[Judged, ...] | UnsetType = UNSET
    caution: str | UnsetType = UNSET
    due: Stage | UnsetType = UNSET
    whatever: tuple[Whatever, ...] | UnsetType = UNSET
    turns_at: TurnsAt | UnsetType = UNSET
    answer: Answer | UnsetType = UNSET
    under: Under | UnsetType = UNSET
    waived: Waived | UnsetType = UNSET
    state: State | UnsetType = UNSET
    cell: str | UnsetType = UNSET

    @property
    def where(self) -> str:
        """Its place for the reader: `line 31`, or `Loops C7`."""
        return self.cell or f"line {self.line}"


class Pattern(Struct, frozen=True, eq=False):
    """What all results of one rule with the same outcome count as; one object for thousands of
    them.
    """

    rule: str
    kind: Kind
    severity: Severity
    caution: str = ""
    notes: Notes = Notes()
    early: bool = False
    """Whether it is from a later stage."""
    answered: bool = False
    asks: bool = False
    """Whether it is open, or a review that nobody has answered."""
    unproven: bool = False
    """Whether it keeps its design from being proven, waived or not."""

    def __post_init__(self) -> None:
        """Work out once what every design with this pattern is asked."""
        asks = self.kind == "open" or (self.kind == "review" and not (self.early or self.answered))
        grave = HOLDING if self.kind == "open" else HOLDING[:1]
        force_setattr(self, "asks", asks)
        force_setattr(self, "unproven", asks and self.severity in grave)

    @classmethod
    def of(cls, result: Result) -> Pattern:
        """Reduce a result to what it counts as.

        Args:
            result: with its answer and notes, where it has any.

        Returns:
            A new pattern; patterns are distinguished by identity, not by what they contain.
        """
        answered = result.answer is not UNSET and result.answer.again is UNSET
        return cls(
            result.rule,
            result.kind,
            result.severity,
            result.caution or "",
            Notes(result.waived, result.state),
            early=result.due is not UNSET,
            answered=answered,
        )


def fingerprint_of(text: str) -> str:
    """Give half a fingerprint.

    Args:
        text: what it is to be recognized by: a rule's id, or a design's name with a subject.

    Returns:
        64 bits, as 16 hexadecimal digits.
    """
    return blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8).hexdigest()


class Done(Struct, frozen=True):
    """How many rules are fully judged (no result open or unanswered), of those that apply."""

    done: int
    of: int


class Question(Struct, frozen=True):
    """A datum that is missing: who would know it, and what it decides.

    Attributes:
        field: its path in the design.
        who: would know it.
        severity: of the gravest result that it decides.
        decides: how many results.
        rules: of which rules these are.
        fields: for a whole section, what is needed of each record in it.
    """

    field: str
    who: str
    severity: Severity
    decides: int
    rules: tuple[str, ...]
    fields: tuple[str, ...] = ()
