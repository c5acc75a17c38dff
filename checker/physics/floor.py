"""Heat output and surface temperature of a heated floor.

EN 1264-2:2021 for floors with pipes in the screed (types A and C) and EN 1264-3:2021 for their
dimensioning. All coefficients, tables and clauses of the two are reported (read in published works
that cite the standard, checked for consistency), not read in the standard itself; interpolation
between the cells of a table is linear.

A floor is described by two numbers: its heat coefficient K_H, in q = K_H·Δθ_H, and its unit limit
excess, the excess Δθ_H at which the warmest spot of the surface is 9 K above the room. Both come
from the construction (`heat_coefficient`, `unit_limit_excess`) or from a test report; everything
after is the same for both kinds of floor.
"""

import numpy as np

from checker.physics.arrays import (
    BORDER_TOLERANCE,
    Floats,
    Numbers,
    Range,
    elementwise,
    positive,
    within,
)

# EN 1264-2 Annex A, reported; the upper end of spacing is ours: beyond 1 m no floor is heated.
SPACING_RANGE: Range = (0.050, 1.0)  # m
COVER_RANGE: Range = (0.010, np.inf)  # m, screed over the pipe crown
PIPE_OUTSIDE_RANGE: Range = (0.008, 0.030)  # m
COVERING_RANGE: Range = (0.0, 0.15)  # m²·K/W
# EN 1264-2 tables A.4 to A.7, reported: the limit curve is given from here on.
COVER_RESISTANCE_RANGE: Range = (0.01, np.inf)  # m²·K/W, cover over its conductivity
COVER_TO_SPACING_RANGE: Range = (0.173, np.inf)  # only where the cover's resistance exceeds 0.0792

# EN 1264-2 table A.13, reported, W/(m·K).
PIPE_CONDUCTIVITY = {
    "PB": 0.22,
    "PP": 0.22,
    "PE-X": 0.35,
    "PE-RT": 0.35,
    "steel": 52.0,
    "copper": 390.0,
}

# EN 1264-3, reported: heat resistance between a ceiling and the room below; none on ground.
CEILING_SURFACE_RESISTANCE = 0.17  # m²·K/W

# EN 1264-2, reported: total heat transfer from floor to room in the formulas for K_H and R_o.
_SURFACE_COEFFICIENT = 10.8  # W/(m²·K)

# EN 1264-2 Annex A, reported: the pipe for which B_0 holds, and the cover for which a_B is written.
_REFERENCE_FACTOR = 6.7  # W/(m²·K)
_REFERENCE_CONDUCTIVITY = 0.35  # W/(m·K)
_REFERENCE_WALL = 0.002  # m
_REFERENCE_COVER = 0.045  # m
_REFERENCE_COVER_CONDUCTIVITY = 1.0  # W/(m·K)

WIDEST_TABLED_SPACING = 0.375  # m
_REFERENCE_SURFACE_EXCESS = 9.0  # K

_COVERINGS = np.array([0.0, 0.05, 0.10, 0.15])  # m²·K/W, columns of tables A.1 to A.3
_SPACINGS = np.array([0.05, 0.075, 0.1, 0.15, 0.2, 0.225, 0.3, 0.375])  # m, rows of A.2 to A.4

# EN 1264-2 table A.1, reported.
_SPACING_FACTOR = np.array([1.23, 1.188, 1.156, 1.134])

# EN 1264-2 table A.2, reported.
_COVER_FACTOR = np.array(
    [
        [1.069, 1.056, 1.043, 1.037],
        [1.066, 1.053, 1.041, 1.035],
        [1.063, 1.050, 1.039, 1.0335],
        [1.057, 1.046, 1.035, 1.0305],
        [1.051, 1.041, 1.0315, 1.0275],
        [1.048, 1.038, 1.0295, 1.026],
        [1.0395, 1.031, 1.024, 1.021],
        [1.030, 1.0221, 1.0181, 1.015],
    ]
)

