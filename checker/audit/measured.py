"""Readings against the model: each loop's differences, and the signs that causes are known by."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import NamedTuple

import numpy as np
from msgspec import Struct

from checker.audit import heat, inference, pressure
from checker.audit.inference import Array, Errors, Inferred, LoopModel, LoopReadings
from checker.audit.jobs import Job, Sheet
from checker.design.schema import design_format
from checker.physics import floor, friction
from checker.words.speech import Speech

NAN = float("nan")
MANY = 2
"""Loops of a header that must be read before they are compared with one another."""


class Observed(NamedTuple):
    """How far a sign is there: its value with its standard deviation (SI), and what was seen.

    A value that is NaN was not read.
    """

    value: float
    deviation: float = 0.0
    words: str = ""


NOT_READ = Observed(NAN)


class Waters(NamedTuple):
    """A loop's readings against what the model makes of them, one element a visit."""

    returned: Array
    return_deviation: Array
    surface: Array
    surface_deviation: Array


class Site:
    """A job's readings beside the model of what is on paper."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.sheet = job.current
        accuracy = job.readings.accuracy
        self.errors = Errors(
            accuracy.flow / 2,
            accuracy.temperature / 2,
            accuracy.surface / 2,
            accuracy.pressure / 2,
            accuracy.content / 2,
        )
        self._inferred: dict[tuple[str, str], Inferred] = {}
        self._models: dict[str, LoopModel] = {}
        self._waters: dict[str, Waters] = {}
        self._leaks: dict[str, pressure.Leak] = {}
        self.speech = self.sheet.report.speech
        """How the audit's reader is told values."""

    def model(self, loop: str) -> LoopModel:
        """The loop as it is on paper."""
        if loop not in self._models:
            self._models[loop] = model_of(self.sheet, loop)
        return self._models[loop]

    def readings(self, loop: str) -> LoopReadings:
        """What was read at the loop, a value a visit."""
        taken, subject = self.job.readings, f"loops.{loop}"

        def column(of: str, name: str) -> Array:
            values = taken.of(of, name)
            return np.array([values.get(day, NAN) for day in taken.visits], dtype=np.float64)

        room = f"rooms.{self.sheet.text('loops', loop, 'room')}"
        return LoopReadings(
            flow=column(subject, "flow"),
            supply=column(subject, "supply"),
            back=column(subject, "return"),
            room=column(room, "temperature"),
            surface=column(subject, "surface"),
            pressure_drop=column(subject, "pressure_drop"),
            content=column(subject, "content"),
        )

    def inferred(self, loop: str, what: str) -> Inferred:
        """The covering's resistance or the length that the readings ask for."""
        key = (loop, what)
        if key not in self._inferred:
            infer = inference.covering if what == inference.COVERING else inference.length
            self._inferred[key] = self._infer(loop, infer)
        return self._inferred[key]

    def _infer(self, loop: str, infer: Callable[..., Inferred]) -> Inferred:
        found: Inferred = infer(self.model(loop), self.readings(loop), self.errors)
        tested = design_format().code("floors", "construction", "tested")
        declared = self.sheet.value("loop", "floor.construction", loop) == tested
        if declared and found.name == inference.COVERING:
            because = "its floor's heat coefficient is declared with the covering in it"
            return Inferred(found.name, found.unit, found.stated, because=because)
        return found

    def flow_read(self, loop: str) -> tuple[float, str]:
        """The loop's flow on site, m³/s, and where it was read: visits, else the balance."""
        flows = self.readings(loop).flow
        if not np.isnan(flows).all():
            return float(np.nanmean(flows)), "on site"
        recorded = self.sheet.value("loop", "balance.flow", loop)
        return recorded, "when it was balanced"

    def waters(self, loop: str) -> Waters:
        """Return and surface as read, less what the model gives for the water the loop got."""
        if loop not in self._waters:
            self._waters[loop] = self._compare(loop)
        return self._waters[loop]

    def _compare(self, loop: str) -> Waters:
        model, read = self.model(loop), self.readings(loop)
        room = np.where(np.isnan(read.room), model.room_temperature, read.room)
        covering = np.full(len(read.flow), model.covering_resistance)

        def returns(flow: Array, supply: Array, air: Array) -> Array:
            return model.return_at(flow, supply, air, covering)

        def surfaces(flow: Array, supply: Array, air: Array) -> Array:
            return model.surface_at(flow, supply, air, covering)

        at = (read.flow, read.supply, room, self.errors)
        return Waters(
            read.back - returns(*at[:3]),
            inference.spread(returns, *at, self.errors.temperature),
            read.surface - surfaces(*at[:3]),
            inference.spread(surfaces, *at, self.errors.surface),
        )

    def leak(self, header: str) -> pressure.Leak:
        """What the header's gauge says of a leak."""
        if header not in self._leaks:
            self._leaks[header] = pressure.leak(self.sheet, self.job.readings, header)
        return self._leaks[header]

    def load_share(self, loop: str) -> Array:
        """Of the design load, what the weather of each visit asks for; NaN where it is unknown.

        In proportion to the difference between room and outside; common practice, no source.
        """
        taken = self.job.readings
        outside = np.array([taken.outside.get(day, NAN) for day in taken.visits])
        coldest = self.sheet.value("design", "plant.outside")
        room = self.sheet.value("loop", "room.temperature", loop)
        return np.clip((room - outside) / (room - coldest), 0.0, 1.3)

    def needed_supply(self, loop: str) -> Array:
        """Supply, °C, that the weather of each visit asks for."""
        share = self.load_share(loop)
        return floor.needed_supply(
            self.sheet.value("loop", "room.temperature", loop),
            self.sheet.value("design", "plant.drop") * share,
            self.sheet.value("loop", "heat_coefficient", loop),
            self.sheet.value("loop", "load_flux", loop) * share,
        )


