"""A worked calculation, as records."""

from __future__ import annotations

from msgspec import Struct

from checker.outcome.results import Source


class NotExplained(Exception):
    """A rule or a subject that does not exist; the message is for the user."""


class Stated(Struct, frozen=True):
    """A value that the design states.

    Attributes:
        subject: as reports name it.
        name: of the field.
        symbol: empty where it has none.
        typed: as in the file.
        value: in the unit that the calculation uses.
        line: of the file, from 1.
        cell: of the sheet that the design was read from; empty where it was not.
    """

    subject: str
    name: str
    symbol: str
    typed: str
    value: str
    line: int
    cell: str = ""

    @property
    def where(self) -> str:
        """Its place: `line 31`, or `Loops C7` of a sheet."""
        return self.cell or f"line {self.line}"


class Step(Struct, frozen=True):
    """One computed value.

    Attributes:
        number: from 1, in the order in which the steps can be computed.
        subject: as reports name it.
        name: of the quantity.
        title: in words.
        symbol: in formulas.
        formula: with symbols, from the equals sign on, or a sentence.
        numbers: the same with numbers; empty where it cannot be computed by hand from what is
            shown.
        result: number and unit.
        source: of the formula.
        uses: symbol and value of each other input.
        members: where an input has many values, these by subject.
        missing: why there is no result; empty where there is one.
    """

    number: int
    subject: str
    name: str
    title: str
    symbol: str
    formula: str
    numbers: str
    result: str
    source: str
    uses: tuple[str, ...] = ()
    members: tuple[str, ...] = ()
    missing: str = ""


class ComparedLimit(Struct, frozen=True):
    """The value compared with one limit of the rule, whether or not the limit counts for this job.

    Attributes:
        id: of the limit.
        code: that it belongs to; empty for one of no code.
        limit: in words, with its value for this subject.
        kind: the result by this limit alone; empty where its conditions are not met.
        verdict: that result in words.
        margin: the distance to the limit, in words; empty where nothing was compared.
        severity: of a fail.
        counts: whether the limit counts.
        governs: whether it decides the rule's result.
        why_not: why it does not count; empty where it does.
        source: where it was published.
        in_force: from when until when, in words.
    """

    id: str
    code: str
    limit: str
    kind: str
    verdict: str
    margin: str
    severity: str
    counts: bool
    governs: bool
    why_not: str
    source: Source
    in_force: str


class Pictured(Struct, frozen=True):
    """A drawing of a floor in section: heading, description, lines for a terminal, and SVG."""

    title: str
    says: str
    text: tuple[str, ...]
    svg: str


class Explained(Struct, frozen=True):
    """A whole calculation.

    Attributes:
        explain: the version of this record as JSON.
        path: of the design's file, as it was named.
        design: its name.
        judged_by: the day whose editions counted (ISO 8601); empty where it is unknown.
        codes: that it was judged by.
        rule: its id.
        title: of the rule.
        subject: as reports name it.
        value: symbol and value that the rule judges.
        kind: of the result.
        severity: of the result.
        message: of the result.
        remedy: of the result.
        why: the rule matters.
        caution: of the rule; empty where it has none.
        given: values that the design states.
        steps: from these to the value, in order.
        limits: every limit of the rule.
        sections: floors in section, where the calculation used them.
    """

    explain: int
    path: str
    design: str
    judged_by: str
    codes: tuple[str, ...]
    rule: str
    title: str
    subject: str
    value: str
    kind: str
    severity: str
    message: str
    remedy: str
    why: str
    caution: str
    given: tuple[Stated, ...]
    steps: tuple[Step, ...]
    limits: tuple[ComparedLimit, ...]
    sections: tuple[Pictured, ...] = ()
