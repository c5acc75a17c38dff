"""A worked calculation, as records."""

from __future__ import annotations

from msgspec import Struct

from checker.outcome.results import Source


class NotExplained(Exception):
    """A rule or a subject that does not exist, in words for the person."""


class Stated(Struct, frozen=True):
    """A value that the design states: as typed, and in the unit it is worked in."""

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
    """One value worked out.

    formula: with symbols, from the equals sign on, or a sentence; numbers: the same with numbers,
    empty where it cannot be worked by hand alone. uses: symbol and value of each other input;
    members: of an input that is many values, those values by subject. missing: why there is no
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


class HeldAgainst(Struct, frozen=True):
    """One limit of the rule, whether or not it counts for this job.

    kind: the result by this limit alone, empty where its conditions do not hold; why_not: why it
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
    """A floor in section: heading, what is to be seen, lines for a terminal, and as SVG."""

    title: str
    says: str
    text: tuple[str, ...]
    svg: str


class Explained(Struct, frozen=True):
    """A whole calculation: what was given, steps, limits, verdict, and floors in section."""

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
    limits: tuple[HeldAgainst, ...]
    sections: tuple[Pictured, ...] = ()
