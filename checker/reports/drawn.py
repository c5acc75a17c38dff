"""Which pictures a design gets, and what stands in each."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from checker.outcome.results import Value
from checker.reports.facts import Facts
from checker.reports.pictures import BAR, INK, MUTED, Bar, Curve, bars, curves
from checker.reports.sentences import magnitude
from checker.words import measure

MINUTES_A_DAY = 1440
COOLEST_FLOOR = 15.0
"""°C, where the scale of floor temperatures begins; nothing here is cooler."""


class Drawn(NamedTuple):
    """A picture, its heading, and a sentence that says what is to be seen in it."""

    title: str
    says: str
    svg: str


def drawn(facts: Facts) -> Iterator[Drawn]:
    """Every picture for which the design has the data."""
    yield from _lengths(facts)
    yield from _losses(facts)
    yield from _pumps(facts)
    yield from _outputs(facts)
    yield from _surfaces(facts)
    yield from _tests(facts)
    yield from _heat_up(facts)


def _lengths(facts: Facts) -> Iterator[Drawn]:
    rows = []
    for loop in facts.names("loops"):
        subject = f"loops.{loop}"
        length = facts.number(subject, "length")
        if math.isnan(length):
            continue
        limit = facts.limit("loop-length", subject)
        broken = facts.fails("loop-length", subject)
        rows.append(Bar(loop, length, limit, broken, note=_note(length, "m", broken, "too long")))
    if rows:
        says = _tally(rows, "longer than its pipe can feed", "longer than their pipes can feed")
        yield Drawn("Loop lengths", says, bars("m", rows, "limit"))


def _losses(facts: Facts) -> Iterator[Drawn]:
    for header in facts.names("headers"):
        rows = []
        index = ""
        for loop in facts.header_loops(header):
            if math.isnan(loop.loss):
                continue
            subject = loop.subject
            broken = facts.fails("loop-pressure-drop", subject)
            known = not math.isnan(loop.throttle)
            note = measure(loop.loss, "kPa")
            if loop.is_index:
                note, index = f"{note}, index loop", loop.name
            elif known:
                note += f" + {measure(loop.throttle, 'kPa')}"
            limit = facts.limit("loop-pressure-drop", subject)
            throttle = loop.throttle if known else 0.0
            rows.append(Bar(loop.name, loop.loss, limit, broken, throttle, note))
        if rows:
            says = (
                f"{index} loses most; dotted is what the valves of the others must take."
                if index
                else "Not every loop's loss is known, so what the valves must take is not either."
            )
            yield Drawn(f"Pressure loss on {header}", says, bars("kPa", rows, "limit"))


def _pumps(facts: Facts) -> Iterator[Drawn]:
    for header in facts.names("headers"):
        subject = f"headers.{header}"
        points = sorted(
            (flow, head)
            for row in facts.rows(subject, "pump_curve")
            if (flow := magnitude(row.get("flow"))) is not None
            and (head := magnitude(row.get("head"))) is not None
        )
        if len(points) < 2:
            continue
        flow, loss = (facts.number(subject, name) for name in ("flow", "pressure_drop"))
        lines = [Curve("pump", points, marker="o")]
        says = "What the loops need is not known, so only the pump's curve is drawn."
        if flow > 0 and not math.isnan(loss):
            most = max(points[-1][0], flow)
            # The loss grows with the flow squared, as the met point is worked out.
            top = 1.1 * max(loss, *(head for _, head in points))
            end = min(most, flow * math.sqrt(top / loss)) if loss > 0 else most
            steps = [end * step / 40 for step in range(41)]
            lines.append(Curve("loops", [(q, loss * (q / flow) ** 2) for q in steps], "--", INK))
            lines.append(Curve("needed", [(flow, loss)], "", INK, "D"))
            head = facts.number(subject, "pump_head")
            lift = "no known pressure" if math.isnan(head) else measure(head, "kPa")
            need = measure(loss, "kPa")
            says = f"At {measure(flow, 'l/min')} the pump gives {lift}; {need} is needed."
            met_flow, met_head = (facts.number(subject, name) for name in ("met_flow", "met_head"))
            if not math.isnan(met_flow):
                says += f" Left to itself it settles at {measure(met_flow, 'l/min')}."
                lines.append(Curve("they meet", [(met_flow, met_head)], "", BAR, "s"))
        yield Drawn(f"Pump of {header}", says, curves("l/min", "kPa", lines))


def _outputs(facts: Facts) -> Iterator[Drawn]:
    rows = []
    for room in facts.names("rooms"):
        subject = f"rooms.{room}"
        output, load = (facts.number(subject, name) for name in ("output", "heat_load"))
        if math.isnan(output):
            continue
        broken = facts.fails("room-heat", subject)
        note = _note(output, "W", broken, "too little")
        rows.append(Bar(room, output, None if math.isnan(load) else load, broken, note=note))
    if rows:
        says = _tally(rows, "gets less heat than it needs", "get less heat than they need")
        yield Drawn("Heat against need", says, bars("W", rows, "need"))


def _surfaces(facts: Facts) -> Iterator[Drawn]:
    rows = []
    for room in facts.names("rooms"):
        known = []
        for loop in facts.loops_of("rooms", room):
            subject = f"loops.{loop}"
            warmest = facts.number(subject, "surface_max")
            if warmest > COOLEST_FLOOR:
                limit = facts.limit("surface-temperature", subject)
                known.append((warmest - (limit or 0.0), warmest, limit, subject))
        if known:
            _, warmest, limit, subject = max(known, key=lambda one: one[0])
            broken = facts.fails("surface-temperature", subject)
            note = _note(warmest, "°C", broken, "too hot")
            rows.append(Bar(room, warmest, limit, broken, note=note))
    if rows:
        says = _tally(rows, "has a floor that gets too hot", "have floors that get too hot")
        picture = bars("°C", rows, "limit", COOLEST_FLOOR)
        yield Drawn("Floor at its warmest", says, picture)


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
        lines = [Curve("read", [(at, pressure) for at, pressure, _ in readings], marker="o")]
        steady = all(temperature == start for _, _, temperature in readings)
        by_kelvin = 0.0 if steady else facts.number(subject, "pressure_per_kelvin")
        says = "Without temperatures the fall cannot be told from the water's cooling."
        if start is not None and facts.stated(subject, "medium") == "water":
            corrected = [
                (at, pressure - by_kelvin * (temperature - start))
                for at, pressure, temperature in readings
                if temperature is not None
            ]
            if not math.isnan(by_kelvin) and len(corrected) > 1:
                lines.append(Curve("temperature taken out", corrected, "--", INK))
        drop, to_last = facts.fall(subject), facts.number(subject, "corrected_drop")
        if not math.isnan(drop):
            went = f"{'fell' if drop >= 0 else 'rose'} by {measure(abs(drop), 'bar')}"
            says = f"With the temperature taken out the pressure {went}"
            says += ", to its lowest reading." if drop > to_last else "."
        taken = facts.limit("test-drop", subject)
        if taken is not None:
            ends = readings[0][0], readings[-1][0]
            lines.append(Curve("least", [(at, first - taken) for at in ends], ":", MUTED))
        picture = curves("min", "bar", lines, from_nought=False)
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
    says = f"{'Done' if done else 'Planned'}: {_programme(facts.rows('design', 'heat_up_steps'))}"
    if isinstance(started, str):
        says += f", from {started}"
    label = "done" if done else "planned"
    picture = curves("day", "°C, water", [Curve(label, points)])
    yield Drawn("First heating", f"{says}.", picture)


def _programme(steps: tuple[dict[str, Value], ...]) -> str:
    parts = []
    for step in steps:
        supply, hold = magnitude(step.get("supply")), magnitude(step.get("hold"))
        if supply is not None and hold is not None:
            days = measure(hold / MINUTES_A_DAY, "day" if hold == MINUTES_A_DAY else "days")
            parts.append(f"{days} at {measure(supply, '°C')}")
    return ", then ".join(parts)


def _note(value: float, unit: str, broken: bool, words: str) -> str:
    return measure(value, unit) + (f", {words}" if broken else "")


def _tally(rows: list[Bar], one: str, several: str) -> str:
    names = [row.label for row in rows if row.broken]
    if not names:
        return "None " + one + "."
    listed = ", ".join(names[:4]) + (f" and {len(names) - 4} more" if names[4:] else "")
    return f"{listed} {one if len(names) == 1 else several}."
