"""Finds the design files that a call names."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from functools import lru_cache

from msgspec import Struct

from checker.reading import beside as besides
from checker.reading import bounded
from checker.reading.addresses import Listing, is_remote
from checker.reading.ledger import PASSED_OVER, READ, FileState
from checker.reading.mistakes import OfTheFile, Unreadable
from checker.reading.paths import is_below

ENDINGS = (".yaml", ".yml", ".json")
SHEETS = (".xlsx", ".xlsm", ".ods", ".xls", ".csv", ".tsv")
"""Endings of workbooks and of sheets as text."""
ONE_OF = "#"
"""Separates the path of a sheet file from the name of one of the designs in it."""
WAIVERS = "prescreed.waivers.yaml"
KNOWN = "prescreed.known.json"
SETTINGS_FILE = "prescreed.yaml"
SETTINGS = frozenset((SETTINGS_FILE, WAIVERS, KNOWN))
"""Files beside designs that are not designs."""
ANSWERS = ".answers.yaml"
BESIDE = (".readings.yaml", ".map.yaml", ANSWERS, ".readings.xlsx", ".readings.csv")
"""Endings of the names of others beside designs."""
STANDARD_INPUT = "-"

BESIDE_WORDS = {
    SETTINGS_FILE: "settings of this program",
    WAIVERS: "waivers",
    KNOWN: "known findings",
    BESIDE[0]: "readings",
    BESIDE[1]: "a map",
    BESIDE[3]: "readings",
    BESIDE[4]: "readings",
    ANSWERS: "answers to no design",
}
"""What files beside designs are, by their name or its ending."""


class Named(Struct, frozen=True):
    """The design files of a call, and what became of other files.

    Attributes:
        files: in path order, each once.
        problems: the paths that lead to none.
        named: those of the files that the call names itself.
        passed_over: files that look like designs by their names and are not judged, with why.
    """

    files: list[str]
    problems: list[Unreadable]
    named: frozenset[str] = frozenset()
    passed_over: tuple[FileState, ...] = ()


def designs(paths: Iterable[str]) -> Named:
    """The design files under these paths.

    Args:
        paths: files, folders (searched with their subfolders), addresses, or `-` for standard
            input; a file of answers means its design.

    Returns:
        Paths as they were given, or below the given folder; what cannot be found is among the
        problems.
    """
    search = _Search()
    for path in paths:
        search.take(path)
    kept = once(sorted(search.files))
    twice = sorted(search.files - {*kept})
    search.passed_over += [
        FileState(one, PASSED_OVER, "met before: by another path") for one in twice
    ]
    return Named(
        kept,
        search.problems,
        frozenset(search.named),
        tuple(sorted(set(search.passed_over), key=lambda one: one.path)),
    )


class _Search:
    """The search for designs under the paths of a call.

    `met` counts files of folders that may be designs; `searched` are folders without links.
    """

    def __init__(self) -> None:
        self.files: set[str] = set()
        self.named: set[str] = set()
        self.problems: list[Unreadable] = []
        self.passed_over: list[FileState] = []
        self.searched: set[str] = set()
        self.met = 0

    def take(self, path: str) -> None:
        """Take a path of the call."""
        if path == STANDARD_INPUT:
            self._name(path)
        elif is_remote(path):
            found = listing([path])
            self.files.update(found)
            self.problems += found.problems
        elif os.path.isdir(path):
            self._folder(path)
        elif sheet_file(path) != path and os.path.isfile(sheet_file(path)):
            self._name(path)
        elif not os.path.lexists(path):
            self._refuse(path, "There is no such file or folder.")
        elif path.lower().endswith(ANSWERS):
            self._answers(path)
        elif own := beside(path):
            self._pass(path, own)
        elif os.path.exists(path) and not os.path.isfile(path):
            self._refuse(path, "This is a pipe or a device; for what a command brings, name -.")
        else:
            self._name(path)

    def _answers(self, path: str) -> None:
        """Take the design that answers belong to; naming the answers means the design."""
        for own in (found := answered(path)):
            self._name(own)
        if not found:
            name = os.path.basename(path)[: -len(ANSWERS)]
            wanted = ", ".join(name + ending for ending in ENDINGS)
            self._refuse(
                path,
                f"These answers belong to no design: beside them there is no {wanted} and no "
                "sheet of that name.",
            )

    def _name(self, path: str) -> None:
        self.files.add(path)
        self.named.add(path)

    def _refuse(self, path: str, words: str) -> None:
        self.problems.append(OfTheFile(path, 1, 1, words))

    def _pass(self, path: str, why: str) -> None:
        self.passed_over.append(FileState(path.replace(os.sep, "/"), PASSED_OVER, why))

    def _folder(self, folder: str) -> None:
        """Search a folder, and once each folder that links in it lead to."""
        met, problems = self.met, len(self.problems)
        inside = [os.path.realpath(folder), os.path.realpath(root_of(os.getcwd()))]
        # What is really here comes first, so that a design goes by its own path.
        links = self._walk(folder)
        while links:
            link = links.pop(0)
            real = os.path.realpath(link)
            if real in self.searched or any(is_below(one, real) for one in inside):
                self._pass(link, "link: to a folder that is searched already, or around it")
            elif any(is_below(real, one) for one in inside):
                links += self._walk(link)
            else:
                self._refuse(
                    link,
                    "This link leads out of the folder that is searched. Name what it leads to, "
                    "or exclude the link.",
                )
        if self.met == met and len(self.problems) == problems:
            wanted = ", ".join(f"*{ending}" for ending in ENDINGS)
            self._refuse(folder, f"There is no design under this folder ({wanted}).")

    def _walk(self, folder: str) -> list[str]:
        """Take the files under a folder; returns the links to folders that were found."""
        links: list[str] = []

        def unreadable(error: OSError) -> None:
            words = f"The folder cannot be read: {error.strerror}."
            self._refuse(str(error.filename), words)

        for here, folders, names in os.walk(folder, onerror=unreadable):
            self.searched.add(os.path.realpath(here))
            kept = []
            for name in sorted(folders):
                path = os.path.join(here, name)
                if name.startswith("."):
                    if name != ".git":
                        self._pass(path, "hidden")
                elif os.path.islink(path):
                    links.append(path)
                else:
                    kept.append(name)
            folders[:] = kept
            for name in names:
                if name.lower().endswith((*ENDINGS, *SHEETS)):
                    self._file(os.path.join(here, name))
        return links

    def _file(self, path: str) -> None:
        """Take a file of a folder with the name of a design."""
        if os.path.basename(path).startswith("."):
            self._pass(path, "hidden")
        elif path.lower().endswith(ANSWERS) and (found := answered(path)):
            path = path.replace(os.sep, "/")
            said = f"answers: to {' and '.join(found)}"
            self.passed_over.append(FileState(path, READ, said))
        elif own := beside(path):
            self._pass(path, own)
        elif os.path.isfile(path) or not os.path.exists(path):
            self.met += 1
            self.files.add(path)  # a link that leads nowhere is reported as a mistake
        else:
            self._pass(path, "a pipe or a device")


def answers_to(design: str) -> str:
    """The path that a design's answers have, if they are in a file of their own.

    Args:
        design: the design's path.

    Returns:
        Beside the design; whether there is such a file is not looked up.
    """
    return os.path.splitext(sheet_file(design))[0] + ANSWERS


def content_of_answers(design: str) -> bytes | None:
    """The answers beside a design, in a file of their own.

    Args:
        design: the design's path.

    Returns:
        The file's bytes; None where there is none, or the design is at an address.

    Raises:
        OSError: there is one that cannot be read.
    """
    path = answers_to(design)
    return besides.content(path) if not is_remote(design) and besides.exists(path) else None


def answered(path: str) -> list[str]:
    """The designs that a file of answers is for.

    Args:
        path: of the answers.

    Returns:
        The paths beside it of all designs and sheets whose answers are there (`answers_to`).
    """
    stem = path[: -len(ANSWERS)]
    found: list[str] = []
    for ending in (*ENDINGS, *SHEETS):
        spelt = (f"{stem}{ending}", f"{stem}{ending.upper()}")
        one = next((own for own in spelt if os.path.isfile(own)), "")
        if one and _same(answers_to(one), path):
            found.append(one)
    return found


def _same(one: str, other: str) -> bool:
    """Whether two paths lead to one file; equal ones do even where it is gone."""
    if one == other:
        return True
    try:
        return os.path.samefile(one, other)
    except OSError:
        return False


def beside(path: str) -> str:
    """What a file beside designs is, by its name.

    Args:
        path: of the file; nothing is read.

    Returns:
        In words, as reports say why it was passed over; empty for one that may be a design.
    """
    name = os.path.basename(path)
    lower = name.lower()
    for ending, words in BESIDE_WORDS.items():
        own = lower == ending if ending in SETTINGS else lower.endswith(ending)
        if own and ending in SETTINGS and name != ending:
            return f"named like {words} except for capitals: nothing is read from it"
        if own:
            return words
    return ""


def once(paths: Iterable[str]) -> list[str]:
    """The paths in order, without those that lead to the same file as an earlier one.

    Args:
        paths: files, addresses or `-`; links are followed.

    Returns:
        Of two paths to one file the earlier, as it was given.
    """
    folders: dict[str, str] = {}
    found: dict[str, str] = {}
    for path in paths:
        named = is_remote(path) or path == STANDARD_INPUT
        found.setdefault(path if named else _real(path, folders), path)
    return list(found.values())


def _real(path: str, folders: dict[str, str]) -> str:
    """The file's path without links; folders: a cache of those resolved already."""
    if os.path.islink(path):
        return os.path.realpath(path)
    folder, name = os.path.split(path)
    if folder not in folders:
        folders[folder] = os.path.realpath(folder)
    return os.path.join(folders[folder], name)


