"""The one way into a run: what a call means, its policy, its rules, its designs.

Every command that judges starts here, so that the same policy, pin, codes, rules, waivers and
known findings hold for each.
"""

from __future__ import annotations

import argparse
import os
import re
from collections.abc import Callable, Iterable, Iterator
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.json import encode

from checker.outcome.status import FAILED, UNUSABLE
from checker.reading import bounded
from checker.reading.design_files import (
    BESIDE_WORDS,
    ENDINGS,
    STANDARD_INPUT,
    Named,
    answers_to,
    designs,
    is_remote,
    is_sheet,
    once,
    root_of,
    what_else,
)
from checker.reading.digests import sha256
from checker.reading.ledger import PASSED_OVER, FileState
from checker.reading.mistakes import Crashed, OfTheFile, Unreadable
from checker.reading.package_data import rule_files
from checker.run import git, sheets
from checker.run.changes import changed, folder_of, governed, within
from checker.run.options import (
    COMMAND_LINE,
    Call,
    Options,
    basis_options,
    judging_options,
    policy_options,
    rules_option,
)
from checker.run.policy import Held, Policy, policy_of_call
from checker.run.policy_sources import BadPolicy, Commit
from checker.run.rules_in_force import compiled_rules, heads, kept_rules, rulebook
from checker.run.settings_files import BadSettings, forget
from checker.run.telling import tell
from checker.run.writer import Unwritable
from checker.words import choices
from checker.words.speech import AS_WRITTEN, POINT

if TYPE_CHECKING:
    from checker.notes.baseline import Baseline
    from checker.notes.waivers import WaiverFile
    from checker.outcome.results import DesignReport
    from checker.reports import Chosen
    from checker.rulebook.model import Rulebook
    from checker.run.batch import Plan
    from checker.run.rules_in_force import Heads

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


class Group(Struct, frozen=True):
    """Designs that follow one another and are held to the same."""

    files: list[str]
    options: Options
    held: Held
    known: Any = None


