"""Proposes a map from the headings of an unknown sheet, and lists what it could not match."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import Any, NamedTuple

from checker.design.leaves import Leaf
from checker.intake.fields import fields, value_of
from checker.intake.guessing import Guess, folded, guess, vocabulary
from checker.intake.maps import fitting
from checker.intake.marks import marks
from checker.intake.naming import comment, ids_of
from checker.intake.proposing import (
    EACH_WAY,
    SAMPLE,
    Proposal,
    gappy,
    proposal,
    repeats,
    values_of,
)
from checker.intake.repeating import Title, common
from checker.intake.sheets import Book, Sheet, Turned, alike, plain, quoted
from checker.intake.units_written import known_unit, unit_in
from checker.intake.values import EITHER, Marks
from checker.intake.weighing import UNITS, Column, Weighed, weigh
from checker.intake.writing import scalar

FEWEST_HEADINGS = 2
_UNIT = re.compile(r"(?<=[0-9])\s*[^0-9.,\s]\D*$")
"""The text after a number."""


def suggest(book: Book) -> str:
    """Write a proposed map for the sheets of a file; someone should read it before it is used.

    Args:
        book: the sheets.

    Returns:
        The text of a map file, with comments on what to look at and on what nothing was proposed
        for; without parts where no sheet has headings that are known.
    """
    proposals = [
        found
        for sheet in book.sheets
        if len((found := _likeliest(sheet)).columns) >= FEWEST_HEADINGS
    ]
    name = Path(book.path).name
    lines = [
        f"# A map proposed from the headings of {comment(name)}.",
        "# Read it through, above all lines marked LOOK. 'prescreed schema map' explains the keys.",
        "map: 1",
    ]
    best = max(proposals, key=lambda one: len(one.columns), default=None)
    if best is not None:
        best.weighed = _weighed(best)
    proposed = marks(book, best.weighed if best else Weighed())
    lines += proposed.lines
    lines += ["empty: ['-', '–', n/a]", ""]
    if best is None:
        return "\n".join((*lines, *_nothing_found(book)))
    lines += _gaps(best)
    if best.sheet.hidden:
        lines.append(f"# LOOK: sheet {comment(quoted(best.sheet.name))} is hidden; is it meant?")
    lines.append("sheets:")
    among = _like(best, proposals, book)
    lines += _part(best, book, proposed.marks, among)
    read = {one.name for one in among.sheets}
    others = [sheet for sheet in book.sheets if sheet.name not in read]
    if others:
        lines += ["", "# Not proposed, so not read (LOOK whether one of them holds a table too):"]
        for sheet in others:
            count = sum(1 for _ in sheet.filled())
            like = any(_alike(one, best) for one in proposals if one.sheet.name == sheet.name)
            more = "; its headings are the same: a name with * and 'each: true' reads it" * like
            hides = ", hidden" * sheet.hidden
            lines.append(f"# - sheet {comment(quoted(sheet.name))}{hides}, {count} cells{more}")
    return "\n".join(lines) + "\n"


class Among(NamedTuple):
    """The sheets that one part of a map reads, and the pattern of their names."""

    sheets: list[Sheet]
    title: Title | None = None


def _likeliest(sheet: Sheet) -> Proposal:
    """The table of a sheet as it is, or transposed where more headings match that way."""
    plain_way = proposal(sheet)
    if len(sheet.rows) > SAMPLE:
        return plain_way  # each of its rows would be a heading: no table asks so many things
    turned = proposal(Turned(sheet))
    more = len(turned.columns) > max(len(plain_way.columns), FEWEST_HEADINGS)
    return turned if more and "loops.length" in turned.columns else plain_way


def _alike(one: Proposal, other: Proposal) -> bool:
    return one.turned == other.turned and [*map(alike, one.headings)] == [
        *map(alike, other.headings)
    ]


def _like(best: Proposal, proposals: list[Proposal], book: Book) -> Among:
    """The sheet and all those with the same headings, where the sheets' names tell which is
    which.
    """
    own = [one.sheet for one in proposals if _alike(one, best)]
    title = common([sheet.name for sheet in own], best.headings)
    fits = [s for s in book.sheets if title and fitting(title.pattern, s.name) is not None]
    if title is None or not title.of or len(fits) != len(own) or best.title is not None:
        return Among([best.sheet])
    return Among(own, title)


def _weighed(best: Proposal) -> Weighed:
    """What the columns, compared with one another, say about decimal marks and units."""
    columns = {}
    for target in UNITS.keys() & best.columns.keys():
        column, text, _ = best.columns[target]
        values = values_of(best, column)
        unit = unit_in(text, fields()[target].leaf.quantity)
        if not unit and (
            unit := _unit_of_others([v for v in values if v != ""], fields()[target].leaf)
        ):
            # Numbers without a unit beside others that have one are not weighed.
            values = [
                _UNIT.sub("", v) if isinstance(v, str) and _UNIT.search(v) else "" for v in values
            ]
        columns[target] = Column(unit, tuple(values))
    return weigh(columns)


def _nothing_found(book: Book) -> list[str]:
    lines = ["# LOOK: no row of headings was recognised. Name them yourself:", "sheets:"]
    first = scalar(book.sheets[0].name) if book.sheets else "Sheet1"
    lines.append(f"  - sheet: {first}")
    lines.append("    ids: {loops: '{…}'}")
    lines.append("    columns:")
    lines.append("      - {heading: …, field: loops.length, unit: m}")
    return [*lines, ""]


def _gaps(best: Proposal) -> list[str]:
    """Lines for what the sheet does not state: values and words for the user to fill in."""
    lines = []
    sections = {target.split(".")[0] for target in best.columns}
    missing = [s for s in ("pipes", "floors", "headers") if s not in sections]
    lines.append("# LOOK: what the sheet does not state and you know; what stays away is reported")
    lines.append("# as open. Take the # away and correct the values:")
    lines.append("# design:")
    lines.append("#   project: {stage: design, region: GB-ENG, contractor: …}")
    lines.append("#   plant: {source: heat pump, supply: 45 °C, drop: 7 K, fluid: {kind: water}}")
    lines.append("#   pipes: {p16: {material: PE-RT, outside: 16 mm, wall: 2 mm}}")
    lines.append(
        "#   floors: {slab: {construction: wet, screed: {material: cement, cover: 45 mm, "
        "conductivity: 1.2 W/(m·K)}, insulation: 2.5 m²·K/W, below: ground}}"
    )
    every = [f"{s[:-1]}: …" for s in missing if s != "headers"]
    every += ["zone: occupied"] if "loops.zone" not in best.columns else []
    every += ["pattern: counterflow"] if "loops.pattern" not in best.columns else []
    if every:
        lines += ["# every:", f"#   loops: {{{', '.join(every)}}}"]
    return [*lines, ""]


def _part(best: Proposal, book: Book, marks: Marks, among: Among) -> list[str]:
    name = among.title.pattern if among.title else best.sheet.name
    lines = [f"  - sheet: {scalar(name)}" if not book.single else "  - skip: []"]
    if not book.single:
        lines.append("    skip: []")
    words = [f"{word}*" for word in best.skip]
    lines[-1] = f"{lines[-1].removesuffix('[]')}[{', '.join(scalar(word) for word in words)}]"
    if best.turned:
        lines.append("    transposed: true")
    if best.title:
        lines.append(f"    title: {scalar(best.title.pattern)}")
    if best.rows > 1:
        lines.append(f"    header_rows: {best.rows}")
    fill = gappy(best)
    if fill:
        lines.append(
            f"    fill_down: [{', '.join(scalar(text) for text in fill)}]"
            "  # LOOK: empty cells there take the value above"
        )
    lines += ids_of(best, best.title or among.title)
    if best.labels:
        lines.append("    cells:")
        for target, (label, value) in best.labels.items():
            lines.append(_cell(target, label, value))
    columns = [(c, text, g) for t, (c, text, g) in best.columns.items() if t in fields()]
    lines.append("    columns:")
    for column, text, named in sorted(columns, key=lambda one: one[0]):
        lines.append(_column(best, column, text, named, marks))
    if not columns:
        lines.append("      - {heading: …, field: loops.length}  # LOOK: no heading names a value")
    loop = best.columns.get("loops")
    if loop and "loops.port" not in best.columns and "headers" in best.columns:
        numbers = [v for v in values_of(best, loop[0]) if v != ""]
        if repeats(best, ["loops"]) and all(plain(v).isdecimal() for v in numbers):
            lines.append(
                f"      - {{heading: {scalar(loop[1])}, field: loops.port}}"
                "  # LOOK: is the loop's number its port?"
            )
    written = " ".join(lines)
    left = [(place, text) for place, text in best.left if f"{{{text}}}" not in written]
    if left:
        lines.append("# Not placed, so not read (LOOK):")
        lines += [f"# - {place} {comment(quoted(text))}" for place, text in left]
    return lines


def _column(best: Proposal, column: int, text: str, named: Guess, marks: Marks) -> str:
    leaf = fields()[named.target].leaf
    parts = [f"heading: {scalar(text)}", f"field: {named.target}"]
    looks = []
    if column in best.sheet.hidden_columns:
        looks.append("the column is hidden" if not best.turned else "the row is hidden")
    if named.alike < 1.0:
        looks.append(f"only like '{named.word}'" if named.word else "the heading is only a unit")
    rivals = [
        other for _, other in best.left if (found := guess(other)) and found.target == named.target
    ]
    if rivals:
        looks.append(f"or is it {' or '.join(quoted(other) for other in rivals)}?")
    values = [v for v in values_of(best, column) if v != ""]
    if leaf.kind == "quantity":
        unit = unit_in(text, leaf.quantity)
        if not unit and any(re.fullmatch(r"[-+0-9.,]+", plain(v)) for v in values):
            unit = best.weighed.units.get(named.target, "")
            known = f"; only {unit} is possible by {best.weighed.why}" if unit else ""
            among = "" if unit else _unit_of_others(values, leaf)
            known = f"; other cells are in {among}" if among else known
            unit = unit or among or (leaf.example or f"1 {leaf.unit}").split(" ", 1)[1]
            looks.append(f"the heading names no unit{known}")
        if unit:
            parts.append(f"unit: {scalar(unit)}")
        looks += _either(best, named.target, values, marks)
    if named.target == "loops.feeds":
        if len(best.tails) > 1:
            parts.append(f"plus: [{', '.join(scalar(one) for one in best.tails[1:])}]")
            looks.append("do they add up to both ways together?")
        if EACH_WAY.search(text):
            parts.append("times: 2")
            looks.append("the heading says one way; both ways count")
        elif len(best.tails) == 1:
            looks.append("is it both ways together? else add 'times: 2'")
    if named.target == "loops.length" and "loops.feeds" in best.columns:
        looks.append("are the feeds in it? else add them with 'plus:'")
    elif named.target == "loops.length":
        looks.append("are the feeds (tails) in it? no heading names them")
    if named.target == "loops.area" and _of_rooms(best, column):
        looks.append("loops of one room have the same area: is it the room's? then 'rooms.area'")
    if named.target == "rooms.heat_load" and _repeats(best, column):
        looks.append(
            "several rows of one room have a value: is it the room's in each, or each "
            "loop's share? then 'add: true'"
        )
    words, unknown = _words(named.target, leaf, values)
    if words:
        parts.append(f"words: {{{', '.join(f'{scalar(k)}: {scalar(v)}' for k, v in words)}}}")
    if unknown:
        looks.append("add 'words' for " + ", ".join(quoted(word) for word in unknown[:6]))
    if leaf.kind == "date":
        form, doubt = _date_form([plain(value) for value in values])
        parts += [f"date: {scalar(form)}"] if form else []
        looks += [doubt] if doubt else []
    look = f"  # LOOK: {'; '.join(looks)}" if looks else ""
    return f"      - {{{', '.join(parts)}}}{comment(look)}"


def _unit_of_others(values: list[Any], leaf: Leaf) -> str:
    """The unit after the numbers in most cells of a column; empty where there is none."""
    found = Counter(
        unit
        for text in map(plain, values)
        if (match := re.fullmatch(r"[-+0-9.,]+\s*(\D+)", text))
        and (unit := known_unit(match[1], leaf.quantity))
    )
    return found.most_common(1)[0][0] if found else ""


def _either(best: Proposal, target: str, values: list[Any], marks: Marks) -> list[str]:
    """Comments to review where the mark in a column's numbers could be read in two ways."""
    doubtful = [plain(v) for v in values if isinstance(v, str) and EITHER.match(v.strip())]
    # A mark that is none by the map is refused, cell by cell.
    read = [text for text in doubtful if {*text} & {marks.decimal, marks.thousands}]
    if not read:
        return []
    first = EITHER.match(read[0])[0]  # type: ignore[index]
    ways = [first.replace(",", "."), re.sub("[.,]", "", first)]
    apart = bool(marks.thousands) and marks.thousands in first
    sure = best.weighed.apart if target in best.weighed.about else None
    if sure is apart:
        return []
    if not marks.said and sure is None:
        return [f"{quoted(first)} could be {ways[0]} or {ways[1]}"]
    why = f"and could be {ways[not apart]}"
    if sure is not None:
        why = f"but only {ways[sure]} is possible by {best.weighed.why}"
    return [f"{quoted(first)} is read as {ways[apart]}, {why}"]


