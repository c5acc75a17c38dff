"""Compares each loop as designed, as installed and as measured, and says what the readings mean."""

from __future__ import annotations

from datetime import date

import numpy as np
from msgspec import Struct

from checker.audit import inference
from checker.audit.inference import Inferred
from checker.audit.on_site import NAN, Site
from checker.physics import en_1264
from checker.words.speech import Speech


class Difference(Struct, frozen=True):
    """One property of a loop: as designed, as installed, as measured; None where it is not known.

    All properties of a loop are taken from one visit: the last with flow, supply and return, else
    the last with most readings.

    Attributes:
        loop: its id.
        name: of the property.
        unit: of all numbers.
        balanced: the value in the record of the balance.
        measured: the value on the day `on`.
        computed: the model's value for the water that was measured; for a supply, what the day's
            weather needs.
        accuracy: how far measured and computed may differ in 95 % of cases.
        apart: whether they differ by more, or what was laid is not what was designed.
        says: the same in words.
    """

    loop: str
    name: str
    unit: str
    designed: float | None
    installed: float | None
    balanced: float | None
    measured: float | None
    on: date | None
    computed: float | None
    accuracy: float | None
    apart: bool
    says: str


class Explained(Struct, frozen=True):
    """What the readings say about a property of a loop, or why they say nothing."""

    loop: str
    name: str
    unit: str
    stated: float | None
    value: float | None
    low: float | None
    high: float | None
    readings: int
    says: str


_ROWS = (
    ("length", "m", 1.0),
    ("area", "m²", 1.0),
    ("spacing", "mm", 1e-3),
    ("room.covering.resistance", "m²·K/W", 1.0),
    ("flow", "l/min", 1e-3 / 60),
    ("supply_temperature", "°C", 1.0),
    ("return_temperature", "°C", 1.0),
    ("surface_mean", "°C", 1.0),
    ("pressure_drop", "kPa", 1e3),
)
"""The properties that are compared: name, unit shown, and what one of it is in SI."""


def differences(site: Site) -> list[Difference]:
    """Compare each loop as designed, as installed and as read.

    Args:
        site: the job's readings and model.

    Returns:
        For each loop, in file order, the properties that were read, balanced, or laid otherwise
        than designed; `apart` says whether they differ by more than instruments may be off.
    """
    job, found = site.job, []
    for loop in site.paper.ids("loops"):
        visit = _last_complete(site, loop)
        read, last = _read_at(site, loop, visit), _computed_at(site, loop, visit)
        for name, unit, scale in _ROWS:
            balanced = site.paper.value("loop", "balance.flow", loop) if name == "flow" else NAN
            designed, installed = (
                NAN if paper is None else paper.value("loop", name, loop) / scale
                for paper in (job.designed, job.installed)
            )
            measured, deviation = (number / scale for number in read.get(name, (NAN, NAN)))
            computed = last.get(name, NAN) / scale
            on_paper = designed if np.isnan(installed) else installed
            against = on_paper if np.isnan(computed) else computed
            moved = abs(installed - designed) > 1e-6 * abs(designed)
            sure = inference.DEVIATIONS * deviation
            off = abs(measured - against) > sure
            if name == "supply_temperature":
                # Water is cooler on a mild day; it is off below what the day asks for, or where
                # it is hotter than designed.
                against = on_paper if measured > on_paper else computed
                off = measured < computed - sure or measured > on_paper + sure
            if not moved and np.isnan(measured) and np.isnan(balanced):
                continue
            fits = "as computed, within the instruments' accuracy"
            if name == "supply_temperature":
                fits = "warm enough for the weather, and no hotter than designed"
            says = _says(site.speech, moved, off, measured, against, unit, fits)
            found.append(
                Difference(
                    loop=loop,
                    name=name,
                    unit=unit,
                    designed=_known(designed),
                    installed=_known(installed),
                    balanced=_known(balanced / scale),
                    measured=_known(measured),
                    on=None if np.isnan(measured) else site.job.readings.visits[visit].date(),
                    computed=_known(computed),
                    accuracy=_known(sure),
                    apart=bool(moved or off),
                    says=says,
                )
            )
    return found


def _says(
    speech: Speech,
    moved: bool,
    off: bool,
    measured: float,
    against: float,
    unit: str,
    fits: str,
) -> str:
    """What a row comes to; off: read and expected are apart by more than instruments may be."""
    parts = []
    if moved:
        parts.append("laid differently from the design")
    if off:
        more = "more" if measured > against else "less"
        apart = speech.measure(abs(measured - against), "K" if unit == "°C" else unit)
        parts.append(f"read {apart} {more} than expected")
    elif not np.isnan(measured + against):
        parts.append(fits)
    return "; ".join(parts)


