"""Which pictures a design gets, and what each shows."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from markupsafe import Markup

from checker.outcome.drawn_records import FloorPicture
from checker.reports.chart_parts import Mark, Shape, Stroke
from checker.reports.charts import Curve, Row, curves, rows
from checker.reports.facts import Facts
from checker.reports.section_chart import Floor, Layer, Points, section
from checker.reports.sentences import magnitude
from checker.words import listed
from checker.words.speech import Speech

MINUTES_A_DAY = 1440
MOST_ROWS = 40
"""Most rows in a picture; of more, those closest to their limits."""
COOLEST_FLOOR = 15.0
"""°C, where the scale of floor temperatures begins; no heated floor is cooler."""
LEAST_BAR = 0.1
"""bar, free space above and below a test's pressures, so that a small fall does not look large."""


class Drawn(NamedTuple):
    """A picture, its heading, and a sentence that describes it."""

    title: str
    says: str
    svg: Markup


def drawn(facts: Facts) -> Iterator[Drawn]:
    """Every picture for which the design has the data.

    Args:
        facts: the design's numbers, in the units that the pictures show.

    Returns:
        Pictures in the order of a page: lengths, losses, pumps, supplies, rooms, floors, tests,
        first heating.
    """
    yield from _lengths(facts)
    yield from _losses(facts)
    yield from _pumps(facts)
    yield from _supplies(facts)
    yield from _outputs(facts)
    yield from _surfaces(facts)
    yield from _sections(facts)
    yield from _tests(facts)
    yield from _heat_up(facts)


class _Compared(NamedTuple):
    """A subject's value and its limit by a rule; `extra` is added to the value, dotted."""

    subject: str
    value: float
    limit: float | None
    is_broken: bool
    margin: float
    note: str
    extra: float = 0.0

    @property
    def label(self) -> str:
        return self.subject.partition(".")[2]


def _compared(facts: Facts, rule: str, subject: str, value: float, note: str) -> _Compared:
    broken = facts.fails(rule, subject)
    return _Compared(
        subject, value, facts.limit(rule, subject), broken, facts.margin(rule, subject), note
    )


def _bars(
    facts: Facts,
    title: str,
    says: str,
    unit: str,
    compared: Sequence[_Compared],
    key: dict[Shape, str],
    start: float = 0,
) -> Drawn:
    """A bar for each value, with a line at its limit; bars beyond their limits are hatched.

    Of many values those nearest to their limits are shown. The unit is the one of reports; values
    and start are in the reader's.
    """
    shown = sorted(compared, key=lambda one: (not one.is_broken, one.margin))[:MOST_ROWS]
    if len(compared) > MOST_ROWS:
        says += f" Shown: the {MOST_ROWS} of {len(compared)} that are nearest to their limits."
    chosen = {one.subject for one in shown}
    bars = [_row(one, start) for one in compared if one.subject in chosen]
    picture = rows(facts.unit(unit), bars, key, start, speech=facts.speech)
    return Drawn(title, says, picture)


def _row(one: _Compared, start: float) -> Row:
    shape = Shape.BROKEN_BAR if one.is_broken else Shape.BAR
    marks = [Mark(shape, start, one.value)]
    if one.extra:
        marks.append(Mark(Shape.SPARE_BAR, one.value, one.value + one.extra))
    if one.limit is not None:
        marks.append(Mark(Shape.UPRIGHT, one.limit))
    return Row(one.label, marks, one.note)


def _lengths(facts: Facts) -> Iterator[Drawn]:
    compared = []
    for loop in facts.names("loops"):
        subject = f"loops.{loop}"
        length = facts.number(subject, "length")
        if not math.isnan(length):
            compared.append(
                _compared(facts, "loop-length", subject, length, facts.said(length, "m"))
            )
    if compared:
        says = _tally(
            facts,
            "loop-length",
            compared,
            {loop: [f"loops.{loop}"] for loop in facts.names("loops")},
            "is longer than its pipe can feed",
            "are longer than their pipes can feed",
        )
        key = {Shape.UPRIGHT: "limit", Shape.BROKEN_BAR: "too long"}
        yield _bars(facts, "Loop lengths", says, "m", compared, key)


