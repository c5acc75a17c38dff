"""A map proposed from the headings of a sheet never seen before, with what it could not place."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from functools import cache, lru_cache
from pathlib import Path
from typing import Any
from unicodedata import combining, normalize

from checker import units
from checker.design.schema import Leaf
from checker.intake.fields import collections, fields, value_of
from checker.intake.marks import marks
from checker.intake.pages import joined_headings
from checker.intake.sheets import Book, Sheet, Turned, alike, letters, plain, quoted
from checker.intake.values import unit_in
from checker.intake.weighing import UNITS, Column, Weighed, weigh
from checker.intake.writing import scalar
from checker.reading import yaml_reader
from checker.reading.package_data import headings

LEAST_ALIKE = 0.82
"""How alike a heading must be to a known word, 1 being the same; tried on invented headings."""
FEWEST_HEADINGS = 2
LONGEST_HEADING = 80
"""Characters; a longer text is a remark."""
SAMPLE = 400
"""Rows that are looked at."""


@dataclass(frozen=True)
class Guess:
    """What a text most likely names, and how sure that is, 1 for the very word.

    word: the known word that it is like; empty where only its unit speaks for the target.
    """

    target: str
    alike: float
    word: str

    def _replace_target(self) -> Guess:
        return Guess("loops.feeds", self.alike, self.word)


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


def suggest(book: Book) -> str:
    """A map file for the book, to be read through by a person before it is used."""
    proposals = [
        found
        for sheet in book.sheets
        if len((found := _proposal(sheet)).columns) >= FEWEST_HEADINGS
    ]
    name = Path(book.path).name
    lines = [
        f"# A map proposed from the headings of {_comment(name)}.",
        "# Read it through: LOOK wants a person's eye. 'prescreed schema map' explains the keys.",
        "map: 1",
    ]
    best = max(proposals, key=lambda one: len(one.columns), default=None)
    if best is not None:
        best.weighed = _weighed(best)
    lines += marks(book, best.weighed if best else Weighed())
    lines += ["empty: ['-', '–', n/a]", ""]
    if best is None:
        return "\n".join((*lines, *_turned(book), *_nothing_found(book)))
    lines += _gaps(best)
    if best.sheet.hidden:
        lines.append(f"# LOOK: sheet {_comment(quoted(best.sheet.name))} is hidden; is it meant?")
    lines.append("sheets:")
    lines += _part(best, book)
    others = [sheet for sheet in book.sheets if sheet is not best.sheet]
    if others:
        lines += ["", "# Not proposed, so not read (LOOK whether one of them holds a table too):"]
        for sheet in others:
            count = sum(1 for _ in sheet.filled())
            like = any(one.sheet is sheet and one.columns.keys() == best.columns.keys()
                       for one in proposals)  # fmt: skip
            more = "; its headings are the same: a name with * and 'each: true' reads it" * like
            hides = ", hidden" * sheet.hidden
            lines.append(f"# - sheet {_comment(quoted(sheet.name))}{hides}, {count} cells{more}")
    return "\n".join(lines) + "\n"


def _weighed(best: Proposal) -> Weighed:
    """What its columns, held against one another, say of marks and units."""
    columns = {}
    for target in UNITS.keys() & best.columns.keys():
        column, text, _ = best.columns[target]
        unit = unit_in(text, fields()[target].leaf.quantity)
        columns[target] = Column(unit, tuple(_values(best, column)))
    return weigh(columns)


def _turned(book: Book) -> list[str]:
    """A hint where what is asked stands one below another, and the loops side by side."""
    for sheet in book.sheets:
        if len(_proposal(Turned(sheet)).columns) > FEWEST_HEADINGS:
            name = _comment(quoted(sheet.name))
            return [
                f"# LOOK: in sheet {name} the loops stand side by side; say 'transposed: true'."
            ]
    return []


def _nothing_found(book: Book) -> list[str]:
    lines = ["# LOOK: no row of headings was recognised. Name them yourself:", "sheets:"]
    first = scalar(book.sheets[0].name) if book.sheets else "Sheet1"
    lines.append(f"  - sheet: {first}")
    lines.append("    ids: {loops: '{…}'}")
    lines.append("    columns:")
    lines.append("      - {heading: …, field: loops.length, unit: m}")
    return [*lines, ""]


def folded(text: str) -> str:
    """A text without unit, accents, capitals and signs, to be compared."""
    text = re.sub(r"[\[(].*?[\])]", " ", text)
    text = normalize("NFKD", text.replace("ß", "ss"))
    text = "".join(sign for sign in text if not combining(sign)).casefold()
    return " ".join(re.sub(r"[^\w']+", " ", text.replace("_", " ")).split())


@cache
def _vocabulary() -> Any:
    return yaml_reader.read(headings().read_bytes(), first="columns:")


@cache
def _known(kind: str) -> dict[str, str]:
    """Every known word of columns or labels, folded, and what it names."""
    known: dict[str, str] = {}
    for target, words in _vocabulary()[kind].items():
        for word in (*words, target.rsplit(".", 1)[-1].replace("_", " ")):
            known.setdefault(folded(word), target)
    return known


@lru_cache(maxsize=4096)
def guess(heading: str, kind: str = "columns") -> Guess | None:
    """What a heading most likely names; None where nothing is like it."""
    known = _known(kind)
    text = folded(heading)
    # A unit behind the words without brackets: 'Spacing mm'.
    shorter = text.rsplit(" ", 1)[0] if " " in text else text
    square = re.sub(r" sq \w+$", "", text)
    for candidate in (text, shorter, square, re.sub(r" (nr|no|number|n°)$", "", text)):
        if candidate in known:
            return Guess(known[candidate], 1.0, candidate)
    if kind == "columns" and (named := _by_unit(heading)):
        return named
    if len(text) > LONGEST_HEADING:
        return None
    best = Guess("", 0.0, "")
    matcher = SequenceMatcher(b=text)
    for word, target in known.items():
        matcher.set_seq1(word)
        near = matcher.real_quick_ratio() >= LEAST_ALIKE and matcher.quick_ratio() >= LEAST_ALIKE
        ratio = matcher.ratio() if near else 0.0
        if len(word) > 3 and re.search(rf"\b{re.escape(word)}\b", text):
            ratio = max(ratio, LEAST_ALIKE + 0.1 * len(word) / len(text))
        if ratio > best.alike:
            best = Guess(target, ratio, word)
    return best if best.alike >= LEAST_ALIKE else None


_BY_UNIT = (
    ("volume_flow", "loops.flow"),
    ("area", "loops.area"),
    ("power", "rooms.heat_load"),
)
"""What a heading that is only a unit stands over, where one field alone is likely."""


def _by_unit(heading: str) -> Guess | None:
    bare = heading.strip().strip("[]()").strip()
    if bare.casefold() in ("m", "ft", "feet"):
        return Guess("loops.length", LEAST_ALIKE, "")
    if len(bare) < 2 or not re.fullmatch(r"\S+|(?i:sq) \S+", bare):
        return None
    for kind, target in _BY_UNIT:
        if unit_in(f"[{bare}]", kind):
            return Guess(target, LEAST_ALIKE, "")
    return None


def _proposal(sheet: Sheet) -> Proposal:
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
        best.columns["loops.feeds"] = (column, best.tails[0], alike_to._replace_target())
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
        if leaf is None and _any_unit(text):
            continue  # a number is no name
        if leaf is not None and leaf.kind == "quantity" and _other_kind(text, leaf):
            continue
        before = found.get(named.target)
        if before is None or named.alike > before[2].alike:
            found[named.target] = (column, text, named)
    return found


def _other_kind(text: str, leaf: Leaf) -> bool:
    """Whether the heading's unit measures something else than the field."""
    return not unit_in(text, leaf.quantity) and _any_unit(text)