def model_of(sheet: Sheet, loop: str) -> LoopModel:
    """The loop as this design states it."""

    def value(name: str) -> float:
        return sheet.value("loop", name, loop)

    heated = design_format().code("floors", "below", "heated")
    roughness = value("pipe.roughness")
    return LoopModel(
        area=value("area"),
        length=value("length"),
        bore=value("bore"),
        roughness=friction.ROUGHNESS if np.isnan(roughness) else roughness,
        spacing=value("spacing"),
        cover=value("floor.screed.cover"),
        conductivity=value("floor.screed.conductivity"),
        covering_resistance=value("room.covering.resistance"),
        pipe_outside=value("pipe.outside"),
        pipe_wall=value("pipe.wall"),
        pipe_conductivity=value("pipe.wall_conductivity"),
        downward_resistance=value("downward_resistance"),
        below_temperature=value("below_temperature"),
        room_temperature=value("room.temperature"),
        fluid_kind=sheet.value("design", "plant.fluid.kind"),
        fluid_fraction=value("fluid_fraction"),
        below_is_room=value("floor.below") == heated
        and bool(np.isnan(value("floor.below_temperature"))),
    )


# ---- what each loop was to do, and does


class Difference(Struct, frozen=True):
    """One property of a loop: as designed, as installed, as measured; None where it is not known.

    measured: on the day `on`, one visit for all properties of a loop, the last at which flow,
    supply and return were read together, else the last at which most was read. balanced: what the
    record of the balance says. computed: what the model gives for the water that was measured; for
    a supply, what the weather of the day asks for. accuracy: how far measured and computed may be
    apart in 95 % of cases.
    """

    loop: str
    name: str
    unit: str
    designed: float | None
    installed: float | None
    balanced: float | None
    measured: float | None
    on: date | None
    computed: float | None
    accuracy: float | None
    apart: bool
    says: str


class Explained(Struct, frozen=True):
    """What the readings say of a property of a loop, or why they say nothing."""

    loop: str
    name: str
    unit: str
    stated: float | None
    value: float | None
    low: float | None
    high: float | None
    readings: int
    says: str


