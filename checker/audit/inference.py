"""What a floor must be like to give the readings: the model of the check, solved backwards.

Pure functions on arrays: SI, temperatures in °C, one element per reading. The accuracy of an
instrument is taken as two standard deviations of a normal error (JCGM 100:2008, 4.3; from memory).
An error of a reading that goes into the model (flow, supply, room) is carried to the result by the
model's own slope, and is added to the error of the reading that it is compared with. The same
instruments read every visit, so more visits do not narrow a result: its standard deviation is that
of one typical reading.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from checker.arrays import Array, Mask
from checker.audit.loop_models import LoopModel
from checker.physics import en_1264, floor, floor_surface
from checker.words import number

DEVIATIONS = 1.96
"""Standard deviations on either side of the mean that hold 95 % of a normal distribution."""
CONTRADICTION = 0.01
"""Readings less probable than this under a right model contradict it, or one another."""
_TRIED = 151  # coverings, 0.001 m²·K/W apart, far finer than readings can tell
WIDEST_LENGTH = 0.25
"""A length with a larger standard deviation than this share of it is not reported."""


class LoopReadings(Struct, frozen=True):
    """The readings of one loop, shape (visits,), NaN where something was not read."""

    flow: Array
    supply: Array
    back: Array
    room: Array
    surface: Array
    pressure_drop: Array
    content: Array


class Errors(Struct, frozen=True):
    """Standard deviations of readings.

    Attributes:
        flow: share of the reading.
        temperature: K.
        surface: K.
        pressure: Pa.
        content: share of the reading.
    """

    flow: float
    temperature: float
    surface: float
    pressure: float
    content: float


class Inferred(Struct, frozen=True):
    """What readings say about one property. SI; value, low and high (95 %) are NaN where they say
    nothing, and `because` then says why.
    """

    name: str
    unit: str
    stated: float
    value: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    readings: int = 0
    because: str = ""
    beyond: int = 0
    """1 where it must be more than the model can represent, -1 where less, else 0."""
    again: bool = False
    """Whether reading again could help, because the readings contradict one another."""

    @property
    def deviation(self) -> float:
        """The standard deviation of the value."""
        return (self.high - self.low) / (2 * DEVIATIONS)


COVERING = "covering.resistance"
LENGTH = "length"


def spread(
    model: Callable[[Array, Array, Array], Array],
    flow: Array,
    supply: Array,
    room: Array,
    errors: Errors,
    own: float,
) -> Array:
    """Standard deviation of the difference between a reading and the model's value.

    First-order propagation (JCGM 100:2008, 5.1.2; from memory), slopes by central differences.

    Args:
        model: a function of flow, supply and room.
        flow: m³/s, shape (readings,).
        supply: °C.
        room: °C.
        errors: the standard deviations of the instruments.
        own: standard deviation of the reading that is compared with the model.

    Returns:
        In the unit of the model's result, shape of flow.
    """
    steps = (0.01 * flow, np.full_like(supply, 0.1), np.full_like(room, 0.1))
    signs = np.kron(np.eye(3), [[1.0], [-1.0]]).reshape(6, 3, *(1,) * flow.ndim)
    moved = [
        values + signs[:, number] * step
        for number, (values, step) in enumerate(zip((flow, supply, room), steps, strict=True))
    ]
    found = model(*moved)
    by_step = (found[0::2] - found[1::2]) / 2
    sizes = (errors.flow / 0.01, errors.temperature / 0.1, errors.temperature / 0.1)
    return np.sqrt(own**2 + np.tensordot(np.square(sizes), by_step**2, axes=1))


def covering(loop: LoopModel, read: LoopReadings, errors: Errors) -> Inferred:
    """Infer the resistance of the covering with which the model's return is the one that was read.

    Least squares over all visits with flow, supply and return, and the surface where it was read,
    within the range of the tables of EN 1264-2 (0 to 0.15 m²·K/W). Everything else about the loop
    is taken as it is on paper.

    Args:
        loop: the loop as it is on paper.
        read: its readings.
        errors: the standard deviations of the instruments.

    Returns:
        The resistance with its range, m²·K/W; without a value, and with the reason, where the
        readings are too few, too coarse or contradict one another, or no covering gives them.
    """
    known = ~np.isnan(read.flow + read.supply + read.back)
    flow, supply = read.flow[known], read.supply[known]
    room = np.where(np.isnan(read.room), loop.room_temperature, read.room)[known]
    seen = ~np.isnan(read.surface[known])
    measured = np.concatenate((read.back[known], read.surface[known][seen]))
    blank = Inferred(
        COVERING, "m²·K/W", loop.covering_resistance, readings=int(np.count_nonzero(known))
    )
    if not blank.readings:
        return replace(blank, because="flow, supply and return were not read at the same time")
    flow, supply, room = (values[:, np.newaxis] for values in (flow, supply, room))
    least, most = en_1264.COVERING_RANGE
    tried = np.linspace(least, most, _TRIED)
    outcome = np.concatenate(_waters_and_surfaces(loop, flow, supply, room, tried, seen))
    apart = outcome[:, -1:] - outcome[:, :1]
    middle = (least + most) / 2
    at = (flow, supply, room, errors)
    noise_back = spread(lambda f, s, r: loop.return_at(f, s, r, middle), *at, errors.temperature)
    noise_surface = spread(lambda f, s, r: loop.surface_at(f, s, r, middle), *at, errors.surface)
    noise = np.concatenate((noise_back, noise_surface[seen]))
    if not (np.isfinite(outcome).all() and np.isfinite(noise).all()):
        return replace(
            blank,
            because="the model has no answer at these readings: a datum of the floor is missing, "
            "or the supply is not warm enough above the room",
        )
    if float(np.sqrt(np.mean((apart / noise) ** 2))) < 2 * DEVIATIONS:
        moves = float(np.mean(np.abs(apart)[: len(flow)]))
        good = float(DEVIATIONS * np.mean(noise_back))
        return replace(
            blank,
            because=f"from no covering to {number(most)} m²·K/W the return moves by "
            f"{number(moves)} K, and the readings are only good to ±{number(good)} K",
        )
    residuals = (measured[:, np.newaxis] - outcome) / noise
    squares = np.sum(residuals**2, axis=0)
    best = int(np.argmin(squares))
    off = float(np.mean(residuals[:, best] * np.sign(apart[:, 0])))
    if off > DEVIATIONS:
        return replace(
            blank,
            because=f"even {number(most)} m²·K/W, where the tables of EN 1264-2 end, would take "
            "more heat from the water than was read",
            beyond=1,
        )
    if off < -DEVIATIONS:
        return replace(
            blank,
            because="even a bare floor would take less heat from the water than was read: heat "
            "goes elsewhere, or the loop heats more floor than drawn",
            beyond=-1,
        )
    if contradict(float(squares[best]), len(measured)):
        return replace(
            blank,
            because="no covering gives all of the readings: they contradict one another, or "
            "something else is not as drawn",
            again=True,
        )
    inner = min(max(best, 1), _TRIED - 2)
    slope = (outcome[:, inner + 1] - outcome[:, inner - 1]) / (tried[inner + 1] - tried[inner - 1])
    steep = slope[:, np.newaxis] / noise
    # One step of Gauss and Newton from the best that was tried.
    value = tried[best] + float(np.sum(steep[:, 0] * residuals[:, best]) / np.sum(steep**2))
    value = min(max(value, least), most)
    half = DEVIATIONS / float(np.sqrt(np.mean(steep**2)))
    return replace(blank, value=value, low=max(least, value - half), high=min(most, value + half))


def _waters_and_surfaces(
    loop: LoopModel,
    flow: Array,
    supply: Array,
    room: Array,
    coverings: Array,
    seen: Mask,
) -> tuple[Array, Array]:
    """Returns and measured surfaces, °C, with each covering; shape (visits, coverings)."""
    back = loop.return_at(flow, supply, room, coverings)
    output = loop.coefficient(coverings) * floor.excess(supply, back, room)
    return back, floor_surface.surface_mean(room, output)[seen]


def contradict(squares: float, count: int) -> bool:
    """Whether a sum of squared residuals is too large to be chance, for one fitted value.

    Chi-squared with count − 1 degrees of freedom.

    Args:
        squares: sum of squared residuals, each divided by its variance.
        count: the number of residuals.

    Returns:
        Whether so large a sum is less probable than CONTRADICTION; False for fewer than two
        residuals.
    """
    if count < 2:
        return False
    return chi_squared_tail(squares, count - 1) < CONTRADICTION


def chi_squared_tail(squares: float, freedom: int) -> float:
    """Give the probability that chi-squared is at least this large.

    Args:
        squares: sum of squares of standard normal variables.
        freedom: degrees of freedom, at least 1.

    Returns:
        From 0 to 1.

    Source:
        The closed form for whole degrees of freedom: Abramowitz and Stegun, Handbook of
        Mathematical Functions (1964), 26.4.4 (odd) and 26.4.5 (even) (from memory), both with
        factorials written as the gamma function and computed as logarithms, so that none overflows.
    """
    half = squares / 2
    if half <= 0:
        return 1.0
    if math.isinf(half):
        return 0.0
    steps = (step / 2 for step in range(freedom % 2, freedom - 1, 2))
    terms = (math.exp(s * math.log(half) - half - math.lgamma(s + 1)) for s in steps)
    return math.fsum((math.erfc(math.sqrt(half)) if freedom % 2 else 0.0, *terms))


def length(loop: LoopModel, read: LoopReadings, errors: Errors) -> Inferred:
    """Infer the loop's length from its pressure loss and flow, or from its water content.

    Each reading gives a length: the loss over the loss of one metre at that flow and water (Darcy
    and Weisbach, in proportion to the length), or the content over the bore's area. They are
    combined by least squares, each weighted by its inverse variance.

    Args:
        loop: the loop as it is on paper.
        read: its readings.
        errors: the standard deviations of the instruments.

    Returns:
        The length with its range, m; without a value, and with the reason, where nothing of the
        kind was read, or the readings are too coarse or contradict one another.
    """
    water = (read.supply + np.where(np.isnan(read.back), read.supply, read.back)) / 2
    # Without temperatures the water is taken at 35 °C, the middle of what floors run at; a change
    # of 10 K there moves the loss by some 4 %, which is added to the error.
    unknown = np.isnan(water)
    water = np.where(unknown, 35.0, water)
    gradient = loop.gradient_at(read.flow, water)
    loss = np.where(read.pressure_drop > 0, read.pressure_drop, np.nan)
    by_loss = loss / gradient
    steep = loop.gradient_at(read.flow * 1.01, water) / loop.gradient_at(read.flow * 0.99, water)
    exponent = (steep - 1) / 0.02
    relative = np.sqrt(
        (errors.pressure / loss) ** 2
        + (exponent * errors.flow) ** 2
        + np.where(unknown, 0.04, 0.0) ** 2
    )
    by_content = read.content / (np.pi / 4 * loop.bore**2)
    lengths = np.concatenate((by_loss, by_content))
    deviations = np.concatenate((by_loss * relative, by_content * errors.content))
    known = np.isfinite(lengths) & np.isfinite(deviations) & (lengths > 0)
    lengths, deviations = lengths[known], deviations[known]

    blank = Inferred(LENGTH, "m", loop.length, readings=len(lengths))
    if not blank.readings and (read.pressure_drop <= 0).any():
        words = "its pressure loss was read as zero, which no length of pipe gives"
        return replace(blank, because=words, again=True)
    if not blank.readings:
        return replace(
            blank,
            because="neither its pressure loss with its flow nor its water content was read; the "
            "temperatures depend on the heated area, not on the length",
        )
    weights = deviations**-2
    value = float(np.sum(weights * lengths) / np.sum(weights))
    deviation = float(np.sqrt(len(lengths) / np.sum(weights)))
    half = DEVIATIONS * deviation
    if deviation > WIDEST_LENGTH * value:
        words = f"the readings leave it within {number(value)} ± {number(half)} m"
        return replace(blank, because=words)
    if contradict(float(np.sum(((lengths - value) / deviations) ** 2)), len(lengths)):
        return replace(
            blank,
            because="the readings contradict one another: no length gives all of them",
            again=True,
        )
    return replace(blank, value=value, low=max(0.0, value - half), high=value + half)
