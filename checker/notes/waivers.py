"""Waivers: findings that somebody accepts, for a reason, until a day.

They are in `prescreed.waivers.yaml` beside the designs or in a folder above:

    waivers:
      - rule: loop-length
        subject: loops.L1          # or a pattern: loops.L*
        design: house.yaml         # or a pattern; left out: every design under this folder
        reason: The maker allows 120 m for this pipe.
        accepted_by: A. Designer
        accepted_on: 2026-03-12
        expires: 2026-12-31        # the last day on which it counts
        up_to: 110 m               # optional: the value up to which it counts

A waiver without a reason or a last day is a mistake, and so is one that lasts too long (more than
ten years; our convention) or is for everything of a kind. One that has expired or has no effect is
reported. No clock is read here: the caller passes the day.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from datetime import date
from fnmatch import fnmatchcase
from typing import Any

from msgspec import Struct

from checker import units
from checker.outcome.report import DesignReport, WaiverUse
from checker.outcome.results import Limit, Measure, Notes, Result, Waived
from checker.reading import yaml_reader
from checker.reading.design_files import sheet_file
from checker.reading.documents import Mapping, Problem, Sequence, line_of
from checker.reading.mistakes import Unreadable
from checker.reading.paths import path_from
from checker.words import choices, how_many

NEEDED = ("rule", "subject", "reason", "accepted_by", "accepted_on", "expires")
KEYS = (*NEEDED, "design", "up_to")
WAIVED_KINDS = ("fail", "open")


class BadWaivers(Exception):
    """A file of waivers cannot be used; holds each mistake with its place."""

    def __init__(self, problems: list[Unreadable]) -> None:
        super().__init__(problems[0].message)
        self.problems = problems


class Waiver(Struct, frozen=True):
    """One entry of a file of waivers.

    Attributes:
        path: of the file, as reports name it.
        line: from 1.
        rule: its id.
        subject: as reports name it, or a pattern.
        design: a path from the file's folder, or a pattern.
        reason: in one line.
        by: who accepted it.
        on: the day of that, on which it begins to count.
        until: the last day on which it counts.
        up_to: the value up to which it counts, as written; empty for any value.
    """

    path: str
    line: int
    rule: str
    subject: str
    design: str
    reason: str
    by: str
    on: date
    until: date
    up_to: str


class WaiverFile(Struct, frozen=True):
    """The waivers of one file.

    Attributes:
        folder: absolute path of the folder whose designs it may be for.
        path: as reports name the file.
        waivers: in file order.
    """

    folder: str
    path: str
    waivers: tuple[Waiver, ...]

    def name_of(self, path: str) -> str:
        """A design's path as the file's waivers name it.

        Args:
            path: of the design, absolute.

        Returns:
            From the file's folder, with `/` between folders; empty for one that is not under it.
        """
        name = path_from(path, self.folder)
        return "" if name.startswith(os.pardir) else name


def load(data: bytes, shown: str, folder: str) -> WaiverFile:
    """Read a file of waivers.

    Args:
        data: the file's bytes.
        shown: how reports name it.
        folder: the absolute folder whose designs it may be for.

    Returns:
        All waivers, in file order.

    Raises:
        BadWaivers: with every mistake in the file.
    """
    try:
        mapping = yaml_reader.read(data, first="waivers:")
        entries = _entries(mapping)
    except Problem as problem:
        raise BadWaivers([_as_unreadable(shown, problem)]) from None
    waivers, problems = [], []
    for entry, place in entries:
        try:
            waivers.append(_waiver(shown, entry, place))
        except Problem as problem:
            problems.append(_as_unreadable(shown, problem))
    if problems:
        raise BadWaivers(problems)
    return WaiverFile(folder, shown, tuple(waivers))


def accept(
    design: DesignReport,
    whole: str,
    files: Iterable[WaiverFile],
    today: date,
    waivable: frozenset[str],
) -> dict[int, Notes]:
    """Find the findings of a design that waivers accept.

    What became of each waiver that names a finding is put into `design.waivers`.

    Args:
        design: the design's report.
        whole: the design's absolute path.
        files: the waivers.
        today: the day by which they are judged.
        waivable: the rules whose critical findings may be waived.

    Returns:
        For each accepted finding, by its index, the note that says so.
    """
    # Few of many waivers are for what is found here, and patterns are slow to compare.
    found = {one.rule for one in design.found.patterns if one.kind in WAIVED_KINDS}
    of_rule: dict[str, list[Waiver]] = {}
    for file in files:
        if not (within := file.name_of(whole)):
            continue
        for waiver in file.waivers:
            if waiver.rule in found and _like(within, waiver.design):
                of_rule.setdefault(waiver.rule, []).append(waiver)
    notes: dict[int, Notes] = {}
    uses: dict[tuple[str, int], WaiverUse] = {}
    for place, pattern in enumerate(design.found.patterns):
        if pattern.kind not in WAIVED_KINDS or pattern.rule not in of_rule:
            continue
        result = design.result(place)
        for waiver in of_rule[result.rule]:
            if not _like(result.subject, waiver.subject):
                continue
            use = uses.setdefault((waiver.path, waiver.line), use_of(waiver))
            refusal = _refusal(waiver, result, today, waivable)
            if refusal:
                use.refused[refusal] = use.refused.get(refusal, 0) + 1
                continue
            use.waives += 1
            until = waiver.until.isoformat()
            notes.setdefault(place, Notes(Waived(waiver.reason, waiver.by, until)))
    design.waivers = list(uses.values())
    return notes


def use_of(waiver: Waiver) -> WaiverUse:
    """The record of a waiver that has not been used yet.

    Args:
        waiver: one entry of a file.

    Returns:
        To be filled in by the caller.
    """
    return WaiverUse(
        waiver.path,
        waiver.line,
        waiver.rule,
        waiver.subject,
        waiver.reason,
        waiver.by,
        waiver.until.isoformat(),
        refused={},
        problems=[],
    )


def settled(
    uses: list[WaiverUse],
    files: Iterable[WaiverFile],
    today: date,
    judged: frozenset[str],
    rules: Iterable[str],
) -> list[WaiverUse]:
    """Every waiver of these files in order, with what is wrong with it.

    A waiver is called unused only where every design that it may be for was judged: a run over the
    changed files must not report the waivers of the others.

    Args:
        uses: what became of the waivers that name a finding; problems are added to these records.
        files: the waivers.
        today: the day by which they are judged.
        judged: the absolute paths of the designs that this run could read.
        rules: all rule ids.

    Returns:
        One for each waiver, in the order of the files and of their entries.
    """
    known = {(use.path, use.line): use for use in uses}
    rule_ids = list(rules)
    all_uses = []
    for file in files:
        left = _not_judged(file, judged)
        for waiver in file.waivers:
            use = known.get((waiver.path, waiver.line)) or use_of(waiver)
            if waiver.rule not in rule_ids:
                use.problems.append(
                    f"There is no rule '{waiver.rule}'; {choices(waiver.rule, rule_ids)}"
                )
            elif today > waiver.until:
                use.problems.append(
                    f"It expired after {waiver.until.isoformat()}: what it waived counts again. "
                    "Mend that, or have it accepted again."
                )
            elif (
                not use.waives
                and not use.refused
                and not any(_like(path, sheet_file(waiver.design)) for path in left)
            ):
                use.problems.append("It waives nothing. Take it out.")
            use.problems += [
                f"It is not applied to {how_many(count, 'finding')} that it names: {reason}"
                for reason, count in use.refused.items()
                if not reason.startswith(_EXPIRED)
            ]
            all_uses.append(use)
    return all_uses


_EXPIRED = "it expired"
_SET = re.compile(r"\[[^]]*\]")
_NUMBER = re.compile(r"[-+]?[0-9]+(\.[0-9]+)?([eE][-+]?[0-9]{1,2})?(?![\w.,]*[0-9_])")
LONGEST = 10
"""The longest time for which a waiver may count, in years; our convention."""


def _refusal(waiver: Waiver, result: Result, today: date, waivable: frozenset[str]) -> str:
    """Why a waiver that names a finding does not accept it; empty where it does."""
    if today > waiver.until:
        return f"{_EXPIRED} after {waiver.until.isoformat()}."
    if today < waiver.on:
        return f"it is accepted from {waiver.on.isoformat()} on."
    if result.severity == "critical" and result.rule not in waivable:
        return "its rule is critical, and the rules do not allow it to be waived."
    if waiver.up_to and result.kind == "fail":
        return _beyond(waiver.up_to, result)
    return ""


def _beyond(up_to: str, result: Result) -> str:
    """Why a value is beyond what its waiver accepts; empty where it is not."""
    value, limit = result.value, result.limit
    if not isinstance(value, Measure) or value.magnitude is None or not isinstance(limit, Limit):
        return f"'up_to: {up_to}' says nothing about a value that is not a number."
    try:
        bound = _in_unit(up_to, value.unit)
    except ValueError as error:
        return f"'up_to': {error}"
    at_least = limit.at_least or (limit.between[0] if limit.between else None)
    below = at_least and at_least.magnitude is not None and value.magnitude < at_least.magnitude
    # Equal holds, as everywhere; the numbers went through a change of unit.
    slack = 1e-9 * max(1.0, abs(bound))
    excess = bound - value.magnitude if below else value.magnitude - bound
    if excess > slack:
        return f"the value is beyond {up_to}, up to which it was accepted."
    return ""


def _in_unit(text: str, unit: str) -> float:
    if unit == "1":
        if not _NUMBER.fullmatch(text):
            raise ValueError(f"'{text}' is not a plain number, as this rule's values are.")
        return float(text)
    kind = units.kind_of(unit)
    return units.from_si(units.parse(text, kind), unit, kind)


def _too_broad(subject: str) -> bool:
    """Whether a subject is a pattern that selects nothing in particular: `*`, `loops.*`, `l*`."""
    section, dot, name = _SET.sub("?", subject).partition(".")
    return any(sign in section for sign in "*?") or (bool(dot) and not name.strip("*?"))


def _up_to(entry: Mapping) -> str:
    """The value up to which a waiver counts; raises Problem where it is not a number."""
    text: str = entry.get("up_to", "").strip()
    if text and not _NUMBER.match(text):
        words = (
            f"up_to: '{text}' is not a value such as '110 m', or '3' where the rule has no unit."
        )
        raise Problem(words, entry.places["up_to"][1])
    return text


def _like(text: str, pattern: str) -> bool:
    """The same as `fnmatchcase`, which is slow for many patterns, above all for those without a
    wildcard.
    """
    if pattern in ("*", text) or not any(sign in pattern for sign in "*?["):
        return pattern in ("*", text)
    return fnmatchcase(text, pattern)


def _not_judged(file: WaiverFile, judged: frozenset[str]) -> list[str]:
    """The designs, and workbooks of designs, that the file's waivers may be for and that were not
    judged, relative to its folder.
    """
    from checker.reading.design_files import designs

    read = {sheet_file(path) for path in judged}
    return [
        os.path.relpath(path, file.folder).replace(os.sep, "/")
        for path in designs([file.folder]).files
        if os.path.abspath(path) not in read
    ]


def _entries(mapping: Mapping) -> list[tuple[Any, Any]]:
    for key in mapping:
        if key != "waivers":
            where = mapping.places[key][0]
            raise Problem(f"'{key}' is not known here; {choices(str(key), ['waivers'])}", where)
    entries = mapping.get("waivers")
    if not isinstance(entries, Sequence):
        place = mapping.places["waivers"][1] if "waivers" in mapping else mapping.place
        raise Problem("'waivers' should be a list, an entry '- rule: …' for each.", place)
    return list(zip(entries, entries.places, strict=True))


def _waiver(shown: str, entry: Any, place: Any) -> Waiver:
    if not isinstance(entry, Mapping):
        raise Problem("A waiver is a mapping: '- rule: …', and its other keys below.", place)
    for key, value in entry.items():
        if key not in KEYS:
            where = entry.places[key][0]
            raise Problem(f"'{key}' is not known in a waiver; {choices(str(key), KEYS)}", where)
        if not isinstance(value, str) or not value.strip():
            raise Problem(f"'{key}' should be a text.", entry.places[key][1])
    for key in NEEDED:
        if key not in entry:
            why = {
                "reason": "a finding is only waived for a reason",
                "expires": "a waiver holds up to a day, such as 'expires: 2026-12-31'",
            }.get(key, "a waiver has one")
            raise Problem(f"The key '{key}' is missing; {why}.", entry.place)
    accepted, expires = _day(entry, "accepted_on"), _day(entry, "expires")
    if expires.year - accepted.year > LONGEST:
        words = (
            f"expires: {expires} is too far off: a waiver lasts at most {LONGEST} years after it "
            f"was accepted, and is then reviewed again."
        )
        raise Problem(words, entry.places["expires"][1])
    up_to = _up_to(entry)
    subject = entry["subject"].strip()
    if not up_to and _too_broad(subject):
        words = (
            f"subject: '{subject}' is too broad: it names no one subject. Name those that are "
            "meant, or say with 'up_to' how far it holds."
        )
        raise Problem(words, entry.places["subject"][1])
    return Waiver(
        shown,
        line_of(entry.place),
        entry["rule"].strip(),
        subject,
        entry.get("design", "*").strip(),
        " ".join(entry["reason"].split()),
        entry["accepted_by"].strip(),
        accepted,
        expires,
        up_to,
    )


def _day(entry: Mapping, key: str) -> date:
    try:
        return date.fromisoformat(entry[key].strip())
    except ValueError:
        words = f"{key}: '{entry[key]}' is not a date such as 2026-12-31."
        raise Problem(words, entry.places[key][1]) from None


def _as_unreadable(shown: str, problem: Problem) -> Unreadable:
    return Unreadable(shown, problem.line, problem.column, problem.message)