def _losses(facts: Facts) -> Iterator[Drawn]:
    for header in facts.names("headers"):
        compared = []
        index = ""
        for loop in facts.header_loops(header):
            if math.isnan(loop.loss):
                continue
            note = facts.said(loop.loss, "kPa")
            extra = 0.0 if math.isnan(loop.throttle) else loop.throttle
            if loop.is_index:
                note, index = f"{note}, index loop", loop.name
            elif extra:
                note = f"{facts.speech.number(loop.loss)} + {facts.said(extra, 'kPa')}"
            one = _compared(facts, "loop-pressure-drop", loop.subject, loop.loss, note)
            compared.append(one._replace(extra=extra))
        if compared:
            if index:
                says = f"{index} loses most; dotted is what the valves of the others must take."
            elif any(one.extra for one in compared):
                says = "Another header on the pump loses most; dotted is what valves must take."
            else:
                says = "Not every loop's loss is known, so what the valves must take is not either."
            key = {
                Shape.SPARE_BAR: "valve takes",
                Shape.UPRIGHT: "limit",
                Shape.BROKEN_BAR: "too much",
            }
            yield _bars(facts, f"Pressure loss on {header}", says, "kPa", compared, key)


def _pumps(facts: Facts) -> Iterator[Drawn]:
    for header in facts.names("headers"):
        subject = f"headers.{header}"
        if facts.stated(subject, "pump.with") is not None:
            continue  # drawn with the header that states the pump
        served = facts.on_pump(header)
        points = sorted(
            (flow, head)
            for row in facts.rows(subject, "pump_curve")
            if (flow := magnitude(row.get("flow"))) is not None
            and (head := magnitude(row.get("head"))) is not None
        )
        if len(points) < 2:
            continue
        flow, loss = (facts.number(subject, name) for name in ("pump_flow", "pump_loss"))
        lines = [Curve("pump", points, marker=Shape.DOT)]
        says = "What the loops need is not known, so only the pump's curve is drawn."
        if flow > 0 and not math.isnan(loss):
            most = max(points[-1][0], flow)
            # The loss grows with the flow squared, as the met point is worked out.
            top = 1.1 * max(loss, *(head for _, head in points))
            end = min(most, flow * math.sqrt(top / loss)) if loss > 0 else most
            steps = [end * step / 40 for step in range(41)]
            lines.append(
                Curve("loops", [(q, loss * (q / flow) ** 2) for q in steps], Stroke.DASHED)
            )
            lines.append(Curve("needed", [(flow, loss)], Stroke.NONE, Shape.DIAMOND))
            head = facts.number(subject, "pump_head")
            lift = "no known pressure" if math.isnan(head) else facts.said(head, "kPa")
            need = facts.said(loss, "kPa")
            says = f"At {facts.said(flow, 'l/min')} the pump gives {lift}; {need} is needed."
            met_head = facts.number(subject, "met_head")
            met_flow = sum(facts.number(f"headers.{other}", "met_flow") for other in served)
            if not math.isnan(met_flow):
                says += f" Left to itself it settles at {facts.said(met_flow, 'l/min')}."
                lines.append(Curve("they meet", [(met_flow, met_head)], Stroke.NONE, Shape.SQUARE))
        setting = facts.stated(subject, "pump.setting")
        at = f" at setting {setting}" if setting else ""
        picture = curves(facts.unit("l/min"), facts.unit("kPa"), lines, speech=facts.speech)
        yield Drawn(f"Pump of {listed(served)}{at}", says, picture)


def _supplies(facts: Facts) -> Iterator[Drawn]:
    """Flow, loss and pump over the supply, for each header whose supply is higher than needed."""
    for one in facts.supplies:
        least, most = (facts.speech.measure(one.supply[nth], "°C") for nth in (0, -1))
        flows = [facts.speech.measure(one.flow[nth], "l/min") for nth in (0, -1)]
        says = f"With {least} every room is warm, and {flows[0]} run; with {most}, {flows[1]}."
        line = Curve("flow", [*zip(one.supply, one.flow, strict=True)], marker=Shape.DOT)
        picture = curves("°C, supply", "l/min", [line], speech=facts.speech)
        yield Drawn(f"Flow of {one.header} over the supply", says, picture)
        lines = [Curve("loss", [*zip(one.supply, one.loss, strict=True)], Stroke.DASHED)]
        says = f"The loss is {facts.speech.measure(one.loss[0], 'kPa')} with {least}"
        says += f" and {facts.speech.measure(one.loss[-1], 'kPa')} with {most}"
        heads = [(at, head) for at, head in zip(one.supply, one.head, strict=True) if head == head]
        if len(heads) > 1:
            lines.append(Curve("pump", heads))
            says += "; the pump gives what its line shows"
        picture = curves("°C, supply", "kPa", lines, speech=facts.speech)
        yield Drawn(f"Loss and pump of {one.header} over the supply", f"{says}.", picture)


