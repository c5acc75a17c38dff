"""Fits all readings of a job at once: which causes, single or two together, explain them.

For every loop at every visit these pairs are compared: its flow and the flow computed, its supply
and what the weather needs, its return and surface and what the model gives, the heat its room gets
and the heat it loses, how cold the room is, its length; and the glycol. An explanation says what
differs from the papers, by how much, and what all loops have in common (the thermometer, the scale,
the fluid, the supply, the pump). The differences that remain are the residuals. Their covariance
separates errors common to all readings (an instrument, the model itself) from those of a single
one: a return that is off by as much as its neighbours' speaks for no cause of one loop.

How probable an explanation makes the readings is averaged over the sizes that it may have (a
marginal likelihood), so an explanation with more freedom is not preferred for that alone. SI;
arrays have the shape (explanations, visits, loops) unless stated otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from checker.arrays import Array, Mask
from checker.audit import deviations, explanations, heat, inference
from checker.audit.explanations import Explanations
from checker.audit.fits import LEAST, Fit, Residual
from checker.audit.loop_models import LoopModel
from checker.physics import floor, floor_surface, fluid

if TYPE_CHECKING:
    from checker.audit.on_site import Site

NAN = float("nan")


COLD = 0.7
"""A room counts as cold from this many K below its design temperature; our convention."""


MISREADS = 1.0
"""From this many K on it counts as misreading; our convention."""
NIL = 0.04
"""A loop with less than this share of its flow counts as having none."""


class _Kind(Struct, frozen=True):
    """A kind of residual: its name, and the unit that it is reported in."""

    name: str
    unit: str


HEADER_SUPPLY, HEADER_RETURN = "supply beside its loops'", "return beside its loops'"
_KINDS = (
    _Kind("flow", "%"),
    _Kind("supply", "K"),
    _Kind("return", "K"),
    _Kind("heat of its room", "%"),
    _Kind("surface", "K"),
    _Kind("temperature", "K"),
    _Kind("length", "%"),
    _Kind("glycol", "%"),
    _Kind("thermostat", "K"),
    _Kind(HEADER_SUPPLY, "K"),
    _Kind(HEADER_RETURN, "K"),
)


class _Read(Struct, frozen=True):
    """Readings of all loops, shape (visits, loops)."""

    flow: Array
    supply: Array
    back: Array
    room: Array
    surface: Array


def fit(site: Site, about: list[str], causes: dict[str, str], side: float) -> Fit:
    """Fit the readings of all loops on the headers of these loops.

    Args:
        site: the job's readings and model.
        about: the loops that the complaint is about.
        causes: the causes under this complaint, each with how common it is, or `elsewhere` for
            those of other complaints only.
        side: 1 where the complaint is that rooms are cold, -1 that they are warm, else 0.

    Returns:
        The fit; an empty one where too little was read.
    """
    headers = {site.paper.text("loops", one, "header") for one in about}
    loops = [n for n in site.paper.ids("loops") if site.paper.text("loops", n, "header") in headers]
    if not about or not site.job.readings.visits:
        return Fit()
    house = _House(site, loops, {loops.index(one) for one in about}, side)
    return house.judged(causes)


class _House:
    """The house of the loops that are fitted together."""

    def __init__(self, site: Site, loops: list[str], about: set[int], side: float) -> None:
        self.site, self.loops, self.about, self.side = site, loops, sorted(about), side
        paper = site.paper
        own = [site.readings(loop) for loop in loops]
        named = [paper.named(loop, "room") for loop in loops]

        def column(name: str) -> Array:
            return np.stack([getattr(one, name) for one in own], axis=1)

        self.read = _Read(*(column(name) for name in _Read.__struct_fields__))
        self.several = int(np.count_nonzero(np.isfinite(self.read.back).any(axis=0))) > 1
        self.models = [site.model(loop) for loop in loops]

        def of(name: str) -> Array:
            return np.array([paper.value("loop", name, loop) for loop in loops])

        self.computed = of("flow")
        self.designed = np.array([model.room_temperature for model in self.models])
        rooms_of = [own[0] if len(own) == 1 else "" for own in named]
        self.asked = np.array(
            [self._asked(model, own) for model, own in zip(self.models, named, strict=True)]
        )
        self.asked = np.where(np.isnan(self.asked), self.designed, self.asked)
        self.header = [paper.text("loops", loop, "header") for loop in loops]
        self.at_header = {name: self._at_header(name) for name in ("supply", "return")}
        self.needed = np.stack([site.needed_supply(loop) for loop in loops], axis=1)
        # One water serves a header: it is set for the room that asks for the warmest.
        with np.errstate(invalid="ignore"):
            self.neediest = np.fmax.reduce(self.needed, axis=1, keepdims=True)
        outside = site.job.readings.outside
        visits = site.job.readings.visits
        self.outside = np.array([outside.get(on, NAN) for on in visits])[:, np.newaxis]
        coldest = paper.value("design", "plant.outside")
        loads = np.array([paper.value("room", "heat_load", room) for room in rooms_of])
        # Of what each loop (row) gives, the share that the room of each other (column) gets.
        self.shares = np.array(
            [
                [model.share_of(room) if room in own else 0.0 for room in rooms_of]
                for model, own in zip(self.models, named, strict=True)
            ]
        )
        self.loss = loads / (self.designed - coldest)
        lengths = [site.inferred(loop, inference.LENGTH) for loop in loops]
        self.length = np.array([np.log(one.value / one.stated) for one in lengths])
        self.length_off = np.array([one.deviation / one.value for one in lengths])
        glycol = [
            site.job.readings.of(f"headers.{paper.text('loops', loop, 'header')}", "glycol")
            for loop in loops
        ]
        self.glycol = np.array([[one.get(on, NAN) for one in glycol] for on in visits])
        stated = np.array([model.fluid_fraction for model in self.models])
        self.fraction = np.where(np.isnan(stated), 0.0, stated)
        self.room = np.where(np.isnan(self.read.room), self.designed, self.read.room)
        shown = [site.job.readings.of(f"rooms.{room}", "shown") for room in rooms_of]
        self.misread = np.array([[one.get(on, NAN) for one in shown] for on in visits])
        self.misread = self.misread - self.read.room
        apart = np.nan_to_num(side * self.misread)
        # To the side that the complaint is on, at every visit.
        to_side = np.min(apart, axis=0) >= 0
        self.misreads = np.asarray(to_side & (np.max(apart, axis=0) > MISREADS))

    def _asked(self, model: LoopModel, rooms: list[str]) -> float:
        """What is asked of a loop's rooms, °C, each by what it gets; NaN where no side is asked."""
        if not self.side or not rooms:
            return NAN
        return sum(model.share_of(room) * self.site.asked(room, self.side) for room in rooms)

    def _at_header(self, name: str) -> Array:
        """What was read at the headers, in the column of each header's first loop; shape (visits,
        loops).
        """
        visits = self.site.job.readings.visits
        found = np.full((len(visits), len(self.loops)), NAN)
        for header in dict.fromkeys(self.header):
            values = self.site.job.readings.of(f"headers.{header}", name)
            found[:, self.header.index(header)] = [values.get(on, NAN) for on in visits]
        return found

    def _of_headers(self, mixed: Callable[..., Array], *waters: Array) -> Array:
        """The mixed water of each header's loops, in the column of its first loop.

        waters: of shape (…, visits, loops), as `mixed` takes them.
        """
        found = np.full_like(waters[0], NAN)
        for header in dict.fromkeys(self.header):
            own = [at for at, one in enumerate(self.header) if one == header]
            found[..., own[0]] = mixed(*(water[..., own] for water in waters))
        return found

    def beyond(self, at: int) -> bool:
        """Whether, on paper, this loop's room needs more heat than its floor can give."""
        room = f"rooms.{self.site.paper.text('loops', self.loops[at], 'room')}"
        results = self.site.paper.results
        return any(
            r.rule == "room-heat" and r.subject == room and r.kind == "fail" for r in results
        )

    def on_paper(self, rule: str) -> bool:
        """Whether the design itself breaks this rule."""
        return any(r.rule == rule and r.kind == "fail" for r in self.site.paper.results)

    def judged(self, causes: dict[str, str]) -> Fit:
        """Fit: weigh all explanations by the residuals that they leave."""
        nothing = explanations.none(1, len(self.loops))
        sound = self.residuals(nothing, self.read)[0]
        known = np.isfinite(sound)
        if np.count_nonzero(known) < LEAST:
            return Fit()
        tried = explanations.tried(self, causes)
        left = self.residuals(tried, self.read)[:, known]
        covariance = self.covariance(nothing, sound, known)
        whitened = np.linalg.solve(np.linalg.cholesky(covariance), np.nan_to_num(left.T, nan=1e3))
        likely = -np.sum(whitened**2, axis=0) / 2 + tried.prior
        odds = {}
        moved = np.abs(left - sound[known]) > 1e-9
        for cause in tried.causes:
            has = tried.has[cause]
            nothing_moves = cause != explanations.NOTHING and not moved[has].any()
            if not has.any() or has.all() or nothing_moves:
                continue
            odds[cause] = round(_log_sum(likely[has]) - _log_sum(likely[~has]), 3)
        best = int(np.argmax(likely))
        named = tuple(cause for cause in tried.causes if tried.has[cause][best])
        off = np.sqrt(np.diag(covariance))
        return Fit(odds, named, tuple(self._residuals(left[best], off, known)), int(known.sum()))

    def _residuals(self, left: Array, off: Array, known: Mask) -> Iterator[Residual]:
        """The residuals that are known, for reports."""
        shape = (len(_KINDS), len(self.outside), len(self.loops))
        places = np.argwhere(known.reshape(shape))
        for value, deviation, (kind, visit, loop) in zip(left, off, places, strict=True):
            unit = _KINDS[kind].unit
            shown = float(value) * (100 if unit == "%" else 1)
            share = round(float(value / deviation), 2)
            subject = f"loops.{self.loops[loop]}"
            if _KINDS[kind].name in (HEADER_SUPPLY, HEADER_RETURN):
                subject = f"headers.{self.header[loop]}"
            yield Residual(subject, _KINDS[kind].name, int(visit), round(shown, 3), unit, share)

    def covariance(self, nothing: Explanations, at: Array, known: Mask) -> Array:
        """The covariance of the residuals from errors of instruments and model; shape (known,
        known).
        """
        read, errors = self.read, self.site.errors
        visits, count = read.flow.shape
        place = np.tile(np.arange(visits * count), len(_KINDS))[known]
        loop = place % count
        here = place[:, None] == place[None, :]
        moved = {
            "flow": (replace(read, flow=read.flow * 1.01), errors.flow / 0.01),
            "supply": (replace(read, supply=read.supply + 0.1), errors.temperature / 0.1),
            "back": (replace(read, back=read.back + 0.1), errors.temperature / 0.1),
            "room": (replace(read, room=read.room + 0.1), errors.temperature / 0.1),
            "surface": (replace(read, surface=read.surface + 0.1), errors.surface / 0.1),
        }
        size = int(known.sum())
        found = np.zeros((size, size))
        for other, scale in moved.values():
            by = (np.nan_to_num(self.residuals(nothing, other)[0] - at)[known]) * scale
            both = np.outer(by, by)
            found += deviations.SHARED * both + (1 - deviations.SHARED) * both * here
        same_loop = loop[:, None] == loop[None, :]
        for name, step, alike_by, own_by in (
            ("covering", 0.005, deviations.MODEL_ALIKE, deviations.MODEL_OWN),
            ("heat", 0.02, 0.0, deviations.STEADY),
        ):
            changed = replace(nothing, **{name: getattr(nothing, name) + step})
            by = np.nan_to_num(self.residuals(changed, read)[0] - at)[known] / step
            both = np.outer(by, by)
            found += alike_by**2 * both + own_by**2 * both * same_loop
        kind = np.repeat(np.arange(len(_KINDS)), visits * count)[known]
        warm = np.nan_to_num(self.asked - self.room) < COLD
        length_off = np.broadcast_to(
            np.nan_to_num(np.hypot(self.length_off, 0.08), nan=1.0), (visits, count)
        )
        heat_off = np.where(warm, deviations.NOT_COLD, deviations.LOSES)
        # The header's own thermometer, and how well the loops' waters mix.
        beside = float(np.hypot(errors.temperature, deviations.MIXES))
        own = [
            deviations.BALANCED,
            0.3,
            0.2,
            heat_off,
            deviations.SURFACE,
            deviations.MENDED,
            length_off,
            deviations.GLYCOL,
        ]
        own += [deviations.DISPLAY, beside, beside]
        alike_all = [deviations.PUMPED, deviations.CURVE, 0.0, deviations.BALANCE]
        spread = np.concatenate(
            [np.broadcast_to(np.asarray(one, float), (visits, count)).ravel() for one in own]
        )[known]
        # What a valve, a load or a length is off, it is off at every visit.
        same = (kind[:, None] == kind[None, :]) & (loop[:, None] == loop[None, :])
        found += np.outer(spread, spread) * (0.8 * same + 0.2 * np.eye(size))
        for number, one in enumerate(alike_all):
            found += one**2 * np.outer(kind == number, kind == number)
        return found + 1e-9 * np.eye(size)

    def residuals(self, tried: Explanations, read: _Read) -> Array:
        """The residuals of each explanation; shape (explanations, kinds × visits × loops)."""
        order = tried.order[:, np.newaxis, :]

        def own(values: Array) -> Array:
            every = np.broadcast_to(values, (len(order), *values.shape))
            return np.take_along_axis(every, order, 2)

        one = (slice(None), np.newaxis, np.newaxis)
        each = (slice(None), np.newaxis, slice(None))
        flow = own(read.flow) / tried.scale[one]
        supply = own(read.supply) - tried.supply_off[one]
        back = own(read.back) - tried.back_off[one]
        with np.errstate(invalid="ignore", divide="ignore"):
            share = read.flow / tried.scale[one] / self.computed
            by_flow = np.log(np.maximum(share, NIL)) - tried.short[each] - tried.pump[one]
        by_supply = supply - self.neediest - tried.curve[one]
        returned, up, by_surface = self._waters(tried, flow, supply, back, read)
        nil = own(read.flow) / tried.scale[one] < NIL * self.computed
        by_return = np.where(nil, NAN, returned)
        room = np.where(np.isnan(read.room), self.designed, read.room)
        lost = self.loss * np.where(np.isnan(read.room), NAN, room - self.outside)
        together = up @ self.shares
        with np.errstate(invalid="ignore", divide="ignore"):
            by_heat = np.log(np.where(nil | (together <= 0) | (lost <= 0), NAN, together / lost))
        by_heat = by_heat - tried.loss[each] - tried.heat[each]
        cold = self._cold(tried, flow, supply, room) if self.side else np.full_like(flow, NAN)
        cold = np.where(np.isnan(read.room), NAN, cold)
        length = np.broadcast_to(self.length - tried.length[each], flow.shape).copy()
        length[:, 1:] = NAN
        fraction = np.where(np.isnan(tried.glycol[:, None]), self.fraction, tried.glycol[:, None])
        by_glycol = np.broadcast_to(self.glycol - fraction[:, None, :], flow.shape)
        shown = np.broadcast_to(self.misread, flow.shape) - (read.room - self.read.room)
        by_thermostat = np.where(tried.misreads[each], 0.0, shown)
        by_thermostat = np.where(np.isnan(shown), NAN, by_thermostat)
        off = tried.supply_off[one], tried.back_off[one]
        beside = (
            self._of_headers(heat.common_supply, read.supply) - self.at_header["supply"] - off[0],
            self._of_headers(heat.mixed_return, read.flow, read.back)
            - self.at_header["return"]
            - off[1],
        )
        kinds = (
            by_flow,
            by_supply,
            by_return,
            by_heat,
            by_surface,
            cold,
            length,
            by_glycol,
            by_thermostat,
            *beside,
        )
        return np.stack(kinds, axis=1).reshape(len(tried.prior), -1)

    def _waters(
        self, tried: Explanations, flow: Array, supply: Array, back: Array, read: _Read
    ) -> tuple[Array, Array, Array]:
        """Measured minus computed return and surface, K, and the heat given upwards, W."""
        returned, up, surface = (np.full_like(flow, NAN) for _ in range(3))
        room = np.where(np.isnan(read.room), self.designed, read.room)
        for at, stated in enumerate(self.models):
            glycol = tried.glycol[:, np.newaxis]
            model = stated
            if np.isfinite(glycol).any():
                # Where it is not other than on paper it stays as it is.
                model = explanations.with_fluid(stated, glycol)
            thin = tried.thin[:, np.newaxis]
            if (thin != 1).any():
                model = replace(model, downward_resistance=stated.downward_resistance * thin)
            covering = stated.covering_resistance + tried.covering[:, at, np.newaxis]
            water = (flow[:, :, at], supply[:, :, at], room[:, at])
            with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
                drop = water[1] - model.return_at(*water, covering)
                more = np.exp(tried.heat[:, at, np.newaxis])
                returned[:, :, at] = back[:, :, at] - water[1] + drop * more
                mean = (water[1] + back[:, :, at]) / 2
                kinds = (model.fluid_kind, model.fluid_fraction, mean)
                carried = water[0] * fluid.density(*kinds) * fluid.specific_heat(*kinds)
                flux = model.coefficient(covering) * floor.excess(
                    water[1], water[1] - drop, room[:, at]
                )
                upwards = flux * model.area / (carried * drop)
                up[:, :, at] = carried * (water[1] - back[:, :, at]) * np.minimum(upwards, 1.0)
                surface[:, :, at] = read.surface[:, at] - floor_surface.surface_mean(
                    room[:, at], flux
                )
        return returned, np.nan_to_num(up), surface

    def _cold(self, tried: Explanations, flow: Array, supply: Array, room: Array) -> Array:
        """How far a room stays below its temperature once the explained causes are mended, K.

        Starts from the room as it was read, and adds the change of the model's own balance of floor
        and losses, both of which are proportional to a temperature difference.
        """
        found = np.full_like(flow, NAN)
        for at in self.about:
            model = self.models[at]
            covering = model.covering_resistance + tried.covering[:, at, np.newaxis]
            short = (tried.short[:, at] < 0) | (tried.pump < 0)
            water, warm = flow[:, :, at], supply[:, :, at]
            mended = np.where(short[:, np.newaxis], np.maximum(self.computed[at], water), water)
            warmer = warm - np.minimum(tried.curve, 0.0)[:, np.newaxis]
            lost = self.loss[at] * np.exp(tried.loss[:, at, np.newaxis])

            now = self._settles(at, room, water, warm, covering, lost)
            stated = np.full_like(covering, model.covering_resistance)
            then = self._settles(at, room, mended, warmer, stated, self.loss[at])
            mends = np.maximum(then - now, 0.0) if self.side > 0 else 0.0
            still = self.side * (self.asked[at] - room[:, at]) - mends
            still = np.where(tried.explains[:, at, np.newaxis], 0.0, still)
            found[:, :, at] = np.maximum(np.nan_to_num(still, nan=0.0) - COLD / 2, 0.0)
        return found

    def _settles(
        self,
        at: int,
        room: Array,
        flow: Array,
        supply: Array,
        covering: Array,
        lost: Array | float,
    ) -> Array:
        """The temperature, °C, at which a room gets as much heat as it loses; lost: W/K."""
        model = self.models[at]
        flow = np.maximum(flow, NIL * self.computed[at])
        with np.errstate(invalid="ignore", divide="ignore"):
            up = model.output_at(flow, supply, room[:, at], covering) * model.area
            up = up / np.maximum(supply - room[:, at], 0.5)
            return np.asarray((up * supply + lost * self.outside[:, 0]) / (up + lost))


def _log_sum(values: Array) -> float:
    most = float(np.max(values))
    return most + float(np.log(np.sum(np.exp(values - most))))
