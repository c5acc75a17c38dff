"""Loops with their valves on headers, and the flow at which the pump of these settles.

Each loop keeps its law of friction at the water of its set point, its valve takes pressure as the
square of its flow, and so does the header itself. All loops of a header stand between the same two
pressures, and all headers of a pump between those at the pump.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from checker.arrays import Array, Index
from checker.physics import friction
from checker.physics.header import head_and_slope

_MOST_ROUNDS = 80
_STANDS_STILL = 1e-12  # of a logarithm of flow or pressure
_LARGEST_STEP = 1.0
_NUDGE = 1e-6


class Loops(NamedTuple):
    """Loops, all of shape (loops,): what fixes the pressure that each loses at a flow.

    flow: set, m³/s; valve_drop: what its valve takes at it, Pa; length, bore, roughness: m;
    density: kg/m³; viscosity: Pa·s.
    """

    flow: Array
    valve_drop: Array
    length: Array
    bore: Array
    roughness: Array
    density: Array
    viscosity: Array

    def loss(self, flow: Array) -> Array:
        """Pressure lost in pipe and valve at this flow.

        Args:
            flow: m³/s, shape (…, loops).

        Returns:
            Pa, shape (…, loops).

        Source:
            Darcy and Weisbach; the valve by the square of the flow.
        """
        speed = flow / (np.pi / 4 * self.bore**2)
        reynolds = friction.reynolds(speed, self.bore, self.density, self.viscosity)
        factor = friction.friction_factor(reynolds, self.roughness / self.bore)
        pipe = friction.pressure_drop(self.length, self.bore, speed, self.density, factor)
        return pipe + self.valve_drop * (flow / self.flow) ** 2

    def loss_and_steepness(self, flow: Array) -> tuple[Array, Array]:
        """Pressure lost at this flow, and by how many per cent it rises with 1 % more flow.

        Args:
            flow: m³/s, shape (loops,).

        Returns:
            Pa, and pure numbers, each of shape (loops,).
        """
        loss, more = self.loss(np.stack((flow, flow * (1 + _NUDGE))))
        return loss, np.log(more / loss) / np.log1p(_NUDGE)

    def flow_at(self, pressure: Array) -> Array:
        """Flow of each loop between these pressures.

        Args:
            pressure: across each loop, Pa, shape (loops,).

        Returns:
            m³/s, shape (loops,); NaN where no flow loses that pressure.
        """
        with np.errstate(all="ignore"):
            found = np.log(self.flow)
            moving = np.isfinite(found) & (pressure > 0)
            found = np.where(moving, found, np.nan)
            for _ in range(_MOST_ROUNDS):
                loss, steepness = self.loss_and_steepness(np.exp(found))
                step = np.log(pressure / loss) / steepness
                step = np.clip(step, -_LARGEST_STEP, _LARGEST_STEP)
                found = np.where(moving, found + step, found)
                moving = moving & (np.abs(step) > _STANDS_STILL)
                if not moving.any():
                    break
            return np.exp(np.where(moving, np.nan, found))


def settled_pressure(
    loops: Loops,
    header: Index,
    set_flow: Array,
    own_loss: Array,
    pump: Index,
    curve_flow: Array,
    curve_head: Array,
    curve_header: Index,
) -> Array:
    """Pressure across the loops of each header where its pump settles.

    Newton on the logarithms of all flows and pressures across loops, and on the pumps' heads, at
    once: the logarithm of a loop's loss is nearly straight in that of its flow, so few rounds will
    do. A pump that no longer changes is left alone, so that its result does not depend on the pumps
    beside it.

    Args:
        loops: all loops.
        header: of each loop, the row of its header, shape (loops,).
        set_flow: m³/s, shape (headers,).
        own_loss: of the header itself at that flow, Pa, shape (headers,).
        pump: the row of the header whose pump serves each, shape (headers,).
        curve_flow: as for `header.pump_head`.
        curve_head: as for `header.pump_head`.
        curve_header: as for `header.pump_head`; only the curves of rows in `pump` count.

    Returns:
        Pa, shape (headers,); NaN where the pump does not settle within its curve, or anything of a
        header on it is not known.

    Source:
        Kirchhoff's laws over the friction of `friction` and the pump's curve.
    """
    count = len(set_flow)
    runs = np.bincount(header, minlength=count) > 0
    with np.errstate(all="ignore"):
        flow = np.log(loops.flow)
        pressure = np.full(count, -np.inf)
        np.maximum.at(pressure, header, np.log(loops.loss(loops.flow)))
        last = np.full(count, -np.inf)
        first = np.full(count, np.inf)
        np.maximum.at(last, curve_header, curve_flow)
        np.minimum.at(first, curve_header, curve_flow)
        lift = np.full(count, -np.inf)
        np.maximum.at(lift, pump, np.where(runs, np.exp(pressure) + own_loss, -np.inf))
        known = np.isfinite(np.where(runs, pressure, 0.0) + own_loss + set_flow)
        moving = np.bincount(pump, ~known, count) == 0
        moving &= np.isfinite(lift) & (np.bincount(curve_header, minlength=count) >= 2)
        owner = curve_header.astype(float)
        solved = np.zeros(count, dtype=bool)

        def of_pump(values: Array) -> Array:
            return np.bincount(pump, np.where(runs, values, 0.0), count).astype(np.float64)

        for round_ in range(_MOST_ROUNDS):
            if not moving.any():
                break
            at = np.exp(flow)
            loss, steepness = loops.loss_and_steepness(at)
            short = (pressure[header] - np.log(loss)) / steepness
            total = np.bincount(header, at, count).astype(np.float64)
            gain = np.bincount(header, at * short, count)
            ease = np.bincount(header, at / steepness, count)
            # Of each header, what its pressure across loops lacks, and how stiff it is.
            own = own_loss * (total / set_flow) ** 2
            across = np.exp(pressure)
            stiff = across + 2 * own / total * ease
            lacks = lift[pump] - own - across - 2 * own / total * gain
            # Of each pump, likewise.
            whole = of_pump(total)
            inside = np.clip(whole, first, last)
            head, slope = head_and_slope(inside.astype(float), curve_flow, curve_head, owner)
            slope = np.where(whole == inside, slope, 0.0)
            missed = head - lift + slope * of_pump(gain + ease * lacks / stiff)
            raised = missed / (1 - slope * of_pump(ease / stiff))
            step = (lacks + raised[pump]) / stiff
            step = np.clip(step, -_LARGEST_STEP, _LARGEST_STEP)
            step = step * (1.0 if round_ < _MOST_ROUNDS // 2 else 0.5)
            flow_step = np.clip(short + step[header] / steepness, -_LARGEST_STEP, _LARGEST_STEP)
            flow = np.where(moving[pump][header], flow + flow_step, flow)
            pressure = np.where(moving[pump] & runs, pressure + step, pressure)
            lift = np.where(moving, lift + raised, lift)
            largest = np.abs(raised / lift)
            np.maximum.at(largest, pump[runs], np.abs(step[runs]))
            np.maximum.at(largest, pump[header], np.abs(flow_step))
            still = moving & (largest <= _STANDS_STILL)
            solved = solved | still
            moving = moving & ~still & np.isfinite(largest)
        whole = of_pump(np.bincount(header, np.exp(flow), count).astype(np.float64))
        slack = 1e-9 * last
        within = solved & (whole >= first - slack) & (whole <= last + slack)
        return np.where(within[pump] & runs, np.exp(pressure), np.nan)
