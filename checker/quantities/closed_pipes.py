"""How closed, filled pipes answer to pressure, warmth and time, and how well they were read."""

from __future__ import annotations

import numpy as np

from checker.compute.columns import Array, Grouped
from checker.compute.registry import quantities_of
from checker.physics import instruments, tightness
from checker.quantities.test import WATER

quantity = quantities_of("test")

COLD = "the mean temperature is outside 0 to 100 °C"


def _mean(volumes: Grouped, values: Grouped) -> Array:
    """Mean over the loops of each test, by their volume."""
    weighted = Grouped(volumes.values * values.values, volumes.group, volumes.size)
    return weighted.sum() / volumes.sum()


@quantity(
    unit="bar",
    title="Mean of the pressures read",
    symbol="P",
    formula="the readings' pressures, averaged",
    source="readings",
    shown=False,
)
def mean_pressure(readings_pressure: Grouped) -> Array:
    """Gauge pressure, Pa."""
    return readings_pressure.sum() / readings_pressure.count()


@quantity(
    unit="°C",
    title="Mean of the temperatures read",
    symbol="T",
    formula="the readings' temperatures, averaged",
    source="readings",
    shown=False,
)
def mean_temperature(readings_temperature: Grouped) -> Array:
    """Temperature of what fills the pipes, °C."""
    return readings_temperature.sum() / readings_temperature.count()


@quantity(
    unit="1/Pa",
    title="Growth of all bores with pressure",
    symbol="C",
    formula="Σ(V·C_R)/ΣV over the loops on the header",
    source="Lamé's thick tube, mean by volume; moduli from memory",
    shown=False,
)
def pipes_compliance(of_header_content: Grouped, of_header_pipe_bore_compliance: Grouped) -> Array:
    """Relative growth of the loops' volume per rise of the pressure, 1/Pa."""
    return _mean(of_header_content, of_header_pipe_bore_compliance)


@quantity(
    unit="1/K",
    title="Growth of all bores with temperature",
    symbol="β",
    formula="Σ(V·β_R)/ΣV over the loops on the header",
    source="thermal expansion, mean by volume; coefficients from memory",
    shown=False,
)
def pipes_expansion(of_header_content: Grouped, of_header_pipe_bore_expansion: Grouped) -> Array:
    """Relative growth of the loops' volume per rise of the temperature, 1/K."""
    return _mean(of_header_content, of_header_pipe_bore_expansion)


@quantity(
    unit="1/Pa",
    title="Growth of all bores with the logarithm of time under pressure",
    symbol="C·n",
    formula="Σ(V·C_R·n)/ΣV over the loops on the header",
    source="power law of the modulus, mean by volume; exponents from memory",
    shown=False,
)
def pipes_relaxation(
    of_header_content: Grouped,
    of_header_pipe_bore_compliance: Grouped,
    of_header_pipe_creep: Grouped,
) -> Array:
    """Relative growth of the loops' volume per pascal and unit of the logarithm of time, 1/Pa."""
    compliance, creep = of_header_pipe_bore_compliance, of_header_pipe_creep
    product = Grouped(compliance.values * creep.values, compliance.group, compliance.size)
    return _mean(of_header_content, product)


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
    """Relative growth of what fills the pipes per kelvin, 1/K."""
    found = tightness.filling_expansion(medium != WATER, mean_temperature)
    return np.where(np.isnan(medium), np.nan, found)


def _give(
    medium: Array, compliance: Array, pressure: Array, temperature: Array, softness: float
) -> Array:
    found = tightness.give(medium != WATER, compliance, pressure, temperature, softness)
    return np.where(np.isnan(medium), np.nan, found)


