"""A floor's surface temperature, and the heat that brings it to its limit; EN 1264-2, reported."""

import numpy as np

from checker.arrays import Array
from checker.physics import en_1264
from checker.physics.arrays import BORDER_TOLERANCE, Numbers, elementwise, positive, within


@elementwise
def basic_output(surface_excess: Numbers) -> Numbers:
    """Heat output of a floor whose mean surface is this much warmer than the room.

    Args:
        surface_excess: K, at least 0, any shape.

    Returns:
        W/m², of the same shape.

    Source:
        EN 1264-2:2021, basic characteristic curve, reported: 8.92·(θ_F,m − θ_i)^1.1.
    """
    return 8.92 * surface_excess**1.1


@elementwise
def surface_mean(room_temperature: Numbers, output: Numbers) -> Numbers:
    """Mean surface temperature of the floor.

    Shapes broadcast.

    Args:
        room_temperature: °C.
        output: heat flux up, W/m², at least 0.

    Returns:
        °C.

    Source:
        EN 1264-2:2021, basic characteristic curve, reported.
    """
    return room_temperature + (output / 8.92) ** (1 / 1.1)


@elementwise
def limit_curve(spacing: Numbers, cover: Numbers, conductivity: Numbers) -> tuple[Numbers, Numbers]:
    """Factor B_G and exponent n_G of the limit curve q_G = φ·B_G·(Δθ_H/φ)^n_G.

    Shapes broadcast. The tables join without a step at a resistance of 0.0792 m²·K/W only for a
    conductivity of 1.2 W/(m·K); so does the result.

    Args:
        spacing: m, 0.05 to 1; above 0.375 the values at 0.375.
        cover: m, from 0.01; over its spacing from 0.173, where its resistance exceeds 0.0792
            m²·K/W.
        conductivity: of the screed, W/(m·K); the cover over it from 0.01 m²·K/W.

    Returns:
        B_G in W/m² (for Δθ_H in K), and n_G, a pure number.

    Source:
        EN 1264-2:2021 tables A.4 to A.7, reported.
    """
    spacing = np.minimum(within(spacing, en_1264.SPACING_RANGE), en_1264.WIDEST_TABLED_SPACING)
    cover = within(cover, en_1264.COVER_RANGE)
    resistance = within(cover / positive(conductivity), en_1264.COVER_RESISTANCE_RANGE)
    ratio = within(cover / spacing, en_1264.COVER_TO_SPACING_RANGE)
    thick = resistance > en_1264.COVER_RESISTANCES[-1] * (1 + BORDER_TOLERANCE)
    thin_resistance = np.minimum(resistance, en_1264.COVER_RESISTANCES[-1])
    factor = en_1264.read_table(
        en_1264.SPACINGS, en_1264.COVER_RESISTANCES, en_1264.LIMIT_FACTOR, spacing, thin_resistance
    )
    exponent = en_1264.read_table(
        en_1264.EXPONENT_SPACINGS,
        en_1264.COVER_RESISTANCES,
        en_1264.LIMIT_EXPONENT,
        spacing,
        thin_resistance,
    )
    return (
        np.where(
            thick, np.interp(ratio, en_1264.COVER_TO_SPACING, en_1264.THICK_LIMIT_FACTOR), factor
        ),
        np.where(
            thick,
            np.interp(ratio, en_1264.COVER_TO_SPACING, en_1264.THICK_LIMIT_EXPONENT),
            exponent,
        ),
    )


