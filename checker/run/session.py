"""The one way into a run: what a call means, its policy, its rules, its designs.

Every command that judges starts here, so that the same policy, pin, codes, rules, waivers and known
findings apply to each.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable
from datetime import date

from checker.outcome.status import UNUSABLE
from checker.reading.design_files import Named, listing
from checker.run.changes import folder_of, governed
from checker.run.designs_named import (
    folders_apart,
    named_designs,
    only_addresses,
    refuse_unlike_files,
    why_nothing,
)
from checker.run.ending import answered, problem_line, status
from checker.run.grouping import Grouping
from checker.run.held_to import (
    baseline_of,
    check_pins,
    demanded,
    files_of,
    refuse_unknown,
    refuse_unknown_rules,
    rules_of,
    waivers_of,
)
from checker.run.opened import Group, Session
from checker.run.options import (
    Call,
    basis_options,
    judging_options,
    policy_options,
    rules_option,
)
from checker.run.policy import policy_of_call
from checker.run.settings_files import forget

__all__ = [
    "UNUSABLE",
    "Group",
    "Session",
    "answered",
    "basis_options",
    "judging_options",
    "open_run",
    "policy_options",
    "problem_line",
    "rules_option",
    "status",
]


def open_run(
    made: argparse.ArgumentParser,
    words: list[str],
    *,
    paths: Callable[[argparse.Namespace], list[str]] | None = None,
    judged: Callable[[argparse.Namespace], list[str]] | None = None,
    lazily: bool = False,
) -> Session:
    """Find out what a call means.

    Args:
        made: the command's parser.
        words: the words of the call.
        paths: returns the designs' paths, for a command without `judging_options`.
        judged: returns the paths from which no policy is taken, not even a stricter one.
        lazily: whether designs at addresses may be found on demand, where that is enough.

    Returns:
        The call with policy, rules and designs; no design has been read yet, except from sheets.

    Raises:
        Unwritable: the call itself, or a file that it names, cannot be used.
        BadSettings: the policy's settings have a mistake; those in a subfolder are among
            `problems`.
        BadPolicy: the policy cannot be read.
        BadRules: the rules cannot be used.
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
        asked.paths = governed(asked, policy)
    far = only_addresses(asked) if lazily else ()
    far_policy = policy.at(os.getcwd()) if far else policy.base
    if call.under(far_policy).get("exclude"):
        far = ()  # what is passed over is counted and listed, path by path
    found = Named([], []) if far else named_designs(made, asked)
    grouping = Grouping(call, policy, asked, found)
    compiled, rules, packs = rules_of(call, policy, whole, grouping.options)
    check_pins(policy.base, rules)
    groups = []
    if far:
        check_pins(far_policy, rules)
        options = call.under(far_policy)
        refuse_unknown("codes", "code", far_policy.further_codes, rules.codes)
        groups.append(Group([], options, far_policy, baseline_of(options, policy), listing(far)))
    groups += grouping.groups(rules, packs)
    refuse_unknown(whole.where("codes"), "code", whole.get("codes") or (), rules.codes)
    if "codes" in policy.base.values and "codes" not in call.given:
        where = f"{policy.base.values['codes'].origin}: codes"
        refuse_unknown(where, "code", policy.base.get("codes"), rules.codes)
    refuse_unknown_rules(whole.where("fail_on_open"), demanded(whole), rules)
    folders = {folder_of(grouping.path_of[path]) for group in groups for path in group.files}
    folders |= {folder_of(address) for address in far}
    waivers, bad_waivers = waivers_of(policy, folders)
    return Session(
        whole,
        policy,
        groups,
        list(dict.fromkeys([*grouping.problems, *bad_waivers])),
        rules,
        compiled,
        tuple(waivers),
        whole.get("today") or date.today(),
        found.named,
        tuple(sorted(grouping.passed_over, key=lambda one: one.path)),
        why_nothing(asked, found, grouping.passed_over, judged=bool(groups)),
        grouping.path_of,
        tuple(one for pack in packs for one in files_of(pack)),
        tuple(sorted(grouping.forms)),
    )