# EN 1264-2 table A.3, reported.
_DIAMETER_FACTOR = np.array(
    [
        [1.013, 1.013, 1.012, 1.011],
        [1.021, 1.019, 1.016, 1.014],
        [1.029, 1.025, 1.022, 1.018],
        [1.040, 1.034, 1.029, 1.024],
        [1.046, 1.040, 1.035, 1.030],
        [1.049, 1.043, 1.038, 1.033],
        [1.053, 1.049, 1.044, 1.039],
        [1.056, 1.051, 1.046, 1.042],
    ]
)

# Columns of tables A.4 and A.6: resistance of the cover, m²·K/W. Above the last, A.5 and A.7.
_COVER_RESISTANCES = np.array(
    [0.01, 0.0208, 0.0292, 0.0375, 0.0458, 0.0542, 0.0625, 0.0708, 0.0792]
)

# EN 1264-2 table A.4, reported, W/m².
_LIMIT_FACTOR = np.array(
    [
        [85.0, 91.5, 96.8, 100, 100, 100, 100, 100, 100],
        [75.3, 83.5, 89.9, 96.3, 99.5, 100, 100, 100, 100],
        [66.0, 75.4, 82.9, 89.3, 95.5, 98.8, 100, 100, 100],
        [51.0, 61.1, 69.2, 76.3, 82.7, 87.5, 91.8, 95.1, 97.8],
        [38.5, 48.2, 56.2, 63.1, 69.1, 74.5, 81.3, 86.4, 90.0],
        [33.0, 42.5, 49.5, 56.5, 62.0, 67.5, 75.3, 81.6, 86.1],
        [20.5, 26.8, 31.6, 36.4, 41.5, 47.5, 57.5, 65.3, 72.4],
        [11.5, 13.7, 15.5, 18.2, 21.5, 27.5, 40.0, 49.1, 58.3],
    ]
)

# EN 1264-2 table A.6, reported; it has two rows more than A.4.
_EXPONENT_SPACINGS = np.array([0.05, 0.075, 0.1, 0.15, 0.2, 0.225, 0.2625, 0.3, 0.3375, 0.375])
_LIMIT_EXPONENT = np.array(
    [
        [0.008, 0.005, 0.002, 0, 0, 0, 0, 0, 0],
        [0.024, 0.021, 0.018, 0.011, 0.002, 0, 0, 0, 0],
        [0.046, 0.043, 0.041, 0.033, 0.014, 0.005, 0, 0, 0],
        [0.088, 0.085, 0.082, 0.076, 0.055, 0.038, 0.024, 0.014, 0.006],
        [0.131, 0.130, 0.129, 0.123, 0.105, 0.083, 0.057, 0.040, 0.028],
        [0.155, 0.154, 0.153, 0.146, 0.130, 0.110, 0.077, 0.056, 0.041],
        [0.197, 0.196, 0.196, 0.190, 0.173, 0.150, 0.110, 0.083, 0.062],
        [0.254, 0.253, 0.253, 0.245, 0.228, 0.195, 0.145, 0.114, 0.086],
        [0.322, 0.321, 0.321, 0.310, 0.293, 0.260, 0.187, 0.148, 0.115],
        [0.422, 0.421, 0.421, 0.405, 0.385, 0.325, 0.230, 0.183, 0.142],
    ]
)

# EN 1264-2 tables A.5 and A.7, reported; they hold their last value beyond a ratio of 0.75.
_COVER_TO_SPACING = np.array(
    [0.173, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65, 0.70, 0.75]
)
_THICK_LIMIT_FACTOR = np.array(
    [27.5, 40.0, 57.5, 69.5, 78.2, 84.4, 88.3, 91.6, 94.0, 96.3, 98.6, 99.8, 100]
)
_THICK_LIMIT_EXPONENT = np.array(
    [0.320, 0.230, 0.145, 0.097, 0.067, 0.048, 0.033, 0.023, 0.015, 0.009, 0.005, 0.002, 0]
)


