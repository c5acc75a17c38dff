"""The points of a design, and how a new revision changes each."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import NamedTuple

from msgspec import UNSET

from checker.outcome.results import HOLDING, Result
from checker.reports.verdicts import asked
from checker.revisions.comparison import Change, Pair
from checker.revisions.contents import Key, key_of
from checker.revisions.fates import is_found
from checker.revisions.items import followed, item_of, parted, stated
from checker.revisions.register import Kind, Place, Point, Query, Register, State
from checker.revisions.revision import Revision
from checker.revisions.senders import Project

PART = 2 / 3


class Call(NamedTuple):
    """A round: its day, how many days there are to answer, and the key that letters are grouped
    by.
    """

    today: date
    within: int
    by: str

    @property
    def day(self) -> str:
        """Its day, ISO 8601."""
        return self.today.isoformat()

    @property
    def answer_by(self) -> str:
        """The day by which an answer is needed."""
        return (self.today + timedelta(days=self.within)).isoformat()


Points = dict[tuple[str, str], dict[tuple[Kind, str], Point]]
"""Points by contractor and design, then by kind and rule or datum."""


class Book:
    """The points of one design, as a submission changes them."""

    def __init__(
        self, register: Register, project: Project, one: Revision, call: Call, points: Points
    ) -> None:
        """Open the points of a design.

        Args:
            register: the register of the job, which is changed in place.
            project: the design, named as in the register.
            one: the submission.
            call: the round.
            points: all points of the register; new ones are added to them.
        """
        self.register, self.project, self.one, self.call = register, project, one, call
        self.points = points.setdefault((project.by, project.name), {})

    def begin(self) -> None:
        """Ask about everything that was found, for the first time."""
        for result in self.one.report.results_of("fail", "review"):
            if is_found(result):
                self.put(result)
        self.data({})

    def again(self) -> None:
        """Handle a design that was sent again unchanged: answers accepted since then count now."""
        by_key: dict[tuple[Kind, str, str], tuple[Point, Place]] = {
            (point.kind, point.about, place.subject): (point, place)
            for point in self.points.values()
            for place in point.places
            if point.kind != "datum" and place.state in ("asked", "answered", "accepted")
        }
        moved = {}
        for result in self.one.report.results_of("fail", "review"):
            kind: Kind = "change" if result.kind == "fail" else "confirm"
            found = by_key.get((kind, result.rule, result.subject))
            if kind == "confirm" and found is not None and found[1].state == "accepted":
                continue  # by its digest, whatever the answer counts as
            if found is not None and found[1].state != self.state_of(result):
                self.place(found[0], result.subject, self.state_of(result))
                moved[found[0].number] = found[0]
        for point in moved.values():
            point.settle(self.call.day, self.one.revision, *self.answer(point))

    def put(self, result: Result) -> None:
        """Add a place where a rule requires something, under the rule's point.

        Args:
            result: a failure, or something to confirm, of the submission.
        """
        kind: Kind = "change" if result.kind == "fail" else "confirm"
        point = self.point(kind, result.rule, result.title, result.severity)
        self.place(point, result.subject, self.state_of(result))

    def state_of(self, result: Result) -> State:
        """The state of a place after a submission.

        Args:
            result: what the submission's report says about it.

        Returns:
            `accepted` where it was accepted as it is, `answered` where a review has an answer, else
            `asked`.
        """
        if result.waived is not UNSET and result.waived:
            return "accepted"
        return "answered" if result.answer is not UNSET and result.kind == "review" else "asked"

    def place(self, point: Point, subject: str, state: State) -> None:
        """Set the state of one place of a point; a place that the point does not have is added.

        Args:
            point: the point.
            subject: the place, by its present id, such as `loops.L2`.
            state: its state; with `answered` the digest of the answer is kept.
        """
        digest = self.one.answers.get((point.about, subject), "") if state == "answered" else ""
        own = next((place for place in point.places if place.subject == subject), None)
        if own is None:
            point.places.append(Place(subject, state, digest))
        else:
            own.state, own.answer = state, digest

    def point(self, kind: Kind, about: str, title: str, severity: str) -> Point:
        """The point of a rule or datum; one that the design does not have yet gets the next number.

        Args:
            kind: what its sender is asked for.
            about: the rule, or the missing datum.
            title: its title in letters.
            severity: how grave it is.

        Returns:
            The point in the register.
        """
        found = self.points.get((kind, about))
        if found is None:
            found = Point(
                self.register.number(), self.project.by, self.project.name, kind, about, title,
                severity, "asked", self.call.day, self.call.answer_by, 0, [], [],
            )  # fmt: skip
            self.points[kind, about] = found
            self.register.points.append(found)
        return found

    def go_on(self, move: Pair, before: Revision) -> None:
        """Update every place since the revision before."""
        partial = _is_part(move, before, self.one)
        if partial:
            left = ", ".join(partial[:12]) + (" …" if len(partial) > 12 else "")
            about = (
                f"revision {self.one.revision or '?'} has no {left}: it counts as a part of "
                "the design, and what was asked of them stays asked"
            )
            self.register.ask(Query(self.call.day, self.project.by, self.project.name, about))
        by_key = {
            (point.about, place.subject): (point, place)
            for point in self.points.values()
            for place in point.places
            if point.kind != "datum"
        }
        for change in move.changes:
            was = (
                None if change.before is UNSET else by_key.get((change.rule, change.before.subject))
            )
            if was is None:
                if change.after is not UNSET and change.after.kind in ("fail", "review") and (
                    is_found(change.after)
                ):  # fmt: skip
                    self.put(change.after)
                continue
            place = was[1]
            place.state = self.became(change, partial=bool(partial))
            if change.after is not UNSET:
                place.subject = change.subject
            place.answer = (
                self.one.answers.get((change.rule, change.subject), "")
                if place.state == "answered"
                else ""
            )
        names: dict[str, str] = {}
        for one in move.matched:
            before_ids = (one.before,) if isinstance(one.before, str) else one.before
            after = one.after if isinstance(one.after, str) else one.after[0]
            names.update(dict.fromkeys(before_ids, after))
        self.data(names, before, partial=bool(partial))

    def became(self, change: Change, *, partial: bool) -> State:
        """The state of a place after a change."""
        after = change.after
        stands = after is not UNSET and is_found(after)
        if change.state in ("new", "worse", "better", "still", "asked") and stands:
            return self.state_of(after)  # type: ignore[arg-type]
        if change.state == "mended":
            return "accepted" if after is not UNSET and after.kind == "review" else "mended"
        # Read one way it is mended, read the other it is gone: it does not count as mended.
        return "asked" if partial and change.state in ("gone", "asked") else "gone"

    def moved(self, subject: str, names: dict[str, str], before: Revision | None) -> str | None:
        """The present id of a record, or of an item of a list in one.

        Args:
            subject: by its id in the revision before, such as `loops.L2.parts[1]`.
            names: for each record of that revision its present id, both with the section.
            before: that revision; without one an item counts as its record.

        Returns:
            The id with its section; None where the record is gone, or which item it is cannot be
            determined.
        """
        record, inside = parted(subject)
        now = record if record == "design" else names.get(record)
        if not inside or now is None or before is None:
            return now
        item, then, after = item_of(inside), key_of(record), key_of(now)
        assert item is not None
        keys = {key_of(was): key_of(became) for was, became in names.items()}
        own = followed(then, item, before.content[then], self.one.content[after], keys)
        return None if own is None else f"{now}.{own}"

    def data(
        self, names: dict[str, str], before: Revision | None = None, *, partial: bool = False
    ) -> None:
        """Update what is missing now, and what was supplied since.

        Args:
            names: for each record of the revision before its present id, both with the section;
                empty for a first submission.
            before: the revision before.
            partial: whether the submission is only a part of the design, so that what it leaves out
                stays asked.
        """
        now: dict[str, set[str]] = {}
        titles = {}
        for one in asked(self.one.report.questions):
            for subject in one.subjects or ("design",):
                now.setdefault(one.datum, set()).add(subject)
            titles[one.datum] = one
        for (kind, about), point in self.points.items():
            if kind != "datum":
                continue
            missing = now.get(about, set())
            for place in point.places:
                if place.state != "asked":
                    continue
                after = self.moved(place.subject, names, before)
                if after is None:
                    place.state = "asked" if partial else "gone"
                elif after in missing:
                    place.subject = after
                else:
                    place.subject, place.state = after, "answered"
        for datum, subjects in now.items():
            words = datum.replace("_", " ").replace(".", ", ")
            point = self.point("datum", datum, words, titles[datum].severity)
            for subject in sorted(subjects, key=self.order):
                self.place(point, subject, "asked")

    def order(self, subject: str) -> tuple[int, str]:
        """A sort key by which subjects come in the order of the design.

        Args:
            subject: a record with its section.

        Returns:
            Its place in the design, -1 for what is no record, and its name.
        """
        section, _, name = subject.partition(".")
        return self.places.get((section, name), -1), subject

    @property
    def places(self) -> dict[Key, int]:
        """The place of each record in the design, from 0."""
        if not hasattr(self, "_places"):
            self._places = {key: number for number, key in enumerate(self.one.content)}
        return self._places

    def close(self) -> None:
        """Set every point's state from its places, and count the round for those that are asked."""
        gravest = {
            one.rule: one.severity for one in self.one.report.found.patterns if one.kind == "fail"
        }
        for (kind, about), point in self.points.items():
            if kind == "change" and about in gravest:
                point.severity = gravest[about]
            who, what = self.answer(point)
            point.settle(self.call.day, self.one.revision, who, what)
            if point.waits:
                point.rounds += 1
                point.answer_by = self.call.answer_by

    def answer(self, point: Point) -> tuple[str, str]:
        """Who answered what, for a point that has just been answered.

        Args:
            point: the point, its places up to date, its steps not yet.

        Returns:
            The name and the answer in words; both empty where no place is answered, or an answer
            was entered before.
        """
        answered = [place for place in point.places if place.state == "answered"]
        if not answered or any(step.state == "answered" for step in point.steps):
            return "", ""
        if point.kind == "datum":
            record, inside = parted(answered[0].subject)
            field = f"{inside}.{point.about}" if inside else point.about
            key = key_of(record)
            given = stated(self.one.content.get(key, {}), key[0], field)
            by_form = f" (form {self.one.form})" if self.one.form else ""
            words = f"{point.about}: {given}" if given else "given"
            return self.project.by, f"{words}{by_form}"
        for result in self.one.report.results_of("review"):
            if (result.rule, result.subject) == (point.about, answered[0].subject):
                if result.answer is UNSET:
                    break
                words = f"{result.answer.result} {result.answer.what or ''}".strip()
                return result.answer.by, f"{words} ({result.answer.on})"
        return self.project.by, ""


