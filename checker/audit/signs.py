"""Signs of causes: how strong each is, worked out from readings or from the design."""

from __future__ import annotations

import numpy as np

from checker.audit import heat, inference, pressure
from checker.audit.observing import (
    NOT_READ,
    Observed,
    SignFunction,
    flow_words,
    negative,
    over_visits,
    read_at,
    read_of_loop,
)
from checker.audit.on_site import NAN, Site
from checker.physics import en_1264

MANY = 2
"""Loops of a header are compared with one another where at least this many were read."""


def _flow_short(site: Site, loop: str) -> Observed:
    """Share of its computed flow that the loop lacks."""
    computed = site.paper.value("loop", "flow", loop)
    flow, where = site.flow_read(loop)
    if np.isnan(flow + computed) or computed <= 0:
        return NOT_READ
    words = f"{flow_words(site, flow)} read {where}, {flow_words(site, computed)} computed"
    return Observed(1 - flow / computed, site.errors.flow * flow / computed, words)


def _neighbours(site: Site, loop: str) -> dict[str, Observed]:
    """What each loop with a flow on this loop's header lacks of it, the loop itself included."""
    header = site.paper.text("loops", loop, "header")
    return _shares(site, header)


def _shares(site: Site, header: str) -> dict[str, Observed]:
    """What each loop of a header lacks of its computed flow, by loop; only loops with a flow."""
    shares = {name: _flow_short(site, name) for name in site.paper.loops_at(header)}
    return {name: share for name, share in shares.items() if not np.isnan(share.value)}


def _flow_short_alone(site: Site, loop: str) -> Observed:
    """Share of its computed flow that the loop lacks beyond what its neighbours lack."""
    shares = _neighbours(site, loop)
    own = shares.pop(loop, NOT_READ)
    if np.isnan(own.value) or not shares:
        return NOT_READ
    others = float(np.median([share.value for share in shares.values()]))
    words = f"{own.words}; its neighbours get {100 * (1 - others):.0f} % of theirs"
    return Observed(own.value - max(others, 0.0), own.deviation, words)


def _header_short(site: Site, header: str) -> Observed:
    """Share of its computed flow that even the best served loop of the header lacks."""
    shares = _shares(site, header)
    if len(shares) < MANY:
        return NOT_READ
    least = min(shares.values(), key=lambda share: share.value)
    words = f"each of {len(shares)} loops read gets at most {100 * (1 - least.value):.0f} %"
    return Observed(least.value, least.deviation, words)


def _speed_read(site: Site, loop: str) -> Observed:
    """Speed of the loop's water, m/s."""
    flow, where = site.flow_read(loop)
    speed = flow / (np.pi / 4 * site.model(loop).bore ** 2)
    words = f"{site.speech.measure(speed, 'm/s')} from the flow read {where}"
    return Observed(speed, speed * site.errors.flow, words)


def _supply_low(site: Site, loop: str) -> Observed:
    """K by which the supply is below what the weather asks for."""
    low = site.needed_supply(loop) - site.readings(loop).supply
    return over_visits(
        site, low, site.errors.temperature, "what the weather of the day asks for", high="below"
    )


def _supply_high(site: Site, loop: str) -> Observed:
    """K by which the supply is above the designed one."""
    designed = site.paper.value("loop", "supply_temperature", loop)
    high = site.readings(loop).supply - designed
    return over_visits(
        site, high, site.errors.temperature, f"the designed {site.speech.measure(designed, '°C')}"
    )


def _return_warm(site: Site, loop: str) -> Observed:
    """K by which the return is above the model's."""
    waters = site.waters(loop)
    return over_visits(
        site, waters.returned, waters.return_deviation, "the return that the model gives"
    )


def _surface_hot(site: Site, loop: str) -> Observed:
    """K by which the surface is above the model's."""
    waters = site.waters(loop)
    return over_visits(
        site, waters.surface, waters.surface_deviation, "the surface that the model gives"
    )


