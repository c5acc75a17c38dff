"""Finds the table of an unknown sheet, and which field each of its headings most likely means."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from checker.design.leaves import Leaf
from checker.intake.fields import fields
from checker.intake.guessing import Guess, any_unit, folded, guess, names_both, vocabulary
from checker.intake.layout import joined_headings
from checker.intake.repeating import Title, common, is_storey, tables, titles
from checker.intake.sheets import Sheet, Turned, alike, letters, plain
from checker.intake.storeys import are_storeys
from checker.intake.totals import is_total, summary
from checker.intake.units_written import is_length, unit_in
from checker.intake.weighing import Weighed

MOST_HEADING_ROWS = 3
_NUMERIC = re.compile(r"[0-9]+(?:[.,][0-9]+)?")
WIDEST = 32.0
"""Largest pipe diameter in a floor, mm; common practice, no source."""
SAMPLE = 400
"""The number of rows that are looked at."""


@dataclass
class Proposal:
    """The proposed columns of one sheet, and the headings that could not be matched."""

    sheet: Sheet
    top: int = 0
    rows: int = 1
    columns: dict[str, tuple[int, str, Guess]] = field(default_factory=dict)
    labels: dict[str, tuple[str, str]] = field(default_factory=dict)
    tails: list[str] = field(default_factory=list)
    left: list[tuple[str, str]] = field(default_factory=list)
    """Columns without a matching field, with their headings."""
    skip: list[str] = field(default_factory=list)
    weighed: Weighed = field(default_factory=Weighed)
    places: list[tuple[int, int]] = field(default_factory=list)
    """Row and first column of each table that has these headings."""
    title: Title | None = None
    """What the titles of these tables have in common, where there are several."""
    both: bool = False
    """Whether the loop's heading names its header too."""
    numbered: bool = False
    """Whether the loop's heading is only that of a number, such as No."""

    @property
    def turned(self) -> bool:
        """Whether the sheet is transposed: its columns are read as rows."""
        return isinstance(self.sheet, Turned)

    @property
    def headings(self) -> list[str]:
        """The headings that were matched with a field."""
        return [text for _, text, _ in self.columns.values()] + self.tails[1:]


def proposal(sheet: Sheet) -> Proposal:
    """Propose a sheet's columns: the row of headings that matches most fields, and the field of
    each.
    """
    best = Proposal(sheet)
    for top in range(min(60, len(sheet.rows))):
        if not any(value != "" for value in sheet.rows[top]):
            continue
        for rows in range(1, MOST_HEADING_ROWS + 1):
            if rows > 1 and not _continues(sheet, top + rows - 2):
                break
            texts = dict(joined_headings(sheet, top, rows))
            if any(isinstance(sheet.value(top, column), float | int) for column in texts):
                break
            found = _placed(_over_values(sheet, top + rows, texts), sheet.hidden_columns)
            found = {t: one for t, one in found.items() if not _measured(sheet, top + rows, t, one)}
            better = len(found) - len(best.columns)
            units_below = rows == best.rows + 1 and _any_units(sheet, top + rows - 1)
            if better > 0 or (better == 0 and units_below and best.top == top and found):
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
    _sort_ids(best)
    if best.columns and "loops" not in best.columns:
        _number_rows(best, texts)
    used = {alike(text) for text in best.headings}
    best.left = [
        (f"row {column + 1}" if best.turned else f"column {letters(column)}", text)
        for column, text in texts.items()
        if alike(text) not in used
    ]
    best.places = tables(sheet, best.top, best.rows, best.headings)
    if len(best.places) > 1:
        best.title = common(titles(sheet, best.places), texts.values())
    if best.turned:
        return best  # cells beside labels are read from the sheet as it was sent
    for row, column in list(sheet.filled())[:2000]:
        if row >= best.top:
            break
        named = guess(plain(sheet.value(row, column)).rstrip(" :"), "labels")
        beside = next((plain(sheet.value(row, c)) for c in range(column + 1, len(sheet.rows[row]))
                       if sheet.value(row, c) != ""), "")  # fmt: skip
        if named and named.alike == 1.0 and beside and named.target not in best.labels:
            best.labels[named.target] = (plain(sheet.value(row, column)), beside)
    return best


_NUMBER = frozenset(
    ("no", "nr", "n", "nº", "no.", "num", "numero", "nummer", "number", "pos", "id", "ref")
)


def _sort_ids(best: Proposal) -> None:
    """Correct the ids: a count of loops is not an id, and one heading may name header and loop."""
    loops, headers = best.columns.get("loops"), best.columns.get("headers")
    if loops and folded(loops[1]) == "loops" and repeats(best, ["loops"]):
        del best.columns["loops"]
    if headers and not loops and names_both(headers[1]):
        best.columns["loops"] = best.columns.pop("headers")
        best.both = True


def _number_rows(best: Proposal, texts: dict[int, str]) -> None:
    """Take a column of row numbers as the loop's id, where no other column names the loop."""
    for column, text in texts.items():
        if folded(text) in _NUMBER or text.strip() in ("#", "N°", "Nº"):
            best.columns["loops"] = (column, text, Guess("loops", 1.0, folded(text)))
            best.numbered = True
            return


