"""What became of each finding from one revision of a design to the next."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from msgspec import UNSET

from checker.intake.fields import collections
from checker.notes.baseline import SLACK
from checker.outcome.report import DesignReport
from checker.outcome.results import SEVERITIES, Kind, Result
from checker.reports.sentences import bounded, value_text
from checker.reports.verdicts import answered
from checker.revisions.contents import Key, dotted
from checker.revisions.readings import Matching, Reading
from checker.words.speech import PLAIN

FINDINGS: tuple[Kind, ...] = ("fail", "open", "review")
"""The kinds of results that require something to be done."""


class Fate(NamedTuple):
    """What became of one finding.

    state: one of `comparison.STATES`; subject: by its new id, or its old one where it is gone;
    because: what changed, `design`, `limit` or `both`; was, now: the two results, as far as there
    are any.
    """

    state: str
    subject: str
    because: str
    was: Result | None
    now: Result | None


class _Unit(NamedTuple):
    """Subjects that are the same thing, before and now."""

    before: tuple[str, ...]
    after: tuple[str, ...]


def fates(
    old: DesignReport, new: DesignReport, found: Matching, again: DesignReport
) -> Iterator[Fate]:
    """What became of every finding of either side, each once.

    A finding on a record that was split is compared with that of each part, and is mended where no
    part has it any more; of several merged records the gravest counts.

    Args:
        old: the report of the old revision.
        new: the report of the new revision.
        found: which record is which.
        again: the report of the old revision by the new one's day and codes.

    Returns:
        Those on records that are sure first, then those on records that could be matched in two
        ways.
    """
    before, after = _Own(old), _Own(new)
    sides = _Sides(before, after, before if again is old else _Own(again))
    doubtful_before = {key for one in found.doubts for key in one.before}
    doubtful_after = {key for one in found.doubts for key in one.after}
    for unit in _units(sides, found, doubtful_before, doubtful_after):
        yield from sides.fates(unit)
    yield from _doubtful(sides, found)


class _Own:
    """The results of one side by subject and rule. They are made on demand, because most are passes
    on both sides and are not reported.
    """

    def __init__(self, report: DesignReport) -> None:
        self._report = report
        self._made: dict[int, Result] = {}
        self.places: dict[str, dict[str, int]] = defaultdict(dict)
        for place, pattern in enumerate(report.found.patterns):
            self.places[report.found.subject(place)][pattern.rule] = place

    def rules(self, subject: str) -> Iterable[str]:
        """The rules that have a result on a subject."""
        return self.places.get(subject, ())

    def asks(self, subject: str, rule: str) -> bool:
        """Whether the result requires something to be done."""
        place = self.places.get(subject, {}).get(rule)
        return place is not None and self._report.found.patterns[place].kind in FINDINGS

    def result(self, subject: str, rule: str) -> Result | None:
        """The result of a rule on a subject."""
        place = self.places.get(subject, {}).get(rule)
        if place is None:
            return None
        if place not in self._made:
            self._made[place] = self._report.result(place)
        return self._made[place]


class _Sides(NamedTuple):
    """Both sides, and the old one by the limits of the new one."""

    before: _Own
    after: _Own
    meanwhile: _Own

    def fates(self, unit: _Unit) -> Iterator[Fate]:
        """What became of the findings on one subject, or on what it was split or merged into."""
        both = [*((self.after, one) for one in unit.after)]
        both += [(self.before, one) for one in unit.before]
        for rule in dict.fromkeys(rule for side, one in both for rule in side.rules(one)):
            if not any(side.asks(one, rule) for side, one in both):
                continue
            was, by_new = self._gravest(unit, rule)
            if not unit.after:
                if is_found(was):
                    yield Fate("gone", unit.before[0], "design", was, None)
                continue
            now = [(subject, self.after.result(subject, rule)) for subject in unit.after]
            standing = [one for one in now if is_found(one[1])] or now[:1]
            for subject, result in standing:
                state = _state(was, by_new, result)
                if state:
                    yield Fate(state, subject, _because(was, by_new, result), was, result)

    def _gravest(self, unit: _Unit, rule: str) -> tuple[Result | None, Result | None]:
        """The gravest result of a rule before, and the same by the limits in force now."""
        own = [
            (result, self.meanwhile.result(subject, rule))
            for subject in unit.before
            if (result := self.before.result(subject, rule)) is not None
        ]
        if not own:
            by_new = [self.meanwhile.result(subject, rule) for subject in unit.before]
            return None, next((one for one in by_new if one is not None), None)
        return min(own, key=lambda one: _weight(one[0]))


def _weight(result: Result) -> tuple[bool, int, int, float]:
    kind = FINDINGS.index(result.kind) if result.kind in FINDINGS else len(FINDINGS)
    return not is_found(result), kind, SEVERITIES.index(result.severity), -_beyond(result)


def _units(
    sides: _Sides, found: Matching, doubtful_before: set[Key], doubtful_after: set[Key]
) -> Iterator[_Unit]:
    """Every subject of both sides, except records that could be matched in two ways."""
    taken_before = {dotted(key) for key in doubtful_before}
    taken_after = {dotted(key) for key in doubtful_after}
    for one in found.joined:
        unit = _Unit(tuple(map(dotted, one.before)), tuple(map(dotted, one.after)))
        taken_before.update(unit.before)
        taken_after.update(unit.after)
        yield unit
    for was, now in found.names.items():
        unit = _Unit((dotted(was),), (dotted(now),))
        if unit.before[0] not in taken_before and unit.after[0] not in taken_after:
            taken_before.update(unit.before)
            taken_after.update(unit.after)
            yield unit
    with_ids = collections()
    for subject in sides.before.places:
        if subject in taken_before:
            continue
        section, full_stop, _ = subject.partition(".")
        if section in with_ids:
            # A section that did not exist before becomes all records that it has now.
            own = () if full_stop else _in_section(section, sides.after.places, taken_after)
            taken_after.update(own)
            yield _Unit((subject,), own)
        else:  # it has no id by which it could be another
            taken_after.add(subject)
            yield _Unit((subject,), (subject,))
    for subject in sides.after.places:
        if subject not in taken_after:
            yield _Unit((), (subject,))


def _in_section(section: str, subjects: Iterable[str], taken: set[str]) -> tuple[str, ...]:
    """The subjects of a section, or the section itself where it is missing; without those in
    `taken`.
    """
    here = section, f"{section}."
    return tuple(
        one for one in subjects if one not in taken and (one == here[0] or one.startswith(here[1]))
    )


def _doubtful(sides: _Sides, found: Matching) -> Iterator[Fate]:
    """Findings on records that could be matched in two ways; `asked` where they depend on which."""
    likely = dict.fromkeys(pair for one in found.doubts for pair in one.likely.pairs)
    differing: set[tuple[str, str, str]] = set()
    for doubt in found.doubts:
        first, other = (_fates(sides, way) for way in (doubt.likely, doubt.other))
        differing.update(place for place in first if first[place] != other.get(place))
    for pair in likely:
        for fate in sides.fates(_unit(pair)):
            asked = any(place in differing for place in _places(fate))
            yield fate._replace(state="asked") if asked else fate


def _fates(sides: _Sides, way: Reading) -> dict[tuple[str, str, str], str]:
    return {
        place: fate.state
        for pair in way.pairs
        for fate in sides.fates(_unit(pair))
        for place in _places(fate)
    }


def _places(fate: Fate) -> Iterable[tuple[str, str, str]]:
    """Where its findings are, on either side."""
    if is_found(fate.was) and fate.was is not None:
        yield "before", fate.was.rule, fate.was.subject
    if is_found(fate.now) and fate.now is not None:
        yield "after", fate.now.rule, fate.now.subject


def _unit(pair: tuple[Key | None, Key | None]) -> _Unit:
    before, after = (() if key is None else (dotted(key),) for key in pair)
    return _Unit(before, after)


def _state(was: Result | None, by_new: Result | None, now: Result | None) -> str:
    """What became of a finding whose subject is still there; empty where neither side has one."""
    found_before, found_now = is_found(was), is_found(now)
    if not found_before:
        return "new" if found_now else ""
    if not found_now:
        if not is_found(by_new):
            return "judged otherwise"
        settled = now is not None and now.kind != "notApplicable" and now.due is UNSET
        return "mended" if settled else "no longer asked"
    assert was is not None
    assert now is not None
    if was.kind != now.kind:
        # A broken limit that can no longer be judged is not mended: its proof was taken away.
        proof_gone = (was.kind, now.kind) == ("fail", "open")
        milder = FINDINGS.index(now.kind) > FINDINGS.index(was.kind)
        return "better" if milder and not proof_gone else "worse"
    if was.kind != "fail":
        return "still"
    if was.severity != now.severity:
        graver = SEVERITIES.index(now.severity) < SEVERITIES.index(was.severity)
        return "worse" if graver else "better"
    if _shown(was) == _shown(now):
        return "still"
    further = _beyond(now) - _beyond(was)
    slack = SLACK * max(_beyond(now), _beyond(was))
    return "worse" if further > slack else "better" if further < -slack else "still"


def is_found(result: Result | None) -> bool:
    """Whether a result is a finding; a review that is not due yet, or was answered, is none."""
    if result is None or result.kind not in FINDINGS:
        return False
    return result.kind != "review" or not (result.due or answered(result))


def _shown(result: Result) -> tuple[str, str]:
    """Value and limit as the reader sees them."""
    limit = "" if result.limit is UNSET else bounded(result.limit, PLAIN)
    return value_text(result.value, PLAIN), limit


def _beyond(result: Result) -> float:
    """How far a value is beyond its limit; 0 where there is no margin."""
    margin = result.margin
    if margin is UNSET or margin.magnitude is None:
        return 0.0
    return max(0.0, -margin.magnitude)


def _because(was: Result | None, meanwhile: Result | None, now: Result | None) -> str:
    """Whether the design, the limits in force, or both changed a finding."""
    by_limit = not _same_outcome(was, meanwhile)
    by_design = not _same_outcome(meanwhile, now)
    return "both" if by_limit and by_design else "limit" if by_limit else "design"


def _same_outcome(one: Result | None, other: Result | None) -> bool:
    if one is None or other is None:
        return one is other
    return (one.kind, one.severity) == (other.kind, other.severity) and (
        abs(_beyond(one) - _beyond(other)) <= SLACK * max(_beyond(one), _beyond(other))
    )
