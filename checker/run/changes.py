"""Finds what differs from a commit, and the designs this affects: also by deleted files, packs,
drawings, maps of sheets.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterable, Iterator

from checker.reading import bounded
from checker.reading.addresses import is_remote
from checker.reading.design_files import (
    ANSWERS,
    ENDINGS,
    SETTINGS,
    SETTINGS_FILE,
    SHEETS,
    STANDARD_INPUT,
    WAIVERS,
    answered,
    answers_to,
    beside,
    is_sheet,
    root_of,
    sheet_file,
    upward,
)
from checker.run import git
from checker.run.policy import Policy
from checker.run.settings_files import PROJECT_FILE
from checker.run.sheets import map_among, map_path, provided
from checker.run.writer import Unwritable


def changed(
    given: argparse.Namespace, policy: Policy, packs: list[str], files: list[str]
) -> set[str] | None:
    """The files that differ from the commit of --changed, or whose policy does.

    Args:
        given: the options of the call.
        policy: the policy of the call.
        packs: the paths of the firm's own rules.
        files: the designs of the call.

    Returns:
        The files; None where the call names no commit.

    Raises:
        Unwritable: git cannot answer.
    """
    ref = getattr(given, "changed", None)
    if not ref:
        return None
    root = root_of(os.getcwd())
    try:
        differs = git.changed(ref, root)
    except git.NoGit as error:
        raise Unwritable(f"--changed: {error}") from None
    known = getattr(given, "known", None) or ""
    everything = {*differs, *_governing(differs, policy, packs, known, before=ref)}
    drawings = {path for path in differs if _beside_designs(path)}
    stated_map = getattr(given, "map", None)
    return {
        path
        for path in files
        if _under(sheet_file(path), everything)
        or os.path.realpath(answers_to(path)) in everything
        or (is_sheet(path) and _maps(sheet_file(path), stated_map, drawings))
        or (drawings and _draws(path, drawings))
    }


def _maps(sheet: str, stated: str | None, differs: set[str]) -> bool:
    """Whether a sheet is read, or was read, by a map that differs.

    stated: the map that the call names; differs: real paths of maps, of deleted ones too.
    """
    if stated:
        return os.path.realpath(stated) in differs
    folder, name = os.path.split(os.path.abspath(sheet))
    return bool(map_among(os.path.join(os.path.realpath(folder), name), differs))


def _sheets_of(maps: Iterable[str]) -> Iterator[str]:
    """The sheets beside maps that differ and that are, or were, read by these."""
    for one in maps:
        folder = os.path.dirname(one)
        beside_it = [os.path.join(folder, name) for name in _names_in(folder, SHEETS)]
        yield from (sheet for sheet in beside_it if map_among(sheet, [one]) and map_path(sheet))


def _governing(
    differs: list[str], policy: Policy, packs: list[str], known: str = "", *, before: str
) -> set[str]:
    """The folders whose designs are all affected by something that differs or is gone.

    before: the commit that it differs from.
    """
    places = set()
    for path in differs:
        name = os.path.basename(path)
        if name in (SETTINGS_FILE, WAIVERS) or (
            name == PROJECT_FILE
            and (_has_table(path) or _TABLE in git.content_in(path, before, root_of(os.getcwd())))
        ):
            places.add(os.path.dirname(path))
    own = [
        *packs,
        *filter(None, [policy.base.get("known"), known]),
        *filter(None, [policy.own.file if policy.own else "", policy.waivers_path]),
    ]
    if any(_under(one, set(differs)) for one in own) or any(
        within(path, one) for path in differs for one in own
    ):
        places.add(os.path.realpath(root_of(os.getcwd())))
    return places


def governed(paths: list[str], policy: Policy) -> list[str]:
    """For a hook: the paths, and every design affected by what the commit changes or deletes.

    Args:
        paths: the files that the hook is given.
        policy: the policy of the call.

    Returns:
        Files and folders, each once; for a policy file the folder that it applies to.

    Raises:
        Unwritable: git cannot answer.
    """
    root = root_of(os.getcwd())
    found = [one for path in paths for one in _instead(path)]
    if os.path.exists(os.path.join(root, ".git")):
        try:
            differs, before = git.staged(root)
        except git.NoGit as error:
            raise Unwritable(f"--governed: {error}") from None
        # A file that is gone is not among the names that a hook is given, nor is a drawing.
        packs = [*policy.base.get("rules", ())]
        places = _governing(differs, policy, packs, before=before)
        found += [os.path.relpath(one) for one in sorted(places) if os.path.isdir(one)]
        folders = {above for one in differs if _beside_designs(one) for above in upward(one)}
        near = [os.path.join(one, name) for one in folders for name in _names_in(one, ENDINGS)]
        found += [os.path.relpath(one) for one in sorted(near) if _draws(one, {*differs})]
        found += [os.path.relpath(one) for one in _sheets_of(filter(_beside_designs, differs))]
        answers = [answered(one) for one in differs if one.lower().endswith(ANSWERS)]
        found += [os.path.relpath(one) for one in answers if one]
    return [*dict.fromkeys(found)]


_TABLE = b"[tool.prescreed"


def _has_table(path: str) -> bool:
    """Whether a project file has settings of this program."""
    try:
        return _TABLE in bounded.content(path)
    except OSError:
        return False


def _names_in(folder: str, endings: tuple[str, ...]) -> list[str]:
    try:
        return [one for one in sorted(os.listdir(folder)) if one.lower().endswith(endings)]
    except OSError:
        return []


def _beside_designs(path: str) -> bool:
    """Whether a file may be a drawing, or the map of one, that a design names."""
    return path.lower().endswith((".dxf", ".map.yaml"))


def _draws(path: str, drawings: set[str]) -> bool:
    """Whether a design names one of these files as a drawing or the map of one."""
    from checker.design.drawings import named

    if beside(path) or is_remote(path) or path == STANDARD_INPUT:
        return False
    try:
        content = provided.get(path) or bounded.start_of(path)
        return any(os.path.realpath(one) in drawings for one in named(path, content))
    except OSError:
        return False


def _instead(path: str) -> list[str]:
    """For a policy file the folder that it applies to; any other path unchanged."""
    name = os.path.basename(path)
    if name == PROJECT_FILE and not _has_table(path):
        return []
    return [os.path.dirname(path) or "."] if name in (*SETTINGS, PROJECT_FILE) else [path]


def _under(path: str, places: set[str]) -> bool:
    """Whether a path is one of these real paths, or under one."""
    real = os.path.realpath(path)
    while real not in places:
        above = os.path.dirname(real)
        if above == real:
            return False
        real = above
    return True


def within(path: str, folder: str) -> bool:
    """Whether a path is a folder or file, or is under it, links followed.

    Args:
        path: absolute, or from the working directory; need not exist.
        folder: likewise.

    Returns:
        True also where both are the same.
    """
    path, folder = os.path.realpath(path), os.path.realpath(folder)
    return path == folder or path.startswith(folder.rstrip(os.sep) + os.sep)


def folder_of(path: str) -> str:
    """The folder of a design; for one at an address the folder of the call.

    Args:
        path: of the design.

    Returns:
        An absolute path; for standard input too that of the call.
    """
    if is_remote(path) or path == STANDARD_INPUT:
        return os.getcwd()
    return os.path.dirname(os.path.abspath(path))
