"""Compares two revisions of the same designs: what was changed, and what it did to the findings.

Designs are matched by their project's name, records by what they are (`matching`). Changes of a
finding because other limits are in force are separated from those because of the design: the old
design is also judged by the new one's day and codes.
"""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import date

from msgspec import UNSET
from msgspec.structs import replace

from checker.intake.fields import references
from checker.notes.baseline import SLACK
from checker.outcome.report import DesignReport
from checker.outcome.results import SEVERITIES, Measure, Result
from checker.reading.mistakes import Unreadable
from checker.revisions.comparison import (
    STATES,
    Change,
    Comparison,
    Figure,
    Input,
    Match,
    Pair,
    Renamed,
    Single,
    Unsure,
)
from checker.revisions.contents import Content, Key, alike, dotted
from checker.revisions.fates import FINDINGS, fates, is_found
from checker.revisions.matching import matching
from checker.revisions.readings import Doubt, Joined, Matching
from checker.revisions.revision import Named, Revision
from checker.run import batch


def compare(
    before: list[Revision],
    after: list[Revision],
    unreadable: Iterable[Unreadable] = (),
    plan: batch.Plan = batch.BY_THE_DESIGN,
) -> Comparison:
    """Compare the designs of two sides, matched by the names of their projects.

    Args:
        before: the old revisions.
        after: the new revisions.
        unreadable: files that could not be read; they are listed in the result.
        plan: how designs are judged.

    Returns:
        A pair for each design of both sides, and the designs of one side only.

    Raises:
        BadRules: rules cannot be used.
    """
    matched = [*matched_by_name([one.named for one in before], [one.named for one in after])]
    used = {old for old, _ in matched}, {new for _, new in matched}
    return Comparison(
        pairs([(before[old], after[new]) for old, new in matched], plan),
        tuple(single(one) for number, one in enumerate(before) if number not in used[0]),
        tuple(single(one) for number, one in enumerate(after) if number not in used[1]),
        tuple(unreadable),
    )


def single(one: Revision) -> Single:
    """A design that is on one side only.

    Args:
        one: the design.

    Returns:
        The design with its findings, the gravest first.
    """
    found = [result for result in one.report.results_of(*FINDINGS) if is_found(result)]
    return Single(one.report.name, one.side, tuple(_in_order(found)))


def _in_order(results: list[Result]) -> list[Result]:
    return sorted(results, key=_gravity)


def _gravity(result: Result) -> tuple[int, int, int, str]:
    kind = FINDINGS.index(result.kind) if result.kind in FINDINGS else len(FINDINGS)
    return kind, SEVERITIES.index(result.severity), result.line, result.rule


def matched_by_name(before: Sequence[Named], after: Sequence[Named]) -> Iterator[tuple[int, int]]:
    """Pair designs of the same project; where several have one name, by the names of their files.

    A single design on each side is a pair whatever its name.

    Args:
        before: the designs of the old side.
        after: those of the new side.

    Returns:
        Pairs of places in the two sequences.
    """
    if len(before) == len(after) == 1:
        yield 0, 0
        return
    left: dict[str, list[int]] = defaultdict(list)
    for number, one in enumerate(after):
        left[one.name].append(number)
    for number, old in enumerate(before):
        same = left[old.name]
        if len(same) > 1:
            name = os.path.basename(old.path)
            same.sort(key=lambda new: os.path.basename(after[new].path) != name)
        if same:
            yield number, same.pop(0)


def pairs(
    matched: list[tuple[Revision, Revision]], plan: batch.Plan = batch.BY_THE_DESIGN
) -> tuple[Pair, ...]:
    """The differences between the two revisions of each pair.

    Args:
        matched: the old and the new revision of each.
        plan: how designs are judged; an old design is judged again where the new one has another
            day or other codes.

    Returns:
        The differences, in the same order.

    Raises:
        BadRules: rules cannot be used.
    """
    rejudged = _rejudged(matched, plan)
    return tuple(_pair(*both, again) for both, again in zip(matched, rejudged, strict=True))


def pair(old: Revision, new: Revision, plan: batch.Plan = batch.BY_THE_DESIGN) -> Pair:
    """The differences between two revisions of a design."""
    return pairs([(old, new)], plan)[0]


