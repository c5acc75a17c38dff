"""Friction of the water in the pipe, after Darcy and Weisbach."""

import numpy as np

from checker.physics.arrays import Numbers, Range, elementwise, positive, within

# Extruded plastic and drawn copper pipe; common practice, no source.
ROUGHNESS = 1.5e-6  # m

LAMINAR_REYNOLDS = 2300.0
TURBULENT_REYNOLDS = 4000.0

# The extent of the chart in L. F. Moody, Friction Factors for Pipe Flow, Transactions of the
# ASME 66 (1944); from memory.
REYNOLDS_RANGE: Range = (0.0, 1e8)
RELATIVE_ROUGHNESS_RANGE: Range = (0.0, 0.05)


@elementwise
def reynolds(velocity: Numbers, bore: Numbers, density: Numbers, viscosity: Numbers) -> Numbers:
    """Reynolds number of the flow in the pipe.

    Shapes broadcast.

    Args:
        velocity: m/s.
        bore: inside diameter, m.
        density: kg/m³.
        viscosity: dynamic, Pa·s.

    Returns:
        A pure number.

    Source:
        Definition: v·d·ρ/η.
    """
    return velocity * positive(bore) * positive(density) / positive(viscosity)


@elementwise
def friction_factor(reynolds: Numbers, relative_roughness: Numbers) -> Numbers:
    """Darcy friction factor.

    Shapes broadcast.

    Args:
        reynolds: above 0, up to 10⁸.
        relative_roughness: roughness over bore, 0 to 0.05.

    Returns:
        A pure number.

    Source:
        Laminar up to Re 2300: 64/Re (Hagen and Poiseuille). From 4000: C. F. Colebrook, Journal of
        the Institution of Civil Engineers 11 (1939). Between, where the flow is neither, the
        straight line that joins the two values (a convention of this calculation).
    """
    reynolds = positive(within(reynolds, REYNOLDS_RANGE))
    relative_roughness = within(relative_roughness, RELATIVE_ROUGHNESS_RANGE)
    laminar = 64 / np.minimum(reynolds, LAMINAR_REYNOLDS)
    turbulent = _colebrook(np.maximum(reynolds, TURBULENT_REYNOLDS), relative_roughness)
    share = np.clip(
        (reynolds - LAMINAR_REYNOLDS) / (TURBULENT_REYNOLDS - LAMINAR_REYNOLDS), 0.0, 1.0
    )
    return (1 - share) * laminar + share * turbulent


@elementwise
def pressure_drop(
    length: Numbers, bore: Numbers, velocity: Numbers, density: Numbers, factor: Numbers
) -> Numbers:
    """Loss of pressure by friction along the pipe.

    Shapes broadcast.

    Args:
        length: m.
        bore: inside diameter, m.
        velocity: m/s.
        density: kg/m³.
        factor: Darcy friction factor.

    Returns:
        Pa.

    Source:
        Equation of Darcy and Weisbach.
    """
    return factor * length / positive(bore) * density * velocity**2 / 2


def _colebrook(reynolds: Numbers, relative_roughness: Numbers) -> Numbers:
    # Solved for x = 1/√f, in which the equation is nearly straight: from Haaland's explicit
    # formula (Journal of Fluids Engineering 105, 1983) Newton's third step is exact to the
    # rounding of the numbers.
    inverse = -1.8 * np.log10((relative_roughness / 3.7) ** 1.11 + 6.9 / reynolds)
    for _ in range(3):
        argument = relative_roughness / 3.7 + 2.51 * inverse / reynolds
        residual = inverse + 2 * np.log10(argument)
        slope = 1 + 2 / np.log(10) * 2.51 / reynolds / argument
        inverse = inverse - residual / slope
    return 1 / inverse**2