class Session(Struct, frozen=True):
    """A whole call: its options and policy, its designs in groups, what cannot be read, its rules.

    compiled: the rules as they are kept; waivers: those that may count; today: the day that they
    are judged by; problems: what keeps a path or a file beside the designs from being read; named:
    files that the call names itself; passed_over: those that are not judged, with why; idle: why
    there is nothing to judge, where that is no mistake; path_of: the path that each file goes by.
    """

    options: Options
    policy: Policy
    groups: list[Group]
    problems: list[Unreadable]
    heads: Heads
    compiled: bytes
    waivers: tuple[WaiverFile, ...]
    today: date
    named: frozenset[str] = frozenset()
    passed_over: tuple[FileState, ...] = ()
    idle: str = ""
    path_of: dict[str, str] = {}
    packs: tuple[str, ...] = ()

    @property
    def book(self) -> Rulebook:
        """The rules, all of them."""
        return rulebook((), self.compiled)

    @property
    def files(self) -> list[str]:
        """All designs, in path order."""
        return [path for group in self.groups for path in group.files]

    def excludes(self, path: str) -> bool:
        """Whether the policy or the call passes a path over."""
        return any(one.matches(path) for one in self.options.get("exclude") or ())

    @property
    def notes(self) -> list[str]:
        """What files beside the designs say that does not hold, a line each."""
        return [*self.policy.notes]

    @property
    def altered(self) -> list[str]:
        """What a change makes of the policy's files, where the call names a commit; else nothing.

        Raises Unwritable.
        """
        ref = self.options.get("policy_from") or self.options.get("changed")
        if not ref:
            return []
        try:
            return self.policy.altered(ref)
        except (git.NoGit, OSError) as error:
            raise Unwritable(str(error)) from None

    @property
    def policy_digest(self) -> str:
        """A digest of all files that the policy is made of."""
        known = [group.known.data for group in self.groups if group.known is not None]
        waivers = [repr(file).encode() for file in self.waivers]
        return self.policy.digest(*dict.fromkeys(known), *waivers)

    def plan(
        self,
        group: Group | None = None,
        formats: tuple[Chosen, ...] = (),
        *,
        remedies: bool = False,
    ) -> Plan:
        """How the designs of a group, or of a call without any, are judged and reported."""
        from checker.run.batch import Plan

        options = self.options if group is None else group.options
        known = group.known if group is not None else None
        return Plan(
            codes=options.get("codes"),
            further_codes=group.held.further_codes if group is not None else (),
            on=options.get("as_of"),
            compiled=self.compiled,
            strict=bool(options.get("strict")),
            formats=formats,
            waivers=self.waivers,
            today=self.today if self.waivers else None,
            known=known,
            folder=os.getcwd() if self.waivers or known is not None else "",
            standard_input=options.get("stdin_path") or "standard input",
            second_opinion=bool(options.get("second_opinion")),
            changes=tuple(options.get("with") or ()),
            remedies=remedies,
            units=options.get("units") or AS_WRITTEN,
            decimal=options.get("decimal") or POINT,
        )

    @property
    def inputs(self) -> list[str]:
        """What the call itself names, and its policy: files that no output may go over."""
        policy = self.policy
        own = [policy.own.file] if policy.own is not None else []
        own += [os.path.join(one.folder, os.path.basename(one.path)) for one in self.waivers]
        for name in ("known", "files_from", "stdin_path"):
            own += filter(None, [self.options.get(name)])
        return [*self.named, *map(answers_to, self.named), *own, *self.packs]

    def judged(
        self,
        group: Group,
        by: Callable[..., tuple[list[Any], list[Unreadable]]],
        most: int = 0,
    ) -> tuple[list[Any], list[Unreadable]]:
        """What the designs of a group come to, and what is wrong with those that cannot be judged.

        by: judges (path, content) pairs by a plan, as `batch.check` does; most: so many at a time
        at the most, 0 for what is quickest.
        """
        found: list[Any] = []
        problems: list[Unreadable] = []
        for some, bad in self.judged_in_parts(group, by, most):
            found += some
            problems += bad
        return found, problems

    def judged_and_told(
        self, by: Callable[..., tuple[list[Any], list[Unreadable]]]
    ) -> tuple[list[Any], list[Unreadable]]:
        """The same of all designs of the call; what policy and problems say is told."""
        found: list[Any] = []
        problems = [*self.problems]
        for group in self.groups:
            some, bad = self.judged(group, by)
            found += some
            problems += bad
        tell(*self.notes, *map(told, problems))
        return found, problems

    def one_design(self, named: str) -> tuple[DesignReport | None, int]:
        """The one design that the call names, judged, with what it states; and the exit status.

        None where it cannot be read, which is told. Raises Unwritable for several.
        """
        from checker.run import batch

        found, problems = self.judged_and_told(
            lambda contents, plan: batch.check(contents, plan, with_given=True)
        )
        if len(found) > 1:
            raise Unwritable(f"'{named}' holds {len(found)} designs; name one")
        return (found[0] if found else None), status(problems)

    def judged_in_parts(
        self,
        group: Group,
        by: Callable[..., tuple[list[Any], list[Unreadable]]],
        most: int = 0,
    ) -> Iterator[tuple[list[Any], list[Unreadable]]]:
        """The same, some designs at a time."""
        from checker.run import batch
        from checker.run.progress import at_once, moving

        plan = self.plan(group)
        with moving(len(group.files)) as move:
            for files in batch.chunks(group.files, min(most or at_once(), at_once()), plan=plan):
                yield self._judged(files, plan, by)
                move(len(files))

    def _judged(
        self, files: list[str], plan: Plan, by: Callable[..., tuple[list[Any], list[Unreadable]]]
    ) -> tuple[list[Any], list[Unreadable]]:
        from checker.run import batch

        contents: dict[str, bytes] = {}
        problems: list[Unreadable] = []
        for path in files:
            shown = batch.shown(path, plan)
            try:
                contents[shown] = batch.content_of(path)
            except OSError as error:
                words = f"The file cannot be read: {bounded.why(error)}."
                problems.append(OfTheFile(shown, 1, 1, words))
        found, unreadable, crashed = batch.fenced(contents, plan, by)
        named = {batch.shown(path, plan) for path in self.named}
        # What a search of a folder came upon, and is no design at all, is no mistake.
        problems += [
            one for one in unreadable if one.path in named or not what_else(contents[one.path])
        ]
        return found, [*problems, *crashed]


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
    if getattr(asked, "governed", False):
        asked.paths = governed(asked.paths, policy)
    found = _named(made, asked)
    problems = [*found.problems]
    passed_over = [*found.passed_over]
    path_of = _shown_paths(found.files, getattr(asked, "stdin_path", None))
    files = sorted(path_of, key=lambda path: path_of[path])
    chosen: list[tuple[list[str], Held, Options]] = []
    for folder, together in groupby(files, lambda path: folder_of(path_of[path])):
        own = list(together)
        try:
            held = policy.at(folder)
        except BadSettings as bad:
            problems.append(bad.problem)
            passed_over += [_over(path, "beside settings that cannot be used") for path in own]
            continue
        options = call.under(held)
        kept = []
        for path in own:
            globs = options.get("exclude") or ()
            glob = next((one for one in globs if one.matches(path_of[path])), None)
            if glob is None:
                kept.append(path)
            else:
                passed_over.append(_over(path, f"excluded: by '{glob}'"))
        taken = _of_sheets(kept, found.named, asked)
        kept = taken.files
        problems += taken.problems
        passed_over += taken.passed_over
        path_of.update({path: path_of.get(path, path) for path in kept})
        _show(taken.suggestions)
        if not kept:
            continue
        if chosen and chosen[-1][1] == held:
            chosen[-1][0].extend(kept)
        else:
            chosen.append((kept, held, options))
    compiled, rules, packs = _rules(call, policy, whole, [options for _, _, options in chosen])
    _pinned(policy.base, rules)
    differs = changed(asked, policy, packs, [path for own, _, _ in chosen for path in own])
    groups = []
    for own, held, options in chosen:
        try:
            _pinned(held, rules)
        except BadSettings as bad:
            problems.append(bad.problem)
            passed_over += [_over(path, "pinned to other rules") for path in own]
            continue
        _known_words(options.where("codes"), "code", options.get("codes") or (), rules.codes)
        _known_words("codes", "code", held.further_codes, rules.codes)
        kept = []
        for path in own:
            if any(within(path, pack) for pack in packs):
                passed_over.append(_over(path, "rules"))
            elif differs is not None and path not in differs:
                passed_over.append(_over(path, f"unchanged: since {asked.changed}"))
            else:
                kept.append(path)
        if kept:
            groups.append(Group(kept, options, held, _moved(_baseline(options, policy), kept)))
    _known_words(whole.where("codes"), "code", whole.get("codes") or (), rules.codes)
    if "codes" in policy.base.values and "codes" not in call.given:
        where = f"{policy.base.values['codes'].origin}: codes"
        _known_words(where, "code", policy.base.get("codes"), rules.codes)
    known_rules(whole.where("fail_on_open"), demanded(whole), rules)
    folders = {folder_of(path_of[path]) for group in groups for path in group.files}
    waivers, bad_waivers = _waivers(policy, folders)
    return Session(
        whole,
        policy,
        groups,
        list(dict.fromkeys([*problems, *bad_waivers])),
        rules,
        compiled,
        tuple(waivers),
        whole.get("today") or date.today(),
        found.named,
        tuple(sorted(passed_over, key=lambda one: one.path)),
        _why_nothing(asked, found, passed_over) if not groups else "",
        path_of,
        tuple(one for pack in packs for one in _files_of(pack)),
    )


