"""Quantities of a pressure test: what its readings say. SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.design.schema import design_format
from checker.physics import leak
from checker.physics.arrays import BORDER_TOLERANCE

quantity = quantities_of("test")

WATER = design_format().code("pressure_tests", "medium", "water")
AIR = design_format().code("pressure_tests", "medium", "air")

SETTLED = 5e3
"""Correction for temperature up to which readings count as settled, Pa.

Common practice, no source.
"""
SURE = 0.95
"""Of a pressure read: what it is at least, if the gauge is 5 % off; common practice, no source."""
READ_APART = 1e4
"""By how much two readings of one pressure may differ, Pa; common practice, no source."""
MOST_PUMPED = 6e5
"""Highest gauge pressure that loops are pumped up to, Pa; EN 1264-4, as reported."""
MOST_RATED = 10e5
"""Gauge pressure that the pipes of heated floors are rated for, when cold, at the least, Pa; common
practice, no source.
"""


@quantity(
    unit="bar",
    title="First pressure read",
    symbol="p_1",
    formula="read first, by {readings_at}",
    source="readings",
    shown=False,
)
def first_pressure(readings_at: Grouped, readings_pressure: Grouped) -> Array:
    """Gauge pressure of the earliest reading, Pa."""
    return readings_pressure.ordered(readings_at, last=False)


@quantity(
    unit="bar",
    title="Last pressure read",
    symbol="p_2",
    formula="read last, by {readings_at}",
    source="readings",
    shown=False,
)
def last_pressure(readings_at: Grouped, readings_pressure: Grouped) -> Array:
    """Gauge pressure of the latest reading, Pa."""
    return readings_pressure.ordered(readings_at, last=True)


@quantity(
    unit="°C",
    title="First temperature read",
    symbol="θ_1",
    formula="read first, by {readings_at}",
    source="readings",
    shown=False,
)
def first_temperature(readings_at: Grouped, readings_temperature: Grouped) -> Array:
    """Temperature of the earliest reading, °C."""
    return readings_temperature.ordered(readings_at, last=False)


@quantity(
    unit="°C",
    title="Last temperature read",
    symbol="θ_2",
    formula="read last, by {readings_at}",
    source="readings",
    shown=False,
)
def last_temperature(readings_at: Grouped, readings_temperature: Grouped) -> Array:
    """Temperature of the latest reading, °C."""
    return readings_temperature.ordered(readings_at, last=True)


@quantity(
    unit="bar/K",
    title="Change of pressure for each kelvin",
    symbol="p_K",
    formula="Σ(V · (β_w − β_R)) / Σ(V · (κ_w + C_R)) over the header's loops, water at their mean",
    source="thermal expansion and compressibility of water (IAPWS SR6-08(2011)), Lamé's thick tube",
    missing_because="the mean temperature is outside 0 to 100 °C, or no loop is on the header",
    shown=False,
)
def pressure_per_kelvin(
    tested_loops_content: Grouped,
    tested_loops_pipe_bore_expansion: Grouped,
    tested_loops_pipe_bore_compliance: Grouped,
    first_temperature: Array,
    last_temperature: Array,
) -> Array:
    """Change of pressure of the closed, water-filled loops, Pa/K."""
    return leak.pressure_per_kelvin(
        tested_loops_content.values,
        tested_loops_pipe_bore_expansion.values,
        tested_loops_pipe_bore_compliance.values,
        tested_loops_content.group.astype(float),
        (first_temperature + last_temperature) / 2,
    )


@quantity(
    unit="bar",
    title="Fall in pressure, the change of temperature taken out",
    symbol="Δp_c",
    formula=(
        "{first_pressure} − {last_pressure}",
        "{first_pressure} + {pressure_per_kelvin} · ({last_temperature} − {first_temperature}) "
        "− {last_pressure}",
        "({first_pressure} + {101325 Pa}) · ({last_temperature} + {273.15 K}) "
        "/ ({first_temperature} + {273.15 K}) − ({last_pressure} + {101325 Pa})",
    ),
    source="expansion of water and pipe (IAPWS SR6-08(2011), Lamé's thick tube); air: ideal gas",
    needed_when={"pressure_per_kelvin": ("medium", (WATER,))},
    missing_because="no reading is later than the first",
)
def corrected_drop(
    readings_at: Grouped,
    medium: Array,
    first_pressure: Array,
    last_pressure: Array,
    first_temperature: Array,
    last_temperature: Array,
    pressure_per_kelvin: Array,
) -> Array:
    """The fall in pressure without the effect of temperature, Pa; above zero for a loss."""
    found = _corrected(
        medium,
        (first_pressure, last_pressure),
        (first_temperature, last_temperature),
        pressure_per_kelvin,
    )
    return np.where(readings_at.largest() > readings_at.smallest(), found, np.nan)


def _corrected(
    medium: Array,
    pressures: tuple[Array, Array],
    temperatures: tuple[Array, Array],
    pressure_per_kelvin: Array,
) -> Array:
    """The fall between two readings without the effect of temperature, Pa."""
    steady = temperatures[0] == temperatures[1]
    slope = np.where(steady, 0.0, pressure_per_kelvin)
    water = leak.corrected_drop(*pressures, *temperatures, slope)
    air = leak.corrected_drop_air(*pressures, *temperatures)
    # At a steady temperature there is nothing to correct, with water or air.
    return np.where((medium == WATER) | steady, water, np.where(medium == AIR, air, np.nan))


@quantity(
    unit="bar",
    title="Lowest pressure read after the first",
    symbol="p_min",
    formula="the least of {readings_pressure} after the first reading",
    source="readings",
    missing_because="no reading is later than the first",
    shown=False,
)
def lowest_pressure(readings_at: Grouped, readings_pressure: Grouped) -> Array:
    """Lowest gauge pressure of the readings later than the earliest, Pa."""
    return _later(readings_at, readings_pressure).smallest()


@quantity(
    unit="°C",
    title="Temperature at the lowest pressure read",
    symbol="θ_min",
    formula="read with the least of {readings_pressure} after the first reading",
    source="readings",
    missing_because="no reading is later than the first",
    shown=False,
)
def lowest_pressure_temperature(
    readings_at: Grouped, readings_pressure: Grouped, readings_temperature: Grouped
) -> Array:
    """Temperature of the reading of `lowest_pressure`, °C."""
    temperature = _later(readings_at, readings_temperature)
    return temperature.ordered(_later(readings_at, readings_pressure), last=False)


def _later(readings_at: Grouped, values: Grouped) -> Grouped:
    """The values of the readings that are later than their test's first."""
    later = readings_at.values > readings_at.smallest()[readings_at.group]
    return values.where(later)