def _known(number: float) -> float | None:
    return None if np.isnan(number) else float(number)


def _last_complete(site: Site, loop: str) -> int:
    """The last visit with flow, supply and return, else the one with most readings; -1 for none."""
    read = site.readings(loop)
    waters = np.sum([~np.isnan(one) for one in (read.flow, read.supply, read.back)], axis=0)
    rest = np.sum([~np.isnan(one) for one in (read.surface, read.pressure_drop)], axis=0)
    worth = np.where(waters == _COMPLETE, len(_ROWS), waters + rest)
    return int(np.flatnonzero(worth == worth.max())[-1]) if worth.any() else -1


_COMPLETE = 3
"""How many of flow, supply and return a complete visit has."""
FLOW_EXPONENT = 1.75
"""Power of the flow with which a smooth pipe's loss grows in turbulent water (Blasius; from
memory), for the error that the flow's causes in it."""


def _read_at(site: Site, loop: str, visit: int) -> dict[str, tuple[float, float]]:
    """Each property as read on a visit, with its standard deviation; SI."""
    if visit < 0:
        return {}
    read, errors, waters = site.readings(loop), site.errors, site.waters(loop)
    flow, drop = float(read.flow[visit]), float(read.pressure_drop[visit])
    drop_deviation = float(np.hypot(errors.pressure, FLOW_EXPONENT * errors.flow * drop))
    return {
        "flow": (flow, flow * errors.flow),
        "supply_temperature": (float(read.supply[visit]), errors.temperature),
        "return_temperature": (float(read.back[visit]), float(waters.return_deviation[visit])),
        "surface_mean": (float(read.surface[visit]), float(waters.surface_deviation[visit])),
        "pressure_drop": (drop, drop_deviation),
    }


def _computed_at(site: Site, loop: str, visit: int) -> dict[str, float]:
    """The model's values for the water of a visit; SI."""
    if visit < 0:
        return {}
    read, waters, model = site.readings(loop), site.waters(loop), site.model(loop)
    water = (read.supply + read.back) / 2
    needed = np.where(np.isnan(read.supply), NAN, site.needed_supply(loop))
    columns = {
        "supply_temperature": needed,
        "return_temperature": read.back - waters.returned,
        "surface_mean": read.surface - waters.surface,
        "pressure_drop": model.gradient_at(read.flow, water) * model.length,
    }
    return {name: float(values[visit]) for name, values in columns.items()}


def explained(site: Site) -> list[Explained]:
    """Say what readings show about the covering and the length of each loop.

    Args:
        site: the job's readings and model.

    Returns:
        Two for each loop with readings, in file order; one about which they say nothing has no
        value, and words that say why.
    """
    found = []
    for loop in site.paper.ids("loops"):
        read = site.readings(loop)
        nothing_read = all(
            np.isnan(column).all()
            for column in (read.flow, read.back, read.pressure_drop, read.content)
        )
        if nothing_read:
            continue
        for what in (inference.COVERING, inference.LENGTH):
            one = site.inferred(loop, what)
            found.append(
                Explained(
                    loop=loop,
                    name=one.name,
                    unit=one.unit,
                    stated=_known(one.stated),
                    value=_known(one.value),
                    low=_known(one.low),
                    high=_known(one.high),
                    readings=one.readings,
                    says=_explained_words(one, site.speech),
                )
            )
    return found


def _explained_words(one: Inferred, speech: Speech) -> str:
    """What readings say about a property, in a sentence."""
    if np.isnan(one.value):
        return f"Not inferable: {speech.words(one.because)}."
    stated = "" if np.isnan(one.stated) else f"; {speech.measure(one.stated, one.unit)} is stated"
    range_words = f"{speech.measure(one.low, one.unit)} to {speech.measure(one.high, one.unit)}"
    if one.name == inference.COVERING and one.high >= en_1264.COVERING_RANGE[1]:
        range_words += " or more"
    words = f"{speech.measure(one.value, one.unit)} ({range_words}, 95 %){stated}"
    if np.isnan(one.stated) or one.low <= one.stated <= one.high:
        return f"{words}: the readings do not contradict it."
    return f"{words}: this would explain the readings, if all else is as drawn."
