"""The one way into a run: what a call means, its policy, its rules, its designs.

Every command that judges starts here, so that the same policy, pin, codes, rules, waivers and known
findings apply to each.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable, Iterable, Iterator, Sized
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.structs import replace

from checker.outcome.status import FAILED, UNUSABLE
from checker.reading.addresses import Listing
from checker.reading.design_files import Named, answers_to, listing
from checker.reading.ledger import FileState, counted
from checker.reading.mistakes import Crashed, Unreadable
from checker.run import git
from checker.run.changes import changed, folder_of, governed, within
from checker.run.designs_named import (
    far_away,
    folders_apart,
    named_designs,
    of_sheets,
    passed,
    refuse_unlike_files,
    show,
    shown_paths,
    why_nothing,
)
from checker.run.held_to import (
    baseline_of,
    demanded,
    files_of,
    known_rules,
    known_words,
    moved,
    pinned,
    rules_of,
    waivers_of,
)
from checker.run.options import (
    Call,
    Options,
    basis_options,
    judging_options,
    policy_options,
    rules_option,
)
from checker.run.policy import FolderPolicy, Policy, policy_of_call
from checker.run.policy_sources import BadPolicy
from checker.run.rules_in_force import rulebook
from checker.run.settings_files import BadSettings, forget
from checker.run.telling import refuse, tell
from checker.run.writer import Unwritable
from checker.words.speech import AS_WRITTEN, POINT

if TYPE_CHECKING:
    from checker.notes.waivers import WaiverFile
    from checker.outcome.report import DesignReport
    from checker.reports import FormatOptions
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
    """Consecutive designs with the same policy.

    listing: finds the designs on demand, where `open_run` was allowed to; files is empty then.
    """

    files: list[str]
    options: Options
    policy: FolderPolicy
    known: Any = None
    listing: Listing | None = None


class Session(Struct, frozen=True):
    """A whole call: its options and policy, its designs in groups, what cannot be read, its rules.

    compiled: the rules as they are kept; waivers: those that may count; today: the day by which
    they are judged; problems: why a path or a file beside the designs cannot be read; named: files
    that the call names itself; passed_over: files that are not judged, with why; idle: why there is
    nothing to judge, where that is not a mistake; path_of: the path under which each file is shown;
    forms: workbooks with answers to what was missing, which only a review reads.
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
    forms: tuple[str, ...] = ()

    @property
    def book(self) -> Rulebook:
        """The rules, complete."""
        return rulebook((), self.compiled)

    @property
    def files(self) -> list[str]:
        """All designs, in path order."""
        return [path for group in self.groups for path in group.files]

    def listed(self) -> Session:
        """The same with every design found."""
        groups, problems = [], [*self.problems]
        for group in self.groups:
            if group.listing is None:
                groups.append(group)
                continue
            groups.append(replace(group, files=[*group.listing], listing=None))
            problems += group.listing.problems
        return replace(self, groups=groups, problems=problems)

    def excludes(self, path: str) -> bool:
        """Whether the policy or the call excludes a path."""
        return any(one.matches(path) for one in self.options.get("exclude") or ())

    @property
    def notes(self) -> list[str]:
        """A line for each setting in files beside the designs that is ignored."""
        return [*self.policy.notes]

    @property
    def altered(self) -> list[str]:
        """How a change alters the policy's files, where the call names a commit; else empty.

        Raises Unwritable where git cannot answer.
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
        """A digest of all files of the policy."""
        known = [group.known.data for group in self.groups if group.known is not None]
        waivers = [repr(file).encode() for file in self.waivers]
        return self.policy.digest(*dict.fromkeys(known), *waivers)

    def plan(
        self,
        group: Group | None = None,
        formats: tuple[FormatOptions, ...] = (),
        *,
        remedies: bool = False,
    ) -> Plan:
        """How the designs of a group (None for a call without any) are judged and reported."""
        from checker.run.batch import Plan, newest_day

        options = self.options if group is None else group.options
        known = group.known if group is not None else None
        return Plan(
            codes=options.get("codes"),
            further_codes=group.policy.further_codes if group is not None else (),
            on=options.get("as_of"),
            compiled=self.compiled,
            strict=bool(options.get("strict")),
            formats=formats,
            waivers=self.waivers,
            today=self.today,
            newest_day=newest_day(self.options.get("today")),
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
        """The files that the call and its policy name, which no output may overwrite."""
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
        """Judge a group; returns the results, and what is wrong with designs that cannot be judged.

        by: a function that judges (path, content) pairs by a plan, as `batch.check` does; most: how
        many designs at a time at most, 0 for what is quickest.
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
        """The same for all designs of the call, whose notes and problems are written out."""
        found: list[Any] = []
        problems = [*self.problems]
        for group in self.groups:
            some, bad = self.judged(group, by)
            found += some
            problems += bad
        tell(*self.notes, *map(told, problems))
        self.judged_none(found, problems)
        return found, problems

    def judged_none(self, found: Sized, problems: Sized) -> bool:
        """Whether there was nothing to judge, which is then written out.

        Raises Unwritable where that is a mistake: everything was excluded, or nothing was there.
        """
        if found or problems:
            return False
        if not self.idle:
            why = counted(self.passed_over) or "no design was found"
            if len(self.passed_over) == 1:
                (one,) = self.passed_over
                why = f"{one.path} is passed over, {one.why.replace(': ', ' ', 1)}"
            raise Unwritable(f"nothing was judged: {why}")
        tell(f"nothing to judge: {self.idle}")
        return True

    def one_design(self, named: str) -> tuple[DesignReport | None, int]:
        """Judge the one design of the call, with what it states; returns the exit status too.

        None where it cannot be read, which is written out. Raises Unwritable for several designs.
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
        from checker.run.judging import files_judged
        from checker.run.progress import at_once, moving

        plan = self.plan(group)
        with moving(len(group.files)) as move:
            for files in batch.chunks(group.files, min(most or at_once(), at_once()), plan=plan):
                yield files_judged(files, plan, by, self.named)
                move(len(files))


def open_run(
    made: argparse.ArgumentParser,
    words: list[str],
    *,
    paths: Callable[[argparse.Namespace], list[str]] | None = None,
    judged: Callable[[argparse.Namespace], list[str]] | None = None,
    lazily: bool = False,
) -> Session:
    """Find out what a call means; raises Unwritable, BadSettings, BadPolicy or BadRules.

    Args:
        made: the command's parser.
        words: the words of the call.
        paths: returns the designs' paths, for a command without `judging_options`.
        judged: returns the paths from which no policy is taken, not even a stricter one.
        lazily: whether designs at addresses may be found on demand, where that is enough.
    """
    forget()
    refuse_unlike_files(words)
    call = Call(made, words)
    asked = argparse.Namespace(**{**call.defaults, "paths": [], **call.given})
    if paths is not None:
        asked.paths = paths(asked)
    apart = () if judged is None else tuple(folders_apart(judged(asked)))
    policy = policy_of_call(call.policy, call.policy_from, apart)
    whole = call.under(policy.base)
    if getattr(asked, "governed", False):
        asked.paths = governed(asked.paths, policy)
    far = far_away(asked) if lazily else ()
    far_policy = policy.at(os.getcwd()) if far else policy.base
    if call.under(far_policy).get("exclude"):
        far = ()  # what is passed over is counted and told, path by path
    found = Named([], []) if far else named_designs(made, asked)
    problems = [*found.problems]
    passed_over = [*found.passed_over]
    path_of = shown_paths(found.files, getattr(asked, "stdin_path", None))
    files = sorted(path_of, key=lambda path: path_of[path])
    forms: list[str] = []
    chosen: list[tuple[list[str], FolderPolicy, Options]] = []
    for folder, together in groupby(files, lambda path: folder_of(path_of[path])):
        own = list(together)
        try:
            local = policy.at(folder)
        except BadSettings as bad:
            problems.append(bad.problem)
            passed_over += [passed(path, "beside settings that cannot be used") for path in own]
            continue
        options = call.under(local)
        kept = []
        for path in own:
            globs = options.get("exclude") or ()
            glob = next((one for one in globs if one.matches(path_of[path])), None)
            if glob is None:
                kept.append(path)
            else:
                passed_over.append(passed(path, f"excluded: by '{glob}'"))
        taken = of_sheets(kept, found.named, asked)
        kept = taken.files
        problems += taken.problems
        passed_over += taken.passed_over
        forms += taken.forms
        path_of.update({path: path_of.get(path, path) for path in kept})
        show(taken.suggestions)
        if not kept:
            continue
        if chosen and chosen[-1][1] == local:
            chosen[-1][0].extend(kept)
        else:
            chosen.append((kept, local, options))
    compiled, rules, packs = rules_of(call, policy, whole, [options for _, _, options in chosen])
    pinned(policy.base, rules)
    differs = changed(asked, policy, packs, [path for own, _, _ in chosen for path in own])
    groups = []
    if far:
        pinned(far_policy, rules)
        options = call.under(far_policy)
        known_words("codes", "code", far_policy.further_codes, rules.codes)
        groups.append(Group([], options, far_policy, baseline_of(options, policy), listing(far)))
    for own, local, options in chosen:
        try:
            pinned(local, rules)
        except BadSettings as bad:
            problems.append(bad.problem)
            passed_over += [passed(path, "pinned to other rules") for path in own]
            continue
        known_words(options.where("codes"), "code", options.get("codes") or (), rules.codes)
        known_words("codes", "code", local.further_codes, rules.codes)
        kept = []
        for path in own:
            if any(within(path, pack) for pack in packs):
                passed_over.append(passed(path, "rules"))
            elif differs is not None and path not in differs:
                passed_over.append(passed(path, f"unchanged: since {asked.changed}"))
            else:
                kept.append(path)
        if kept:
            groups.append(Group(kept, options, local, moved(baseline_of(options, policy), kept)))
    known_words(whole.where("codes"), "code", whole.get("codes") or (), rules.codes)
    if "codes" in policy.base.values and "codes" not in call.given:
        where = f"{policy.base.values['codes'].origin}: codes"
        known_words(where, "code", policy.base.get("codes"), rules.codes)
    known_rules(whole.where("fail_on_open"), demanded(whole), rules)
    folders = {folder_of(path_of[path]) for group in groups for path in group.files}
    folders |= {folder_of(address) for address in far}
    waivers, bad_waivers = waivers_of(policy, folders)
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
        why_nothing(asked, found, passed_over) if not groups else "",
        path_of,
        tuple(one for pack in packs for one in files_of(pack)),
        tuple(sorted(forms)),
    )


def answered(command: Callable[[], int]) -> int:
    """Run a command; returns its exit status, and writes out why a call cannot be carried out."""
    try:
        return command()
    except BadSettings as bad_settings:
        tell(told(bad_settings.problem))
    except (Unwritable, BadPolicy) as error:
        refuse(str(error))
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