def answered(command: Callable[[], int]) -> int:
    """The exit status of a command; what keeps a call from being carried out is told."""
    try:
        return command()
    except BadSettings as bad_settings:
        tell(told(bad_settings.problem))
    except (Unwritable, BadPolicy) as error:
        tell(str(error))
    except Exception as error:
        # Imported only here, for reading rules takes packages that a warm start does without.
        from checker.rulebook.loading import BadRules

        if not isinstance(error, BadRules):
            raise
        for path, problem in error.problems:
            place = Unreadable(path, problem.line, problem.column, problem.message)
            tell(told(place))
    return UNUSABLE


def status(problems: Iterable[Unreadable]) -> int:
    """The exit status of a command that does not judge what it found: 0, 2 or 3."""
    found = list(problems)
    if any(isinstance(one, Crashed) for one in found):
        return FAILED
    return UNUSABLE if found else 0


def told(mistake: Unreadable) -> str:
    """A mistake with its place, in a line."""
    return f"{mistake.place}: {mistake.message}"


def digest(settings: dict[str, Any], *contents: bytes) -> str:
    """A digest of settings, and of the files that they name."""
    made = sha256(encode(settings))
    for content in contents:
        made.update(b"\0" + content)
    return f"sha256:{made.hexdigest()}"


EVERY_RULE = "all"


