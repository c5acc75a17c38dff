"""An audit as one HTML file that works without a network, for showing to the other party."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache, partial

from jinja2 import Environment, PackageLoader
from markupsafe import Markup

from checker import __version__
from checker.audit.degrees import diminishing_sum
from checker.audit.differences import Difference
from checker.audit.editions import alike
from checker.audit.every_reading import by_subject
from checker.audit.records import Audit, gathered
from checker.audit.text import COMPUTED, EXPLANATION, step_needs
from checker.audit.timeline import out_of_order
from checker.reports.chart_parts import STYLE, Mark, Shape
from checker.reports.charts import Event, Row, rows, timeline
from checker.words.speech import Speech
from checker.words.templates import templates

PICTURED = {
    "return_temperature": "Return, as read and as computed for the water the loop got",
    "surface_mean": "Surface, as read and as computed for the water the loop got",
    "supply_temperature": "Supply, as read and as the weather of the day asks for",
    "flow": "Flow, as read and as designed",
    "pressure_drop": "Pressure loss, as read and as computed for the stated length",
}
"""The properties that are drawn, and the words below each picture."""
LABELS = {"room.covering.resistance": "covering resistance"}
COMPARED = {
    Shape.DOT: "read",
    Shape.CROSS: "read, apart",
    Shape.SPAN: "what the instruments allow",
    Shape.DIAMOND: "compared with",
}
RANGED = {
    Shape.DOT: "likeliest",
    Shape.CROSS: "likeliest, not as stated",
    Shape.SPAN: "range of 95 %",
    Shape.UPRIGHT: "stated",
}
WEIGHED = {Shape.BAR: "for", Shape.SPARE_BAR: "against", Shape.UPRIGHT: "together"}
"""The meaning of the shapes in each picture."""


def written(audit: Audit) -> bytes:
    """Write an audit as a page that needs nothing else.

    Args:
        audit: what to write, in its own units and decimal mark.

    Returns:
        The page in UTF-8.
    """
    template = _environment().get_template("audit.html")
    page: str = template.render(
        audit=audit,
        version=__version__,
        style=Markup(_style()) + STYLE,  # our own
        explanation=EXPLANATION,
        step_needs=step_needs,
        timeline=timeline(_events(audit)),
        unknown_days=[event.name for event in audit.timeline if event.on is None],
        weighed=_weighed(audit),
        pictures=[*_compared(audit), *_ranged(audit)],
        says=gathered(audit.explained),
        by_subject=by_subject(audit.every_reading),
        loops=_loops(audit),
        days={row.loop: row.on for row in audit.differences if row.on},
        out_of_order=out_of_order(audit.timeline),
        changed=alike(audit.editions) if audit.editions else [],
    )
    return page.encode()


@cache
def _environment() -> Environment:
    made = templates("checker.audit")
    made.filters["shown"] = _shown
    made.filters["label"] = _label
    made.filters["computed_as"] = lambda name: COMPUTED.get(name, "computed")
    return made


@cache
def _style() -> str:
    loader = PackageLoader("checker.reports")
    source, _, _ = loader.get_source(Environment(autoescape=True), "page.css")
    return source


def _shown(value: float | None, unit: str, speech: Speech) -> str:
    return "–" if value is None else speech.measure(value, unit)


def _rows(speech: Speech, unit: str, made: list[Row]) -> Markup:
    return rows(speech.unit(unit), made, RANGED, speech=speech)


def _label(name: str) -> str:
    return LABELS.get(name, name.replace("_", " "))


def _events(audit: Audit) -> list[Event]:
    """The days that are known; a day before one that should come earlier is marked as wrong."""
    found: list[Event] = []
    for event in audit.timeline:
        if event.on is not None:
            early = bool(found) and event.on < found[-1].on
            found.append(Event(event.name, event.on, early or event.name == "complaint"))
    return found


def _weighed(audit: Audit) -> Markup:
    """A picture of the points for and against each cause, and their sum."""
    made = []
    for place, cause in enumerate(audit.causes, 1):
        sums = [
            diminishing_sum(p.points for p in pieces)
            for pieces in (cause.supporting, cause.against)
        ]
        marks = [
            Mark(shape, 0.0, points)
            for shape, points in zip((Shape.BAR, Shape.SPARE_BAR), sums, strict=True)
            if points
        ]
        marks.append(Mark(Shape.UPRIGHT, cause.points))
        made.append(Row(f"{place}. {cause.title}", marks, f"{cause.points:+.1f}"))
    return rows("points", made, WEIGHED, labels_above=True) if made else Markup("")


def _compared(audit: Audit) -> Iterator[tuple[str, Markup, list[str]]]:
    """Pictures of readings with their instruments' errors, and what they are compared with."""
    for name, words in PICTURED.items():
        made, lines = [], []
        unit, speech = "", audit.speech
        for row in audit.differences:
            against = _against(row)
            if row.name != name or row.measured is None or against is None:
                continue
            unit = row.unit
            at = partial(speech.converted, unit=unit)
            read = _read(row.measured, row.accuracy, row.apart, at)
            marks = [Mark(Shape.DIAMOND, at(against)), *read]
            made.append(Row(row.loop, marks))
            computed = f"{speech.measure(against, unit)} computed"
            lines.append(f"{row.loop}: {speech.measure(row.measured, unit)} read, {computed}")
        if made:
            yield words, rows(speech.unit(unit), made, COMPARED, speech=speech), lines


def _read(
    value: float, accuracy: float | None, apart: bool, at: Callable[[float], float]
) -> list[Mark]:
    """The marks of one reading: its value, and what its instrument allows."""
    point = Mark(Shape.CROSS if apart else Shape.DOT, at(value))
    if not accuracy:
        return [point]
    span = Shape.APART_SPAN if apart else Shape.SPAN
    return [Mark(span, at(value - accuracy), at(value + accuracy)), point]


def _against(row: Difference) -> float | None:
    """What a reading is compared with: the model's value, else that on paper."""
    for value in (row.computed, row.installed, row.designed):
        if value is not None:
            return value
    return None


def _ranged(audit: Audit) -> Iterator[tuple[str, Markup, list[str]]]:
    """Pictures of what readings say about a property: its 95 % range, its middle, and what is
    stated.
    """
    for name in dict.fromkeys(one.name for one in audit.explained):
        own = [one for one in audit.explained if one.name == name]
        made = []
        for one in own:
            if one.value is None or one.low is None or one.high is None:
                continue
            apart = one.stated is not None and not one.low <= one.stated <= one.high
            span = Shape.APART_SPAN if apart else Shape.SPAN
            at = partial(audit.speech.converted, unit=one.unit)
            marks = [Mark(span, at(one.low), at(one.high))]
            if one.stated is not None:
                marks.append(Mark(Shape.UPRIGHT, at(one.stated)))
            marks.append(Mark(Shape.CROSS if apart else Shape.DOT, at(one.value)))
            made.append(Row(one.loop, marks))
        if made:
            words = (
                f"{_label('room.' + name) if '.' in name else 'Length'}, as the readings have it"
            )
            words = words[0].upper() + words[1:]
            lines = [f"{one.loop}: {one.says}" for one in own if one.value is not None]
            yield words, _rows(audit.speech, own[0].unit, made), lines


def _loops(audit: Audit) -> dict[str, list[Difference]]:
    loops: dict[str, list[Difference]] = {}
    for row in audit.differences:
        loops.setdefault(row.loop, []).append(row)
    return loops
