"""Finds tables that occur several times, in one sheet or in several, and reads their titles.

Above such tables, a line such as `Manifold M1 (ground floor)` says what none of the columns does;
so do the names of sheets. What the titles share, and where they differ, gives the pattern for the
map: `Manifold {Manifold} *`.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from typing import NamedTuple

from checker.intake.guessing import folded, guess
from checker.intake.layout import OVER, WIDE, joined_headings
from checker.intake.maps import fitting
from checker.intake.sheets import Sheet, Turned, alike, plain

HEADERS, ROOMS = "headers", "rooms"
_STOREY = re.compile(
    r"\b(?:flat|apartment|level|storey|floor|wohnung|whg|geschoss|erdgeschoss|obergeschoss|"
    r"dachgeschoss|eg|og|dg|etage|logement|niveau|appartement|rez|verdieping|begane|vivienda|"
    r"planta|appartamento|piano|plot|house)\b"
)
"""Words for flats and storeys, which may each have a room of the same name; ordinary words."""


class Title(NamedTuple):
    """What the titles of several tables have in common, as a pattern for a map.

    name: what the pattern calls the varying part; of: the section whose id that part is, or whose
    records it tells apart; empty where that is not known.
    """

    pattern: str
    name: str
    of: str = ""


def is_storey(text: str) -> bool:
    """Whether a heading or title names a flat or a storey."""
    return bool(_STOREY.search(folded(text)))


def tables(sheet: Sheet, top: int, rows: int, headings: Collection[str]) -> list[tuple[int, int]]:
    """Find the tables that have all of these headings.

    Args:
        sheet: the sheet.
        top: the row of the headings of the first table, counted from 0.
        rows: how many rows the headings take.
        headings: the texts to look for.

    Returns:
        Row and first column of each table, the first table first.
    """
    wanted = {alike(heading) for heading in headings}
    found = []
    for row in range(top, len(sheet.rows)) if wanted else ():
        texts = [(column, alike(text)) for column, text in joined_headings(sheet, row, rows)]
        counts = {one: sum(text == one for _, text in texts) for one in wanted}
        for number in range(min(counts.values())):
            columns = [[c for c, text in texts if text == one][number] for one in wanted]
            found.append((row, min(columns)))
    return found


def title_over(sheet: Sheet, row: int, left: int, right: int) -> str:
    """The nearest text that is alone in its row above a table's headings.

    Args:
        sheet: the sheet.
        row: the row of the headings, counted from 0.
        left: the table's first column.
        right: the column after its last.

    Returns:
        The text; empty where the nearest row with content has several cells, or there is none.
    """
    for above in range(row - 1, max(-1, row - OVER), -1):
        wide = range(left, min(right, len(sheet.rows[above])))
        filled = [sheet.value(above, column) for column in wide]
        texts = [plain(value) for value in filled if value != ""]
        if len(texts) == 1:
            return texts[0]
        if texts:
            return ""
    return ""


def titles(sheet: Sheet, places: Sequence[tuple[int, int]]) -> list[str]:
    """The title of each table of a sheet.

    Args:
        sheet: the sheet.
        places: for each table the row of its headings and its first column, from 0.

    Returns:
        The nearest text alone in its row above each, in the same order; in a transposed sheet also
        the text before the headings. Empty where there is none.
    """
    found = []
    for row, left in places:
        beside = [column for other, column in places if other == row and column > left]
        first = left if any(r == row and c < left for r, c in places) else 0
        over = title_over(sheet, row, first, min(beside, default=WIDE))
        found.append(over or _title_before(sheet, row, left))
    return found


def _title_before(sheet: Sheet, row: int, left: int) -> str:
    """In a transposed sheet, the text before the headings, in their own line."""
    if isinstance(sheet, Turned):
        for column in range(left - 1, max(-1, left - OVER), -1):
            if sheet.value(row, column) != "":
                return plain(sheet.value(row, column))
    return ""


def common(texts: Sequence[str], taken: Collection[str]) -> Title | None:
    """What several titles, all different, have in common.

    Args:
        texts: the titles.
        taken: headings, whose names the pattern must not use.

    Returns:
        The pattern; None where the titles have no pattern.
    """
    if len(texts) < 2 or not all(texts) or len({alike(text) for text in texts}) < len(texts):
        return None
    words = [text.split() for text in texts]
    shared = 0
    while shared < min(map(len, words)) - 1 and len({one[shared] for one in words}) == 1:
        shared += 1
    before = words[0][:shared]
    names = [one[shared] for one in words]
    rests = [one[shared + 1 :] for one in words]
    sign = {name[-1] for name in names}
    behind = sign.pop() if len(sign) == 1 and sign <= {*":,;."} else ""
    called = re.sub(r"[^\w ]", "", before[-1] if before else "") or "Title"
    if alike(called) in {alike(one) for one in taken}:
        called = "Title"
    alike_rests = {" ".join(rest) for rest in rests}
    if len(alike_rests) == 1:
        after = rests[0]
    elif len({alike(name) for name in names}) == len(names) and all(rests):
        # The sign that parts name and remark is kept, so that the name ends there.
        first = {rest[0] for rest in rests}
        after = [first.pop(), "*"] if len(first) == 1 and min(map(len, rests)) > 1 else ["*"]
    else:
        after, behind = [], ""  # the name is all that is left
    pattern = " ".join((*before, f"{{{called}}}{behind}", *after))
    if any(fitting(pattern, text) is None for text in texts):
        return None
    return Title(pattern, called, _section(texts[0], before))


def _section(text: str, before: Sequence[str]) -> str:
    for word in (" ".join(before), before[-1] if before else ""):
        named = guess(word) if word else None
        if named and named.alike == 1.0 and named.target in (HEADERS, ROOMS):
            return named.target
    return ROOMS if is_storey(text) else ""
