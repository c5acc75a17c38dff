"""Reads workbooks and CSV files as designs: by the program's own form, or by a map."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

from msgspec import Struct

from checker.reading import bounded
from checker.reading.design_files import BESIDE, ENDINGS, ONE_OF, is_sheet, sheet_file
from checker.reading.ledger import PASSED_OVER, FileState
from checker.reading.mistakes import OfTheFile, Unreadable
from checker.words import choices

if TYPE_CHECKING:
    from checker.intake.maps import Map
    from checker.intake.reading import Intake
    from checker.intake.sheets import Book, Remark

provided: dict[str, bytes] = {}
"""The texts of designs that were read from sheets, by the path that names each."""
MAP = BESIDE[1]
NO_MAP = "a sheet without a map"
NOT_READ = "a sheet that its map does not read"
READ_ALREADY = "a sheet that a design beside it was read from"
OWN_REPORT = "own report"
ANSWERS = "a form for what is missing"
"""The message for a form that only a review with a register reads (`checker.revisions.missing`)."""
_REPORT = b'\xef\xbb\xbf"design","'
"""The first line of the program's own CSV reports."""


class Taken(Struct):
    """The designs that some files were read as.

    Attributes:
        files: paths, with sheets replaced by their designs.
        problems: why sheets cannot be read, and those on which the program failed (`Crashed`).
        passed_over: sheets that are not judged, with why.
        suggestions: a proposed map for each sheet without one, by path.
        forms: filled-in forms for missing data.
    """

    files: list[str] = []
    problems: list[Unreadable] = []
    passed_over: list[FileState] = []
    suggestions: dict[str, str] = {}
    forms: list[str] = []


def take(paths: Iterable[str], named: frozenset[str], given: str = "") -> Taken:
    """Read the designs of these files.

    The text of each design in a sheet is put into `provided`.

    Args:
        paths: designs and sheets; also a sheet with the name of one of its designs.
        named: those that the call names itself; all their mistakes are reported.
        given: the path of the map that the call names.

    Returns:
        Paths of all designs, sorted, and what became of the other files.

    Raises:
        OSError: that map cannot be read.
        BadMap: that map has mistakes.
    """
    out = Taken()
    plan = loaded(given) if given else None
    for path in paths:
        if not is_sheet(path):
            out.files.append(path)
        elif path not in named and _read_already(path):
            out.passed_over.append(FileState(path, PASSED_OVER, READ_ALREADY))
        else:
            try:
                _take(path, named, plan, out)
            except Exception as error:  # the program's own, which costs this file alone
                from checker.run.judging import failed

                out.problems.append(failed(sheet_file(path), error))
    out.files.sort()
    return out


def _take(path: str, named: frozenset[str], plan: Map | None, out: Taken) -> None:
    from checker.forms.model import MISSING
    from checker.forms.reading import carried
    from checker.intake.maps import BadMap
    from checker.intake.reading import opened, unread_sheets
    from checker.intake.sheets import BadSheet

    file = sheet_file(path)
    try:
        if _own_report(file):
            raise BadSheet("this is a report of this program, and no schedule")
        book = opened(file)
        if carried(book, MISSING) is not None:
            out.forms.append(file)
            out.passed_over.append(FileState(file, PASSED_OVER, ANSWERS))
            return
        own_map = plan or map_for(file)
        found = designs_in(book, own_map)
    except BadSheet as bad:
        if path in named:
            out.problems.append(OfTheFile(file, 1, 1, f"{_sentence(str(bad))}"))
        else:
            why = OWN_REPORT if _own_report(file) else f"no workbook: {bad}"
            out.passed_over.append(FileState(file, PASSED_OVER, why))
        return
    except OSError as error:
        out.problems.append(
            OfTheFile(file, 1, 1, f"The file cannot be read: {bounded.why(error)}.")
        )
        return
    except BadMap as bad_map:
        where = map_beside(file)
        out.problems += [
            Unreadable(where, one.line, one.column, one.message) for one in bad_map.problems
        ]
        return
    if found is None:
        _without_a_map(file, book, path in named, out)
        return
    only = path[len(file) + len(ONE_OF) :]
    if own_map is not None and not only:
        out.passed_over += [
            FileState(f"{file}{ONE_OF}{name}", PASSED_OVER, NOT_READ)
            for name in unread_sheets(book, own_map)
        ]
    names = [*dict.fromkeys(one.name for one in found if one.name)]
    if only and only not in names:
        words = f"There is no design '{only}' in this file; {choices(only, names)}"
        out.problems.append(OfTheFile(path, 1, 1, words))
    for one in found:
        own = f"{file}{ONE_OF}{one.name}" if one.name else file
        if only and one.name != only:
            continue
        if one.text:
            provided[own] = one.text.encode()
            out.files.append(own)
        else:
            out.problems += [as_unreadable(own, remark) for remark in (*one.read.mistakes,)]


def designs_in(book: Book, plan: Map | None) -> list[Intake] | None:
    """The designs of a book: by its form if it is one, else by the map.

    Args:
        book: the sheets of a file.
        plan: says where values are, in a book that is no form of this program.

    Returns:
        In the order of the sheets; None for neither a form nor a map.
    """
    from checker.forms.designs import assembled, form_in
    from checker.intake.reading import made, of_map

    form = form_in(book)
    if form is not None:
        return [made(assembled(book, form), "form")]
    return None if plan is None else [*of_map(book, plan)]


