"""How closed, filled pipes respond to pressure, temperature and time, and how accurately they were
read.
"""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.physics import instruments, leak, tightness
from checker.physics.leak import ATMOSPHERE
from checker.quantities.test import WATER

quantity = quantities_of("test")

COLD = "the mean temperature is outside 0 to 100 °C"


def _mean(volumes: Grouped, values: Grouped) -> Array:
    """Mean over the loops of each test, by their volume."""
    weighted = Grouped(volumes.values * values.values, volumes.group, volumes.size)
    return weighted.sum() / volumes.sum()


@quantity(
    unit="°C",
    title="Mean of the temperatures read",
    symbol="T",
    formula="the readings' temperatures, averaged",
    source="readings",
    shown=False,
)
def mean_temperature(readings_temperature: Grouped) -> Array:
    """Temperature of the filling of the pipes, °C."""
    return readings_temperature.sum() / readings_temperature.count()


def _softened(compliance: Grouped, creep: Grouped, temperature: Array) -> Array:
    return leak.softened(compliance.values, creep.values, temperature[compliance.group])


@quantity(
    unit="1/Pa",
    title="Growth of all bores with pressure",
    symbol="C",
    formula="Σ(V·C_R)/ΣV over the loops on the header, at {mean_temperature}",
    source="Lamé's thick tube, mean by volume; moduli, and how they fall when warm, from memory",
    missing_because=COLD,
    shown=False,
)
def pipes_compliance(
    tested_loops_content: Grouped,
    tested_loops_pipe_bore_compliance: Grouped,
    tested_loops_pipe_creep: Grouped,
    mean_temperature: Array,
) -> Array:
    """Relative growth of the loops' volume per rise of the pressure, 1/Pa."""
    compliance = tested_loops_pipe_bore_compliance
    warm = _softened(compliance, tested_loops_pipe_creep, mean_temperature)
    return _mean(tested_loops_content, Grouped(warm, compliance.group, compliance.size))


@quantity(
    unit="1/K",
    title="Growth of all bores with temperature",
    symbol="β",
    formula="Σ(V·β_R)/ΣV over the loops on the header",
    source="thermal expansion, mean by volume; coefficients from memory",
    shown=False,
)
def pipes_expansion(
    tested_loops_content: Grouped, tested_loops_pipe_bore_expansion: Grouped
) -> Array:
    """Relative growth of the loops' volume per rise of the temperature, 1/K."""
    return _mean(tested_loops_content, tested_loops_pipe_bore_expansion)


@quantity(
    unit="1/Pa",
    title="Growth of all bores with the logarithm of time under pressure",
    symbol="C·n",
    formula="Σ(V·C_R·n)/ΣV over the loops on the header, at {mean_temperature}",
    source="power law of the modulus, mean by volume; exponents from memory",
    shown=False,
)
def pipes_relaxation(
    tested_loops_content: Grouped,
    tested_loops_pipe_bore_compliance: Grouped,
    tested_loops_pipe_creep: Grouped,
    mean_temperature: Array,
) -> Array:
    """Relative growth of the loops' volume per pascal and unit of the logarithm of time, 1/Pa."""
    compliance, creep = tested_loops_pipe_bore_compliance, tested_loops_pipe_creep
    warm = _softened(compliance, creep, mean_temperature)
    product = Grouped(warm * creep.values, compliance.group, compliance.size)
    return _mean(tested_loops_content, product)


@quantity(
    unit="1/K",
    title="Expansion of what fills the pipes",
    symbol="β_w",
    formula="at {mean_temperature}",
    source="IAPWS SR6-08(2011); air: ideal gas",
    missing_because=COLD,
    shown=False,
)
def filling_expansion(medium: Array, mean_temperature: Array) -> Array:
    """Relative expansion of the filling per kelvin, 1/K."""
    found = tightness.filling_expansion(medium != WATER, mean_temperature)
    return np.where(np.isnan(medium), np.nan, found)


@quantity(
    unit="1/Pa",
    title="Give of what fills the pipes",
    symbol="κ",
    formula="of water at {mean_temperature}, or of air at {first_pressure}",
    source="IAPWS SR6-08(2011); air: ideal gas",
    missing_because=COLD,
    shown=False,
)
def filling_give(medium: Array, first_pressure: Array, mean_temperature: Array) -> Array:
    """Share of its volume that the filling, without trapped air, releases per pascal of a fall."""
    found = tightness.filling_give(medium != WATER, first_pressure, mean_temperature)
    return np.where(np.isnan(medium), np.nan, found)


@quantity(
    unit="1",
    title="Most of the bores that trapped air may fill",
    symbol="a",
    formula="0.002 in a test with water, 0 in one with air, at the first pressure read",
    source="common practice, no source",
    shown=False,
)
def trapped_air(medium: Array) -> Array:
    """The largest share of the bore that may be air."""
    most = np.where(medium == WATER, tightness.MOST_AIR, 0.0)
    return np.where(np.isnan(medium), np.nan, most)


@quantity(
    unit="1/Pa",
    title="Give of the filled pipes",
    symbol="g",
    formula=(
        "{filling_give} + {pipes_compliance} + {trapped_air} / 2 / ({first_pressure} + {101325 Pa})"
    ),
    source="volumes add; trapped air: Boyle's law at the first pressure",
    shown=False,
)
def give(
    filling_give: Array, pipes_compliance: Array, trapped_air: Array, first_pressure: Array
) -> Array:
    """Share of their volume that pipes and filling release in the first pascal of a fall, likeliest
    value, 1/Pa.
    """
    return filling_give + pipes_compliance + trapped_air / 2 / (first_pressure + ATMOSPHERE)


