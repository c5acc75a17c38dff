"""Assembles the lines of a drawing into a plan: joins ends, closes outlines, finds names, notes
oddities.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING

import numpy as np

from checker.arrays import Array
from checker.geometry.chaining import SAME_LINE, Chain, chain, opened, toward
from checker.geometry.plan import Path, Plan, flattened, rounded
from checker.geometry.shapes import apart, area, inside

if TYPE_CHECKING:
    from checker.geometry.dxf import Drawing, Label, Line

PARTS = ("rooms", "routes", "joints", "fixed", "keep_clear", "outer_walls", "headers")
OUTLINES = ("rooms", "fixed", "keep_clear")
SCRAP = 0.2
"""m; a shorter piece that joins nothing is not a pipe."""
LENGTHENED = 0.02
"""m by which loose wall lines are extended at both ends, so that their corners meet."""
LEAST_ROOM = 0.2
"""Smallest room that loose lines enclose, m²."""
NEAR_NAME = 0.5
"""Largest distance at which a text names a pipe, m."""
ALIKE = 0.05
"""Relative difference in length up to which two parallel pieces are the two edges of a pipe."""


@dataclass(frozen=True, slots=True)
class Roles:
    """What a drawing's layers are.

    layers: for each part of a plan the patterns (`*`, `?`) of its layers, capitals ignored; labels:
    of layers whose texts name things, besides those themselves; named_by: `layer` or `text`; gap:
    largest distance between line ends that are joined, m; bend: radius where corners are drawn
    sharp, m.
    """

    layers: dict[str, tuple[str, ...]]
    labels: tuple[str, ...] = ()
    named_by: str = "layer"
    gap: float = 0.01
    bend: float = 0.0

    def wanted(self, layer: str) -> bool:
        """Whether anything on a layer is used: its lines, or its texts as names.

        Args:
            layer: the layer's name as the drawing has it.

        Returns:
            False for a layer that fits no pattern of any part, and none of `labels`.
        """
        return bool(self.parts_of(layer)) or matches(layer, self.labels)

    def parts_of(self, layer: str) -> list[str]:
        """The parts that a layer belongs to."""
        return [part for part, patterns in self.layers.items() if matches(layer, patterns)]


@dataclass(slots=True)
class Assembled:
    """A plan and how it was made. notes: remarks for the reader that are not faults."""

    plan: Plan
    notes: list[str] = field(default_factory=list)
    unused: Counter[str] = field(default_factory=Counter)
    """Layers of the drawing that belong to no part, with the number of lines and texts on each."""


def matches(layer: str, patterns: tuple[str, ...]) -> bool:
    """Whether a layer's name fits one of the patterns; capitals count for nothing.

    Args:
        layer: the layer's name as the drawing has it.
        patterns: names in which `*` is any text and `?` any one sign.

    Returns:
        False also where there is no pattern.
    """
    return any(fnmatchcase(layer.casefold(), pattern.casefold()) for pattern in patterns)


def assemble(drawing: Drawing, roles: Roles) -> Assembled:
    """Make a plan from the lines of a drawing: join pipes, close outlines, find names.

    Args:
        drawing: its lines and texts, in metres.
        roles: which layers hold which part of a plan, and how pipes are named and joined.

    Returns:
        The plan, m. What could not be used, such as a pipe in pieces or an outline without a name,
        is left out of it and named in its `remarks`.
    """
    made = _Assembling(drawing, roles)
    return made.plan()


class _Assembling:
    """A plan that is being made."""

    def __init__(self, drawing: Drawing, roles: Roles) -> None:
        self.drawing = drawing
        self.roles = roles
        self.remarks = [*drawing.remarks]
        self.notes: list[str] = []
        self.undirected: set[str] = set()
        self.labels = [
            one
            for one in drawing.labels
            if matches(one.layer, roles.labels) or roles.parts_of(one.layer)
        ]

    def plan(self) -> Assembled:
        lines = {part: self.lines_of(part) for part in self.roles.layers}
        outlines = {part: self.outlines(part, lines[part]) for part in OUTLINES if part in lines}
        # What names an outline names no pipe that happens to lie near it.
        self.leave_out({name for own in outlines.values() for name in own})
        headers = self.headers(lines["headers"]) if "headers" in lines else {}
        self.leave_out({*headers})
        routes = self.routes(lines.get("routes", []), headers)
        others = {
            part: {
                f"{part.removesuffix('s').replace('_', ' ')} {number + 1}": line.path.points
                for number, line in enumerate(lines[part])
            }
            for part in ("joints", "outer_walls")
            if part in lines
        }
        plan = Plan(
            rooms=outlines.get("rooms", {}),
            routes=routes,
            joints=others.get("joints", {}),
            fixed=outlines.get("fixed", {}),
            keep_clear=outlines.get("keep_clear", {}),
            outer_walls=others.get("outer_walls", {}),
            headers=headers,
            remarks=tuple(self.remarks),
            undirected=frozenset(self.undirected),
            parts=frozenset(self.roles.layers),
        )
        unused = Counter(
            {
                layer: count
                for layer, count in sorted(self.drawing.layers.items())
                if not self.roles.wanted(layer)
            }
        )
        return Assembled(plan, self.notes, unused)

    def leave_out(self, texts: set[str]) -> None:
        """Exclude these texts as names of anything else."""
        self.labels = [one for one in self.labels if one.text not in texts]

    def lines_of(self, part: str) -> list[Line]:
        """The lines of a part, each once; remarks name patterns that fit no layer, and double
        lines.
        """
        patterns = self.roles.layers[part]
        for pattern in patterns:
            if not any(matches(layer, (pattern,)) for layer in self.drawing.layers):
                self.remarks.append(f"no layer is named '{pattern}' ({part})")
        kept: list[Line] = []
        seen: set[tuple[str, tuple[float, ...]]] = set()
        # A pipe on the layers of two loops is no doublet but a mistake, which measuring finds.
        apart = part == "routes" and self.roles.named_by == "layer"
        double: Counter[str] = Counter()
        for line in self.drawing.lines:
            if not matches(line.layer, patterns):
                continue
            keys = {(line.layer if apart else "", key) for key in _keys(line)}
            if keys & seen:
                double[line.layer] += 1
                continue
            seen |= keys
            kept.append(line)
        for layer, count in double.items():
            self.remarks.append(f"layer '{layer}': {count} drawn twice, taken once")
        return kept

    # ---- outlines

    def outlines(self, part: str, lines: list[Line]) -> dict[str, Array]:
        """Closed outlines by name."""
        closed, loose = [], []
        for line in lines:
            points = _plain(line.path)
            ends = float(np.hypot(*(points[0] - points[-1])))
            if len(points) > 3 and (line.closed or ends <= self.roles.gap):
                closed.append(points[:-1] if ends <= self.roles.gap else points)
            else:
                loose.append(points)
        closed += self.from_loose(part, loose)
        found: dict[str, Array] = {}
        names = self.names_in(part, closed)
        for number, (outline, name) in enumerate(zip(closed, names, strict=True)):
            if not name and part != "rooms":
                name = f"{part.replace('_', ' ')} {number + 1}"
            if not name:
                x, y = outline.mean(axis=0)
                self.remarks.append(
                    f"the outline of {area(outline):.1f} m² at {x:.2f} {y:.2f} (m) has no name, "
                    "not taken"
                )
            elif name in found:
                self.remarks.append(f"two outlines are named '{name}', the second not taken")
            elif not _simple(outline):
                self.remarks.append(f"the outline '{name}' crosses itself, not taken")
            else:
                found[name] = outline
        return found

    def from_loose(self, part: str, loose: list[Array]) -> list[Array]:
        """The areas that loose lines enclose, each line extended a little."""
        if not loose:
            return []
        import shapely
        from shapely.ops import polygonize, unary_union

        longer = []
        for points in loose:
            first, last = points[0] - points[1], points[-1] - points[-2]
            points = points.copy()
            points[0] += first / max(np.hypot(*first), 1e-9) * LENGTHENED
            points[-1] += last / max(np.hypot(*last), 1e-9) * LENGTHENED
            longer.append(shapely.LineString(points))
        found = [
            np.array(polygon.exterior.coords[:-1])
            for polygon in polygonize(unary_union(longer))
            if polygon.area >= LEAST_ROOM
        ]
        said = f"{len(loose)} loose lines of {part} enclose {len(found)}"
        (self.notes if found else self.remarks).append(said)
        return found

    def names_in(self, part: str, outlines: list[Array]) -> list[str]:
        """For each outline the first text that is in it and in no smaller one; empty where there is
        none.

        Texts on the part's own layers come first.
        """
        labels = self.own_first(part)
        at = np.array([label.at for label in labels]).reshape(-1, 2)
        innermost = np.full(len(labels), -1)
        for number in sorted(range(len(outlines)), key=lambda number: -area(outlines[number])):
            innermost[inside(at, outlines[number])] = number
        names = []
        for number in range(len(outlines)):
            texts = [*dict.fromkeys(labels[n].text for n in np.flatnonzero(innermost == number))]
            if len(texts) > 1:
                self.notes.append(f"'{texts[0]}' also holds the text '{texts[1]}'")
            names.append(texts[0] if texts else "")
        return names

    def own_first(self, part: str) -> list[Label]:
        """All texts, those on the layers of a part before the others."""
        return sorted(self.labels, key=lambda one: part not in self.roles.parts_of(one.layer))

    # ---- pipes

    def headers(self, lines: list[Line]) -> dict[str, Array]:
        """Ports in order: the points of a line, named by the text nearest to it, else by its
        layer.
        """
        found: dict[str, Array] = {}
        for line in lines:
            if line.closed:
                self.remarks.append(f"a closed line on layer '{line.layer}' is not a row of ports")
                continue
            name = self.near(line) or line.layer
            if name in found:
                self.remarks.append(f"two headers are named '{name}', the second not taken")
            else:
                found[name] = line.path.points
        return found

    def near(self, line: Line) -> str:
        """The text nearest to a row of ports, within a distance; empty where there is none.

        A text on one of the headers' own layers comes before any other.
        """
        own = [one for one in self.labels if "headers" in self.roles.parts_of(one.layer)]
        for labels in (own, self.labels):
            away = [(_from_line(line.path.points, np.array(one.at)), one.text) for one in labels]
            if away and min(away)[0] < NEAR_NAME:
                return min(away)[1]
        return ""

    def routes(self, lines: list[Line], headers: dict[str, Array]) -> dict[str, Path]:
        """One path for each pipe, by name."""
        pieces: dict[str, list[Path]] = {}
        if self.roles.named_by == "layer":
            for line in lines:
                name = self.from_layer(line.layer)
                pieces.setdefault(name, []).append(line.path)
            chains = {name: self.chained(own, f"'{name}'") for name, own in pieces.items()}
        else:
            chains = self.by_text(self.chained([line.path for line in lines], "the pipes"))
        found: dict[str, Path] = {}
        for name, own in chains.items():
            route = self.route(name, own, headers)
            if route is not None:
                found[name] = route
        return found

    def from_layer(self, layer: str) -> str:
        """The part of a layer's name that the pattern's `*` matches; the whole name without one."""
        for pattern in self.roles.layers["routes"]:
            if matches(layer, (pattern,)) and pattern.count("*") == 1:
                before, after = pattern.split("*")
                return layer[len(before) : len(layer) - len(after)] or layer
        return layer

    def by_text(self, chains: list[Chain]) -> dict[str, list[Chain]]:
        """Chains by the text nearest to each; a text names only the chain nearest to it."""
        found: dict[str, list[Chain]] = {}
        scraps = 0
        names_of: dict[int, list[tuple[float, str]]] = {}
        for label in self.labels:
            away = [_from_line(one.path.points, np.array(label.at)) for one in chains]
            nearest = int(np.argmin(away)) if away else -1
            if away and away[nearest] <= NEAR_NAME:
                names_of.setdefault(nearest, []).append((away[nearest], label.text))
        for number, one in enumerate(chains):
            names = names_of.get(number)
            if names:
                found.setdefault(min(names)[1], []).append(one)
                self.remark_on_names(one, sorted(names))
            elif one.path.length < SCRAP:
                scraps += 1
            else:
                x, y = one.path.points[0]
                self.remarks.append(
                    f"a pipe of {one.path.length:.1f} m from {x:.2f} {y:.2f} (m) has no name, "
                    "not taken"
                )
        if scraps:
            self.remarks.append(f"{scraps} scraps shorter than {SCRAP} m without a name, not taken")
        return found

    def remark_on_names(self, own: Chain, names: list[tuple[float, str]]) -> None:
        """Note that several texts name a pipe: two pipes are joined, or a text is not a name."""
        texts = [*dict.fromkeys(text for _, text in names)]
        if len(texts) > 1:
            others = ", ".join(f"'{text}'" for text in texts[1:4])
            more = f" and {len(texts) - 4} more" if len(texts) > 4 else ""
            self.remarks.append(
                f"a pipe of {own.path.length:.1f} m is named '{texts[0]}', the nearest text, and "
                f"also {others}{more}"
            )

    def chained(self, pieces: list[Path], whose: str) -> list[Chain]:
        """Pieces whose ends meet, joined; remarks name branches and count closed gaps."""
        chains, gaps, branches = chain(pieces, self.roles.gap)
        if gaps:
            self.notes.append(f"{whose}: {gaps} gaps up to {self.roles.gap * 1000:.3g} mm closed")
        for x, y in branches:
            self.remarks.append(f"{whose} branches at {x:.2f} {y:.2f} (m)")
        return chains

    def route(self, name: str, chains: list[Chain], headers: dict[str, Array]) -> Path | None:
        """The one path of a pipe; None, with a remark, where its pieces do not make one."""
        chains = sorted(chains, key=lambda one: -one.path.length)
        scraps = [one for one in chains[1:] if one.path.length < SCRAP]
        whole = [one for one in chains if one not in scraps]
        if scraps:
            self.remarks.append(f"'{name}': {len(scraps)} scraps shorter than {SCRAP} m, not taken")
        if len(whole) > 1:
            first, second = whole[0].path, whole[1].path
            if len(whole) == 2 and abs(first.length - second.length) <= ALIKE * first.length:
                self.remarks.append(
                    f"'{name}' is two lines of {first.length:.1f} m: two edges of a pipe, or two "
                    "pipes; not taken"
                )
            else:
                self.remarks.append(
                    f"'{name}' is in {len(whole)} pieces, with gaps of {self.gap_words(whole)}; "
                    "not taken"
                )
            return None
        path = whole[0].path
        if whole[0].ring:
            path = opened(path, headers)
            self.undirected.add(name)
            self.remarks.append(f"'{name}' closes to a ring: flow and return end at one point")
        elif not whole[0].directed:
            path = toward(path, headers)
            self.undirected.add(name)
            self.notes.append(f"'{name}': which end is the flow is not known")
        if self.roles.bend and not path.bulges.any():
            path = rounded(path.points, self.roles.bend)
        return path

    @staticmethod
    def gap_words(chains: list[Chain]) -> str:
        """The least and largest distance between the ends of pieces, in words."""
        ends = [(n, end) for n, one in enumerate(chains) for end in (one.path.points[[0, -1]])]
        away = [
            min(float(np.hypot(*(end - other))) for m, other in ends if m != number)
            for number, end in ends
        ]
        return f"{min(away) * 1000:.0f} to {sorted(away)[len(away) // 2] * 1000:.0f} mm"


def _keys(line: Line) -> set[tuple[float, ...]]:
    """Equal for two lines with the same points and midpoints, in either direction."""
    points = line.path.points
    bulges = line.path.bulges
    chord = np.diff(points, axis=0)
    middles = (points[:-1] + points[1:]) / 2 + bulges[:, None] / 2 * np.stack(
        (chord[:, 1], -chord[:, 0]), 1
    )
    every = np.empty((len(points) + len(middles), 2))
    every[0::2], every[1::2] = points, middles
    cells = np.round(every / SAME_LINE).astype(np.int64)
    return {tuple(cells.ravel().tolist()), tuple(cells[::-1].ravel().tolist())}


def _plain(path: Path) -> Array:
    """The points of a path whose arcs are chords, m."""
    return flattened(path)[0]


def _simple(outline: Array) -> bool:
    import shapely

    return bool(shapely.Polygon(outline).is_valid)


def _from_line(points: Array, at: Array) -> float:
    """Distance of a place from a line, m."""
    if len(points) < 2:
        return float(np.hypot(*(points[0] - at)))
    step = np.diff(points, axis=0)
    square = (step**2).sum(axis=1)
    share = np.clip(((at - points[:-1]) * step).sum(axis=1) / np.where(square > 0, square, 1), 0, 1)
    return float(apart(points[:-1] + share[:, None] * step, at[None]).min())