@quantity(
    unit="bar",
    title="Fall in pressure at a settled temperature",
    symbol="Δp_s",
    formula=(
        "{corrected_drop}",
        "{first_pressure} − {lowest_pressure}",
        "{first_pressure} + {pressure_per_kelvin} "
        "· ({lowest_pressure_temperature} − {first_temperature}) − {lowest_pressure}",
        "({first_pressure} + {101325 Pa}) · ({lowest_pressure_temperature} + {273.15 K}) "
        "/ ({first_temperature} + {273.15 K}) − ({lowest_pressure} + {101325 Pa})",
    ),
    source="as the fall in pressure; settled: common practice, no source",
    needed_when={"pressure_per_kelvin": ("medium", (WATER,))},
    missing_because=(
        "the temperature changed too much between the readings for the fall to be judged; let it "
        "settle and read again (test-tight says what can be said)"
    ),
    shown=False,
)
def settled_drop(
    medium: Array,
    corrected_drop: Array,
    first_pressure: Array,
    last_pressure: Array,
    lowest_pressure: Array,
    first_temperature: Array,
    lowest_pressure_temperature: Array,
    pressure_per_kelvin: Array,
) -> Array:
    """The larger of the falls to the last and to the lowest reading, without the effect of
    temperature, Pa.

    Missing where more than `SETTLED` of either is due to the temperature: a plastic pipe follows it
    with a lag and creeps, so such a correction is too uncertain to judge by.
    """
    to_lowest = _corrected(
        medium,
        (first_pressure, lowest_pressure),
        (first_temperature, lowest_pressure_temperature),
        pressure_per_kelvin,
    )
    by_last = np.abs(corrected_drop - (first_pressure - last_pressure))
    by_lowest = np.abs(to_lowest - (first_pressure - lowest_pressure))
    slack = SETTLED * (1 + BORDER_TOLERANCE)
    settled = ((by_last <= slack) & (by_lowest <= slack)) | (medium == AIR)
    return np.where(settled, np.maximum(corrected_drop, to_lowest), np.nan)


