"""The one way into a run: what a call means, its policy, its rules, its designs.

Every command that judges starts here, so that the same policy, pin, codes, rules, waivers and
known findings hold for each.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.json import encode

from checker.reading import bounded
from checker.reading.design_files import (
    ENDINGS,
    SETTINGS,
    STANDARD_INPUT,
    Named,
    designs,
    is_remote,
    once,
    root_of,
)
from checker.reading.mistakes import Unreadable
from checker.run import git
from checker.run.options import (
    COMMAND_LINE,
    Call,
    Options,
    basis_options,
    judging_options,
    policy_options,
    rules_option,
)
from checker.run.outputs import Unwritable
from checker.run.policy import (
    BadPolicy,
    BadSettings,
    Commit,
    Held,
    Policy,
    forget,
    policy_of_call,
)
from checker.words import choices

if TYPE_CHECKING:
    from checker.notes.baseline import Baseline
    from checker.notes.waivers import WaiverFile
    from checker.reports import Chosen
    from checker.rulebook.model import Rulebook
    from checker.run.batch import Plan

__all__ = [
    "UNUSABLE",
    "Group",
    "Session",
    "answered",
    "basis_options",
    "judging_options",
    "open_run",
    "policy_options",
    "rules_option",
    "told",
]

UNUSABLE = 2
"""The exit status of a call that could not be carried out, or not on every design."""


class Group(Struct, frozen=True):
    """Designs that follow one another and are held to the same."""

    files: list[str]
    options: Options
    held: Held
    known: Any = None


class Session(Struct, frozen=True):
    """A whole call: its options and policy, its designs in groups, what cannot be read, its rules.

    excluded: how many designs are passed over; compiled: the rules as they are kept; waivers:
    those that may count; today: the day that they are judged by; problems: what keeps a path or a
    file beside the designs from being read.
    """

    options: Options
    policy: Policy
    groups: list[Group]
    problems: list[Unreadable]
    book: Any
    compiled: bytes
    waivers: tuple[WaiverFile, ...]
    today: date
    excluded: int = 0

    @property
    def files(self) -> list[str]:
        """All designs, in path order."""
        return [path for group in self.groups for path in group.files]

    @property
    def notes(self) -> list[str]:
        """What files beside the designs say that does not hold, a line each."""
        return [*self.policy.notes]

    @property
    def policy_digest(self) -> str:
        """A digest of all files that the policy is made of."""
        known = [group.known.data for group in self.groups if group.known is not None]
        waivers = [repr(file).encode() for file in self.waivers]
        return self.policy.digest(*dict.fromkeys(known), *waivers)

    def plan(self, group: Group | None = None, formats: tuple[Chosen, ...] = ()) -> Plan:
        """How the designs of a group, or of a call without any, are judged and reported."""
        from checker.run.batch import Plan

        options = self.options if group is None else group.options
        known = group.known if group is not None else None
        return Plan(
            codes=options.get("codes"),
            further_codes=group.held.further_codes if group is not None else (),
            on=options.get("as_of"),
            compiled=self.compiled,
            formats=formats,
            waivers=self.waivers,
            today=self.today if self.waivers else None,
            known=known,
            folder=os.getcwd() if self.waivers or known is not None else "",
            standard_input=options.get("stdin_path") or "standard input",
        )


def open_run(
    made: argparse.ArgumentParser,
    words: list[str],
    *,
    paths: Callable[[argparse.Namespace], list[str]] | None = None,
    judged: Callable[[argparse.Namespace], list[str]] | None = None,
) -> Session:
    """What the words mean; raises Unwritable, BadSettings, BadPolicy or BadRules.

    paths: where the command names its designs, if not by `judging_options`; judged: the paths
    from which nothing is taken, not even what makes the policy stricter.
    """
    forget()
    _unlike_files(words)
    call = Call(made, words)
    asked = argparse.Namespace(**{**call.defaults, "paths": [], **call.given})
    if paths is not None:
        asked.paths = paths(asked)
    apart = () if judged is None else tuple(_apart(judged(asked)))
    policy = policy_of_call(call.policy, call.policy_from, apart)
    whole = call.under(policy.base)
    named = _named(made, asked, policy)
    problems = list(named.problems)
    path_of = _shown_paths(named.files, getattr(asked, "stdin_path", None))
    files = sorted(path_of, key=lambda path: path_of[path])
    chosen: list[tuple[list[str], Held, Options]] = []
    excluded = 0
    for folder, together in groupby(files, lambda path: _folder(path_of[path])):
        own = list(together)
        try:
            held = policy.at(folder)
        except BadSettings as bad:
            problems.append(bad.problem)
            continue
        options = call.under(held)
        globs = options.get("exclude") or ()
        kept = [path for path in own if not any(one.matches(path_of[path]) for one in globs)]
        excluded += len(own) - len(kept)
        if not kept:
            continue
        if chosen and chosen[-1][1] == held:
            chosen[-1][0].extend(kept)
        else:
            chosen.append((kept, held, options))
    compiled, book = _rules(call, policy, whole, [options for _, _, options in chosen])
    _pinned(policy.base, book)
    groups = []
    for own, held, options in chosen:
        try:
            _pinned(held, book)
        except BadSettings as bad:
            problems.append(bad.problem)
            continue
        _known_words(options.where("codes"), "code", options.get("codes") or (), book.codes)
        _known_words("codes", "code", held.further_codes, book.codes)
        groups.append(Group(own, options, held, _baseline(options, policy)))
    _known_words(whole.where("codes"), "code", whole.get("codes") or (), book.codes)
    known_rules(whole.where("fail_on_open"), demanded(whole), book)
    folders = {_folder(path_of[path]) for group in groups for path in group.files}
    waivers, bad_waivers = _waivers(policy, folders)
    return Session(
        whole,
        policy,
        groups,
        list(dict.fromkeys([*problems, *bad_waivers])),
        book,
        compiled,
        tuple(waivers),
        whole.get("today") or date.today(),
        excluded,
    )


def answered(command: Callable[[], int]) -> int:
    """The exit status of a command; what keeps a call from being carried out is told."""
    try:
        return command()
    except BadSettings as bad_settings:
        print(told(bad_settings.problem), file=sys.stderr)
    except (Unwritable, BadPolicy) as error:
        print(str(error), file=sys.stderr)
    except Exception as error:
        # Imported only here, for reading rules takes packages that a warm start does without.
        from checker.rulebook.loading import BadRules

        if not isinstance(error, BadRules):
            raise
        for path, problem in error.problems:
            place = Unreadable(path, problem.line, problem.column, problem.message)
            print(told(place), file=sys.stderr)
    return UNUSABLE


def told(mistake: Unreadable) -> str:
    """A mistake with its place, in a line."""
    return f"{mistake.path}:{mistake.line}:{mistake.column}: {mistake.message}"


def digest(settings: dict[str, Any], *contents: bytes) -> str:
    """A digest of settings, and of the files that they name."""
    made = hashlib.sha256(encode(settings))
    for content in contents:
        made.update(b"\0" + content)
    return f"sha256:{made.hexdigest()}"


EVERY_RULE = "all"


def demanded(options: Options) -> list[str]:
    """The rules that must not be open, but for the word that means all of them."""
    named = [rule.strip() for one in options.get("fail_on_open", ()) for rule in one.split(",")]
    return [rule for rule in named if rule and rule != EVERY_RULE]


def known_rules(option: str, names: Iterable[str], book: Rulebook) -> None:
    """Raises Unwritable for a rule that there is not."""
    _known_words(option, "rule", names, [rule.id for rule in book.rules])


def _known_words(option: str, what: str, names: Iterable[str], known: Iterable[str]) -> None:
    for name in names:
        if name not in known:
            raise Unwritable(f"{option}: there is no {what} '{name}'; {choices(name, known)}")


def _unlike_files(words: list[str]) -> None:
    """Raises Unwritable where an option may be a file that a shell's pattern named."""
    for word in words:
        if word == "--":
            return
        if word.startswith("-") and word != "-" and os.path.lexists(word):
            raise Unwritable(
                f"'{word}' is an option, and a file here is called so too. For the file write "
                f"'./{word}', or put -- before the paths; for the option, rename the file"
            )


