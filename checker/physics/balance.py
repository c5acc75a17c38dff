"""The operating point of a loop: the flow and return at which water and floor agree.

The heat that the water gives up is the heat that the floor passes on, up and down:
A·(q + q_u) = ṁ·c·(θ_V − θ_R), with q = K_H·Δθ_H and q_u of EN 1264-2 (see `floor.down_loss`),
c and ρ at the mean water temperature (θ_V + θ_R)/2.
"""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from checker.physics import floor, fluid
from checker.physics.arrays import Floats, Numbers, elementwise, positive

Mask = npt.NDArray[np.bool_]

RETURN_TOLERANCE = 1e-9  # K

_MOST_STEPS = 50  # three to six are usual

# A return closer to the room than exp(-40) of the supply's excess is no longer told from the room.
_LARGEST_DECAY = 40.0


@elementwise
def flow_for_load(
    area: Numbers, load_flux: Numbers, down_flux: Numbers, specific_heat: Numbers, drop: Numbers
) -> Numbers:
    """Mass flow that carries the load up and the loss down at the given drop.

    area: m²; load_flux, down_flux: W/m²; specific_heat: J/(kg·K); drop: supply less return, K,
    above 0. Shapes broadcast. Returns kg/s; NaN where the heat to be carried is not above 0.
    EN 1264-3, reported: A·(q + q_u)/(c·σ).
    """
    return positive(area * (load_flux + down_flux)) / positive(specific_heat) / positive(drop)


@elementwise
def flow_at_drop(
    supply_temperature: Numbers,
    room_temperature: Numbers,
    drop: Numbers,
    area: Numbers,
    heat_coefficient: Numbers,
    upward_resistance: Numbers,
    downward_resistance: Numbers,
    below_temperature: Numbers,
    kind: Numbers,
    mass_fraction: Numbers,
    held_back: Numbers = 0.0,
) -> Numbers:
    """Mass flow at which the water returns cooler by exactly the drop.

    supply_temperature, room_temperature, below_temperature: °C; drop: K, above 0; area: m²;
    heat_coefficient: W/(m²·K); the resistances: m²·K/W; kind, mass_fraction: as for
    fluid.density; held_back: heat that passes the pipes from the room to what is below, taken off
    the heat upwards, W/m². Shapes broadcast. Returns kg/s; NaN where supply less drop is not above
    the room.
    """
    back = supply_temperature - positive(drop)
    output = heat_coefficient * floor.excess(supply_temperature, back, room_temperature)
    output = output - held_back
    down = floor.down_loss(
        output, room_temperature, upward_resistance, downward_resistance, below_temperature
    )
    specific_heat = fluid.specific_heat(kind, mass_fraction, (supply_temperature + back) / 2)
    return flow_for_load(area, output, down, specific_heat, drop)


@elementwise
def return_at_mass_flow(
    mass_flow: Numbers,
    supply_temperature: Numbers,
    room_temperature: Numbers,
    area: Numbers,
    heat_coefficient: Numbers,
    upward_resistance: Numbers,
    downward_resistance: Numbers,
    below_temperature: Numbers,
    kind: Numbers,
    mass_fraction: Numbers,
    held_back: Numbers = 0.0,
) -> Numbers:
    """Return temperature of a loop whose mass flow is known.

    mass_flow: kg/s, above 0; the rest as for flow_at_drop. Shapes broadcast. Returns °C, exact to
    RETURN_TOLERANCE; NaN where the supply is not above the room, or where no return between room
    and supply closes the balance (too little flow for the loss downwards, or a floor that is
    heated from below).
    """
    mass_flow = positive(mass_flow)
    return _return_temperature(
        lambda mean: mass_flow * fluid.specific_heat(kind, mass_fraction, mean),
        supply_temperature,
        room_temperature,
        area,
        heat_coefficient,
        upward_resistance,
        downward_resistance,
        below_temperature,
        held_back,
    )


@elementwise
def return_at_volume_flow(
    volume_flow: Numbers,
    supply_temperature: Numbers,
    room_temperature: Numbers,
    area: Numbers,
    heat_coefficient: Numbers,
    upward_resistance: Numbers,
    downward_resistance: Numbers,
    below_temperature: Numbers,
    kind: Numbers,
    mass_fraction: Numbers,
    held_back: Numbers = 0.0,
) -> Numbers:
    """Return temperature of a loop whose volume flow, at its mean temperature, is known.

    volume_flow: m³/s, above 0; otherwise as return_at_mass_flow.
    """
    volume_flow = positive(volume_flow)
    return _return_temperature(
        lambda mean: (
            volume_flow
            * fluid.density(kind, mass_fraction, mean)
            * fluid.specific_heat(kind, mass_fraction, mean)
        ),
        supply_temperature,
        room_temperature,
        area,
        heat_coefficient,
        upward_resistance,
        downward_resistance,
        below_temperature,
        held_back,
    )


