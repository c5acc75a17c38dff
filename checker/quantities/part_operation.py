"""Of a part of a loop: the heat it gives, open and set. SI and °C, one a row.

A loop has two operating points at its design supply. Open, its valve lets through what returns
cooler by the plant's drop: the most that the design can give. Set, it is balanced to the load of
its rooms (EN 1264-3). With a flow stated, both are the same.
"""

from __future__ import annotations

import numpy as np

from checker.compute.graph import Array, Index, quantities_of
from checker.design.schema import DESIGNS, design_format
from checker.physics import balance, floor, fluid, shares
from checker.quantities.floor_layers import LAYERED
from checker.quantities.part import FEED, OWN
from checker.quantities.sources import EN_1264_2, EN_1264_3, SUM

quantity = quantities_of("part")

_code = design_format().code
HEATED = _code("floors", "below", "heated")
GROUND = _code("floors", "below", "ground")
BY_DROP = _code(DESIGNS, "plant.flows", "by drop")
GROUND_TEMPERATURE = 10.0
"""°C, under a floor on the ground where the design states none; common practice, no source."""
LAMINAR_NUSSELT = 4.36
"""Of laminar flow at an even heat flux; 3.66 at an even wall temperature. Shah and London, Laminar
Flow Forced Convection in Ducts (1978); from memory."""
AS_COOL_AS_THE_ROOM = 1e-6
"""Share of the supply's excess: a return nearer to the room is told from it by its load alone."""

LOGARITHMIC = (
    "({supply_temperature} − {back}) / ln(({supply_temperature} "
    "− {room_temperature}) / ({back} − {room_temperature}))"
)
OF_A_FEED = "max(({supply_temperature} + {back}) / 2 − {room_temperature}, 0)"


@quantity(
    unit="°C",
    title="Temperature below the floor",
    symbol="θ_u",
    formula=("{floor_below_temperature}", "{room_temperature}", "{10 °C}"),
    source="design; 10 °C on ground is common practice, no source",
    optional=("floor_below_temperature",),
    needed_when={"room_temperature": ("floor_below", (HEATED,))},
    missing_because="below_temperature is needed where it is unheated or open air below",
    shown=False,
)
def below_temperature(
    floor_below_temperature: Array, floor_below: Array, room_temperature: Array
) -> Array:
    """As given, °C; else the room's over a heated room, and 10 on ground."""
    assumed = np.where(
        floor_below == HEATED,
        room_temperature,
        np.where(floor_below == GROUND, GROUND_TEMPERATURE, np.nan),
    )
    return np.where(np.isnan(floor_below_temperature), assumed, floor_below_temperature)


def _excess(supply: Array, back: Array, room: Array, feed: Array) -> Array:
    """Of a part the logarithmic mean, of a feed that of supply and return, K."""
    of_feed = np.maximum((supply + back) / 2 - room, 0.0)
    return np.where(feed == FEED, of_feed, floor.excess(supply, back, room))


# ---- the open point: what the design can give at most


@quantity(
    unit="K",
    title="Excess of the water over the room, open",
    symbol="Δθ_H,o",
    formula=(
        LOGARITHMIC.replace("{back}", "{loop_open_return}"),
        OF_A_FEED.replace("{back}", "{loop_open_return}"),
    ),
    source=EN_1264_2,
    missing_because="the supply is not so much warmer than the room that it can fall by the drop",
    shown=False,
)
def open_excess(
    supply_temperature: Array, loop_open_return: Array, room_temperature: Array, feed: Array
) -> Array:
    """Mean excess at the open point, K."""
    return _excess(supply_temperature, loop_open_return, room_temperature, feed)


@quantity(
    unit="W/m²",
    title="Heat output, open",
    symbol="q_o",
    formula=(
        "{working_coefficient} · {open_excess}",
        "{working_coefficient} · {open_excess} − {held_back}",
    ),
    source=f"{EN_1264_2} q = K_H·Δθ_H",
    shown=False,
)
def largest_output(working_coefficient: Array, open_excess: Array, held_back: Array) -> Array:
    """Heat flux up at the open point, W/m²."""
    return working_coefficient * open_excess - held_back


@quantity(
    unit="W",
    title="Heat given, open",
    symbol="Q̇_o",
    formula="{area} · {largest_output}",
    source=SUM,
    shown=False,
)
def open_heat(area: Array, largest_output: Array) -> Array:
    """Heat flow up at the open point, W."""
    return area * largest_output