def _continues(sheet: Sheet, row: int) -> bool:
    """Whether a row of headings goes on in the next row.

    The next row must be all words, none starting with a number. Either they are units, or most of
    them are under a heading, or one of them is in a column that has no heading in the first row.
    """
    if row + 1 >= len(sheet.rows):
        return False
    below = {c: v for c, v in enumerate(sheet.rows[row + 1]) if v != ""}
    words = [v.strip() for v in below.values() if isinstance(v, str)]
    if not below or len(words) < len(below) or any(word[:1].isdigit() for word in words):
        return False
    if _only_units(sheet, row + 1) or _any_units(sheet, row + 1):
        return True
    above = [column for column, value in enumerate(sheet.rows[row]) if value != ""]
    under = range(row + 2, min(len(sheet.rows), row + SAMPLE))
    alone = any(
        column not in below and any(sheet.value(at, column) != "" for at in under)
        for column in above
    )
    return alone or 2 * sum(column in below for column in above) > len(below)


def _over_values(sheet: Sheet, first: int, texts: dict[int, str]) -> dict[int, str]:
    """The headings with values under them; any other text is a title or a remark."""
    rows = range(first, min(len(sheet.rows), first + SAMPLE))
    return {
        column: text
        for column, text in texts.items()
        if any(sheet.value(row, column) != "" or (row, column) in sheet.faults for row in rows)
    }


