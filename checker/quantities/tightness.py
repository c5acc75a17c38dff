"""What the readings of a pressure test say of a leak. SI, temperatures in °C, one a row."""

from __future__ import annotations

import numpy as np

from checker.compute.graph import Array, Grouped, Output, quantities_of
from checker.physics import tightness
from checker.physics.tightness import Readings, Vessel
from checker.quantities.test import WATER

quantity = quantities_of("test")

FIT = "least squares with what is known beforehand of settling and warming"
COLD = "the mean temperature is outside 0 to 100 °C"
FEW = "there are fewer than two readings at different times"
RISES = "the pressure rises by more than is known to lift it"
FINE_STEP = 0.1
"""K, step of the finer thermometer that a person may be told to read."""


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
    return tightness.gauge_step(
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
    return tightness.thermometer_step(
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
    return tightness.reading_uncertainty(gauge_step, thermometer_step, warming)


def _fall(
    settles: bool,
    at: Grouped,
    pressure: Grouped,
    temperature: Grouped,
    uncertainty: Array,
    *vessel: Array,
) -> tightness.Fall:
    readings = Readings(at.values, pressure.values, temperature.values, at.group)
    return tightness.fall(readings, Vessel(*vessel), uncertainty, settles=settles)


@quantity(
    source=FIT,
    outputs=(
        Output(
            "unsettled_leak_rate",
            "ml/h",
            "Leak rate, were all of the fall a leak's",
            "Q_a",
            "V·g times the slope of the fit without settling",
            FEW,
            shown=False,
        ),
        Output(
            "largest_leak_rate",
            "ml/h",
            "Most that the readings let leak",
            "Q_max",
            "V·g times the slope of the fit without settling and twice its uncertainty",
            f"{FEW}, or {RISES}",
        ),
    ),
)
def unsettled_fit(
    readings_at: Grouped,
    readings_pressure: Grouped,
    readings_temperature: Grouped,
    reading_uncertainty: Array,
    warming: Array,
    warming_uncertainty: Array,
    settling: Array,
    stretch: Array,
    creep: Array,
    stood: Array,
    give: Array,
    header_content: Array,
) -> tuple[Array, Array]:
    """Leak of the fit in which settling explains none of the fall, and its upper bound, m³/s.

    The first is below zero where the pressure rises.
    """
    found = _fall(
        False,
        readings_at,
        readings_pressure,
        readings_temperature,
        reading_uncertainty,
        warming,
        warming_uncertainty,
        settling,
        stretch,
        creep,
        stood,
    )
    volume = header_content * give
    return volume * found.rate, volume * tightness.most(found)


@quantity(
    source=FIT,
    missing_because=FEW,
    outputs=(
        Output(
            "settled_leak_rate",
            "ml/h",
            "Leak rate of the fit with settling",
            "Q_b",
            "V·g times the slope of the fit with settling",
            shown=False,
        ),
        Output(
            "least_leak_rate",
            "ml/h",
            "Least that the readings let leak",
            "Q_min",
            "V·g times the slope of the fit with settling less three times its uncertainty, or 0",
            shown=False,
        ),
        Output(
            "leak_rate_low",
            "ml/h",
            "Leak rate, low end",
            "Q_1",
            "V·g times the slope of the fit with settling, less twice what it and g may be off",
        ),
        Output(
            "fitted_leak_rate_high",
            "ml/h",
            "Leak rate, high end of the fit with settling",
            "Q_2",
            "V·g times the slope of the fit with settling and twice what it and g may be off",
            shown=False,
        ),
    ),
)
def settled_fit(
    readings_at: Grouped,
    readings_pressure: Grouped,
    readings_temperature: Grouped,
    reading_uncertainty: Array,
    warming: Array,
    warming_uncertainty: Array,
    settling: Array,
    stretch: Array,
    creep: Array,
    stood: Array,
    give: Array,
    least_give: Array,
    most_give: Array,
    header_content: Array,
) -> tuple[Array, Array, Array, Array]:
    """Leak of the fit in which settling explains what is plausible, its least, and its band, m³/s.

    The first is below zero where settling explains more than fell; the least is what is sure.
    """
    found = _fall(
        True,
        readings_at,
        readings_pressure,
        readings_temperature,
        reading_uncertainty,
        warming,
        warming_uncertainty,
        settling,
        stretch,
        creep,
        stood,
    )
    volume = header_content * give
    low, high = tightness.band(found, least_give, give, most_give)
    return volume * found.rate, volume * tightness.least(found), volume * low, volume * high


@quantity(
    unit="ml/h",
    title="Leak rate",
    symbol="Q",
    formula="{settled_leak_rate}, but from 0 to {largest_leak_rate}",
    source="least squares with bounds",
)
def leak_rate(settled_leak_rate: Array, largest_leak_rate: Array) -> Array:
    """What leaks at the pressure of the test, at that pressure, m³/s."""
    return np.clip(settled_leak_rate, 0.0, largest_leak_rate)


@quantity(
    unit="ml/h",
    title="Leak rate, high end",
    symbol="Q_h",
    formula="max({fitted_leak_rate_high}, {leak_rate})",
    source="JCGM 100:2008, 6.3, twice the standard uncertainty",
)
def leak_rate_high(fitted_leak_rate_high: Array, leak_rate: Array) -> Array:
    """Above this the leak lies in about one case of forty, m³/s."""
    return np.maximum(fitted_leak_rate_high, leak_rate)


@quantity(
    unit="ml/h",
    title="Uncertainty of the leak rate",
    symbol="U(Q)",
    formula="max({leak_rate_high} − {leak_rate}, {leak_rate} − {leak_rate_low})",
    source="JCGM 100:2008, 6.3, twice the standard uncertainty",
)
def leak_rate_uncertainty(leak_rate: Array, leak_rate_low: Array, leak_rate_high: Array) -> Array:
    """Expanded uncertainty of the leak rate (about 95 %), m³/s; the longer way of its band."""
    return np.maximum(leak_rate_high - leak_rate, leak_rate - leak_rate_low)


@quantity(
    unit="ml/h",
    title="Leak that settling, warming and the instruments may feign",
    symbol="Q_0",
    formula="{leak_rate} − {least_leak_rate}",
    source=FIT,
    shown=False,
)
def explained_leak_rate(leak_rate: Array, least_leak_rate: Array) -> Array:
    """The part of the leak rate that need not be a leak, m³/s."""
    return leak_rate - least_leak_rate


@quantity(
    unit="ml/h",
    title="Leak rate of pipes that count as tight",
    symbol="Q_t",
    formula=(
        "{header_content} · {give} · {0.2 bar} / {1 h}",
        "{1 l} / {168 h}",
    ),
    source="EN 805:2000, 11.3.3.4, 20 kPa in the hour, from memory; a litre a week: no source",
    shown=False,
)
def allowed_leak_rate(header_content: Array, give: Array, medium: Array) -> Array:
    """Leak that lets the pressure fall by 20 kPa an hour; of water at most a litre a week, m³/s."""
    by_fall = header_content * give * tightness.ALLOWED_FALL
    most = np.where(medium == WATER, tightness.ALLOWED_LOSS, np.inf)
    return np.minimum(by_fall, most)


@quantity(
    unit="1",
    title="Whether the readings show a leak",
    symbol="l",
    formula="1 where {least_leak_rate} is above 0, else 0",
    source="comparison",
    shown=False,
)
def leaking(least_leak_rate: Array) -> Array:
    """1 where settling, warming and the instruments together do not explain the fall; else 0."""
    known = ~np.isnan(least_leak_rate)
    return np.where(known, (least_leak_rate > 0).astype(float), np.nan)


@quantity(
    unit="1",
    title="Whether the readings show the loops tight",
    symbol="t",
    formula="1 where they show no leak and {largest_leak_rate} is at most {allowed_leak_rate}",
    source="comparison",
    optional=("largest_leak_rate",),
    shown=False,
)
def tight(leaking: Array, largest_leak_rate: Array, allowed_leak_rate: Array) -> Array:
    """1 where no more can leak than tight loops may; 0 else, also where the pressure rises."""
    found = (leaking == 0) & (largest_leak_rate <= allowed_leak_rate)
    return np.where(np.isnan(leaking), np.nan, found.astype(float))


@quantity(
    unit="1",
    title="Whether the pressure rises beyond what is known to lift it",
    symbol="r",
    formula="1 where {largest_leak_rate} would be below 0, else 0",
    source="comparison",
    optional=("largest_leak_rate",),
    shown=False,
)
def rising(unsettled_leak_rate: Array, largest_leak_rate: Array) -> Array:
    """1 where the readings rise by more than warming and the instruments explain; else 0."""
    known = ~np.isnan(unsettled_leak_rate)
    return np.where(known, np.isnan(largest_leak_rate).astype(float), np.nan)


@quantity(
    unit="h",
    title="Length of test that would tell, the temperature steady",
    symbol="t_d",
    formula="the shortest, of half an hour to three days, after which tight loops show as tight",
    source="spread of a straight line's slope, twice the standard uncertainty",
    missing_because="no test of up to three days would tell with such readings",
    shown=False,
)
def deciding_hold(
    readings_at: Grouped,
    reading_uncertainty: Array,
    settling: Array,
    mean_pressure: Array,
    unsettled_leak_rate: Array,
    header_content: Array,
    give: Array,
    allowed_leak_rate: Array,
) -> Array:
    """Length of a test read like this one, s."""
    return tightness.deciding_hold(
        reading_uncertainty,
        readings_at.count(),
        settling * mean_pressure,
        unsettled_leak_rate / (header_content * give),
        allowed_leak_rate / (header_content * give),
    )


@quantity(
    unit="h",
    title="Length of test that would tell, the temperature steady and read to 0.1 K",
    symbol="t_f",
    formula="as {deciding_hold}, with a step of 0.1 K",
    source="spread of a straight line's slope, twice the standard uncertainty",
    missing_because="no test of up to three days would tell with such readings",
    shown=False,
)
def fine_deciding_hold(
    readings_at: Grouped,
    gauge_step: Array,
    thermometer_step: Array,
    warming: Array,
    settling: Array,
    mean_pressure: Array,
    unsettled_leak_rate: Array,
    header_content: Array,
    give: Array,
    allowed_leak_rate: Array,
) -> Array:
    """Length of a test with this gauge and a thermometer read to 0.1 K, s."""
    step = np.minimum(thermometer_step, FINE_STEP)
    return tightness.deciding_hold(
        tightness.reading_uncertainty(gauge_step, step, warming),
        readings_at.count(),
        settling * mean_pressure,
        unsettled_leak_rate / (header_content * give),
        allowed_leak_rate / (header_content * give),
    )