def _covering_more(site: Site, loop: str) -> Observed:
    """Resistance of the covering beyond the stated one, m²·K/W, less what all loops have in
    common.
    """
    one = site.inferred(loop, inference.COVERING)
    if one.beyond:
        most = en_1264.COVERING_RANGE[1] if one.beyond > 0 else 0.0
        return Observed(most - one.stated, 0.0, site.speech.words(one.because))
    if np.isnan(one.value + one.stated):
        return NOT_READ
    measure = site.speech.measure
    words = f"{measure(one.value, one.unit)} inferred, {measure(one.stated, one.unit)} stated"
    common = _common_excess(site, loop)
    if common >= MENTIONED:
        words += f", {measure(common, one.unit)} of it as on the other loops"
    return Observed(one.value - one.stated - common, one.deviation, words)


def _common_excess(site: Site, loop: str) -> float:
    """The resistance, m²·K/W, by which all other loops' coverings appear to exceed those stated.

    An error of the model or of a thermometer is the same on all loops. At most MODEL_EXCESS is
    subtracted, so that carpet in every room is still found.
    """
    others = [
        site.inferred(other, inference.COVERING)
        for other in site.paper.ids("loops")
        if other != loop
    ]
    excess = [one.value - one.stated for one in others if not np.isnan(one.value + one.stated)]
    if len(excess) < MANY:
        return 0.0
    return min(max(float(np.median(excess)), 0.0), MODEL_EXCESS)


MENTIONED = 0.001
"""An excess common to all loops is mentioned from this many m²·K/W on."""
MODEL_EXCESS = 0.03
"""m²·K/W by which the tables of EN 1264-2 underestimate a covering, compared with the floor solved
in section; our own comparison, no source.
"""


def _length_more(site: Site, loop: str) -> Observed:
    """Length beyond the stated one, as a share of it."""
    one = site.inferred(loop, inference.LENGTH)
    if np.isnan(one.value + one.stated):
        return NOT_READ
    measure = site.speech.measure
    words = f"{measure(one.value, 'm')} inferred, {measure(one.stated, 'm')} stated"
    return Observed(one.value / one.stated - 1, one.deviation / one.stated, words)


def _drop_large(site: Site, loop: str) -> Observed:
    """K by which the loop's drop is above the planned one."""
    read, planned = site.readings(loop), site.paper.value("design", "plant.drop")
    return over_visits(
        site,
        read.supply - read.back - planned,
        site.errors.temperature * float(np.sqrt(2)),
        f"the planned drop of {site.speech.measure(planned, 'K')}",
    )


def _surface_over(site: Site, loop: str) -> Observed:
    """K by which the warmest spot is above its limit."""
    limit = site.paper.value("loop", "surface_limit", loop)
    return over_visits(
        site,
        read_of_loop(site, loop, "surface_max") - limit,
        site.errors.surface,
        f"the limit of {site.speech.measure(limit, '°C')} at the warmest spot",
    )


def _surface_striped(site: Site, loop: str) -> Observed:
    """K by which the warmest spot is above the mean surface."""
    apart = read_of_loop(site, loop, "surface_max") - read_of_loop(site, loop, "surface")
    return over_visits(
        site, apart, site.errors.surface * float(np.sqrt(2)), "the mean at the warmest spot"
    )


def _room_warm(site: Site, room: str) -> Observed:
    """K by which the room is above what is asked of it."""
    asked = site.asked(room, -1.0)
    values = site.job.readings.of(f"rooms.{room}", "temperature")
    return over_visits(
        site,
        np.array([*values.values()]) - asked,
        site.errors.temperature,
        f"the {_what_is_asked(site, room, asked)} {site.speech.measure(asked, '°C')}",
    )


def _what_is_asked(site: Site, room: str, asked: float) -> str:
    """Whether what is asked of a room is what it was designed for, or what its thermostat is set
    to.
    """
    return "designed" if asked == site.paper.value("room", "temperature", room) else "set"


def _leak_shown(site: Site, header: str) -> Observed:
    """The least that surely leaks, m³/s."""
    found = site.leak(header)
    return Observed(found.sure, 0.0, found.words(site.speech))


def _header_tight(site: Site, header: str) -> Observed:
    """Share of the allowed leak that the header surely keeps below."""
    found = site.leak(header)
    spare = 1 - found.most / found.allowed
    words = f"at most {site.speech.measure(found.most * pressure.ML_PER_HOUR, 'ml/h')}; "
    # Where the readings cannot settle it, that is no sign of a leak.
    return Observed(spare, 0.0 if spare > 0 else np.inf, words + found.words(site.speech))