def _any_unit(text: str) -> bool:
    """Whether a heading names a unit of anything, in brackets or behind its last word."""
    kinds = {f.leaf.quantity for f in fields().values() if f.leaf.quantity}
    inside = re.findall(r"[\[(]([^\[\]()]+)[\])]", text)
    if inside:
        return any(unit_in(f"[{one}]", kind) for one in inside for kind in kinds)
    last = text.split()[-1] if text.split() else ""
    return len(text.split()) > 1 and any(units.in_table(last, kind) for kind in kinds)


_TAIL = re.compile(
    r"tail|leader|lead|anbind|zuleit|anschluss ?leit|liaison|raccord|aansluit|acometida|colleg|"
    r"connect|run to|from header|to manifold",
    re.IGNORECASE,
)
_EACH_WAY = re.compile(
    r"each way|one way|per leg|einfach|je richtung|aller simple|par sens|enkele|por sentido|"
    r"per tratta|solo andata",
    re.IGNORECASE,
)
"""Words of feeds, and of lengths that are given for one of two ways; ordinary words."""


def _tails(texts: dict[int, str], found: dict[str, tuple[int, str, Guess]]) -> list[str]:
    """The headings of feeds, where there are several."""
    tails = [
        text for text in texts.values()
        if _TAIL.search(text) and (unit_in(text, "length") or not _any_unit(text))
    ]  # fmt: skip
    placed = {text for target, (_, text, _) in found.items() if target != "loops.feeds"}
    return [text for text in tails if text not in placed]


