"""`prescreed review DIR --output FOLDER`: a letter to each contractor, and an overview."""

from __future__ import annotations

import argparse
import gc
import os
import re
import unicodedata
from collections.abc import Iterable, Iterator
from functools import partial
from typing import TYPE_CHECKING

from msgspec.structs import replace

from checker.run import session
from checker.run.telling import Parser, say, tell
from checker.run.writer import STANDARD_OUTPUT, Unwritable, put, put_all, refuse_overwriting
from checker.words import how_many

if TYPE_CHECKING:
    from checker.intake.maps import Map
    from checker.revisions.missing import Style
    from checker.revisions.register import Register
    from checker.revisions.reviewing import Letter
    from checker.revisions.revision import Revision
    from checker.revisions.senders import Project
    from checker.revisions.tallies import Tally
    from checker.run.batch import Plan

BY = ("contractor", "designer", "project")
OVERVIEW = "overview"
AT_ONCE = 100
"""Designs judged at a time; all reports are kept, so judging must take little memory."""
ANSWER_WITHIN = 14
"""Days that a letter gives for an answer; common practice, no source."""


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed review",
        description="Review designs that others sent: a letter to each sender as Markdown and "
        "HTML (what must change, what is asked for, what was accepted), and an overview for the "
        "reviewer. Of several revisions of a project the newest counts. With --register a form "
        "goes out with each letter that asks for data: a workbook that asks only for what "
        "is missing, and is read when it comes back among the designs.",
        epilog="Exit status: 0 everything was reviewed; 2 the call or a design could not be read "
        "(every other design is still reviewed).",
    )
    session.judging_options(made)
    made.add_argument(
        "--by", choices=BY, default="contractor", help="whom to write to (default: contractor)"
    )
    made.add_argument(
        "--known",
        metavar="FILE",
        help="findings written by 'prescreed freeze'; those that are no worse are "
        "listed apart in the letters, not among what must change",
    )
    made.add_argument("--output", metavar="FOLDER", help="the folder for letters and overview")
    made.add_argument(
        "--letter-format",
        choices=("markdown", "html", "text", "docx"),
        action="append",
        help="format of the letters; may be given several times (default: markdown "
        "and html; docx needs python-docx)",
    )
    made.add_argument(
        "--format",
        dest="written",  # a settings file's `format` is that of a check
        choices=("text", "json"),
        default="text",
        help="what to print on standard output: the letters written, or the state of"
        " the job as JSON (schemas/overview.schema.json; needs --register)",
    )
    made.add_argument(
        "--reference", default="", metavar="TEXT", help="the reference at the head of letters"
    )
    made.add_argument(
        "--signature", default="", metavar="TEXT", help="the signature at the end of letters"
    )
    made.add_argument(
        "--words",
        metavar="FILE",
        help="a YAML file with your own wording in place of words/en.yaml",
    )
    register = made.add_argument_group("the register of a job")
    register.add_argument(
        "--register",
        metavar="FILE",
        help="a JSON file that keeps what was sent, what was asked and what became "
        "of it; created where there is none",
    )
    register.add_argument(
        "--accept",
        metavar="NUMBER",
        type=int,
        action="append",
        default=[],
        help="accept a sender's answer to this point of the register; may be given several times",
    )
    register.add_argument("--accepted-by", metavar="NAME", help="who accepts it")
    register.add_argument(
        "--answer-within",
        metavar="DAYS",
        type=int,
        default=ANSWER_WITHIN,
        help=f"the days that a letter gives for an answer (default: {ANSWER_WITHIN}; common "
        "practice, no source)",
    )
    return made


def run(words: list[str]) -> int:
    """Review and write; returns the exit status."""
    return session.answered(lambda: _reviewed(words))


def _reviewed(words: list[str]) -> int:
    opened = session.open_run(parser(), words, judged=lambda given: given.paths)
    values = opened.options.values
    if not values.output:
        raise Unwritable("--output: name the folder for letters and overview")
    if not values.register:
        if values.written == "json":
            raise Unwritable(
                "--format json: it shows the state of a job from its register; name one with "
                "--register"
            )
        if values.accept or values.accepted_by:
            raise Unwritable("--accept: name the register that has the point with --register")
        return _round(opened, None)
    if values.accept and not values.accepted_by:
        raise Unwritable("--accept: say who accepts it with --accepted-by")
    from checker.revisions.register import load, locked, save

    refuse_overwriting(values.register, opened.inputs, is_own="register")
    with locked(values.register):
        register = load(values.register)
        status = _round(opened, register)
        save(register, values.register)
    return status