@quantity(
    unit="W",
    title="Heat that shares in the room's load, open",
    symbol="Q̇_o",
    formula=("{open_heat}", "0"),
    source=SUM,
    needed_when={"open_heat": ("passes", (0.0,))},
    shown=False,
)
def sharing_heat(open_heat: Array, passes: Array) -> Array:
    """Heat flow up at the open point, W; zero of a feed that only passes."""
    return np.where(passes == 1, 0.0, open_heat)


@quantity(
    unit="W",
    title="Heat of a passing feed, open",
    symbol="Q̇_p,o",
    formula=("{open_heat}", "0"),
    source=EN_1264_2,
    needed_when={"open_heat": ("passes", (1.0,))},
    shown=False,
)
def open_passing_heat(open_heat: Array, passes: Array) -> Array:
    """Heat flow up at the open point of a feed that only passes, W; else zero."""
    return np.where(passes == 1, open_heat, 0.0)


@quantity(
    unit="W",
    title="Heat taken from the water, open",
    symbol="Q̇_W,o",
    formula="{area} · ({largest_output} + q_u), with q_u of {largest_output}",
    source=f"{EN_1264_2}, {EN_1264_3}",
    shown=False,
)
def open_radiated(
    area: Array,
    largest_output: Array,
    room_temperature: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    below_temperature: Array,
) -> Array:
    """Heat flow up and down at the open point, W."""
    down = floor.down_loss(
        largest_output, room_temperature, upward_resistance, downward_resistance, below_temperature
    )
    return area * (largest_output + down)


# ---- the set point: what the loop is balanced to


@quantity(
    unit="1",
    title="Part of its heat at the open point that the load asks for",
    symbol="s",
    formula=(
        "{room_heat_load} / {room_open_heat}",
        "is what the room's load ({room_heat_load}) leaves over the heat of passing feeds, which "
        "counts up to nine tenths of it, over {room_open_heat}; the passing feeds' at the set "
        "point of their loops",
    ),
    source=f"{EN_1264_3}; shared in proportion to what each part gives",
    optional=("room_heat_load", "loop_given_flow", "plant_flows"),
    missing_because="the shares of the room's load cannot be worked out: the floor gives nothing, "
    "or a loop that passes through has no set point",
    shown=False,
)
def share(
    loop: Array,
    room: Array,
    job: Index,
    feed: Array,
    passes: Array,
    area: Array,
    working_coefficient: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    held_back: Array,
    below_temperature: Array,
    room_temperature: Array,
    supply_temperature: Array,
    loop_open_return: Array,
    loop_given_flow: Array,
    plant_drop: Array,
    plant_flows: Array,
    plant_fluid_kind: Array,
    loop_fluid_fraction: Array,
    largest_output: Array,
    feed_ratio: Array,
    room_heat_load: Array,
    room_open_heat: Array,
    room_open_passing_heat: Array,
) -> Array:
    """Heat that is asked of the part over what it gives at the open point; NaN with no load known.

    The same for all parts of a room. Shares and the heat of passing feeds are solved together.
    """
    simple = np.where(room_open_heat > 0, room_heat_load / room_open_heat, np.nan)
    simple = np.where(room_heat_load == 0, 0.0, simple)
    simple = np.where(np.isnan(room_open_passing_heat), np.nan, simple)
    passing = passes == 1
    if not passing.any():
        return simple
    shared = np.isin(job, job[passing])

    def of(column: Array) -> Array:
        return column[shared]

    found = simple.copy()
    found[shared] = shares.with_passing_heat(
        of(loop).astype(np.intp),
        of(room),
        job[shared],
        of(feed) == FEED,
        passing[shared],
        of(area),
        of(working_coefficient),
        of(upward_resistance),
        of(downward_resistance),
        of(held_back),
        of(below_temperature),
        of(room_temperature),
        of(supply_temperature),
        of(loop_open_return),
        ~np.isnan(of(loop_given_flow)),
        of(plant_flows) == BY_DROP,
        of(plant_drop),
        of(plant_fluid_kind),
        of(loop_fluid_fraction),
        of(largest_output),
        of(feed_ratio),
        of(room_heat_load),
        of(room_open_heat),
    )
    return found


@quantity(
    unit="W/m²",
    title="Share of the room's heat load",
    symbol="q_N",
    formula="{share} · {largest_output}",
    source=f"{EN_1264_3}; shared in proportion to what each part gives",
    shown=False,
)
def load_flux(share: Array, largest_output: Array) -> Array:
    """Heat flux that the load asks of the part, W/m²."""
    return share * largest_output


