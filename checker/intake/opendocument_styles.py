"""The styles of an OpenDocument workbook: struck through, raised, units in number formats.

Names and their meaning: OASIS, Open Document Format for Office Applications 1.2, part 1 (2011),
16 and 20, from memory.
"""

from __future__ import annotations

import zipfile
from typing import Any, NamedTuple
from xml.etree import ElementTree

from checker.intake.looks import local
from checker.intake.styles import like_unit

CELL, TEXT = "table-cell", "text"
"""The families of styles of cells, and of parts of their texts."""
DEEPEST = 30
"""Most styles from which a style may inherit, one from the next."""
_NUMBERS = ("number", "scientific-number", "fraction")
_FORMATS = ("number-style", "currency-style", "percentage-style")


class Style(NamedTuple):
    """What a style itself says; None for what it leaves to its parent."""

    parent: str
    struck: bool | None
    raised: bool | None
    format: str
    """The name of its number format; empty where it names none."""


class Styles:
    """The styles and number formats of a workbook, by name."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self.styles: dict[tuple[str, str], Style] = {}
        self.units: dict[str, str] = {}
        self.cases: dict[str, list[tuple[str, str]]] = {}
        """For a format that shows some numbers otherwise: conditions, and the formats for these."""
        for part in ("styles.xml", "content.xml"):
            try:
                root = ElementTree.fromstring(archive.read(part))
            except (KeyError, ElementTree.ParseError):
                continue
            for element in root.iter():
                kind = local(element)
                if kind == "style":
                    family, name = attribute(element, "family"), attribute(element, "name")
                    self.styles[family, name] = _style(element)
                elif kind in _FORMATS:
                    self._format(element)

    def _format(self, element: Any) -> None:
        name = attribute(element, "name")
        if local(element) == "percentage-style":
            self.units[name] = "%"
            return
        behind: list[str] | None = None
        for part in element:
            kind = local(part)
            if kind in _NUMBERS:
                behind = []
            elif kind in ("text", "currency-symbol") and behind is not None:
                behind.append(part.text or "")
            elif kind == "map":
                case = attribute(part, "condition"), attribute(part, "apply-style-name")
                self.cases.setdefault(name, []).append(case)
        self.units[name] = like_unit("".join(behind or ()))

    def _chain(self, family: str, name: str) -> list[Style]:
        """A style and those from which it inherits, the nearest first."""
        found: list[Style] = []
        while len(found) < DEEPEST and (style := self.styles.get((family, name))) is not None:
            found.append(style)
            name = style.parent
        return found

    def struck(self, family: str, name: str) -> bool | None:
        """Whether a style strikes its text through.

        Args:
            family: CELL or TEXT.
            name: the style's name; empty for none.

        Returns:
            None where neither it nor a style from which it inherits says so.
        """
        said = (style.struck for style in self._chain(family, name))
        return next((one for one in said if one is not None), None)

    def raised(self, name: str) -> bool | None:
        """Whether a style of a part of a text raises it.

        Args:
            name: the style's name.

        Returns:
            None where neither it nor a style from which it inherits says so.
        """
        said = (style.raised for style in self._chain(TEXT, name))
        return next((one for one in said if one is not None), None)

    def unit(self, name: str) -> str:
        """The unit that the number format of a cell's style shows behind a number.

        Args:
            name: the style's name; empty for none.

        Returns:
            The unit as it is shown, or `%`; empty where none is. Where that depends on the number's
            size, all of them (`in or ft`), which is no unit, so that the cell is refused.
        """
        formats = (style.format for style in self._chain(CELL, name))
        own = next(filter(None, formats), "")
        cases = self.cases.get(own, [])
        for condition, other in cases:
            if condition in ("value()>=0", "value()>0"):
                return self.units.get(other, "")
        every = [self.units.get(one, "") for one in (*(other for _, other in cases), own)]
        return " or ".join(dict.fromkeys(filter(None, every)))


def _style(element: Any) -> Style:
    struck = raised = None
    for part in element:
        if local(part) != "text-properties":
            continue
        lines = [attribute(part, f"text-line-through-{of}") for of in ("style", "type")]
        if any(lines):
            struck = "none" not in lines
        height = attribute(part, "text-position").split(" ")[0]
        if height:
            raised = height == "super" or (height[0].isdigit() and height.strip("0.%") != "")
    return Style(
        attribute(element, "parent-style-name"), struck, raised,
        attribute(element, "data-style-name"),
    )  # fmt: skip


def attribute(element: Any, name: str) -> str:
    """An attribute of an XML element, whatever its namespace.

    Args:
        element: the element.
        name: the attribute's name without its namespace.

    Returns:
        Its value; empty where it is missing.
    """
    return next((v for key, v in element.items() if key.rsplit("}", 1)[-1] == name), "")