_ROWS = (
    ("length", "m", 1.0),
    ("area", "m²", 1.0),
    ("spacing", "mm", 1e-3),
    ("room.covering.resistance", "m²·K/W", 1.0),
    ("flow", "l/min", 1e-3 / 60),
    ("supply_temperature", "°C", 1.0),
    ("return_temperature", "°C", 1.0),
    ("surface_mean", "°C", 1.0),
    ("pressure_drop", "kPa", 1e3),
)


def differences(site: Site) -> list[Difference]:
    """Each property of each loop that differs between design, installation and readings."""
    job, found = site.job, []
    for loop in site.sheet.ids("loops"):
        visit = _last_complete(site, loop)
        read, last = _read_at(site, loop, visit), _computed_at(site, loop, visit)
        for name, unit, scale in _ROWS:
            balanced = site.sheet.value("loop", "balance.flow", loop) if name == "flow" else NAN
            designed, installed = (
                NAN if sheet is None else sheet.value("loop", name, loop) / scale
                for sheet in (job.designed, job.installed)
            )
            measured, deviation = (number / scale for number in read.get(name, (NAN, NAN)))
            computed = last.get(name, NAN) / scale
            on_paper = designed if np.isnan(installed) else installed
            against = on_paper if np.isnan(computed) else computed
            moved = abs(installed - designed) > 1e-6 * abs(designed)
            sure = inference.DEVIATIONS * deviation
            off = abs(measured - against) > sure
            if name == "supply_temperature":
                # Water is cooler on a mild day; it is off below what the day asks for, or where
                # it is hotter than designed.
                against = on_paper if measured > on_paper else computed
                off = measured < computed - sure or measured > on_paper + sure
            if not moved and np.isnan(measured) and np.isnan(balanced):
                continue
            fits = "as computed, within the instruments' accuracy"
            if name == "supply_temperature":
                fits = "warm enough for the weather, and no hotter than designed"
            says = _says(site.speech, moved, off, measured, against, unit, fits)
            found.append(
                Difference(
                    loop=loop,
                    name=name,
                    unit=unit,
                    designed=_known(designed),
                    installed=_known(installed),
                    balanced=_known(balanced / scale),
                    measured=_known(measured),
                    on=None if np.isnan(measured) else site.job.readings.visits[visit].date(),
                    computed=_known(computed),
                    accuracy=_known(sure),
                    apart=bool(moved or off),
                    says=says,
                )
            )
    return found


def _says(
    speech: Speech,
    moved: bool,
    off: bool,
    measured: float,
    against: float,
    unit: str,
    fits: str,
) -> str:
    parts = []
    if moved:
        parts.append("laid otherwise than designed")
    if off:
        more = "more" if measured > against else "less"
        apart = speech.measure(abs(measured - against), "K" if unit == "°C" else unit)
        parts.append(f"read {apart} {more} than expected")
    elif not np.isnan(measured + against):
        parts.append(fits)
    return "; ".join(parts)


def _known(number: float) -> float | None:
    return None if np.isnan(number) else float(number)


def _last_complete(site: Site, loop: str) -> int:
    """The last visit with flow, supply and return, else the last with most; -1 for none."""
    read = site.readings(loop)
    waters = np.sum([~np.isnan(one) for one in (read.flow, read.supply, read.back)], axis=0)
    rest = np.sum([~np.isnan(one) for one in (read.surface, read.pressure_drop)], axis=0)
    worth = np.where(waters == _COMPLETE, len(_ROWS), waters + rest)
    return int(np.flatnonzero(worth == worth.max())[-1]) if worth.any() else -1


_COMPLETE = 3


def _read_at(site: Site, loop: str, visit: int) -> dict[str, tuple[float, float]]:
    """Each property as read on a visit, with its standard deviation, SI."""
    if visit < 0:
        return {}
    read, errors, waters = site.readings(loop), site.errors, site.waters(loop)
    flow, drop = float(read.flow[visit]), float(read.pressure_drop[visit])
    return {
        "flow": (flow, flow * errors.flow),
        "supply_temperature": (float(read.supply[visit]), errors.temperature),
        "return_temperature": (float(read.back[visit]), float(waters.return_deviation[visit])),
        "surface_mean": (float(read.surface[visit]), float(waters.surface_deviation[visit])),
        "pressure_drop": (drop, float(np.hypot(errors.pressure, 1.75 * errors.flow * drop))),
    }


