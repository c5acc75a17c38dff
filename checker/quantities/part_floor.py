"""Quantities of a part of a loop: its floor by heat coefficient, limit curve and resistances."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.registry import Output, quantities_of
from checker.design.schema import design_format
from checker.physics import en_1264, floor, floor_coefficient, floor_surface
from checker.physics.arrays import BORDER_TOLERANCE
from checker.quantities.sources import EN_1264_2, EN_1264_3

quantity = quantities_of("part")

_code = design_format().code
WET = _code("floors", "construction", "wet")
TESTED = _code("floors", "construction", "tested")
HEATED = _code("floors", "below", "heated")
GROUND = _code("floors", "below", "ground")
UNHEATED = _code("floors", "below", "unheated")
LAYERED = _code("floors", "construction", "layered")
GROUND_TEMPERATURE = 10.0
"""Temperature below a floor on the ground where the design states none, °C; common practice, no
source.
"""

MOST_TRANSFER = float(floor_surface.basic_output(15.0)) / 15
"""W/(m²·K) from a floor 15 K warmer than its room, as the perimeter zone may be, which is the most
that EN 1264-2 allows; by its basic curve, as reported.
"""


WITHIN = {
    "spacing": (*en_1264.SPACING_RANGE, "spacing is outside 50 mm to 1 m, as EN 1264-2 has it"),
    "floor_screed_cover": (
        *en_1264.COVER_RANGE,
        "the floor's screed.cover is under 10 mm, where the tables of EN 1264-2 begin",
    ),
    "room_covering_resistance": (
        *en_1264.COVERING_RANGE,
        "the room's covering.resistance is over 0.15 m²·K/W, where the tables of EN 1264-2 end",
    ),
    "pipe_outside": (
        *en_1264.PIPE_OUTSIDE_RANGE,
        "the pipe's outside is not within 8 to 30 mm, as EN 1264-2 has it",
    ),
}
"""For inputs of the heat coefficient, the range of the tables, and the words for it."""


def _within(*names: str) -> dict[str, tuple[float | None, float | None, str]]:
    return {name: WITHIN[name] for name in names}


@quantity(
    unit="1",
    title="Factor for the screed and the covering",
    symbol="a_B",
    formula=(
        "(1 / {10.8 W/(m²·K)} + {45 mm} / {1 W/(m·K)}) "
        "/ (1 / {10.8 W/(m²·K)} + {45 mm} / {floor_screed_conductivity} "
        "+ {room_covering_resistance})"
    ),
    source=f"{EN_1264_2} Annex A",
    within=_within("room_covering_resistance"),
    shown=False,
)
def screed_factor(floor_screed_conductivity: Array, room_covering_resistance: Array) -> Array:
    """Factor of screed and covering, relative to a bare reference screed."""
    return floor_coefficient.screed_factor(floor_screed_conductivity, room_covering_resistance)


@quantity(
    unit="1",
    title="Factor for the spacing",
    symbol="a_T",
    formula="read from table A.1 at {room_covering_resistance}",
    source=f"{EN_1264_2} Table A.1",
    within=_within("room_covering_resistance"),
    shown=False,
)
def spacing_factor(room_covering_resistance: Array) -> Array:
    """Factor for the pipes' spacing, from the covering."""
    return floor_coefficient.spacing_factor(room_covering_resistance)


@quantity(
    unit="1",
    title="Factor for the screed over the pipes",
    symbol="a_u",
    formula="read from table A.2 at {spacing} and {room_covering_resistance}",
    source=f"{EN_1264_2} Table A.2",
    within=_within("spacing", "room_covering_resistance"),
    shown=False,
)
def cover_factor(spacing: Array, room_covering_resistance: Array) -> Array:
    """Factor for the cover, from spacing and covering."""
    return floor_coefficient.cover_factor(spacing, room_covering_resistance)


@quantity(
    unit="1",
    title="Factor for the pipe's diameter",
    symbol="a_D",
    formula="read from table A.3 at {spacing} and {room_covering_resistance}",
    source=f"{EN_1264_2} Table A.3",
    within=_within("spacing", "room_covering_resistance"),
    shown=False,
)
def diameter_factor(spacing: Array, room_covering_resistance: Array) -> Array:
    """Factor for the outside diameter, from spacing and covering."""
    return floor_coefficient.diameter_factor(spacing, room_covering_resistance)


