"""Whether the floor or the house is at fault: the heat that water gave, compared with what floor
and room should take.

Of a loop with flow, supply and return: the heat that it gave, over what its floor as drawn takes
from that water (`floor`). Of a room: the heat that its floor gave upwards, over what it loses in
that day's weather (`house`), with its heat load in proportion to room minus outside. Errors of the
model or a thermometer are the same in every room, so a floor is also compared with the other rooms'
median.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct

from checker.arrays import Array
from checker.audit import inference
from checker.audit.inference import LoopReadings
from checker.audit.loop_models import LoopModel
from checker.physics import fluid

if TYPE_CHECKING:
    from checker.audit.on_site import Site

NAN = float("nan")
NEIGHBOURS = 2
"""A ratio is compared with others only where at least this many were read."""
LOAD_SPREAD = 0.10
"""Standard deviation of a heat load on paper, as a share of it; our convention, no source."""


class Share(Struct, frozen=True):
    """A ratio of heats with its standard deviation; NaN where it is not known."""

    value: float = NAN
    deviation: float = NAN

    def beside(self, others: list[Share]) -> Share:
        """Divide this ratio by the median of others.

        Args:
            others: the same ratio of other rooms or loops; those that are not known do not count.

        Returns:
            The quotient; not known where fewer than NEIGHBOURS of the others are known.
        """
        known = [one.value for one in others if not np.isnan(one.value)]
        if len(known) < NEIGHBOURS or np.isnan(self.value):
            return Share()
        middle = float(np.median(known))
        own = self.deviation / middle
        return Share(self.value / middle, own * float(np.sqrt(1 + 1 / len(known))))


def _given(model: LoopModel, read: LoopReadings) -> Array:
    """Give the heat that the water left in a loop.

    Args:
        model: the loop as it is on paper, for its fluid.
        read: its readings.

    Returns:
        W, shape (visits,); NaN where flow, supply or return was not read.
    """
    water = (read.supply + read.back) / 2
    density = fluid.density(model.fluid_kind, model.fluid_fraction, water)
    heat = fluid.specific_heat(model.fluid_kind, model.fluid_fraction, water)
    return np.asarray(read.flow * density * heat * (read.supply - read.back))


def drawn_ratio(site: Site, loop: str) -> Array:
    """Compare the heat that the water gave in a loop with what the loop takes from it as drawn.

    Args:
        site: the job's readings and model.
        loop: its id.

    Returns:
        The ratio, shape (visits,); NaN where it is not known or no water flowed.
    """
    model, read = site.model(loop), site.readings(loop)
    back = model.return_at(read.flow, read.supply, *_room_and_covering(model, read))
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = (read.supply - read.back) / (read.supply - back)
    return np.where(read.flow > 0, ratio, NAN)


def upwards(site: Site, loop: str) -> Array:
    """Give the part of the heat of a loop's water that goes up into its rooms.

    What the loop gives upwards as drawn is taken in proportion to the heat that its water really
    gave: what goes down does not grow with a covering that lets less through, and is small.

    Args:
        site: the job's readings and model.
        loop: its id.

    Returns:
        W, shape (visits,), at most all heat that the water gave; NaN where it is not known or no
        water flowed.
    """
    model, read = site.model(loop), site.readings(loop)
    flux = model.output_at(read.flow, read.supply, *_room_and_covering(model, read))
    with np.errstate(invalid="ignore"):
        up = flux * model.area * drawn_ratio(site, loop)
        return np.where(read.flow > 0, np.minimum(up, _given(model, read)), NAN)


def _room_and_covering(model: LoopModel, read: LoopReadings) -> tuple[Array, Array]:
    """The air as it was read, else as designed, and the covering on paper; shape (visits,)."""
    room = np.where(np.isnan(read.room), model.room_temperature, read.room)
    return room, np.full(len(read.flow), model.covering_resistance)


def floor(site: Site, loop: str) -> Share:
    """Compare the heat that a loop gave with what its floor takes as drawn.

    Args:
        site: the job's readings and model.
        loop: its id.

    Returns:
        The ratio as a mean over the visits; not known where no visit has flow, supply and return.
    """
    ratio = drawn_ratio(site, loop)
    return _mean(ratio, ratio * _of_drop(site, site.readings(loop)))


def house(site: Site, room: str, *, as_set: bool = False) -> Share:
    """Compare the heat that a room got with what it loses in that weather.

    Args:
        site: the job's readings and model.
        room: the room's id.
        as_set: whether its loss is taken at the temperature that it was designed for, else at the
            one that was read.

    Returns:
        The ratio as a mean over the visits; not known where no loop heats the room, or no visit has
        all that it takes.
    """
    paper, readings = site.paper, site.job.readings
    loops = [loop for loop in paper.ids("loops") if room in paper.named(loop, "room")]
    if not loops:
        return Share()
    up = np.sum([upwards(site, loop) * site.model(loop).share_of(room) for loop in loops], axis=0)
    designed = paper.value("room", "temperature", room)
    load = paper.value("room", "heat_load", room)
    coldest = paper.value("design", "plant.outside")
    outside = np.array([readings.outside.get(on, NAN) for on in readings.visits])
    values = readings.of(f"rooms.{room}", "temperature")
    air = np.array([values.get(on, NAN) for on in readings.visits], dtype=np.float64)
    air = np.full_like(air, designed) if as_set else air
    with np.errstate(invalid="ignore", divide="ignore"):
        lost = load * (air - outside) / (designed - coldest)
        ratio = np.where(lost > 0, up / lost, NAN)
    off = np.hypot(_of_drop(site, site.readings(loops[0])), site.errors.flow)
    return _mean(ratio, ratio * np.hypot(off, LOAD_SPREAD))


def _of_drop(site: Site, read: LoopReadings) -> Array:
    """Standard deviation of the drop that two thermometers read, as a share of it."""
    with np.errstate(invalid="ignore", divide="ignore"):
        drop = np.abs(read.supply - read.back)
        return np.asarray(np.sqrt(2) * site.errors.temperature / np.maximum(drop, 0.1))


def _mean(ratio: Array, deviation: Array) -> Share:
    """The mean over the visits. Its deviation is that of one: the same instruments read all."""
    known = np.isfinite(ratio) & np.isfinite(deviation)
    if not known.any():
        return Share()
    return Share(float(np.mean(ratio[known])), float(np.mean(deviation[known])))


def exchanged(site: Site, loop: str) -> tuple[str, float]:
    """Find the loop whose floor fits this loop's water better.

    Two loops count as exchanged where one return is clearly warmer than its floor makes it, the
    other clearly cooler, and both fit much better exchanged.

    Args:
        site: the job's readings and model.
        loop: its id.

    Returns:
        The other loop's id, and the gain: the decrease of both loops' squared residuals, each
        divided by its variance, per visit; 0 where no other loop fits better, and no id with NaN
        where none could be compared.
    """
    header = site.paper.text("loops", loop, "header")
    best, gain = "", NAN
    for other in site.paper.loops_at(header):
        if other == loop:
            continue
        one, two = residual(site, loop, loop), residual(site, other, other)
        crossed = residual(site, loop, other) ** 2 + residual(site, other, loop) ** 2
        apart = one**2 + two**2
        known = np.isfinite(apart) & np.isfinite(crossed)
        if not known.any():
            continue
        means = [float(np.mean(values[known])) for values in (one, two, apart, crossed)]
        opposite = means[0] * means[1] < 0 and min(abs(means[0]), abs(means[1])) > SURE
        found = means[2] - means[3] if opposite and means[3] < BETTER * means[2] else 0.0
        if np.isnan(gain) or found > gain:
            best, gain = other, found
    return best, gain


SURE = 1.5
"""A return counts as warmer or cooler than its floor makes it from this many standard
deviations.
"""
BETTER = 0.5
"""An exchanged pair may keep at most this share of its squared residuals."""
MODEL_SPREAD = 0.4
"""Error of the model's return, K, one standard deviation; our convention, no source."""