def _is_part(move: Pair, before: Revision, after: Revision) -> list[str]:
    """The loops that are missing from a revision that counts as a part of the design; else none."""
    loops = [sum(section == "loops" for section, _ in one.content) for one in (before, after)]
    gone = [one for one in move.removed if one.startswith("loops.")]
    come = [one for one in move.added if one.startswith("loops.")]
    return gone if gone and not come and loops[1] < PART * loops[0] else []


def overdue(register: Register, today: date) -> Iterator[Point]:
    """Points that hold up a design and should have been answered by now."""
    released = {
        (one.contractor, one.design): one.verdict == "release" for one in register.submissions
    }
    for point in register.points:
        late = point.waits and point.answer_by < today.isoformat()
        if late and point.severity in HOLDING and not released[point.contractor, point.design]:
            yield point


def points_of(register: Register) -> Points:
    """The points of a register, for looking them up.

    Args:
        register: the register of the job.

    Returns:
        By contractor and design, then by kind and rule or datum; the same objects as in the
        register.
    """
    found: Points = {}
    for point in register.points:
        own = found.setdefault((point.contractor, point.design), {})
        own[point.kind, point.about] = point
    return found


def numbers(points: Points, project: Project) -> dict[tuple[str, str], int]:
    """The permanent numbers of a design's points.

    Args:
        points: all points of the register.
        project: the design, named as in the register.

    Returns:
        By kind and rule or datum; empty where nothing was asked.
    """
    own = points.get((project.by, project.name), {})
    return {(kind, about): point.number for (kind, about), point in own.items()}