def _repeats(best: Proposal, column: int) -> bool:
    """Whether several rows of one room have a value in a column."""
    room = best.columns.get("rooms")
    if room is None:
        return False
    names = [plain(v) for v in values_of(best, room[0])]
    filled = [n for n, v in zip(names, values_of(best, column), strict=True) if v != "" and n]
    return len(filled) != len(set(filled))


def _of_rooms(best: Proposal, column: int) -> bool:
    """Whether each room with several loops has one value in a column of values of loops."""
    room = best.columns.get("rooms")
    if room is None:
        return False
    values: dict[str, list[str]] = {}
    for name, value in zip(values_of(best, room[0]), values_of(best, column), strict=True):
        if name != "" and value != "":
            values.setdefault(plain(name), []).append(plain(value))
    several = [own for own in values.values() if len(own) > 1]
    return bool(several) and all(len({*own}) == 1 for own in several)


def _words(target: str, leaf: Leaf, values: list[Any]) -> tuple[list[tuple[str, Any]], list[str]]:
    """The sheet's words with a known meaning, and those without."""
    if leaf.kind not in ("enumeration", "boolean"):
        return [], []
    known: dict[str, Any] = {}
    for option, words in (
        vocabulary()["words"].get("booleans" if leaf.kind == "boolean" else target, {}).items()
    ):
        for word in words:
            known[folded(word)] = (option == "true") if leaf.kind == "boolean" else option
    found, unknown = [], []
    for text in dict.fromkeys(plain(value) for value in values):
        try:
            value_of(leaf, text.casefold())
        except ValueError:
            if folded(text) in known:
                found.append((text, known[folded(text)]))
            else:
                unknown.append(text)
    return found, unknown


