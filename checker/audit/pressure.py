"""What a header's gauge, read with its temperature on site, says about a leak: the model of the
tests.

The readings go through the same quantities as a pressure test (`checker.quantities.tightness`),
with the loops of the header as they are on paper. Only the pipes have been under pressure for
longer, so they settle less (`tightness.IN_SERVICE`).
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from checker.arrays import Array
from checker.audit.papers import JudgedDesign
from checker.audit.readings import Readings
from checker.compute.columns import Grouped
from checker.compute.registry import REGISTRY
from checker.physics import tightness
from checker.quantities.test import WATER
from checker.words.speech import Speech

MANY = 2


class Leak(Struct, frozen=True):
    """What the gauge says about a leak, m³/s; NaN where it says nothing.

    Attributes:
        rate: the likeliest.
        low: the lower end of what holds it in 95 % of cases.
        high: the upper end.
        sure: the least that surely leaks.
        most: the most that the readings let leak.
        allowed: what a buried pipe may lose and count as tight.
        days: from the first reading to the last.
        readings: how many there are.
        unread: what should have been read, in words.
        because: why readings say nothing.
        emptied: whether the pressure was gone between two readings, so that the rate is the least
            that leaks.
    """

    rate: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    sure: float = float("nan")
    most: float = float("nan")
    allowed: float = float("nan")
    days: float = 0.0
    readings: int = 0
    unread: tuple[str, ...] = ()
    because: str = ""
    emptied: bool = False

    @property
    def deviation(self) -> float:
        """The standard deviation of the rate."""
        return (self.high - self.low) / 4

    def words(self, speech: Speech) -> str:
        """Word the rate with its range, and the time over which it was read.

        Args:
            speech: how values are shown to the reader.

        Returns:
            A phrase without a full stop; only for a leak whose rate is known.
        """
        low, high, rate = (
            speech.measure(max(one, 0.0) * ML_PER_HOUR, "ml/h")
            for one in (self.low, self.high, self.rate)
        )
        over = f"{self.readings} readings over {self.days * 24:.3g} h"
        if self.emptied:
            gone = "for the pressure was gone between two readings"
            return f"{rate} or far more (at least {low}, 95 %), {gone}, by {over}"
        return f"{rate} ({low} to {high}, 95 %) by {over}"


ML_PER_HOUR = 3.6e9


def leak(paper: JudgedDesign, taken: Readings, header: str) -> Leak:
    """Work out what the gauge of a header says about a leak.

    Args:
        paper: the design as it is on paper.
        taken: the job's readings; a logger's count before those of visits.
        header: the header's id.

    Returns:
        The leak, m³/s; without a rate, and with what is unread or the reason, where the readings
        say nothing.
    """
    rows = _read(taken, header)
    if len(rows) < MANY:
        gauge = taken.of(f"headers.{header}", "pressure")
        wanted = () if len(gauge) >= MANY else ("the gauge, twice",)
        return Leak(unread=(*wanted, "the temperature of its water"))
    loops = paper.loops_at(header)
    known: dict[str, object] = {
        "size": 1,
        "medium": np.full(1, float(WATER)),
        "stood": np.full(1, tightness.IN_SERVICE),
        "readings.at": _members([at for at, _, _ in rows]),
        "readings.pressure": _members([pressure for _, pressure, _ in rows]),
        "readings.temperature": _members([warm for _, _, warm in rows]),
        "header.content": np.array([paper.value("header", "content", header)]),
    }
    for name in ("content", "pipe.bore_compliance", "pipe.bore_expansion", "pipe.creep"):
        values = [paper.value("loop", name, loop) for loop in loops]
        known[f"tested_loops.{name}"] = _members(values)
    found = {name: float(_worked(name, known)[0]) for name in _WANTED}
    days = (rows[-1][0] - rows[0][0]) / 86400
    if np.isnan(found["leak_rate"]) or np.isnan(found["allowed_leak_rate"]):
        words = "the pressure rises by more than warming explains"
        if np.isnan(found["allowed_leak_rate"]):
            words = "a figure of the header's pipes is missing"
        return Leak(days=days, readings=len(rows), because=words)
    rate, low, high, sure, most, allowed = (found[name] for name in _WANTED)
    emptied = not np.isnan(_worked("emptied_leak_rate", known)[0])
    return Leak(
        rate, low, high, sure, most, allowed, days=days, readings=len(rows), emptied=emptied
    )


def _read(taken: Readings, header: str) -> list[tuple[float, float, float]]:
    """Time (s), pressure (Pa) and temperature (°C), from a logger, else from the gauge on
    visits.
    """
    logged = [row for row in taken.logged.get(header, ()) if not np.isnan(row[2])]
    if len(logged) >= MANY:
        return logged
    subject = f"headers.{header}"
    pressure, temperature = (taken.of(subject, name) for name in ("pressure", "temperature"))
    both = sorted(set(pressure) & set(temperature))
    return [((on - both[0]).total_seconds(), pressure[on], temperature[on]) for on in both]


_WANTED = (
    "leak_rate",
    "leak_rate_low",
    "leak_rate_high",
    "least_leak_rate",
    "largest_leak_rate",
    "allowed_leak_rate",
)


def _members(values: list[float]) -> Grouped:
    return Grouped(np.array(values), np.zeros(len(values), dtype=np.int64), 1)


def _worked(name: str, known: dict[str, object]) -> Array:
    """A quantity of a pressure test, computed from known values as the graph would."""
    if name not in known:
        one = REGISTRY["test", name]
        with np.errstate(invalid="ignore", divide="ignore"):
            values = one.function(*(_worked(each, known) for each in one.inputs))
        known[name] = values
    found: Array = known[name]  # type: ignore[assignment]
    return found