def _round(opened: session.Session, register: Register | None) -> int:
    from checker.revisions.aside import Aside
    from checker.revisions.forms_out import came_back, forms_out, latest_style
    from checker.revisions.letters import ENDS, overview_html, overview_markdown, written
    from checker.revisions.letters.chasing import reminders
    from checker.revisions.letters.composing import Head, composed
    from checker.revisions.letters.wording import words
    from checker.revisions.letters.writing import annex
    from checker.revisions.missing import style_of
    from checker.revisions.overview import as_json, overview_of
    from checker.revisions.overview import tables as stand_tables
    from checker.revisions.overview_files import as_workbook, pictures
    from checker.revisions.points import Call, numbers, points_of
    from checker.revisions.reviewing import by_sender, letters
    from checker.revisions.revision import read
    from checker.revisions.rounds import accept, round_of
    from checker.revisions.senders import projects
    from checker.revisions.tallies import overview, tally
    from checker.revisions.worked_out import work_out

    values = opened.options.values
    call = Call(opened.today, values.answer_within, values.by)
    if register is not None:
        accept(register, values.accept, values.accepted_by or "", call)
    unreadable = [*opened.problems]
    revisions: list[Revision] = []
    plans: dict[str, Plan] = {}
    # What a sender answers himself is shown, and counts for nothing until it is accepted.
    accepted = () if register is None else register.digests
    plan = replace(opened.plan(), accepted=accepted)
    aside = Aside()
    for group in _by_sender(opened, values.by):
        judged_by = replace(opened.plan(group), accepted=accepted)
        taken, bad = opened.judged(
            group, lambda some, by: read(some, replace(by, accepted=accepted), aside), AT_ONCE
        )
        plans.update((one.report.path, judged_by) for one in taken)
        revisions += taken
        unreadable += bad
    back, bad = came_back(opened.forms) if register is not None else ([], [])
    unreadable += bad
    if register is None and opened.judged_none(revisions, unreadable):
        return 0
    said = words(values.words)
    found = (
        projects(revisions, values.by, plan)
        if register is None
        else round_of(register, revisions, call, plan, back)
    )
    # A design of which only a form came back is judged by the call's own policy.
    worked_out = work_out(found, {**{one.newest.report.path: plan for one in found}, **plans})
    styles: dict[str, Style] = {}

    def style(project: Project) -> Style:
        path = project.newest.report.path
        if path not in styles:
            own = _map_of(path, values.map)
            known = latest_style(back, project) if own is None else style_of(own)
            styles[path] = known._replace(called=said.said["form_fields"])
        return styles[path]

    points = {} if register is None else points_of(register)
    senders = by_sender(found)
    named = _names(senders)
    formats = values.letter_format or ["markdown", "html"]
    ends = [ENDS[wanted] for wanted in dict.fromkeys(formats)]
    stands = None if register is None else overview_of(register, call.today, unreadable)
    lines: list[str] = []

    def files() -> Iterator[tuple[str, bytes]]:
        """All files by name, each letter made when the one before it is written."""
        each: Iterable[tuple[Letter, dict[str, bytes]]]
        each = ((one, {}) for one in letters(found, plan, partial(numbers, points), style))
        if register is not None:
            with_names = ((one, named[one.to]) for one, _ in each)
            each = forms_out(register, with_names, found, call.day, said, style)
        tallies: list[Tally] = []
        for letter, forms in each:
            name = named[letter.to]
            tallies += map(tally, senders[letter.to])
            lines.append(_line(name, letter))
            yield from forms.items()
            head = Head(
                call.day, values.reference, call.answer_by, values.signature, f"{name}-annex.xlsx"
            )
            made = composed(letter, head, said)
            title = said("subject", to=letter.to)
            for wanted in formats:
                yield f"{name}.{ENDS[wanted]}", written(made.blocks, title, wanted)
            if not made.whole:
                yield head.annex, annex(made, said)
            gc.collect(1)  # what was read again for it refers to one another in rings
        tables = overview(tallies, values.by)
        drawn = []
        if register is not None and stands is not None:
            tables = [*stand_tables(stands), *tables]
            drawn = [*pictures(stands)]
            yield f"{OVERVIEW}.json", as_json(stands)
            head = Head(call.day, values.reference, "", values.signature)
            for to, blocks in reminders(register, call.today, {*named}, said, head):
                title = said("chasing_subject", to=to)
                for wanted in formats:
                    yield f"chasing-{_plain(to)}.{ENDS[wanted]}", written(blocks, title, wanted)
        listed = [*named.items()]
        yield f"{OVERVIEW}.md", overview_markdown(tables, listed, unreadable, ends).encode()
        yield f"{OVERVIEW}.html", overview_html(tables, listed, unreadable, ends, drawn).encode()
        yield f"{OVERVIEW}.xlsx", as_workbook(tables)

    def spared() -> Iterator[tuple[str, list[bytes]]]:
        for name, content in files():
            refuse_overwriting(os.path.join(values.output, name), opened.inputs)
            yield name, [content]

    put_all(values.output, spared())
    for note in opened.notes:
        tell(note)
    for problem in unreadable:
        tell(session.problem_line(problem))
    if worked_out.done < worked_out.of:
        tell(
            f"What would do is worked out for {worked_out.done} of {worked_out.of:,} causes, the "
            "first of each design first; 'prescreed remedy FILE' works out those of one design"
        )
    if worked_out.beyond:
        tell(
            f"Nothing is worked out for {how_many(worked_out.beyond, 'design')} with so much that "
            "is grave that one change would not do"
        )
    for query in () if register is None else register.queries:
        if query.on == call.day:
            tell(f"{query.contractor}{f', {query.design}' if query.design else ''}: {query.about}")
    if values.written == "json" and stands is not None:
        put(as_json(stands), STANDARD_OUTPUT)
        return session.status(unreadable)
    count, about = how_many(len(lines), "letter"), how_many(len(found), "project")
    say(f"{count} about {about}: {values.output}", *lines)
    return session.status(unreadable)


