"""Quantities of a part of a loop at the set point. SI and °C, one a row.

A loop has two operating points at its design supply. Open: its valve lets through the flow that
returns cooler by the plant's drop, which gives the most that the design can (`part_open_point`).
Set: it is balanced to the load of its rooms (EN 1264-3; `part_load`). With a flow stated, both are
the same.
"""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.registry import quantities_of
from checker.physics import floor, fluid
from checker.quantities.floor_layers import LAYERED
from checker.quantities.part import FEED, OWN
from checker.quantities.part_open_point import LOGARITHMIC, OF_A_FEED, mean_excess
from checker.quantities.sources import EN_1264_2, SUM

quantity = quantities_of("part")

LAMINAR_NUSSELT = 4.36
"""Nusselt number of laminar flow with an even heat flux; 3.66 with an even wall temperature. Shah
and London, Laminar Flow Forced Convection in Ducts (1978); from memory.
"""
AS_COOL_AS_THE_ROOM = 1e-6
"""Share of the supply's excess; a return closer than this to the room is determined by its load
alone.
"""


@quantity(
    unit="K",
    title="Excess of the water over the room",
    symbol="Δθ_H",
    formula=(
        LOGARITHMIC.replace("{back}", "{loop_return_temperature}"),
        OF_A_FEED.replace("{back}", "{loop_return_temperature}"),
        "{load_flux} / {working_coefficient}",
        "0",
    ),
    source=EN_1264_2,
    needed_when={"loop_return_temperature": ("loop_runs", (1.0,))},
    optional=("load_flux", "working_coefficient", "held_back"),
    missing_because="the water comes back cooler than the room",
    shown=False,
)
def excess(
    supply_temperature: Array,
    loop_return_temperature: Array,
    room_temperature: Array,
    feed: Array,
    loop_runs: Array,
    load_flux: Array,
    working_coefficient: Array,
    held_back: Array,
) -> Array:
    """Mean excess at the set point, K; zero where no water flows."""
    found = mean_excess(supply_temperature, loop_return_temperature, room_temperature, feed)
    left = loop_return_temperature - room_temperature
    cooled = (left >= 0) & (left < AS_COOL_AS_THE_ROOM * (supply_temperature - room_temperature))
    by_load = (load_flux + held_back) / working_coefficient
    found = np.where(cooled & (feed == OWN) & ~np.isnan(by_load), by_load, found)
    return np.where(loop_runs == 0, 0.0, found)


@quantity(
    unit="W/m²",
    title="Heat output",
    symbol="q",
    formula=("{working_coefficient} · {excess}", "{working_coefficient} · {excess} − {held_back}"),
    source=f"{EN_1264_2} q = K_H·Δθ_H",
    shown=False,
)
def output(working_coefficient: Array, excess: Array, held_back: Array) -> Array:
    """Heat flux up into the room, W/m²."""
    return working_coefficient * excess - held_back


DOWN = (
    "({upward_resistance} · {flux} + {room_temperature} − {below_temperature}) "
    "/ {downward_resistance}"
)


@quantity(
    unit="W/m²",
    title="Heat loss downwards",
    symbol="q_u",
    formula=(DOWN.replace("{flux}", "{output}"), "0"),
    source=EN_1264_2,
    shown=False,
)
def down_loss(
    output: Array,
    room_temperature: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    below_temperature: Array,
    loop_runs: Array,
) -> Array:
    """Heat flux down, W/m²; zero where no water flows."""
    found = floor.down_loss(
        output, room_temperature, upward_resistance, downward_resistance, below_temperature
    )
    return np.where(loop_runs == 0, 0.0, found)


@quantity(
    unit="W",
    title="Heat given to the room",
    symbol="Q̇",
    formula="{area} · {output}",
    source=SUM,
    shown=False,
)
def heat(area: Array, output: Array) -> Array:
    """Heat flow up, W."""
    return area * output


@quantity(
    unit="W",
    title="Heat taken from the water",
    symbol="Q̇_W",
    formula="{area} · ({output} + {down_loss})",
    source=SUM,
    shown=False,
)
def radiated(area: Array, output: Array, down_loss: Array) -> Array:
    """Heat flow up and down, W."""
    return area * (output + down_loss)


@quantity(
    unit="W",
    title="Heat of a passing feed",
    symbol="Q̇_p",
    formula=("{heat}", "0"),
    source=SUM,
    needed_when={"heat": ("passes", (1.0,))},
    shown=False,
)
def passing_heat(heat: Array, passes: Array) -> Array:
    """Heat flow up of a feed that only passes, W; else zero."""
    return np.where(passes == 1, heat, 0.0)


@quantity(
    unit="%",
    title="Resistance of a laminar film against the floor's",
    symbol="ε",
    formula=("0", "{heat_coefficient} · {spacing} / (π · 4.36 · λ_w), with λ_w of the fluid"),
    source="conduction through the film in series: K_H · T/(π · Nu · λ_w)",
    needed_when={"heat_coefficient": ("feed", (OWN,)), "spacing": ("feed", (OWN,))},
    missing_because="the fluid is outside its known range",
    shown=False,
)
def film_share(
    heat_coefficient: Array,
    spacing: Array,
    loop_water_temperature: Array,
    plant_fluid_kind: Array,
    loop_fluid_fraction: Array,
    feed: Array,
    floor_construction: Array,
) -> Array:
    """Heat coefficient over that with a laminar film of Nusselt number 4.36, minus one.

    Zero for a floor given by its layers, which is computed with its film; −inf for a feed.
    """
    conductivity = fluid.conductivity(plant_fluid_kind, loop_fluid_fraction, loop_water_temperature)
    found = heat_coefficient * spacing / (np.pi * LAMINAR_NUSSELT * conductivity)
    found = np.where(floor_construction == LAYERED, 0.0, found)
    return np.where(feed == FEED, -np.inf, found)
