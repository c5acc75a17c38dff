"""Quantities of a floor that is given by its layers. SI, one a row."""

from __future__ import annotations

from math import isnan

import numpy as np

from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.numbered import Numbered
from checker.compute.registry import quantities_of
from checker.design.leaves import words
from checker.design.materials import conductivity_of
from checker.design.schema import design_format
from checker.physics.build_up import Layer, Plate
from checker.physics.mixed_section import Layering
from checker.quantities.sources import GEOMETRY

quantity = quantities_of("floor")

_code = design_format().code
LAYERED = _code("floors", "construction", "layered")
IN_SLAB = _code("floors", "bed", "structural slab")
NO_SCREED = _code("floors", "screed.material", "none")
UNLAYERED = tuple(float(_code("floors", "construction", name)) for name in ("wet", "tested"))


def layering_lines(things: Numbered, number: float) -> tuple[str, ...]:
    """Each layer of a layering in words, from the top."""
    made = things.thing(number)
    assert isinstance(made, Layering)
    return tuple(
        f"{1000 * layer.thickness:.4g} mm of {layer.conductivity:.3g} W/(m·K)"
        + (", with the pipe" if place == made.pipe_layer else "")
        for place, layer in enumerate(made.layers)
    )


@quantity(
    unit="1",
    title="Layers",
    symbol="n_L",
    formula="is what is given of layers, pipe, plate and joists",
    described_by=layering_lines,
    source="design; a conductivity that is not given is that of the material by ISO 10456, Table 3",
    missing_because="a layer, its plate or its joists lack a value that no material of the "
    "catalogue gives",
    optional=(
        "layers_material",
        "layers_pipe_axis",
        "layers_plate_thickness",
        "layers_plate_width",
        "layers_plate_conductivity",
        "layers_joists_width",
        "layers_joists_spacing",
        "layers_joists_conductivity",
    ),
    shown=False,
)
def layering(
    construction: Array,
    layers_thickness: Grouped,
    layers_conductivity: Grouped,
    layers_material: Grouped,
    layers_pipe_axis: Grouped,
    layers_plate_thickness: Grouped,
    layers_plate_width: Grouped,
    layers_plate_conductivity: Grouped,
    layers_joists_width: Grouped,
    layers_joists_spacing: Grouped,
    layers_joists_conductivity: Grouped,
    things: Numbered,
) -> Array:
    """The number of the floor's layering among the run's objects."""
    found = np.full(len(construction), np.nan)
    group = layers_thickness.group
    columns = np.stack(
        (
            layers_thickness.values,
            conductivity_of(layers_conductivity.values, layers_material.values),
            layers_pipe_axis.values,
            layers_plate_thickness.values,
            layers_plate_width.values,
            layers_plate_conductivity.values,
            layers_joists_width.values,
            layers_joists_spacing.values,
            layers_joists_conductivity.values,
        ),
        axis=1,
    )
    for row in np.flatnonzero(construction == LAYERED).tolist():
        made = _layering(columns[group == row].tolist())
        if made is not None:
            found[row] = things.number(made)
    return found


def _layering(rows: list[list[float]]) -> Layering | None:
    """The layering from the columns of `layering`; None where something is missing."""
    layers: list[Layer] = []
    pipe: int | None = None
    axis, plate, joists = 0.0, None, (0.0, 0.0)
    for number, (thickness, conductivity, own_axis, *more) in enumerate(rows):
        of_plate, (width, spacing, timber) = more[:3], more[3:]
        for together in (of_plate, (width, spacing, timber)):
            if any(map(isnan, together)) and not all(map(isnan, together)):
                return None
        if isnan(thickness) or isnan(conductivity):
            return None
        layers.append(Layer(thickness, conductivity, 0.0 if isnan(timber) else timber))
        if not isnan(timber):
            joists = width, spacing
        if not isnan(own_axis):
            pipe, axis = number, own_axis
        if not isnan(of_plate[0]):
            plate = Plate(*of_plate)
    return None if pipe is None else Layering(tuple(layers), pipe, axis, plate, *joists)


@quantity(
    unit="mm",
    title="Height of the layers together",
    symbol="H",
    formula=("Σ{layers_thickness}", "{screed_thickness}"),
    source=GEOMETRY,
    optional=("screed_thickness", "construction"),
    shown=False,
)
def layers_height(layers_thickness: Grouped, screed_thickness: Array, construction: Array) -> Array:
    """From below the covering to the underside of the lowest layer, m.

    Of any other only the screed with its pipes: the thickness of its insulation is not stated.
    """
    return np.where(construction == LAYERED, layers_thickness.sum(), screed_thickness)


@quantity(
    unit="mm",
    title="Height that there is for the layers",
    symbol="H_0",
    formula=("{build_up}", "{slab_thickness}, where that is less and the pipes lie in the slab"),
    source="design",
    optional=("build_up", "slab_thickness", "bed"),
    missing_because="neither the height that there is nor the slab's thickness is given",
    shown=False,
)
def room_for_layers(build_up: Array, slab_thickness: Array, bed: Array) -> Array:
    """What the layers together may come to, m; a structural slab holds its own pipes."""
    return np.fmin(build_up, np.where(bed == IN_SLAB, slab_thickness, np.nan))