def is_json(path: str) -> bool:
    """Whether a design's file is JSON; otherwise it is YAML.

    Args:
        path: of the design; only its ending matters.

    Returns:
        True for `.json`, in capitals too.
    """
    return path.lower().endswith(".json")


def is_sheet(path: str) -> bool:
    """Whether a path names a workbook or a CSV file, or one of the designs in it.

    Args:
        path: such as `jobs.xlsx` or `jobs.xlsx#House 4`; only its words matter.

    Returns:
        True for the endings in SHEETS, in capitals too.
    """
    return sheet_file(path).lower().endswith(SHEETS)


def sheet_file(path: str) -> str:
    """The sheet file that a path names, without the name of one of its designs.

    Args:
        path: such as `jobs.xlsx#House 4`.

    Returns:
        `jobs.xlsx`; any other path unchanged.
    """
    name = path.rpartition("/")[2]
    file = name.partition(ONE_OF)[0]
    found = file != name and file.lower().endswith(SHEETS)
    return path[: len(path) - len(name) + len(file)] if found else path


def listing(addresses: Sequence[str]) -> Listing:
    """The designs at some addresses, found on demand.

    Args:
        addresses: of files or folders.

    Returns:
        Nothing is looked up before it is iterated over.
    """
    return Listing(addresses, _is_design)


