"""Loads what designs are judged by: rules with their pins, known findings, waivers."""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import TYPE_CHECKING

from checker.reading import bounded
from checker.reading.addresses import is_remote
from checker.reading.design_files import STANDARD_INPUT
from checker.reading.package_data import rule_files
from checker.run import git
from checker.run.options import COMMAND_LINE, Call, Options
from checker.run.policy import FolderPolicy, Policy
from checker.run.policy_sources import BadPolicy, Commit
from checker.run.rules_in_force import compiled_rules, heads, kept_rules
from checker.run.writer import Unwritable
from checker.words import choices

if TYPE_CHECKING:
    from checker.notes.baseline import Baseline
    from checker.notes.waivers import WaiverFile
    from checker.reading.mistakes import Unreadable
    from checker.run.rules_in_force import Heads

EVERY_RULE = "all"


def demanded(options: Options) -> list[str]:
    """The rules that must not be open.

    Args:
        options: those of the call under its policy.

    Returns:
        Ids as they were written, known or not; without the word that means all rules.
    """
    return [rule for rule in _listed(options) if rule != EVERY_RULE]


def demands_every(options: Options) -> bool:
    """Whether no rule may be open.

    Args:
        options: those of the call under its policy.

    Returns:
        True where the word for all rules is named, alone or beside others.
    """
    return EVERY_RULE in _listed(options)


def _listed(options: Options) -> list[str]:
    named = [rule.strip() for one in options.get("fail_on_open", ()) for rule in one.split(",")]
    return [*filter(None, named)]


def refuse_unknown_rules(option: str, names: Iterable[str], rules: Heads) -> None:
    """Refuse rules that do not exist.

    Args:
        option: where the names come from, for the message.
        names: ids of rules.
        rules: those in force.

    Raises:
        Unwritable: for the first that does not exist, with the most similar id.
    """
    refuse_unknown(option, "rule", names, [rule.id for rule in rules.rules])


def refuse_unknown(option: str, what: str, names: Iterable[str], known: Iterable[str]) -> None:
    """Refuse names that are not among the known ones.

    Args:
        option: where the names come from, for the message.
        what: what they are, for the message.
        names: the names in the call.
        known: all names that exist.

    Raises:
        Unwritable: for the first that does not exist, with the most similar one.
    """
    for name in names:
        if name not in known:
            raise Unwritable(f"{option}: there is no {what} '{name}'; {choices(name, known)}")


def rules_of(
    call: Call, policy: Policy, whole: Options, chosen: list[Options]
) -> tuple[bytes, Heads, list[str]]:
    """The rules in force, from the call, else from the policy.

    Args:
        call: the words of the call.
        policy: its policy.
        whole: the options for all designs.
        chosen: the options of each group of designs.

    Returns:
        The compiled rules, their heads, and the paths of the firm's own rules.

    Raises:
        BadPolicy: the rules cannot be read from the policy's commit.
        BadRules: they cannot be used.
    """
    folder = ""
    try:
        if whole.origins.get("rules") == COMMAND_LINE:
            packs = named = [*whole.get("rules")]
        else:
            named = [*policy.base.get("rules", ())]
            for options in chosen:
                named += [one for one in options.get("rules", ()) if one not in named]
            if named and isinstance(policy.source, Commit):
                from tempfile import mkdtemp

                folder = mkdtemp(prefix="prescreed-rules-")
            packs = [policy.source.pack(path, folder) for path in named]
        rules = tuple(packs)
        cache = not call.get("no_cache", False)
        compiled = kept_rules(rules) if cache else compiled_rules(rules, None)
        return compiled, heads(compiled), named
    except git.NoGit as error:
        raise BadPolicy(f"--policy-from: {error}") from None
    finally:
        if folder:
            from shutil import rmtree

            rmtree(folder, ignore_errors=True)


def baseline_of(options: Options, policy: Policy) -> Baseline | None:
    """The known findings that the options name.

    Args:
        options: those of a group of designs.
        policy: says where a file is read that the call itself does not name.

    Returns:
        None where they name none.

    Raises:
        Unwritable: the file cannot be read or used.
    """
    path = options.get("known")
    if not path:
        return None
    from checker.notes.baseline import BadKnown, Baseline, read

    shown = os.path.relpath(path).replace(os.sep, "/") if os.path.isabs(path) else path
    try:
        if options.origins["known"] == COMMAND_LINE:
            data = bounded.content(path, bounded.LARGEST_RECORD)
        else:
            found = policy.source.read(path, bounded.LARGEST_RECORD)
            if found is None:
                raise FileNotFoundError(2, os.strerror(2))
            data = found
        read(data)
    except (OSError, git.NoGit) as error:
        said = bounded.why(error) if isinstance(error, OSError) else str(error)
        raise Unwritable(f"{options.where('known')}: '{shown}' cannot be read: {said}") from None
    except BadKnown as error:
        raise Unwritable(f"{options.where('known')}: '{shown}': {error}") from None
    return Baseline(os.path.dirname(os.path.abspath(path)), data)


def moved(baseline: Baseline | None, files: list[str]) -> Baseline | None:
    """The known findings, with designs recognised that were moved.

    Args:
        baseline: None where the call has no known findings.
        files: the designs' paths; those at addresses and on standard input are not looked at.

    Returns:
        None without known findings.
    """
    if baseline is None:
        return None
    from checker.notes import baseline as notes
    from checker.run import batch

    def look(path: str) -> tuple[str, str]:
        from checker.design.tables import BadDesign, Tables

        try:
            content = batch.content_of(path)
            return batch.digest_of(batch.shown(path), content), Tables().add(path, content).name
        except (OSError, BadDesign):
            return "", ""

    named = [path for path in files if path != STANDARD_INPUT and not is_remote(path)]
    return notes.moved(baseline, named, look)


def waivers_of(policy: Policy, folders: Iterable[str]) -> tuple[list[WaiverFile], list[Unreadable]]:
    """The waivers that may count for designs in some folders.

    Args:
        policy: the policy of the call.
        folders: absolute paths of the designs' folders.

    Returns:
        The files of waivers, and every mistake in those that cannot be used.
    """
    files: list[WaiverFile] = []
    problems: list[Unreadable] = []
    for path, source, folder in policy.waiver_files(folders):
        from checker.notes.waivers import BadWaivers, load

        try:
            files.append(load(source.read(path) or b"", source.shown(path), folder))
        except BadWaivers as bad:
            problems += bad.problems
    return files, problems


def check_pins(policy: FolderPolicy, rules: Heads) -> None:
    """Refuse rules that differ from those that a policy pins.

    Args:
        policy: for the designs of one folder.
        rules: those in force.

    Raises:
        BadSettings: with the place of the pin.
    """
    now = {"edition": rules.edition, "digest": rules.digest}
    for file, name, setting in policy.pins:
        if setting.value != now[name]:
            raise file.refuse(
                setting,
                f"The rules' {name} is pinned to '{setting.value}', and the rules here have "
                f"'{now[name]}'. Install the program with the pinned rules, or see what the "
                "others find and then change the pin.",
            )


def files_of(pack: str) -> list[str]:
    """The files of a pack of rules.

    Args:
        pack: the path of a folder, or of one file.

    Returns:
        Paths; none where it cannot be read.
    """
    try:
        return rule_files(pack)
    except OSError:
        return []
