"""A job's readings compared with the model of its design."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from checker.arrays import Array
from checker.audit import inference, pressure
from checker.audit.inference import Errors, Inferred, LoopReadings
from checker.audit.jobs import Job
from checker.audit.loop_models import LoopModel, PartsModel
from checker.audit.papers import JudgedDesign
from checker.compute.meanings import meaning
from checker.design.schema import design_format
from checker.physics import floor, friction

NAN = float("nan")


class ModelResiduals(NamedTuple):
    """A loop's readings minus the model's values for them, shape (visits,)."""

    returned: Array
    return_deviation: Array
    surface: Array
    surface_deviation: Array


class Site:
    """A job's readings, and the model of what is on paper."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.paper = job.current
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
        self._waters: dict[str, ModelResiduals] = {}
        self._leaks: dict[str, pressure.Leak] = {}
        self.speech = self.paper.report.speech
        """The units and decimal mark in which the audit shows values."""

    def model(self, loop: str) -> LoopModel:
        """Give the model of a loop as it is on paper, made once.

        Args:
            loop: its id.

        Returns:
            The model; NaN in it where a datum is missing.
        """
        if loop not in self._models:
            self._models[loop] = model_of(self.paper, loop)
        return self._models[loop]

    def readings(self, loop: str) -> LoopReadings:
        """Give the readings of a loop.

        Supply is that of the loop, else of its header; the air is that of its room, of several
        rooms their mean by what each gets of the loop's heat.

        Args:
            loop: its id.

        Returns:
            SI, temperatures in °C, shape (visits,) each.
        """
        taken, subject = self.job.readings, f"loops.{loop}"

        def column(of: str, name: str) -> Array:
            values = taken.of(of, name)
            return np.array([values.get(day, NAN) for day in taken.visits], dtype=np.float64)

        # The air of a loop in several rooms is their mean, by what each gets of its heat.
        rooms, model = self.paper.named(loop, "room"), self.model(loop)
        if len(rooms) == 1:
            air = column(f"rooms.{rooms[0]}", "temperature")
        else:
            shares = [model.share_of(room) for room in rooms]
            each = [column(f"rooms.{room}", "temperature") for room in rooms]
            none = np.full(len(taken.visits), NAN if not rooms else 0.0)
            air = sum((s * own for s, own in zip(shares, each, strict=True)), start=none)
        supply = column(subject, "supply")
        # One water serves a header, so that read there is each loop's where none was read at it.
        of_header = column(f"headers.{self.paper.text('loops', loop, 'header')}", "supply")
        return LoopReadings(
            flow=column(subject, "flow"),
            supply=np.where(np.isnan(supply), of_header, supply),
            back=column(subject, "return"),
            room=air,
            surface=column(subject, "surface"),
            pressure_drop=column(subject, "pressure_drop"),
            content=column(subject, "content"),
        )

    def asked(self, room: str, side: float) -> float:
        """Give the temperature that a room should have: that of the design, or of its thermostat.

        Args:
            room: its id.
            side: 1 where the complaint is that it is cold, so that a thermostat set lower counts;
                -1 where it is warm, so that one set higher counts.

        Returns:
            °C; NaN where neither is known.
        """
        designed = self.paper.value("room", "temperature", room)
        values = [*self.job.readings.of(f"rooms.{room}", "set").values()]
        if not values:
            return designed
        read = float(np.mean(values))
        return min(designed, read) if side > 0 else max(designed, read)

    def inferred(self, loop: str, what: str) -> Inferred:
        """Give what the readings say about a property of a loop, worked out once.

        Args:
            loop: its id.
            what: `inference.COVERING` or `inference.LENGTH`.

        Returns:
            The value that fits the readings, with its range; without one, the reason.
        """
        key = (loop, what)
        if key not in self._inferred:
            infer = inference.covering if what == inference.COVERING else inference.length
            self._inferred[key] = self._infer(loop, infer)
        return self._inferred[key]

    def _infer(self, loop: str, infer: Callable[..., Inferred]) -> Inferred:
        """What the readings say about a property, or why they cannot."""
        if infer is inference.covering and self.paper.parts(loop):
            because = "it has several parts, which readings at its ends cannot tell apart"
            return Inferred(inference.COVERING, "m²·K/W", NAN, because=because)
        found: Inferred = infer(self.model(loop), self.readings(loop), self.errors)
        tested = design_format().code("floors", "construction", "tested")
        declared = self.paper.value("loop", "floor.construction", loop) == tested
        if declared and found.name == inference.COVERING:
            because = "its floor's heat coefficient is declared with the covering in it"
            return Inferred(found.name, found.unit, found.stated, because=because)
        return found

    def flow_read(self, loop: str) -> tuple[float, str]:
        """Give the flow of a loop on site.

        Args:
            loop: its id.

        Returns:
            m³/s, the mean over the visits, else that of the recorded balance, NaN where neither is
            known; and in words where it was read.
        """
        flows = self.readings(loop).flow
        if not np.isnan(flows).all():
            return float(np.nanmean(flows)), "on site"
        recorded = self.paper.value("loop", "balance.flow", loop)
        return recorded, "when it was balanced"

    def waters(self, loop: str) -> ModelResiduals:
        """Compare a loop's return and surface with those of the model, worked out once.

        Args:
            loop: its id.

        Returns:
            Measured minus computed, K, with their standard deviations.
        """
        if loop not in self._waters:
            self._waters[loop] = self._compare(loop)
        return self._waters[loop]

    def _compare(self, loop: str) -> ModelResiduals:
        """The readings of a loop minus the model's values."""
        model, read = self.model(loop), self.readings(loop)
        room = np.where(np.isnan(read.room), model.room_temperature, read.room)
        covering = np.full(len(read.flow), model.covering_resistance)

        def returns(flow: Array, supply: Array, air: Array) -> Array:
            return model.return_at(flow, supply, air, covering)

        def surfaces(flow: Array, supply: Array, air: Array) -> Array:
            return model.surface_at(flow, supply, air, covering)

        at = (read.flow, read.supply, room, self.errors)
        return ModelResiduals(
            read.back - returns(*at[:3]),
            inference.spread(returns, *at, self.errors.temperature),
            read.surface - surfaces(*at[:3]),
            inference.spread(surfaces, *at, self.errors.surface),
        )

    def leak(self, header: str) -> pressure.Leak:
        """Give what a header's gauge says about a leak, worked out once.

        Args:
            header: its id.

        Returns:
            The leak, as `pressure.leak` gives it.
        """
        if header not in self._leaks:
            self._leaks[header] = pressure.leak(self.paper, self.job.readings, header)
        return self._leaks[header]

    def needed_supply(self, loop: str) -> Array:
        """Give the supply that a loop needs in the weather of each visit.

        Args:
            loop: its id.

        Returns:
            °C, shape (visits,), of a loop in parts the highest; NaN where the air outside was not
            read, or a datum is missing.
        """
        parts = [f"{loop}.parts[{n}]" for n, _ in enumerate(self.paper.parts(loop), 1)] or [loop]
        return np.asarray(np.max([self._needed_supply(part) for part in parts], axis=0))

    def _needed_supply(self, part: str) -> Array:
        """The supply, °C, that one part needs in the weather of each visit."""

        def value(name: str) -> float:
            return self.paper.value("part", name, part)

        room = value("room.temperature")
        share = self._load_share(room)
        return floor.needed_supply(
            room,
            self.paper.value("design", "plant.drop") * share,
            value("heat_coefficient"),
            value("load_flux") * share,
        )

    def _load_share(self, room: float) -> Array:
        """Share of the design load that the weather of each visit needs.

        In proportion to the difference between room and outside; common practice, no source.

        Args:
            room: °C.

        Returns:
            Shape (visits,), NaN where it is not known.
        """
        taken = self.job.readings
        outside = np.array([taken.outside.get(day, NAN) for day in taken.visits])
        coldest = self.paper.value("design", "plant.outside")
        return np.clip((room - outside) / (room - coldest), 0.0, 1.3)