def _room_below(site: Site, room: str) -> float:
    """How far the room was below the temperature it should have, K, mean over the visits."""
    values = site.job.readings.of(f"rooms.{room}", "temperature")
    if not values:
        return NAN
    return site.asked(room, 1.0) - float(np.mean([*values.values()]))


def _room_as_set(site: Site, room: str) -> Observed:
    """K by which the room is above what is asked of it where the complaint is that it is cold."""
    below = _room_below(site, room)
    side = site.speech.measure(abs(below), "K") + (" below" if below > 0 else " above")
    asked = _what_is_asked(site, room, site.asked(room, 1.0))
    return Observed(-below, 0.0, f"read {side} what it is {asked} for".replace("set for", "set to"))


def _set_low(site: Site, room: str) -> Observed:
    """K by which the thermostat is set below the designed temperature."""
    values = site.job.readings.of(f"rooms.{room}", "set")
    designed = site.paper.value("room", "temperature", room)
    apart = designed - np.array([*values.values()])
    than = f"the designed {site.speech.measure(designed, '°C')}"
    return over_visits(site, apart, 0.0, than, high="below")


def _sensor_warm(site: Site, room: str) -> Observed:
    """K by which the thermostat shows more than the air beside it has."""
    subject = f"rooms.{room}"
    return over_visits(
        site,
        read_at(site, subject, "shown") - read_at(site, subject, "temperature"),
        site.errors.temperature * float(np.sqrt(2)),
        "the air that was read beside it",
    )


def _house_loses(site: Site, room: str) -> Observed:
    """Share by which a cold room gets more heat than it should lose."""
    below, share = _room_below(site, room), heat.house(site, room)
    if np.isnan(below + share.value):
        return NOT_READ
    words = f"it gets {100 * share.value:.0f} % of what its papers say it loses"
    words += f", {site.speech.measure(abs(below), 'K')} {'below' if below > 0 else 'above'} design"
    if below < COLD:
        # A valve that opens and shuts lets in more heat while it is open than the room loses.
        return Observed(0.0, np.inf, words)
    return Observed(share.value - 1, share.deviation, words)


COLD = 0.7
"""A room counts as cold from this many K below its design temperature."""


def _floor_cold(site: Site, loop: str) -> Observed:
    """Share by which the floor takes more heat than it should, beside the other floors."""
    others = [heat.floor(site, other) for other in site.paper.ids("loops") if other != loop]
    found = heat.floor(site, loop).beside(others)
    words = f"its floor takes {100 * found.value:.0f} % of what it should, beside its neighbours"
    return Observed(found.value - 1, found.deviation, words)


def _all_apart(site: Site, header: str) -> Observed:
    """Share by which all floors of the header take more, or all less, than they can."""
    shares = [heat.floor(site, loop) for loop in site.paper.loops_at(header)]
    values = np.array([share.value for share in shares if not np.isnan(share.value)])
    if len(values) <= MANY:
        return NOT_READ
    middle = float(np.median(values))
    # It counts only where all floors are off, and in the same direction.
    least = float(np.min(values) - 1) if middle > 1 else float(1 - np.max(values))
    words = (
        f"{len(values)} floors seem to take {100 * middle:.0f} % of what they can, in the middle"
    )
    return Observed(min(abs(middle - 1), 2 * max(least, 0.0)), 0.0, words)


def _exchanged(site: Site, loop: str) -> Observed:
    """How much better the water of this loop and another fit each other's floor
    (`heat.exchanged`).
    """
    other, gain = heat.exchanged(site, loop)
    words = "no other loop's floor fits its water better"
    if gain > 0:
        words = f"its water fits the floor of {other}, and that of {other} its own"
    return Observed(gain, 0.0, words)


def _waters_apart(site: Site, header: str) -> Observed:
    """K between the header's own thermometers and the mixed water of its loops, the larger of
    two.
    """
    mixed = heat.mixed(site, header)
    most = NOT_READ
    for name, at_loops in mixed.items():
        apart = at_loops - read_at(site, f"headers.{header}", name)
        found = over_visits(site, apart, site.errors.temperature, f"that of the header: {name}")
        if not np.isnan(found.value) and not abs(most.value) >= abs(found.value):
            most = found
    words = f"at the loops {most.words}" if most.words else ""
    return Observed(abs(most.value), most.deviation * float(np.sqrt(2)), words)