@quantity(
    unit="1/Pa",
    title="Most give of the filled pipes",
    symbol="g_max",
    formula=(
        "{filling_give} + {pipes_compliance} + {trapped_air} / ({first_pressure} + {101325 Pa})"
    ),
    source="volumes add; trapped air: Boyle's law at the first pressure",
    shown=False,
)
def most_give(
    filling_give: Array, pipes_compliance: Array, trapped_air: Array, first_pressure: Array
) -> Array:
    """The same with the most air, 1/Pa."""
    return filling_give + pipes_compliance + trapped_air / (first_pressure + ATMOSPHERE)


@quantity(
    unit="1/K",
    title="Gain of the filling on its pipes for each kelvin",
    symbol="β_w − β",
    formula="{filling_expansion} − {pipes_expansion}",
    source="volumes add",
    shown=False,
)
def gain(filling_expansion: Array, pipes_expansion: Array) -> Array:
    """Expansion of the filling minus that of the bores, a share of the volume per kelvin, 1/K."""
    return filling_expansion - pipes_expansion


@quantity(
    unit="1/K",
    title="Standard uncertainty of the gain",
    symbol="u(β)",
    formula="from {pipes_expansion} (a third either way) and the thermometer",
    source="JCGM 100:2008, 4.3.7 and 5.1; spreads from memory",
    shown=False,
)
def gain_uncertainty(gain: Array, pipes_expansion: Array) -> Array:
    """Standard uncertainty of `gain`, 1/K."""
    return tightness.gain_uncertainty(gain, pipes_expansion)


@quantity(
    unit="bar/K",
    title="Change of pressure for each kelvin, with trapped air",
    symbol="w",
    formula="{gain} / {give}",
    source="volumes add",
    shown=False,
)
def warming(gain: Array, give: Array) -> Array:
    """Change of the pressure of the closed pipes per kelvin of warming, Pa/K."""
    return gain / give


@quantity(
    unit="1",
    title="Settling of the pressure, a share for each unit of the logarithm of time",
    symbol="s",
    formula="{pipes_relaxation} / {give}",
    source="Water UK IGN 4-01-03, straight over the logarithm of time",
    shown=False,
)
def settling(pipes_relaxation: Array, give: Array) -> Array:
    """Fall of the pressure through settling, as a share of it, for each unit of ln t."""
    return pipes_relaxation / give


@quantity(
    unit="1",
    title="Share of the give that is the pipes' stretch",
    symbol="C/g",
    formula="{pipes_compliance} / {give}",
    source="volumes add",
    shown=False,
)
def stretch(pipes_compliance: Array, give: Array) -> Array:
    """The pipes' share of the volume that a fall releases."""
    return pipes_compliance / give


@quantity(
    unit="1",
    title="Exponent of the pipes' creep",
    symbol="n",
    formula="{pipes_relaxation} / {pipes_compliance}",
    source="Water UK IGN 4-01-03, from memory",
    shown=False,
)
def creep(pipes_relaxation: Array, pipes_compliance: Array) -> Array:
    """Exponent n of the decrease of the modulus with the time under load, E ~ t^-n."""
    return pipes_relaxation / pipes_compliance


@quantity(
    unit="1",
    title="How much longer than a test's the pipes have stood under pressure",
    symbol="k",
    formula="1",
    source="readings of a test begin a minute to half a day after it is pumped up: no source",
    shown=False,
)
def stood(size: int) -> Array:
    """1 for a test on site; for readings in a heated house another value replaces it."""
    return np.ones(size)


@quantity(
    unit="bar",
    title="Fall that settling alone may make until the last reading",
    symbol="Δp_K",
    formula="1.6 · {settling} · {first_pressure} · ln(1 + {read_until} / {1 min})",
    source="as the settling, its exponent at its most (n = 0.13), pumped up a minute before",
    shown=False,
)
def settling_drop(settling: Array, first_pressure: Array, read_until: Array) -> Array:
    """The largest fall of the pressure in tight plastic pipes through settling, Pa."""
    most = 1 + tightness.SETTLING_SPREAD
    ages = np.log1p(read_until / tightness.STOOD[0])
    return np.asarray(most * settling * first_pressure * ages)


@quantity(
    unit="bar",
    title="Step that the gauge is read to",
    symbol="q_p",
    formula="the coarsest step that all readings fit, at most 0.1 bar",
    source="readings; the coarsest: common practice, no source",
    shown=False,
)
def gauge_step(readings_pressure: Grouped) -> Array:
    """Step of the pressure gauge, Pa."""
    return instruments.gauge_step(
        readings_pressure.values, readings_pressure.group, readings_pressure.size
    )


@quantity(
    unit="K",
    title="Step that the thermometer is read to",
    symbol="q_T",
    formula="the coarsest step that all readings fit, at most 1 K",
    source="readings; the coarsest: common practice, no source",
    shown=False,
)
def thermometer_step(readings_temperature: Grouped) -> Array:
    """Step of the thermometer, K."""
    return instruments.thermometer_step(
        readings_temperature.values, readings_temperature.group, readings_temperature.size
    )