def designs_of(file: str, plan: Map | None) -> list[Intake] | None:
    """The designs of one file, each named after the file.

    Args:
        file: the path of a workbook or CSV file.
        plan: says where values are; without one, the map for this file is looked for (`map_for`).

    Returns:
        One without text, but with the mistake, for a file that cannot be read as sheets; None where
        nothing says how to read it.

    Raises:
        BadMap: the map beside it has mistakes.
        OSError: that map cannot be read.
    """
    from dataclasses import replace
    from pathlib import Path

    from checker.intake.assembling import Assembled
    from checker.intake.reading import Intake, opened
    from checker.intake.sheets import BadSheet, Remark

    name = Path(file).stem
    plan = plan or map_for(file)
    try:
        delimiter, encoding = (plan.delimiter, plan.encoding) if plan else ("", "")
        found = designs_in(opened(file, delimiter, encoding), plan)
    except BadSheet as bad:
        return [Intake(Assembled(file, mistakes=[Remark(file, str(bad))]), "", name)]
    if found is None:
        return None
    return [replace(one, name=f"{name}-{one.name}" if one.name else name) for one in found]


def _own_report(file: str) -> bool:
    if not file.lower().endswith(".csv"):
        return False
    try:
        return bounded.start_of(file, bounded.USUAL_FILE).startswith(_REPORT)
    except OSError:
        return False


def _without_a_map(file: str, book: Book, named: bool, out: Taken) -> None:
    if not named:
        out.passed_over.append(FileState(file, PASSED_OVER, NO_MAP))
        return
    from checker.intake.suggesting import suggest

    out.suggestions[file] = suggest(book)
    out.problems.append(
        OfTheFile(
            file, 1, 1,
            "This sheet is not the program's own form ('prescreed new' makes one), and no map "
            f"says which column is what. Read the proposal through, save it as '{map_beside(file)}'"
            f" ('prescreed intake --suggest {file} --output {map_beside(file)}'), and call again.",
        )
    )  # fmt: skip


def as_unreadable(path: str, remark: Remark) -> Unreadable:
    """A mistake because of which a sheet cannot be read, with its cell.

    Args:
        path: as reports show the design.
        remark: on a cell, or on the whole file.

    Returns:
        Its words are a sentence.
    """
    cell = remark.cell
    if not cell:
        return OfTheFile(path, 1, 1, _sentence(remark.words))
    return Unreadable(path, max(1, remark.row), 1, _sentence(remark.words), cell)


def _sentence(words: str) -> str:
    ended = words if words.endswith((".", "?")) else words + "."
    return ended[:1].upper() + ended[1:]


def loaded(path: str) -> Map:
    """The map in a file.

    Args:
        path: of the map.

    Returns:
        The map, checked.

    Raises:
        OSError: it cannot be read.
        BadMap: it has mistakes.
    """
    from checker.intake.maps import load

    return load(path, bounded.start_of(path))


def map_beside(file: str) -> str:
    """The path that a sheet's own map has.

    Args:
        file: of the sheet.

    Returns:
        Beside it; whether there is such a file is not looked up.
    """
    return os.path.splitext(file)[0] + MAP


def map_for(file: str) -> Map | None:
    """The map of a sheet: its own beside it, else that of its sender (`map_among`).

    Args:
        file: the path of the sheet.

    Returns:
        None where there is none.

    Raises:
        BadMap: it has mistakes.
        OSError: it cannot be read.
    """
    found = map_path(file)
    return loaded(found) if found else None


def map_path(file: str) -> str:
    """The path of the map of a sheet: its own beside it, else that of its sender (`map_among`).

    Args:
        file: the path of the sheet.

    Returns:
        Empty where there is none.
    """
    folder = os.path.dirname(file)
    try:
        listed = [os.path.join(folder, name) for name in sorted(os.listdir(folder or "."))]
    except OSError:
        return ""
    return map_among(file, listed)


def map_among(file: str, names: Iterable[str]) -> str:
    """The map of a sheet among some files.

    Its own comes first, then that of its sender, whose name is the beginning of the file's name:
    `mill.map.yaml` is also for `mill-house-12.xlsx`; the longest such name counts.

    Args:
        file: the path of the sheet.
        names: paths; only those in the sheet's folder count.

    Returns:
        One of the paths; empty where there is none.
    """
    own = map_beside(file)
    names = [*names]
    if own in names:
        return own
    name = _plain(os.path.splitext(os.path.basename(file))[0])
    best, longest = "", 0
    for other in names:
        if os.path.dirname(other) != os.path.dirname(file) or not other.lower().endswith(MAP):
            continue
        sender = _plain(os.path.basename(other)[: -len(MAP)])
        if sender and f"{name} ".startswith(f"{sender} ") and len(sender) > longest:
            best, longest = other, len(sender)
    return best


def _plain(name: str) -> str:
    import unicodedata

    text = unicodedata.normalize("NFKD", name).casefold()
    return " ".join(re.sub(r"[^a-z0-9]+", " ", text).split())


def _read_already(path: str) -> bool:
    """Whether a design beside a sheet says that it was read from it, or it is one of our
    reports.
    """
    from checker.reading.cells import sheet_of

    stem, name = os.path.splitext(path)[0], os.path.basename(path)
    for ending in ENDINGS:
        try:
            if sheet_of(bounded.start_of(stem + ending, bounded.USUAL_FILE)) == name:
                return True
        except OSError:
            continue
    return False