def _line(name: str, letter: Letter) -> str:
    """A letter in one line: how much must change, and how much is asked for."""
    must = sum(len({each.rule for each in one.must}) for one in letter.sections)
    asked = sum(len(one.asked) for one in letter.sections)
    return f"  {name}: {letter.to}, {must} to change, {asked} asked for"


def _by_sender(opened: session.Session, by: str) -> list[session.Group]:
    """The designs in groups; of very many those of one sender follow one another, so that each
    judged part is in memory only while its letter is written.
    """
    from checker.revisions.aside import IN_HAND
    from checker.revisions.senders import listed
    from checker.run.batch import shown

    if len(opened.files) <= IN_HAND:
        return opened.groups
    ordered = []
    for group in opened.groups:
        found, _ = opened.judged(group, lambda some, plan: listed(some, plan, by))
        keys, plan = dict(found), opened.plan(group)
        files = sorted(group.files, key=lambda file: keys.get(shown(file, plan), ("", "")))
        ordered.append(replace(group, files=files))
    return ordered


def _map_of(path: str, given: str | None) -> Map | None:
    """The map with which a design's sheet was read; None where it is not a sheet, or has no map
    now.
    """
    from checker.intake.maps import BadMap
    from checker.reading.design_files import is_sheet, sheet_file
    from checker.run import sheets

    if not is_sheet(path):
        return None
    try:
        return sheets.loaded(given) if given else sheets.map_for(sheet_file(path))
    except (OSError, BadMap):
        return None


def _plain(name: str) -> str:
    """A name in the form that a file name can begin with."""
    text = unicodedata.normalize("NFKD", name.casefold())
    return re.sub(r"[^a-z0-9]+", "-", text).strip("-")[:60] or "letter"


def _names(senders: Iterable[str]) -> dict[str, str]:
    """A plain file name for each sender's letter, different from all others."""
    names: dict[str, str] = {}
    taken = {OVERVIEW}
    for to in senders:
        plain = _plain(to)
        name, number = plain, 2
        while name in taken:
            name, number = f"{plain}-{number}", number + 1
        taken.add(name)
        names[to] = name
    return names
