"""`prescreed record DESIGN [FORM.xlsx]`: writes records from site into the design."""

from __future__ import annotations

import argparse
import io
from typing import TYPE_CHECKING, Any

from checker.outcome.report import DesignReport
from checker.reading import bounded
from checker.reading.design_files import ENDINGS, is_json
from checker.run import session
from checker.run.telling import Parser, say, tell
from checker.run.writer import Unwritable, put, refuse_overwriting

if TYPE_CHECKING:
    from checker.run.batch import Plan

MOST_TOLD = 12


def parser() -> argparse.ArgumentParser:
    """The command's arguments."""
    made = Parser(
        prog="prescreed record",
        description="Write what was recorded on site into the design's file, changing "
        "nothing else in it, move its stage on, and judge it: may it be poured,"
        " heated, covered, handed over? --form makes the workbook to fill in.",
        epilog="Exit status: 0 done, whatever the verdict; 2 call, form or design could "
        "not be read, and nothing was written; 3 the program failed on it.",
    )
    made.add_argument("design", metavar="DESIGN", help="a design file")
    made.add_argument(
        "filled", nargs="*", metavar="FORM.xlsx", help="forms that were filled in on site"
    )
    made.add_argument(
        "--form", metavar="FORM.xlsx", help="write the form to fill in; the design is not changed"
    )
    made.add_argument(
        "--log",
        action="append",
        default=[],
        metavar="TEST=LOG.csv",
        help="take a test's readings from what a logger of pressure and temperature wrote",
    )
    made.add_argument(
        "--output",
        dest="file",
        metavar="FILE",
        help="write to this file instead of the design's own",
    )
    session.basis_options(made)
    return made


def run(words: list[str]) -> int:
    """Record; returns the exit status."""
    return session.answered(
        lambda: _recorded(session.open_run(parser(), words, paths=lambda given: [given.design]))
    )


def _recorded(opened: session.Session) -> int:
    from checker.design.changes import BadChange
    from checker.run import batch
    from checker.site.recording import recorded

    values = opened.options.values
    tell(*opened.notes, *map(session.problem_line, opened.problems))
    if opened.problems:
        return session.status(opened.problems)
    if len(opened.files) != 1 or values.design == "-":
        raise Unwritable("records go into one design's file; name it")
    if not (values.form or values.filled or values.log):
        raise Unwritable("name a form that was filled in, or make one with --form FORM.xlsx")
    (path,), (group,) = opened.files, opened.groups
    if not path.lower().endswith(ENDINGS):
        raise Unwritable(
            f"'{path}' is a sheet; records go into a design's file, which 'prescreed intake' makes "
            "of it"
        )
    plan = opened.plan(group)
    content = batch.content_of(path)
    before = _judged(path, content, plan)
    if values.form:
        _make_form(values.form, before, content, opened)
        return 0
    changes, notes = _changes(values, before, content)
    tell(*notes)
    if not changes:
        tell(f"{path}: nothing in it that the design does not say already; it stays as it is.")
        return 0
    try:
        made, after = recorded(
            content,
            changes,
            lambda data: _judged(path, data, plan),
            is_json=is_json(path),
        )
    except BadChange as bad:
        raise Unwritable(f"{path}: {bad} Nothing was written.") from None
    target = values.file or path
    if values.file:
        refuse_overwriting(values.file, opened.inputs)
    put(made, target)
    tell(f"{target}: {len(changes)} entries recorded, stage '{before.stage}' → '{after.stage}'.")
    _tell(after)
    return 0


def _judged(path: str, content: bytes, plan: Plan) -> DesignReport:
    """Judge the design; raises Unwritable with what is wrong with it."""
    from checker.run import batch

    found, unreadable = batch.check([(batch.shown(path, plan), content)], plan, with_given=True)
    if unreadable:
        tell(*map(session.problem_line, unreadable))
        raise Unwritable(f"{path} cannot be read; nothing was written")
    (design,) = found
    return design


def _document(path: str, content: bytes) -> Any:
    from checker.reading import yaml_reader

    return yaml_reader.read(content, json=is_json(path))


def _make_form(file: str, design: DesignReport, content: bytes, opened: session.Session) -> None:
    from checker.forms.writing import workbook
    from checker.site.records import known, site_form

    if not file.lower().endswith(".xlsx"):
        raise Unwritable(f"--form: '{file}' should end in .xlsx")
    refuse_overwriting(file, opened.inputs)
    made = io.BytesIO()
    workbook(made, site_form(design), known(design, _document(design.path, content)))
    put(made.getvalue(), file)


def _changes(
    values: argparse.Namespace, design: DesignReport, content: bytes
) -> tuple[list[str], list[str]]:
    """The changes from forms and loggers' files, and remarks; raises Unwritable."""
    from checker.intake import logged
    from checker.intake.sheets import BadSheet
    from checker.site import records

    document = _document(design.path, content)
    changes: list[str] = []
    notes: list[str] = []
    for file in values.filled or ():
        found = _answers(file, design)
        notes += found.notes
        notes += [f"{file}: not used: {one}" for one in found.unused]
        try:
            changes += records.changes(found, design, document)
        except records.NoRecord as none:
            raise Unwritable(f"{file}: {none}. Nothing was written.") from None
    for given in values.log or ():
        test, sign, file = given.partition("=")
        if not sign:
            raise Unwritable(f"--log: write the test before the file, 'first={given}'")
        try:
            rows, said = logged.readings(file, bounded.content(file))
        except (logged.BadLog, BadSheet) as bad:
            raise Unwritable(f"{bad}. Nothing was written.") from None
        except OSError as error:
            raise Unwritable(f"'{file}' cannot be read: {bounded.why(error)}") from None
        notes += said
        changes.append(records.readings_change(test, rows))
    return changes, notes


def _answers(file: str, design: DesignReport) -> Any:
    """The answers in a form; raises Unwritable where a cell of it cannot be used."""
    from checker.forms.reading import answers, form_of
    from checker.intake import workbooks
    from checker.intake.sheets import BadSheet
    from checker.site.records import FORM, site_form

    try:
        book = workbooks.read(file, bounded.content(file))
    except BadSheet as bad:
        raise Unwritable(f"{file}: {bad}") from None
    except OSError as error:
        raise Unwritable(f"'{file}' cannot be read: {bounded.why(error)}") from None
    form = form_of(book, {FORM: site_form(design)})
    if form is None:
        raise Unwritable(
            f"'{file}' is not a form of 'prescreed record'; make one with --form FORM.xlsx"
        )
    found = answers(book, form)
    if found.refused:
        tell(*map(str, found.refused))
        raise Unwritable(f"{file}: nothing was written; mend these cells and record it again.")
    return found


def _tell(design: DesignReport) -> None:
    """Write the verdict, and what prevents the next step."""
    from checker.outcome.results import HOLDING
    from checker.reports.sentences import worst_first
    from checker.reports.verdicts import sentence, to_look_at

    say(f"{design.verdict.upper()}: {sentence(design)}")
    against = [
        one
        for one in worst_first(design.results_of("fail", "open"))
        if one.severity in HOLDING and not one.waived and not one.due
    ]
    against += [one for one in to_look_at(design.results) if one.severity == "critical"]
    for one in against[:MOST_TOLD]:
        word = one.severity.upper() if one.kind == "fail" else one.kind.upper()
        say(f"  {word} {one.subject}: {one.message} ({one.rule})")
    if len(against) > MOST_TOLD:
        say(f"  and {len(against) - MOST_TOLD} more; 'prescreed check' lists all.")
    caution = next((one.caution for one in design.patterns if "pressure" in one.caution), "")
    if caution:
        say(caution)
