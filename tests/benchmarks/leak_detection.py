"""How surely a leak is found in the readings of a pressure test: simulated records, known leaks.

`python -m tests.benchmarks.leak_detection` prints, for kinds of record, how often the verdict is
tight, cannot tell and leaking, and how often the true leak lies within the stated uncertainty. A
false alarm is `leaking` without a leak; a miss is `tight` with a leak above the allowed one.

The records are made by other means than those that judge them: the mass of water and air is kept
to the full, the bore grows by a power of the time under load, a leak goes with the root of the
pressure, and moduli, expansions, exponents, trapped air, the thermometer's share, the time stood
before and the instruments' scatter are drawn again for each record. The loops are invented: 400 m of
pipe of 16 × 2 mm (copper: 15 × 1 mm) on one header, pumped to 4 bar at 15 °C.

The last two rows break the model on purpose. The study's spreads are those of the model, so it
checks consistency, not practice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

import checker.quantities  # noqa: F401  # registers the quantities
from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.registry import REGISTRY
from checker.physics import fluid, leak, tightness
from checker.quantities.test import WATER

ABSOLUTE_ZERO = -273.15
HOUR = 3600.0
LITRE_PER_HOUR = 1e-3 / HOUR


@dataclass(frozen=True)
class Kind:
    """A kind of record; spreads are half-widths of even distributions unless said otherwise.

    leak: in parts of the allowed one; hold: h; drift: K over the hold; gauge: Pa; thermometer: K;
    air: most that is trapped, as a share of the bore at the test's pressure; stood: shortest and
    longest time under pressure before the first reading, s, even in its logarithm; exponent: of
    the plastic's settling, below zero for one that recovers from a higher pressure.
    """

    leak: float = 0.0
    hold: float = 2.0
    drift: float = 0.0
    readings: int = 9
    gauge: float = 1e3
    thermometer: float = 0.1
    material: str = "PE-RT"
    air: float = 0.002
    stood: tuple[float, float] = (60.0, 43_200.0)
    exponent: tuple[float, float] = (0.04, 0.12)


@dataclass(frozen=True)
class Rates:
    """Shares of the records judged tight, not to tell, leaking; and of leaks within the bounds."""

    tight: float
    cannot_tell: float
    leaking: float
    covered: float


def judged(kind: Kind, records: int, seed: int) -> Rates:
    """Simulate as many records of a kind and judge them."""
    random = np.random.default_rng(seed)
    outside, wall = (0.015, 0.001) if kind.material == "copper" else (0.016, 0.002)
    elasticity = leak.ELASTICITY[kind.material]
    compliance = float(leak.bore_compliance(outside, wall, elasticity.modulus, elasticity.poisson))
    expansion = float(leak.bore_expansion(elasticity.expansion, elasticity.poisson))
    volume = np.pi / 4 * (outside - 2 * wall) ** 2 * 400.0

    def even(low: float, high: float) -> Array:
        return random.uniform(low, high, (records, 1))

    true_compliance = compliance / even(2 / 3, 4 / 3)
    true_expansion = expansion * even(2 / 3, 4 / 3)
    exponent = even(*kind.exponent) * (elasticity.creep > 0)
    air = even(0.0, kind.air)
    seen = even(4 / 5, 1.0)
    stood = np.exp(even(np.log(kind.stood[0]), np.log(kind.stood[1])))
    first = 4e5
    water = float(fluid.compressibility(15.0))
    # Allowed is a loss of pipes with the likely give; of those that give more, the same fall.
    likely = water + compliance + tightness.MOST_AIR / 2 / (first + leak.ATMOSPHERE)
    give = water + true_compliance + air / (first + leak.ATMOSPHERE)
    leaks = kind.leak * tightness.ALLOWED_FALL * volume * np.maximum(give, likely)
    at = np.broadcast_to(
        np.linspace(0.0, kind.hold * HOUR, kind.readings), (records, kind.readings)
    )
    wander = random.normal(0.0, 0.02, at.shape)
    temperature = 15.0 + kind.drift * at / (kind.hold * HOUR) + wander
    pressure = _pressure(
        at, temperature, first, volume, true_compliance, true_expansion, exponent, stood, air, leaks
    )
    noisy = pressure + random.normal(0.0, 0.3 * kind.gauge, at.shape)
    shown = 15.0 + seen * (temperature - 15.0) + even(-0.5, 0.5)
    shown = shown + random.normal(0.0, 0.3 * kind.thermometer, at.shape)
    group = np.repeat(np.arange(records), kind.readings)

    def members(values: Array) -> Grouped:
        return Grouped(values.ravel(), group, records)

    known: dict[str, object] = {
        "readings.at": members(np.array(at)),
        "readings.pressure": members(np.rint(noisy / kind.gauge) * kind.gauge),
        "readings.temperature": members(np.rint(shown / kind.thermometer) * kind.thermometer),
        "size": records,
        "medium": np.full(records, float(WATER)),
        "header.content": np.full(records, volume),
        "pipes_compliance": np.full(records, compliance),
        "pipes_expansion": np.full(records, expansion),
        "pipes_relaxation": np.full(records, compliance * elasticity.creep),
    }
    tight, leaking = _value("tight", known) == 1, _value("leaking", known) == 1
    rate, spread = _value("leak_rate", known), _value("leak_rate_uncertainty", known)
    bounded = ~np.isnan(rate)
    covered = (np.abs(rate - leaks[:, 0]) <= spread * (1 + 1e-9))[bounded]
    return Rates(
        float(tight.mean()),
        float((~tight & ~leaking).mean()),
        float(leaking.mean()),
        float(covered.mean()),
    )


def _value(name: str, known: dict[str, object]) -> Array:
    """A quantity of the test, worked out from what is known as the graph would."""
    if name not in known:
        one = REGISTRY["test", name]
        with np.errstate(invalid="ignore"):
            known[name] = one.function(*(_value(each, known) for each in one.inputs))
    return known[name]  # type: ignore[return-value]


def _pressure(
    at: Array,
    temperature: Array,
    first: float,
    volume: float,
    compliance: Array,
    expansion: Array,
    exponent: Array,
    stood: Array,
    air: Array,
    leaks: Array,
) -> Array:
    """Gauge pressure at each reading, by bisection on the volume that water and air take up.

    The bore: V·(1 + β·ΔT + C·(p·(1 + t/τ)^n − p₀)); the water: what was there less what has leaked,
    at its density; the air: ideal gas.
    """
    lost = np.zeros_like(at)
    pressure = np.full_like(at, first)
    for number in range(at.shape[1]):
        if number:
            step = (at[:, number] - at[:, number - 1])[:, None]
            falling = np.sqrt(np.maximum(pressure[:, number - 1 : number], 0.0) / first)
            lost[:, number : number + 1] = lost[:, number - 1 : number] + leaks * falling * step
        low, high = np.full((len(at), 1), -5e4), np.full((len(at), 1), 3e6)
        warmer = temperature[:, number : number + 1] - 15.0
        slack = (1 + at[:, number : number + 1] / stood) ** exponent
        for _ in range(50):
            middle = (low + high) / 2
            bore = 1 + expansion * warmer + compliance * (middle * slack - first)
            squeezed = fluid.compressibility(15.0) * (middle - first)
            grown = fluid.expansion(15.0 + warmer / 2) * warmer
            water = (1 - air - lost[:, number : number + 1] / volume) * (1 + grown - squeezed)
            gas = air * (first + leak.ATMOSPHERE) / (middle + leak.ATMOSPHERE)
            gas = (
                gas * (temperature[:, number : number + 1] - ABSOLUTE_ZERO) / (15.0 - ABSOLUTE_ZERO)
            )
            full = water + gas > bore
            low, high = np.where(full, middle, low), np.where(full, high, middle)
        pressure[:, number] = ((low + high) / 2)[:, 0]
    return pressure


BASE = Kind()
CASES: dict[str, Kind] = {
    "2 h, steady": BASE,
    "20 min, 1 K thermometer": replace(BASE, hold=1 / 3, readings=3, thermometer=1.0),
    "20 min, two readings": replace(BASE, hold=1 / 3, readings=2),
    "20 min, 0.1 bar gauge": replace(BASE, hold=1 / 3, readings=5, gauge=1e4),
    "2 h, 1 K thermometer": replace(BASE, thermometer=1.0),
    "2 h, warming by 1 K": replace(BASE, drift=1.0),
    "2 h, cooling by 1 K": replace(BASE, drift=-1.0),
    "2 h, cooling by 3 K": replace(BASE, drift=-3.0),
    "2 h, just pumped up": replace(BASE, stood=(60.0, 120.0)),
    "2 h, stood a day": replace(BASE, stood=(86_400.0, 172_800.0)),
    "2 h, PE-X": replace(BASE, material="PE-X"),
    "2 h, PB": replace(BASE, material="PB"),
    "2 h, copper": replace(BASE, material="copper"),
    "2 h, copper, warming by 1 K": replace(BASE, material="copper", drift=1.0),
    "8 h, steady": replace(BASE, hold=8.0),
    "24 h, steady": replace(BASE, hold=24.0, readings=13),
    "24 h, 1 K warmer": replace(BASE, hold=24.0, readings=13, drift=1.0),
}
BEYOND: dict[str, Kind] = {
    "2 h, up to 1 % air": replace(BASE, air=0.01),
    "2 h, recovering": replace(BASE, exponent=(-0.04, -0.01)),
}
"""Records that break what the model takes for granted, to see what becomes of the verdict."""
LEAKS = (0.0, 0.5, 2.0, 5.0, 20.0)


def of(name: str, leak: float) -> Kind:
    """A kind of record by its name, with a leak in parts of the allowed one."""
    return replace((CASES | BEYOND)[name], leak=leak)


def main(records: int = 400) -> None:
    """Print the table."""
    print(f"{records} records each; leaks in parts of the allowed one; shares in %")
    print("tight / cannot tell / leaking (true leak within the stated uncertainty)")
    print(f"{'record':<29}" + "".join(f"{f'leak × {one:g}':>22}" for one in LEAKS))
    for number, name in enumerate(CASES | BEYOND):
        cells = []
        for leaks in LEAKS:
            found = judged(of(name, leaks), records, seed=number)
            shares = (found.tight, found.cannot_tell, found.leaking)
            words = " / ".join(f"{100 * share:.0f}" for share in shares)
            cells.append(f"{words} ({100 * found.covered:.0f})")
        print(f"{name:<29}" + "".join(f"{cell:>22}" for cell in cells), flush=True)


if __name__ == "__main__":
    main()