@elementwise
def basic_output(surface_excess: Numbers) -> Numbers:
    """Heat output of a floor whose mean surface is this much warmer than the room.

    surface_excess: K, at least 0, any shape. Returns W/m². EN 1264-2, basic characteristic curve,
    reported: 8.92·(θ_F,m − θ_i)^1.1.
    """
    return 8.92 * surface_excess**1.1


@elementwise
def surface_mean(room_temperature: Numbers, output: Numbers) -> Numbers:
    """Mean surface temperature of the floor.

    room_temperature: °C; output: W/m², at least 0. Shapes broadcast. Returns °C.
    EN 1264-2, basic characteristic curve, reported.
    """
    return room_temperature + (output / 8.92) ** (1 / 1.1)


@elementwise
def heat_coefficient(
    spacing: Numbers,
    cover: Numbers,
    conductivity: Numbers,
    covering_resistance: Numbers,
    pipe_outside: Numbers,
    pipe_wall: Numbers,
    pipe_conductivity: Numbers,
) -> Numbers:
    """Heat coefficient K_H of a floor with pipes in the screed.

    spacing: m, 0.05 to 1; cover: screed over the pipe crown, m, from 0.01; conductivity: of the
    screed, W/(m·K); covering_resistance: m²·K/W, 0 to 0.15; pipe_outside: m, 0.008 to 0.030;
    pipe_wall: m; pipe_conductivity: W/(m·K). Shapes broadcast. Returns W/(m²·K).
    EN 1264-2 Annex A (types A and C) with the pipe wall's correction, the rule for spacings over
    0.375 m and the rule for thick screed, reported.
    """
    product = power_product(
        spacing,
        cover,
        pipe_outside,
        screed_factor(conductivity, covering_resistance),
        spacing_factor(covering_resistance),
        cover_factor(spacing, covering_resistance),
        diameter_factor(spacing, covering_resistance),
    )
    factor = wall_factor(product, spacing, pipe_outside, pipe_wall, pipe_conductivity)
    return product_coefficient(product, factor, spacing, cover, conductivity)


@elementwise
def screed_factor(conductivity: Numbers, covering_resistance: Numbers) -> Numbers:
    """Factor a_B: what the screed and the covering let through, against a bare reference screed.

    conductivity: of the screed, W/(m·K); covering_resistance: m²·K/W, 0 to 0.15. Shapes broadcast.
    Returns a pure number. EN 1264-2 Annex A, reported.
    """
    surface = 1 / _SURFACE_COEFFICIENT
    return (surface + _REFERENCE_COVER / _REFERENCE_COVER_CONDUCTIVITY) / (
        surface
        + _REFERENCE_COVER / positive(conductivity)
        + within(covering_resistance, COVERING_RANGE)
    )


@elementwise
def spacing_factor(covering_resistance: Numbers) -> Numbers:
    """Factor a_T for the pipes' spacing.

    covering_resistance: m²·K/W, 0 to 0.15, any shape. Returns a pure number. EN 1264-2 table A.1,
    reported.
    """
    resistance = within(covering_resistance, COVERING_RANGE)
    return np.asarray(np.interp(resistance, _COVERINGS, _SPACING_FACTOR))


@elementwise
def cover_factor(spacing: Numbers, covering_resistance: Numbers) -> Numbers:
    """Factor a_u for the screed over the pipes.

    spacing: m, 0.05 to 1 (above 0.375 the value at 0.375); covering_resistance: m²·K/W, 0 to 0.15.
    Shapes broadcast. Returns a pure number. EN 1264-2 table A.2, reported.
    """
    return _tabled(_COVER_FACTOR, spacing, covering_resistance)