def _is_design(path: str) -> bool:
    name = path.rsplit("/", 1)[-1].lower()
    other = name in SETTINGS or name.startswith(".") or name.endswith(BESIDE)
    return not other and name.endswith(ENDINGS)


@lru_cache(maxsize=4096)
def root_of(folder: str) -> str:
    """The root of the repository that a folder is in; a submodule belongs to the one around it.

    Answers are remembered, so that a repository that begins during a run is not noticed.

    Args:
        folder: absolute, or from the working directory.

    Returns:
        An absolute path; without a repository the working directory, where the folder is in it,
        else the folder itself.
    """
    folder = os.path.abspath(folder)
    above = folder
    while not _is_root(above):
        if above == os.path.dirname(above):
            here = os.getcwd()
            return here if os.path.commonpath([folder, here]) == here else folder
        above = os.path.dirname(above)
    return above


def _is_root(folder: str) -> bool:
    """Whether a repository starts here; a submodule is a part of the one around it."""
    mark = os.path.join(folder, ".git")
    if os.path.isdir(mark):
        return True
    try:
        led = bounded.start_of(mark, 4096)
    except OSError:
        return False
    # A working tree of its own is no submodule, whatever the folders around it are called.
    return led.rfind(b"/modules/") <= led.rfind(b"/worktrees/")


def upward(folder: str) -> list[str]:
    """The folder and those above it, up to the root of its repository.

    Args:
        folder: absolute, or from the working directory.

    Returns:
        Absolute paths, the folder's first; the last is that of `root_of`.
    """
    folder = os.path.abspath(folder)
    root = root_of(folder)
    folders = [folder]
    while folders[-1] != root:
        folders.append(os.path.dirname(folders[-1]))
    return folders