def _outputs(facts: Facts) -> Iterator[Drawn]:
    compared = []
    for room in facts.names("rooms"):
        subject = f"rooms.{room}"
        output, load = (facts.number(subject, name) for name in ("output", "heat_load"))
        if not math.isnan(output):
            one = _compared(facts, "room-heat", subject, output, facts.said(output, "W"))
            compared.append(one._replace(limit=None if math.isnan(load) else load))
    if compared:
        says = _tally(
            facts,
            "room-heat",
            compared,
            {room: [f"rooms.{room}"] for room in facts.names("rooms")},
            "gets less heat than it needs",
            "get less heat than they need",
        )
        key = {Shape.UPRIGHT: "need", Shape.BROKEN_BAR: "too little"}
        yield _bars(facts, "Heat against need", says, "W", compared, key)


def _surfaces(facts: Facts) -> Iterator[Drawn]:
    compared = []
    coolest = facts.speech.converted(COOLEST_FLOOR, "°C")
    for room in facts.names("rooms"):
        known = []
        for loop in facts.loops_of("rooms", room):
            subject = f"loops.{loop}"
            warmest = facts.number(subject, "surface_max")
            if warmest > coolest:
                note = facts.said(warmest, "°C")
                known.append(_compared(facts, "surface-temperature", subject, warmest, note))
        if known:
            # Of a room the loop is shown whose floor comes nearest to its own limit.
            worst = max(known, key=lambda one: one.value - (one.limit or 0.0))
            compared.append(worst._replace(subject=f"rooms.{room}"))
    if compared:
        says = _tally(
            facts,
            "surface-temperature",
            compared,
            {
                room: [f"loops.{loop}" for loop in facts.loops_of("rooms", room)]
                for room in facts.names("rooms")
            },
            "has a floor that gets too hot",
            "have floors that get too hot",
        )
        key = {Shape.UPRIGHT: "limit", Shape.BROKEN_BAR: "too hot"}
        yield _bars(facts, "Floor at its warmest", says, "°C", compared, key, coolest)


def _sections(facts: Facts) -> Iterator[Drawn]:
    """Each floor in section, under its warmest loop."""
    for picture in facts.sections:
        yield floor_in_section(picture, facts.speech)


def floor_in_section(picture: FloorPicture, speech: Speech) -> Drawn:
    """One floor in section.

    Args:
        picture: the floor, in m and °C.
        speech: how values are shown to the reader.

    Returns:
        The picture with its heading and a description.
    """
    highest = max(degrees for _, degrees in picture.surface)
    measure = speech.measure

    def flux(value: float) -> str:
        return speech.said(round(speech.converted(value, "W/m²")), "W/m²")

    def tenth(value: float) -> str:
        return speech.said(round(speech.converted(value, "°C"), 1), "°C")

    up, down = picture.heat
    says = (
        f"With the water at {tenth(picture.water)} under "
        f"{measure(picture.room, '°C')} the floor gives {flux(up)} up and "
        f"{flux(down)} down; its surface is {tenth(highest)} "
        "at its warmest"
    )
    if picture.limit is not None:
        says += f", where {measure(picture.limit, '°C')} is the limit"
    degrees = partial(speech.converted, unit="°C")
    floor = Floor(
        picture.spacing,
        picture.covering,
        [Layer(*layer) for layer in picture.layers],
        picture.depth,
        picture.outside,
        picture.wall,
        picture.plate,
        picture.joist,
        _with_degrees(picture.lines, degrees),
        [(x, degrees(t)) for x, t in picture.surface],
        degrees(picture.mean),
        None if picture.limit is None else degrees(picture.limit),
        speech,
    )
    title = f"Floor in section, pipes {measure(1000 * picture.spacing, 'mm')} apart: "
    says = f"{says}. {picture.note}" if picture.note else f"{says}."
    return Drawn(title + ", ".join(picture.loops), says, section(floor))