def _after(name: str) -> SignFunction:
    """How much more water the loop gets after a change, as a share of what it should get."""

    def observed(site: Site, loop: str) -> Observed:
        before, computed = read_of_loop(site, loop, "flow"), site.paper.value("loop", "flow", loop)
        gained = (read_of_loop(site, loop, name) - before) / computed
        known = ~np.isnan(gained)
        if not known.any():
            return NOT_READ
        value = float(np.mean(gained[known]))
        earlier = flow_words(site, float(np.mean(before[known])))
        now = flow_words(site, float(np.mean(read_of_loop(site, loop, name)[known])))
        words = f"{now}, {earlier} before"
        return Observed(value, site.errors.flow * float(np.sqrt(2)), words)

    return observed


def _fluid_other(site: Site, header: str) -> Observed:
    """Mass fraction of glycol between what was read and what is on paper."""
    values = site.job.readings.of(f"headers.{header}", "glycol")
    loops = site.paper.loops_at(header)
    if not values or not loops:
        return NOT_READ
    read, stated = float(np.mean([*values.values()])), site.model(loops[0]).fluid_fraction
    stated = 0.0 if np.isnan(stated) else stated
    words = f"{100 * read:.0f} % read, {100 * stated:.0f} % on paper"
    return Observed(abs(read - stated), 0.0, words)


def _flow_nil(site: Site, loop: str) -> Observed:
    """Share of its computed flow that the loop lacks, without an error: nothing is read exactly."""
    return _flow_short(site, loop)._replace(deviation=0.0)


def _stated(subject: str, name: str, unit: str, scale: float, sign: float = 1.0) -> SignFunction:
    """Makes a sign of a figure of the design; sign: -1 where less of it is the sign."""

    def observed(site: Site, of: str) -> Observed:
        value = site.paper.value(subject, name, of)
        return Observed(sign * value, 0.0, f"{site.speech.measure(value / scale, unit)} is stated")

    return observed


def _pump_surplus(site: Site, header: str) -> Observed:
    """Head of the pump beyond the header's loss at its flow, Pa."""
    surplus = site.paper.value("header", "pump_head", header) - site.paper.value(
        "header", "pressure_drop", header
    )
    return Observed(
        surplus, 0.0, f"{site.speech.measure(surplus / 1e3, 'kPa')} to spare at the header's flow"
    )


def _supply_above_curve(site: Site, loop: str) -> Observed:
    """K by which the supply is above what the weather asks for."""
    return negative(_supply_low)(site, loop)


SIGNS: dict[str, SignFunction] = {
    "flow-short": _flow_short,
    "flow-surplus": negative(_flow_short),
    "flow-short-alone": _flow_short_alone,
    "header-short": _header_short,
    "speed-read": _speed_read,
    "supply-low": _supply_low,
    "supply-high": _supply_high,
    "supply-above-curve": _supply_above_curve,
    "return-warm": _return_warm,
    "return-cold": negative(_return_warm),
    "covering-more": _covering_more,
    "drop-large": _drop_large,
    "surface-hot": _surface_hot,
    "surface-cold": negative(_surface_hot),
    "surface-over": _surface_over,
    "surface-striped": _surface_striped,
    "length-more": _length_more,
    "room-warm": _room_warm,
    "leak-shown": _leak_shown,
    "header-tight": _header_tight,
    "room-as-set": _room_as_set,
    "house-loses": _house_loses,
    "floor-cold": _floor_cold,
    "all-apart": _all_apart,
    "exchanged": _exchanged,
    "fluid-other": _fluid_other,
    "flow-nil": _flow_nil,
    "set-low": _set_low,
    "set-high": negative(_set_low),
    "sensor-warm": _sensor_warm,
    "sensor-cold": negative(_sensor_warm),
    "waters-apart": _waters_apart,
    "air-flushed": _after("flow_purged"),
    "head-answers": _after("flow_other_head"),
    "screed-thick": _stated("floor", "screed.cover", "mm", 1e-3),
    "screed-thin": _stated("floor", "screed.cover", "mm", 1e-3, -1.0),
    "spacing-wide": _stated("loop", "spacing", "mm", 1e-3),
    "insulation-thin": _stated("floor", "insulation", "m²·K/W", 1.0, -1.0),
    "pump-surplus": _pump_surplus,
}
"""Each sign of `rules/complaints.yaml`, and the function that works it out; values in SI."""