def demanded(options: Options) -> list[str]:
    """The rules that must not be open, but for the word that means all of them."""
    named = [rule.strip() for one in options.get("fail_on_open", ()) for rule in one.split(",")]
    return [rule for rule in named if rule and rule != EVERY_RULE]


def known_rules(option: str, names: Iterable[str], rules: Heads) -> None:
    """Raises Unwritable for a rule that there is not."""
    _known_words(option, "rule", names, [rule.id for rule in rules.rules])


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
) -> tuple[bytes, Heads, list[str]]:
    """The rules in force, and where own ones lie: of the call, else of the policy and its own."""
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


def _moved(baseline: Baseline | None, files: list[str]) -> Baseline | None:
    """The known findings, also of designs that have another path now."""
    if baseline is None:
        return None
    from checker.notes import baseline as notes
    from checker.run import batch

    def look(path: str) -> tuple[str, str]:
        from checker.design.tables import Tables
        from checker.design.tables import Unreadable as Refused

        try:
            content = batch.content_of(path)
            return batch.digest_of(path, content), Tables().add(path, content).name
        except (OSError, Refused):
            return "", ""

    named = [path for path in files if path != STANDARD_INPUT and not is_remote(path)]
    return notes.moved(baseline, named, look)


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


def _pinned(held: Held, rules: Heads) -> None:
    """Raises BadSettings where the rules are not those that a file pins them to."""
    now = {"edition": rules.edition, "digest": rules.digest}
    for file, name, setting in held.pins:
        if setting.value != now[name]:
            raise file.refuse(
                setting,
                f"The rules' {name} is pinned to '{setting.value}', and the rules here have "
                f"'{now[name]}'. Install the program with the pinned rules, or see what the "
                "others find and then change the pin.",
            )


def _folders(paths: Iterable[str]) -> Iterator[str]:
    """The folders that paths name, or that the files lie in that they name."""
    for path in paths:
        yield os.path.abspath(path) if os.path.isdir(path) else folder_of(path)


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


def _named(made: argparse.ArgumentParser, given: argparse.Namespace) -> Named:
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


def _over(path: str, why: str) -> FileState:
    return FileState(path.replace(os.sep, "/"), PASSED_OVER, why)


def _of_sheets(paths: list[str], named: frozenset[str], asked: argparse.Namespace) -> sheets.Taken:
    """The files, sheets replaced by the designs in them; raises Unwritable for the call's map."""
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


def _show(suggestions: dict[str, str]) -> None:
    """Show what could be the maps of sheets that nobody knows how to read."""
    for file, text in suggestions.items():
        tell(f"{file}: a map proposed from its headings:", "", *text.splitlines())


def _why_nothing(given: argparse.Namespace, found: Named, passed_over: list[FileState]) -> str:
    """Why there is nothing to judge, where that is no mistake; else empty."""
    reasons = {one.why.partition(": ")[0] for one in passed_over}
    if getattr(given, "changed", None) and "unchanged" in reasons:
        return f"nothing differs from {given.changed}"
    if found.files or found.problems:
        return ""
    if getattr(given, "governed", False) and not passed_over:
        return "no design and no policy is named"
    if getattr(given, "files_from", None) and not given.paths:
        return "the list names no design"
    own = {*BESIDE_WORDS.values()}
    if passed_over and reasons <= own and not any(os.path.isdir(path) for path in given.paths):
        return "only files of the program's own are named"
    return ""


def _files_of(pack: str) -> list[str]:
    """The files of a pack of rules."""
    try:
        return rule_files(pack)
    except OSError:
        return []


_SIGNS = {"a": 7, "b": 8, "t": 9, "n": 10, "v": 11, "f": 12, "r": 13, '"': 34, "\\": 92}


def _unquoted(line: bytes) -> bytes:
    """A name as git writes it, in quotes where it has odd signs."""
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
    except OSError as error:
        words = f"--files-from: '{source}' cannot be read: {bounded.why(error)}"
        raise Unwritable(words) from None
    ends = b"\0" in data
    for one in data.split(b"\0" if ends else b"\n"):
        path = os.fsdecode(one if ends else _unquoted(one.rstrip(b"\r\n")))
        if path.lower().endswith(ENDINGS) or (path and os.path.isdir(path)):
            yield path