def _return_temperature(
    capacity_rate: Callable[[Numbers], Floats],
    supply_temperature: Numbers,
    room_temperature: Numbers,
    area: Numbers,
    heat_coefficient: Numbers,
    upward_resistance: Numbers,
    downward_resistance: Numbers,
    below_temperature: Numbers,
    held_back: Numbers,
) -> Floats:
    """Solve the balance; capacity_rate gives ṁ·c in W/K at a mean water temperature in °C.

    Let a be the supply's excess over the room and a·exp(−u) the return's. Then
    Δθ_H = a·(1 − exp(−u))/u, and dividing the balance by ṁ·c·a·(1 − exp(−u))/u leaves
    N + k·u/(1 − exp(−u)) − u = 0, with N = A·K_H·(1 + R_o/R_u)/(ṁ·c) and
    k = A·((θ_i − θ_u)/R_u − q_x·(1 + R_o/R_u))/(ṁ·c·a), where q_x is what is held back. Where it
    is as warm below as above, k is 0 and u = N is the answer. Otherwise the left side falls from
    N + k at u = 0 towards −(1 − k)·u and bends one way only, so there is one root if N + k > 0 and
    k < 1, and none if not. It lies above N for k > 0 and below N + k for k < 0, and from there
    Newton walks to it without overshooting. ṁ·c changes by some per mille on the way and is taken
    anew at each step.
    """
    resistance = positive(downward_resistance)
    supply_excess = positive(supply_temperature - room_temperature)
    proportional = positive(area) * positive(heat_coefficient)
    proportional = proportional * (1 + upward_resistance / resistance)
    constant = (room_temperature - below_temperature) / resistance
    constant = constant - held_back * (1 + upward_resistance / resistance)
    constant = area * constant / supply_excess

    back = supply_temperature
    rate = capacity_rate(supply_temperature - supply_excess / 4)
    decay: Numbers = (proportional + np.minimum(constant, 0.0)) / rate
    decay = np.clip(decay, 0.0, _LARGEST_DECAY)
    change = np.full(np.shape(decay), np.inf)
    for _ in range(_MOST_STEPS):
        previous = back
        back = room_temperature + supply_excess * np.exp(-decay)
        change = np.abs(back - previous)
        # A loop that stands still is left as it is, so that it comes out alike in any company.
        moving = change > RETURN_TOLERANCE / 10
        if not moving.any():
            break
        rate = capacity_rate((supply_temperature + back) / 2)
        least, coefficient = proportional / rate, constant / rate
        solvable = (least + coefficient > 0) & (coefficient < 1) & (decay <= _LARGEST_DECAY)
        cooled = -np.expm1(-decay)
        stretch = decay / cooled
        value = least + coefficient * stretch - decay
        slope = coefficient * (1 - stretch * np.exp(-decay)) / cooled - 1
        step = decay - value / slope
        # Halving keeps u above 0 where a change of ṁ·c carries the step past a root close to it.
        following = np.where(solvable, np.where(step > 0, step, decay / 2), np.nan)
        decay = np.where(moving, following, decay)
    solved = (change <= RETURN_TOLERANCE) & (back > room_temperature) & (back < supply_temperature)
    return np.where(solved, back, np.nan)


@elementwise
def return_for_share(
    share: Numbers,
    supply_temperature: Numbers,
    open_return: Numbers,
    room_temperature: Numbers,
    feed_ratio: Numbers,
) -> Numbers:
    """Return temperature at which the floor gives a share of its heat at the open return.

    share: above 0; supply_temperature, open_return, room_temperature: °C; feed_ratio: area times
    heat coefficient of the loop's feeds in the same room over that of its floor there, 0 where
    there are none. Shapes broadcast. Returns °C: the open return from a share of 1 on, and the
    room's temperature where the share is less than the feeds give at any return.
    EN 1264-3, reported: each room has its own drop at the common supply.

    Let a be the supply's excess over the room and a·exp(−u) the return's. Floor and feeds give
    a·h(u), h = (1 − exp(−u))/u + φ·(1 + exp(−u))/2, times area and heat coefficient of the floor:
    the first is the logarithmic mean, the second that of a feed, whose water is supply one way and
    return the other. h falls and bends one way, so Newton walks from the open return to the root
    without overshooting.
    """
    supply_excess = positive(supply_temperature - room_temperature)
    decay: Numbers = np.log(supply_excess / positive(open_return - room_temperature))

    def given(decay: Numbers) -> Numbers:
        return -np.expm1(-decay) / decay + feed_ratio * (1 + np.exp(-decay)) / 2

    goal = share * given(decay)
    moving: Mask = np.asarray((share < 1) & (goal > feed_ratio / 2))
    decay = np.where((share < 1) & ~moving, np.inf, decay)
    for _ in range(_MOST_STEPS):
        if not moving.any():
            break
        left = np.exp(-decay)
        slope = (left * (1 + decay) - 1) / decay**2 - feed_ratio * left / 2
        step = np.where(moving, (goal - given(decay)) / slope, 0.0)
        decay = decay + step
        moving = moving & (step > 1e-13 * decay)
    cooled = room_temperature + supply_excess * np.exp(-decay)
    found = np.where(share >= 1, open_return, np.where(share < 1, cooled, np.nan))
    return np.where(np.isnan(goal), np.nan, found)
