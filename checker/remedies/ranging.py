"""Judges a design at steps of a range of values, in one pass."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from itertools import pairwise, product
from typing import NamedTuple

from msgspec import Struct

from checker.design.answer_files import beside
from checker.design.changes import BadChange, changed
from checker.design.tables import BadDesign, Tables
from checker.outcome.applicable import JudgingOptions
from checker.outcome.findings import judge
from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING, Measure, Severity
from checker.reading import yaml_reader
from checker.reading.design_files import is_json
from checker.rulebook.book import Rulebook
from checker.words.speech import Speech

STEPS = 10
"""Fewest steps of a range, at round numbers."""
MOST_POINTS = 400
"""Most points at which a design is judged; a longer table could not be read."""
_NUMBERS = re.compile(
    r"(?P<low>[-+−]?[0-9]*\.?[0-9]+)\s*(?P<unit>[^\d\s.][^.]*?)?\s*\.\.\s*"
    r"(?P<high>[-+−]?[0-9]*\.?[0-9]+)\s*(?P<end>[^\d\s.].*?)?"
    r"(?:\s+by\s+(?P<by>[0-9]*\.?[0-9]+)\s*(?P<by_unit>\S.*)?)?"
)
_DAYS = re.compile(r"(\d{4}-\d{2}-\d{2})\s*\.\.\s*(\d{4}-\d{2}-\d{2})")


class BadRange(Exception):
    """A range cannot be used; the message is for the user."""


class Ranged(NamedTuple):
    """A value that goes through a range.

    Attributes:
        path: of the value in the design.
        unit: of the numbers; `day` for days.
        texts: at each step, as typed.
        numbers: at each step; for days as `date.toordinal` numbers them.
    """

    path: str
    unit: str
    texts: tuple[str, ...]
    numbers: tuple[float, ...]


def is_range(words: str) -> bool:
    """Whether a change gives a range instead of a value.

    Args:
        words: `path=text`.

    Returns:
        True where the text reads like a range of numbers or days, also one that cannot be used.
    """
    text = words.partition("=")[2].strip()
    return bool(_NUMBERS.fullmatch(text) or _DAYS.fullmatch(text))


def read_range(words: str) -> Ranged:
    """Read a range as it is written.

    Args:
        words: 'plant.supply=35..45 °C', with ' by 2 K' where the step is given, or two days.

    Returns:
        The path, and the text and number at each step, both ends included; days one by one.

    Raises:
        BadRange: it is not written like that, falls instead of rising, or has too many steps.
    """
    path, _, text = (part.strip() for part in words.partition("="))
    days = _DAYS.fullmatch(text)
    if days is not None:
        try:
            first, last = (date.fromisoformat(day) for day in days.groups())
        except ValueError:
            raise BadRange(f"{words}: this is not a range of days") from None
        count = (last - first).days
        if not 0 < count < MOST_POINTS:
            raise BadRange(f"{words}: write the earlier day first, at most {MOST_POINTS} days")
        every = [first + timedelta(n) for n in range(count + 1)]
        texts = tuple(day.isoformat() for day in every)
        return Ranged(path, "day", texts, tuple(float(day.toordinal()) for day in every))
    found = _NUMBERS.fullmatch(text)
    if found is None:
        raise BadRange(f"{words}: write a range such as 'plant.supply=35..45 °C'")
    unit = (found["end"] or found["unit"] or "").strip()
    low, high = (float(found[end].replace("−", "-")) for end in ("low", "high"))
    if found["unit"] and found["end"] and found["unit"].strip() != unit:
        raise BadRange(f"{words}: give both ends in one unit")
    if not low < high:
        raise BadRange(f"{words}: write the smaller number first")
    step = float(found["by"]) if found["by"] else _round_step(high - low, whole=not unit)
    if not step > 0 or (high - low) / step > MOST_POINTS:
        raise BadRange(f"{words}: that are more than {MOST_POINTS} steps; take longer ones")
    numbers = [*_steps(low, high, step)]
    texts = tuple(f"{_plain(number)} {unit}".strip() for number in numbers)
    return Ranged(path, unit, texts, tuple(numbers))


def _round_step(width: float, *, whole: bool) -> float:
    """The longest round step that gives enough of them."""
    power = 10.0 ** math.floor(math.log10(width / STEPS))
    step = max(
        size * power for size in (1.0, 2.0, 2.5, 5.0) if width / (size * power) >= STEPS - 1e-9
    )
    return max(1.0, float(round(step))) if whole else step


def _steps(low: float, high: float, step: float) -> Iterator[float]:
    count = math.floor((high - low) / step + 1e-9)
    yield from (low + nth * step for nth in range(count + 1))
    if high - (low + count * step) > 1e-9 * max(1.0, abs(high)):
        yield high


def _plain(number: float) -> str:
    return f"{round(number, 9):.9f}".rstrip("0").rstrip(".") or "0"


class Point(Struct, frozen=True):
    """A design at one point of the ranges.

    Attributes:
        values: of each range, as they are written.
        verdict: as of any check; `unreadable` where the values cannot be used together.
        fails: how many of each severity.
        coverage: of the worst room; None where it is not known.
        surface: the hottest; None where it is not known.
        pump: the least head left over; None where it is not known.
        unreadable: why the design cannot be read with these values; empty where it can.
    """

    values: tuple[str, ...]
    verdict: str
    fails: dict[str, int]
    coverage: Measure | None = None
    surface: Measure | None = None
    pump: Measure | None = None
    unreadable: str = ""


class Turns(Struct, frozen=True):
    """A grave finding that begins or ends within a range.

    Attributes:
        rule: of the finding.
        subject: of the finding.
        severity: of the finding.
        passes: `from` the value on, or `up to` it.
        at: the value, as typed.
    """

    rule: str
    subject: str
    severity: Severity
    passes: str
    at: str


class WhatIf(Struct, frozen=True):
    """A design over ranges."""

    path: str
    name: str
    changes: tuple[str, ...]
    ranges: tuple[Ranged, ...]
    points: tuple[Point, ...]
    turns: tuple[Turns, ...]
    speech: Speech


def ranged(
    path: str,
    data: bytes,
    changes: Sequence[str],
    ranges: Sequence[Ranged],
    book: Rulebook,
    judging: JudgingOptions,
) -> WhatIf:
    """Judge a design at all points of some ranges.

    Args:
        path: the design's path, for messages and for the answers beside it.
        data: its bytes.
        changes: changes to make at every point.
        ranges: the ranges; every combination of their steps is a point.
        book: the rules.
        judging: the options of judging.

    Returns:
        The design at each point; for a single range also where grave findings begin or end.

    Raises:
        BadChange: a change cannot be made.
        Problem: the design's file is no YAML or JSON.
        BadDesign: the file of answers beside it has mistakes.
        BadRange: there are too many points, or none can be used.
    """
    count = math.prod(len(one.texts) for one in ranges)
    if count > MOST_POINTS:
        raise BadRange(
            f"the ranges have {count} points together, at most {MOST_POINTS}; take longer steps, "
            "'by 2 K'"
        )
    document = changed(yaml_reader.read(data, json=is_json(path)), changes)
    tables = Tables(book.codes)
    answers = beside(path)
    points: list[tuple[tuple[str, ...], str]] = []
    for texts in product(*(one.texts for one in ranges)):
        words = [f"{one.path}={text}" for one, text in zip(ranges, texts, strict=True)]
        try:
            tables.take(path, changed(document, words), data).beside = answers
            points.append((texts, ""))
        except BadDesign as refused:
            points.append((texts, refused.problems[0].message))
        except BadChange as bad:
            raise BadChange(str(bad)) from None
    reports = judge(tables, book, judging)
    named = iter(reports)
    found: list[tuple[Point, DesignReport | None]] = []
    for texts, wrong in points:
        report = None if wrong else next(named)
        point = Point(texts, "unreadable", {}, unreadable=wrong)
        found.append((point if report is None else _point(texts, report), report))
    first = next((one for _, one in found if one is not None), None)
    if first is None:
        raise BadRange(f"{ranges[0].path}: no value of the range can be used here: {points[0][1]}")
    turns = _turns(ranges[0], [one for _, one in found]) if len(ranges) == 1 else []
    return WhatIf(
        path,
        first.name,
        tuple(changes),
        tuple(ranges),
        tuple(point for point, _ in found),
        tuple(turns),
        first.speech,
    )


def _point(texts: tuple[str, ...], report: DesignReport) -> Point:
    """What a design comes to at one point."""
    fails: dict[str, int] = {}
    margins = []
    for place, pattern in enumerate(report.found.patterns):
        if pattern.kind == "fail":
            fails[pattern.severity] = fails.get(pattern.severity, 0) + 1
        if pattern.rule == "pump-duty" and pattern.kind in ("pass", "fail"):
            margin = report.result(place).margin
            if isinstance(margin, Measure) and margin.magnitude is not None:
                margins.append(margin)
    computed = report.found.computed()
    coverage = _known(computed, "rooms.", "coverage")
    surface = _known(computed, "loops.", "surface_max")
    return Point(
        texts,
        report.verdict,
        fails,
        min(coverage, key=_magnitude, default=None),
        max(surface, key=_magnitude, default=None),
        min(margins, key=_magnitude, default=None),
    )


def _known(computed: dict[str, dict[str, Measure]], section: str, name: str) -> list[Measure]:
    return [
        own[name]
        for subject, own in computed.items()
        if subject.startswith(section) and name in own and own[name].magnitude is not None
    ]


def _magnitude(measure: Measure) -> float:
    assert measure.magnitude is not None
    return measure.magnitude


def _turns(one: Ranged, reports: Sequence[DesignReport | None]) -> Iterator[Turns]:
    """Grave findings that begin or end once along a range."""
    names: dict[tuple[str, str], Severity] = {}
    failing: list[set[tuple[str, str]] | None] = []
    for report in reports:
        own = None
        if report is not None:
            fails = [r for r in report.results_of("fail") if r.severity in HOLDING]
            own = {(r.rule, r.subject) for r in fails}
            for r in fails:
                names.setdefault((r.rule, r.subject), r.severity)
        failing.append(own)
    for name, severity in names.items():
        course = [(nth, name in own) for nth, own in enumerate(failing) if own is not None]
        changes = [(before, after) for before, after in pairwise(course) if before[1] != after[1]]
        if len(changes) == 1:
            (before, fails_before), (after, _) = changes[0]
            passes, at = ("from", after) if fails_before else ("up to", before)
            yield Turns(*name, severity, passes, one.texts[at])