@quantity(
    unit="1",
    title="Product of powers",
    symbol="Π",
    formula=(
        "{screed_factor} · {spacing_factor}^(1 − {spacing} / {75 mm}) "
        "· {cover_factor}^(({45 mm} − {floor_screed_cover}) / {10 mm}) "
        "· {diameter_factor}^(({pipe_outside} − {20 mm}) / {4 mm})",
        "as for {spacing} up to 375 mm, and {floor_screed_cover} up to 100 mm or half the spacing",
    ),
    source=f"{EN_1264_2} Annex A, types A and C",
    within=_within("spacing", "floor_screed_cover", "pipe_outside"),
    shown=False,
)
def power_product(
    spacing: Array,
    floor_screed_cover: Array,
    screed_factor: Array,
    spacing_factor: Array,
    cover_factor: Array,
    diameter_factor: Array,
    pipe_outside: Array,
) -> Array:
    """The factors, each to its power."""
    return floor_coefficient.power_product(
        spacing,
        floor_screed_cover,
        pipe_outside,
        screed_factor,
        spacing_factor,
        cover_factor,
        diameter_factor,
    )


@quantity(
    unit="W/(m²·K)",
    title="Factor for the pipe and its wall",
    symbol="B",
    formula=(
        "1 / (1 / {6.7 W/(m²·K)} + 1.1 / π · {power_product} · {spacing} "
        "· (ln({pipe_outside} / ({pipe_outside} − 2 · {pipe_wall})) "
        "/ (2 · {pipe_wall_conductivity}) "
        "− ln({pipe_outside} / ({pipe_outside} − {4 mm})) / (2 · {0.35 W/(m·K)})))",
        "as for a spacing of 375 mm",
    ),
    source=f"{EN_1264_2} Annex A, correction for the pipe wall",
    missing_because="the wall leaves no bore",
    shown=False,
)
def wall_factor(
    power_product: Array,
    spacing: Array,
    pipe_outside: Array,
    pipe_wall: Array,
    pipe_wall_conductivity: Array,
) -> Array:
    """Heat coefficient for a product of one, W/(m²·K)."""
    return floor_coefficient.wall_factor(
        power_product, spacing, pipe_outside, pipe_wall, pipe_wall_conductivity
    )


@quantity(
    unit="W/(m²·K)",
    title="Heat coefficient of a floor with pipes in the screed",
    symbol="K_H",
    formula=(
        "{wall_factor} · {power_product}",
        "{wall_factor} · {power_product} · {375 mm} / {spacing}",
        "1 / (1 / ({wall_factor} · {power_product}) "
        "+ ({floor_screed_cover} − {100 mm}) / {floor_screed_conductivity})",
        "by the rules for spacings over 375 mm and for thick screed, from {wall_factor} "
        "and {power_product}",
    ),
    source=f"{EN_1264_2} Annex A, types A and C",
    shown=False,
)
def wet_heat_coefficient(
    power_product: Array,
    wall_factor: Array,
    spacing: Array,
    floor_screed_cover: Array,
    floor_screed_conductivity: Array,
) -> Array:
    """Heat output per kelvin of excess by EN 1264-2, W/(m²·K)."""
    return floor_coefficient.product_coefficient(
        power_product, wall_factor, spacing, floor_screed_cover, floor_screed_conductivity
    )


@quantity(
    unit="W/(m²·K)",
    title="Heat coefficient",
    symbol="K_H",
    formula=("{floor_heat_coefficient}", "{wet_heat_coefficient}", "{standing_coefficient}"),
    source=f"{EN_1264_2} Annex A, types A and C; of a tested floor its test report; of one given "
    "by its layers, and beyond the tables' ends, two-dimensional conduction",
    optional=("stands_in", "room_covering_resistance"),
    needed_when={
        "floor_heat_coefficient": ("floor_construction", (TESTED,)),
        "wet_heat_coefficient": ("floor_construction", (WET,)),
        "standing_coefficient": ("stands_in", (1.0,)),
    },
    missing_because="the floor's heat_coefficient is more than the covering and the air over it "
    "let through; take it from the test report for this covering",
    shown=False,
)
def heat_coefficient(
    floor_construction: Array,
    floor_heat_coefficient: Array,
    wet_heat_coefficient: Array,
    standing_coefficient: Array,
    stands_in: Array,
    room_covering_resistance: Array,
) -> Array:
    """Heat output per kelvin of excess, W/(m²·K), that the floor is judged by.

    Missing for a tested floor that would give more than one whose screed is as warm as the water.
    """
    most = 1 / (1 / MOST_TRANSFER + room_covering_resistance)
    possible = ~(floor_heat_coefficient > most * (1 + BORDER_TOLERANCE))
    tested = np.where(possible, floor_heat_coefficient, np.nan)
    standard = _by_construction(floor_construction, tested, wet_heat_coefficient)
    return np.where(stands_in == 1, standing_coefficient, standard)


def _by_construction(construction: Array, tested: Array, wet: Array) -> Array:
    return np.where(construction == TESTED, tested, np.where(construction == WET, wet, np.nan))


CURVES = (
    "outside the limit curves of EN 1264-2 (cover over conductivity from 0.01 m²·K/W, "
    "and above 0.0792 m²·K/W a cover of at least 0.173 times the spacing)"
)


_CURVE_AT = "at {spacing} and {floor_screed_cover} / {floor_screed_conductivity}"


