"""The cells of a sheet from which a design's values were read, as stated in the design's text.

A design that was read from a sheet is text like any other (`intake.writing` makes it), with a
comment after each record: `# Loops, row 7: A B - D8`. It names the cell of the record's id and then
of each value on the line; letters alone are in that row, `-` is in no cell.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from typing import Any, NamedTuple

from checker.reading.documents import Mapping, Place, Sequence, line_of, place_at

BEGINNING = "# Read from "
REFUSED = "Not read, so not known"
"""The heading of the cells that could not be read."""
_BEHIND = re.compile(r"  # (.+), rows? ([0-9]+)[0-9, ]*(?:: (.*))?$")
_ENTRY = re.compile(r"(?:'((?:[^']|'')*)'!)?([A-Z]{1,3})([0-9]*)|-")


class Spot(NamedTuple):
    """A cell.

    Attributes:
        sheet: its name.
        row: from 1.
        column: from 1; 0 for a whole row.
        address: such as `D8`, or the row in words.
    """

    sheet: str
    row: int
    column: int
    address: str

    def __str__(self) -> str:
        return f"{self.sheet} {self.address}"


class Cells(NamedTuple):
    """The cells of a design's values in the sheet that it was read from.

    Attributes:
        file: the sheet file's name, without folders.
        at: by place in the design's text.
        first: for each line, from 1, the cell of its record.
        remarks: those on the reading, by heading.
    """

    file: str
    at: dict[Place, Spot]
    first: dict[int, Spot]
    remarks: tuple[tuple[str, tuple[str, ...]], ...] = ()
    direct: bool = False
    """Whether the design is shown by the sheet's own path, because its text is in no file."""

    @property
    def refused(self) -> tuple[str, ...]:
        """The cells that could not be read."""
        return next((lines for title, lines in self.remarks if title == REFUSED), ())

    def of(self, place: Place) -> Spot | None:
        """The cell of a place in the text.

        Args:
            place: of a value or an id.

        Returns:
            Where the value has no cell of its own, that of the record on its line; None where that
            has none either.
        """
        return self.at.get(place) or self.first.get(line_of(place))


def comment(sheet: str, rows: list[int], spots: list[Spot | None]) -> str:
    """The comment that names the cells of a record, to be written after it on its line.

    Args:
        sheet: the name of the record's sheet.
        rows: the rows that it was read from, counted from 1, at least one.
        spots: the cells of its id and of each value, in the order of the line; None for what is in
            no cell.

    Returns:
        The comment with two spaces before it; what cannot be printed in a name is a space.
    """
    several = "s" if len(rows) > 1 else ""
    entries = [_entry(spot, sheet, rows[0]) for spot in spots]
    shown = "".join(sign if sign.isprintable() else " " for sign in sheet)
    numbers = ", ".join(str(row) for row in rows)
    return f"  # {shown}, row{several} {numbers}: {' '.join(entries)}"


def _entry(spot: Spot | None, sheet: str, row: int) -> str:
    if spot is None:
        return "-"
    if spot.sheet != sheet:
        name = "".join(sign if sign.isprintable() else " " for sign in spot.sheet)
        return f"'{name.replace(chr(39), chr(39) * 2)}'!{spot.address}"
    return spot.address.rstrip("0123456789") if spot.row == row else spot.address


def sheet_of(data: bytes) -> str:
    """The name of the sheet file that a design's text was read from.

    Args:
        data: the design's bytes, or their beginning.

    Returns:
        A name without folders; empty where it was read from none.
    """
    if not data.startswith(BEGINNING.encode()):
        return ""
    first = data.partition(b"\n")[0].decode("utf-8", "replace").rstrip("\r")
    return re.split(" by the (?:map|form)", first.removeprefix(BEGINNING))[0]


def cells_of(document: Mapping, data: bytes) -> Cells | None:
    """The cells of a design's values.

    Args:
        document: the design as it was typed.
        data: its bytes, from which the document was read.

    Returns:
        None for a design that was not read from a sheet.
    """
    file = sheet_of(data)
    if not file:
        return None
    lines = data.decode("utf-8", "replace").splitlines()
    places = _places(document)
    at: dict[Place, Spot] = {}
    first: dict[int, Spot] = {}
    for number, line in enumerate(lines, 1):
        found = None if line.startswith("#") else _BEHIND.search(line)
        if found is None:
            continue
        sheet, row = found[1].rpartition("  # ")[2], int(found[2])
        first[number] = Spot(sheet, row, 0, f"row {row}")
        spots = [*_spots(found[3] or "", sheet, row)]
        # Somebody who edits the text may part values and cells: then the row is all that is known.
        if len(spots) == len(places[number]):
            known = [spot for spot in spots if spot is not None]
            if known:
                first[number] = known[0]
            at.update(
                (place, spot)
                for place, spot in zip(places[number], spots, strict=True)
                if spot is not None
            )
    return Cells(file, at, first, remarks_in(data))


