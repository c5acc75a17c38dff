"""A worked calculation, as records."""

from __future__ import annotations

from msgspec import Struct

from checker.outcome.results import Source


class NotExplained(Exception):
    """A rule or a subject that does not exist; the message is for the user."""


class Stated(Struct, frozen=True):
    """A value that the design states: as typed, and in the unit that the calculation uses."""

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

    formula: with symbols, from the equals sign on, or a sentence; numbers: the same with numbers,
    empty where it cannot be computed by hand from what is shown; uses: symbol and value of each
    other input; members: where an input has many values, these by subject; missing: why there is no
    result.
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

    kind: the result by this limit alone, empty where its conditions are not met; why_not: why it
    does not count, empty where it does.
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
    """A whole calculation: given values, steps, limits, verdict, and floors in section."""

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