def _computed_at(site: Site, loop: str, visit: int) -> dict[str, float]:
    """What the model gives for the water of a visit, SI."""
    if visit < 0:
        return {}
    read, waters, model = site.readings(loop), site.waters(loop), site.model(loop)
    water = (read.supply + read.back) / 2
    needed = np.where(np.isnan(read.supply), NAN, site.needed_supply(loop))
    columns = {
        "supply_temperature": needed,
        "return_temperature": read.back - waters.returned,
        "surface_mean": read.surface - waters.surface,
        "pressure_drop": model.gradient_at(read.flow, water) * model.length,
    }
    return {name: float(values[visit]) for name, values in columns.items()}


def explained(site: Site) -> list[Explained]:
    """For each loop that was read, what its readings say of covering and length."""
    found = []
    for loop in site.sheet.ids("loops"):
        read = site.readings(loop)
        nothing_read = all(
            np.isnan(column).all()
            for column in (read.flow, read.back, read.pressure_drop, read.content)
        )
        if nothing_read:
            continue
        for what in (inference.COVERING, inference.LENGTH):
            one = site.inferred(loop, what)
            found.append(
                Explained(
                    loop=loop,
                    name=one.name,
                    unit=one.unit,
                    stated=_known(one.stated),
                    value=_known(one.value),
                    low=_known(one.low),
                    high=_known(one.high),
                    readings=one.readings,
                    says=_explained_words(one, site.speech),
                )
            )
    return found


def _explained_words(one: Inferred, speech: Speech) -> str:
    if np.isnan(one.value):
        return f"Not inferable: {speech.words(one.because)}."
    stated = "" if np.isnan(one.stated) else f"; {speech.measure(one.stated, one.unit)} is stated"
    range_words = f"{speech.measure(one.low, one.unit)} to {speech.measure(one.high, one.unit)}"
    if one.name == inference.COVERING and one.high >= floor.COVERING_RANGE[1]:
        range_words += " or more"
    words = f"{speech.measure(one.value, one.unit)} ({range_words}, 95 %){stated}"
    if np.isnan(one.stated) or one.low <= one.stated <= one.high:
        return f"{words}: the readings do not contradict it."
    return f"{words}: this would explain the readings, if all else is as drawn."


# ---- signs


def _flow_short(site: Site, loop: str) -> Observed:
    computed = site.sheet.value("loop", "flow", loop)
    flow, where = site.flow_read(loop)
    if np.isnan(flow + computed) or computed <= 0:
        return NOT_READ
    words = f"{_litres(site, flow)} read {where}, {_litres(site, computed)} computed"
    return Observed(1 - flow / computed, site.errors.flow * flow / computed, words)


def _negative(sign: Callable[[Site, str], Observed]) -> Callable[[Site, str], Observed]:
    def turned(site: Site, name: str) -> Observed:
        found = sign(site, name)
        return found._replace(value=-found.value)

    return turned


def _neighbours(site: Site, loop: str) -> dict[str, Observed]:
    header = site.sheet.text("loops", loop, "header")
    return _shares(site, header)


def _shares(site: Site, header: str) -> dict[str, Observed]:
    loops = [
        name
        for name in site.sheet.ids("loops")
        if site.sheet.text("loops", name, "header") == header
    ]
    shares = {name: _flow_short(site, name) for name in loops}
    return {name: share for name, share in shares.items() if not np.isnan(share.value)}


def _flow_short_alone(site: Site, loop: str) -> Observed:
    shares = _neighbours(site, loop)
    own = shares.pop(loop, NOT_READ)
    if np.isnan(own.value) or not shares:
        return NOT_READ
    others = float(np.median([share.value for share in shares.values()]))
    words = f"{own.words}; its neighbours get {100 * (1 - others):.0f} % of theirs"
    return Observed(own.value - max(others, 0.0), own.deviation, words)