def _measured(sheet: Sheet, first: int, target: str, one: tuple[int, str, Guess]) -> bool:
    """Whether the cells that should be names are lengths such as 88 m, numbers or storeys."""
    if target not in ("pipes", "rooms", "headers", "floors"):
        return False
    rows = range(first, min(len(sheet.rows), first + SAMPLE))
    texts = [plain(v) for row in rows if (v := sheet.value(row, one[0])) != ""]
    numbers = [float(text.replace(",", ".")) for text in texts if _NUMERIC.fullmatch(text)]
    if target == "floors" and are_storeys(one[1], texts):
        return True
    if target in ("pipes", "floors") and 2 * len(numbers) > len(texts):
        return max(numbers) > WIDEST or len({*numbers}) > max(2, len(texts) // 2)
    return 2 * sum(is_length(text) for text in texts) > len(texts)


def _only_units(sheet: Sheet, row: int) -> bool:
    """Whether the row holds nothing but units, such as [m] or mm."""
    texts = [plain(v) for v in (sheet.rows[row] if row < len(sheet.rows) else []) if v != ""]
    return bool(texts) and all(_is_unit(text) for text in texts)


def _any_units(sheet: Sheet, row: int) -> bool:
    """Whether the row holds a unit in brackets, or nothing but units; rows of values never do."""
    texts = [plain(v) for v in (sheet.rows[row] if row < len(sheet.rows) else []) if v != ""]
    bracketed = [text for text in texts if re.fullmatch(r"[\[(].*[\])]", text)]
    return any(_is_unit(text) for text in bracketed) or _only_units(sheet, row)


def _is_unit(text: str) -> bool:
    kinds = {f.leaf.quantity for f in fields().values() if f.leaf.quantity}
    return any(unit_in(f"[{text.strip('[]() ')}]", kind) for kind in kinds)


_QUANTITY = re.compile(
    r"volume|content|capacity|weight|price|cost|inhalt|volumen|gewicht|preis|kosten|contenance|poids|"
    r"prix|inhoud|prijs|contenido|peso|precio|contenuto|prezzo|\bqty\b|quantity|anzahl|menge|quantite|"
    r"aantal|cantidad|quantita"
)
"""Words of measured or counted things, which name no record, in six languages; ordinary words."""
_OTHER = re.compile(
    r"[\[(]\s*(?:[lL]|lit\w*|dm[³3]|m[³3]|ft[³3]|gal\w*|kg|lbs?|€|£|\$|EUR|pcs|Stk)\s*\.?[\])]"
)
"""Units of quantities for which the design format has no field."""


def _placed(texts: dict[int, str], hidden: Collection[int]) -> dict[str, tuple[int, str, Guess]]:
    """For each field or section the heading that matches best; headings in hidden columns come
    last.
    """
    found: dict[str, tuple[int, str, Guess]] = {}
    for column, text in sorted(texts.items(), key=lambda one: one[0] in hidden):
        named = guess(text)
        if named is None:
            continue
        leaf = fields()[named.target].leaf if named.target in fields() else None
        if leaf is None and (
            any_unit(text) or _QUANTITY.search(folded(text)) or _OTHER.search(text)
        ):
            continue  # a number is no name
        if leaf is not None and leaf.kind == "quantity" and _other_kind(text, leaf):
            continue
        before = found.get(named.target)
        if before is None or (named.alike > before[2].alike and column not in hidden):
            found[named.target] = (column, text, named)
    return found


def _other_kind(text: str, leaf: Leaf) -> bool:
    """Whether the heading's unit measures something other than the field does."""
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
"""Words for feeds, and for lengths given one way only; ordinary words."""


def _tails(texts: dict[int, str], found: dict[str, tuple[int, str, Guess]]) -> list[str]:
    """The headings of feeds, where there are several."""
    tails = [
        text for text in texts.values()
        if _TAIL.search(text) and (unit_in(text, "length") or not any_unit(text))
    ]  # fmt: skip
    placed = {text for target, (_, text, _) in found.items() if target != "loops.feeds"}
    return [text for text in tails if text not in placed]


def values_of(best: Proposal, column: int) -> list[Any]:
    """The values under a heading in each of its tables, as far as the sample of rows reaches."""
    sheet = best.sheet
    found: list[Any] = []
    for row, left in best.places or [(best.top, 0)]:
        shift = left - best.places[0][1] if best.places else 0
        for at in range(row + best.rows, _end(best, row)):
            if not _total_of(best, at, shift):
                found.append(sheet.value(at, column + shift))
    return found


def _end(best: Proposal, row: int) -> int:
    """The row after a table's last row; the title of the next table is not part of it."""
    rows = best.sheet.rows
    below = min((other for other, _ in best.places if other > row), default=-1)
    if below < 0:
        return min(len(rows), row + best.rows + SAMPLE)
    last = below - 1
    while last > row and not any(value != "" for value in rows[last]):
        last -= 1
    return last if len([v for v in rows[last] if v != ""]) == 1 else below


def repeats(best: Proposal, targets: Sequence[str], *more: int) -> bool:
    """Whether several rows have equal values under the headings of some targets.

    Args:
        best: the proposed columns.
        targets: sections or fields whose columns are compared; those without a column are left out.
        *more: further columns to compare, from 0.

    Returns:
        False also where no two rows are equal in all of these columns; rows without a value in the
        first do not count.
    """
    columns = [best.columns[one][0] for one in targets if one in best.columns] + [*more]
    rows = [
        tuple(plain(v) for v in row)
        for row in zip(*(values_of(best, column) for column in columns), strict=True)
        if row[0] != ""
    ]
    return len(rows) > len({*rows})


def _subtotals(best: Proposal) -> list[str]:
    """The words that begin rows of subtotals, as they are written in the sheet."""
    rows = range(best.top + best.rows, len(best.sheet.rows))
    return list(dict.fromkeys(word for row in rows if (word := _total_of(best, row))))


def _total_of(best: Proposal, row: int, shift: int = 0) -> str:
    """The word that begins the label of a row of sums.

    A row is not a sum where its label is longer than that word (Total loft) and a loop is named
    beside it.

    Args:
        best: the proposed columns, of the first table.
        row: the row, from 0.
        shift: how many columns the current table is to the right of the first.

    Returns:
        The word as the sheet has it; empty for any other row.
    """
    loop = best.columns.get("loops")
    at = loop[0] + shift if loop else -1
    for column, value in enumerate(best.sheet.rows[row]):
        text = value.strip() if isinstance(value, str) else ""
        match = re.match(r"[^\W\d]+(?:-[^\W\d]+)?", text)
        if match and match[0].casefold() in vocabulary()["skip"]:
            beside = column != at and best.sheet.value(row, at) != ""
            if is_total(text) or not beside:
                return match[0]
    return ""


def rooms_apart_by(best: Proposal) -> str:
    """The heading of storeys, flats or headers that tells rooms of the same name apart; else
    empty.
    """
    room = best.columns.get("rooms")
    if room is None:
        return ""
    beside = storeys(best)
    if "headers" in best.columns:
        beside.append(best.columns["headers"][:2])
    names = [plain(v) for v in values_of(best, room[0])]
    for column, text in beside:
        seen: dict[str, str] = {}
        above = ""
        for name, value in zip(names, values_of(best, column), strict=True):
            above = plain(value) or above
            if name and above and seen.setdefault(name, above) != above:
                return text
    return ""


def storeys(best: Proposal) -> list[tuple[int, str]]:
    """The columns that hold storeys or flats and nothing else, with their headings."""
    taken = {column for column, _, _ in best.columns.values()}
    texts = joined_headings(best.sheet, best.top, best.rows)
    return [(c, text) for c, text in texts if c not in taken and is_storey(text)]


def gappy(best: Proposal) -> list[str]:
    """Headings of names that are written only once for several rows."""
    found = []
    named = [best.columns[one][:2] for one in ("headers", "rooms", "pipes", "floors")
             if one in best.columns]  # fmt: skip
    for column, text in named + storeys(best) if "loops" in best.columns else ():
        loops = values_of(best, best.columns["loops"][0])
        own = values_of(best, column)
        merged = {a[1] for a in best.sheet.merged if a[0] > best.top}
        rows = zip(own, loops, strict=True)
        lacking = [a for a, b in rows if a == "" and b != "" and not summary(plain(b))]
        if lacking and own[0] != "" and column not in merged:
            found.append(text)
    return found
