"""What a check finds: plain frozen data, in the shape of the JSON report.

These are `schemas/report.schema.json` in Python. Nothing here has a clock in it.
"""

from __future__ import annotations

from collections import Counter

from msgspec import UNSET, Struct, UnsetType
from msgspec.json import decode, encode

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
    source: Source
    message: str
    limit: Limit | UnsetType = UNSET


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


Filling = tuple[str, float | str, float | str, str, str, int, int, str]
"""What sets one result apart from the others of its pattern, each part as JSON has it.

Subject, value, margin, words, missing, line, column, fingerprint: a plain number as a float, a
text in its quotes (but for the words, the part of the message that differs, and the fingerprint,
which have none), and what a result has not as an empty text.
"""

GAPS: Filling = (
    '"\ue000"',
    1.25e300,
    1.75e300,
    "\ue001",
    '"\ue002"',
    999999991,
    999999992,
    "\ue003",
)
"""What stands in a prototype where its results differ."""
GAP_TEXT = "\ue000"
GAP_WORDS = "\ue001"
GAP_MISSING = "\ue002"
GAP_FINGERPRINT = "\ue003"
GAP_VALUE = 1.25e300
GAP_MARGIN = 1.75e300
GAP_WORD_VALUE = "\ue004"
"""Stands in a prototype whose value is no plain number."""


class Pattern:
    """What all results of one rule that came out alike have in common.

    A rule comes out in a few ways for thousands of subjects. A pattern is made once for each way,
    as a result with GAPS in it; its JSON is a text with gaps, and a result is the text, filled.
    """

    __slots__ = ("caution", "kind", "severity", "template")

    def __init__(self, prototype: Result) -> None:
        self.kind = prototype.kind
        self.caution = "" if prototype.caution is UNSET else prototype.caution
        self.severity = prototype.severity
        text = encode(prototype).decode()
        self.template = _with_gaps(text.replace(f'"{GAP_WORD_VALUE}"', _gap(GAP_VALUE)))

    def json(self, filling: Filling) -> str:
        """One result, written."""
        return self.template % filling

    def result(self, filling: Filling) -> Result:
        """One result."""
        return decode(self.json(filling), type=Result)


def _gap(gap: float | str) -> str:
    return gap if isinstance(gap, str) else encode(gap).decode()


def _with_gaps(text: str) -> str:
    """The text as a template that takes a whole Filling; a gap that it lacks prints nothing."""
    template, rest = "", text.replace("%", "%%")
    for gap in GAPS:
        before, found, after = rest.partition(_gap(gap))
        if found:
            template, rest = f"{template}{before}%s", after
        else:
            template += "%.0s"
    return template + rest


class Computed:
    """The computed values of one subject: names and units in common with others of its kind."""

    __slots__ = ("template", "values")

    def __init__(self, template: str, values: tuple[float | str, ...]) -> None:
        self.template = template
        self.values = values

    def json(self) -> str:
        """The values, written."""
        return self.template % self.values


def computed_template(units: dict[str, str]) -> str:
    """The JSON of a subject's computed values, with a gap for each number."""
    parts = [f'"{name}":{{"magnitude":%s,"unit":"{unit}"}}' for name, unit in units.items()]
    return "{" + ",".join(part.replace('"unit":"%"', '"unit":"%%"') for part in parts) + "}"


def missing_number(reason: str) -> str:
    """What fills the gap of a number that cannot be worked out."""
    return f'null,"missing":{encode(reason).decode()}'


class DesignReport:
    """All that was found about one design.

    judged_by: the day whose editions counted (ISO 8601), empty where it is unknown; found: each
    result as its pattern and filling, in order; computed_of: for each subject, in its quotes, its
    computed values.
    """

    __slots__ = ("codes", "computed_of", "found", "judged_by", "name", "path", "verdict")

    def __init__(
        self,
        path: str,
        name: str,
        judged_by: str,
        codes: tuple[str, ...],
        found: list[tuple[Pattern, Filling]],
        computed_of: dict[str, Computed],
    ) -> None:
        self.path = path
        self.name = name
        self.judged_by = judged_by
        self.codes = codes
        self.found = found
        self.computed_of = computed_of
        held = any(p.kind == "fail" and p.severity in HOLDING for p, _ in found)
        self.verdict = "hold" if held else "release"

    @property
    def results(self) -> list[Result]:
        """Every result, in file order and then by rule."""
        return [pattern.result(filling) for pattern, filling in self.found]

    def results_of(self, *kinds: str) -> list[Result]:
        """The results of these kinds, in order."""
        return [pattern.result(filling) for pattern, filling in self.found if pattern.kind in kinds]

    @property
    def computed(self) -> dict[str, dict[str, Measure]]:
        """For each subject its computed values by name."""
        return {
            decode(subject): decode(values.json(), type=dict[str, Measure])
            for subject, values in self.computed_of.items()
        }

    def json(self) -> str:
        """The design as the JSON report has it."""
        head = encode(
            {
                "path": self.path,
                "name": self.name,
                "verdict": self.verdict,
                "judged_by": self.judged_by,
                "codes": self.codes,
            }
        ).decode()
        results = ",\n".join([pattern.template % filling for pattern, filling in self.found])
        computed = ",\n".join(
            [f"{subject}:{values.json()}" for subject, values in self.computed_of.items()]
        )
        return f'{head[:-1]},"results":[\n{results}],\n"computed":{{{computed}}}}}'


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
        for pattern, count in Counter([pattern for pattern, _ in design.found]).items():
            if pattern.kind == "pass":
                self.passed += count
            elif pattern.kind == "notApplicable":
                self.not_applicable += count
            elif pattern.kind == "fail":
                self.failed[pattern.severity] = self.failed.get(pattern.severity, 0) + count
            elif pattern.kind == "open":
                self.open += count
            else:
                self.review += count
            if pattern.kind != "notApplicable" and pattern.caution not in ("", *self.cautions):
                self.cautions.append(pattern.caution)

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