def _gaps(best: Proposal) -> list[str]:
    """What the sheet does not state: constants and words for a person to fill in."""
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


def _part(best: Proposal, book: Book) -> list[str]:
    sheet = best.sheet
    lines = [f"  - sheet: {scalar(sheet.name)}" if not book.single else "  - skip: []"]
    if not book.single:
        lines.append("    skip: []")
    words = [f"{word}*" for word in best.skip]
    lines[-1] = f"{lines[-1].removesuffix('[]')}[{', '.join(scalar(word) for word in words)}]"
    if best.rows > 1:
        lines.append(f"    header_rows: {best.rows}")
    fill = _gappy(best)
    if fill:
        lines.append(
            f"    fill_down: [{', '.join(scalar(text) for text in fill)}]"
            "  # LOOK: empty cells there take the value above"
        )
    lines += _ids(best)
    if best.labels:
        lines.append("    cells:")
        for target, (label, value) in best.labels.items():
            lines.append(_cell(target, label, value))
    columns = [(c, text, g) for t, (c, text, g) in best.columns.items() if t in fields()]
    lines.append("    columns:")
    for column, text, named in sorted(columns, key=lambda one: one[0]):
        lines.append(_column(best, column, text, named))
    loop = best.columns.get("loops")
    if loop and "loops.port" not in best.columns and "headers" in best.columns:
        numbers = [v for v in _values(best, loop[0]) if v != ""]
        if not _unique(best, loop[0]) and all(plain(v).isdecimal() for v in numbers):
            lines.append(
                f"      - {{heading: {scalar(loop[1])}, field: loops.port}}"
                "  # LOOK: is the loop's number its port?"
            )
    if best.left:
        lines.append("# Not placed, so not read (LOOK):")
        lines += [f"# - column {_comment(text)}" for text in best.left]
    return lines


def _ids(best: Proposal) -> list[str]:
    """The ids of the sections that the columns need."""
    heads = {s: best.columns[s][1] for s in collections() if s in best.columns}
    needed = {target.split(".")[0] for target in best.columns if target in fields()}
    ids = {}
    for section in ("loops", "rooms", "headers", "pipes", "floors"):
        if section in heads:
            ids[section] = "{" + heads[section] + "}"
    port = best.columns.get("loops.port")
    look = ""
    if "loops" not in ids:
        parts = [heads[s] for s in ("headers",) if s in heads]
        parts += [port[1]] if port else []
        ids = {"loops": ".".join("{" + p + "}" for p in parts) or "{…}", **ids}
        look = "  # LOOK: no heading names the loop"
    elif "headers" in ids and not _unique(best, best.columns["loops"][0]):
        ids["loops"] = f"{ids['headers']}.{ids['loops']}"
    lines = ["    ids:"]
    lines += [f"      {section}: {scalar(ids[section])}" for section in ids]
    lines[1] += look
    if "rooms" in ids and _room_of_several(best):
        at = next(n for n, line in enumerate(lines) if line.startswith("      rooms:"))
        lines[at] += "  # LOOK: one name stands under several headers or flats; add that heading"
    for section in sorted(needed - ids.keys()):
        if section in collections():
            lines.append(f"      {section}: '{{…}}'  # LOOK: which heading names its {section}?")
    return lines


def _room_of_several(best: Proposal) -> bool:
    """Whether rooms of one name hang on several headers, or stand in several flats or storeys."""
    room = best.columns.get("rooms")
    if room is None:
        return False
    texts = dict(joined_headings(best.sheet, best.top, best.rows))
    beside = [c for c, text in texts.items() if _STOREY.search(folded(text))]
    if "headers" in best.columns:
        beside.append(best.columns["headers"][0])
    names = [plain(v) for v in _values(best, room[0])]
    for column in beside:
        others = [plain(v) for v in _values(best, column)]
        seen: dict[str, str] = {}
        for name, other in zip(names, others, strict=True):
            if name and other and seen.setdefault(name, other) != other:
                return True
    return False


_STOREY = re.compile(
    r"\b(?:flat|apartment|level|storey|wohnung|whg|geschoss|etage|logement|niveau|appartement|"
    r"verdieping|vivienda|planta|appartamento|piano|plot|house)\b"
)


def _values(best: Proposal, column: int) -> list[Any]:
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