@elementwise
def unit_limit_excess(
    spacing: Numbers, cover: Numbers, conductivity: Numbers, heat_coefficient: Numbers
) -> Numbers:
    """Excess at which the warmest spot of the floor is 9 K above the room (φ = 1).

    Shapes broadcast. At any other φ the limit is φ times this one, because the limit curve and the
    largest output both scale with φ.

    Args:
        spacing: as for `limit_curve`.
        cover: as for `limit_curve`.
        conductivity: as for `limit_curve`.
        heat_coefficient: K_H of the same floor, W/(m²·K).

    Returns:
        K.

    Source:
        EN 1264-2:2021 Annex A, reported: intersection of the limit curve with q = K_H·Δθ_H, and the
        factor f_G for spacings over 0.375 m, which under more than 65 mm of cover sets in with a
        step of up to 5 %.
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
    """The excess of `unit_limit_excess`, from factor and exponent of the limit curve.

    Shapes broadcast.

    Args:
        factor: B_G, W/m².
        exponent: n_G, a pure number.
        spacing: m.
        cover: m.
        heat_coefficient: K_H of the same floor, W/(m²·K).

    Returns:
        K.

    Source:
        As for `unit_limit_excess`.
    """
    heat_coefficient = positive(heat_coefficient)
    stretch = np.maximum(spacing, en_1264.WIDEST_TABLED_SPACING) / en_1264.WIDEST_TABLED_SPACING
    tabled_coefficient = heat_coefficient * stretch
    crossing = (factor / tabled_coefficient) ** (1 / (1 - exponent))
    crossing = _bounded(crossing, tabled_coefficient)

    wide_output = heat_coefficient * crossing
    surplus = np.maximum(cover / spacing - en_1264.COVER_TO_SPACING_RANGE[0], 0.0)
    largest = basic_output(en_1264.REFERENCE_SURFACE_EXCESS)
    widened = (largest - (largest - wide_output) * np.exp(-20 * surplus**2)) / wide_output
    return crossing * np.where(spacing > en_1264.WIDEST_TABLED_SPACING, widened, 1.0)


@elementwise
def limit_excess(
    unit_limit_excess: Numbers,
    heat_coefficient: Numbers,
    room_temperature: Numbers,
    limit_surface: Numbers,
) -> Numbers:
    """Excess Δθ_H,G at which the warmest spot of the floor reaches its limit.

    Shapes broadcast.

    Args:
        unit_limit_excess: K, computed, or declared in a test report for a surface 9 K above the
            room.
        heat_coefficient: W/(m²·K).
        room_temperature: °C.
        limit_surface: the highest that the surface may be, °C.

    Returns:
        K; NaN where the limit is not above the room.

    Source:
        EN 1264-2:2021 Annex A, reported: φ·Δθ_H,G(φ = 1) with φ = ((θ_F,max − θ_i)/9 K)^1.1, and
        never more than gives the output of a floor that is uniformly at its limit.
    """
    share = positive(limit_surface - room_temperature) / en_1264.REFERENCE_SURFACE_EXCESS
    return share**1.1 * _bounded(positive(unit_limit_excess), heat_coefficient)


@elementwise
def limit_output(
    unit_limit_excess: Numbers,
    heat_coefficient: Numbers,
    room_temperature: Numbers,
    limit_surface: Numbers,
) -> Numbers:
    """Output q_G at which the warmest spot of the floor reaches its limit.

    Shapes broadcast.

    Args:
        unit_limit_excess: as for `limit_excess`.
        heat_coefficient: W/(m²·K).
        room_temperature: °C.
        limit_surface: °C.

    Returns:
        W/m², at most 8.92·(θ_F,max − θ_i)^1.1.

    Source:
        EN 1264-2:2021 Annex A, reported.
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

    Shapes broadcast.

    Args:
        room_temperature: °C.
        excess: Δθ_H at work, K.
        heat_coefficient: W/(m²·K).
        unit_limit_excess: K, by `unit_limit_excess`.

    Returns:
        °C.

    Source:
        `limit_excess` solved for the surface temperature that makes the excess at work the limit:
        θ_i + 9 K·(Δθ_H/Δθ_H,G(φ = 1))^(1/1.1). Derived from EN 1264-2:2021 Annex A, which states
        the curve only for the permitted temperatures.
    """
    limit = _bounded(positive(unit_limit_excess), heat_coefficient)
    return room_temperature + en_1264.REFERENCE_SURFACE_EXCESS * (positive(excess) / limit) ** (
        1 / 1.1
    )


def _bounded(unit_limit_excess: Numbers, heat_coefficient: Numbers) -> Array:
    """No floor gives more than one that is uniformly at the limit; the limit curve's
    intersection passes that by up to 2 % for wide spacing under thick cover."""
    return np.minimum(
        unit_limit_excess,
        basic_output(en_1264.REFERENCE_SURFACE_EXCESS) / positive(heat_coefficient),
    )
