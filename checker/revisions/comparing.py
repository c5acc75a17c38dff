"""Two revisions of the same designs: what was changed, and what came of it.

Designs are matched by their project's name, records by their ids, and what was renamed is found
again by what refers to it or by what it holds. A finding that differs because other limits are in
force is told apart from one that differs because the design does: the old design is judged once
more by the new one's day and codes.
"""

from __future__ import annotations

import os
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any, NamedTuple

from msgspec import UNSET, Struct, UnsetType
from msgspec.structs import replace

from checker.design.schema import Collection, Leaf, NamedRows, Record, Rows, design_format
from checker.design.tables import Tables
from checker.intake.fields import references, value_of
from checker.notes.baseline import SLACK
from checker.outcome.results import (
    PASSING,
    SEVERITIES,
    DesignReport,
    Kind,
    Measure,
    Pattern,
    Result,
)
from checker.reading.mistakes import Unreadable
from checker.reports.sentences import bounded, told
from checker.reports.verdicts import answered
from checker.run import batch
from checker.words.speech import PLAIN, Speech

VERSION = 1
FINDINGS: tuple[Kind, ...] = ("fail", "open", "review")
"""The kinds of results that ask for something."""
STATES = ("new", "worse", "better", "mended", "lapsed", "still")
"""What became of a finding. `new` and `worse` are what a gate holds.

`lapsed` is one that the limits in force do not make any more, whatever the design does.
"""
SAME = 1e-9
"""By this part two inputs may differ and count as the same: 88 m and 88.0 m, or 288.7 ft."""
REFERRED_TO = ("pipes", "floors", "rooms", "headers")
LEAST_ALIKE = 0.7
"""The part of their values that two records must share to be one, renamed."""


class Input(Struct, frozen=True):
    """A value of the design that differs; None where it was not, or is no longer, given."""

    subject: str
    field: str
    before: str | None
    after: str | None


class Figure(Struct, frozen=True):
    """A computed value that differs."""

    subject: str
    name: str
    before: Measure
    after: Measure


class Renamed(Struct, frozen=True):
    """A record that has another id now."""

    before: str
    after: str


class Change(Struct, frozen=True):
    """What became of one finding.

    state: of STATES; because: `design`, `limit` or `both` where it changed, else empty; inputs:
    the changed inputs that it can come from; before, after: the two results, where there is one.
    """

    state: str
    rule: str
    subject: str
    title: str
    severity: str
    because: str = ""
    inputs: tuple[Input, ...] = ()
    before: Result | UnsetType = UNSET
    after: Result | UnsetType = UNSET


class Side(Struct, frozen=True):
    """One revision of a design."""

    path: str
    revision: str
    verdict: str
    judged_by: str
    codes: tuple[str, ...]


class Pair(Struct, frozen=True):
    """Two revisions of one design, and all that differs between them.

    speech: how the reader of the new one is told values.
    """

    name: str
    before: Side
    after: Side
    renamed: tuple[Renamed, ...] = ()
    added: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    inputs: tuple[Input, ...] = ()
    figures: tuple[Figure, ...] = ()
    changes: tuple[Change, ...] = ()
    speech: Speech = PLAIN

    def of(self, *states: str) -> list[Change]:
        """The findings that came to these states, the gravest first."""
        return [change for change in self.changes if change.state in states]


class Single(Struct, frozen=True):
    """A design that stands on one side only, with its findings there."""

    name: str
    side: Side
    findings: tuple[Result, ...]


class Comparison(Struct, frozen=True):
    """All designs of two sides."""

    pairs: tuple[Pair, ...]
    only_before: tuple[Single, ...] = ()
    only_after: tuple[Single, ...] = ()
    unreadable: tuple[Unreadable, ...] = ()

    def totals(self) -> dict[str, int]:
        """How many findings came to each state; those of a new design are new."""
        counts = Counter(change.state for pair in self.pairs for change in pair.changes)
        counts["new"] += sum(len(single.findings) for single in self.only_after)
        counts["mended"] += 0
        return {state: counts[state] for state in STATES}

    def reaches(self, threshold: str) -> bool:
        """Whether something is new or worse: anything at all, or a fail at or above a severity."""
        if threshold == "never":
            return False
        held = [c.after for pair in self.pairs for c in pair.of("new", "worse")]
        held += [result for single in self.only_after for result in single.findings]
        # What somebody accepted, or what was known and is no worse, holds nothing up.
        held = [r for r in held if r is UNSET or not (r.waived or r.state in PASSING)]
        if threshold == "anything":
            return bool(held)
        graver = SEVERITIES[: SEVERITIES.index(threshold) + 1]
        return any(r is not UNSET and _counts(r) and r.severity in graver for r in held)