@elementwise
def diameter_factor(spacing: Numbers, covering_resistance: Numbers) -> Numbers:
    """Factor a_D for the pipe's outside diameter.

    spacing: m, 0.05 to 1 (above 0.375 the value at 0.375); covering_resistance: m²·K/W, 0 to 0.15.
    Shapes broadcast. Returns a pure number. EN 1264-2 table A.3, reported.
    """
    return _tabled(_DIAMETER_FACTOR, spacing, covering_resistance)


@elementwise
def power_product(
    spacing: Numbers,
    cover: Numbers,
    pipe_outside: Numbers,
    screed_factor: Numbers,
    spacing_factor: Numbers,
    cover_factor: Numbers,
    diameter_factor: Numbers,
) -> Numbers:
    """The product of powers Π(a_i^m_i): a_B·a_T^(1 − T/75 mm)·a_u^((45 mm − s_u)/10 mm)·a_D^(…).

    spacing: T, m, 0.05 to 1; cover: s_u, m, from 0.01; pipe_outside: D, m, 0.008 to 0.030; the
    factors of the same floor. Shapes broadcast. Returns a pure number. A spacing counts as 0.375 m
    at most, and a cover up to where the rule for thick screed begins. EN 1264-2 Annex A, reported;
    the last exponent is (D − 20 mm)/4 mm.
    """
    spacing = within(spacing, SPACING_RANGE)
    thin_cover = np.minimum(within(cover, COVER_RANGE), _thick_cover(spacing))
    outside = within(pipe_outside, PIPE_OUTSIDE_RANGE)
    tabled_spacing = np.minimum(spacing, WIDEST_TABLED_SPACING)
    # Powers through the logarithm: NumPy's own power of a missing number to zero is 1.
    return np.asarray(
        screed_factor
        * np.exp(
            np.log(spacing_factor) * (1 - tabled_spacing / 0.075)
            + np.log(cover_factor) * (100 * (_REFERENCE_COVER - thin_cover))
            + np.log(diameter_factor) * (250 * (outside - 0.020))
        )
    )


@elementwise
def wall_factor(
    product: Numbers,
    spacing: Numbers,
    pipe_outside: Numbers,
    pipe_wall: Numbers,
    pipe_conductivity: Numbers,
) -> Numbers:
    """Factor B: 6.7 W/(m²·K), corrected for a pipe wall other than the reference one.

    product: of powers; spacing: m; pipe_outside, pipe_wall: m; pipe_conductivity: W/(m·K). Shapes
    broadcast. Returns W/(m²·K); NaN where the wall leaves no bore. EN 1264-2 Annex A, reported:
    1/B = 1/6.7 + 1.1/π·Π·T·(ln(D/d)/(2·λ_R) − the same for a wall of 2 mm and 0.35 W/(m·K)).
    """
    outside = within(pipe_outside, PIPE_OUTSIDE_RANGE)
    tabled_spacing = np.minimum(within(spacing, SPACING_RANGE), WIDEST_TABLED_SPACING)
    wall_resistance = _wall(outside, positive(pipe_wall), positive(pipe_conductivity))
    reference_resistance = _wall(outside, _REFERENCE_WALL, _REFERENCE_CONDUCTIVITY)
    correction = 1.1 / np.pi * product * tabled_spacing * (wall_resistance - reference_resistance)
    return np.asarray(1 / (1 / _REFERENCE_FACTOR + correction))


@elementwise
def product_coefficient(
    product: Numbers, factor: Numbers, spacing: Numbers, cover: Numbers, conductivity: Numbers
) -> Numbers:
    """Heat coefficient K_H = B·Π, with the rules for spacings over 0.375 m and for thick screed.

    product: of powers; factor: B, W/(m²·K); spacing, cover: m; conductivity: of the screed,
    W/(m·K). Shapes broadcast. Returns W/(m²·K). EN 1264-2 Annex A, reported.
    """
    spacing = within(spacing, SPACING_RANGE)
    cover = within(cover, COVER_RANGE)
    thin_cover = np.minimum(cover, _thick_cover(spacing))
    thin = factor * product * np.minimum(spacing, WIDEST_TABLED_SPACING) / spacing
    return np.asarray(1 / (1 / thin + (cover - thin_cover) / positive(conductivity)))


