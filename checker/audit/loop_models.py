"""A loop as it is on paper, as a function of the water that it gets.

Pure functions on arrays: SI, temperatures in °C, one element per reading.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from checker.arrays import Array
from checker.physics import balance, floor, floor_coefficient, floor_surface, fluid, friction


class LoopModel(Struct, frozen=True):
    """One loop as it is on paper. SI, temperatures in °C; NaN where a datum is missing.

    Attributes:
        area: of the heated floor, m².
        length: of the pipe, feeds included, m.
        bore: m.
        roughness: of the pipe, m.
        spacing: m.
        cover: of screed over the pipe, m.
        conductivity: of the screed, W/(m·K).
        covering_resistance: m²·K/W.
        pipe_outside: diameter, m.
        pipe_wall: m.
        pipe_conductivity: W/(m·K).
        downward_resistance: from the pipes to what is below, m²·K/W.
        below_temperature: °C.
        room_temperature: as designed, °C.
        fluid_kind: its number among the options of `plant.fluid.kind`.
        fluid_fraction: of glycol by mass.
        below_is_room: whether what is below has the temperature of the room above.
    """

    area: float
    length: float
    bore: float
    roughness: float
    spacing: float
    cover: float
    conductivity: float
    covering_resistance: float
    pipe_outside: float
    pipe_wall: float
    pipe_conductivity: float
    downward_resistance: float
    below_temperature: float
    room_temperature: float
    fluid_kind: float
    fluid_fraction: float
    below_is_room: bool

    def output_at(self, flow: Array, supply: Array, room: Array, covering: Array | float) -> Array:
        """Give the heat flux upwards with some water.

        Args:
            flow: m³/s, shape (visits,), as the others.
            supply: °C.
            room: °C.
            covering: resistance, m²·K/W; broadcasts.

        Returns:
            W/m², in the shape of the readings.
        """
        back = self.return_at(flow, supply, room, covering)
        return self.coefficient(covering) * floor.excess(supply, back, room)

    def coefficient(self, covering: Array | float) -> Array:
        """Give the heat coefficient with a covering.

        Args:
            covering: its resistance, m²·K/W.

        Returns:
            W/(m²·K), in the shape of `covering`; NaN where a datum is missing, or beyond the tables
            of EN 1264-2.
        """
        return floor_coefficient.heat_coefficient(
            self.spacing,
            self.cover,
            self.conductivity,
            covering,
            self.pipe_outside,
            self.pipe_wall,
            self.pipe_conductivity,
        )

    def return_at(self, flow: Array, supply: Array, room: Array, covering: Array | float) -> Array:
        """Give the return temperature with some water.

        Args:
            flow: m³/s, shape (visits,), as the others.
            supply: °C.
            room: °C.
            covering: resistance, m²·K/W; broadcasts.

        Returns:
            °C, in the shape of the readings.
        """
        return balance.return_at_volume_flow(
            flow,
            supply,
            room,
            self.area,
            self.coefficient(covering),
            self.upward(covering),
            self.downward_resistance,
            room if self.below_is_room else self.below_temperature,
            self.fluid_kind,
            self.fluid_fraction,
        )

    def upward(self, covering: Array | float) -> Array:
        """Give the resistance from the pipes to the room with a covering.

        Args:
            covering: its resistance, m²·K/W.

        Returns:
            m²·K/W, in the shape of `covering`.
        """
        return np.asarray(floor.upward_resistance(covering, self.cover, self.conductivity))

    def share_of(self, room: str) -> float:
        """Give the share of the heat that the loop gives upwards which a room gets.

        Args:
            room: its id.

        Returns:
            1: a loop in one room gives that all of it, and is asked of no other.
        """
        return 1.0

    def surface_at(self, flow: Array, supply: Array, room: Array, covering: Array | float) -> Array:
        """Give the mean surface temperature with some water.

        Args:
            flow: m³/s, shape (visits,), as the others.
            supply: °C.
            room: °C.
            covering: resistance, m²·K/W; broadcasts.

        Returns:
            °C, in the shape of the readings.
        """
        return floor_surface.surface_mean(room, self.output_at(flow, supply, room, covering))

    def gradient_at(self, flow: Array, water: Array) -> Array:
        """Give the pressure loss of one metre of the pipe.

        Args:
            flow: m³/s, shape (visits,).
            water: mean temperature, °C, likewise.

        Returns:
            Pa/m, in the shape of the readings.
        """
        density = fluid.density(self.fluid_kind, self.fluid_fraction, water)
        viscosity = fluid.viscosity(self.fluid_kind, self.fluid_fraction, water)
        speed = flow / (np.pi / 4 * self.bore**2)
        reynolds = friction.reynolds(speed, self.bore, density, viscosity)
        factor = friction.friction_factor(reynolds, self.roughness / self.bore)
        return friction.pressure_drop(1.0, self.bore, speed, density, factor)


class PartsModel(LoopModel, frozen=True):
    """A loop that lies in several parts, taken as one floor that gives what they give together.

    Its coverings are what the parts have more than is stated of them; every other field that parts
    differ in is their mean by area.

    Attributes:
        parts: each as a loop of its own.
        rooms: the room of each part.
    """

    parts: tuple[LoopModel, ...] = ()
    rooms: tuple[str, ...] = ()

    def coefficient(self, covering: Array | float) -> Array:
        """Give the mean of the parts' heat coefficients by area.

        Args:
            covering: what each part has more than is stated of it, m²·K/W.

        Returns:
            W/(m²·K), in the shape of `covering`.
        """
        each = (
            part.area * part.coefficient(part.covering_resistance + covering) for part in self.parts
        )
        return np.asarray(sum(each) / self.area)

    def upward(self, covering: Array | float) -> Array:
        """Give the mean of the parts' resistances upwards by area.

        Args:
            covering: what each part has more than is stated of it, m²·K/W.

        Returns:
            m²·K/W, in the shape of `covering`.
        """
        each = (part.area * part.upward(part.covering_resistance + covering) for part in self.parts)
        return np.asarray(sum(each) / self.area)

    def share_of(self, room: str) -> float:
        """Give the share of the heat that the loop gives upwards which a room gets.

        Args:
            room: its id.

        Returns:
            0 to 1, by area and heat coefficient of its parts there; 0 for a room without any.
        """
        each = [float(p.area * p.coefficient(p.covering_resistance)) for p in self.parts]
        own = [heat for heat, of in zip(each, self.rooms, strict=True) if of == room]
        return sum(own) / sum(each)