def _counts(result: Result) -> bool:
    pattern = Pattern.of(result)
    return result.kind == "fail" or (pattern.asks and (result.kind == "open" or pattern.unproven))


Key = tuple[str, str]
"""A section and an id in it; the design's own values are at ('design', '')."""
Content = dict[Key, dict[str, str]]
"""For each record the text of each of its values."""


class Revision(NamedTuple):
    """A design as it was sent: its bytes, its report and its values."""

    data: bytes
    report: DesignReport
    content: Content
    revision: str

    @property
    def side(self) -> Side:
        """What a comparison says of it."""
        report = self.report
        return Side(
            report.path, self.revision, report.verdict, report.judged_by, tuple(report.codes)
        )


def read(
    files: Iterable[tuple[str, bytes]], plan: batch.Plan = batch.BY_THE_DESIGN
) -> tuple[list[Revision], list[Unreadable]]:
    """Judge the designs of one side; raises BadRules for rules that cannot be used."""
    files = list(files)
    reports, unreadable = batch.check(files, plan)
    contents = dict(files)
    found = []
    for report in reports:
        design = Tables().add(report.path, contents[report.path])
        content = content_of(design.document)
        revision = design.text("project", "revision")
        found.append(Revision(contents[report.path], report, content, revision))
    return found, unreadable


def compare(
    before: list[Revision],
    after: list[Revision],
    unreadable: Iterable[Unreadable] = (),
    plan: batch.Plan = batch.BY_THE_DESIGN,
) -> Comparison:
    """Hold the designs of two sides against one another."""
    matched = list(_matched(before, after))
    rejudged = _rejudged(matched, plan)
    pairs = [_pair(old, new, again) for (old, new), again in zip(matched, rejudged, strict=True)]
    used = {id(revision) for couple in matched for revision in couple}
    return Comparison(
        tuple(pairs),
        tuple(_single(one) for one in before if id(one) not in used),
        tuple(_single(one) for one in after if id(one) not in used),
        tuple(unreadable),
    )


def _single(one: Revision) -> Single:
    found = [result for result in one.report.results_of(*FINDINGS) if _is_found(result)]
    return Single(one.report.name, one.side, tuple(_in_order(found)))


def _in_order(results: list[Result]) -> list[Result]:
    return sorted(results, key=_gravity)


def _gravity(result: Result) -> tuple[int, int, int, str]:
    kind = FINDINGS.index(result.kind) if result.kind in FINDINGS else len(FINDINGS)
    return kind, SEVERITIES.index(result.severity), result.line, result.rule


def _matched(before: list[Revision], after: list[Revision]) -> Iterator[tuple[Revision, Revision]]:
    """Pairs by project; of several of one name those whose files are named alike."""
    if len(before) == len(after) == 1:
        yield before[0], after[0]
        return
    left = defaultdict(list)
    for one in after:
        left[one.report.name].append(one)
    for old in before:
        same = left[old.report.name]
        if len(same) > 1:
            name = os.path.basename(old.report.path)
            same.sort(key=lambda new: os.path.basename(new.report.path) != name)
        if same:
            yield old, same.pop(0)


def pair(old: Revision, new: Revision, plan: batch.Plan = batch.BY_THE_DESIGN) -> Pair:
    """All that differs between two revisions of a design."""
    return _pair(old, new, *_rejudged([(old, new)], plan))


