"""What a whole run judged by, and its counts."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from msgspec import Struct, field
from msgspec.structs import replace

from checker.outcome.report import DesignReport, WaiverUse
from checker.outcome.results import PASSING, SEVERITIES, Pattern, Severity
from checker.reading.ledger import FileState
from checker.reading.mistakes import Crashed


class RuleSet(Struct, frozen=True):
    """The rules that a run judged by."""

    edition: str
    digest: str


class RuleWords(Struct, frozen=True):
    """A rule as a report explains it.

    Attributes:
        limits: each with its source, in a line.
    """

    id: str
    title: str
    topic: str
    severity: Severity
    why: str
    remedy: str
    limits: tuple[str, ...]


class PolicyHeld(Struct, frozen=True):
    """The policy that applied.

    Attributes:
        origin: where it was read ('from' in JSON).
        digest: of its files.
        not_held: a line for each setting in other files that was ignored.
        altered: how a change alters the policy's files, where the call names a commit.
    """

    origin: str = field(default="none", name="from")
    digest: str = ""
    not_held: tuple[str, ...] = ()
    altered: tuple[str, ...] = ()


class Run(RuleSet, frozen=True):
    """What a whole run judged by: the rules, and the options of the call.

    Attributes:
        settings: each option in force, with its value.
        settings_digest: of those.
        today: the day by which waivers are judged (ISO 8601), where there are any.
        category: distinguishes this run from others of the program on the same commit.
        words: the rules' own, for formats that include them.
        policy: the policy that applied.
        files: what became of each; known at the end of the run, like the rest.
        crashed: those on which the program failed.
        answer: the exit status with its reason.
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
    """Designs with cells of their sheets that could not be read."""
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
    """Open results, and critical reviews that nobody answered, by severity; without known ones."""
    worse: dict[str, int] = {}
    """Of those, the ones that could be judged before."""
    waivers: list[WaiverUse] = []
    own_limits: list[str] = []
    standing: dict[str, dict[str, int]] = {}
    """Fails that count, by state ('' where none is known) and severity."""
    gravest: dict[str, int] = {}
    """The number of designs with a fail of this severity that counts, and none graver."""

    def add(self, *designs: DesignReport) -> None:
        """Count more designs.

        Args:
            *designs: with all their notes, which are no longer looked at afterwards.
        """
        for design in designs:
            for pattern, count in design.patterns.items():
                if pattern.notes.waived:
                    self.waived += count
                elif pattern.kind == "pass":
                    self.passed += count
                elif pattern.kind == "notApplicable":
                    self.not_applicable += count
                else:
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
        """Count fails, open results or reviews that nobody accepted."""
        unchanged = pattern.notes.state in PASSING
        counts = pattern.asks and (pattern.kind == "open" or pattern.unproven)
        if counts and not unchanged:
            _tally(self.asked, pattern.severity, count)
            if pattern.notes.state == "worse":
                _tally(self.worse, pattern.severity, count)
        if pattern.kind == "fail":
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
        """Add up what waivers accept, each waiver once."""
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
        """Add the counts of another part of the run.

        Args:
            other: counts of other designs; unchanged.
        """
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
