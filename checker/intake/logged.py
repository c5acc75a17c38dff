"""Reads the file of a pressure and temperature logger as the readings of a pressure test."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from checker import units
from checker.intake import delimited
from checker.intake.sheets import Sheet, alike, letters, plain
from checker.intake.units_written import unit_in

MOST = 120
"""Most readings that are kept; a longer record is thinned evenly, keeping first, last and
lowest.
"""
HEADS = {
    "at": ("time", "date", "elapsed", "zeit", "datum", "temps", "hora", "tijd"),
    "pressure": ("press", "druck", "pression", "presi", "druk", "gauge"),
    "temperature": ("temp",),
}
"""How the headings of a logger's columns begin."""
KINDS = {"at": "duration", "pressure": "pressure", "temperature": "temperature"}
DAYS = ("%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M",
        "%d.%m.%Y %H:%M:%S", "%d.%m.%Y %H:%M", "%H:%M:%S", "%H:%M")  # fmt: skip


class BadLog(Exception):
    """A logger's file cannot be read; the message is for the user."""


def readings(path: str, data: bytes) -> tuple[list[dict[str, str]], list[str]]:
    """Read a logger's file.

    Args:
        path: the file's path, which decides the format and is named in messages.
        data: the file's bytes.

    Returns:
        The readings as a design writes them (`at`, `pressure`, `temperature`), and notes for the
            user.

    Raises:
        BadLog: times or pressures are missing or cannot be read.
        BadSheet: the file is not a table.
    """
    book = delimited.read(path, path, data)
    sheet = book.sheets[0]
    top, columns = _headed(path, sheet)
    shown = {what: plain(sheet.value(top, column)) for what, column in columns.items()}
    given = {what: unit_in(head, KINDS[what]) for what, head in shown.items()}
    for what in ("pressure", "temperature"):
        if what in columns and not given[what]:
            example = "bar" if what == "pressure" else "°C"
            raise BadLog(
                f"{path}: the heading '{shown[what]}' has no unit; write one behind it, "
                f"'{shown[what]} [{example}]'"
            )
    rows: list[dict[str, str]] = []
    start: datetime | None = None
    for row in range(top + 1, len(sheet.rows)):
        texts = {what: plain(sheet.value(row, column)) for what, column in columns.items()}
        if not any(texts.values()):
            continue
        where = f"{path}: row {sheet.number(row)}"
        if not texts["at"] or not texts["pressure"]:
            raise BadLog(f"{where}: a reading has a time and a pressure; one of them is missing")
        if given["at"]:
            minutes = units.parse(f"{_figure(texts['at'], where)} {given['at']}", "duration") / 60
        else:
            moment = _moment(texts["at"], where)
            start = moment if start is None else start
            minutes = (moment - start) / timedelta(minutes=1)
            if minutes < 0 and texts["at"].count(":") and len(texts["at"]) <= 8:
                minutes += 1_440  # a clock without a day, past midnight
        if rows and minutes <= float(rows[-1]["at"].partition(" ")[0]):
            raise BadLog(f"{where}: its time is not later than the one before")
        made = {"at": f"{round(minutes, 4):.12g} min"}
        for what in ("pressure", "temperature"):
            if what in columns and texts[what]:
                made[what] = f"{_figure(texts[what], where)} {given[what]}"
        rows.append(made)
    if len(rows) < 2:
        raise BadLog(f"{path}: it holds {len(rows)} readings; a test needs a first and a last")
    kept = _thinned(rows)
    notes = [f"{path}: {len(rows)} readings."]
    if len(kept) < len(rows):
        notes = [f"{path}: {len(kept)} of {len(rows)} readings are kept, evenly, with the lowest."]
    if "temperature" not in columns:
        notes.append(f"{path}: it has no temperatures, so a change of pressure may be theirs.")
    return kept, notes


def _headed(path: str, sheet: Sheet) -> tuple[int, dict[str, int]]:
    """The row of the headings, and the column of time, pressure and temperature."""
    for row in range(min(40, len(sheet.rows))):
        columns: dict[str, int] = {}
        for column in range(len(sheet.rows[row])):
            text = alike(plain(sheet.value(row, column)))
            for what, heads in HEADS.items():
                if any(text.startswith(head) for head in heads):
                    if what in columns and what != "at":
                        raise BadLog(
                            f"{path}: columns {letters(columns[what])} and {letters(column)} both "
                            f"look like the {what}; leave one of them"
                        )
                    columns.setdefault(what, column)
        if {"at", "pressure"} <= columns.keys():
            return row, columns
    raise BadLog(f"{path}: no row has headings for a time and a pressure")


def _moment(text: str, where: str) -> datetime:
    for form in DAYS:
        try:
            return datetime.strptime(text, form)
        except ValueError:
            continue
    raise BadLog(
        f"{where}: '{text}' is not a time that can be read; write '2026-04-02 14:05:00', '14:05', "
        "or minutes with their unit in the heading"
    )


def _figure(text: str, where: str) -> str:
    plain_text = text.replace(",", ".") if text.count(",") == 1 and "." not in text else text
    try:
        return f"{float(plain_text):.12g}"
    except ValueError:
        raise BadLog(f"{where}: '{text}' is not a number") from None


def _thinned(rows: Sequence[dict[str, str]]) -> list[dict[str, str]]:
    """At most MOST readings, evenly spaced, with the lowest pressure among them."""
    if len(rows) <= MOST:
        return [*rows]
    lowest = min(range(len(rows)), key=lambda at: float(rows[at]["pressure"].partition(" ")[0]))
    last = len(rows) - 1
    kept = {round(last * step / (MOST - 2)) for step in range(MOST - 1)} | {lowest}
    return [rows[at] for at in sorted(kept)]