def _pair(old: Revision, new: Revision, again: DesignReport) -> Pair:
    """again: the old design by the new one's day and codes."""
    names = renames(old.content, new.content)
    inputs = tuple(_inputs(old.content, new.content, names))
    added = [key for key in new.content if key not in names.values()]
    removed = [key for key in old.content if key not in names]
    renamed = [(was, now) for was, now in names.items() if was != now]
    return Pair(
        new.report.name,
        old.side,
        new.side,
        tuple(Renamed(_dotted(was), _dotted(now)) for was, now in renamed),
        tuple(_dotted(key) for key in added),
        tuple(_dotted(key) for key in removed),
        inputs,
        tuple(_figures(old.report, new.report, names)),
        tuple(_changes(old, new, names, inputs, again)),
        new.report.speech,
    )


def _dotted(key: Key) -> str:
    return f"{key[0]}.{key[1]}" if key[1] else key[0]


# What was typed.


def content_of(document: Any) -> Content:
    """The values of a design by record and field, lists counted from 1: `pump.curve[1].flow`."""
    content: Content = {("design", ""): {}}
    for section, member in design_format().top.members.items():
        value = document.get(section)
        if value is None:
            continue
        if isinstance(member, Collection):
            for name, record in value.items():
                content[section, name] = dict(_leaves(record, member.record, ""))
        elif section != "design":
            content["design", ""].update(_leaves(value, member, section))
    return content


def _leaves(value: Any, member: Any, where: str) -> Iterator[tuple[str, str]]:
    if isinstance(member, Leaf):
        yield where, value
    elif isinstance(member, Record):
        for key, inner in value.items():
            yield from _leaves(inner, member.members[key], f"{where}.{key}" if where else key)
    elif isinstance(member, NamedRows):
        for name, inner in value.items():
            yield from _leaves(inner, member.rows, f"{where}.{name}")
    elif isinstance(member, Rows):
        for number, item in enumerate(value, 1):
            here = f"{where}[{number}]"
            if member.tuple_of:
                for part, text in zip(member.tuple_of, item, strict=True):
                    yield f"{here}.{part}", text
            else:
                yield from _leaves(item, member.record, here)
    else:
        yield where, ", ".join(value)


def _leaf(section: str, field: str) -> Leaf | None:
    top: Any = design_format().top
    member = top if section == "design" else top.members[section].record
    for step in (step.partition("[")[0] for step in field.split(".")):
        if isinstance(member, NamedRows):  # the step is the name of one of them
            member = member.rows
            continue
        listed = member.listed if isinstance(member, Leaf) else member
        member = listed.record if isinstance(listed, Rows) else listed
        member = member.members.get(step) if isinstance(member, Record) else None
    return member if isinstance(member, Leaf) else None


def _alike(section: str, field: str, old: str, new: str, names: dict[Key, Key]) -> bool:
    """Whether two texts mean the same, one of them by the old names."""
    if old == new:
        return True
    leaf = _leaf(section, field)
    if leaf is None or leaf.kind == "text":
        return False
    if leaf.kind == "reference":
        return names.get((leaf.refers_to, old)) == (leaf.refers_to, new)
    if leaf.kind == "words":
        return False
    before, after = value_of(leaf, old), value_of(leaf, new)
    return abs(before - after) <= SAME * max(abs(before), abs(after))


def renames(old: Content, new: Content) -> dict[Key, Key]:
    """For each old record its new self, where it has one."""
    names = {key: key for key in old if key in new}
    for section in REFERRED_TO:
        _by_references(section, old, new, names)
        _by_content(section, old, new, names)
    for section in ("loops", "pressure_tests"):
        _by_content(section, old, new, names)
    for section in REFERRED_TO:
        # Once more: the loops that refer to them may have been renamed themselves.
        _by_references(section, old, new, names)
    for key in old:
        if key[0] == "balance" and key not in names:
            loop = names.get(("loops", key[1]))
            if loop and ("balance", loop[1]) in new:
                names[key] = ("balance", loop[1])
    return names


def _left(section: str, old: Content, new: Content, names: dict[Key, Key]) -> tuple[list[Key], ...]:
    taken = set(names.values())
    gone = [key for key in old if key[0] == section and key not in names]
    come = [key for key in new if key[0] == section and key not in taken]
    return gone, come