@quantity(
    source=f"{EN_1264_2} Tables A.4 to A.7",
    missing_because=CURVES,
    outputs=(
        Output(
            "limit_factor",
            "W/m²",
            "Factor of the limit curve",
            "B_G",
            f"read from table A.4 or A.5 {_CURVE_AT}",
            shown=False,
        ),
        Output(
            "limit_exponent",
            "1",
            "Exponent of the limit curve",
            "n_G",
            f"read from table A.6 or A.7 {_CURVE_AT}",
            shown=False,
        ),
    ),
)
def limit_curve(
    spacing: Array, floor_screed_cover: Array, floor_screed_conductivity: Array
) -> tuple[Array, Array]:
    """Factor of the limit curve, W/m² for an excess in kelvin, and its exponent."""
    factor, exponent = floor_surface.limit_curve(
        spacing, floor_screed_cover, floor_screed_conductivity
    )
    return np.asarray(factor), np.asarray(exponent)


@quantity(
    unit="K",
    title="Excess at which the warmest spot over pipes in screed is 9 K above the room",
    symbol="Δθ_G",
    formula=(
        "({limit_factor} / {wet_heat_coefficient})^(1 / (1 − {limit_exponent}))",
        "8.92 · 9^1.1 / {wet_heat_coefficient}",
        "by the rule for spacings over 375 mm, from {limit_factor} and {limit_exponent}",
    ),
    source=f"{EN_1264_2} Annex A, limit curves",
    missing_because=CURVES,
    shown=False,
)
def wet_unit_limit_excess(
    limit_factor: Array,
    limit_exponent: Array,
    wet_heat_coefficient: Array,
    spacing: Array,
    floor_screed_cover: Array,
) -> Array:
    """Excess by the limit curves, K."""
    return floor_surface.curve_excess(
        limit_factor, limit_exponent, spacing, floor_screed_cover, wet_heat_coefficient
    )


@quantity(
    unit="K",
    title="Excess at which the warmest spot is 9 K above the room",
    symbol="Δθ_G",
    formula=("{floor_excess_limit}", "{wet_unit_limit_excess}"),
    source=f"{EN_1264_2} Annex A, limit curves; for a tested floor its test report",
    needed_when={
        "floor_excess_limit": ("floor_construction", (TESTED,)),
        "wet_unit_limit_excess": ("floor_construction", (WET,)),
    },
    shown=False,
)
def unit_limit_excess(
    floor_construction: Array, floor_excess_limit: Array, wet_unit_limit_excess: Array
) -> Array:
    """Excess, K: from the limit curves, or as declared in a test report."""
    return _by_construction(floor_construction, floor_excess_limit, wet_unit_limit_excess)


@quantity(
    unit="m²·K/W",
    title="Heat resistance upwards",
    symbol="R_o",
    formula=(
        "1 / {10.8 W/(m²·K)} + {room_covering_resistance} + {floor_screed_cover} "
        "/ {floor_screed_conductivity}",
        "{section_upward_resistance}",
    ),
    source=EN_1264_3,
    optional=("stands_in",),
    needed_when={
        "floor_screed_cover": ("floor_construction", (WET, TESTED)),
        "floor_screed_conductivity": ("floor_construction", (WET, TESTED)),
        "section_upward_resistance": ("stands_in", (1.0,)),
    },
    shown=False,
)
def upward_resistance(
    room_covering_resistance: Array,
    floor_screed_cover: Array,
    floor_screed_conductivity: Array,
    section_upward_resistance: Array,
    floor_construction: Array,
    stands_in: Array,
) -> Array:
    """From the pipes to the room, m²·K/W."""
    plane = floor.upward_resistance(
        room_covering_resistance, floor_screed_cover, floor_screed_conductivity
    )
    return np.where(stands_in == 1, section_upward_resistance, plane)


@quantity(
    unit="m²·K/W",
    title="Heat resistance downwards",
    symbol="R_u",
    formula=(
        "{floor_insulation}",
        "{floor_insulation} + {0.17 m²·K/W}",
        "{section_downward_resistance}",
    ),
    source=EN_1264_3,
    optional=("stands_in",),
    needed_when={"section_downward_resistance": ("stands_in", (1.0,))},
    missing_because="a floor with no resistance at all below the pipes has no downward balance",
    shown=False,
)
def downward_resistance(
    floor_insulation: Array,
    floor_below: Array,
    section_downward_resistance: Array,
    stands_in: Array,
) -> Array:
    """From the pipes down, m²·K/W; includes a ceiling's surface, but none on ground or air."""
    over_room = (floor_below == HEATED) | (floor_below == UNHEATED)
    surface = np.where(over_room, en_1264.CEILING_SURFACE_RESISTANCE, 0.0)
    resistance = floor.downward_resistance(floor_insulation, surface)
    resistance = np.where(stands_in == 1, section_downward_resistance, resistance)
    return np.where((resistance > 0) & ~np.isnan(floor_below), resistance, np.nan)


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
