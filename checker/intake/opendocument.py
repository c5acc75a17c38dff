"""What an OpenDocument workbook says about its cells: merged, hidden, struck through, commented."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from typing import Any
from xml.etree import ElementTree

from checker.intake.looks import ELSEWHERE, UNWORKED, Look, local, refuse_too_many, without_links
from checker.intake.sheets import ERROR
from checker.intake.styles import struck_styles


def ods_looks(archive: zipfile.ZipFile) -> dict[str, Look]:
    """What each sheet of an OpenDocument workbook says about its cells, by the sheet's name."""
    looks: dict[str, Look] = {}
    look = Look()
    name, row, column, repeated = "", 0, 0, 1
    struck = struck_styles(archive)
    with archive.open("content.xml") as stream:
        for event, element in ElementTree.iterparse(stream, ("start", "end")):
            kind = local(element)
            if event == "start":
                if kind == "table":
                    name, look, row, column = _attribute(element, "name"), Look(), 0, 0
                elif kind == "table-column":
                    wide = int(_attribute(element, "number-columns-repeated") or 1)
                    if _attribute(element, "visibility") == "collapse" and wide < 1000:
                        look.hidden_columns.update(range(column, column + wide))
                    column += wide
                continue
            if kind == "table-row":
                repeated = int(_attribute(element, "number-rows-repeated") or 1)
                if (
                    _attribute(element, "visibility") in ("collapse", "filter")
                    and repeated < 10_000
                ):
                    look.hidden_rows.update(range(row, row + repeated))
                for at, cell in _cells(element):
                    _cell(look, row, repeated, at, cell)
                    _look(look, row, at, cell, struck)
                row += repeated
                element.clear()
            elif kind == "table":
                refuse_too_many(len(looks) + 1)
                looks[name] = look.bounded(name)
    return looks


def _look(look: Look, row: int, column: int, cell: Any, struck: set[str]) -> None:
    """Note a cell's comment, and whether its text is struck through."""
    for part in cell:
        if local(part) == "annotation":
            said = [one for one in part if local(one) not in ("date", "date-string", "creator")]
            look.comments[row, column] = " ".join(" ".join(
                text for one in said for text in one.itertext()).split())  # fmt: skip
    if _attribute(cell, "style-name") in struck:
        look.struck.add((row, column))


def _attribute(element: Any, name: str) -> str:
    return next((v for key, v in element.items() if key.rsplit("}", 1)[-1] == name), "")


def _cells(row: Any) -> Iterator[tuple[int, Any]]:
    column = 0
    for cell in row:
        if local(cell) in ("table-cell", "covered-table-cell"):
            yield column, cell
            column += int(_attribute(cell, "number-columns-repeated") or 1)


def _cell(look: Look, row: int, repeated: int, column: int, cell: Any) -> None:
    formula = _attribute(cell, "formula")
    has_value = any(key.endswith("}value-type") for key in cell.keys())  # noqa: SIM118
    if not has_value and not formula and not len(cell):
        return
    wide = int(_attribute(cell, "number-columns-repeated") or 1)
    look.reach(row + repeated - 1, column + wide - 1)
    down = int(_attribute(cell, "number-rows-spanned") or 1)
    across = int(_attribute(cell, "number-columns-spanned") or 1)
    if down * across > 1:
        look.merged.append((row, column, row + down - 1, column + across - 1))
    text = "".join("".join(part.itertext()) for part in cell if local(part) != "annotation").strip()
    error = "error" in [v for key, v in cell.items() if key.endswith("}value-type")]
    fault = ""
    if error or (formula and re.fullmatch(r"(#[A-Z/0]+[!?]?|Err:[0-9]+)", text)):
        fault = ERROR.format(text)
    elif re.search(r"file:|https?:", without_links(formula)):
        fault = ELSEWHERE
    elif formula and not has_value:
        fault = UNWORKED
    if fault:
        for number in range(min(repeated, 100)):
            for step in range(min(wide, 100)):
                look.faults[row + number, column + step] = fault
