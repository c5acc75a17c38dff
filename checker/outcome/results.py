"""What a check finds: plain frozen data, in the shape of the JSON report.

These are `schemas/report.schema.json` in Python. Nothing here has a clock in it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Any, Literal, Protocol, get_args

from msgspec import UNSET, Struct, UnsetType, field
from msgspec.structs import replace

from checker.reading.digests import blake2b
from checker.reading.ledger import FileState
from checker.reading.mistakes import Crashed
from checker.words.speech import PLAIN

Kind = Literal["fail", "open", "review", "pass", "notApplicable"]
"""The kinds of SARIF 2.1.0 (OASIS), those that ask for something first."""
KINDS: tuple[Kind, ...] = get_args(Kind)
Severity = Literal["critical", "major", "minor", "observation"]
"""From the gravest down."""
SEVERITIES: tuple[Severity, ...] = get_args(Severity)
Verdict = Literal["release", "hold", "unproven"]
State = Literal["new", "worse", "judged otherwise", "unchanged"]
"""Of a finding that is held against known ones."""
PASSING = ("unchanged", "judged otherwise")
"""States of findings that hold nothing up: they were known, or only the rules are others."""
Stage = Literal["design", "laid", "screeded", "heated", "installed"]
"""How far a job can be, in the order of the work."""
HOLDING: tuple[Severity, ...] = ("critical", "major")
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

    kind: Kind
    severity: Severity
    source: Source
    message: str
    limit: Limit | UnsetType = UNSET


class Waived(Struct, frozen=True):
    """Who accepts a finding, why, and up to which day (ISO 8601, that day included)."""

    reason: str
    by: str
    until: str


class Whatever(Struct, frozen=True):
    """A datum that is not known, and between what a result holds whatever it is."""

    field: str
    least: Measure
    most: Measure
    source: Source


class TurnsAt(Struct, frozen=True):
    """The datum that decides an open result, and where it turns."""

    field: str
    value: Measure


class Answer(Struct, frozen=True):
    """What a person found who looked: `as wanted` or not, who, on which day (ISO 8601), and what.

    again: why it must be looked at once more; such an answer does not count. path, line, column:
    where it stands.
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
"""What is said of a finding that is told under another rule's."""


class Under(Struct, frozen=True):
    """The finding that another one comes of: its rule and subject."""

    rule: str
    subject: str


class Notes(Struct, frozen=True):
    """What is known of a finding besides how its rule came out."""

    waived: Waived | UnsetType = UNSET
    state: State | UnsetType = UNSET


