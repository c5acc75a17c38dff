"""Joins findings that say the same about several subjects."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from msgspec import UNSET
from msgspec.structs import replace

from checker.outcome.results import COMES_OF, SEVERITIES, Measure, Result, Severity
from checker.words.speech import Speech

MOST_NAMED = 6
"""At most this many subjects are named."""

_NUMBERED = re.compile("(.*?)([0-9]{1,9})")
_GAP = "\ue000"


class Joined(NamedTuple):
    """Results of one rule in the same words.

    Attributes:
        result: the first of them.
        subjects: of all of them, as reports name them.
        where: lines, or cells of a sheet, in words.
        message: about all of them.
        under: findings that they cause, which are listed under them.
    """

    result: Result
    subjects: list[str]
    where: str
    message: str
    under: tuple[Joined, ...] = ()

    @property
    def severity(self) -> Severity:
        """The gravest severity of these results and those under them."""
        severities = (self.result.severity, *(one.result.severity for one in self.under))
        return min(severities, key=SEVERITIES.index)

    @property
    def below(self) -> Iterator[tuple[Joined, str]]:
        """The findings under it, each with its words, without what it is caused by."""
        comes_of = COMES_OF.format(self.result.rule)
        for one in self.under:
            yield one, one.message.removesuffix(comes_of)


def joined(results: Iterable[Result], speech: Speech) -> list[Joined]:
    """Join the results that differ only in subject and value.

    A result that another one causes is listed under that one, at the place of the first of the two.

    Args:
        results: of one design; their order stays.
        speech: how values are shown.

    Returns:
        The joined results, each at the place of the first of its own; with the range of several
        values in the message.
    """
    results = [*results]
    causes = {(one.rule, one.subject): one for one in results if not one.under}
    below: dict[tuple[str, str], list[Result]] = {}
    own: dict[int, Result] = {}
    for one in results:
        cause = causes.get((one.under.rule, one.under.subject)) if one.under else None
        if cause is not None:
            below.setdefault((cause.rule, cause.subject), []).append(one)
        leading = cause or one
        own.setdefault(id(leading), leading)
    found = _alike(own.values(), speech)
    if not below:
        return found
    return [
        one._replace(
            under=tuple(
                _alike(
                    (
                        result
                        for subject in one.subjects
                        for result in below.get((one.result.rule, subject), ())
                    ),
                    speech,
                )
            )
        )
        for one in found
    ]


def _alike(results: Iterable[Result], speech: Speech) -> list[Joined]:
    groups: dict[Result, list[Result]] = {}
    for result in results:
        groups.setdefault(_in_common(result, speech), []).append(result)
    return [
        Joined(
            own[0],
            [result.subject for result in own],
            placed(own),
            _message(common, own, speech),
        )
        for common, own in groups.items()
    ]


def named(subjects: Sequence[str]) -> str:
    """Subjects of one section in words: `loops.L1, L2`, `loops.L0 to L39 (40 loops)`.

    Args:
        subjects: as reports name them, at least one, all of one section.

    Returns:
        All of them up to six; more as a range where their numbers are consecutive, else the first
        six and how many more there are.
    """
    if len(subjects) == 1:
        return subjects[0]
    section = subjects[0].partition(".")[0]
    ids = [subject.partition(".")[2] for subject in subjects]
    if len(ids) <= MOST_NAMED:
        return f"{section}.{', '.join(ids)}"
    if _in_a_row(ids):
        return f"{section}.{ids[0]} to {ids[-1]} ({len(ids)} {section.replace('_', ' ')})"
    return f"{section}.{', '.join(ids[:MOST_NAMED])} and {len(ids) - MOST_NAMED} more"


def placed(results: Sequence[Result]) -> str:
    """Places of results in words: lines of a file, or cells of a sheet: `Loops C7, C9`.

    Args:
        results: at least one, of one design.

    Returns:
        Each place once; where one result has a cell, only cells.
    """
    cells = [*dict.fromkeys(result.cell for result in results if result.cell)]
    if not cells:
        return lined([*dict.fromkeys(result.line for result in results)])
    sheets: dict[str, list[str]] = {}
    for cell in cells:
        sheet, _, address = cell.rpartition(" ")
        sheets.setdefault(sheet, []).append(address)
    return ", ".join(
        f"{sheet} {', '.join(own)}"
        if len(own) <= MOST_NAMED
        else f"{sheet} {own[0]} to {own[-1]} ({len(own)} cells)"
        for sheet, own in sheets.items()
    )


def lined(lines: Sequence[int]) -> str:
    """Lines of a file in words: `line 7`, `lines 7, 9`, `lines 7 to 46`.

    Args:
        lines: numbers from 1, at least one.

    Returns:
        Each line up to six; of more only the first and the last.
    """
    if len(lines) == 1:
        return f"line {lines[0]}"
    if len(lines) <= MOST_NAMED:
        return f"lines {', '.join(str(line) for line in lines)}"
    return f"lines {min(lines)} to {max(lines)}"


def lacking(missing: dict[str, list[str]]) -> list[tuple[str, list[str]]]:
    """Missing data with the rules that need them; the same datum of several subjects is joined.

    Args:
        missing: by the words for what is missing (`loops.L1: its length`), the rules' ids; what has
            no subject before a colon is left as it is.

    Returns:
        Words and rules, in the order of the first of those that were joined.
    """
    groups: dict[tuple[str, str, tuple[str, ...]], list[str]] = {}
    for lack, rules in missing.items():
        subject, _, words = lack.partition(": ")
        section = subject.partition(".")[0] if words else ""
        groups.setdefault((section, words, tuple(rules)), []).append(subject)
    lines = []
    for (_, words, wanting), subjects in groups.items():
        # A lack without a subject is the whole of what is said.
        each = [f"{named(subjects)}: {words}"] if words else subjects
        lines += [(one, list(wanting)) for one in each]
    return lines


def _in_common(result: Result, speech: Speech) -> Result:
    """The result without what distinguishes it from others of its kind."""
    message = result.message
    if isinstance(result.value, Measure) and result.value.magnitude is not None:
        before, found, after = message.partition(_value_text(result.value, speech))
        message = f"{before}{_GAP}{after}" if found else message
    return replace(
        result,
        subject=result.subject.partition(".")[0],
        line=0,
        column=0,
        cell=UNSET,
        fingerprint="",
        value=UNSET,
        margin=UNSET,
        message=message,
    )


def _message(common: Result, own: list[Result], speech: Speech) -> str:
    """The message about all of them: of several values the range."""
    values = [one.value for one in own if isinstance(one.value, Measure)]
    if len({one.message for one in own}) == 1 or _GAP not in common.message:
        return own[0].message
    ordered = sorted(values, key=lambda value: value.magnitude or 0.0)
    spread = " to ".join(_value_text(one, speech) for one in (ordered[0], ordered[-1]))
    return common.message.replace(_GAP, spread)


def _value_text(value: Measure, speech: Speech) -> str:
    assert value.magnitude is not None
    return speech.measure(value.magnitude, value.unit)


def _in_a_row(ids: Sequence[str]) -> bool:
    """Whether the ids are one name with consecutive numbers."""
    first = _NUMBERED.fullmatch(ids[0])
    if first is None:
        return False
    name, digits = first.groups()
    numbers = range(int(digits), int(digits) + len(ids))
    return [*ids] == [f"{name}{number:0{len(digits)}}" for number in numbers]
