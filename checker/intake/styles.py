"""What a workbook's cell formats say besides the values: struck through, raised characters, units
in number formats, comments. A damaged format is ignored; the values are read all the same.
"""

from __future__ import annotations

import posixpath
import re
import zipfile
from collections.abc import Iterator
from typing import Any, NamedTuple
from xml.etree import ElementTree

RAISED = str.maketrans("0123456789", "⁰¹²³⁴⁵⁶⁷⁸⁹")
_PERCENT = (9, 10)
"""Numbers of the built-in formats that show a percentage (ECMA-376, part 1, 18.8.30)."""
_LITERAL = re.compile(r'"([^"]*)"|\\(.)|(\')|\[\$([^\]-]*)[^\]]*\]')
"""Text in a number format: in quotation marks, one sign after a backslash, a foot sign, or what is
written as a currency.
"""
_BRACKETS = re.compile(r"\[(?!\$|h+\]|m+\]|s+\])[^\]]*\]", re.IGNORECASE)
"""Colours in a number format; times that go on past a day are no such."""
_BY_SIZE = re.compile(r"\[[<>=][^\]]*\]")
"""The condition of a section of a number format."""
_LONGEST = 30


class Style(NamedTuple):
    """A cell's format: whether it is struck through, and the unit that its number format shows."""

    struck: bool = False
    unit: str = ""


class Text(NamedTuple):
    """A text with mixed formats; raised: the text with raised digits as such, empty where none
    is.
    """

    struck: bool = False
    raised: str = ""


def _local(element: Any) -> str:
    return str(element.tag).rsplit("}", 1)[-1]


def _child(element: Any, name: str) -> Any:
    return next((one for one in element if _local(one) == name), None)


def _on(element: Any, name: str) -> bool:
    found = None if element is None else _child(element, name)
    return found is not None and found.get("val", "1") not in ("0", "false")


def _root(archive: zipfile.ZipFile, part: str) -> Any:
    try:
        return ElementTree.fromstring(archive.read(part))
    except (KeyError, ElementTree.ParseError):
        return None


def cell_styles(archive: zipfile.ZipFile) -> list[Style]:
    """The cell formats of a workbook, in the order of their numbers."""
    root = _root(archive, "xl/styles.xml")
    if root is None:
        return []
    fonts = [_on(font, "strike") for font in _child(root, "fonts") or ()]
    codes = {
        one.get("numFmtId"): one.get("formatCode", "") for one in _child(root, "numFmts") or ()
    }
    found = []
    for one in _child(root, "cellXfs") or ():
        font, form = one.get("fontId", "0"), one.get("numFmtId", "0")
        struck = font.isdecimal() and int(font) < len(fonts) and fonts[int(font)]
        percent = form.isdecimal() and int(form) in _PERCENT
        found.append(Style(struck, "%" if percent else unit_of(codes.get(form, ""))))
    return found


def unit_of(code: str) -> str:
    """The unit that a cell's number format shows.

    Args:
        code: the format, such as `0" cm"`.

    Returns:
        What it writes behind the number, or `%`; empty where it writes nothing like a unit, or is a
        format of dates. Where that depends on the number's size, all of them (`in or ft`), which is
        no unit, so that the cell is refused.
    """
    if _BY_SIZE.search(code):
        sections = [_BY_SIZE.sub("", section) for section in code.split(";")]
        return " or ".join(dict.fromkeys(filter(None, map(unit_of, sections))))
    first = _BRACKETS.sub("", code.split(";")[0])
    numbers = [match.end() for match in re.finditer(r"[0#?]|General", first)]
    if not numbers or re.search(r"[ymdhs]", _LITERAL.sub("", first).lower()):
        return ""
    behind = first[numbers[-1] :]
    if "%" in _LITERAL.sub("", behind):
        return "%"
    return like_unit("".join("".join(groups) for groups in _LITERAL.findall(behind)))


def like_unit(text: str) -> str:
    """What a format shows behind a number, if it looks like a unit.

    Args:
        text: all that is shown there.

    Returns:
        The text without spaces around it; empty where it is long, or has no letter and no sign of a
        unit.
    """
    text = text.strip()
    return text if len(text) <= _LONGEST and re.search(r"\w|[%°'\"]", text) else ""


def shared_texts(archive: zipfile.ZipFile) -> dict[int, Text]:
    """The shared texts with mixed formats, by their number."""
    found = {}
    try:
        stream = archive.open("xl/sharedStrings.xml")
    except KeyError:
        return {}
    number = 0
    with stream:
        try:
            for _, element in ElementTree.iterparse(stream):
                if _local(element) == "si":
                    runs = [one for one in element if _local(one) == "r"]
                    if runs and (text := of_runs(runs)) is not None:
                        found[number] = text
                    number += 1
                    element.clear()
        except ElementTree.ParseError:
            return found
    return found


def of_runs(runs: list[Any]) -> Text | None:
    """A text of several parts with formats of their own.

    Args:
        runs: the elements of the parts, in order.

    Returns:
        None where no part is struck through or raised.
    """
    texts, raised, struck = [], False, []
    for run in runs:
        look = _child(run, "rPr")
        text = "".join(t.text or "" for t in run if _local(t) == "t")
        level = None if look is None else _child(look, "vertAlign")
        if level is not None and level.get("val") == "superscript":
            text, raised = text.translate(RAISED), True
        if text.strip():
            struck.append(_on(look, "strike"))
        texts.append(text)
    if not raised and not any(struck):
        return None
    return Text(bool(struck) and all(struck), "".join(texts) if raised else "")


def comments_of(archive: zipfile.ZipFile, part: str) -> dict[tuple[int, int], str]:
    """The comments of a sheet, by row and column from 0."""
    folder, name = posixpath.split(part)
    relations = _root(archive, f"{folder}/_rels/{name}.rels")
    found: dict[tuple[int, int], str] = {}
    for one in relations if relations is not None else ():
        if str(one.get("Type", "")).endswith("/comments"):
            target = one.get("Target", "")
            target = target.lstrip("/") if target.startswith("/") else f"{folder}/{target}"
            found.update(_comments(_root(archive, posixpath.normpath(target))))
    return found


def _comments(root: Any) -> Iterator[tuple[tuple[int, int], str]]:
    for one in root.iter() if root is not None else ():
        match = re.fullmatch(r"([A-Z]{1,3})([0-9]{1,7})", one.get("ref", ""))
        if _local(one) == "comment" and match:
            column = 0
            for sign in match[1]:
                column = column * 26 + ord(sign) - 64
            text = " ".join("".join(t.text or "" for t in one.iter() if _local(t) == "t").split())
            yield (int(match[2]) - 1, column - 1), text