def _spots(text: str, sheet: str, row: int) -> Iterator[Spot | None]:
    for found in _ENTRY.finditer(text):
        if found[2] is None:
            yield None
            continue
        name = sheet if found[1] is None else found[1].replace("''", "'")
        number = int(found[3] or row)
        column = 0
        for sign in found[2]:
            column = column * 26 + ord(sign) - 64
        yield Spot(name, number, column, f"{found[2]}{number}")


Way = tuple[str | int, ...]
"""The keys and list positions that lead to a value; with `ID` after a record's, to its id."""
ID = "\0"


def _ways(document: Mapping) -> Iterator[tuple[Way, Place]]:
    """The places of ids and values, by the way to each."""

    def take(value: Any, place: Place, way: Way) -> Iterator[tuple[Way, Place]]:
        if isinstance(value, Mapping):
            for key, inner in value.items():
                yield from take(inner, value.places[key][1], (*way, key))
        elif isinstance(value, Sequence):
            for number, (inner, at) in enumerate(zip(value, value.places, strict=True)):
                yield from take(inner, at, (*way, number))
        else:
            yield way, place

    for key, section in document.items():
        if isinstance(section, Mapping):
            line = line_of(document.places[key][0])
            for name, record in section.items():
                at = section.places[name][0]
                if isinstance(record, Mapping) and line_of(at) != line:
                    yield (key, name, ID), at
        yield from take(section, document.places[key][1], (key,))


def _places(document: Mapping) -> dict[int, list[Place]]:
    """The places of the ids and values on each line, in order."""
    found: dict[int, list[Place]] = defaultdict(list)
    for _, place in _ways(document):
        found[line_of(place)].append(place)
    return defaultdict(list, {line: sorted(own) for line, own in found.items()})


def carried_over(before: Mapping, data: bytes, after: Mapping, made: bytes) -> bytes:
    """The text of a changed design, with the comments that name the cells of the original.

    New values have no cell.

    Args:
        before: the original document.
        data: its text.
        after: the changed document.
        made: its text, with the original's comments where they were.

    Returns:
        UTF-8; `made` itself for a design that was not read from a sheet.
    """
    cells = cells_of(before, data)
    if cells is None:
        return made
    known = {way: cells.at.get(place) for way, place in _ways(before)}
    on: dict[int, list[tuple[Place, Way]]] = defaultdict(list)
    for way, place in _ways(after):
        on[line_of(place)].append((place, way))
    lines = made.decode("utf-8").split("\n")
    for number, line in enumerate(lines, 1):
        found = None if line.startswith("#") else _BEHIND.search(line)
        if found is not None and found[3] is not None:
            sheet, row = found[1].rpartition("  # ")[2], int(found[2])
            spots = [known.get(way) for _, way in sorted(on[number])]
            entries = " ".join(_entry(spot, sheet, row) for spot in spots)
            lines[number - 1] = line[: found.start(3)] + entries
    return "\n".join(lines).encode("utf-8")


def remarks_in(data: bytes) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The remarks on how a design was read, from its first comments.

    Args:
        data: the design's bytes.

    Returns:
        By heading, in file order; headings without a remark are left out.
    """
    found: dict[str, list[str]] = {}
    title = ""
    for line in data.decode("utf-8", "replace").splitlines():
        if not line.startswith("#"):
            break
        if line.startswith("# - "):
            found[title].append(line.removeprefix("# - "))
        else:
            title = line.removeprefix("# ").rstrip(":")
            found.setdefault(title, [])
    return tuple((title, tuple(lines)) for title, lines in found.items() if lines)


def spot_at(cells: Cells | None, line: int, column: int) -> Spot | None:
    """The cell of a line and column of a design's text.

    Args:
        cells: those of the design, None where it was not read from a sheet.
        line: counted from 1.
        column: counted from 1.

    Returns:
        As `Cells.of`; None without cells.
    """
    return None if cells is None else cells.of(place_at(line - 1, column - 1))
