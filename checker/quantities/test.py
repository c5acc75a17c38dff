"""What can be computed of a pressure test. Values in SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.design.schema import design_format
from checker.graph import Array, Members, quantities_of
from checker.physics import leak

quantity = quantities_of("test")

WATER = design_format().code("pressure_tests", "medium", "water")


@quantity(unit="bar", title="First pressure read", source="readings", shown=False)
def first_pressure(readings_at: Members, readings_pressure: Members) -> Array:
    """Gauge pressure of the earliest reading, Pa."""
    return readings_pressure.ordered(readings_at, last=False)


@quantity(unit="bar", title="Last pressure read", source="readings", shown=False)
def last_pressure(readings_at: Members, readings_pressure: Members) -> Array:
    """Gauge pressure of the latest reading, Pa."""
    return readings_pressure.ordered(readings_at, last=True)


@quantity(unit="°C", title="First temperature read", source="readings", shown=False)
def first_temperature(readings_at: Members, readings_temperature: Members) -> Array:
    """Temperature of the earliest reading, °C."""
    return readings_temperature.ordered(readings_at, last=False)


@quantity(unit="°C", title="Last temperature read", source="readings", shown=False)
def last_temperature(readings_at: Members, readings_temperature: Members) -> Array:
    """Temperature of the latest reading, °C."""
    return readings_temperature.ordered(readings_at, last=True)


@quantity(
    unit="bar/K",
    title="Change of pressure for each kelvin",
    source="thermal expansion and compressibility of water (IAPWS SR6-08(2011)), Lamé's thick tube",
    fails="the pipes' stiffness is not known for this material",
    shown=False,
)
def pressure_per_kelvin(
    of_header_content: Members,
    of_header_pipe_bore_expansion: Members,
    of_header_pipe_bore_compliance: Members,
    first_temperature: Array,
    last_temperature: Array,
) -> Array:
    """Change of pressure of the closed, water-filled loops, Pa/K."""
    return leak.pressure_per_kelvin(
        of_header_content.values,
        of_header_pipe_bore_expansion.values,
        of_header_pipe_bore_compliance.values,
        of_header_content.group.astype(float),
        (first_temperature + last_temperature) / 2,
    )


@quantity(
    unit="bar",
    title="Fall in pressure, the change of temperature taken out",
    source="expansion of water and pipe (IAPWS SR6-08(2011), Lamé's thick tube); air: ideal gas",
    matters={"pressure_per_kelvin": ("medium", (WATER,))},
)
def corrected_drop(
    medium: Array,
    first_pressure: Array,
    last_pressure: Array,
    first_temperature: Array,
    last_temperature: Array,
    pressure_per_kelvin: Array,
) -> Array:
    """What is left of the fall in pressure, Pa; above nought for a loss."""
    steady = first_temperature == last_temperature
    water = leak.corrected_drop(
        first_pressure,
        last_pressure,
        first_temperature,
        last_temperature,
        np.where(steady, 0.0, pressure_per_kelvin),
    )
    air = leak.corrected_drop_air(
        first_pressure, last_pressure, first_temperature, last_temperature
    )
    return np.where(medium == WATER, water, air)