def residual(site: Site, water: str, drawn: str) -> Array:
    """Compare the return of a loop's water with that of the model.

    Args:
        site: the job's readings and model.
        water: the loop whose readings are used.
        drawn: the loop through whose floor that water is taken to run.

    Returns:
        Measured minus computed return, in standard deviations, shape (visits,); NaN where it is not
        known.
    """
    read, model = site.readings(water), site.model(drawn)
    room, covering = _room_and_covering(model, site.readings(drawn))

    def returns(flow: Array, supply: Array, at: Array) -> Array:
        return model.return_at(flow, supply, at, covering)

    deviation = inference.spread(
        returns, read.flow, read.supply, room, site.errors, site.errors.temperature
    )
    # The model's own error: an exchange must explain more than that to be reported.
    off = np.hypot(deviation, MODEL_SPREAD)
    return np.asarray((read.back - returns(read.flow, read.supply, room)) / off)


def mixed(site: Site, header: str) -> dict[str, Array]:
    """Mix the waters of a header's loops.

    The supply is the mean over the loops where it was read; the return is weighted by flow over all
    loops.

    Args:
        site: the job's readings and model.
        header: its id.

    Returns:
        By `supply` and `return`, °C, shape (visits,); NaN where the supply was read at no loop, or
        flow or return not at all of them.
    """
    loops = site.paper.loops_at(header)
    visits = len(site.job.readings.visits)
    if not loops or not visits:
        return {"supply": np.full(visits, np.nan), "return": np.full(visits, np.nan)}

    def read(name: str) -> Array:
        """Shape (visits, loops)."""
        own = [site.job.readings.of(f"loops.{loop}", name) for loop in loops]
        days = site.job.readings.visits
        return np.array([[values.get(day, np.nan) for values in own] for day in days])

    return {
        "supply": common_supply(read("supply")),
        "return": mixed_return(read("flow"), read("return")),
    }


def common_supply(supply: Array) -> Array:
    """Give the one water that a header's loops get: the mean of those that it was read at.

    Args:
        supply: °C, shape (…, loops), NaN where it was not read.

    Returns:
        °C, shape (…); NaN where it was read at no loop.
    """
    known = ~np.isnan(supply)
    count = np.count_nonzero(known, axis=-1)
    total = np.sum(np.where(known, supply, 0.0), axis=-1)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), NAN))


def mixed_return(flow: Array, back: Array) -> Array:
    """Give the mixed return of a header's loops, weighted by their flows.

    Args:
        flow: m³/s, shape (…, loops), NaN where it was not read.
        back: °C, shape (…, loops), likewise. That of a loop without flow makes no difference.

    Returns:
        °C, shape (…); NaN where one of the loops was not read, for its water may be any.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        total = np.sum(np.where(flow == 0, 0.0, flow * back), axis=-1)
        return np.asarray(total / np.sum(flow, axis=-1))