def _unique(best: Proposal, column: int) -> bool:
    values = [plain(v) for v in _values(best, column) if v != ""]
    return len(values) == len(set(values))


def _subtotals(best: Proposal) -> list[str]:
    """The words that start subtotal rows, as they stand there."""
    known = tuple(_vocabulary()["skip"])
    found: dict[str, None] = {}
    for row in best.sheet.rows[best.top + best.rows :]:
        for value in row:
            text = value.strip() if isinstance(value, str) else ""
            match = re.match(r"[^\W\d]+(?:-[^\W\d]+)?", text)
            if match and match[0].casefold() in known:
                found[match[0]] = None
    return list(found)


def _gappy(best: Proposal) -> list[str]:
    """Headings of names that are written once for several rows."""
    gappy = []
    for section in ("headers", "rooms", "pipes", "floors"):
        if section in best.columns and "loops" in best.columns:
            column, text, _ = best.columns[section]
            loops = _values(best, best.columns["loops"][0])
            own = _values(best, column)
            merged = {a[1] for a in best.sheet.merged if a[0] > best.top}
            lacking = [a for a, b in zip(own, loops, strict=True) if a == "" and b != ""]
            if lacking and own[0] != "" and column not in merged:
                gappy.append(text)
    return gappy


def _column(best: Proposal, column: int, text: str, named: Guess) -> str:
    leaf = fields()[named.target].leaf
    parts = [f"heading: {scalar(text)}", f"field: {named.target}"]
    looks = []
    if named.alike < 1.0:
        looks.append(f"only like '{named.word}'" if named.word else "the heading is only a unit")
    values = [v for v in _values(best, column) if v != ""]
    if leaf.kind == "quantity":
        unit = unit_in(text, leaf.quantity)
        if not unit and any(re.fullmatch(r"[-+0-9.,]+", plain(v)) for v in values):
            unit = best.weighed.units.get(named.target, "")
            known = f"; only {unit} is possible by {best.weighed.why}" if unit else ""
            unit = unit or (leaf.example or f"1 {leaf.unit}").split(" ", 1)[1]
            looks.append(f"the heading names no unit{known}")
        if unit:
            parts.append(f"unit: {scalar(unit)}")
    if named.target == "loops.feeds":
        if len(best.tails) > 1:
            parts.append(f"plus: [{', '.join(scalar(one) for one in best.tails[1:])}]")
            looks.append("do they add up to both ways together?")
        if _EACH_WAY.search(text):
            parts.append("times: 2")
            looks.append("the heading says one way; both ways count")
        elif len(best.tails) == 1:
            looks.append("is it both ways together? else add 'times: 2'")
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
        parts.append("date: '%d.%m.%Y'")
    look = f"  # LOOK: {'; '.join(looks)}" if looks else ""
    return f"      - {{{', '.join(parts)}}}{_comment(look)}"


def _repeats(best: Proposal, column: int) -> bool:
    """Whether several rows of one room have a value in a column."""
    room = best.columns.get("rooms")
    if room is None:
        return False
    names = [plain(v) for v in _values(best, room[0])]
    filled = [n for n, v in zip(names, _values(best, column), strict=True) if v != "" and n]
    return len(filled) != len(set(filled))


def _words(target: str, leaf: Leaf, values: list[Any]) -> tuple[list[tuple[str, Any]], list[str]]:
    """Their words that have a known meaning, and those that have none."""
    if leaf.kind not in ("enumeration", "boolean"):
        return [], []
    known: dict[str, Any] = {}
    for option, words in (
        _vocabulary()["words"].get("booleans" if leaf.kind == "boolean" else target, {}).items()
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
    if leaf.kind == "date" and (found := _date_form(value)):
        parts.append(f"date: {scalar(found)}")
        days = re.split(r"\D", value)[:2]
        if "/" in value and all(int(one) <= 12 for one in days):
            look = "  # LOOK: day first, or month first ('%m/%d/%Y')?"
    return f"      - {{{', '.join(parts)}}}{look}"


def _date_form(value: str) -> str:
    for pattern, form in (
        (r"\d{1,2}\.\d{1,2}\.\d{4}", "%d.%m.%Y"),
        (r"\d{1,2}/\d{1,2}/\d{4}", "%d/%m/%Y"),
        (r"\d{1,2}-\d{1,2}-\d{4}", "%d-%m-%Y"),
    ):
        if re.fullmatch(pattern, value):
            return form
    return ""


def _comment(text: str) -> str:
    return "".join(sign if sign.isprintable() else " " for sign in text)