@elementwise
def limit_curve(spacing: Numbers, cover: Numbers, conductivity: Numbers) -> tuple[Numbers, Numbers]:
    """Factor B_G and exponent n_G of the limit curve q_G = φ·B_G·(Δθ_H/φ)^n_G.

    spacing: m, 0.05 to 1 (above 0.375 the values at 0.375); cover: m, from 0.01; conductivity:
    W/(m·K); cover/conductivity from 0.01 m²·K/W, and where that exceeds 0.0792 m²·K/W,
    cover/spacing from 0.173. Shapes broadcast. Returns B_G in W/m² (for Δθ_H in K) and n_G.
    EN 1264-2 tables A.4 to A.7, reported. The tables join at 0.0792 m²·K/W without a step only
    for a conductivity of 1.2 W/(m·K); so does the result.
    """
    spacing = np.minimum(within(spacing, SPACING_RANGE), WIDEST_TABLED_SPACING)
    cover = within(cover, COVER_RANGE)
    resistance = within(cover / positive(conductivity), COVER_RESISTANCE_RANGE)
    ratio = within(cover / spacing, COVER_TO_SPACING_RANGE)
    thick = resistance > _COVER_RESISTANCES[-1] * (1 + BORDER_TOLERANCE)
    thin_resistance = np.minimum(resistance, _COVER_RESISTANCES[-1])
    factor = _bilinear(_SPACINGS, _COVER_RESISTANCES, _LIMIT_FACTOR, spacing, thin_resistance)
    exponent = _bilinear(
        _EXPONENT_SPACINGS, _COVER_RESISTANCES, _LIMIT_EXPONENT, spacing, thin_resistance
    )
    return (
        np.where(thick, np.interp(ratio, _COVER_TO_SPACING, _THICK_LIMIT_FACTOR), factor),
        np.where(thick, np.interp(ratio, _COVER_TO_SPACING, _THICK_LIMIT_EXPONENT), exponent),
    )


@elementwise
def unit_limit_excess(
    spacing: Numbers, cover: Numbers, conductivity: Numbers, heat_coefficient: Numbers
) -> Numbers:
    """Excess at which the warmest spot of the floor is 9 K above the room (φ = 1).

    spacing, cover, conductivity: as for limit_curve; heat_coefficient: K_H of the same floor,
    W/(m²·K). Shapes broadcast. Returns K.
    EN 1264-2 Annex A, reported: intersection of the limit curve with q = K_H·Δθ_H, and the factor
    f_G for spacings over 0.375 m, which under more than 65 mm of cover sets in with a step of up
    to 5 %. At any other φ the limit is φ times this one, because the limit curve and the largest
    output both scale with φ.
    """
    factor, exponent = limit_curve(spacing, cover, conductivity)
    return curve_excess(factor, exponent, spacing, cover, heat_coefficient)


@elementwise
def curve_excess(
    factor: Numbers,
    exponent: Numbers,
    spacing: Numbers,
    cover: Numbers,
    heat_coefficient: Numbers,
) -> Numbers:
    """The excess of unit_limit_excess, from the factor and exponent of the limit curve.

    factor, exponent: B_G, W/m², and n_G; spacing, cover: m; heat_coefficient: W/(m²·K). Shapes
    broadcast. Returns K.
    """
    heat_coefficient = positive(heat_coefficient)
    stretch = np.maximum(spacing, WIDEST_TABLED_SPACING) / WIDEST_TABLED_SPACING
    tabled_coefficient = heat_coefficient * stretch
    crossing = (factor / tabled_coefficient) ** (1 / (1 - exponent))
    crossing = _bounded(crossing, tabled_coefficient)

    wide_output = heat_coefficient * crossing
    surplus = np.maximum(cover / spacing - COVER_TO_SPACING_RANGE[0], 0.0)
    largest = basic_output(_REFERENCE_SURFACE_EXCESS)
    widened = (largest - (largest - wide_output) * np.exp(-20 * surplus**2)) / wide_output
    return crossing * np.where(spacing > WIDEST_TABLED_SPACING, widened, 1.0)


