"""Closed pipes under pressure: mass of water and air kept to the full, a bore that creeps, a leak.

The pipe is a thick tube whose modulus falls with temperature; under load it creeps as a power of
the time, each change of pressure for itself (Boltzmann). Water by G. S. Kell (1975) cut to four
terms; trapped air an ideal gas. All from memory; the spreads are ours.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
ATMOSPHERE = 101325.0
MINUTE = 60.0
MOST_AIR = 0.002
"""Share of the bore that air may fill. No source tells it; the program takes the same, and a leak in
pipe of metal, whose give is mostly that of its air, is found no better than this is known."""

MATERIALS = {
    # modulus, Pa; linear growth, 1/K; Poisson's ratio; creeps; outside, wall, m
    "PE-X": ((550e6, 900e6), (1.4e-4, 2.0e-4), 0.46, True, 0.016, 0.002),
    "PE-RT": ((500e6, 750e6), (1.5e-4, 2.0e-4), 0.46, True, 0.016, 0.002),
    "PB": ((350e6, 500e6), (1.2e-4, 1.4e-4), 0.46, True, 0.016, 0.002),
    "copper": ((115e9, 130e9), (1.65e-5, 1.75e-5), 0.34, False, 0.015, 0.001),
}


@dataclass(frozen=True)
class Pipes:
    """One closed header's pipes; leak in m³/s at `at`; power 0.5 for a hole, 1 for a weeping seam."""

    volume: float
    modulus: float
    growth: float
    poisson: float
    creep: float
    air: float
    outside: float = 0.016
    wall: float = 0.002
    leak: float = 0.0
    power: float = 0.5
    at: float = 4e5
    long: bool = True


def density(celsius: Array | float) -> Array:
    """Water, kg/m³; Kell, cut."""
    t = np.asarray(celsius, dtype=float)
    top = 999.83952 + 16.945176 * t - 7.9870401e-3 * t**2 - 46.170461e-6 * t**3
    return np.asarray((top + 105.56302e-9 * t**4) / (1 + 16.87985e-3 * t))


def compressibility(celsius: float) -> float:
    """Of water, 1/Pa; Kell, cut."""
    t = celsius
    return (50.88496 + 0.6163813 * t + 1.459187e-3 * t**2) * 1e-11 / (1 + 0.01967348 * t)


def record(pipes: Pipes, first: float, stood: float, at: Array, warm: Array) -> Array:
    """Gauge pressure, Pa, at these times (s from the first reading) and water temperatures, °C.

    Kept at `first` (Pa) for `stood` s before the first reading, then shut off; the leak counts
    from then on, for what leaked before was made up.
    """
    # What leaks in a step is reckoned with the pressure it begins with, so steps are short, the
    # shorter the earlier: a leak may empty the pipes within the first hours.
    fine = np.unique(np.concatenate([at[-1] * np.linspace(0, 1, 160) ** 1.5, at]))
    celsius = np.interp(fine, at, warm)
    inner = pipes.outside / 2 - pipes.wall
    outer = pipes.outside / 2
    shape = ((1 - 2 * pipes.poisson) * inner**2 + outer**2) / (outer**2 - inner**2)
    give = 2 * (1 + pipes.poisson) / pipes.modulus * shape
    growth = (2 * (1 + pipes.poisson) if pipes.long else 3.0) * pipes.growth
    start = float(celsius[0])
    loaded_at, loads = [-stood], [first]
    gas = pipes.air * pipes.volume * (first + ATMOSPHERE) / (start + 273.15)

    def bore(now: float, t: float, step: float) -> float:
        aged = ((now - np.array(loaded_at) + MINUTE) / MINUTE) ** pipes.creep
        soft = float(np.exp(0.015 * (t - 20))) if pipes.creep else 1.0
        stretch = give * (float(np.sum(np.array(loads) * aged)) + step)
        return pipes.volume * (1 + growth * (t - start) + soft * stretch)

    room = bore(0.0, start, 0.0) - pipes.air * pipes.volume
    mass = room * float(density(start)) * (1 + compressibility(start) * first)
    pressure = np.full(len(fine), first)
    for number in range(1, len(fine)):
        now, t, last = float(fine[number]), float(celsius[number]), float(pressure[number - 1])
        spent = now - float(fine[number - 1])
        mass -= pipes.leak * (max(last, 0.0) / pipes.at) ** pipes.power * spent * float(density(t))
        low, high = -9e4, 4e6
        for _ in range(45):
            middle = (low + high) / 2
            filling = mass / float(density(t)) / (1 + compressibility(t) * middle)
            filling += gas * (t + 273.15) / (middle + ATMOSPHERE)
            if filling > bore(now, t, middle - last):
                low = middle
            else:
                high = middle
        pressure[number] = (low + high) / 2
        loaded_at.append(now)
        loads.append(pressure[number] - last)
    return np.asarray(np.interp(at, fine, pressure))


def drawn(material: str, chance: np.random.Generator, volume: float, leak: float) -> Pipes:
    """Pipes of a material whose properties are drawn again."""
    modulus, growth, poisson, creeps, outside, wall = MATERIALS[material]
    return Pipes(
        volume,
        float(chance.uniform(*modulus)),
        float(chance.uniform(*growth)),
        poisson,
        float(chance.uniform(0.04, 0.11)) if creeps else 0.0,
        float(chance.uniform(0.0, MOST_AIR)),
        outside,
        wall,
        leak,
        0.5 if chance.random() < 0.7 else 1.0,
    )


def gauge(kind: str, volume: float, chance: np.random.Generator) -> Iterator[tuple[date, str, float, float]]:  # fmt: skip
    """A gauge as read on site with the header shut off: day, time of day, bar, °C."""
    rate = {"leak": (40, 150), "small leak": (15, 40)}.get(kind, (0.0, 0.0))
    leak = float(chance.uniform(*rate)) / 3.6e9
    pipes = drawn("PE-RT", chance, volume, leak)
    hours = np.array([0.0, 65 * 24.0]) if kind == "months" else np.array([0.0, 0.25, 1, 3, 8, 24])
    warm = 22 + chance.normal(0, 0.4, len(hours))
    if kind == "months":
        warm[-1] = warm[0] + 1.2
    pipes = Pipes(**{**pipes.__dict__, "at": 1.5e5})
    bars = record(pipes, 1.6e5, 3e6, hours * 3600, warm) / 1e5
    start = datetime(2025, 1, 12, 9, 0)
    for hour, bar, celsius in zip(hours, bars, warm, strict=True):
        when = start + timedelta(hours=float(hour))
        yield when.date(), when.strftime("%H:%M"), max(round(float(bar) / 0.02) * 0.02, 0.0), round(float(celsius) / 0.1) * 0.1  # fmt: skip