@quantity(
    unit="1",
    title="Whether it asks for water",
    symbol="w",
    formula="is 0 where the room's load is zero, and for a feed, else 1",
    source="design",
    optional=("room_heat_load",),
    shown=False,
)
def asks(room_heat_load: Array, feed: Array) -> Array:
    """1 for a part that needs water, else 0."""
    return np.where((room_heat_load == 0) | (feed == FEED), 0.0, 1.0)


@quantity(
    unit="°C",
    title="Return at which it gives its share",
    symbol="θ_R,N",
    formula=(
        "{loop_open_return}",
        "where the floor gives {share} of what it gives with a return of {loop_open_return}",
    ),
    source=EN_1264_3,
    needed_when={"share": ("asks", (1.0,))},
    optional=("room_heat_load",),
    shown=False,
)
def wanted_return(
    share: Array,
    asks: Array,
    room_heat_load: Array,
    supply_temperature: Array,
    loop_open_return: Array,
    room_temperature: Array,
    feed_ratio: Array,
    largest_output: Array,
    held_back: Array,
) -> Array:
    """Return temperature, °C, at most the open one; −inf for a part that asks for no water."""
    found = balance.return_for_share(
        balance.share_of_excess(share, largest_output, held_back),
        supply_temperature,
        loop_open_return,
        room_temperature,
        feed_ratio,
    )
    found = np.where(np.isnan(room_heat_load), loop_open_return, found)
    return np.where(asks == 0, -np.inf, found)


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
    """Mean excess at the set point, K; zero where no water runs."""
    found = _excess(supply_temperature, loop_return_temperature, room_temperature, feed)
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
    """Heat flux down, W/m²; zero where no water runs."""
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


# ---- the flow at the plant's drop, and the supply that the load needs


@quantity(
    unit="W",
    title="Heat taken from the water that falls by the drop",
    symbol="Q̇_W,σ",
    formula=(
        "{area} · (q + q_u) with q = {load_flux}",
        "{area} · (q + q_u) with q = {largest_output}",
        "{area} · (q + q_u) with q = {working_coefficient} · ({supply_temperature} − {plant_drop} "
        "/ 2 − {room_temperature})",
    ),
    source=f"{EN_1264_2}, {EN_1264_3}",
    optional=("load_flux", "largest_output", "room_heat_load"),
    shown=False,
)
def dropped(
    load_flux: Array,
    largest_output: Array,
    room_heat_load: Array,
    working_coefficient: Array,
    supply_temperature: Array,
    plant_drop: Array,
    room_temperature: Array,
    upward_resistance: Array,
    downward_resistance: Array,
    below_temperature: Array,
    area: Array,
    feed: Array,
) -> Array:
    """Heat flow up and down while the water falls by the plant's drop, W.

    Of a part its share of the load; with no load known what it gives at the open point.
    """
    return area * shares.dropped_flux(
        load_flux,
        largest_output,
        room_heat_load,
        working_coefficient,
        supply_temperature,
        plant_drop,
        room_temperature,
        upward_resistance,
        downward_resistance,
        below_temperature,
        feed == FEED,
    )


@quantity(
    unit="°C",
    title="Supply temperature that the load needs",
    symbol="θ_V,N",
    formula=(
        "{room_temperature} + {plant_drop} / (1 − exp(−{plant_drop} · {working_coefficient} "
        "/ {load_flux}))",
        "{room_temperature} + {plant_drop} / (1 − exp(−{plant_drop} · {working_coefficient} "
        "/ ({load_flux} + {held_back})))",
    ),
    source=f"{EN_1264_3}, exact form",
    needed_when={"load_flux": ("asks", (1.0,)), "working_coefficient": ("asks", (1.0,))},
    missing_because="the load is zero",
    shown=False,
)
def needed_supply(
    room_temperature: Array,
    plant_drop: Array,
    working_coefficient: Array,
    load_flux: Array,
    asks: Array,
    held_back: Array,
) -> Array:
    """Supply temperature, °C, at which the part gives exactly its load at the plant's drop.

    −inf for a part that asks for no water.
    """
    asked = np.where(load_flux > 0, load_flux + held_back, np.nan)
    found = floor.needed_supply(room_temperature, plant_drop, working_coefficient, asked)
    return np.where(asks == 0, -np.inf, found)


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
    """Heat coefficient over that with a laminar film of Nusselt number 4.36, less one.

    Zero of a floor given by its layers, which is worked with its film; −inf of a feed.
    """
    conductivity = fluid.conductivity(plant_fluid_kind, loop_fluid_fraction, loop_water_temperature)
    found = heat_coefficient * spacing / (np.pi * LAMINAR_NUSSELT * conductivity)
    found = np.where(floor_construction == LAYERED, 0.0, found)
    return np.where(feed == FEED, -np.inf, found)