def model_of(paper: JudgedDesign, loop: str) -> LoopModel:
    """Make the model of a loop as a design states it.

    Args:
        paper: the design.
        loop: its id.

    Returns:
        The model; of a loop in parts one with their means and sums.
    """
    whole = _model(paper, loop, "")
    count = len(paper.parts(loop))
    if not count:
        return whole
    names = [f"{loop}.parts[{number}]" for number in range(1, count + 1)]
    parts = tuple(_model(paper, loop, name) for name in names)
    rooms = tuple(
        str(part.get("room", paper.text("loops", loop, "room"))) for part in paper.parts(loop)
    )
    area = sum(part.area for part in parts)
    own = {name: getattr(whole, name) for name in LoopModel.__struct_fields__}
    for name in _OF_PARTS:
        own[name] = sum(part.area * getattr(part, name) for part in parts) / area
    own |= {"area": area, "covering_resistance": 0.0}
    own["below_is_room"] = all(part.below_is_room for part in parts)
    return PartsModel(**own, parts=parts, rooms=rooms)


_OF_PARTS = (
    "spacing",
    "cover",
    "conductivity",
    "downward_resistance",
    "below_temperature",
    "room_temperature",
)
"""What parts of a loop may differ in, besides their areas and coverings."""


def _model(paper: JudgedDesign, loop: str, part: str) -> LoopModel:
    """The loop as this design states it; part: the one whose values count where it has them."""

    def value(name: str) -> float:
        own = part and meaning("part", name) is not None
        return paper.value("part", name, part) if own else paper.value("loop", name, loop)

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
        fluid_kind=paper.value("design", "plant.fluid.kind"),
        fluid_fraction=value("fluid_fraction"),
        below_is_room=value("floor.below") == heated
        and bool(np.isnan(value("floor.below_temperature"))),
    )
