"""A heated floor: the water's excess over the room, and heat up and down.

EN 1264-2:2021 for floors with pipes in the screed (types A and C) and EN 1264-3:2021 for their
dimensioning, both as reported (`en_1264`).

A floor is described by two numbers: its heat coefficient K_H, in q = K_H·Δθ_H, and its unit limit
excess, the excess Δθ_H at which the warmest spot of the surface is 9 K above the room. Both come
from the construction (`floor_coefficient`, `floor_surface`) or from a test report; all that follows
is the same for both kinds of floor.
"""

import numpy as np

from checker.physics import en_1264
from checker.physics.arrays import (
    Numbers,
    elementwise,
    positive,
)


@elementwise
def excess(
    supply_temperature: Numbers, return_temperature: Numbers, room_temperature: Numbers
) -> Numbers:
    """Excess Δθ_H of the heating water over the room: the logarithmic mean.

    Shapes broadcast.

    Args:
        supply_temperature: °C.
        return_temperature: °C.
        room_temperature: °C.

    Returns:
        K; NaN unless both waters are warmer than the room.

    Source:
        EN 1264-2:2021, reported: (θ_V − θ_R)/ln((θ_V − θ_i)/(θ_R − θ_i)).
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

    Shapes broadcast.

    Args:
        room_temperature: °C.
        drop: supply less return, K, above 0.
        heat_coefficient: K_H, W/(m²·K).
        load_flux: W/m², above 0.

    Returns:
        °C.

    Source:
        The logarithmic mean of EN 1264-2:2021 (reported) solved for θ_V: θ_i + σ/(1 −
        exp(−σ·K_H/q)).
    """
    drop = positive(drop)
    decay = drop * positive(heat_coefficient) / positive(load_flux)
    return room_temperature - drop / np.expm1(-decay)


@elementwise
def upward_resistance(
    covering_resistance: Numbers, cover: Numbers, conductivity: Numbers
) -> Numbers:
    """Heat resistance R_o from the pipes up to the room.

    Shapes broadcast.

    Args:
        covering_resistance: m²·K/W.
        cover: screed over the pipe crown, m.
        conductivity: of the screed, W/(m·K).

    Returns:
        m²·K/W.

    Source:
        EN 1264-3:2021, reported: 1/10.8 + R_λ,B + s_u/λ_u.
    """
    return 1 / en_1264.SURFACE_COEFFICIENT + covering_resistance + cover / positive(conductivity)


@elementwise
def downward_resistance(insulation: Numbers, surface_resistance: Numbers) -> Numbers:
    """Heat resistance R_u from the pipes down to what lies below.

    Shapes broadcast.

    Args:
        insulation: m²·K/W.
        surface_resistance: m²·K/W: `en_1264.CEILING_SURFACE_RESISTANCE` over a room, 0 over ground
            or outside air.

    Returns:
        m²·K/W.

    Source:
        EN 1264-3:2021, reported.
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

    Shapes broadcast.

    Args:
        output: heat flux up, W/m².
        room_temperature: °C.
        upward_resistance: R_o, m²·K/W.
        downward_resistance: R_u, m²·K/W, above 0.
        below_temperature: °C.

    Returns:
        W/m²; below 0 where it is warmer below.

    Source:
        EN 1264-2:2021, reported: (R_o·q + θ_i − θ_u)/R_u.
    """
    driving = upward_resistance * output + room_temperature - below_temperature
    return driving / positive(downward_resistance)
