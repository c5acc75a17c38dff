"""What a check finds: plain frozen data, in the shape of the JSON report.

These are `schemas/report.schema.json` in Python. Nothing here has a clock in it.
"""

from __future__ import annotations

from msgspec import UNSET, Struct, UnsetType

KINDS = ("fail", "open", "review", "pass", "notApplicable")
"""The kinds of SARIF 2.1.0 (OASIS), those that ask for something first."""
SEVERITIES = ("critical", "major", "minor", "observation")
"""From the gravest down."""
HOLDING = ("critical", "major")
"""A fail of these severities keeps a design from being released."""


class Measure(Struct, frozen=True):
    """A number and its unit; None where it could not be worked out, and then why."""

    magnitude: float | None
    unit: str
    missing: str | UnsetType = UNSET


Value = Measure | str | bool


class Limit(Struct, frozen=True):
    """What a value is held against; one of the members is set."""

    at_most: Measure | UnsetType = UNSET
    at_least: Measure | UnsetType = UNSET
    between: tuple[Measure, Measure] | UnsetType = UNSET
    one_of: tuple[Value, ...] | UnsetType = UNSET
    before: str | UnsetType = UNSET
    after: str | UnsetType = UNSET


class Source(Struct, frozen=True):
    """Where a limit stands, and how surely it was read there."""

    id: str
    title: str
    clause: str
    edition: str
    standing: str
    seen: str
    code: str | UnsetType = UNSET
    replaces: str | UnsetType = UNSET


class Judged(Struct, frozen=True):
    """One more limit that the value was held against, and how it came out."""

    kind: str
    severity: str
    limit: Limit | UnsetType
    source: Source
    message: str


class Result(Struct, frozen=True):
    """The outcome of one rule for one subject."""

    rule: str
    subject: str
    kind: str
    severity: str
    title: str
    value: Value | UnsetType = UNSET
    limit: Limit | UnsetType = UNSET
    margin: Measure | UnsetType = UNSET
    source: Source | UnsetType = UNSET
    message: str = ""
    remedy: str = ""
    missing: str | UnsetType = UNSET
    also: tuple[Judged, ...] | UnsetType = UNSET
    caution: str | UnsetType = UNSET
    line: int = 1
    column: int = 1
    fingerprint: str = ""


class DesignReport(Struct, frozen=True):
    """All that was found about one design."""

    path: str
    name: str
    verdict: str
    judged_by: str
    codes: tuple[str, ...]
    results: tuple[Result, ...]
    computed: dict[str, dict[str, Measure]]


class Unreadable(Struct, frozen=True):
    """A mistake that kept a design from being read."""

    path: str
    line: int
    column: int
    message: str


class RuleSet(Struct, frozen=True):
    """Which rules judged."""

    edition: str
    digest: str


class Totals(Struct):
    """Counts over all designs of a run."""

    designs: int = 0
    held: int = 0
    passed: int = 0
    failed: dict[str, int] = {}
    open: int = 0
    review: int = 0
    not_applicable: int = 0
    unreadable: int = 0
    cautions: list[str] = []

    def add(self, design: DesignReport) -> None:
        """Count one more design."""
        self.designs += 1
        self.held += design.verdict == "hold"
        for result in design.results:
            kind = result.kind
            caution = result.caution
            if caution is not UNSET and kind != "notApplicable" and caution not in self.cautions:
                self.cautions.append(caution)
            if kind == "pass":
                self.passed += 1
            elif kind == "notApplicable":
                self.not_applicable += 1
            elif kind == "fail":
                self.failed[result.severity] = self.failed.get(result.severity, 0) + 1
            elif kind == "open":
                self.open += 1
            else:
                self.review += 1

    def join(self, other: Totals) -> None:
        """Count another run's designs too."""
        self.designs += other.designs
        self.held += other.held
        self.passed += other.passed
        self.open += other.open
        self.review += other.review
        self.not_applicable += other.not_applicable
        self.unreadable += other.unreadable
        self.cautions += [caution for caution in other.cautions if caution not in self.cautions]
        for severity, count in other.failed.items():
            self.failed[severity] = self.failed.get(severity, 0) + count

    def reaches(self, threshold: str) -> bool:
        """Whether a fail of this severity or a graver one was found; never for 'never'."""
        if threshold == "never":
            return False
        graver = SEVERITIES[: SEVERITIES.index(threshold) + 1]
        return any(self.failed.get(severity) for severity in graver)
