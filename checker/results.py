"""What a check finds: plain frozen data, in the shape of the JSON report.

These are `schemas/report.schema.json` in Python. Nothing here has a clock in it.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from functools import lru_cache

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

    subject: str
    line: int
    column: int
    fingerprint: str
    rule: str
    kind: str
    severity: str
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


Filling = tuple[bytes, bytes, bytes, bytes, bytes]
"""What sets one result apart from the others of its pattern, each part as JSON has it.

The head (`head_of`: subject, place and the subject's half of the fingerprint), then the numbers
of value and margin, the part of the message that differs, and the missing datum; empty is what a
result has not.
"""

GAP_TEXT = "\ue000"
GAP_VALUE = 1.25e300
GAP_WORD = encode(GAP_VALUE).decode()
GAP_MARGIN = 1.75e300
GAP_WORDS = "\ue001"
GAP_MISSING = "\ue002"
_GAPS = (encode(GAP_VALUE), encode(GAP_MARGIN), GAP_WORDS.encode(), GAP_MISSING.encode())


class Pattern:
    """What all results of one rule that came out alike have in common.

    A rule comes out in a few ways for thousands of subjects. A pattern is made once for each way,
    as a result with gaps in it: GAP_VALUE, GAP_MARGIN, GAP_WORDS and GAP_MISSING where its results
    differ (GAP_WORD for a value that is no plain number). Its JSON is cut at the gaps, and a
    result is the parts and a filling in turn.
    """

    __slots__ = ("caution", "kind", "parts", "rule", "severity")

    def __init__(self, prototype: Result) -> None:
        self.rule = prototype.rule
        self.kind = prototype.kind
        self.severity = prototype.severity
        self.caution = prototype.caution or ""
        text = encode(prototype).replace(b'"' + _GAPS[0] + b'"', _GAPS[0])
        # The head of a result says what the members up to the rule do here.
        rest = fingerprint_of(prototype.rule) + text[text.index(b'","rule":') :]
        parts = []
        for gap in _GAPS:
            before, found, after = rest.partition(gap)
            parts.append(before if found else b"")
            rest = after if found else rest
        self.parts = (*parts, rest)

    def json(self, filling: Filling) -> bytes:
        """One result, written."""
        head, value, margin, words, missing = filling
        one, two, three, four, five = self.parts
        return b"".join((head, one, value, two, margin, three, words, four, missing, five))

    def result(self, filling: Filling) -> Result:
        """One result."""
        return decode(self.json(filling), type=Result)


def head_of(subject: str, line: int, column: int, fingerprint: bytes) -> bytes:
    """The first part of a result's JSON; fingerprint: the subject's half."""
    return b'{"subject":%b,"line":%d,"column":%d,"fingerprint":"%b' % (
        encode(subject),
        line,
        column,
        fingerprint,
    )


@lru_cache(maxsize=65_536)
def fingerprint_of(text: str) -> bytes:
    """Half a fingerprint: 64 bits, in hexadecimal."""
    made = hashlib.blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8)
    return made.hexdigest().encode()


def whole(result: Result) -> tuple[Pattern, Filling]:
    """A result that shares no pattern, as a pattern of its own and its filling."""
    half = result.fingerprint[:16].encode()
    head = head_of(result.subject, result.line, result.column, half)
    return Pattern(result), (head, b"", b"", b"", b"")


class Computed:
    """The computed values of one subject: names and units in common with others of its kind."""

    __slots__ = ("template", "values")

    def __init__(self, template: bytes, values: tuple[bytes, ...]) -> None:
        self.template = template
        self.values = values

    def json(self) -> bytes:
        """The values, written."""
        return self.template % self.values


def computed_template(units: dict[str, str]) -> bytes:
    """The JSON of a subject's computed values, with a gap for each number."""
    members = [
        f'"{name}":{{"magnitude":%b,"unit":"{unit.replace("%", "%%")}"}}'
        for name, unit in units.items()
    ]
    return f"{{{','.join(members)}}}".encode()


def missing_number(reason: str) -> bytes:
    """What fills the gap of a number that cannot be worked out."""
    return b'null,"missing":' + encode(reason)


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
        computed_of: dict[bytes, Computed],
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

    def json(self) -> bytes:
        """The design as the JSON report has it."""
        head = encode(
            {
                "path": self.path,
                "name": self.name,
                "verdict": self.verdict,
                "judged_by": self.judged_by,
                "codes": self.codes,
            }
        )
        parts = [head[:-1], b',"results":[']
        separator = b"\n"
        for pattern, (first, value, margin, words, missing) in self.found:
            one, two, three, four, five = pattern.parts
            parts += (
                separator, first, one, value, two, margin, three, words, four, missing, five
            )  # fmt: skip
            separator = b",\n"
        parts.append(b'],\n"computed":{')
        separator = b"\n"
        for subject, values in self.computed_of.items():
            parts += (separator, subject, b":", values.json())
            separator = b",\n"
        parts.append(b"}}")
        return b"".join(parts)


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