def _header_short(site: Site, header: str) -> Observed:
    shares = _shares(site, header)
    if len(shares) < MANY:
        return NOT_READ
    least = min(shares.values(), key=lambda share: share.value)
    words = f"each of {len(shares)} loops read gets at most {100 * (1 - least.value):.0f} %"
    return Observed(least.value, least.deviation, words)


def _speed_read(site: Site, loop: str) -> Observed:
    flow, where = site.flow_read(loop)
    speed = flow / (np.pi / 4 * site.model(loop).bore ** 2)
    words = f"{site.speech.measure(speed, 'm/s')} from the flow read {where}"
    return Observed(speed, speed * site.errors.flow, words)


def _of_visits(
    site: Site, apart: Array, deviation: Array | float, than: str, high: str = "above"
) -> Observed:
    """The mean over the visits of a difference in K; above 0 it is `high`, else the opposite."""
    known = ~np.isnan(apart)
    if not known.any():
        return NOT_READ
    value = float(np.mean(apart[known]))
    spread = float(np.mean(np.broadcast_to(deviation, apart.shape)[known]))
    word = high if value >= 0 else _OPPOSITE[high]
    return Observed(value, spread, f"{site.speech.measure(abs(value), 'K')} {word} {than}")


_OPPOSITE = {"above": "below", "below": "above"}


def _supply_low(site: Site, loop: str) -> Observed:
    low = site.needed_supply(loop) - site.readings(loop).supply
    return _of_visits(
        site, low, site.errors.temperature, "what the weather of the day asks for", high="below"
    )


def _supply_high(site: Site, loop: str) -> Observed:
    designed = site.sheet.value("loop", "supply_temperature", loop)
    high = site.readings(loop).supply - designed
    return _of_visits(
        site, high, site.errors.temperature, f"the designed {site.speech.measure(designed, '°C')}"
    )


def _return_warm(site: Site, loop: str) -> Observed:
    waters = site.waters(loop)
    return _of_visits(
        site, waters.returned, waters.return_deviation, "the return that the model gives"
    )


def _surface_hot(site: Site, loop: str) -> Observed:
    waters = site.waters(loop)
    return _of_visits(
        site, waters.surface, waters.surface_deviation, "the surface that the model gives"
    )


def _covering_more(site: Site, loop: str) -> Observed:
    one = site.inferred(loop, inference.COVERING)
    if one.beyond:
        most = floor.COVERING_RANGE[1] if one.beyond > 0 else 0.0
        return Observed(most - one.stated, 0.0, site.speech.words(one.because))
    if np.isnan(one.value + one.stated):
        return NOT_READ
    told = site.speech.measure
    words = f"{told(one.value, one.unit)} inferred, {told(one.stated, one.unit)} stated"
    common = _common_excess(site, loop)
    if common:
        words += f", {told(common, one.unit)} of it as on the other loops"
    return Observed(one.value - one.stated - common, one.deviation, words)


def _common_excess(site: Site, loop: str) -> float:
    """What the other loops' coverings are inferred above the stated ones alike, m²·K/W.

    The model, or a thermometer, is off alike on all loops; up to MODEL_EXCESS of it is not held
    against one covering, so that carpet everywhere still shows.
    """
    others = [
        site.inferred(other, inference.COVERING)
        for other in site.sheet.ids("loops")
        if other != loop
    ]
    excess = [one.value - one.stated for one in others if not np.isnan(one.value + one.stated)]
    if len(excess) < MANY:
        return 0.0
    return min(max(float(np.median(excess)), 0.0), MODEL_EXCESS)


MODEL_EXCESS = 0.03
"""m²·K/W that the tables of EN 1264-2 leave a covering short by, beside a floor solved in section;
ours, no source."""


def _length_more(site: Site, loop: str) -> Observed:
    one = site.inferred(loop, inference.LENGTH)
    if np.isnan(one.value + one.stated):
        return NOT_READ
    told = site.speech.measure
    words = f"{told(one.value, 'm')} inferred, {told(one.stated, 'm')} stated"
    return Observed(one.value / one.stated - 1, one.deviation / one.stated, words)


