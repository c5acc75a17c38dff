"""Heat coefficient of a floor with pipes in screed: EN 1264-2 Annex A, types A and C, as reported.

Tables are read with linear interpolation between their cells.
"""

import numpy as np

from checker.arrays import Array
from checker.physics import en_1264
from checker.physics.arrays import Numbers, elementwise, positive, within


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

    Shapes broadcast.

    Args:
        spacing: m, 0.05 to 1.
        cover: screed over the pipe crown, m, from 0.01.
        conductivity: of the screed, W/(m·K).
        covering_resistance: m²·K/W, 0 to 0.15.
        pipe_outside: outside diameter, m, 0.008 to 0.030.
        pipe_wall: m.
        pipe_conductivity: W/(m·K).

    Returns:
        W/(m²·K).

    Source:
        EN 1264-2:2021 Annex A (types A and C), reported, with the pipe wall's correction, the rule
        for spacings over 0.375 m and the rule for thick screed.
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
    """Factor a_B: what screed and covering let through, against a bare reference screed.

    Shapes broadcast.

    Args:
        conductivity: of the screed, W/(m·K).
        covering_resistance: m²·K/W, 0 to 0.15.

    Returns:
        A pure number.

    Source:
        EN 1264-2:2021 Annex A, reported.
    """
    surface = 1 / en_1264.SURFACE_COEFFICIENT
    return (surface + en_1264.REFERENCE_COVER / en_1264.REFERENCE_COVER_CONDUCTIVITY) / (
        surface
        + en_1264.REFERENCE_COVER / positive(conductivity)
        + within(covering_resistance, en_1264.COVERING_RANGE)
    )


@elementwise
def spacing_factor(covering_resistance: Numbers) -> Numbers:
    """Factor a_T for the pipes' spacing.

    Args:
        covering_resistance: m²·K/W, 0 to 0.15, any shape.

    Returns:
        A pure number, of the same shape.

    Source:
        EN 1264-2:2021 table A.1, reported.
    """
    resistance = within(covering_resistance, en_1264.COVERING_RANGE)
    return np.asarray(np.interp(resistance, en_1264.COVERINGS, en_1264.SPACING_FACTOR))


@elementwise
def cover_factor(spacing: Numbers, covering_resistance: Numbers) -> Numbers:
    """Factor a_u for the screed over the pipes.

    Shapes broadcast.

    Args:
        spacing: m, 0.05 to 1; above 0.375 the value at 0.375.
        covering_resistance: m²·K/W, 0 to 0.15.

    Returns:
        A pure number.

    Source:
        EN 1264-2:2021 table A.2, reported.
    """
    return _tabled(en_1264.COVER_FACTOR, spacing, covering_resistance)