def _pair(old: Revision, new: Revision, again: DesignReport) -> Pair:
    """The differences of a pair, `again` being the old design by the new one's day and codes."""
    found = matching(old.content, new.content)
    names = found.names
    # Both sides may use one id for different records, so each has its own.
    answered: list[Joined | Doubt] = [*found.joined, *found.doubts]
    apart_before = {key for one in answered for key in one.before}
    apart_after = {key for one in answered for key in one.after}
    inputs = tuple(_inputs(old.content, new.content, names))
    same = [
        (was, now)
        for was, now in names.items()
        if was not in apart_before and now not in apart_after
    ]
    return Pair(
        new.report.name,
        old.side,
        new.side,
        tuple(_matches(same, found)),
        tuple(
            Unsure(tuple(map(dotted, one.before)), tuple(map(dotted, one.after)))
            for one in found.doubts
        ),
        tuple(Renamed(dotted(was), dotted(now)) for was, now in same if was != now),
        tuple(dotted(key) for key in new.content if key not in {*names.values(), *apart_after}),
        tuple(dotted(key) for key in old.content if key not in {*names, *apart_before}),
        inputs,
        tuple(_figures(old.report, new.report, names)),
        tuple(_changes(old, new, found, inputs, again)),
        new.report.speech,
    )


def _matches(pairs: list[tuple[Key, Key]], found: Matching) -> Iterator[Match]:
    """For the JSON: every matched record with an id, then what was split or merged."""
    for was, now in pairs:
        if was[1]:
            yield Match(dotted(was), dotted(now))
    for one in found.joined:
        before, after = (tuple(map(dotted, side)) for side in (one.before, one.after))
        yield Match(*(side[0] if len(side) == 1 else side for side in (before, after)))


# What was typed.


def _inputs(old: Content, new: Content, names: dict[Key, Key]) -> Iterator[Input]:
    """Every value that differs in a record that is on both sides."""
    for was, now in names.items():
        before, after = old[was], new[now]
        for field in dict.fromkeys((*before, *after)):
            first, second = before.get(field), after.get(field)
            given = first is not None and second is not None
            if given and alike(now[0], field, str(first), str(second), names):
                continue
            yield Input(dotted(now), field, first, second)


# What was found.


def _figures(old: DesignReport, new: DesignReport, names: dict[Key, Key]) -> Iterator[Figure]:
    subjects = {dotted(was): dotted(now) for was, now in names.items()}
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
    found: Matching,
    inputs: tuple[Input, ...],
    again: DesignReport,
) -> Iterator[Change]:
    reach = Reach(new.content, inputs)
    changes = []
    for one in fates(old.report, new.report, found, again):
        shown = one.now if one.now is not None else one.was
        assert shown is not None
        because = "" if one.state == "still" else one.because
        looked = any(side is not None and side.answer is not UNSET for side in (one.was, one.now))
        changed = reach.of(one.subject, seen=looked) if because in ("design", "both") else ()
        changes.append(
            Change(
                one.state,
                shown.rule,
                one.subject,
                shown.title,
                shown.severity,
                because,
                changed,
                UNSET if one.was is None else one.was,
                UNSET if one.now is None else one.now,
            )
        )
    order = {state: number for number, state in enumerate(STATES)}
    changes.sort(key=lambda one: (order[one.state], _gravity(one.after or one.before)))  # type: ignore[arg-type]
    yield from changes


def _rejudged(pairs: list[tuple[Revision, Revision]], plan: batch.Plan) -> list[DesignReport]:
    """Each old design judged by the new one's day and codes; equal days and codes are judged
    together.
    """
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


class Reach:
    """The changed inputs that a finding on a subject may come from."""

    def __init__(self, content: Content, inputs: tuple[Input, ...]) -> None:
        self.content = content
        self.inputs: dict[str, list[Input]] = defaultdict(list)
        for one in inputs:
            self.inputs[one.subject].append(one)

    def of(self, subject: str, *, seen: bool) -> tuple[Input, ...]:
        """The changed inputs that a finding may come from.

        Args:
            subject: what the finding is about, by its new id, such as `loops.L2`.
            seen: whether answers of reviews are included.

        Returns:
            Changes of the subject, of what it refers to, of the loops on a header or in a room,
            then of the plant.
        """
        section, _, name = subject.partition(".")
        near = [subject, *self._referred(section, name)]
        if section in ("headers", "rooms"):
            for key, values in self.content.items():
                if key[0] == "loops" and values.get(section[:-1]) == name:
                    near.append(dotted(key))
        found = [
            one for place in dict.fromkeys(near) if place != "design" for one in self.inputs[place]
        ]
        apart = [] if subject == "design" else ["project"]
        apart += [] if seen else ["seen"]
        plant = [one for one in self.inputs["design"] if not one.field.startswith(tuple(apart))]
        return (*found, *plant)

    def _referred(self, section: str, name: str) -> list[str]:
        values = self.content.get((section, name), {})
        return [
            f"{field.leaf.refers_to}.{values[where]}"
            for field in references(section)
            if (where := ".".join(field.keys)) in values
        ]
