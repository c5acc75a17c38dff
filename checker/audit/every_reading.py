"""Every reading of a job as an audit shows it: when, where, how good, and what is left of it.

How good an instrument was declared to be stands beside what the likeliest explanation of all
readings leaves of that reading, which is how good it was observed to be.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator

from msgspec import Struct

from checker.audit.fits import Residual
from checker.audit.readings import Accuracy, Reading, Readings, moment_text
from checker.reading.documents import Problem
from checker.words.speech import Speech

FILLED_IN = ".xlsx"

_UNITS = {
    "flow": ("l/min", 6e4),
    "flow_purged": ("l/min", 6e4),
    "flow_other_head": ("l/min", 6e4),
    "pressure_drop": ("kPa", 1e-3),
    "pressure": ("bar", 1e-5),
    "content": ("l", 1e3),
    "glycol": ("%", 1e2),
}
"""Units in which readings are shown, and how many of them make one SI unit; all others in °C."""
_RESIDUALS = {
    ("headers", "supply"): "supply beside its loops'",
    ("headers", "return"): "return beside its loops'",
}


class ReadingTaken(Struct, frozen=True):
    """One reading as the audit shows it.

    Attributes:
        visit: day, and time of day where it was noted.
        subject: 'loops.L1'.
        name: of the property ('flow').
        value: in `unit`.
        accuracy: as declared, two standard deviations either way, in `unit`; null where nothing was
            declared.
        left: what the likeliest explanation leaves of it, in `left_unit`; null where it is not
            beside the model.
        place: the name of its file, and the line of its subject there.
    """

    visit: str
    subject: str
    name: str
    value: float
    unit: str
    accuracy: float | None
    left: float | None
    left_unit: str
    place: str

    def words(self, speech: Speech) -> str:
        """Word the reading.

        Args:
            speech: how values are shown to the reader.

        Returns:
            Name and value, and how far off the instrument was declared to be, where it was.
        """
        value = f"{self.name.replace('_', ' ')} {speech.measure(self.value, self.unit)}"
        return value if self.accuracy is None else f"{value} ±{self.declared(speech)}"

    def declared(self, speech: Speech) -> str:
        """Word how far off the instrument was declared to be.

        Args:
            speech: how values are shown to the reader.

        Returns:
            The value with its unit; a dash where nothing was declared.
        """
        unit = "K" if self.unit == "°C" else self.unit
        return "–" if self.accuracy is None else speech.measure(self.accuracy, unit)

    def observed(self, speech: Speech) -> str:
        """Word the deviation that the likeliest explanation leaves of the reading.

        Args:
            speech: how values are shown to the reader.

        Returns:
            The value with its unit; a dash where the reading is not compared with the model.
        """
        return "–" if self.left is None else speech.measure(self.left, self.left_unit)


def every_reading(taken: Readings, residuals: Iterable[Residual]) -> Iterator[ReadingTaken]:
    """List all readings of a job.

    Args:
        taken: the readings.
        residuals: what the likeliest explanation leaves of them, where a fit was made.

    Returns:
        Visit by visit, the air outside first, then in the order of the files; not what loggers
        wrote.
    """
    left = {(one.subject, one.what, one.visit): one for one in residuals}
    for number, visit in enumerate(taken.visits):
        if visit in taken.outside:
            outside = taken.outside[visit]
            yield ReadingTaken(
                moment_text(visit),
                "outside",
                "temperature",
                outside,
                "°C",
                None,
                None,
                "",
                os.path.basename(taken.files.get(visit, taken.path)),
            )
        for one in taken.taken:
            if one.on != visit:
                continue
            section = one.subject.partition(".")[0]
            what = _RESIDUALS.get((section, one.name), one.name)
            unit, scale = _UNITS.get(one.name, ("°C", 1.0))
            of = left.get((one.subject, what, number))
            yield ReadingTaken(
                moment_text(visit),
                one.subject,
                one.name,
                one.value * scale,
                unit,
                _accuracy(one, taken.accuracy, scale),
                None if of is None else of.value,
                "" if of is None else of.unit,
                _place(taken.files.get(visit, taken.path), one),
            )


def _place(path: str, one: Reading) -> str:
    """File and line; a form has cells, and is named alone."""
    name = os.path.basename(path)
    return name if name.endswith(FILLED_IN) else f"{name}:{Problem('', one.place).line}"


def _accuracy(one: Reading, off: Accuracy, scale: float) -> float | None:
    """As declared, in the unit of the value; None for what nothing was declared of."""
    if one.name.startswith("flow"):
        return off.flow * one.value * scale
    if one.name.startswith("surface"):
        return off.surface
    if one.name in ("pressure", "pressure_drop"):
        return off.pressure * scale
    if one.name == "content":
        return off.content * one.value * scale
    return off.temperature if one.name in ("temperature", "supply", "return") else None


def by_subject(readings: Iterable[ReadingTaken]) -> dict[tuple[str, str], list[ReadingTaken]]:
    """Group readings by visit and subject.

    Args:
        readings: in the order in which they are shown.

    Returns:
        By the visit's day and time in words and the subject, its readings in order.
    """
    found: dict[tuple[str, str], list[ReadingTaken]] = {}
    for one in readings:
        found.setdefault((one.visit, one.subject), []).append(one)
    return found