def _by_references(section: str, old: Content, new: Content, names: dict[Key, Key]) -> None:
    """A record is renamed where most of what referred to it refers to the same new one."""
    gone, come = _left(section, old, new, names)
    if not gone or not come:
        return
    votes: dict[Key, Counter[Key]] = defaultdict(Counter)
    for key, values in old.items():
        if key not in names:
            continue
        after = new[names[key]]
        for field in references(key[0]):
            where = ".".join(field.keys)
            if field.leaf.refers_to == section and where in values and where in after:
                votes[section, values[where]][section, after[where]] += 1
    for was in gone:
        for now, count in votes[was].most_common(1):
            if now in come and count * 2 > votes[was].total():
                names[was] = now
                come.remove(now)


def _by_content(section: str, old: Content, new: Content, names: dict[Key, Key]) -> None:
    """Records are one where they share most of their values; the most alike first."""
    gone, come = _left(section, old, new, names)
    scored = [
        (_likeness(was, now, old, new, names), -number, was, now)
        for was in gone
        for number, now in enumerate(come)
    ]
    for score, _, was, now in sorted(scored, key=lambda one: one[:2], reverse=True):
        if score >= LEAST_ALIKE and was not in names and now not in names.values():
            names[was] = now


def _likeness(was: Key, now: Key, old: Content, new: Content, names: dict[Key, Key]) -> float:
    """The part of their values that two records share.

    A loop on the same port of the same header in the same room is the same loop.
    """
    before, after = old[was], new[now]
    same = {
        field
        for field in before.keys() & after.keys()
        if _alike(was[0], field, before[field], after[field], names)
    }
    if was[0] == "loops" and same >= {"header", "port", "room"}:
        return 1.0 + len(same) / 100
    every = before.keys() | after.keys()
    return len(same) / len(every) if len(same) >= 2 else 0.0


def _inputs(old: Content, new: Content, names: dict[Key, Key]) -> Iterator[Input]:
    """Every value that differs in a record that is on both sides."""
    for was, now in names.items():
        before, after = old[was], new[now]
        for field in dict.fromkeys((*before, *after)):
            first, second = before.get(field), after.get(field)
            given = first is not None and second is not None
            if given and _alike(now[0], field, str(first), str(second), names):
                continue
            yield Input(_dotted(now), field, first, second)


# What was found.


def _figures(old: DesignReport, new: DesignReport, names: dict[Key, Key]) -> Iterator[Figure]:
    subjects = {_dotted(was): _dotted(now) for was, now in names.items()}
    before = {subjects.get(subject, subject): own for subject, own in old.computed.items()}
    for subject, own in new.computed.items():
        for name, after in own.items():
            was = before.get(subject, {}).get(name)
            if was is not None and not _close(was, after):
                yield Figure(subject, name, was, after)


def _close(before: Measure, after: Measure) -> bool:
    if before.magnitude is None or after.magnitude is None:
        return before.magnitude is after.magnitude
    size = max(abs(before.magnitude), abs(after.magnitude))
    return abs(before.magnitude - after.magnitude) <= SLACK * size


def _changes(
    old: Revision,
    new: Revision,
    names: dict[Key, Key],
    inputs: tuple[Input, ...],
    again: DesignReport,
) -> Iterator[Change]:
    subjects = {_dotted(was): _dotted(now) for was, now in names.items()}
    before = _by_subject(old.report, subjects)
    after = _by_subject(new.report, {})
    meanwhile = before if again is old.report else _by_subject(again, subjects)
    reach = _Reach(new.content, inputs)
    found = []
    for place in dict.fromkeys((*after, *before)):
        was, now = before.get(place), after.get(place)
        state = _state(was, now)
        by_new = meanwhile.get(place)
        if state == "mended" and not _is_found(by_new):
            state = "lapsed"
        if not state:
            continue
        shown = now or was
        assert shown is not None
        because = "" if state == "still" else _because(was, by_new, now)
        changed = reach.of(place[1]) if because in ("design", "both") else ()
        found.append(
            Change(
                state,
                shown.rule,
                place[1],
                shown.title,
                shown.severity,
                because,
                changed,
                was or UNSET,
                now or UNSET,
            )
        )
    order = {state: number for number, state in enumerate(STATES)}
    found.sort(key=lambda one: (order[one.state], _gravity(one.after or one.before)))  # type: ignore[arg-type]
    yield from found


