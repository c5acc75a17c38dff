"""A drawing beside a design, and the map that says which of its layers are what."""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from checker import units
from checker.geometry.assembly import PARTS, Assembled, Roles, assemble
from checker.geometry.dxf import LARGEST, UNITS, Unread, read_drawing
from checker.reading import beside as besides
from checker.reading import bounded, yaml_reader
from checker.reading.design_files import is_json
from checker.reading.documents import Mapping, Place, Problem, Sequence, shown
from checker.words import choices

FIRST = "drawing: 1"
KEYS = ("drawing", "unit", "gap", "bend", "named_by", "layers", "labels")
WIDEST_GAP = 0.1
"""Largest gap between line ends, m; a wider one could join two pipes side by side."""


class BadMap(Exception):
    """A map cannot be used; holds every mistake in it."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__(problems[0].message)
        self.problems = problems


@dataclass(frozen=True, slots=True)
class DrawingMap:
    """How to read a drawing.

    Attributes:
        unit: of the drawing; empty where the one counts that the drawing states itself.
        roles: which layers are which part of a plan.
    """

    unit: str
    roles: Roles


def place_of(path: str, name: str) -> str:
    """Give the path of a file that a design names.

    Args:
        path: of the design, as the call named it.
        name: as the design states it: a file beside the design or in a folder below.

    Returns:
        The path, relative to where the design's own path is.

    Raises:
        Unread: the name leads elsewhere.
    """
    parts = name.replace("\\", "/").split("/")
    if os.path.isabs(name) or ".." in parts or ":" in name:
        raise Unread(f"'{shown(name)}' must lie beside the design or in a folder under it.")
    return os.path.join(os.path.dirname(path), *parts)


def beside(path: str, name: str) -> bytes:
    """Read a file that a design names.

    Args:
        path: of the design, as the call named it.
        name: as the design states it.

    Returns:
        All bytes of the file.

    Raises:
        Unread: the name leads out of the design's folder, or the file cannot be read or is too
            large.
    """
    try:
        return besides.content(place_of(path, name), LARGEST)
    except OSError as error:
        raise Unread(f"'{shown(name)}' cannot be read: {bounded.why(error)}.") from None


def named(path: str, content: bytes) -> list[str]:
    """List the files that a design's plan names.

    Args:
        path: of the design, as the call named it.
        content: the design's bytes.

    Returns:
        The paths of the drawing and its map; empty where there are none, or the design cannot be
        read.
    """
    if not (b"drawing" in content and b"plan" in content) and b"\\" not in content:
        return []  # unless a key is written with escapes
    try:
        plan = yaml_reader.read(content, json=is_json(path)).get("plan")
    except Problem:
        return []
    found = []
    for name in (plan.get("drawing"), plan.get("map")) if isinstance(plan, dict) else ():
        with suppress(Unread):
            found += [place_of(path, name)] if isinstance(name, str) else []
    return found


def read(drawing: bytes, how: DrawingMap) -> tuple[Assembled, str, float]:
    """Read the plan from a drawing.

    Args:
        drawing: the bytes of the DXF file.
        how: the map.

    Returns:
        The plan, its unit, and that unit in metres.

    Raises:
        Unread: the drawing cannot be read.
    """
    metre = units.factor(how.unit, "length")[0] if how.unit else None
    found = read_drawing(drawing, how.roles.wanted, metre)
    unit = how.unit or found.unit
    if how.unit and found.unit and found.unit != how.unit:
        found.remarks.append(f"it says that it is drawn in {found.unit}; {how.unit} is taken")
    made = assemble(found, how.roles)
    if metre is None:
        metre = next(own for word, own in UNITS.values() if word == unit)
    return made, unit, metre


def load(data: bytes) -> DrawingMap:
    """Read the map of a drawing.

    Args:
        data: the bytes of the map's file.

    Returns:
        How the drawing is to be read.

    Raises:
        BadMap: with every mistake found, in the order of the file.
    """
    try:
        document = yaml_reader.read(data, first=FIRST)
    except Problem as problem:
        raise BadMap([problem]) from None
    reader = _Reader(document)
    made = reader.map()
    if reader.problems:
        raise BadMap(sorted(reader.problems, key=lambda one: (one.line, one.column)))
    return made


class _Reader:
    """A map that is being read."""

    def __init__(self, document: Mapping) -> None:
        self.document = document
        self.problems: list[Problem] = []

    def map(self) -> DrawingMap:
        """The map; what it has is not to be used where there are problems."""
        document = self.document
        for key in document:
            if key not in KEYS:
                words = f"the key '{shown(key)}' is not known here; {choices(shown(key), KEYS)}"
                self.wrong(words, document.places[key][0])
        if document.get("drawing") != "1":
            self.wrong(f"the file starts with '{FIRST}'", document.place)
        layers = document.get("layers")
        if not isinstance(layers, Mapping):
            self.wrong("'layers' is missing: which layers are which part of a plan", document.place)
            layers = Mapping(document.place)
        patterns: dict[str, tuple[str, ...]] = {}
        for part, raw in layers.items():
            key_place, place = layers.places[part]
            if part not in PARTS:
                words = f"there is no part '{shown(part)}' of a plan; {choices(shown(part), PARTS)}"
                self.wrong(words, key_place)
            else:
                patterns[part] = self.patterns(raw, place)
        roles = Roles(
            patterns,
            self.patterns(document["labels"], document.places["labels"][1])
            if "labels" in document
            else (),
            self.word("named_by", ("layer", "text"), "layer"),
            self.length("gap", 0.01, WIDEST_GAP),
            self.length("bend", 0.0, 2.0),
        )
        unit = self.word("unit", tuple(word for word, _ in UNITS.values() if word != "dm"), "")
        return DrawingMap(unit, roles)

    def wrong(self, words: str, place: Place) -> None:
        end = "" if words.endswith((".", "?")) else "."
        self.problems.append(Problem(f"{words}{end}", place))

    def patterns(self, raw: Any, place: Place) -> tuple[str, ...]:
        """One pattern, or a list of them."""
        words = [raw] if isinstance(raw, str) else raw
        if not isinstance(words, list) or not all(isinstance(one, str) and one for one in words):
            self.wrong(
                "a layer's name is expected here, with '*' for any letters, or a list", place
            )
            return ()
        return tuple(words) if isinstance(words, Sequence) else (*words,)

    def word(self, key: str, known: tuple[str, ...], default: str) -> str:
        raw = self.document.get(key, default)
        if key in self.document and raw not in known:
            words = f"'{shown(str(raw))}' is not allowed here; {choices(str(raw), known)}"
            self.wrong(f"{key}: {words}", self.document.places[key][1])
            return default
        return str(raw)

    def length(self, key: str, default: float, most: float) -> float:
        """The length under a key, m; `default` where there is none, or it has a mistake."""
        if key not in self.document:
            return default
        raw, place = self.document[key], self.document.places[key][1]
        try:
            value = units.parse(str(raw), "length", "10 mm")
        except units.UnitError as error:
            self.wrong(f"{key}: {error}", place)
            return default
        if not 0 <= value <= most:
            self.wrong(
                f"{key}: '{raw}' is outside what is possible here (0 mm to {most:g} m)", place
            )
            return default
        return value