@elementwise
def diameter_factor(spacing: Numbers, covering_resistance: Numbers) -> Numbers:
    """Factor a_D for the pipe's outside diameter.

    Shapes broadcast.

    Args:
        spacing: m, 0.05 to 1; above 0.375 the value at 0.375.
        covering_resistance: m²·K/W, 0 to 0.15.

    Returns:
        A pure number.

    Source:
        EN 1264-2:2021 table A.3, reported.
    """
    return _tabled(en_1264.DIAMETER_FACTOR, spacing, covering_resistance)


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
    """The product of powers Π(a_i^m_i) in the heat coefficient.

    It is a_B·a_T^(1 − T/75 mm)·a_u^((45 mm − s_u)/10 mm)·a_D^((D − 20 mm)/4 mm). Shapes broadcast.
    A spacing counts as 0.375 m at most, and a cover up to where the rule for thick screed begins.

    Args:
        spacing: T, m, 0.05 to 1.
        cover: s_u, m, from 0.01.
        pipe_outside: D, m, 0.008 to 0.030.
        screed_factor: a_B of the same floor.
        spacing_factor: a_T of the same floor.
        cover_factor: a_u of the same floor.
        diameter_factor: a_D of the same floor.

    Returns:
        A pure number.

    Source:
        EN 1264-2:2021 Annex A, reported.
    """
    spacing = within(spacing, en_1264.SPACING_RANGE)
    thin_cover = np.minimum(within(cover, en_1264.COVER_RANGE), _thick_cover(spacing))
    outside = within(pipe_outside, en_1264.PIPE_OUTSIDE_RANGE)
    tabled_spacing = np.minimum(spacing, en_1264.WIDEST_TABLED_SPACING)
    # Powers through the logarithm: NumPy's own power of a missing number to zero is 1.
    return np.asarray(
        screed_factor
        * np.exp(
            np.log(spacing_factor) * (1 - tabled_spacing / 0.075)
            + np.log(cover_factor) * (100 * (en_1264.REFERENCE_COVER - thin_cover))
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

    Shapes broadcast.

    Args:
        product: of powers, by `power_product`.
        spacing: T, m, 0.05 to 1.
        pipe_outside: D, m, 0.008 to 0.030.
        pipe_wall: m.
        pipe_conductivity: λ_R, W/(m·K).

    Returns:
        W/(m²·K); NaN where the wall leaves no bore.

    Source:
        EN 1264-2:2021 Annex A, reported: 1/B = 1/6.7 + 1.1/π·Π·T·(ln(D/d)/(2·λ_R) − the same for a
        wall of 2 mm and 0.35 W/(m·K)).
    """
    outside = within(pipe_outside, en_1264.PIPE_OUTSIDE_RANGE)
    tabled_spacing = np.minimum(
        within(spacing, en_1264.SPACING_RANGE), en_1264.WIDEST_TABLED_SPACING
    )
    wall_resistance = _wall(outside, positive(pipe_wall), positive(pipe_conductivity))
    reference_resistance = _wall(outside, en_1264.REFERENCE_WALL, en_1264.REFERENCE_CONDUCTIVITY)
    correction = 1.1 / np.pi * product * tabled_spacing * (wall_resistance - reference_resistance)
    return np.asarray(1 / (1 / en_1264.REFERENCE_FACTOR + correction))


@elementwise
def product_coefficient(
    product: Numbers, factor: Numbers, spacing: Numbers, cover: Numbers, conductivity: Numbers
) -> Numbers:
    """Heat coefficient K_H = B·Π, with the rules for wide spacings and for thick screed.

    Shapes broadcast.

    Args:
        product: Π, by `power_product`.
        factor: B, W/(m²·K), by `wall_factor`.
        spacing: m, 0.05 to 1; wide from 0.375 on.
        cover: m, from 0.01.
        conductivity: of the screed, W/(m·K).

    Returns:
        W/(m²·K).

    Source:
        EN 1264-2:2021 Annex A, reported.
    """
    spacing = within(spacing, en_1264.SPACING_RANGE)
    cover = within(cover, en_1264.COVER_RANGE)
    thin_cover = np.minimum(cover, _thick_cover(spacing))
    thin = factor * product * np.minimum(spacing, en_1264.WIDEST_TABLED_SPACING) / spacing
    return np.asarray(1 / (1 / thin + (cover - thin_cover) / positive(conductivity)))


def _wall(outside: Numbers, wall: Numbers, conductivity: Numbers) -> Array:
    """ln(outside/inside)/(2·conductivity); NaN where the wall leaves no bore."""
    return np.log(outside / positive(outside - 2 * wall)) / (2 * conductivity)


def _thick_cover(spacing: Numbers) -> Array:
    """The cover above which the rule for thick screed holds."""
    return np.maximum(0.100, 0.5 * spacing)


def _tabled(table: Array, spacing: Numbers, covering_resistance: Numbers) -> Array:
    """A table of factors read at a spacing and a covering."""
    tabled_spacing = np.minimum(
        within(spacing, en_1264.SPACING_RANGE), en_1264.WIDEST_TABLED_SPACING
    )
    resistance = within(covering_resistance, en_1264.COVERING_RANGE)
    return en_1264.read_table(
        en_1264.SPACINGS, en_1264.COVERINGS, table, tabled_spacing, resistance
    )