@elementwise
def limit_excess(
    unit_limit_excess: Numbers,
    heat_coefficient: Numbers,
    room_temperature: Numbers,
    limit_surface: Numbers,
) -> Numbers:
    """Excess Δθ_H,G at which the warmest spot of the floor reaches its limit.

    unit_limit_excess: K, computed, or declared in a test report for a surface 9 K above the room;
    heat_coefficient: W/(m²·K); room_temperature, limit_surface: °C. Shapes broadcast. Returns K;
    NaN where the limit is not above the room.
    EN 1264-2 Annex A, reported: φ·Δθ_H,G(φ = 1) with φ = ((θ_F,max − θ_i)/9 K)^1.1, and never more
    than gives the output of a floor that is uniformly at its limit.
    """
    share = positive(limit_surface - room_temperature) / _REFERENCE_SURFACE_EXCESS
    return share**1.1 * _bounded(positive(unit_limit_excess), heat_coefficient)


@elementwise
def limit_output(
    unit_limit_excess: Numbers,
    heat_coefficient: Numbers,
    room_temperature: Numbers,
    limit_surface: Numbers,
) -> Numbers:
    """Output q_G at which the warmest spot of the floor reaches its limit.

    Arguments as for limit_excess. Returns W/m², at most 8.92·(θ_F,max − θ_i)^1.1.
    EN 1264-2 Annex A, reported.
    """
    return heat_coefficient * limit_excess(
        unit_limit_excess, heat_coefficient, room_temperature, limit_surface
    )


@elementwise
def surface_max(
    room_temperature: Numbers,
    excess: Numbers,
    heat_coefficient: Numbers,
    unit_limit_excess: Numbers,
) -> Numbers:
    """Temperature of the warmest spot of the surface, never below the mean.

    room_temperature: °C; excess: Δθ_H at work, K; heat_coefficient: W/(m²·K); unit_limit_excess:
    K. Shapes broadcast. Returns °C.
    The limit of limit_excess solved for the surface temperature that makes the excess at work the
    limit: θ_i + 9 K·(Δθ_H/Δθ_H,G(φ = 1))^(1/1.1). Derived from EN 1264-2 Annex A, which states the
    curve only for the permitted temperatures.
    """
    limit = _bounded(positive(unit_limit_excess), heat_coefficient)
    return room_temperature + _REFERENCE_SURFACE_EXCESS * (positive(excess) / limit) ** (1 / 1.1)


@elementwise
def excess(
    supply_temperature: Numbers, return_temperature: Numbers, room_temperature: Numbers
) -> Numbers:
    """Excess Δθ_H of the heating water over the room: the logarithmic mean.

    All in °C; shapes broadcast. Returns K; NaN unless both waters are warmer than the room.
    EN 1264-2, reported: (θ_V − θ_R)/ln((θ_V − θ_i)/(θ_R − θ_i)).
    """
    supply = positive(supply_temperature - room_temperature)
    back = positive(return_temperature - room_temperature)
    relative = (supply - back) / back
    # x/ln(1 + x) is smooth and is 1 at x = 0, where the quotient itself is 0/0.
    return back * np.where(relative == 0, 1.0, relative / np.log1p(relative))


@elementwise
def needed_supply(
    room_temperature: Numbers, drop: Numbers, heat_coefficient: Numbers, load_flux: Numbers
) -> Numbers:
    """Supply temperature at which the floor gives exactly its load at this drop.

    room_temperature: °C; drop: supply less return, K, above 0; heat_coefficient: W/(m²·K);
    load_flux: W/m², above 0. Shapes broadcast. Returns °C.
    The logarithmic mean of EN 1264-2 solved for θ_V: θ_i + σ/(1 − exp(−σ·K_H/q)).
    """
    drop = positive(drop)
    decay = drop * positive(heat_coefficient) / positive(load_flux)
    return room_temperature - drop / np.expm1(-decay)


