"""Data that senders gave by forms: taken in, kept for the next revisions, filled into the design.

A datum from a form counts as if the design stated it, until a revision of the design itself states
it; then the design counts. It follows its record from revision to revision as points do; where the
record is gone, or could be one of two, the datum is asked for again.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from checker.design.changes import BadChange, written
from checker.forms.changing import Flow, mapping, quoted
from checker.reading import cells, yaml_reader
from checker.reading.design_files import is_json
from checker.reports.sentences import subject_words
from checker.revisions.contents import Content, Key, dotted, key_of, leaf_of
from checker.revisions.filled_in import Answer, Returned, cut
from checker.revisions.items import (
    DESIGN,
    followed,
    item_of,
    lists,
    name_of,
    same,
    stated,
)
from checker.revisions.matching import matching
from checker.revisions.missing import plain_words
from checker.revisions.points import Call
from checker.revisions.register import Back, Form, Given, Query, Register
from checker.revisions.revision import Revision, read
from checker.run import batch


class Kept(NamedTuple):
    """The forms and given data of one design in the register."""

    register: Register
    contractor: str
    design: str
    call: Call

    @property
    def given(self) -> list[Given]:
        """The data that count."""
        return [one for one in self.register.given if self.owns(one) and not one.ended]

    @property
    def forms(self) -> list[Form]:
        """The forms that went out."""
        return [one for one in self.register.forms if self.owns(one)]

    def owns(self, one: Given | Form) -> bool:
        """Whether a datum or form in the register belongs to this design."""
        return (one.contractor, one.design) == (self.contractor, self.design)

    def ask(self, about: str) -> None:
        """Enter a query: something that was not decided without telling the user."""
        self.register.ask(Query(self.call.day, self.contractor, self.design, about))

    def as_lists(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """What was given and counts: fields or lists of the format, each with its records."""
        records: dict[str, dict[str, None]] = {}
        for one in self.given:
            section, _, name = one.subject.partition(".")
            item = item_of(one.field)
            field = one.field if item is None else f"{item.key}.{item.field}"
            whole = name_of(section, field)
            shown = name or ("" if whole in lists() else one.text)
            records.setdefault(whole, {})[shown] = None
        return tuple((field, tuple(names)) for field, names in records.items())

    # What comes back.

    def take(self, back: Iterable[Returned], sent: Revision) -> tuple[bool, list[str]]:
        """Take in the forms that came back, compared with the design as it was sent.

        The register is changed in place: each form is entered as back once, each new datum as
        given.

        Args:
            back: the forms about this design.
            sent: its newest revision, without what forms gave.

        Returns:
            Whether any datum is new, and what could not be used, in words for the sender.
        """
        notes: list[str] = []
        came: dict[tuple[str, str], tuple[Answer, Form]] = {}
        differ: set[tuple[str, str]] = set()
        for one in back:
            file = os.path.basename(one.file)
            form = next((own for own in self.forms if own.number == one.number), None)
            if form is None:
                notes.append(f"{file}: no form of this number went out for this design")
                continue
            if any(own.content == one.content for own in form.back):
                continue
            notes += [f"{file}: {note}" for note in one.notes]
            taken = 0
            moved_on = self.other_items(one.answers, form, sent)
            notes += [f"{file}: {why}" for why in moved_on.values()]
            for answer in one.answers:
                if _item_at(answer) in moved_on:
                    continue
                subject, why = self.subject_of(answer, form, sent)
                if why:
                    notes.append(f"{file}: {answer.at}: {why}")
                if why or not subject:
                    continue
                slot = subject, answer.field
                if slot in came and came[slot][0].text != answer.text:
                    differ.add(slot)
                came[slot] = answer, form
                taken += 1
            form.back.append(Back(one.content, one.file, self.call.day, taken))
        for slot in sorted(differ):
            about = f"two forms differ about {_what(*slot)}: neither counts; it stays asked"
            self.ask(about)
            notes.append(about)
        new = [self.keep(*slot, *came[slot]) for slot in came if slot not in differ]
        return any(new), notes

    def other_items(
        self, answers: Iterable[Answer], form: Form, sent: Revision
    ) -> dict[ItemAt, str]:
        """Items of lists that have changed since the form went out, with the reason."""
        found: dict[ItemAt, str] = {}
        known: set[ItemAt] = set()
        every: dict[ItemAt, Answer] = {}
        for answer in answers:
            at = _item_at(answer)
            if at is None:
                continue
            every.setdefault(at, answer)
            key, why = self.record_of(answer, form, sent)
            own = None if why else sent.content.get(key, {}).get(answer.field)
            if own is None:
                continue
            known.add(at)
            if not same(key[0], answer.field, own, answer.text, self.names(form)):
                found[at] = self.other(answer, f"'{answer.text}', now '{own}'")
        newest = self.register.newest(self.contractor, self.design)
        if newest is not None and newest.content != form.content:
            for at, answer in every.items():
                if at not in known:
                    found[at] = self.other(answer, "nothing tells it apart")
        return found

    def other(self, answer: Answer, why: str) -> str:
        """The message for an item that may be another one now.

        Args:
            answer: an answer about a field of the item.
            why: what speaks against its being the same.

        Returns:
            A sentence for the sender.
        """
        item = item_of(answer.field)
        assert item is not None
        what = subject_words(f"{answer.section}.{answer.record}.{item._replace(field='')}")
        return (
            f"{answer.at}: {what} may be another by now ({why}), so its row is not used; "
            "the newest form asks for what is missing still"
        )

    def names(self, form: Form) -> dict[Key, Key]:
        """The records that have another id than when a form went out.

        Args:
            form: the form, as the register keeps it.

        Returns:
            For each old record its new one; those that are gone are left out.
        """
        return {key_of(old): key_of(now) for old, now in form.moved.items() if now}

    def record_of(self, answer: Answer, form: Form, sent: Revision) -> tuple[Key, str]:
        """The record that an answer is about, by its present id; or why there is none."""
        if answer.section == DESIGN:
            return (DESIGN, ""), ""
        then = f"{answer.section}.{answer.record}"
        moved = {_plain(old): now for old, now in form.moved.items()}
        now = moved.get(_plain(then), then)
        if not now:
            return (DESIGN, ""), f"'{answer.record}' is not in the design any more"
        own = [key for key in sent.content if _plain(dotted(key)) == _plain(now)]
        others = [key for key in sent.content if key[0] == answer.section]
        if len(own) != 1 and others:
            why = f"no single one of the {answer.section} is called '{answer.record}'"
            return (DESIGN, ""), why
        return own[0] if own else (answer.section, answer.record), ""

    def subject_of(self, answer: Answer, form: Form, sent: Revision) -> tuple[str, str]:
        """The record that an answer is about, if the answer can be used.

        Args:
            answer: the answer, with the record's id when the form went out.
            form: that form, as the register keeps it.
            sent: the newest revision, without what forms gave.

        Returns:
            The record by its present id (`loops.L2`), and why the answer cannot be used. Both are
            empty where the design itself says the same.
        """
        key, why = self.record_of(answer, form, sent)
        if why:
            return "", why
        own = stated(sent.content.get(key, {}), key[0], answer.field)
        if own is None:
            return dotted(key), ""
        if same(key[0], answer.field, own, answer.text, self.names(form)):
            return "", ""
        return "", f"'{answer.text}' is not used, because your design says '{own}'; change it there"

    def keep(self, subject: str, field: str, answer: Answer, form: Form) -> bool:
        """Keep a datum in the register; one that was given for the same field before ends.

        Args:
            subject: the record by its present id, such as `loops.L2`.
            field: the field, or the key of a list.
            answer: what was given.
            form: the form that gave it.

        Returns:
            Whether it is new; False where the same was given before.
        """
        for own in self.given:
            if (own.subject, own.field) == (subject, field):
                if own.text == answer.text:
                    return False
                own.ended = f"given again by form {form.number}"
        self.register.given.append(
            Given(self.contractor, self.design, subject, field, answer.text, form.number,
                  self.call.day)
        )  # fmt: skip
        return True

    # What is kept.

    def follow(self, before: Revision, sent: Revision) -> None:
        """Move data and forms along with their records into the next revision, as it was sent."""
        if not self.given and not self.forms:
            return
        found = matching(before.content, sent.content)
        unclear = {key for one in found.doubts for key in one.before}
        unclear |= {key for one in found.joined for key in one.before}
        names = {was: now for was, now in found.names.items() if was not in unclear}
        sections = {section for section, _ in sent.content}
        for form in self.forms:
            _move(form, before.content, names)
        for one in self.given:
            section, _, name = one.subject.partition(".")
            was_key = key = (section, name)
            if key in names:
                key = names[key]
            elif section in sections or key not in before.content:
                one.ended = f"its record is gone in revision {sent.revision or '?'}"
                what, now = _what(one.subject, one.field), sent.revision or "?"
                self.ask(
                    f"{what} was given by form {one.form}; which record of revision {now} that is "
                    "cannot be said, so it is asked again"
                )
                continue
            item = item_of(one.field)
            if item is not None and was_key in before.content:
                now_item = followed(
                    was_key, item, before.content[was_key], sent.content.get(key, {}), names,
                    without=item.field,
                )  # fmt: skip
                if now_item is None:
                    one.ended = f"its item cannot be identified in revision {sent.revision or '?'}"
                    self.ask(
                        f"{_what(one.subject, one.field)} was given by form {one.form}; which of "
                        f"the {item.key} of revision {sent.revision or '?'} that is cannot be "
                        "said, so it is asked again"
                    )
                    continue
                one.field = str(now_item)
            one.subject = dotted(key)
            leaf = leaf_of(section, one.field)
            if leaf is not None and leaf.kind == "reference":
                was = leaf.refers_to, one.text
                one.text = names[was][1] if was in names else one.text
            own = stated(sent.content.get(key, {}), section, one.field)
            if own is None:
                continue
            one.ended = f"revision {sent.revision or '?'} states it"
            if not same(section, one.field, one.text, own, {}):
                self.ask(
                    f"{_what(one.subject, one.field)}: form {one.form} said '{one.text}', revision "
                    f"{sent.revision or '?'} says '{own}': the revision counts"
                )

    def completed(self, sent: Revision, plan: batch.Plan, form: int = 0) -> Revision:
        """A design with the data that its sender gave by forms.

        A datum that cannot be used ends, with a query; the others are used all the same.

        Args:
            sent: the design as it was sent.
            plan: how it is judged.
            form: the number of the form that is new in it, 0 without one.

        Returns:
            The design, judged again; `sent` itself where no datum adds anything.
        """
        made, why = self._with(self.given, sent, plan, form)
        if not why:
            return made
        # Some values do not fit this design; the others are used all the same.
        good: list[Given] = []
        for own in self.together(sent):
            _, why = self._with([*good, *own], sent, plan, form)
            if not why:
                good += own
                continue
            for one in own:
                one.ended = f"it cannot be used: {why}"
                self.ask(
                    f"{_what(one.subject, one.field)} was given as '{one.text}' by form "
                    f"{one.form}, and that cannot be used: {why}"
                )
        return self._with(good, sent, plan, form)[0]

    def together(self, sent: Revision) -> list[list[Given]]:
        """The given data in groups that can only be used together.

        Args:
            sent: the design as it was sent.

        Returns:
            A group for each datum about a record of the design, and one for all data of a new
            record.
        """
        found: dict[tuple[str, str], list[Given]] = {}
        for one in self.given:
            new = key_of(one.subject) not in sent.content
            found.setdefault((one.subject, "" if new else one.field), []).append(one)
        return [*found.values()]

    def _with(
        self, given: list[Given], sent: Revision, plan: batch.Plan, form: int
    ) -> tuple[Revision, str]:
        """A design with these data; or why they cannot be filled in."""
        changes = [*_changes(given, sent.content)]
        if not changes:
            return sent, ""
        path = sent.report.path
        try:
            data = _changed(sent.data, changes, json=is_json(path))
        except BadChange as bad:
            return sent, str(bad)
        judged, problems = read([(path, data)], plan)
        if not judged:
            return sent, problems[0].message
        return judged[0].by_form(sent.data, form), ""


def _move(form: Form, before: Content, names: dict[Key, Key]) -> None:
    then = {dotted(key): dotted(key) for key in before if key[1]}
    # What came since the form went out is none of its records.
    then = {key: now for key, now in then.items() if now not in form.moved.values()} | form.moved
    ids = {dotted(was): dotted(now) for was, now in names.items()}
    form.moved = {key: after for key, now in then.items() if (after := ids.get(now, "")) != key}


def _what(subject: str, field: str) -> str:
    """A datum in words for the user."""
    section = subject.partition(".")[0]
    item = item_of(field)
    if item is not None:
        subject, field = f"{subject}.{item._replace(field='')}", f"{item.key}.{item.field}"
    return f"the {plain_words(name_of(section, field))} of {subject_words(subject)}"


def _plain(subject: str) -> str:
    section, _, name = subject.partition(".")
    return f"{section}.{cut(name)}"


ItemAt = tuple[str, str, str, int]
"""An item: section and name of its record, the list's key, its number."""