def _rules(
    call: Call, policy: Policy, whole: Options, chosen: list[Options]
) -> tuple[bytes, Rulebook]:
    """The rules in force: those of the call, else of the policy and of what it trusts."""
    from checker.run import batch

    folder = ""
    try:
        if whole.origins.get("rules") == COMMAND_LINE:
            packs = [*whole.get("rules")]
        else:
            named = [*policy.base.get("rules", ())]
            for options in chosen:
                named += [one for one in options.get("rules", ()) if one not in named]
            if named and isinstance(policy.source, Commit):
                folder = tempfile.mkdtemp(prefix="prescreed-rules-")
            packs = [policy.source.pack(path, folder) for path in named]
        rules = tuple(packs)
        cache = not call.get("no_cache", False)
        compiled = batch.kept_rules(rules) if cache else batch.compiled_rules(rules, None)
        return compiled, batch.rulebook((), compiled)
    except git.NoGit as error:
        raise BadPolicy(f"--policy-from: {error}") from None
    finally:
        if folder:
            shutil.rmtree(folder, ignore_errors=True)


def _baseline(options: Options, policy: Policy) -> Baseline | None:
    """The known findings that the options name; raises Unwritable."""
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


def _waivers(policy: Policy, folders: Iterable[str]) -> tuple[list[WaiverFile], list[Unreadable]]:
    """The waivers that may count, and what is wrong with their files."""
    files: list[WaiverFile] = []
    problems: list[Unreadable] = []
    for path, source, folder in policy.waiver_files(folders):
        from checker.notes.waivers import BadWaivers, load

        try:
            files.append(load(source.read(path) or b"", source.shown(path), folder))
        except BadWaivers as bad:
            problems += bad.problems
    return files, problems


