"""Groups the designs of a call by the policy that they are held to."""

from __future__ import annotations

import argparse
from itertools import groupby
from typing import NamedTuple

from msgspec.structs import replace

from checker.reading.design_files import Named, is_sheet
from checker.reading.paths import within
from checker.run.changes import changed, folder_of
from checker.run.designs_named import of_sheets, passed, show_suggested_maps, shown_paths
from checker.run.held_to import (
    baseline_of,
    check_pins,
    demanded,
    moved,
    refuse_unknown,
    refuse_unknown_rules,
)
from checker.run.opened import Group
from checker.run.options import Call, Options
from checker.run.policy import FolderPolicy, Policy
from checker.run.rules_in_force import Heads
from checker.run.settings_files import BadSettings


class _Together(NamedTuple):
    """Designs with the same policy, before the rules are known."""

    files: list[str]
    policy: FolderPolicy
    options: Options


class Grouping:
    """The designs of a call, first by the policies of their folders, then as groups.

    The lists grow until `groups` has returned.

    Attributes:
        problems: why a path, or the settings beside some designs, cannot be used.
        passed_over: files that are not judged, with why.
        path_of: the path under which each file is shown.
        forms: workbooks with answers to what was missing.
    """

    def __init__(self, call: Call, policy: Policy, asked: argparse.Namespace, found: Named) -> None:
        """Find the policy of each design, and the designs in sheets.

        Args:
            call: the words of the call.
            policy: its policy.
            asked: its options without a policy.
            found: the designs that it names.

        Raises:
            Unwritable: the call's map cannot be read, or has a mistake.
        """
        self.call, self.policy, self.asked = call, policy, asked
        self.named = found.named
        self.problems = [*found.problems]
        self.passed_over = [*found.passed_over]
        self.path_of = shown_paths(found.files, getattr(asked, "stdin_path", None))
        self.forms: list[str] = []
        self._together: list[_Together] = []
        files = sorted(self.path_of, key=self.path_of.__getitem__)
        for folder, own in groupby(files, lambda path: folder_of(self.path_of[path])):
            self._take(folder, list(own))

    @property
    def options(self) -> list[Options]:
        """The options of each policy that some designs have."""
        return [one.options for one in self._together]

    def _take(self, folder: str, files: list[str]) -> None:
        """Take the designs of one folder."""
        try:
            local = self.policy.at(folder)
        except BadSettings as bad:
            self._refuse(files, bad, "beside settings that cannot be used")
            return
        options = self.call.under(local)
        taken = of_sheets(self._included(files, options), self.named, self.asked)
        self.problems += taken.problems
        self.passed_over += taken.passed_over
        self.forms += taken.forms
        self.path_of.update({path: self.path_of.get(path, path) for path in taken.files})
        show_suggested_maps(taken.suggestions)
        kept = taken.files
        if any(map(is_sheet, kept)):
            kept = self._included(kept, options)  # one design of a workbook may be excluded, too
        if not kept:
            return
        if self._together and self._together[-1].policy == local:
            self._together[-1].files.extend(kept)
        else:
            self._together.append(_Together(kept, local, options))

    def _included(self, files: list[str], options: Options) -> list[str]:
        """Those of the files that no pattern excludes."""
        kept = []
        for path in files:
            globs = options.get("exclude") or ()
            glob = next((one for one in globs if one.matches(self.path_of[path])), None)
            if glob is None:
                kept.append(path)
            else:
                self.passed_over.append(passed(path, f"excluded: by '{glob}'"))
        return kept

    def groups(self, rules: Heads, packs: list[str]) -> list[Group]:
        """The groups that are judged, without unchanged designs where the call wants only others.

        Args:
            rules: those in force.
            packs: the paths of the firm's own rules, which are no designs.

        Returns:
            In path order, none of them empty.

        Raises:
            Unwritable: a code does not exist, git cannot answer, or known findings cannot be read.
        """
        files = [path for one in self._together for path in one.files]
        stated = dict.fromkeys(one.options.get("known") or "" for one in self._together)
        differs = changed(self.asked, self.policy, packs, files, filter(None, stated))
        found: list[Group] = []
        for files, local, options in self._together:
            try:
                check_pins(local, rules)
            except BadSettings as bad:
                self._refuse(files, bad, "pinned to other rules")
                continue
            refuse_unknown(options.where("codes"), "code", options.get("codes") or (), rules.codes)
            refuse_unknown("codes", "code", local.further_codes, rules.codes)
            refuse_unknown_rules(options.where("fail_on_open"), demanded(options), rules)
            kept = self._to_judge(files, packs, differs)
            if kept:
                found.append(Group(kept, options, local, baseline_of(options, self.policy)))
        # Of all designs together, for what is copied into two folders was moved to neither.
        kept = [path for one in found for path in one.files]
        known = {one.known: moved(one.known, kept) for one in found}
        return [replace(one, known=known[one.known]) for one in found]

    def _to_judge(self, files: list[str], packs: list[str], differs: set[str] | None) -> list[str]:
        """Those of the files that are no rules, and that differ where that is asked."""
        kept = []
        for path in files:
            if any(within(path, pack) for pack in packs):
                self.passed_over.append(passed(path, "rules"))
            elif differs is not None and path not in differs:
                self.passed_over.append(passed(path, f"unchanged: since {self.asked.changed}"))
            else:
                kept.append(path)
        return kept

    def _refuse(self, files: list[str], bad: BadSettings, why: str) -> None:
        self.problems.append(bad.problem)
        self.passed_over += [passed(path, why) for path in files]
