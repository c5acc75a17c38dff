"""Finds contradictions in floors that are given by their layers, each with what to write
instead.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import isnan
from typing import TYPE_CHECKING, NamedTuple

from checker.design.schema import Format
from checker.reading.documents import Mapping, Place, Sequence, shown
from checker.words import number

if TYPE_CHECKING:
    from checker.design.table import Row
    from checker.design.tables import Tables

INSULATING = 0.1
"""W/(m·K); a layer up to this counts as insulation; common practice, no source."""
THICKEST_PLATE = 0.25
"""Largest thickness of a plate as a share of the pipe's outside diameter; more is a wrong unit."""
SLACK = 1e-9
"""Tolerance of lengths after conversion of units, m."""


class Misfit(NamedTuple):
    """A contradiction in a design.

    Attributes:
        where: the path of the field.
        words: what is wrong and what to write.
        place: of what was typed.
    """

    where: str
    words: str
    place: Place


class Cells:
    """The values of one row by name, NaN where nothing is stated, and their places."""

    def __init__(self, form: Format, table: str, row: Row) -> None:
        self._slots = form.shapes[table].slots
        self._row = row

    def __getitem__(self, name: str) -> float:
        return self._row[self._slots[name]]

    def has(self, name: str) -> bool:
        """Whether the row states a field.

        Args:
            name: of a column of the table, with dots for fields within others.

        Returns:
            False also where the stated value has a mistake.
        """
        return not isnan(self[name])

    def place(self, name: str) -> Place:
        """Give the place of a field in the design's file.

        Args:
            name: of a column of the table, with dots for fields within others.

        Returns:
            The place of the field, else of the section around it; 0 where neither is stated.
        """
        return int(self._row[self._slots[name] + len(self._row) // 2])


def misfits(tables: Tables, starts: dict[str, int], floors: object) -> Iterator[Misfit]:
    """Find all contradictions in the floors of one design.

    Args:
        tables: hold the design, as the last one that was read.
        starts: by table, the first row of the design.
        floors: the design's floors as they were typed.

    Returns:
        Each contradiction, with the field, the words and the place.
    """
    if not isinstance(floors, Mapping):
        return
    form = tables.format
    layers: dict[int, list[Cells]] = {}
    of = tables["layers"]
    for row, parent in zip(
        of.rows[starts["layers"] :], of.parents[starts["layers"] :], strict=True
    ):
        layers.setdefault(parent, []).append(Cells(form, "layers", row))
    names = tables["floors"].ids
    wet, layered = (form.code("floors", "construction", one) for one in ("wet", "layered"))
    no_screed = form.code("floors", "screed.material", "none")
    whole: dict[int, _Floor] = {}
    for place, typed_row in enumerate(tables["floors"].rows[starts["floors"] :], starts["floors"]):
        typed = floors.get(names[place])
        if not isinstance(typed, Mapping):
            continue
        where = f"floors.{shown(names[place])}"
        floor = Cells(form, "floors", typed_row)
        own = layers.get(place, [])
        if floor["construction"] != layered:
            if own and floor.has("construction"):
                words = "a floor with layers is written 'construction: layered'"
                yield Misfit(f"{where}.layers", words, typed.places["layers"][0])
            if floor["construction"] == wet and floor["screed.material"] == no_screed:
                words = (
                    "a wet floor has its pipes in screed; a panel without is 'tested' or 'layered'"
                )
                yield Misfit(f"{where}.screed.material", words, floor.place("screed.material"))
            continue
        if "screed" in typed:
            words = "a layered floor has its screed among its layers; leave this out"
            yield Misfit(f"{where}.screed", words, typed.places["screed"][0])
        if own and isinstance(typed["layers"], Sequence):
            found = [*_of_floor(form, where, floor, own, typed)]
            yield from found
            if not found:
                whole[place] = _Floor(where, own)
    if whole:
        yield from _of_loops(tables, starts, whole)


class _Floor(NamedTuple):
    """A floor with its layers."""

    where: str
    layers: list[Cells]

    @property
    def pipe(self) -> int:
        """The number of the layer that holds the pipe."""
        return next(n for n, layer in enumerate(self.layers) if layer.has("pipe_axis"))

    def of(self, layer: int, name: str) -> str:
        return f"{self.where}.layers[{layer + 1}].{name}"


def _of_floor(
    form: Format, where: str, floor: Cells, layers: list[Cells], typed: Mapping
) -> Iterator[Misfit]:
    """The contradictions within the floor's own record."""
    here = _Floor(where, layers)
    holding = [n for n, layer in enumerate(layers) if layer.has("pipe_axis")]
    if not holding:
        words = "no layer holds the pipe; give one 'pipe_axis: 8 mm', the depth under its top"
        yield Misfit(f"{where}.layers", words, typed.places["layers"][0])
        return
    for extra in holding[1:]:
        words = "a layer above holds the pipe already; a section has one layer of pipes"
        yield Misfit(here.of(extra, "pipe_axis"), words, layers[extra].place("pipe_axis"))
    joists = [n for n, layer in enumerate(layers) if layer.has("joists.width")]
    for n in joists:
        one, first = layers[n], layers[joists[0]]
        if one["joists.width"] >= one["joists.spacing"]:
            words = "the joists are wider than the way from one to the next"
            yield Misfit(here.of(n, "joists.width"), words, one.place("joists.width"))
        for name in ("joists.width", "joists.spacing"):
            if one[name] != first[name]:
                words = f"all joists of a floor are alike; write {_mm(first[name])}"
                yield Misfit(here.of(n, name), words, one.place(name))
    for n, layer in enumerate(layers):
        if not layer.has("plate.thickness"):
            continue
        if n not in holding:
            words = "the plate belongs to the layer that holds the pipe; write it there"
            yield Misfit(here.of(n, "plate"), words, layer.place("plate.thickness"))
        elif layer["plate.thickness"] >= layer["thickness"]:
            words = f"the plate is as thick as its layer of {_mm(layer['thickness'])}"
            yield Misfit(here.of(n, "plate.thickness"), words, layer.place("plate.thickness"))
    heated = form.code("floors", "below", "heated")
    under = layers[holding[0] :]
    bare = all(layer["conductivity"] > INSULATING for layer in under)
    if bare and floor.has("below") and floor["below"] != heated and not floor.has("insulation"):
        words = (
            "nothing under the pipe insulates it from what is below; add that layer, or write "
            "'insulation: 0 m²·K/W' where there is none"
        )
        yield Misfit(f"{where}.layers", words, typed.places["layers"][0])


def _of_loops(
    tables: Tables, starts: dict[str, int], floors: dict[int, _Floor]
) -> Iterator[Misfit]:
    """Contradictions between loops' pipes or spacings and these floors, each pair once."""
    pipes: set[tuple[int, int]] = set()
    spacings: set[tuple[int, int, float]] = set()
    for loop, lying in _lying(tables, starts):
        if not (lying.has("floor") and loop.has("pipe")) or int(lying["floor"]) not in floors:
            continue
        floor, pipe = int(lying["floor"]), int(loop["pipe"])
        outside = Cells(tables.format, "pipes", tables["pipes"].rows[pipe])["outside"]
        if isnan(outside):
            continue
        if (floor, pipe) not in pipes:
            pipes.add((floor, pipe))
            yield from _of_pipe(floors[floor], outside)
        if lying.has("spacing") and (floor, pipe, lying["spacing"]) not in spacings:
            spacings.add((floor, pipe, lying["spacing"]))
            yield from _of_spacing(floors[floor], outside, lying["spacing"])


def _lying(tables: Tables, starts: dict[str, int]) -> Iterator[tuple[Cells, Cells]]:
    """Each loop with the records that say where it is: itself, its parts, its feeds by room."""
    form, loops = tables.format, tables["loops"].rows
    for row in loops[starts["loops"] :]:
        yield Cells(form, "loops", row), Cells(form, "loops", row)
    for name in ("loop_parts", "loop_feeds"):
        table, start = tables[name], starts[name]
        for row, parent in zip(table.rows[start:], table.parents[start:], strict=True):
            yield Cells(form, "loops", loops[parent]), Cells(form, name, row)


def _of_pipe(floor: _Floor, outside: float) -> Iterator[Misfit]:
    """Contradictions between a floor and a pipe of this outside diameter, m."""
    number_of, layer = floor.pipe, floor.layers[floor.pipe]
    axis, radius = layer["pipe_axis"], outside / 2
    plate = layer["plate.thickness"] if layer.has("plate.thickness") else 0.0
    where, place = floor.of(number_of, "pipe_axis"), layer.place("pipe_axis")
    of = f"a pipe of {_mm(outside)}"
    deepest = radius + plate
    over = sum(one["thickness"] for one in floor.layers[:number_of])
    if axis < radius - SLACK:
        words = f"{of} sticks out of the top of its layer; write at least {_mm(radius)}"
        yield Misfit(where, words, place)
    elif plate and axis > deepest + SLACK:
        words = f"the plate does not touch its pipe; for {of} write {_mm(radius)} to {_mm(deepest)}"
        yield Misfit(where, words, place)
    elif plate and axis + over < deepest - SLACK:
        words = (
            f"the plate's ring stands out of the floor's top; put a layer over it, or write "
            f"{_mm(deepest - over)}"
        )
        yield Misfit(where, words, place)
    elif axis + deepest > layer["thickness"] + SLACK:
        words = (
            f"{of} with its axis {_mm(axis)} deep sticks out under its layer of "
            f"{_mm(layer['thickness'])}; that layer takes {_mm(axis + deepest)}"
        )
        yield Misfit(floor.of(number_of, "thickness"), words, layer.place("thickness"))
    if plate > THICKEST_PLATE * outside:
        words = f"the plate is too thick for {of}; look at the unit and the decimal point"
        yield Misfit(floor.of(number_of, "plate.thickness"), words, layer.place("plate.thickness"))
    elif plate and layer["plate.width"] < outside + 4 * plate:
        words = f"the plate hardly covers {of}; write at least {_mm(outside + 4 * plate)}"
        yield Misfit(floor.of(number_of, "plate.width"), words, layer.place("plate.width"))


def _of_spacing(floor: _Floor, outside: float, spacing: float) -> Iterator[Misfit]:
    """Contradictions between a floor and pipes of this spacing, m."""
    layer = floor.layers[floor.pipe]
    width = layer["plate.width"] if layer.has("plate.thickness") else 0.0
    if width > spacing + SLACK:
        words = f"the plate is wider than the {_mm(spacing)} between its pipes; write at most that"
        yield Misfit(floor.of(floor.pipe, "plate.width"), words, layer.place("plate.width"))
    for number_of, one in enumerate(floor.layers):
        if not one.has("joists.width"):
            continue
        place, where = one.place("joists.spacing"), floor.of(number_of, "joists.spacing")
        if spacing > one["joists.spacing"] + SLACK:
            words = (
                f"pipes {_mm(spacing)} apart do not run between joists that are nearer; write the "
                "joists' own spacing"
            )
            yield Misfit(where, words, place)
        elif spacing - one["joists.width"] < (
            max(width, 1.2 * outside) if number_of == floor.pipe else 1.2 * outside
        ):
            words = f"pipe and plate do not fit between joists with pipes {_mm(spacing)} apart"
            yield Misfit(floor.of(number_of, "joists.width"), words, one.place("joists.width"))


def _mm(length: float) -> str:
    return f"{number(1000 * length)} mm"