def _pinned(held: Held, book: Rulebook) -> None:
    """Raises BadSettings where the rules are not those that a file pins them to."""
    now = {"edition": book.edition, "digest": book.digest}
    for file, name, setting in held.pins:
        if setting.value != now[name]:
            raise file.refuse(
                setting,
                f"The rules' {name} is pinned to '{setting.value}', and the rules here have "
                f"'{now[name]}'. Install the program with the pinned rules, or see what the "
                "others find and then change the pin.",
            )


def _folder(path: str) -> str:
    """The folder that a design lies in; one at an address goes by the call's."""
    if is_remote(path) or path == STANDARD_INPUT:
        return os.getcwd()
    return os.path.dirname(os.path.abspath(path))


def _folders(paths: Iterable[str]) -> Iterator[str]:
    """The folders that paths name, or that the files lie in that they name."""
    for path in paths:
        yield os.path.abspath(path) if os.path.isdir(path) else _folder(path)


def _apart(paths: list[str]) -> Iterator[str]:
    """The folders that nothing is taken from; a file named in the root does not make it one."""
    root = root_of(os.getcwd())
    for path, folder in zip(paths, _folders(paths), strict=True):
        if os.path.isdir(path) or folder != root:
            yield folder


def _shown_paths(files: list[str], stdin_path: str | None) -> dict[str, str]:
    """The path that each design goes by; what standard input brings stands in for its file."""
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


def _named(made: argparse.ArgumentParser, given: argparse.Namespace, policy: Policy) -> Named:
    paths = list(given.paths)
    files_from = getattr(given, "files_from", None)
    changed = getattr(given, "changed", None)
    stdin_path = getattr(given, "stdin_path", None)
    if files_from == STANDARD_INPUT and (STANDARD_INPUT in paths or stdin_path):
        made.error("standard input holds either a design or the list of --files-from, not both")
    if stdin_path and STANDARD_INPUT not in paths:
        paths.append(STANDARD_INPUT)
    if changed and not paths and not files_from:
        paths.append(".")
    if not paths and not files_from and hasattr(given, "files_from"):
        made.error("name a PATH: a design, a folder of designs, or - for standard input")
    named = designs(paths)
    files, problems = set(named.files), list(named.problems)
    if files_from:
        listed = designs(_listed(files_from))
        files = set(once(sorted(files.union(listed.files))))
        problems += listed.problems
    for own in (getattr(given, "known", None), getattr(given, "output", None)):
        if own and os.path.exists(own):
            # It ends like a design, and may stand among them.
            files = {path for path in files if not _same(path, own)}
    if changed:
        try:
            differs = git.changed(changed, root_of(os.getcwd()))
        except git.NoGit as error:
            raise Unwritable(f"--changed: {error}") from None
        files = {path for path in files if _differs(path, differs)}
    return Named(sorted(files), problems)


def _differs(path: str, changed: list[str]) -> bool:
    real = os.path.realpath(path)
    return any(real == one or real.startswith(one + os.sep) for one in changed)


def _same(path: str, other: str) -> bool:
    return os.path.realpath(path) == os.path.realpath(other)


def _listed(source: str) -> Iterator[str]:
    """The designs in a list of files; lists come from other tools and name other files too."""
    most = bounded.LARGEST_RECORD
    try:
        data = (
            bounded.standard_input(most)
            if source == STANDARD_INPUT
            else bounded.content(source, most)
        )
    except OSError as error:
        words = f"--files-from: '{source}' cannot be read: {bounded.why(error)}"
        raise Unwritable(words) from None
    for one in data.split(b"\0" if b"\0" in data else b"\n"):
        path = os.fsdecode(one.rstrip(b"\r\n"))
        if path.endswith(ENDINGS) and os.path.basename(path) not in SETTINGS:
            yield path