def _drop_large(site: Site, loop: str) -> Observed:
    read, planned = site.readings(loop), site.sheet.value("design", "plant.drop")
    return _of_visits(
        site,
        read.supply - read.back - planned,
        site.errors.temperature * float(np.sqrt(2)),
        f"the planned drop of {site.speech.measure(planned, 'K')}",
    )


def _column(site: Site, loop: str, name: str) -> Array:
    values = site.job.readings.of(f"loops.{loop}", name)
    return np.array([values.get(day, NAN) for day in site.job.readings.visits], dtype=np.float64)


def _surface_over(site: Site, loop: str) -> Observed:
    limit = site.sheet.value("loop", "surface_limit", loop)
    return _of_visits(
        site,
        _column(site, loop, "surface_max") - limit,
        site.errors.surface,
        f"the limit of {site.speech.measure(limit, '°C')} at the warmest spot",
    )


def _surface_striped(site: Site, loop: str) -> Observed:
    apart = _column(site, loop, "surface_max") - _column(site, loop, "surface")
    return _of_visits(
        site, apart, site.errors.surface * float(np.sqrt(2)), "the mean at the warmest spot"
    )


def _room_warm(site: Site, room: str) -> Observed:
    designed = site.sheet.value("room", "temperature", room)
    values = site.job.readings.of(f"rooms.{room}", "temperature")
    return _of_visits(
        site,
        np.array([*values.values()]) - designed,
        site.errors.temperature,
        f"the designed {site.speech.measure(designed, '°C')}",
    )


def _leak_shown(site: Site, header: str) -> Observed:
    found = site.leak(header)
    return Observed(found.sure, 0.0, found.words(site.speech))


def _header_tight(site: Site, header: str) -> Observed:
    found = site.leak(header)
    spare = 1 - found.most / found.allowed
    words = f"at most {site.speech.measure(found.most * pressure.ML_PER_HOUR, 'ml/h')}; "
    # What cannot be told is no sign of a leak.
    return Observed(spare, 0.0 if spare > 0 else np.inf, words + found.words(site.speech))


def _room_below(site: Site, room: str) -> float:
    """How far the room was read below its designed temperature, K, mean over the visits."""
    values = site.job.readings.of(f"rooms.{room}", "temperature")
    if not values:
        return NAN
    return site.sheet.value("room", "temperature", room) - float(np.mean([*values.values()]))


def _room_as_set(site: Site, room: str) -> Observed:
    below = _room_below(site, room)
    side = site.speech.measure(abs(below), "K") + (" below" if below > 0 else " above")
    return Observed(-below, 0.0, f"read {side} what it is designed for")


def _house_loses(site: Site, room: str) -> Observed:
    below, share = _room_below(site, room), heat.house(site, room)
    if np.isnan(below + share.value):
        return NOT_READ
    words = f"it gets {100 * share.value:.0f} % of what its papers say it loses"
    words += f", {site.speech.measure(abs(below), 'K')} {'below' if below > 0 else 'above'} design"
    if below < COLD:
        # A drive that opens and shuts gives more while it is open than the room loses.
        return Observed(0.0, np.inf, words)
    return Observed(share.value - 1, share.deviation, words)


COLD = 0.7
"""K below its designed temperature from which on a room counts as cold."""


def _floor_cold(site: Site, loop: str) -> Observed:
    others = [heat.floor(site, other) for other in site.sheet.ids("loops") if other != loop]
    found = heat.floor(site, loop).beside(others)
    words = f"its floor takes {100 * found.value:.0f} % of what it should, beside its neighbours"
    return Observed(found.value - 1, found.deviation, words)


def _all_apart(site: Site, header: str) -> Observed:
    shares = [heat.floor(site, loop) for loop in _loops_of(site, header)]
    values = np.array([share.value for share in shares if not np.isnan(share.value)])
    if len(values) <= MANY:
        return NOT_READ
    middle = float(np.median(values))
    # All of them must be off, and to one side.
    least = float(np.min(values) - 1) if middle > 1 else float(1 - np.max(values))
    words = (
        f"{len(values)} floors seem to take {100 * middle:.0f} % of what they can, in the middle"
    )
    return Observed(min(abs(middle - 1), 2 * max(least, 0.0)), 0.0, words)