def _with_degrees(lines: Points, degrees: Callable[[Any], Any]) -> Points:
    """The points of a section with their temperatures in the reader's degrees."""
    return np.dstack((lines[..., :2], degrees(lines[..., 2])))


def _tests(facts: Facts) -> Iterator[Drawn]:
    for test in facts.names("pressure_tests"):
        subject = f"pressure_tests.{test}"
        readings = sorted(
            (at, pressure, magnitude(row.get("temperature")))
            for row in facts.rows(subject, "readings")
            if (at := magnitude(row.get("at"))) is not None
            and (pressure := magnitude(row.get("pressure"))) is not None
        )
        if len(readings) < 2:
            continue
        _, first, start = readings[0]
        lines = [Curve("read", [(at, pressure) for at, pressure, _ in readings], marker=Shape.DOT)]
        steady = all(temperature == start for _, _, temperature in readings)
        by_kelvin = 0.0 if steady else facts.number(subject, "pressure_per_kelvin")
        says = "Without temperatures the fall cannot be distinguished from the water's cooling."
        if start is not None and facts.stated(subject, "medium") == "water":
            corrected = [
                (at, pressure - by_kelvin * (temperature - start))
                for at, pressure, temperature in readings
                if temperature is not None
            ]
            if not math.isnan(by_kelvin) and len(corrected) > 1:
                lines.append(Curve("temperature taken out", corrected, Stroke.DASHED))
        drop, to_last = facts.fall(subject), facts.number(subject, "corrected_drop")
        if not math.isnan(drop):
            went = f"{'fell' if drop >= 0 else 'rose'} by {facts.said(abs(drop), 'bar')}"
            says = f"With the temperature taken out the pressure {went}"
            says += ", to its lowest reading." if drop > to_last else "."
        taken = facts.limit("test-drop", subject)
        if taken is not None:
            ends = readings[0][0], readings[-1][0]
            lines.append(Curve("least", [(at, first - taken) for at in ends], Stroke.DOTTED))
        around = facts.speech.converted(LEAST_BAR, "bar")
        picture = curves("min", facts.unit("bar"), lines, around, facts.speech)
        yield Drawn(f"Pressure test {test}", says, picture)


def _heat_up(facts: Facts) -> Iterator[Drawn]:
    points: list[tuple[float, float]] = []
    day = 0.0
    for step in facts.rows("design", "heat_up_steps"):
        supply, hold = magnitude(step.get("supply")), magnitude(step.get("hold"))
        if supply is None or hold is None:
            return
        points += [(day, supply), (day + hold / MINUTES_A_DAY, supply)]
        day = points[-1][0]
    if not points:
        return
    done = facts.stated("design", "project.stage") == "installed"
    started = facts.stated("design", "heat_up.started_on")
    says = f"{'Done' if done else 'Planned'}: {_programme(facts)}"
    if isinstance(started, str):
        says += f", from {started}"
    label = "done" if done else "planned"
    picture = curves(
        "day", f"{facts.unit('°C')}, water", [Curve(label, points)], speech=facts.speech
    )
    yield Drawn("First heating", f"{says}.", picture)


def _programme(facts: Facts) -> str:
    parts = []
    for step in facts.rows("design", "heat_up_steps"):
        supply, hold = magnitude(step.get("supply")), magnitude(step.get("hold"))
        if supply is not None and hold is not None:
            days = facts.said(hold / MINUTES_A_DAY, "day" if hold == MINUTES_A_DAY else "days")
            parts.append(f"{days} at {facts.said(supply, '°C')}")
    return ", then ".join(parts)


def _tally(
    facts: Facts,
    rule: str,
    compared: list[_Compared],
    judged: dict[str, list[str]],
    one: str,
    several: str,
) -> str:
    """A sentence about who breaks the rule, and who could not be judged by it.

    `judged` has for each label the subjects that the rule judges.
    """
    names = [row.label for row in compared if row.is_broken]
    open_ = [
        label
        for label, subjects in judged.items()
        if label not in names and not all(facts.is_settled(rule, subject) for subject in subjects)
    ]
    nobody = "None of those that can be judged" if open_ else "None"
    says = f"{_few(names) or nobody} {several if len(names) > 1 else one}."
    return f"{says} Not judged, because data are missing: {_few(open_)}." if open_ else says


def _few(names: list[str]) -> str:
    return ", ".join(names[:4]) + (f" and {len(names) - 4} more" if names[4:] else "")
