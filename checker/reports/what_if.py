"""A design over a range of values: a table and a curve, for a terminal, a page or as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from checker.outcome.results import Measure
from checker.reports.chart_parts import STYLE, Shape, Stroke
from checker.reports.charts import Curve, curves
from checker.reports.terminal import Page
from checker.reports.verdicts import STYLES

if TYPE_CHECKING:
    from checker.remedies.ranging import Point, WhatIf

COLUMNS = (
    ("coverage", "least coverage of a room"),
    ("surface", "hottest surface"),
    ("pump", "head that the pump has left"),
)
"""The values that are shown over a range: the attribute of a `Point`, and its title."""
ROWS, WIDE = 9, 44
"""Lines and columns of a curve on a terminal."""


def text(found: Sequence[WhatIf], width: int, colour: bool) -> bytes:
    """The tables and curves for a terminal.

    Args:
        found: the designs over their ranges.
        width: columns of the terminal.
        colour: whether it shows colours.

    Returns:
        The page, as UTF-8; curves only where there is one range.
    """
    out = Page(width, colour)
    for one in found:
        out.line(one.name, style="bold")
        others = f", with {', '.join(one.changes)}" if one.changes else ""
        out.wrapped(f"{one.path}{others}. What if: the file is not changed.", first="", style="dim")
        out.line("")
        _table(out, one)
        out.line("")
        for turn in one.turns:
            words = f"{turn.rule} of {turn.subject} passes {turn.passes} {turn.at}."
            out.wrapped(words, first=f"{turn.severity.upper():<13}")
        if one.turns:
            out.line("")
        if len(one.ranges) == 1:
            for name, title in COLUMNS:
                _curve(out, one, name, title)
    return out.bytes()


def _value_text(one: WhatIf, value: Measure | None) -> str:
    if value is None or value.magnitude is None:
        return "–"
    return one.speech.measure(value.magnitude, value.unit)


def _table(out: Page, one: WhatIf) -> None:
    heads = [own.path.rsplit(".", 1)[-1] for own in one.ranges]
    rows = [
        [
            *point.values,
            point.verdict.upper(),
            str(point.fails.get("critical", 0) or "·"),
            str(point.fails.get("major", 0) or "·"),
            *(_value_text(one, getattr(point, name)) for name, _ in COLUMNS),
        ]
        for point in one.points
    ]
    head = [*heads, "VERDICT", "CRIT.", "MAJOR", "COVERAGE", "SURFACE", "PUMP LEFT"]
    widths = [max(len(row[n]) for row in (head, *rows)) for n in range(len(head))]

    def line(row: list[str]) -> str:
        return "  ".join(f"{cell:>{w}}" for cell, w in zip(row, widths, strict=True))

    out.line(
        line([cell.upper() if n >= len(heads) else cell for n, cell in enumerate(head)]), "bold"
    )
    for point, row in zip(one.points, rows, strict=True):
        out.line(line(row), STYLES.get(point.verdict, ""))
        if point.unreadable:
            out.wrapped(point.unreadable, first="    ", style="dim")


def _points(one: WhatIf, name: str) -> list[tuple[float, float, Point]]:
    found = []
    for number, point in zip(one.ranges[0].numbers, one.points, strict=True):
        value = getattr(point, name)
        if value is not None and value.magnitude is not None:
            found.append((number, one.speech.converted(value.magnitude, value.unit), point))
    return found


def _unit(one: WhatIf, name: str) -> str:
    units = {getattr(point, name).unit for point in one.points if getattr(point, name) is not None}
    return one.speech.unit(units.pop()) if units else ""


def _curve(out: Page, one: WhatIf, name: str, title: str) -> None:
    """The curve of a value, a sign for each step: ● where the design is released, × where it is
    not.
    """
    points = _points(one, name)
    if len(points) < 2:
        return
    ys = [y for _, y, _ in points]
    low, high = min(ys), max(ys)
    if high - low < 1e-9:
        return
    unit = _unit(one, name)
    out.line(f"{title}, {unit}, over {one.ranges[0].path}", style="bold")
    left, right = points[0][0], points[-1][0]
    wide = min(WIDE, out.width - 14)
    field = [[" "] * (wide + 1) for _ in range(ROWS)]
    for x, y, point in points:
        across = round((x - left) / (right - left) * wide)
        down = round((high - y) / (high - low) * (ROWS - 1))
        field[down][across] = {"release": "●", "hold": "×"}.get(point.verdict, "○")
    for nth, row in enumerate(field):
        mark = ""
        if nth in (0, ROWS - 1):
            mark = one.speech.number(high if nth == 0 else low)
        out.line(f"{mark:>9} │{''.join(row)}".rstrip())
    first, last = one.ranges[0].texts[0], one.ranges[0].texts[-1]
    out.line(" " * 10 + "└" + "─" * (wide + 1))
    out.line(" " * 11 + first + last.rjust(wide + 1 - len(first)))
    out.line(" " * 11 + "● release   ○ unproven   × hold", style="dim")
    out.line("")


def plain(one: WhatIf) -> dict[str, Any]:
    """A design over ranges, for JSON.

    Args:
        one: the design at every step of its ranges.

    Returns:
        Members as the format of the command has them, numbers in units of reports.
    """
    return {
        "path": one.path,
        "name": one.name,
        "changes": one.changes,
        "ranges": [{"path": own.path, "unit": own.unit, "values": own.texts} for own in one.ranges],
        "points": [
            {
                "values": point.values,
                "verdict": point.verdict,
                "fails": point.fails,
                **{
                    name: value
                    for name, _ in COLUMNS
                    if (value := getattr(point, name)) is not None
                },
                **({"unreadable": point.unreadable} if point.unreadable else {}),
            }
            for point in one.points
        ],
        "turns": one.turns,
    }


def html(found: Sequence[WhatIf]) -> bytes:
    """The tables and curves as a page of its own that needs no network.

    Args:
        found: the designs over their ranges.

    Returns:
        The page, as UTF-8.
    """
    from checker.reports.html import environment, style

    pages = [(one, [*_pictures(one)]) for one in found]
    template = environment().get_template("what_if.html")
    return template.render(
        pages=pages,
        columns=COLUMNS,
        value_text=_value_text,
        style=style("page.css") + STYLE,
    ).encode()


def _pictures(one: WhatIf) -> Iterator[tuple[str, Markup]]:
    if len(one.ranges) != 1:
        return
    for name, title in COLUMNS:
        points = _points(one, name)
        if len(points) < 2:
            continue
        on_hold = [(x, y) for x, y, point in points if point.verdict == "hold"]
        other = [(x, y) for x, y, point in points if point.verdict != "hold"]
        lines = [Curve(title, [(x, y) for x, y, _ in points], Stroke.SOLID)]
        if on_hold:
            lines.append(Curve("on hold there", on_hold, Stroke.NONE, Shape.CROSS))
        if other:
            lines.append(Curve("not on hold there", other, Stroke.NONE, Shape.DOT))
        own = one.ranges[0]
        spread = max(y for _, y, _ in points) - min(y for _, y, _ in points)
        picture = curves(own.unit, _unit(one, name), lines, around=0.1 * spread or 1.0)
        yield f"{title} over {own.path}", picture