def _exchanged(site: Site, loop: str) -> Observed:
    other, gain = heat.exchanged(site, loop)
    words = "no other loop's floor fits its water better"
    if gain > 0:
        words = f"its water fits the floor of {other}, and that of {other} its own"
    return Observed(gain, 0.0, words)


def _fluid_other(site: Site, header: str) -> Observed:
    values = site.job.readings.of(f"headers.{header}", "glycol")
    loops = _loops_of(site, header)
    if not values or not loops:
        return NOT_READ
    read, stated = float(np.mean([*values.values()])), site.model(loops[0]).fluid_fraction
    stated = 0.0 if np.isnan(stated) else stated
    words = f"{100 * read:.0f} % read, {100 * stated:.0f} % on paper"
    return Observed(abs(read - stated), 0.0, words)


def _flow_nil(site: Site, loop: str) -> Observed:
    return _flow_short(site, loop)._replace(deviation=0.0)


def _loops_of(site: Site, header: str) -> list[str]:
    loops = site.sheet.ids("loops")
    return [loop for loop in loops if site.sheet.text("loops", loop, "header") == header]


def _stated(subject: str, name: str, unit: str, scale: float, sign: float = 1.0) -> _Sign:
    def observed(site: Site, of: str) -> Observed:
        value = site.sheet.value(subject, name, of)
        return Observed(sign * value, 0.0, f"{site.speech.measure(value / scale, unit)} is stated")

    return observed


def _pump_surplus(site: Site, header: str) -> Observed:
    surplus = site.sheet.value("header", "pump_head", header) - site.sheet.value(
        "header", "pressure_drop", header
    )
    return Observed(
        surplus, 0.0, f"{site.speech.measure(surplus / 1e3, 'kPa')} to spare at the header's flow"
    )


def _litres(site: Site, flow: float) -> str:
    return site.speech.measure(flow * 6e4, "l/min")


def _supply_above_curve(site: Site, loop: str) -> Observed:
    return _negative(_supply_low)(site, loop)


_Sign = Callable[[Site, str], Observed]

SIGNS: dict[str, _Sign] = {
    "flow-short": _flow_short,
    "flow-surplus": _negative(_flow_short),
    "flow-short-alone": _flow_short_alone,
    "header-short": _header_short,
    "speed-read": _speed_read,
    "supply-low": _supply_low,
    "supply-high": _supply_high,
    "supply-above-curve": _supply_above_curve,
    "return-warm": _return_warm,
    "return-cold": _negative(_return_warm),
    "covering-more": _covering_more,
    "drop-large": _drop_large,
    "surface-hot": _surface_hot,
    "surface-cold": _negative(_surface_hot),
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
    "screed-thick": _stated("floor", "screed.cover", "mm", 1e-3),
    "screed-thin": _stated("floor", "screed.cover", "mm", 1e-3, -1.0),
    "spacing-wide": _stated("loop", "spacing", "mm", 1e-3),
    "insulation-thin": _stated("floor", "insulation", "m²·K/W", 1.0, -1.0),
    "pump-surplus": _pump_surplus,
}
"""Each sign of `rules/complaints.yaml`, and how it is seen; value in SI."""

