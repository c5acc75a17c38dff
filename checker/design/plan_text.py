"""A plan written as text in a design: outlines, routes and lines as points."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any, cast

import shapely

from checker import units
from checker.arrays import Array
from checker.design.wrong_kinds import not_a_value
from checker.geometry.lines import BadPoints, points
from checker.geometry.plan import Plan, distinct, rounded
from checker.reading.documents import Mapping, Place, shown
from checker.reading.within import place_within
from checker.words import choices

if TYPE_CHECKING:
    from checker.design.schema import PlanPart
    from checker.design.taking import Walk

LEAST_POINTS = {"outline": 3, "route": 2, "line": 2, "ports": 1}
MOST_POINTS = 100_000
MOST_PIPE = 50_000.0
"""Longest pipe in a plan, m; a hall of 10,000 m² at a spacing of 200 mm."""
LEAST_OUTLINE = 1e-4
"""Smallest outline, m²; one that encloses less encloses nothing."""


class PlanReader:
    """A plan written as text: reads every line as points in metres, and notes every mistake.

    Attributes:
        walk: the design that is being read; mistakes are noted in it.
        part: what the format has for a plan.
        raw: the plan as typed.
        data: the design's file, in which places of mistakes are looked up.
        metre: the plan's unit in metres, once that is read.
        count: how many points were read so far.
    """

    def __init__(self, walk: Walk, part: PlanPart, raw: Mapping, data: bytes) -> None:
        self.walk = walk
        self.part = part
        self.raw = raw
        self.data = data
        self.metre = 0.0
        self.count = 0

    def plan(self) -> tuple[Plan | None, str, float]:
        """The plan (None where it has mistakes), its unit, and that unit in metres."""
        before = len(self.walk.problems)
        known = ("unit", "bend", *self.part.lines, *self.part.texts)
        for key in self.raw:
            if key not in known:
                words = f"the key '{shown(key)}' is not known here; {choices(shown(key), known)}"
                self.walk.problem("plan", words, self.raw.places[key][0])
        unit = self.unit()
        bend, bends = self.bend(), self.bends()
        lines = {
            key: self.lines(key, kind) for key, kind in self.part.lines.items() if kind != "bend"
        }
        if len(self.walk.problems) > before:
            return None, unit, self.metre
        routes = {
            name: rounded(corners, bends.get(name, bend))
            for name, corners in lines.pop("routes").items()
        }
        whole = sum(path.length for path in routes.values())
        if whole > MOST_PIPE:
            words = f"{whole / 1000:.0f} km of pipe are more than is taken; look at the unit"
            self.walk.problem("plan.routes", words, self.raw.places["routes"][0])
            return None, unit, self.metre
        plan = Plan(routes=routes, parts=frozenset(self.raw))
        return replace(plan, **cast(Any, lines)), unit, self.metre

    def unit(self) -> str:
        """The plan's unit, empty where it is not known; keeps what it is in metres."""
        raw = self.raw.get("unit")
        units_ = self.part.units
        if raw is None:
            self.walk.problem(
                "plan", f"'unit' is missing here; write one of {', '.join(units_)}", self.raw.place
            )
        elif raw not in units_:
            words = f"'{shown(str(raw))}' is not allowed here; {choices(str(raw), units_)}"
            self.walk.problem("plan.unit", words, self.raw.places["unit"][1])
        else:
            self.metre = units.factor(raw, "length")[0]
            return str(raw)
        self.metre = 1.0
        return ""

    def radius(self, raw: Any, where: str, place: Place) -> float:
        """Read a radius.

        Args:
            raw: as typed.
            where: its path in the design.
            place: of it in the file.

        Returns:
            m; 0 where it has a mistake, which is noted.
        """
        if type(raw) is not str:
            self.walk.problem(where, not_a_value(self.part.bend, raw), place)
            return 0.0
        try:
            return self.part.bend.convert(raw)
        except ValueError as error:
            self.walk.problem(where, str(error), place)
            return 0.0

    def bend(self) -> float:
        """The radius at the corners of all routes, m; 0 where none is stated."""
        if "bend" not in self.raw:
            return 0.0
        return self.radius(self.raw["bend"], "plan.bend", self.raw.places["bend"][1])

    def bends(self) -> dict[str, float]:
        """The radius at the corners of single routes, m, by the route's name."""
        found = {}
        for key in (key for key, kind in self.part.lines.items() if kind == "bend"):
            routes = self.raw.get("routes")
            names = [*routes] if isinstance(routes, Mapping) else []
            for name, raw, place in self.members(key):
                where = f"plan.{key}.{shown(name)}"
                if name not in names:
                    words = f"there is no route '{shown(name)}'; {choices(shown(name), names)}"
                    self.walk.problem(where, words, self.raw[key].places[name][0])
                found[name] = self.radius(raw, where, place)
        return found

    def members(self, key: str) -> list[tuple[str, Any, Place]]:
        """Go through the named values under a key.

        Args:
            key: of the plan ('rooms').

        Returns:
            Each name, its value as typed, and the place of the value; empty where the key is
            missing or holds no names, which is noted.
        """
        raw = self.raw.get(key)
        if key not in self.raw:
            return []
        if not isinstance(raw, Mapping):
            words = "names with their values are expected here, each on a line of its own"
            self.walk.problem(f"plan.{key}", words, self.raw.places[key][1])
            return []
        for name in raw:
            self.walk.hold_id(name, f"plan.{key}.{shown(name)}", raw.places[name][0])
        return [(name, value, raw.places[name][1]) for name, value in raw.items()]

    def lines(self, key: str, kind: str) -> dict[str, Array]:
        """Read all lines under a key.

        Args:
            key: of the plan ('rooms').
            kind: of each line ('outline').

        Returns:
            By name, points in metres, shape (points, 2); without those that have a mistake, which
            is noted.
        """
        found: dict[str, Array] = {}
        raw = self.raw.get(key)
        for name, value, place in self.members(key):
            where = f"plan.{key}.{shown(name)}"
            if type(value) is not str:
                words = "points are expected here, such as '0 0, 4200 0, 4200 3600'"
                flow = value is None and _is_points(name)
                if flow:
                    words = "between braces a comma ends a line; give each line a line of its own"
                self.walk.problem(where, words, raw.places[name][0] if flow and raw else place)
                continue
            line = self.line(value, where, place, kind)
            if line is not None:
                found[name] = line
        return found

    def line(self, text: str, where: str, place: Place, kind: str) -> Array | None:
        """Read one line.

        Args:
            text: its points, separated by commas.
            where: its path in the design.
            place: of the text in the file.
            kind: of the line ('outline').

        Returns:
            Points in metres, shape (points, 2); None where the line has a mistake, which is noted.
        """
        try:
            line = points(text, self.metre, LEAST_POINTS[kind])
        except BadPoints as bad:
            self.walk.problem(where, str(bad), place_within(self.data, place, text, bad.start))
            return None
        self.count += len(line)
        if self.count > MOST_POINTS:
            self.walk.problem(where, f"a plan may have {MOST_POINTS:,} points, no more", place)
            return None
        words = _fault(line, kind)
        if words:
            self.walk.problem(where, words, place)
            return None
        return line


def _is_points(text: str) -> bool:
    return re.fullmatch(r"[-+.\deE]+\s+[-+.\deE]+", text.strip()) is not None


def _fault(line: Array, kind: str) -> str:
    """What is wrong with points that can be read; empty where nothing is."""
    different = distinct(line)
    if kind in ("route", "line") and len(different) < 2:
        return "all its points are the same"
    if kind != "outline":
        return ""
    outline = shapely.Polygon(line)
    if outline.convex_hull.area < LEAST_OUTLINE:
        return "the outline encloses nothing"
    return "" if outline.is_valid else "the outline crosses or touches itself"
