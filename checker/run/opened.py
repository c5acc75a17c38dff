"""A call whose meaning is known: its policy, its rules, its designs in groups."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sized
from datetime import date
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.structs import replace

from checker.reading.addresses import Listing
from checker.reading.design_files import answers_to, is_sheet, sheet_file
from checker.reading.ledger import FileState, counted
from checker.reading.mistakes import Unreadable
from checker.run import git
from checker.run.ending import problem_line, status
from checker.run.options import Options
from checker.run.policy import FolderPolicy, Policy
from checker.run.rules_in_force import rulebook
from checker.run.sheets import OWN_REPORT
from checker.run.telling import tell
from checker.run.writer import Unwritable
from checker.words.speech import AS_WRITTEN, POINT

if TYPE_CHECKING:
    from checker.notes.waivers import WaiverFile
    from checker.outcome.report import DesignReport
    from checker.reports import FormatOptions
    from checker.rulebook.book import Rulebook
    from checker.run.batch import Plan
    from checker.run.rules_in_force import Heads


class Group(Struct, frozen=True):
    """Consecutive designs with the same policy.

    Attributes:
        files: their paths; empty where `listing` finds them.
        options: those of the call under the policy.
        policy: that of their folders.
        known: the findings that they are compared with (`Baseline`); None where there are none.
        listing: finds the designs on demand, where `open_run` was allowed to; else None.
    """

    files: list[str]
    options: Options
    policy: FolderPolicy
    known: Any = None
    listing: Listing | None = None


class Session(Struct, frozen=True):
    """A whole call: its options and policy, its designs in groups, what cannot be read, its rules.

    Attributes:
        options: for all designs; those of a group may be stricter.
        policy: the policy of the call.
        groups: the designs that are judged.
        problems: why a path or a file beside the designs cannot be read.
        heads: what is needed of the rules without judging.
        compiled: the rules as they are kept.
        waivers: those that may count.
        today: the day by which they are judged.
        named: files that the call names itself.
        passed_over: files that are not judged, with why, in path order.
        idle: why nothing is judged, where nothing is and that is not a mistake.
        path_of: the path under which each file is shown.
        packs: all files of the firm's own rules.
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
        """Whether the call, or the policy at its root, excludes a path.

        Args:
            path: absolute, or from the working directory.

        Returns:
            What the policy of a folder below adds is not looked at.
        """
        return any(one.matches(path) for one in self.options.get("exclude") or ())

    @property
    def notes(self) -> list[str]:
        """A line for each setting in files beside the designs that is ignored."""
        return [*self.policy.notes]

    @property
    def altered(self) -> list[str]:
        """How a change alters the policy's files, where the call names a commit; else empty.

        Raises:
            Unwritable: git cannot answer.
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
        """How the designs of a group are judged and reported.

        Args:
            group: one of `groups`; None for a call without designs.
            formats: what is written about each design.
            remedies: whether to work out what would clear each grave finding.

        Returns:
            The same for every worker, with the compiled rules in it.
        """
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
        for name in ("known", "files_from", "stdin_path", "map"):
            own += filter(None, [self.options.get(name)])
        designs = [*self.named, *self.sheets]
        return [*designs, *map(answers_to, designs), *own, *self.packs]

    @property
    def sheets(self) -> list[str]:
        """The sheets that were found, judged or not.

        Reports of the program's own are left out, for they may be written again.
        """
        reports = {one.path for one in self.passed_over if one.why == OWN_REPORT}
        found = filter(is_sheet, self.path_of)
        return [sheet_file(path) for path in found if path not in reports]

    def judged(
        self,
        group: Group,
        by: Callable[..., tuple[list[Any], list[Unreadable]]],
        most: int = 0,
    ) -> tuple[list[Any], list[Unreadable]]:
        """Judge the designs of a group.

        Args:
            group: one of `groups`.
            by: judges (path, content) pairs by a plan, and returns results and mistakes, as
                `batch.check` does.
            most: how many designs it is given at a time at most, 0 for what is quickest.

        Returns:
            All results of `by`, in path order, and what is wrong with designs that cannot be
            judged.

        Raises:
            BadRules: the rules cannot be used.
        """
        found: list[Any] = []
        problems: list[Unreadable] = []
        for some, bad in self.judged_in_parts(group, by, most):
            found += some
            problems += bad
        return found, problems

    def judged_and_reported(
        self, by: Callable[..., tuple[list[Any], list[Unreadable]]]
    ) -> tuple[list[Any], list[Unreadable]]:
        """Judge all designs of the call, and write notes and problems to standard error.

        Args:
            by: as for `judged`.

        Returns:
            As `judged`; the problems of the call itself come first.

        Raises:
            Unwritable: there was nothing to judge, where that is a mistake (`judged_none`).
            BadRules: the rules cannot be used.
        """
        found: list[Any] = []
        problems = [*self.problems]
        for group in self.groups:
            some, bad = self.judged(group, by)
            found += some
            problems += bad
        tell(*self.notes, *map(problem_line, problems))
        self.judged_none(found, problems)
        return found, problems

    def judged_none(self, found: Sized, problems: Sized) -> bool:
        """Whether there was nothing to judge, which is then written to standard error.

        Args:
            found: what was judged.
            problems: what could not be.

        Returns:
            True where both are empty and the call states a reason for that (`idle`).

        Raises:
            Unwritable: both are empty by mistake: everything was excluded, or nothing was there.
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
        """Judge the one design of the call, with what it states.

        Args:
            named: the path in the call, for the message.

        Returns:
            Its report, and the exit status of the problems; None where it cannot be read, which is
            written to standard error.

        Raises:
            Unwritable: there are several designs, or none.
            BadRules: the rules cannot be used.
        """
        from checker.run import batch

        found, problems = self.judged_and_reported(
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
        """Judge the designs of a group, some at a time, while a bar shows the progress.

        Args:
            group: as for `judged`.
            by: as for `judged`.
            most: as for `judged`.

        Returns:
            Results and problems of some designs after another, so that not all are in memory at
            once.

        Raises:
            BadRules: the rules cannot be used.
        """
        from checker.run import batch
        from checker.run.judging import files_judged
        from checker.run.progress import at_once, progress_bar

        plan = self.plan(group)
        with progress_bar(len(group.files)) as advance:
            for files in batch.chunks(group.files, min(most or at_once(), at_once()), plan=plan):
                yield files_judged(files, plan, by, self.named)
                advance(len(files))