_WATERS = ("flow", "supply", "return")
NEEDED: dict[str, tuple[str, ...]] = {
    "flow-short": ("flow",),
    "flow-surplus": ("flow",),
    "flow-short-alone": ("flow",),
    "header-short": ("flow",),
    "speed-read": ("flow",),
    "supply-low": ("supply", "outside"),
    "supply-high": ("supply",),
    "supply-above-curve": ("supply", "outside"),
    "return-warm": _WATERS,
    "return-cold": _WATERS,
    "covering-more": _WATERS,
    "drop-large": ("supply", "return"),
    "surface-hot": ("flow", "supply", "surface"),
    "surface-cold": ("flow", "supply", "surface"),
    "surface-over": ("surface_max",),
    "surface-striped": ("surface", "surface_max"),
    "length-more": ("flow", "pressure_drop"),
    "room-warm": ("temperature",),
    "leak-shown": ("pressure", "temperature"),
    "header-tight": ("pressure", "temperature"),
    "room-as-set": ("temperature",),
    "house-loses": ("temperature",),
    "floor-cold": _WATERS,
    "all-apart": _WATERS,
    "exchanged": _WATERS,
    "fluid-other": ("glycol",),
    "flow-nil": ("flow",),
}
"""What must be read on one visit for a sign to be seen; signs of papers need nothing."""
INFERRED = {"covering-more": inference.COVERING, "length-more": inference.LENGTH}
_IN_WORDS = {
    "outside": "the outside temperature",
    "surface_max": "the warmest spot of the surface",
    "pressure_drop": "the pressure loss",
    "temperature": "the room's air",
    "pressure": "the gauge and the water's temperature, twice",
    "glycol": "the glycol",
}


class Untold(NamedTuple):
    """Why a sign cannot be seen.

    unread: what was not read, in words, where some of it or all is lacking; partly: whether the
    rest was read. again: whether reading it once more helps. because: why what was read says
    nothing; empty with nothing unread means that a figure of the papers is missing.
    """

    unread: tuple[str, ...] = ()
    partly: bool = False
    because: str = ""
    again: bool = False


def untold(site: Site, name: str, subject: str, ids: list[str]) -> Untold:
    """Why the sign is not seen at any of these subjects: the one that is nearest to being seen."""
    found = [_untold(site, name, subject, of) for of in ids]
    return min(found, key=lambda one: (len(one.unread), not one.because, not one.again))


def _untold(site: Site, name: str, subject: str, of: str) -> Untold:
    needed = NEEDED.get(name, ())
    lacking = _unread(site, name, subject, of)
    if lacking:
        words = tuple(_IN_WORDS.get(one, one) for one in lacking)
        return Untold(words, partly=len(lacking) < len(needed))
    if name in ("leak-shown", "header-tight"):
        return Untold(because=site.leak(of).because)
    if name in INFERRED:
        one = site.inferred(of, INFERRED[name])
        return Untold(because=site.speech.words(one.because), again=one.again)
    return Untold()


def _unread(site: Site, name: str, subject: str, of: str) -> list[str]:
    needed, taken = NEEDED.get(name, ()), site.job.readings
    if name in ("leak-shown", "header-tight"):
        return [*site.leak(of).unread]
    if name == "all-apart":
        seen = [one for one in _loops_of(site, of) if not np.isnan(heat.floor(site, one).value)]
        return [] if len(seen) > MANY else [*needed]
    if name in _BY_FLOW:
        header = of if subject == "header" else site.sheet.text("loops", of, "header")
        own = [of] if subject == "loop" else site.sheet.ids("loops")
        if name in ("flow-short-alone", "header-short"):
            own = [
                loop
                for loop in site.sheet.ids("loops")
                if site.sheet.text("loops", loop, "header") == header
            ]
        known = [loop for loop in own if not np.isnan(site.flow_read(loop)[0])]
        if name == "flow-short-alone" and of not in known:
            known = []
        return [] if len(known) >= (1 if own == [of] else MANY) else [*needed]
    if name == "length-more" and taken.of(f"loops.{of}", "content"):
        return []
    columns = {
        one: taken.outside if one == "outside" else taken.of(f"{subject}s.{of}", one)
        for one in needed
    }
    lacking = [[one for one in needed if day not in columns[one]] for day in taken.visits]
    return min(lacking, key=len, default=[*needed])


_BY_FLOW = (
    "flow-nil",
    "flow-short",
    "flow-surplus",
    "flow-short-alone",
    "header-short",
    "speed-read",
)

ON_PAPER = frozenset(
    (
        "flow-nil",
        "flow-short",
        "flow-surplus",
        "flow-short-alone",
        "header-short",
        "speed-read",
        "screed-thick",
        "screed-thin",
        "spacing-wide",
        "insulation-thin",
        "pump-surplus",
    )
)
"""Signs that a design and its recorded balance show without a visit."""
