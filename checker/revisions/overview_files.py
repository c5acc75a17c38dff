"""The overview as pictures on its page, and as a workbook."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date
from io import BytesIO
from typing import NamedTuple

from markupsafe import Markup

from checker.reports.chart_parts import Mark, Shape, Stroke
from checker.reports.charts import Curve, Row, curves, rows
from checker.revisions.overview import STANDINGS, Overview
from checker.revisions.tallies import Table
from checker.words.workbook import workbook

LONGEST_TITLE = 31
"""Longest name of a sheet in spreadsheet programs, in characters."""


class Picture(NamedTuple):
    """A picture with its title; the tables hold the same numbers."""

    title: str
    drawing: Markup


def pictures(found: Overview) -> Iterator[Picture]:
    """Pictures of designs by state, waiting points by contractor, and points over time.

    Args:
        found: the overview.

    Returns:
        Those for which there is something to show.
    """
    standing = [
        Row(name, (Mark(Shape.BAR, 0.0, float(count)),), str(count))
        for name in STANDINGS
        if (count := sum(one.standing == name for one in found.designs))
    ]
    if standing:
        yield Picture(
            "Designs, the worst first", rows("designs", standing, {}, start=0, counted=True)
        )
    waiting = [
        Row(one.contractor, (Mark(Shape.BAR, 0.0, float(count)),), str(count))
        for one in found.contractors
        if (count := one.points["asked"])
    ]
    if waiting:
        yield Picture(
            "Points asked for, by contractor", rows("points", waiting, {}, start=0, counted=True)
        )
    if len(found.trend) > 1:
        first = date.fromisoformat(found.trend[0].on)
        days = [float((date.fromisoformat(one.on) - first).days) for one in found.trend]
        asked = [*zip(days, (float(one.asked) for one in found.trend), strict=True)]
        settled = [*zip(days, (float(one.settled) for one in found.trend), strict=True)]
        lines = (
            Curve("asked", asked, Stroke.SOLID, Shape.DOT),
            Curve("settled or answered", settled, Stroke.DASHED, Shape.DIAMOND),
        )
        yield Picture(
            f"Points over the days since {first}", curves("days", "points", lines, counted=True)
        )


def as_workbook(tables: Iterable[Table]) -> bytes:
    """Tables as a workbook, each on its own sheet.

    Args:
        tables: the tables; whole numbers in them are written as numbers.

    Returns:
        The bytes of an .xlsx file.
    """
    written = BytesIO()
    book = workbook(written)
    bold = book.add_format({"bold": True, "text_wrap": True, "valign": "top"})
    names: set[str] = set()
    for table in tables:
        name = table.title.translate(str.maketrans("[]:*?/\\", "       ")).strip()[:LONGEST_TITLE]
        nth = 2
        while name.casefold() in names:
            name, nth = f"{name[: LONGEST_TITLE - 3]} {nth}", nth + 1
        names.add(name.casefold())
        sheet = book.add_worksheet(name)
        if not table.rows:
            sheet.write_string(0, 0, table.empty)
            continue
        sheet.write_row(0, 0, table.heads, bold)
        for number, row in enumerate(table.rows, 1):
            for column, text in enumerate(row):
                if text.isascii() and text.isdigit() and len(text) < 10:
                    sheet.write_number(number, column, int(text))
                else:
                    sheet.write_string(number, column, text)
        sheet.freeze_panes(1, 0)
        sheet.autofilter(0, 0, len(table.rows), len(table.heads) - 1)
        sheet.set_column(0, 1, 28)
        sheet.set_column(2, max(2, len(table.heads) - 1), 14)
    book.close()
    return written.getvalue()
