"""Finds the designs that a call names: by paths, lists, standard input and sheets."""

from __future__ import annotations

import argparse
import codecs
import os
import re
from collections.abc import Iterable, Iterator

from checker.reading import bounded
from checker.reading.addresses import is_remote
from checker.reading.design_files import (
    BESIDE_WORDS,
    ENDINGS,
    STANDARD_INPUT,
    Named,
    designs,
    is_sheet,
    once,
    root_of,
)
from checker.reading.ledger import PASSED_OVER, FileState
from checker.run import sheets
from checker.run.changes import folder_of
from checker.run.telling import tell
from checker.run.writer import Unwritable


def refuse_unlike_files(words: list[str]) -> None:
    """Refuse options that may be file names which came from a shell's pattern.

    Args:
        words: the words of the call; those after `--` are not looked at.

    Raises:
        Unwritable: a file in the working directory has the name of an option of the call.
    """
    for word in words:
        if word == "--":
            return
        if word.startswith("-") and word != "-" and os.path.lexists(word):
            raise Unwritable(
                f"'{word}' is an option, and a file here is called so too. For the file write "
                f"'./{word}', or put -- before the paths; for the option, rename the file"
            )


def _folders(paths: Iterable[str]) -> Iterator[str]:
    """The folders among paths, and those of the files among them."""
    for path in paths:
        yield os.path.abspath(path) if os.path.isdir(path) else folder_of(path)


def folders_apart(paths: list[str]) -> Iterator[str]:
    """The folders from which no policy is taken, because they are what is judged.

    Args:
        paths: files or folders.

    Returns:
        Absolute paths. A file named in the root of the repository does not make the root one of
        them.
    """
    root = root_of(os.getcwd())
    for path, folder in zip(paths, _folders(paths), strict=True):
        if os.path.isdir(path) or folder != root:
            yield folder


def shown_paths(files: list[str], stdin_path: str | None) -> dict[str, str]:
    """The path under which each design is shown; the text on standard input replaces its file.

    Args:
        files: the designs' paths.
        stdin_path: the path of the text on standard input, where the call states it.

    Returns:
        By path, without the file that standard input replaces.
    """
    path_of = {path: path for path in files}
    if STANDARD_INPUT not in path_of:
        return path_of
    path_of[STANDARD_INPUT] = stdin_path or STANDARD_INPUT
    there = os.path.abspath(path_of[STANDARD_INPUT])
    return {
        path: own
        for path, own in path_of.items()
        if path == STANDARD_INPUT or os.path.abspath(path) != there
    }


def only_addresses(given: argparse.Namespace) -> tuple[str, ...]:
    """The addresses of a call that names nothing else and selects nothing among them.

    Args:
        given: the options of the call, `judging_options` among them.

    Returns:
        Empty where some designs are on this machine.
    """
    else_named = [given.files_from, given.stdin_path, given.changed]
    far = bool(given.paths) and all(map(is_remote, given.paths)) and not any(else_named)
    return tuple(given.paths) if far else ()


def named_designs(made: argparse.ArgumentParser, given: argparse.Namespace) -> Named:
    """The designs that a call names: by its paths, lists and standard input.

    What contradicts itself, or names nothing, ends the program with a message of the parser.

    Args:
        made: the command's parser.
        given: the options of the call.

    Returns:
        Paths as they were given, each file once.

    Raises:
        Unwritable: the list of files cannot be read.
    """
    paths = list(given.paths)
    files_from = getattr(given, "files_from", None)
    stdin_path = getattr(given, "stdin_path", None)
    if files_from == STANDARD_INPUT and (STANDARD_INPUT in paths or stdin_path):
        made.error("standard input holds either a design or the list of --files-from, not both")
    if stdin_path and STANDARD_INPUT not in paths:
        paths.append(STANDARD_INPUT)
    if getattr(given, "changed", None) and not paths and not files_from:
        paths.append(".")
    may_be_empty = bool(files_from) or getattr(given, "governed", False)
    if not paths and not may_be_empty and hasattr(given, "files_from"):
        made.error("name a PATH: a design, a folder of designs, or - for standard input")
    named = designs(paths)
    if not files_from:
        return named
    listed = designs(_listed(files_from))
    return Named(
        once(sorted({*named.files, *listed.files})),
        [*named.problems, *listed.problems],
        named.named,
        tuple(dict.fromkeys([*named.passed_over, *listed.passed_over])),
    )


def passed(path: str, why: str) -> FileState:
    """A file that is not judged, with why.

    Args:
        path: of the file, as the call names it or as it was found.
        why: in a few words; what is before the first colon is counted together in summaries.

    Returns:
        Its path has `/` between folders on every system.
    """
    return FileState(path.replace(os.sep, "/"), PASSED_OVER, why)


