"""Where a sheet never seen before has its table, and which field each heading most likely is."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import Any

from checker.design.schema import Leaf
from checker.intake.fields import fields
from checker.intake.guessing import Guess, any_unit, guess, vocabulary
from checker.intake.layout import joined_headings
from checker.intake.sheets import Sheet, alike, letters, plain, quoted
from checker.intake.values import unit_in
from checker.intake.weighing import Weighed

SAMPLE = 400
"""Rows that are looked at."""


@dataclass
class Proposal:
    """One sheet's part of a map, and what is left."""

    sheet: Sheet
    top: int = 0
    rows: int = 1
    columns: dict[str, tuple[int, str, Guess]] = field(default_factory=dict)
    labels: dict[str, tuple[str, str]] = field(default_factory=dict)
    tails: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    skip: list[str] = field(default_factory=list)
    weighed: Weighed = field(default_factory=Weighed)


def proposal(sheet: Sheet) -> Proposal:
    """The row of headings that names most, and what each names."""
    best = Proposal(sheet)
    for top in range(min(60, len(sheet.rows))):
        for rows in (1, 2):
            texts = dict(joined_headings(sheet, top, rows))
            if rows == 2 and not _only_units(sheet, top + 1):
                continue
            if any(isinstance(sheet.value(top, column), float) for column in texts):
                continue
            found = _placed(texts)
            better = len(found) - len(best.columns)
            if better > 0 or (better == 0 and rows == 2 and best.top == top and found):
                best = Proposal(sheet, top, rows, found)
    best.skip = _subtotals(best)
    texts = dict(joined_headings(sheet, best.top, best.rows))
    best.tails = _tails(texts, best.columns)
    if best.tails:
        column = next(c for c, text in texts.items() if text == best.tails[0])
        known = best.columns.get("loops.feeds")
        alike_to = known[2] if known and known[1] == best.tails[0] else Guess("", 0.9, "feeds")
        best.columns["loops.feeds"] = (
            column,
            best.tails[0],
            replace(alike_to, target="loops.feeds"),
        )
    used = {column for column, _, _ in best.columns.values()}
    used |= {c for c, text in texts.items() if text in best.tails}
    best.left = [f"{letters(c)} {quoted(text)}" for c, text in texts.items() if c not in used]
    for row, column in list(sheet.filled())[:2000]:
        if row >= best.top:
            break
        named = guess(plain(sheet.value(row, column)).rstrip(" :"), "labels")
        beside = next((plain(sheet.value(row, c)) for c in range(column + 1, len(sheet.rows[row]))
                       if sheet.value(row, c) != ""), "")  # fmt: skip
        if named and named.alike == 1.0 and beside and named.target not in best.labels:
            best.labels[named.target] = (plain(sheet.value(row, column)), beside)
    return best


def _only_units(sheet: Sheet, row: int) -> bool:
    """Whether the row holds units only, such as [m] or mm."""
    texts = [plain(v) for v in (sheet.rows[row] if row < len(sheet.rows) else []) if v != ""]
    kinds = {f.leaf.quantity for f in fields().values() if f.leaf.quantity}
    return bool(texts) and all(
        any(unit_in(f"[{text.strip('[]() ')}]", kind) for kind in kinds) for text in texts
    )


def _placed(texts: dict[int, str]) -> dict[str, tuple[int, str, Guess]]:
    """For each field or section the heading that names it best."""
    found: dict[str, tuple[int, str, Guess]] = {}
    for column, text in texts.items():
        named = guess(text)
        if named is None:
            continue
        leaf = fields()[named.target].leaf if named.target in fields() else None
        if leaf is None and any_unit(text):
            continue  # a number is no name
        if leaf is not None and leaf.kind == "quantity" and _other_kind(text, leaf):
            continue
        before = found.get(named.target)
        if before is None or named.alike > before[2].alike:
            found[named.target] = (column, text, named)
    return found


def _other_kind(text: str, leaf: Leaf) -> bool:
    """Whether the heading's unit measures something else than the field."""
    return not unit_in(text, leaf.quantity) and any_unit(text)


_TAIL = re.compile(
    r"tail|leader|lead|anbind|zuleit|anschluss ?leit|liaison|raccord|aansluit|acometida|colleg|"
    r"connect|run to|from header|to manifold",
    re.IGNORECASE,
)
EACH_WAY = re.compile(
    r"each way|one way|per leg|einfach|je richtung|aller simple|par sens|enkele|por sentido|"
    r"per tratta|solo andata",
    re.IGNORECASE,
)
"""Words of feeds, and of lengths that are given for one of two ways; ordinary words."""


def _tails(texts: dict[int, str], found: dict[str, tuple[int, str, Guess]]) -> list[str]:
    """The headings of feeds, where there are several."""
    tails = [
        text for text in texts.values()
        if _TAIL.search(text) and (unit_in(text, "length") or not any_unit(text))
    ]  # fmt: skip
    placed = {text for target, (_, text, _) in found.items() if target != "loops.feeds"}
    return [text for text in tails if text not in placed]


def values_of(best: Proposal, column: int) -> list[Any]:
    """What stands under a heading, down to where the sheet or the sample ends."""
    first = best.top + best.rows
    rows = range(first, min(len(best.sheet.rows), first + SAMPLE))
    skip = tuple(alike(word) for word in best.skip)
    return [
        best.sheet.value(row, column)
        for row in rows
        if not any(
            alike(plain(v)).startswith(skip)
            for v in best.sheet.rows[row]
            if isinstance(v, str) and v.strip()
        )
    ]


def unique(best: Proposal, column: int) -> bool:
    values = [plain(v) for v in values_of(best, column) if v != ""]
    return len(values) == len(set(values))


def _subtotals(best: Proposal) -> list[str]:
    """The words that start subtotal rows, as they stand there."""
    known = tuple(vocabulary()["skip"])
    found: dict[str, None] = {}
    for row in best.sheet.rows[best.top + best.rows :]:
        for value in row:
            text = value.strip() if isinstance(value, str) else ""
            match = re.match(r"[^\W\d]+(?:-[^\W\d]+)?", text)
            if match and match[0].casefold() in known:
                found[match[0]] = None
    return list(found)