@quantity(
    unit="1/Pa",
    title="Give of the filled pipes",
    symbol="g",
    formula="κ + {pipes_compliance}, κ of water with 0.1 % air in it, or of air",
    source="IAPWS SR6-08(2011); air: ideal gas; trapped air: common practice, no source",
    missing_because=COLD,
    shown=False,
)
def give(
    medium: Array, pipes_compliance: Array, mean_pressure: Array, mean_temperature: Array
) -> Array:
    """Share of their volume that the filled pipes set free per fall of a pascal, 1/Pa."""
    return _give(medium, pipes_compliance, mean_pressure, mean_temperature, 0.0)


@quantity(
    unit="1/Pa",
    title="Least give of the filled pipes",
    symbol="g_min",
    formula="as {give}, with a modulus a third higher and no air in the water",
    source="spreads from memory and common practice, no source",
    missing_because=COLD,
    shown=False,
)
def least_give(
    medium: Array, pipes_compliance: Array, mean_pressure: Array, mean_temperature: Array
) -> Array:
    """Give of the stiffest pipes, 1/Pa."""
    return _give(medium, pipes_compliance, mean_pressure, mean_temperature, -1.0)


@quantity(
    unit="1/Pa",
    title="Most give of the filled pipes",
    symbol="g_max",
    formula="as {give}, with a modulus a third lower and 0.2 % air in the water",
    source="spreads from memory and common practice, no source",
    missing_because=COLD,
    shown=False,
)
def most_give(
    medium: Array, pipes_compliance: Array, mean_pressure: Array, mean_temperature: Array
) -> Array:
    """Give of the softest pipes, 1/Pa."""
    return _give(medium, pipes_compliance, mean_pressure, mean_temperature, 1.0)


@quantity(
    unit="bar/K",
    title="Change of pressure for each kelvin, with trapped air",
    symbol="w",
    formula=(
        "({filling_expansion} − {pipes_expansion}) / 2 · (1 / {least_give} + 1 / {most_give})"
    ),
    source="volumes add",
    shown=False,
)
def warming(
    filling_expansion: Array, pipes_expansion: Array, least_give: Array, most_give: Array
) -> Array:
    """Change of the pressure of the closed pipes per kelvin of warming, Pa/K."""
    return tightness.warming(filling_expansion - pipes_expansion, least_give, most_give)


@quantity(
    unit="bar/K",
    title="Standard uncertainty of the change for each kelvin",
    symbol="u(w)",
    formula=(
        "from {pipes_expansion} (a third either way), {least_give}, {most_give} and the thermometer"
    ),
    source="JCGM 100:2008, 4.3.7 and 5.1; spreads from memory",
    shown=False,
)
def warming_uncertainty(
    warming: Array, pipes_expansion: Array, give: Array, least_give: Array, most_give: Array
) -> Array:
    """Standard uncertainty of what a kelvin does, Pa/K."""
    return tightness.warming_uncertainty(warming, pipes_expansion, give, least_give, most_give)


@quantity(
    unit="1",
    title="Settling of the pressure, a share for each unit of the logarithm of time",
    symbol="s",
    formula="{pipes_relaxation} / {give}",
    source="Water UK IGN 4-01-03, straight over the logarithm of time",
    shown=False,
)
def settling(pipes_relaxation: Array, give: Array) -> Array:
    """Fall of the pressure, as a share of it, for each unit of ln t."""
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
    """The pipes' part of what a fall sets free."""
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
    """Exponent n of the modulus' fall with the time under load, E ~ t^-n."""
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
    """1 for a test on site; readings in a heated house put more in its place."""
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
    """The most that tight pipes of plastic let the pressure fall, Pa."""
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


@quantity(
    unit="bar",
    title="Standard uncertainty of a reading",
    symbol="u(p)",
    formula="√(({gauge_step} / 2)² + ({warming} · {thermometer_step} / 2)²)",
    source="JCGM 100:2008, 5.1; half a step: no source",
    shown=False,
)
def reading_uncertainty(gauge_step: Array, thermometer_step: Array, warming: Array) -> Array:
    """Standard uncertainty of one reading, its temperature taken out, Pa."""
    return instruments.reading_uncertainty(gauge_step, thermometer_step, warming)