def of_sheets(paths: list[str], named: frozenset[str], asked: argparse.Namespace) -> sheets.Taken:
    """The files, with sheets replaced by the designs in them.

    Args:
        paths: designs and sheets.
        named: those that the call names itself.
        asked: the options of the call, which may name a map.

    Returns:
        All paths to judge, and what became of the other sheets.

    Raises:
        Unwritable: the call's map cannot be read, or has a mistake.
    """
    given = getattr(asked, "map", None) or ""
    if not any(map(is_sheet, paths)):
        return sheets.Taken(paths)
    from checker.intake.maps import BadMap

    try:
        return sheets.take(paths, named, given)
    except OSError as error:
        words = f"--map: '{given}' cannot be read: {bounded.why(error)}"
        raise Unwritable(words) from None
    except BadMap as bad:
        one = bad.problems[0]
        words = f"--map: {given}:{one.line}:{one.column}: {one.message}"
        raise Unwritable(words.rstrip(".")) from None


def show_suggested_maps(suggestions: dict[str, str]) -> None:
    """Write proposed maps for sheets that have none to standard error.

    Args:
        suggestions: by path of the sheet, the map's text.
    """
    for file, text in suggestions.items():
        tell(f"{file}: a map proposed from its headings:", "", *text.splitlines())


def why_nothing(
    given: argparse.Namespace, found: Named, passed_over: list[FileState], *, judged: bool
) -> str:
    """Why nothing is judged, where it turns out that none of the files is a design, and that is not
    a mistake.

    Args:
        given: the options of the call.
        found: the designs that it names.
        passed_over: all files that are not judged.
        judged: whether some files are judged, so that each may turn out to be no design.

    Returns:
        A few words; empty where it would be a mistake.
    """
    reasons = {one.why.partition(": ")[0] for one in passed_over}
    if getattr(given, "changed", None) and "unchanged" in reasons:
        return f"no design differs from {given.changed}"
    only_listed = bool(getattr(given, "files_from", None)) and not given.paths
    own = {*BESIDE_WORDS.values()}
    if only_listed and not found.problems and (judged or not found.files) and reasons <= own:
        return "the list names no design"
    if found.files or found.problems:
        return ""
    if getattr(given, "governed", False) and not passed_over:
        return "no design and no policy is named"
    if passed_over and reasons <= own and not any(os.path.isdir(path) for path in given.paths):
        return "only files of the program's own are named"
    return ""


_SIGNS = {"a": 7, "b": 8, "t": 9, "n": 10, "v": 11, "f": 12, "r": 13, '"': 34, "\\": 92}


def _unquoted(line: bytes) -> bytes:
    """A name as git writes it, in quotes where it has unusual characters."""
    if len(line) < 2 or line[:1] != b'"' or line[-1:] != b'"':
        return line

    def sign(found: re.Match[bytes]) -> bytes:
        own = found[1].decode("latin-1")
        return bytes([int(own, 8) if own.isdigit() else _SIGNS.get(own, ord(own))])

    return re.sub(rb"\\([0-3][0-7]{2}|.)", sign, line[1:-1], flags=re.DOTALL)


def _listed(source: str) -> Iterator[str]:
    """The designs in a list of files; lists come from other tools and name other files too."""
    most = bounded.LARGEST_RECORD
    try:
        data = (
            bounded.standard_input(most)
            if source == STANDARD_INPUT
            else bounded.content(source, most)
        )
        if len(data) > most:
            raise bounded.too_large(most)
    except OSError as error:
        words = f"--files-from: '{source}' cannot be read: {bounded.why(error)}"
        raise Unwritable(words) from None
    data = _as_utf8(source, data)
    ends = b"\0" in data
    for one in data.split(b"\0" if ends else b"\n"):
        path = os.fsdecode(one if ends else _unquoted(one.rstrip(b"\r\n")))
        named = path if ends else path.strip(_AROUND)
        if _may_be_design(path) or (path and os.path.isdir(path)):
            yield path
        elif _may_be_design(named):  # with a blank or quotes of another tool around it
            yield path if os.path.lexists(path) else named


_AROUND = " \t'\",;"


def _may_be_design(path: str) -> bool:
    """Whether a path has the name of a design or sheet."""
    return path.lower().endswith(ENDINGS) or is_sheet(path)


def _as_utf8(source: str, data: bytes) -> bytes:
    """A list as UTF-8 without a byte-order mark; some shells write it as UTF-16."""
    for mark, encoding in ((codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16")):
        if data.startswith(mark):
            try:
                return data.decode(encoding).encode()
            except UnicodeError as error:
                words = f"--files-from: '{source}' cannot be read as UTF-16: {error}"
                raise Unwritable(words) from None
    return data.removeprefix(codecs.BOM_UTF8)