@quantity(unit="1", title="One", symbol="n", formula="1", source="count", shown=False)
def number(size: int) -> Array:
    """One for each test, to be counted."""
    return np.ones(size)


@quantity(
    unit="bar",
    title="Twice the operating pressure",
    symbol="2 · p_op",
    formula="2 · {operating_pressure}",
    source="EN 1264-4:2001, as reported",
    shown=False,
)
def doubled_operating_pressure(operating_pressure: Array) -> Array:
    """Gauge pressure, Pa."""
    return 2 * operating_pressure


@quantity(
    unit="bar",
    title="One and a half times the operating pressure",
    symbol="1.5 · p_op",
    formula="1.5 · {operating_pressure}",
    source="IRC 2018 M2101.10; GB 50242-2002 8.5.2, as reported",
    shown=False,
)
def raised_operating_pressure(operating_pressure: Array) -> Array:
    """Gauge pressure, Pa."""
    return 1.5 * operating_pressure


@quantity(
    unit="bar",
    title="Stated test pressure less what a gauge may be off",
    symbol="p_least",
    formula="0.95 · {pressure}",
    source="5 % of the reading: common practice, no source",
    shown=False,
)
def least_first_pressure(pressure: Array) -> Array:
    """Gauge pressure that the first reading must reach, Pa."""
    return SURE * pressure


@quantity(
    unit="bar",
    title="Highest pressure read",
    symbol="p_max",
    formula="max({readings_pressure})",
    source="readings",
    shown=False,
)
def highest_pressure(readings_pressure: Grouped) -> Array:
    """Highest gauge pressure of all readings, Pa."""
    return readings_pressure.largest()


@quantity(
    unit="bar",
    title="Highest pressure read, less what a gauge may be off",
    symbol="p_sure",
    formula="0.95 · {highest_pressure}",
    source="5 % of the reading: common practice, no source",
    shown=False,
)
def sure_highest_pressure(highest_pressure: Array) -> Array:
    """Gauge pressure that was surely there at the highest reading, Pa."""
    return SURE * highest_pressure


@quantity(
    unit="1",
    title="Whether only warming lifted the pressure that high",
    symbol="w_p",
    formula="is 1 where {first_pressure} less a twentieth is at most 6 bar, {highest_pressure} "
    "less a twentieth at most 10 bar, and no more above the first than {pressure_per_kelvin} for "
    "each kelvin of warming until then, and 0.1 bar, else 0",
    source="as the fall in pressure; 6 bar by EN 1264-4; 0.1 bar for reading, and 10 bar, for "
    "which such pipes are rated at the least: common practice, no source",
    optional=("first_pressure", "first_temperature", "highest_pressure", "pressure_per_kelvin"),
    shown=False,
)
def lifted_by_warmth(
    readings_pressure: Grouped,
    readings_temperature: Grouped,
    first_pressure: Array,
    first_temperature: Array,
    highest_pressure: Array,
    pressure_per_kelvin: Array,
) -> Array:
    """1 where the pipes were pumped up within the limit and sun or heating did the rest, else 0."""
    at_highest = readings_temperature.ordered(readings_pressure, last=True)
    explained = pressure_per_kelvin * np.maximum(at_highest - first_temperature, 0.0) + READ_APART
    found = highest_pressure - first_pressure <= explained
    found &= (SURE * first_pressure <= MOST_PUMPED) & (SURE * highest_pressure <= MOST_RATED)
    return found.astype(float)


@quantity(
    unit="1",
    title="Whether it has a first reading",
    symbol="n_1",
    formula="is 1 where {first_pressure} is known, else 0",
    source="readings",
    optional=("first_pressure",),
    shown=False,
)
def read(first_pressure: Array) -> Array:
    """1 where the first pressure is known, else 0."""
    return (~np.isnan(first_pressure)).astype(float)


@quantity(
    unit="min",
    title="Time of the last reading",
    symbol="t_end",
    formula="max({readings_at})",
    source="readings",
    shown=False,
)
def read_until(readings_at: Grouped) -> Array:
    """Time of the latest reading since the start of the test, s."""
    return readings_at.largest()
