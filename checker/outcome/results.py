"""What a check finds: plain frozen data, in the shape of the JSON report.

These are `schemas/report.schema.json` in Python. Nothing here has a clock in it.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable
from operator import attrgetter, mod
from typing import Any, NamedTuple

from msgspec import UNSET, Struct, UnsetType
from msgspec.json import decode, encode
from msgspec.structs import replace

from checker.words import number

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

Given = Value | tuple[dict[str, Value], ...]
"""What a design states under a name: a value, or the rows of a list."""


class Limit(Struct, frozen=True):
    """What a value is held against; one of the members is set."""

    at_most: Measure | UnsetType = UNSET
    at_least: Measure | UnsetType = UNSET
    between: tuple[Measure, Measure] | UnsetType = UNSET
    one_of: tuple[Value, ...] | UnsetType = UNSET
    before: str | UnsetType = UNSET
    after: str | UnsetType = UNSET


class Source(Struct, frozen=True):
    """Where a limit stands, and how surely it was read there.

    own: the limit is a firm's own; replaces: the source and clause of the limit it stands in for.
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
    """One more limit that the value was held against, and how it came out."""

    kind: str
    severity: str
    source: Source
    message: str
    limit: Limit | UnsetType = UNSET


class Waived(Struct, frozen=True):
    """Who accepts a finding, why, and up to which day (ISO 8601, that day included)."""

    reason: str
    by: str
    until: str


class Notes(Struct, frozen=True):
    """What is known of a finding besides how its rule came out.

    state: of a finding held against known ones: `new`, `worse` or `unchanged`.
    """

    waived: Waived | UnsetType = UNSET
    state: str | UnsetType = UNSET


class Result(Struct, frozen=True):
    """The outcome of one rule for one subject.

    due: the stage from which on it counts, where the design is not that far.
    """

    line: int
    column: int
    subject: str
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
    due: str | UnsetType = UNSET
    waived: Waived | UnsetType = UNSET
    state: str | UnsetType = UNSET


GAP_TEXT = "\ue000"
GAP_VALUE = 1.25e300
GAP_WORD = encode(GAP_VALUE).decode()
GAP_MARGIN = 1.75e300
GAP_WORDS = "\ue001"
GAP_MISSING = "\ue002"


class BoundGap(NamedTuple):
    """Stands for a bound that differs from result to result, and how it is written there."""

    number: float
    json: bytes
    words: bytes


BOUND_GAPS = tuple(
    BoundGap(gap, encode(gap), number(gap).encode())
    for gap in [float(f"{figures}e290") for figures in range(11, 100) if figures % 10]
)
"""As many as can be told apart: no text of one stands within that of another."""

_GAPS = (encode(GAP_VALUE), encode(GAP_MARGIN), GAP_WORDS.encode(), GAP_MISSING.encode())


class Pattern(Struct, frozen=True, eq=False):
    """What all results of one rule that came out alike have in common.

    A rule comes out in a few ways for thousands of subjects. A pattern is made once for each way,
    as a result with gaps in it: GAP_VALUE, GAP_MARGIN, GAP_WORDS and GAP_MISSING where its results
    differ (GAP_WORD for a value that is no plain number). Its JSON, with what each result begins
    with as one more gap, is the template of them all; notes are added to the results themselves.
    """

    rule: str
    kind: str
    severity: str
    caution: str
    notes: Notes
    template: bytes

    @classmethod
    def of(cls, prototype: Result) -> Pattern:
        """The pattern that a result with gaps is the prototype of."""
        text = encode(prototype).replace(b'"' + _GAPS[0] + b'"', _GAPS[0])
        rest = fingerprint_of(prototype.rule) + text[text.index(b'","rule":') :]
        template = b"%b"
        for gap in _GAPS:
            before, found, after = rest.partition(gap)
            template += (before.replace(b"%", b"%%") if found else b"") + b"%b"
            rest = after if found else rest
        return cls(
            prototype.rule,
            prototype.kind,
            prototype.severity,
            prototype.caution or "",
            Notes(prototype.waived, prototype.state),
            template + rest.replace(b"%", b"%%"),
        )

    def bounded(self, bounds: Iterable[tuple[BoundGap, float]]) -> Pattern:
        """The pattern of results with these bounds, where this one has gaps."""
        template = self.template
        for gap, bound in bounds:
            template = template.replace(gap.json, encode(bound))
            template = template.replace(gap.words, number(bound).encode())
        return replace(self, template=template)


class Found(NamedTuple):
    """Results, one behind the other: the pattern of each, and itself as JSON."""

    patterns: list[Pattern]
    texts: list[bytes]


def filled(patterns: list[Pattern], *gaps: Iterable[bytes]) -> Found:
    """Results of these patterns, each with what it has of its own.

    gaps: for each result where and what it is about (`HEAD`), the numbers of value and margin, the
    part of the message that differs, and the missing datum, as JSON has them; empty is what a
    result has not.
    """
    templates = map(attrgetter("template"), patterns)
    return Found(patterns, list(map(mod, templates, zip(*gaps, strict=True))))


