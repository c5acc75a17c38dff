"""What an OpenDocument workbook says about its cells: merged, hidden, struck through, commented,
raised signs, units in number formats.
"""

from __future__ import annotations

import re
import zipfile
from bisect import bisect
from collections.abc import Iterator
from itertools import product
from typing import Any
from xml.etree import ElementTree

from checker.intake.looks import ELSEWHERE, UNWORKED, Look, local, refuse_too_many, without_links
from checker.intake.opendocument_styles import CELL, TEXT, Styles, attribute
from checker.intake.sheets import ERROR
from checker.intake.styles import RAISED

_BREAKS = {"s": " ", "tab": "\t", "line-break": "\n"}
"""Elements within a text that are written as a sign."""


def ods_looks(archive: zipfile.ZipFile) -> dict[str, Look]:
    """What each sheet of an OpenDocument workbook says about its cells, by the sheet's name."""
    looks: dict[str, Look] = {}
    styles = Styles(archive)
    sheet = _Sheet(styles, "")
    with archive.open("content.xml") as stream:
        for event, element in ElementTree.iterparse(stream, ("start", "end")):
            kind = local(element)
            if event == "start":
                if kind == "table":
                    sheet = _Sheet(styles, attribute(element, "name"))
                elif kind == "table-column":
                    sheet.columns(element)
                continue
            if kind == "table-row":
                sheet.rows(element)
                element.clear()
            elif kind == "table":
                refuse_too_many(len(looks) + 1)
                looks[sheet.name] = sheet.look.bounded(sheet.name)
    return looks


class _Sheet:
    """A sheet of which the rows are gone through in order."""

    def __init__(self, styles: Styles, name: str) -> None:
        self.styles, self.name = styles, name
        self.look = Look()
        self.row = self.column = 0
        self.starts: list[int] = []
        self.usual: list[str] = []
        """For each group of columns its first, and the style of its cells that name none."""

    def columns(self, element: Any) -> None:
        """Take note of a column, or of several that are alike."""
        wide = int(attribute(element, "number-columns-repeated") or 1)
        if attribute(element, "visibility") == "collapse" and wide < 1000:
            self.look.hidden_columns.update(range(self.column, self.column + wide))
        self.starts.append(self.column)
        self.usual.append(attribute(element, "default-cell-style-name"))
        self.column += wide

    def rows(self, element: Any) -> None:
        """Take note of a row, or of several that are alike."""
        repeated = int(attribute(element, "number-rows-repeated") or 1)
        if attribute(element, "visibility") in ("collapse", "filter") and repeated < 10_000:
            self.look.hidden_rows.update(range(self.row, self.row + repeated))
        usual = attribute(element, "default-cell-style-name")
        for column, cell in _cells(element):
            self.cell(repeated, column, cell, usual)
        self.row += repeated

    def cell(self, repeated: int, column: int, cell: Any, usual: str) -> None:
        """Take note of a cell with content, or of a block of equal ones."""
        look, row = self.look, self.row
        formula = attribute(cell, "formula")
        kinds = [v for key, v in cell.items() if key.endswith("}value-type")]
        if not kinds and not formula and not len(cell):
            return
        wide = int(attribute(cell, "number-columns-repeated") or 1)
        look.reach(row + repeated - 1, column + wide - 1)
        look.bounded(self.name)
        alike = range(row, row + repeated), range(column, column + wide)
        down = int(attribute(cell, "number-rows-spanned") or 1)
        across = int(attribute(cell, "number-columns-spanned") or 1)
        if down * across > 1:
            look.merged.append((row, column, row + down - 1, column + across - 1))
        self.comment(row, column, cell)
        fault = _fault(cell, formula, kinds)
        if fault:
            look.faults |= dict.fromkeys(product(*alike), fault)
        group = bisect(self.starts, column) - 1
        style = attribute(cell, "style-name") or usual or (self.usual[group] if group >= 0 else "")
        runs = [*_runs(self.styles, cell, self.styles.struck(CELL, style) or False)]
        visible = [struck for text, struck, _ in runs if text.strip()]
        if visible and all(visible):
            look.struck.update(product(*alike))
        if "string" in kinds and any(raised for _, _, raised in runs):
            said = "".join(text.translate(RAISED) if up else text for text, _, up in runs)
            look.texts |= dict.fromkeys(product(*alike), said)
        unit = "%" if "percentage" in kinds else self.styles.unit(style)
        if unit and {"float", "percentage", "currency"}.intersection(kinds):
            look.units |= dict.fromkeys(product(*alike), unit)

    def comment(self, row: int, column: int, cell: Any) -> None:
        """Keep the comment on a cell, without its author and day."""
        for part in cell:
            if local(part) == "annotation":
                said = [one for one in part if local(one) not in ("date", "date-string", "creator")]
                self.look.comments[row, column] = " ".join(" ".join(
                    text for one in said for text in one.itertext()).split())  # fmt: skip


def _cells(row: Any) -> Iterator[tuple[int, Any]]:
    """Each cell of a row with its column, from 0; of equal ones the first."""
    column = 0
    for cell in row:
        if local(cell) in ("table-cell", "covered-table-cell"):
            yield column, cell
            column += int(attribute(cell, "number-columns-repeated") or 1)


def _runs(styles: Styles, cell: Any, struck: bool) -> Iterator[tuple[str, bool, bool]]:
    """The parts of a cell's text: each with whether it is struck through, and raised."""

    def walk(element: Any, struck: bool, raised: bool) -> Iterator[tuple[str, bool, bool]]:
        if local(element) == "span":
            name = attribute(element, "style-name")
            own, up = styles.struck(TEXT, name), styles.raised(name)
            struck, raised = struck if own is None else own, raised if up is None else up
        if element.text:
            yield element.text, struck, raised
        for part in element:
            sign = _BREAKS.get(local(part))
            if sign is None:
                yield from walk(part, struck, raised)
            else:
                yield sign * int(attribute(part, "c") or 1), struck, raised
            if part.tail:
                yield part.tail, struck, raised

    paragraphs = [part for part in cell if local(part) == "p"]
    for number, part in enumerate(paragraphs):
        if number:
            yield "\n", struck, False
        yield from walk(part, struck, False)


def _fault(cell: Any, formula: str, kinds: list[str]) -> str:
    """Why a cell must not be read; empty where it may."""
    text = "".join("".join(part.itertext()) for part in cell if local(part) != "annotation").strip()
    if "error" in kinds or (formula and re.fullmatch(r"(#[A-Z/0]+[!?]?|Err:[0-9]+)", text)):
        return ERROR.format(text)
    if re.search(r"file:|https?:", without_links(formula)):
        return ELSEWHERE
    return UNWORKED if formula and not kinds else ""
