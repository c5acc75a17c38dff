"""The result of the fit over all readings of a job, as numbers and in words."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from msgspec import Struct

from checker.words.speech import Speech

MOST_POINTS = 3.0
"""The points that a ranking of causes gives what all readings say together, without doubt."""
NO_DOUBT = 5.0
"""Natural logarithm of the odds from which there is no doubt; our convention."""
OUTSIDE = 2.0
"""Residuals above this many standard deviations are reported."""
MOST_LEFT = 6
"""At most this many groups of equal residuals are reported."""
LEAST = 4
"""At least this many readings must have a value of the model before a fit is made, and as many of
one kind before their scatter is told."""


class Residual(Struct, frozen=True):
    """A reading minus the value of the best explanation.

    Attributes:
        subject: what was read, such as `loops.L1`.
        what: the quantity, such as `flow`.
        visit: the number of the visit, from 0.
        value: the difference, in `unit`.
        unit: in which reports show it.
        deviations: the difference in standard deviations of the reading.
    """

    subject: str
    what: str
    visit: int
    value: float
    unit: str
    deviations: float


class Fit(Struct, frozen=True):
    """What all readings of a job together say.

    Attributes:
        odds: for each cause the logarithm of the odds that it is at work.
        best: the causes of the likeliest explanation, none where nothing is wrong.
        residuals: the differences that it leaves.
        readings: how many readings have a value of the model; 0 where no fit was made.
    """

    odds: dict[str, float] = {}
    best: tuple[str, ...] = ()
    residuals: tuple[Residual, ...] = ()
    readings: int = 0

    def sentences(self, titles: dict[str, str], on: list[str], speech: Speech) -> Iterator[str]:
        """Say the likeliest explanation, and the readings that it leaves unexplained.

        Args:
            titles: the titles of the causes, by id.
            on: the day of each visit, in words.
            speech: how values are shown to the reader.

        Returns:
            Sentences; none where too little was read for a fit.
        """
        if not self.readings:
            return
        causes = [titles[cause] for cause in self.best if cause in titles]
        named = ("; " if len(self.best) > 2 else " and ").join(causes)
        yield (
            f"{self.readings} readings were compared with the model at once, allowing for errors "
            "of instruments and model that all of them share. Likeliest: "
            f"{named or 'nothing wrong'}."
        )
        scatter = [*self._scatter(speech)]
        if scatter:
            words = ", ".join(scatter)
            yield f"What that leaves scatters, by two standard deviations: {words}."
        unexplained = [one for one in self.residuals if abs(one.deviations) > OUTSIDE]
        if not unexplained:
            yield f"It explains every reading to within {OUTSIDE:g} standard deviations."
        # A deviation shared by several, such as that of a header's water, is reported once.
        subjects_of: dict[tuple[str, int, str, float], list[str]] = {}
        for one in sorted(unexplained, key=lambda one: -abs(one.deviations)):
            difference = speech.measure(one.value, one.unit)
            same = (one.what, one.visit, difference, round(one.deviations, 1))
            subjects_of.setdefault(same, []).append(one.subject)
        for (what, visit, difference, deviations), subjects in [*subjects_of.items()][:MOST_LEFT]:
            yield (
                f"It does not explain {', '.join(subjects)} {what}, {on[visit]}: {difference} off "
                f"({deviations:+.1f} standard deviations)."
            )

    def _scatter(self, speech: Speech) -> Iterator[str]:
        """How far the residuals of each kind of reading scatter about their mean, in words."""
        for what in ("flow", "supply", "return", "surface"):
            own = [one for one in self.residuals if one.what == what]
            if len(own) >= LEAST:
                off = 2 * float(np.std([one.value for one in own], ddof=1))
                yield f"{what} ±{speech.measure(off, own[0].unit)}"

    def points(self, cause: str) -> float:
        """Give the points that all readings together give a cause.

        Args:
            cause: its id.

        Returns:
            From -MOST_POINTS, where they rule it out, to MOST_POINTS, where they leave no doubt; 0
            where they say nothing about it.
        """
        return MOST_POINTS * float(np.clip(self.odds.get(cause, 0.0) / NO_DOUBT, -1.0, 1.0))
