"""What is observed of a sign: its value with a deviation, and in words."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from checker.arrays import Array
from checker.audit.on_site import NAN, Site


class Observed(NamedTuple):
    """What is observed of a sign at one subject.

    Attributes:
        value: SI; NaN where it was not read.
        deviation: its standard deviation, SI.
        words: what was seen.
    """

    value: float
    deviation: float = 0.0
    words: str = ""


NOT_READ = Observed(NAN)
SignFunction = Callable[[Site, str], Observed]
"""What works a sign out of a job's readings and model, for the id of one subject."""


def negative(sign: SignFunction) -> SignFunction:
    """Turn a sign round, so that it grows with the opposite.

    Args:
        sign: works a value out.

    Returns:
        Works out the same value with the other sign.
    """

    def turned(site: Site, name: str) -> Observed:
        found = sign(site, name)
        return found._replace(value=-found.value)

    return turned


def over_visits(
    site: Site, apart: Array, deviation: Array | float, than: str, high: str = "above"
) -> Observed:
    """Make the mean of a temperature difference over the visits.

    Args:
        site: the job, for how values are shown.
        apart: K, shape (visits,), NaN where it was not read.
        deviation: its standard deviation, K, of each visit or of all.
        than: what the difference is from, in words.
        high: what a difference above 0 is: 'above' or 'below' that.

    Returns:
        The mean; NOT_READ where no visit has it.
    """
    known = ~np.isnan(apart)
    if not known.any():
        return NOT_READ
    value = float(np.mean(apart[known]))
    spread = float(np.mean(np.broadcast_to(deviation, apart.shape)[known]))
    word = high if value >= 0 else _OPPOSITE[high]
    return Observed(value, spread, f"{site.speech.measure(abs(value), 'K')} {word} {than}")


_OPPOSITE = {"above": "below", "below": "above"}


def read_of_loop(site: Site, loop: str, name: str) -> Array:
    """Give what was read at a loop.

    Args:
        site: the job.
        loop: its id.
        name: of the reading ('flow').

    Returns:
        SI, temperatures in °C, shape (visits,), NaN where it was not read.
    """
    return read_at(site, f"loops.{loop}", name)


def read_at(site: Site, subject: str, name: str) -> Array:
    """Give what was read at a subject.

    Args:
        site: the job.
        subject: 'headers.H1'.
        name: of the reading ('supply').

    Returns:
        SI, temperatures in °C, shape (visits,), NaN where it was not read.
    """
    values = site.job.readings.of(subject, name)
    return np.array([values.get(day, NAN) for day in site.job.readings.visits], dtype=np.float64)


def flow_words(site: Site, flow: float) -> str:
    """Word a flow.

    Args:
        site: the job, for how values are shown.
        flow: m³/s.

    Returns:
        The flow in the reader's unit.
    """
    return site.speech.measure(flow * 6e4, "l/min")