@quantity(
    unit="1",
    title="Whether the height that there is can be judged",
    symbol="b",
    formula="is 1 where a layered floor states it, or the screed of another is higher, else 0",
    source="design",
    optional=("room_for_layers", "build_up", "construction", "screed_thickness"),
    shown=False,
)
def states_build_up(
    room_for_layers: Array, build_up: Array, construction: Array, screed_thickness: Array
) -> Array:
    """1 for a floor given by its layers that states its height, or another whose screed alone is
    higher than there is room for, else 0."""
    layered = (construction == LAYERED) & ~np.isnan(build_up)
    higher = (construction != LAYERED) & (screed_thickness > room_for_layers)
    return np.where(layered | higher, 1.0, 0.0)


POURED = (
    "screed",
    "cement",
    "concrete",
    "mortar",
    "asphalt",
    "anhydrite",
    "calcium sulphate",
    "calcium sulfate",
    "estrich",
    "chape",
)
"""Words in the name of a layer that is poured: it must dry or cool, and expands when it warms."""
BOARD = "board"
"""What is called one is laid dry, whatever it is made of."""


def _poured(materials: Array) -> Array:
    """1 for a layer that is poured by the name of its material, else 0; NaN for one without a
    name.
    """

    def one(number: float) -> float:
        if isnan(number):
            return number
        name = words.text(number).casefold()
        return float(BOARD not in name and any(word in name for word in POURED))

    return np.array([one(number) for number in materials.tolist()])


@quantity(
    unit="1",
    title="Whether the floor has a screed",
    symbol="b",
    formula="is 0 for a floor given by its layers of which none is one by its material's name, and "
    "for a floor whose screed is stated as none, where that states no edge strip, else 1",
    source="design",
    optional=("edge_strip", "screed_material"),
    shown=False,
)
def has_screed(
    edge_strip: Array, construction: Array, layers_material: Grouped, screed_material: Array
) -> Array:
    """1 where a screed can push against the walls, 0 where there are only dry boards; NaN where
    unknown.
    """
    poured = _poured(layers_material.values)
    found = np.ones(len(construction))
    for row in np.flatnonzero((construction == LAYERED) & np.isnan(edge_strip)).tolist():
        own = poured[layers_material.group == row]
        found[row] = 1.0 if (own == 1).any() else (np.nan if np.isnan(own).any() else 0.0)
    found[(screed_material == NO_SCREED) & np.isnan(edge_strip)] = 0.0
    return np.where(np.isnan(construction) & np.isnan(edge_strip), np.nan, found)


@quantity(
    unit="m²·K/W",
    title="Resistance of what keeps heat from going down",
    symbol="R_λ,ins",
    formula=(
        "{given_insulation}",
        "of the layers from the pipe's axis down, with {given_insulation}",
    ),
    source=f"design; {GEOMETRY}",
    optional=("given_insulation",),
    needed_when={
        "layering": ("construction", (LAYERED,)),
        "given_insulation": ("construction", UNLAYERED),
    },
    missing_because="insulation is not given",
    shown=False,
)
def insulation(
    given_insulation: Array, construction: Array, layering: Array, things: Numbered
) -> Array:
    """As given, m²·K/W; for a layered floor the layers below the pipe's axis, plus the given
    value.
    """
    found = given_insulation.copy()
    for row in np.flatnonzero((construction == LAYERED) & ~np.isnan(layering)).tolist():
        made = things.thing(layering[row])
        assert isinstance(made, Layering)
        own = made.layers[made.pipe_layer]
        under = (own.thickness - made.axis) / own.conductivity
        under += sum(one.thickness / one.conductivity for one in made.layers[made.pipe_layer + 1 :])
        found[row] = under + (0.0 if isnan(given_insulation[row]) else given_insulation[row])
    return np.where((construction == LAYERED) & np.isnan(layering), np.nan, found)


@quantity(
    unit="1",
    title="Whether the floor is laid dry",
    symbol="d_F",
    formula=(
        "is 1 for a floor of layers of which none is poured by its material's name, and for which "
        "no screed is stated, and for a floor whose screed is stated as none, else 0"
    ),
    source="design",
    optional=("screed_material", "screed_laid_on"),
    shown=False,
)
def dry(
    construction: Array, layers_material: Grouped, screed_material: Array, screed_laid_on: Array
) -> Array:
    """1 for a floor without a screed, else 0: nothing of it is poured or must dry.

    Missing where a layer has no name and may be a screed.
    """
    poured = _poured(layers_material.values)
    wet, nameless = layers_material.any(poured == 1), layers_material.any(np.isnan(poured))
    bare = screed_material == NO_SCREED
    wet |= (~np.isnan(screed_material) & ~bare) | ~np.isnan(screed_laid_on)
    found = (((construction == LAYERED) | bare) & ~wet).astype(float)
    unknown = np.isnan(construction) | ((construction == LAYERED) & nameless & ~wet & ~bare)
    return np.where(unknown, np.nan, found)
