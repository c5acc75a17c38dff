"""Finds what differs from a commit, and the designs this affects: also by deleted files, packs,
drawings, maps of sheets.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterable, Iterator, Sequence

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
    designs,
    is_sheet,
    root_of,
    sheet_file,
)
from checker.reading.other_files import what_else
from checker.reading.paths import within
from checker.run import git
from checker.run.policy import Policy
from checker.run.settings_files import PROJECT_FILE
from checker.run.sheets import MAP, map_among, map_path, provided
from checker.run.writer import Unwritable


def changed(
    given: argparse.Namespace,
    policy: Policy,
    packs: list[str],
    files: list[str],
    known: Iterable[str] = (),
) -> set[str] | None:
    """The files that differ from the commit of --changed, or whose policy does.

    What git does not know cannot be called unchanged: standard input, an address, a file that git
    ignores or that is outside the repository.

    Args:
        given: the options of the call.
        policy: the policy of the call.
        packs: the paths of the firm's own rules.
        files: the designs of the call.
        known: the paths of known findings that these are compared with.

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
        ignored = git.ignored(root)
    except git.NoGit as error:
        raise Unwritable(f"--changed: {error}") from None
    unsure = {*differs, *ignored}
    everything = unsure | _governing(differs, policy, [*packs, *known], before=ref, also=ignored)
    stated_map = getattr(given, "map", None)
    above = {one for path in unsure for one in _above(path)}
    return {
        path
        for path in files
        if path == STANDARD_INPUT
        or is_remote(path)
        or not within(sheet_file(path), root)
        or _under(sheet_file(path), everything)
        or os.path.realpath(answers_to(path)) in everything
        or (is_sheet(path) and _maps(sheet_file(path), stated_map, unsure))
        or (os.path.realpath(folder_of(path)) in above and _draws(path, unsure, root))
    }


def _above(path: str) -> Iterator[str]:
    """The folders above a path."""
    while (above := os.path.dirname(path)) != path:
        yield above
        path = above


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
    differs: list[str],
    policy: Policy,
    further: Iterable[str],
    *,
    before: str,
    also: Sequence[str] = (),
) -> set[str]:
    """The folders whose designs are all affected by something that differs or is gone.

    further: what else the designs are held to, such as rules and known findings; before: the commit
    that it differs from; also: what git ignores, so that it may differ.
    """
    places = set()
    for path in (*differs, *also):
        name = os.path.basename(path)
        if name in (SETTINGS_FILE, WAIVERS) or (
            name == PROJECT_FILE
            and (
                _has_table(path)
                or _states_settings(git.content_in(path, before, root_of(os.getcwd())))
            )
        ):
            places.add(os.path.dirname(path))
    own = [
        *filter(None, [*further, policy.base.get("known")]),
        *filter(None, [policy.own.file if policy.own else "", policy.waivers_path]),
    ]
    if any(_under(one, {*differs, *also}) for one in own) or any(
        within(path, one) for path in differs for one in own
    ):
        places.add(os.path.realpath(root_of(os.getcwd())))
    return places


def governed(given: argparse.Namespace, policy: Policy) -> list[str]:
    """For a hook: the paths, and every design affected by what the commit changes or deletes.

    Args:
        given: the options of the call; its paths are the files that the hook is given.
        policy: the policy of the call.

    Returns:
        Files and folders, each once; for a policy file the folder that it applies to.

    Raises:
        Unwritable: git cannot answer.
    """
    root = root_of(os.getcwd())
    found = [one for path in given.paths for one in _instead(path)]
    if os.path.exists(os.path.join(root, ".git")):
        try:
            differs, before = git.staged(root)
        except git.NoGit as error:
            raise Unwritable(f"--governed: {error}") from None
        # A file that is gone is not among the names that a hook is given, nor is a drawing.
        stated = [getattr(given, name, None) for name in ("known", "map")]
        further = [*policy.base.get("rules", ()), *getattr(given, "rules", ()), *stated]
        places = _governing(differs, policy, further, before=before)
        found += [os.path.relpath(one) for one in sorted(places) if os.path.isdir(one)]
        folders = {above for one in differs for above in _above(one) if within(above, root)}
        near = [os.path.join(one, name) for one in folders for name in _names_in(one, ENDINGS)]
        found += [os.path.relpath(one) for one in sorted(near) if _draws(one, {*differs}, root)]
        maps = [one for one in differs if one.lower().endswith(MAP)]
        found += [os.path.relpath(one) for one in _sheets_of(maps)]
        answers = [own for one in differs if one.lower().endswith(ANSWERS) for own in answered(one)]
        found += map(os.path.relpath, answers)
        found += [os.path.relpath(one) for one in _in_submodules(differs)]
    return [*dict.fromkeys(found)]


def _states_settings(data: bytes) -> bool:
    """Whether a project file has settings of this program, or names it and is no TOML."""
    import tomllib

    if b"prescreed" not in data:
        return False
    try:
        return "prescreed" in tomllib.loads(data.decode()).get("tool", {})
    except (tomllib.TOMLDecodeError, UnicodeDecodeError):
        return True


def _in_submodules(differs: list[str]) -> Iterator[str]:
    """The designs in submodules that differ; a hook is given no name of any."""
    for path in designs([one for one in differs if os.path.isdir(one)]).files:
        if is_sheet(path):
            may_be_one = bool(map_path(path))
        else:
            try:
                may_be_one = not what_else(bounded.start_of(path))
            except OSError:
                may_be_one = True
        if may_be_one:
            yield path


def _has_table(path: str) -> bool:
    """Whether a project file has settings of this program."""
    try:
        return _states_settings(bounded.content(path))
    except OSError:
        return False


def _names_in(folder: str, endings: tuple[str, ...]) -> list[str]:
    try:
        return [one for one in sorted(os.listdir(folder)) if one.lower().endswith(endings)]
    except OSError:
        return []


def _draws(path: str, differs: set[str], root: str) -> bool:
    """Whether a design names a drawing, or the map of one, that is among these or in no repository.

    differs: real paths of files, and of folders all of which may differ.
    """
    from checker.design.drawings import named

    if beside(path) or is_remote(path) or path == STANDARD_INPUT:
        return False
    try:
        content = provided.get(path) or bounded.start_of(path)
        return any(_under(one, differs) or not within(one, root) for one in named(path, content))
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