class Result(Struct, frozen=True):
    """The outcome of one rule for one subject.

    due: the stage from which on it counts, where the design is not that far; whatever: the data
    that it holds for in all of their range; turns_at: what decides it, while open; answer: what a
    person found; under: the finding that it comes of, with which it is gone; cell: where it stands
    in the sheet that its design was read from. Of a design that is the sheet itself, line and
    column are the cell's row and column.
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
        """Where it stands, as a person is told: `line 31`, or `Loops C7`."""
        return self.cell or f"line {self.line}"


class Pattern(Struct, frozen=True, eq=False):
    """What all results of one rule that came out alike count as; one for thousands of them."""

    rule: str
    kind: Kind
    severity: Severity
    caution: str = ""
    notes: Notes = Notes()
    early: bool = False
    """Whether the stage does not ask for it yet."""
    answered: bool = False

    @classmethod
    def of(cls, result: Result) -> Pattern:
        """What this result counts as."""
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

    @property
    def asks(self) -> bool:
        """Whether it is open, or a review that nobody has answered."""
        return self.kind == "open" or (self.kind == "review" and not (self.early or self.answered))

    @property
    def unproven(self) -> bool:
        """Whether it keeps its design from being proven, waived or not."""
        grave = HOLDING if self.kind == "open" else HOLDING[:1]
        return self.asks and self.severity in grave


class Found(Protocol):
    """What was found about one design, a result made when it is asked for.

    patterns: what each result counts as, in file order and then by rule.
    """

    patterns: list[Pattern]

    def result(self, place: int) -> Result:
        """The result in this place."""

    def computed(self, *, shown: bool = True) -> dict[str, dict[str, Measure]]:
        """For each subject its computed values by name; shown: those of every report."""


class Records:
    """Results that are at hand, and no computed values."""

    def __init__(self, results: Iterable[Result]) -> None:
        self._results = [*results]
        self.patterns = [*map(Pattern.of, self._results)]

    def result(self, place: int) -> Result:
        """The result in this place."""
        return self._results[place]

    def computed(self, *, shown: bool = True) -> dict[str, dict[str, Measure]]:
        """None."""
        return {}


def fingerprint_of(text: str) -> str:
    """Half a fingerprint: 64 bits, in hexadecimal."""
    return blake2b(text.encode("utf-8", "surrogatepass"), digest_size=8).hexdigest()


Points = tuple[tuple[float, float], ...]
"""Places on a plan, m."""


class Sketch(Struct, frozen=True):
    """A design's plan as pictures show it: lines and outlines by name, and places, all in m.

    crossings: where pipes lie over one another; bare: middles of squares of floor without pipe.
    """

    rooms: tuple[tuple[str, Points], ...] = ()
    routes: tuple[tuple[str, Points], ...] = ()
    joints: tuple[tuple[str, Points], ...] = ()
    fixed: tuple[tuple[str, Points], ...] = ()
    keep_clear: tuple[tuple[str, Points], ...] = ()
    crossings: Points = ()
    bare: Points = ()


class Done(Struct, frozen=True):
    """How many rules are judged, none of their results open or unanswered, of those that apply."""

    done: int
    of: int


class Question(Struct, frozen=True):
    """A datum that is missing: who would know it, and what it decides.

    field: its path in the design; fields: of a whole section, what is wanted of each record in it;
    severity: of the gravest result that it decides; decides: how many; rules: of which rules.
    """

    field: str
    who: str
    severity: Severity
    decides: int
    rules: tuple[str, ...]
    fields: tuple[str, ...] = ()


class FloorPicture(Struct, frozen=True):
    """A floor in section as it is drawn: half of it, from the middle of a pipe to that between two.

    loops: that it is under; covering: in words; layers: each in words, its thickness, m, and
    whether a joist is in it; depth: of the pipe's axis under the uppermost layer, m; plate:
    thickness, width and depth of its top, m; joist: its width, m, zero for none; lines: rows of
    points (m across, m down, °C), NaN inside the pipe; surface: points (m across, °C); mean, and
    limit where there is one, of the surface; water and room, °C; heat: up and down, W/m²; note:
    what is assumed, a sentence, empty where nothing is.
    """

    loops: tuple[str, ...]
    spacing: float
    covering: str
    layers: tuple[tuple[str, float, bool], ...]
    depth: float
    outside: float
    wall: float
    plate: tuple[float, float, float] | None
    joist: float
    lines: tuple[tuple[tuple[float, float, float], ...], ...]
    surface: tuple[tuple[float, float], ...]
    mean: float
    limit: float | None
    water: float
    room: float
    heat: tuple[float, float]
    note: str = ""


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


class OverSupply(Struct, frozen=True):
    """What a header takes at supplies from the least that every room needs to the design's.

    supply: °C; flow: l/min; loss: of the worst header on its pump, kPa; head: of the pump at the
    flow of all its headers, kPa, NaN where it is not known.
    """

    header: str
    supply: tuple[float, ...]
    flow: tuple[float, ...]
    loss: tuple[float, ...]
    head: tuple[float, ...]


class DesignReport:
    """All that was found about one design.

    judged_by: the day whose editions counted (ISO 8601), empty where it is unknown; found: every
    result, in file order and then by rule, and the computed values; patterns: what the results
    count as, notes included, with how often. given: for each subject what the design states, by
    name, and sections: its floors as they are drawn, where a report asks for it (`needs_given`);
    supplies: its headers over the supply, where that is more than is needed.
    sketch: its plan, if it has one; content: the file's bytes, where they are at hand; mended:
    findings that were known and are no more, None where nothing was known; waivers: how those that
    name a finding here fared.
    own_rules: whether a firm's own limits were among the rules; own_limits: those of them that
    stand in for one of ours, and what else of ours a pack alters, in words; remarks: what a reader
    must know of the codes and the day that it was judged by; speech: how its reader is told values.
    stage: the one that it is judged at; loopless: whether it has no loop; sheet: the name of the
    sheet file that it was read from, and told: what is to be said of the reading, by heading;
    unread: its cells that could not be taken, in words, so that it is not proven;
    questions: everything that is missing, in the order of what it
    decides; asides: answers that could not be used, in sentences; unasked: open results, by rule
    and subject, that no datum would settle, such as those beyond a table's range; remedies: what
    would clear each grave finding, by rule and subject, where a report asks for it.
    """

    __slots__ = (
        "asides",
        "codes",
        "content",
        "found",
        "given",
        "judged_by",
        "loopless",
        "mended",
        "name",
        "notes",
        "own_limits",
        "own_rules",
        "path",
        "patterns",
        "questions",
        "remarks",
        "remedies",
        "sections",
        "sheet",
        "sketch",
        "speech",
        "stage",
        "supplies",
        "told",
        "unasked",
        "unread",
        "waivers",
    )

    def __init__(
        self, path: str, name: str, judged_by: str, codes: tuple[str, ...], found: Found
    ) -> None:
        self.path = path
        self.name = name
        self.judged_by = judged_by
        self.codes = codes
        self.found = found
        self.given: dict[str, dict[str, Given]] = {}
        self.sketch: Sketch | None = None
        self.sections: tuple[FloorPicture, ...] = ()
        self.supplies: tuple[OverSupply, ...] = ()
        self.content = b""
        self.mended: tuple[Mended, ...] | None = None
        self.waivers: list[WaiverUse] = []
        self.own_rules = False
        self.own_limits: tuple[str, ...] = ()
        self.notes: dict[int, Notes] = {}
        self.stage: Stage = "design"
        self.loopless = False
        self.sheet = ""
        self.told: tuple[tuple[str, tuple[str, ...]], ...] = ()
        self.unread: tuple[str, ...] = ()
        self.questions: tuple[Question, ...] = ()
        self.asides: tuple[str, ...] = ()
        self.unasked: frozenset[tuple[str, str]] = frozenset()
        self.patterns = Counter(self.found.patterns)
        self.remarks: tuple[str, ...] = ()
        self.speech = PLAIN
        self.remedies: dict[tuple[str, str], Remedy] = {}

    def note(self, notes: dict[int, Notes]) -> None:
        """Add notes to results, each by its place in `found`; what is waived does not hold."""
        self.notes = notes
        for place, own in notes.items():
            self.found.patterns[place] = replace(self.found.patterns[place], notes=own)
        self.patterns = Counter(self.found.patterns)

    @property
    def verdict(self) -> Verdict:
        """What all that makes of the design."""
        if any(map(_holds, self.patterns)):
            return "hold"
        if self.loopless or self.unread or any(pattern.unproven for pattern in self.patterns):
            return "unproven"
        return "release"

    @property
    def judged(self) -> Done:
        """How many of the rules that apply at its stage are judged in full."""
        rules: dict[str, bool] = {}
        for pattern in self.patterns:
            if pattern.kind != "notApplicable" and not pattern.early:
                rules[pattern.rule] = rules.get(pattern.rule, True) and not pattern.asks
        return Done(sum(rules.values()), len(rules))

    @property
    def results(self) -> list[Result]:
        """Every result, in file order and then by rule."""
        return [*map(self.result, range(len(self.found.patterns)))]

    def results_of(self, *kinds: Kind) -> list[Result]:
        """The results of these kinds, in order."""
        places = enumerate(self.found.patterns)
        return [self.result(place) for place, pattern in places if pattern.kind in kinds]

    def result(self, place: int) -> Result:
        """The result in this place of `found`, with its notes."""
        made, own = self.found.result(place), self.notes.get(place)
        return made if own is None else replace(made, waived=own.waived, state=own.state)

    @property
    def counts(self) -> dict[Kind, int]:
        """How many results there are of each kind."""
        counts = dict.fromkeys(KINDS, 0)
        for pattern, count in self.patterns.items():
            counts[pattern.kind] += count
        return counts

    @property
    def computed(self) -> dict[str, dict[str, Measure]]:
        """For each subject its computed values by name."""
        return self.found.computed()

    @property
    def further(self) -> dict[str, dict[str, Measure]]:
        """For each subject the computed values that only pictures show, by name."""
        return self.found.computed(shown=False)


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


class RuleSet(Struct, frozen=True):
    """Which rules judged."""

    edition: str
    digest: str


class RuleWords(Struct, frozen=True):
    """A rule as a report explains it; limits: each with its source, in a line."""

    id: str
    title: str
    topic: str
    severity: Severity
    why: str
    remedy: str
    limits: tuple[str, ...]


class PolicyHeld(Struct, frozen=True):
    """Whose policy held; not_held: what other files say that did not, a line each.

    altered: what a change makes of the policy's files, where the call names a commit.
    """

    origin: str = field(default="none", name="from")
    digest: str = ""
    not_held: tuple[str, ...] = ()
    altered: tuple[str, ...] = ()


class Run(RuleSet, frozen=True):
    """By what a whole run judged: the rules, and how the call was set.

    settings: each option that holds, with its value; settings_digest: of those; today: the day
    that waivers are judged by (ISO 8601), where there are any; category: what tells this run from
    others of the program on the same commit; words: the rules' own, for formats that carry them;
    policy: whose policy held; known at its end: files: what became of each; crashed: those that
    the program failed on; answer: the exit status and why.
    """

    settings: dict[str, Any] = {}
    settings_digest: str = ""
    today: str = ""
    category: str = "prescreed"
    words: tuple[RuleWords, ...] = ()
    policy: PolicyHeld = PolicyHeld()
    files: tuple[FileState, ...] = ()
    crashed: tuple[Crashed, ...] = ()
    answer: str = ""


class Totals(Struct):
    """Counts over all designs of a run."""

    designs: int = 0
    held: int = 0
    unproven: int = 0
    loopless: int = 0
    unread: int = 0
    """Designs with cells of their sheets that could not be taken."""
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
    asked: dict[str, int] = {}
    """Open results, and critical reviews that nobody answered, by severity; known ones apart."""
    worse: dict[str, int] = {}
    """Of those, the ones that could be judged before."""
    waivers: list[WaiverUse] = []
    own_limits: list[str] = []
    standing: dict[str, dict[str, int]] = {}
    """Fails that count, by state ('' where none is known) and severity."""
    gravest: dict[str, int] = {}
    """How many designs have a fail of this severity that counts, and none graver."""

    def add(self, *designs: DesignReport) -> None:
        """Count more designs."""
        for design in designs:
            for pattern, count in design.patterns.items():
                self._count(pattern, count)
                caution = pattern.caution
                here = pattern.kind != "notApplicable" and not pattern.early
                if caution and here and caution not in self.cautions:
                    self.cautions.append(caution)
            counting = {pattern.severity for pattern in design.patterns if _counts(pattern)}
            if counting:
                _tally(self.gravest, next(one for one in SEVERITIES if one in counting), 1)
            self.designs += 1
            verdict = design.verdict
            self.held += verdict == "hold"
            self.unproven += verdict == "unproven"
            self.loopless += design.loopless
            self.unread += bool(design.unread)
            self.mended += len(design.mended or ())
            self._use(design.waivers)
            self._own(design.own_limits)

    def _count(self, pattern: Pattern, count: int) -> None:
        unchanged = pattern.notes.state in PASSING
        counts = pattern.asks and (pattern.kind == "open" or pattern.unproven)
        if counts and not pattern.notes.waived and not unchanged:
            _tally(self.asked, pattern.severity, count)
            if pattern.notes.state == "worse":
                _tally(self.worse, pattern.severity, count)
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
            else:
                state = self.standing.setdefault(pattern.notes.state or "", {})
                _tally(state, pattern.severity, count)
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
        self.unproven += other.unproven
        self.loopless += other.loopless
        self.unread += other.unread
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
            (self.gravest, other.gravest),
            *(
                (self.standing.setdefault(state, {}), counts)
                for state, counts in other.standing.items()
            ),
            (self.asked, other.asked),
            (self.worse, other.worse),
        ):
            for name, count in others.items():
                _tally(own, name, count)
        self._use(other.waivers)
        self._own(other.own_limits)


def _counts(pattern: Any) -> bool:
    """Whether results of this pattern are fails that nobody accepted or knew of."""
    notes = pattern.notes
    return pattern.kind == "fail" and not notes.waived and notes.state not in PASSING


def _tally(counts: dict[str, int], name: str, count: int) -> None:
    counts[name] = counts.get(name, 0) + count