def _cell(target: str, label: str, value: str) -> str:
    leaf = fields()[target].leaf
    parts = [f"beside: {scalar(label)}", f"field: {target}"]
    if leaf.kind == "quantity" and re.fullmatch(r"[-+0-9.,]+", value):
        unit = unit_in(label, leaf.quantity) or (leaf.example or f"1 {leaf.unit}").split(" ", 1)[1]
        parts.append(f"unit: {scalar(unit)}")
    look = ""
    if leaf.kind == "date":
        form, doubt = _date_form([value])
        parts += [f"date: {scalar(form)}"] if form else []
        look = f"  # LOOK: {doubt}" if doubt else ""
    return f"      - {{{', '.join(parts)}}}{look}"


def _date_form(texts: list[str]) -> tuple[str, str]:
    """How dates are written, and a comment where day and month could be swapped."""
    found = [m for text in texts if (m := re.fullmatch(r"(\d{1,2})([./-])(\d{1,2})\2\d{4}", text))]
    if not found:
        return "", ""
    sign = found[0][2]
    ways = {"%d": f"%d{sign}%m{sign}%Y", "%m": f"%m{sign}%d{sign}%Y"}
    if any(int(one[3]) > 12 for one in found):
        return ways["%m"], ""
    if any(int(one[1]) > 12 for one in found) or sign == ".":
        return ways["%d"], ""
    return ways["%d"], f"is {found[0][0]} day first, or month first ('{ways['%m']}')?"