def _item_at(answer: Answer) -> ItemAt | None:
    item = item_of(answer.field)
    return None if item is None else (answer.section, answer.record, item.key, item.number)


def _changes(given: Iterable[Given], content: Content) -> Iterator[str]:
    """The given data as changes of the design; a new record is one change."""
    new: dict[str, dict[str, str]] = {}
    for one in given:
        section, _, name = one.subject.partition(".")
        text = Flow(one.text) if name_of(section, one.field) in lists() else one.text
        known = content.get((section, name))
        if known is None:
            new.setdefault(one.subject, {})[one.field] = text
        elif stated(known, section, one.field) is None:
            path = one.field if section == DESIGN else f"{one.subject}.{one.field}"
            yield f"{path}={quoted(text)}"
    for subject, values in new.items():
        yield f"{subject}={mapping(values)}"


def _changed(data: bytes, changes: list[str], *, json: bool) -> bytes:
    """The text with the changes made; its comments name the cells as before."""
    try:
        made = written(data, changes, is_json=json)
    except BadChange:
        made = data  # two of them may want the same new part
        for change in changes:
            made = written(made, [change], is_json=json)
    if json or not cells.sheet_of(data):
        return made
    before, after = yaml_reader.read(data), yaml_reader.read(made)
    return cells.carried_over(before, data, after, made)