@elementwise
def upward_resistance(
    covering_resistance: Numbers, cover: Numbers, conductivity: Numbers
) -> Numbers:
    """Heat resistance R_o from the pipes up to the room.

    covering_resistance: m²·K/W; cover: m; conductivity: of the screed, W/(m·K). Shapes broadcast.
    Returns m²·K/W. EN 1264-3, reported: 1/10.8 + R_λ,B + s_u/λ_u.
    """
    return 1 / _SURFACE_COEFFICIENT + covering_resistance + cover / positive(conductivity)


@elementwise
def downward_resistance(insulation: Numbers, surface_resistance: Numbers) -> Numbers:
    """Heat resistance R_u from the pipes down to what lies below.

    insulation: m²·K/W; surface_resistance: CEILING_SURFACE_RESISTANCE over a room, 0 over ground
    or outside air, m²·K/W. Shapes broadcast. Returns m²·K/W. EN 1264-3, reported.
    """
    return insulation + surface_resistance


@elementwise
def down_loss(
    output: Numbers,
    room_temperature: Numbers,
    upward_resistance: Numbers,
    downward_resistance: Numbers,
    below_temperature: Numbers,
) -> Numbers:
    """Heat flux q_u lost downwards.

    output: heat flux up, W/m²; room_temperature, below_temperature: °C; the resistances:
    m²·K/W. Shapes broadcast. Returns W/m². EN 1264-2, reported: (R_o·q + θ_i − θ_u)/R_u.
    """
    driving = upward_resistance * output + room_temperature - below_temperature
    return driving / positive(downward_resistance)


def _wall(outside: Numbers, wall: Numbers, conductivity: Numbers) -> Floats:
    """ln(outside/inside)/(2·conductivity); NaN where the wall leaves no bore."""
    return np.log(outside / positive(outside - 2 * wall)) / (2 * conductivity)


def _thick_cover(spacing: Numbers) -> Floats:
    """The cover above which the rule for thick screed holds."""
    return np.maximum(0.100, 0.5 * spacing)


def _tabled(table: Floats, spacing: Numbers, covering_resistance: Numbers) -> Floats:
    """A table of factors read at a spacing and a covering."""
    tabled_spacing = np.minimum(within(spacing, SPACING_RANGE), WIDEST_TABLED_SPACING)
    resistance = within(covering_resistance, COVERING_RANGE)
    return _bilinear(_SPACINGS, _COVERINGS, table, tabled_spacing, resistance)


def _bounded(unit_limit_excess: Numbers, heat_coefficient: Numbers) -> Floats:
    """No floor gives more than one that is uniformly at the limit; the limit curve's
    intersection passes that by up to 2 % for wide spacing under thick cover."""
    return np.minimum(
        unit_limit_excess,
        basic_output(_REFERENCE_SURFACE_EXCESS) / positive(heat_coefficient),
    )


def _bilinear(
    rows: Floats, columns: Floats, table: Floats, row: Numbers, column: Numbers
) -> Floats:
    """The table read at (row, column), both within its borders or NaN."""
    i = np.clip(np.searchsorted(rows, row) - 1, 0, len(rows) - 2)
    j = np.clip(np.searchsorted(columns, column) - 1, 0, len(columns) - 2)
    down = (row - rows[i]) / (rows[i + 1] - rows[i])
    across = (column - columns[j]) / (columns[j + 1] - columns[j])
    upper = table[i, j] * (1 - across) + table[i, j + 1] * across
    lower = table[i + 1, j] * (1 - across) + table[i + 1, j + 1] * across
    return np.asarray(upper * (1 - down) + lower * down)
