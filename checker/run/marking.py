"""`check --mark`: writes a copy of the sheet that was checked, with the findings in its cells."""

from __future__ import annotations

from checker.reading.design_files import is_sheet, sheet_file
from checker.run import sheets
from checker.run.opened import Session
from checker.run.writer import Unwritable, put, refuse_overwriting


def sheet_to_mark(opened: Session) -> str:
    """The one sheet file of the call.

    Args:
        opened: a call with `--mark`.

    Returns:
        Its path.

    Raises:
        Unwritable: there is none, or several, or the output is no workbook.
    """
    named = [sheet_file(path) for path in (*opened.files, *opened.named) if is_sheet(path)]
    found = list(dict.fromkeys(named))
    output = opened.options.get("mark")
    if not output.lower().endswith(".xlsx"):
        raise Unwritable(f"--mark: '{output}' should end in .xlsx")
    if len(found) != 1:
        many = f"the call has {len(found)}" if found else "the call has none"
        raise Unwritable(f"--mark: it copies one sheet, and {many}; name one workbook or CSV file")
    return found[0]


def mark(opened: Session) -> None:
    """Write the marked copy.

    Args:
        opened: a call with `--mark`; its designs are judged again for it.

    Raises:
        Unwritable: the sheet cannot be copied, or the output not be written.
    """
    from checker.forms.marking import marked
    from checker.intake.reading import opened as opened_book
    from checker.intake.sheets import BadSheet
    from checker.run import batch

    file = sheet_to_mark(opened)
    output = opened.options.get("mark")
    refuse_overwriting(output, opened.inputs)
    try:
        book = opened_book(file)
    except BadSheet as bad:
        raise Unwritable(f"--mark: {file}: {bad}") from None
    given = opened.options.get("map")
    sheet_map = sheets.loaded(given) if given else sheets.map_for(file)
    read = [one.read for one in sheets.designs_in(book, sheet_map) or ()]
    reports = []
    for group in opened.groups:
        own = [path for path in group.files if sheet_file(path) == file]
        found, _ = batch.check(
            [(batch.shown(path), batch.content_of(path)) for path in own], opened.plan(group)
        )
        reports += found
    put(marked(book, read, reports), output)