HEAD = b'{"line":%d,"column":%d%b'
"""How a result begins: its line, its column, and what it is about (`subject_part`)."""


def subject_part(subject: bytes, fingerprint: bytes) -> bytes:
    """What a head has of its subject, a name in quotes; fingerprint: the subject's half."""
    return b',"subject":%b,"fingerprint":"%b' % (subject, fingerprint)


def fingerprint_of(text: str) -> bytes:
    """Half a fingerprint: 64 bits, in hexadecimal."""
    made = hashlib.blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8)
    return made.hexdigest().encode()


def whole(results: Iterable[Result]) -> Found:
    """Results that share no pattern."""
    own = list(results)
    return Found(list(map(Pattern.of, own)), list(map(encode, own)))


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


def missing_number(reason: bytes) -> bytes:
    """What fills the gap of a number that cannot be worked out; reason: without its quotes."""
    return b'null,"missing":"%b"' % reason


class DesignReport:
    """All that was found about one design.

    judged_by: the day whose editions counted (ISO 8601), empty where it is unknown; found: every
    result, in file order and then by rule; computed_of: for each subject, in its quotes, its
    computed values. Only for a report that asks for them (`needs_given`): given: for each subject
    what the design states, by name; further_of: the computed values that only pictures show.
    content: the file's bytes, where they are at hand; mended: findings that were known and are
    no more, None where nothing was known; waivers: how those that name a finding here fared.
    own_rules: whether a firm's own limits were among the rules; own_limits: those of them that
    stand in for one of ours, in words.
    """

    __slots__ = (
        "codes",
        "computed_of",
        "content",
        "found",
        "further_of",
        "given",
        "judged_by",
        "mended",
        "name",
        "own_limits",
        "own_rules",
        "path",
        "patterns",
        "verdict",
        "waivers",
    )

    def __init__(
        self,
        path: str,
        name: str,
        judged_by: str,
        codes: tuple[str, ...],
        found: Found,
        computed_of: dict[bytes, Computed],
    ) -> None:
        self.path = path
        self.name = name
        self.judged_by = judged_by
        self.codes = codes
        self.found = found
        self.computed_of = computed_of
        self.given: dict[str, dict[str, Given]] = {}
        self.further_of: dict[bytes, Computed] = {}
        self.content = b""
        self.mended: tuple[Mended, ...] | None = None
        self.waivers: list[WaiverUse] = []
        self.own_rules = False
        self.own_limits: tuple[str, ...] = ()
        self._settle()

    def note(self, notes: dict[int, Notes]) -> None:
        """Add notes to results, each by its place in `found`; what is waived does not hold."""
        patterns, texts = self.found
        for place, own in notes.items():
            patterns[place] = replace(patterns[place], notes=own)
            added = encode(own)
            if added != b"{}":
                texts[place] = texts[place][:-1] + b"," + added[1:]
        self._settle()

    def _settle(self) -> None:
        """Count how often each pattern came out, and what that makes of the design."""
        self.patterns = Counter(self.found.patterns)
        self.verdict = "hold" if any(map(_holds, self.patterns)) else "release"

    @property
    def results(self) -> list[Result]:
        """Every result, in file order and then by rule."""
        return self.results_of(*KINDS)

    def results_of(self, *kinds: str) -> list[Result]:
        """The results of these kinds, in order."""
        places = enumerate(self.found.patterns)
        return [self.result(place) for place, pattern in places if pattern.kind in kinds]

    def result(self, place: int) -> Result:
        """The result in this place of `found`."""
        return decode(self.found.texts[place], type=Result)

    @property
    def computed(self) -> dict[str, dict[str, Measure]]:
        """For each subject its computed values by name."""
        return _measures(self.computed_of)

    @property
    def further(self) -> dict[str, dict[str, Measure]]:
        """For each subject the computed values that only pictures show, by name."""
        return _measures(self.further_of)

    def json(self) -> bytes:
        """The design as the JSON report has it."""
        counts = dict.fromkeys(KINDS, 0)
        for pattern, count in self.patterns.items():
            counts[pattern.kind] += count
        before = encode(
            {
                "path": self.path,
                "name": self.name,
                "verdict": self.verdict,
                "judged_by": self.judged_by,
                "codes": self.codes,
                "counts": counts,
            }
        )
        computed = [b"%b:%b" % (of, values.json()) for of, values in self.computed_of.items()]
        after = b'],\n"computed":{\n%b}' % b",\n".join(computed)
        if self.mended is not None:
            after += b',"mended":' + encode(self.mended)
        # Put together once, for it is large.
        parts = [*self.found.texts] or [b""]
        parts[0] = before[:-1] + b',"results":[\n' + parts[0]
        parts[-1] += after + b"}"
        return b",\n".join(parts)