Place = tuple[str, str]
"""A rule and a subject, by its name on the new side."""


def _by_subject(report: DesignReport, subjects: dict[str, str]) -> dict[Place, Result]:
    return {
        (result.rule, subjects.get(result.subject, result.subject)): result
        for result in report.results
    }


def _rejudged(pairs: list[tuple[Revision, Revision]], plan: batch.Plan) -> list[DesignReport]:
    """Each old design by the new one's day and codes, those of one day and codes together."""
    again = [old.report for old, _ in pairs]
    groups: dict[tuple[str, tuple[str, ...]], list[int]] = {}
    for number, (old, new) in enumerate(pairs):
        basis = (new.report.judged_by, tuple(new.report.codes))
        if basis != (old.report.judged_by, tuple(old.report.codes)):
            groups.setdefault(basis, []).append(number)
    for (day, codes), numbers in groups.items():
        on = date.fromisoformat(day) if day else plan.on
        files = [(pairs[number][0].report.path, pairs[number][0].data) for number in numbers]
        designs, _ = batch.check(files, replace(plan, codes=codes, on=on))
        for number, design in zip(numbers, designs, strict=True):
            again[number] = design
    return again


def _state(was: Result | None, now: Result | None) -> str:
    """What became of a finding; empty where neither side has one."""
    found_before = _is_found(was)
    found_now = _is_found(now)
    if not found_before and not found_now:
        return ""
    if not found_before:
        return "new"
    if not found_now:
        return "mended"
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


def _is_found(result: Result | None) -> bool:
    """Whether something is found; what is to be looked at later, or was looked at, is not."""
    if result is None or result.kind not in FINDINGS:
        return False
    return result.kind != "review" or not (result.due or answered(result))


def _shown(result: Result) -> tuple[str, str]:
    """Value and limit as a person reads them."""
    limit = "" if result.limit is UNSET else bounded(result.limit, PLAIN)
    return told(result.value, PLAIN), limit


def _beyond(result: Result) -> float:
    """How far beyond its limit a value is, 0 where no margin tells."""
    margin = result.margin
    if margin is UNSET or margin.magnitude is None:
        return 0.0
    return max(0.0, -margin.magnitude)


def _because(was: Result | None, meanwhile: Result | None, now: Result | None) -> str:
    """Whether the design, the limits in force, or both made a finding what it is."""
    by_limit = not _same_outcome(was, meanwhile)
    by_design = not _same_outcome(meanwhile, now)
    return "both" if by_limit and by_design else "limit" if by_limit else "design"


def _same_outcome(one: Result | None, other: Result | None) -> bool:
    if one is None or other is None:
        return one is other
    return (one.kind, one.severity) == (other.kind, other.severity) and (
        abs(_beyond(one) - _beyond(other)) <= SLACK * max(_beyond(one), _beyond(other))
    )


class _Reach:
    """The changed inputs that a finding on a subject can come from."""

    def __init__(self, content: Content, inputs: tuple[Input, ...]) -> None:
        self.content = content
        self.inputs: dict[str, list[Input]] = defaultdict(list)
        for one in inputs:
            self.inputs[one.subject].append(one)

    def of(self, subject: str) -> tuple[Input, ...]:
        """Those of the subject, of what it refers to, of the loops on it, then of the plant."""
        section, _, name = subject.partition(".")
        near = [subject, *self._referred(section, name)]
        if section in ("headers", "rooms"):
            for key, values in self.content.items():
                if key[0] == "loops" and values.get(section[:-1]) == name:
                    near.append(_dotted(key))
        found = [one for place in dict.fromkeys(near) for one in self.inputs[place]]
        plant = [one for one in self.inputs["design"] if one.field.split(".")[0] != "project"]
        return (*found, *plant)

    def _referred(self, section: str, name: str) -> list[str]:
        values = self.content.get((section, name), {})
        return [
            f"{field.leaf.refers_to}.{values[where]}"
            for field in references(section)
            if (where := ".".join(field.keys)) in values
        ]