def _holds(pattern: Pattern) -> bool:
    """Whether a result of this pattern keeps its design from being released."""
    return pattern.kind == "fail" and pattern.severity in HOLDING and not pattern.notes.waived


class Mended(Struct, frozen=True):
    """A finding that was known and is no more."""

    rule: str
    subject: str


class WaiverUse(Struct):
    """A waiver, and how it fared over all designs of a run.

    waives: findings that it accepts; refused: for each reason why it did not accept a finding
    that it names, how many; problems: what is wrong with the waiver, in sentences.
    """

    path: str
    line: int
    rule: str
    subject: str
    reason: str
    by: str
    until: str
    waives: int = 0
    refused: dict[str, int] = {}
    problems: list[str] = []


def _measures(computed_of: dict[bytes, Computed]) -> dict[str, dict[str, Measure]]:
    return {
        decode(subject): decode(values.json(), type=dict[str, Measure])
        for subject, values in computed_of.items()
    }


class RuleSet(Struct, frozen=True):
    """Which rules judged."""

    edition: str
    digest: str


class RuleWords(Struct, frozen=True):
    """A rule as a report explains it; limits: each with its source, in a line."""

    id: str
    title: str
    topic: str
    severity: str
    why: str
    remedy: str
    limits: tuple[str, ...]


class Run(RuleSet, frozen=True):
    """By what a whole run judged: the rules, and how the call was set.

    settings: each option that holds, with its value; settings_digest: of those; today: the day
    that waivers are judged by (ISO 8601), where there are any; category: what tells this run from
    others of the program on the same commit; words: the rules' own, for formats that carry them.
    """

    settings: dict[str, Any] = {}
    settings_digest: str = ""
    today: str = ""
    category: str = "prescreed"
    words: tuple[RuleWords, ...] = ()


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
    waived: int = 0
    known: dict[str, int] = {}
    mended: int = 0
    open_of: dict[str, int] = {}
    waivers: list[WaiverUse] = []
    own_limits: list[str] = []

    def add(self, *designs: DesignReport) -> None:
        """Count more designs."""
        for design in designs:
            for pattern, count in design.patterns.items():
                self._count(pattern, count)
                caution = pattern.caution
                if caution and pattern.kind != "notApplicable" and caution not in self.cautions:
                    self.cautions.append(caution)
            self.designs += 1
            self.held += design.verdict == "hold"
            self.mended += len(design.mended or ())
            self._use(design.waivers)
            self._own(design.own_limits)

    def _count(self, pattern: Pattern, count: int) -> None:
        unchanged = pattern.notes.state == "unchanged"
        if pattern.notes.waived:
            self.waived += count
        elif pattern.kind == "pass":
            self.passed += count
        elif pattern.kind == "notApplicable":
            self.not_applicable += count
        elif pattern.kind == "fail":
            _tally(self.failed, pattern.severity, count)
            if unchanged:
                _tally(self.known, pattern.severity, count)
        elif pattern.kind == "open":
            self.open += count
            if not unchanged:
                _tally(self.open_of, pattern.rule, count)
        else:
            self.review += count

    def _own(self, limits: Iterable[str]) -> None:
        self.own_limits += [limit for limit in limits if limit not in self.own_limits]

    def _use(self, waivers: list[WaiverUse]) -> None:
        known = {(use.path, use.line): use for use in self.waivers}
        for use in waivers:
            own = known.get((use.path, use.line))
            if own is None:
                self.waivers.append(replace(use, refused=dict(use.refused)))
                continue
            own.waives += use.waives
            for reason, count in use.refused.items():
                _tally(own.refused, reason, count)

    def join(self, other: Totals) -> None:
        """Count another run's designs too."""
        self.designs += other.designs
        self.held += other.held
        self.passed += other.passed
        self.open += other.open
        self.review += other.review
        self.not_applicable += other.not_applicable
        self.unreadable += other.unreadable
        self.waived += other.waived
        self.mended += other.mended
        self.cautions += [caution for caution in other.cautions if caution not in self.cautions]
        for own, others in (
            (self.failed, other.failed),
            (self.known, other.known),
            (self.open_of, other.open_of),
        ):
            for name, count in others.items():
                _tally(own, name, count)
        self._use(other.waivers)
        self._own(other.own_limits)

    def reaches(self, threshold: str) -> bool:
        """Whether a fail of this severity or a graver one was found; never for 'never'.

        What is waived, or was known and is no worse, does not count.
        """
        if threshold == "never":
            return False
        graver = SEVERITIES[: SEVERITIES.index(threshold) + 1]
        return any(self.failed.get(s, 0) > self.known.get(s, 0) for s in graver)

    def lacks(self, rules: Iterable[str]) -> bool:
        """Whether one of these rules is open somewhere; what is waived or known does not count."""
        return any(self.open_of.get(rule) for rule in rules)


def _tally(counts: dict[str, int], name: str, count: int) -> None:
    counts[name] = counts.get(name, 0) + count
