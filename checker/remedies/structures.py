"""Changes of more than one value: loops split or moved, another pipe, feeds, lengths."""

from __future__ import annotations

import math
from collections.abc import Iterator

from checker.compute.naming import TABLE_OF
from checker.design.leaves import Leaf
from checker.design.schema import PARTS
from checker.reading.documents import Mapping, Sequence
from checker.reading.yaml_text import flow
from checker.remedies.candidates import (
    Candidate,
    Offered,
    as_typed,
    rounded_length,
)
from checker.remedies.naming import called
from checker.remedies.site import Site
from checker.remedies.typed_values import IMPERIAL, plain, typed, unit_of
from checker.remedies.water import flow_setters, pump, steps_of_heating
from checker.rulebook.beside_records import Lever
from checker.words import listed


def _split(lever: Lever, site: Site, table: str, row: int) -> Iterator[Candidate]:
    """The loop as two, the second on a free port of the same header."""
    for loop in site.related(table, row, "loops"):
        header = site.value("loops", "header", loop)
        if math.isnan(header):
            continue
        for port in _free_ports(site, int(header))[:1]:
            yield from _halves(lever, site, loop, port, ())


def _split_with_port(lever: Lever, site: Site, table: str, row: int) -> Iterator[Candidate]:
    """The loop as two, where no port is free: on a header with one port more."""
    for loop in site.related(table, row, "loops"):
        header = site.value("loops", "header", loop)
        if math.isnan(header) or _free_ports(site, int(header)):
            continue
        path = site.path("headers", int(header), "ports")
        ports = site.number(path)
        if not math.isnan(ports):
            more = plain(ports + 1)
            yield from _halves(lever, site, loop, int(ports) + 1, (f"{path}={more}",))


def _free_ports(site: Site, header: int) -> list[int]:
    """The ports of a header that no loop uses, in order."""
    ports = site.value("headers", "ports", header)
    if math.isnan(ports):
        return []
    taken = {site.value("loops", "port", loop) for loop in site.related("headers", header, "loops")}
    return [port for port in range(1, int(ports) + 1) if port not in taken]


def _halves(
    lever: Lever, site: Site, loop: int, port: int, more: tuple[str, ...]
) -> Iterator[Candidate]:
    """The loop as two of half its floor each, the second on this port; more: further changes."""
    name = site.tables["loops"].ids[loop]
    own = site.text(f"loops.{name}")
    second = _free_name(site, name)
    feeds = _feeds(site, name)
    path = f"loops.{name}.length"
    length = rounded_length(site, path, (site.number(path) + feeds) / 2)
    if not isinstance(own, Mapping) or not length or math.isnan(feeds):
        return
    half: dict[str, str] = {"length": length}
    changes = [f"loops.{name}.length={length}"]
    parts = own.get("parts")
    for path, key in _areas(name, own):
        area = site.number(path)
        if math.isnan(area):
            return
        text = as_typed(site, path, area / 2)
        changes.append(f"{path}={text}")
        if key:
            half[key] = text
    if "flow" in own:
        half["flow"] = as_typed(site, f"loops.{name}.flow", site.number(f"loops.{name}.flow") / 2)
        changes.append(f"loops.{name}.flow={half['flow']}")
    made = {key: value for key, value in own.items() if key != "header" or value}
    fields = []
    for key, value in made.items():
        if key == "port":
            continue
        if key == "parts" and isinstance(parts, Sequence):
            value = _halved_parts(site, name, parts)
        fields.append((key, half.get(key, flow(value))))
    at = 1 if fields and fields[0][0] == "header" else 0
    fields.insert(at, ("port", str(port)))
    record = ", ".join(f"{key}: {text}" for key, text in fields)
    changes.append(f"loops.{second}={{{record}}}")
    header = called(site.name("headers", int(site.value("loops", "header", loop))))
    yield Candidate(
        lever,
        (*more, *changes),
        f"loop {name} split into two of {length}, the second, {second}, on port {port} of {header}"
        + (f", which then needs {more[0].partition('=')[2]} ports" if more else ""),
        1.0 + len(more),
        f"{lever.name} {name}",
    )


def _areas(name: str, own: Mapping) -> Iterator[tuple[str, str]]:
    """The paths of a loop's areas, and the key of one that is in the loop itself."""
    parts = own.get("parts")
    if isinstance(parts, Sequence):
        for number in range(1, len(parts) + 1):
            yield f"loops.{name}.parts[{number}].area", ""
    else:
        yield f"loops.{name}.area", "area"


def _halved_parts(site: Site, name: str, parts: Sequence) -> Sequence:
    """The parts of a loop, each with half its area."""
    made = Sequence(parts.place)
    for number, part in enumerate(parts, start=1):
        own = Mapping(part.place)
        own.update(part)
        path = f"loops.{name}.parts[{number}].area"
        own["area"] = as_typed(site, path, site.number(path) / 2)
        made.append(own)
    return made


def _feeds(site: Site, name: str) -> float:
    """The length of a loop's feeds, m; NaN where it is not stated."""
    stated = site.text(f"loops.{name}.feeds")
    if isinstance(stated, Sequence):
        return sum(
            site.number(f"loops.{name}.feeds[{number}].length")
            for number in range(1, len(stated) + 1)
        )
    row = site.row("loops", name)
    return math.nan if row is None else site.value("loops", "feeds", row)


def _free_name(site: Site, name: str) -> str:
    """A name for a second loop that no loop has."""
    taken = {site.tables["loops"].ids[row] for row in site.rows("loops")}
    return next(
        made for letter in "bcdefghijklmnopqrstuvwxyz" if (made := f"{name} {letter}") not in taken
    )


def _free_port(lever: Lever, site: Site, table: str, row: int) -> Iterator[Candidate]:
    """The loop on a free port of its header, else of another header that has one."""
    for loop in site.related(table, row, "loops"):
        name = site.tables["loops"].ids[loop]
        own = site.value("loops", "header", loop)
        stated = site.text(f"loops.{name}.port")
        full = math.isnan(own) or not _free_ports(site, int(own))
        for far, header in enumerate(site.rows("headers") if full else [int(own)]):
            here = header == own
            for port in _free_ports(site, header)[:1]:
                changes = [f"loops.{name}.port={port}"]
                title = site.name("headers", header)
                if not here:
                    changes.insert(0, f"loops.{name}.header={site.tables['headers'].ids[header]}")
                was = f" instead of port {stated}" if stated and here else ""
                yield Candidate(
                    lever,
                    tuple(changes),
                    f"loop {name} on port {port} of {called(title)}{was}",
                    1.0 + far,
                    f"{lever.name} {title}",
                )


def _pipe_size(lever: Lever, site: Site, table: str, row: int) -> Iterator[Candidate]:
    """The loop with another pipe: one of the design's own, else an everyday size."""
    for loop in site.related(table, row, "loops")[:1]:
        name = site.tables["loops"].ids[loop]
        pipe = site.value("loops", "pipe", loop)
        if math.isnan(pipe):
            continue
        own = int(pipe)
        outside = site.value("pipes", "outside", own)
        known = {}
        for other in site.rows("pipes"):
            size = site.value("pipes", "outside", other)
            known[round(size, 5)] = other
            if other != own and not math.isnan(size):
                title = site.tables["pipes"].ids[other]
                yield _of_pipe(lever, name, title, (), abs(size - outside), f"pipe {title}")
        typed_outside = site.text(f"pipes.{site.tables['pipes'].ids[own]}.outside")
        unit = unit_of(typed_outside)
        steps = lever.imperial if unit in IMPERIAL and lever.imperial else lever.steps
        for size, wall in steps.sizes:
            if any(abs(size - one) < 5e-4 for one in known):
                continue
            title, record = _new_pipe(site, own, size, wall, unit or "mm")
            words = f"{_of_size(site, size, wall, unit or 'mm')} pipe"
            yield _of_pipe(
                lever, name, title, (f"pipes.{title}={record}",), abs(size - outside), words
            )


def _of_pipe(
    lever: Lever, loop: str, title: str, more: tuple[str, ...], far: float, words: str
) -> Candidate:
    """A loop with the pipe of this id; far: the difference of outside diameters, m."""
    return Candidate(
        lever,
        (*more, f"loops.{loop}.pipe={title}"),
        f"{words} for loop {loop}",
        far / 1e-3,
        f"{lever.name} {loop}",
    )


def _of_size(site: Site, size: float, wall: float, unit: str) -> str:
    """'18 × 2 mm'."""
    outside, thick = (
        typed(value, unit, _leaf(site, column)).partition(" ")[0]
        for value, column in ((size, "outside"), (wall, "wall"))
    )
    return f"{outside} × {thick} {unit}"


def _leaf(site: Site, column: str) -> Leaf:
    return site.tables.format.leaf("pipes", column)


KEPT_OF_PIPE = ("material", "conductivity", "roughness", "oxygen_barrier", "service_class")
"""What a pipe of another size is assumed to have in common; its papers must confirm it."""


def _new_pipe(site: Site, own: int, size: float, wall: float, unit: str) -> tuple[str, str]:
    """The id and the record of a pipe like one of the design's, of another size."""
    name = site.tables["pipes"].ids[own]
    record = site.text(f"pipes.{name}")
    outside, thick = (
        typed(value, unit, _leaf(site, column))
        for value, column in ((size, "outside"), (wall, "wall"))
    )
    fields = [f"outside: {outside}", f"wall: {thick}"]
    for key in KEPT_OF_PIPE:
        if key in record:
            at = 0 if key == "material" else len(fields)
            fields.insert(at, f"{key}: {flow(record[key])}")
    taken = {site.tables["pipes"].ids[row] for row in site.rows("pipes")}
    title = f"p{outside.split()[0]}"
    while title in taken:
        title += " b"
    return title, f"{{{', '.join(fields)}}}"


def _insulated_feeds(lever: Lever, site: Site, table: str, row: int) -> Iterator[Candidate]:
    """The feeds that pass through a room, or a loop's own, insulated there."""
    changes = []
    for loop in site.rows("loops"):
        name = site.tables["loops"].ids[loop]
        feeds = site.text(f"loops.{name}.feeds")
        if not isinstance(feeds, Sequence):
            continue
        for number, feed in enumerate(feeds, start=1):
            room = feed.get("room") if isinstance(feed, Mapping) else None
            own = table == "loops" and loop == row
            passes = table == "rooms" and room == site.tables["rooms"].ids[row]
            if room and (own or passes) and feed.get("insulated") != "true":
                changes.append(f"loops.{name}.feeds[{number}].insulated=true")
    for count in range(1, len(changes) + 1):
        named = [called(one.partition(".insulated")[0]) for one in changes[:count]]
        words = f"feeds insulated: {listed(named)}"
        yield Candidate(lever, tuple(changes[:count]), words, float(count), lever.name)


def _as_computed(lever: Lever, site: Site, table: str, row: int) -> Iterator[Candidate]:
    """The loop's length as area over spacing, feeds added."""
    for loop in site.related(table, row, "loops"):
        name = site.tables["loops"].ids[loop]
        path = f"loops.{name}.length"
        heated = 0.0
        for part in site.related("loops", loop, PARTS):
            heated += site.value(PARTS, "area", part) / site.value(PARTS, "spacing", part)
        expected = heated + _feeds(site, name)
        text = rounded_length(site, path, expected)
        if text and not math.isnan(expected):
            yield Candidate(
                lever,
                (f"{path}={text}",),
                f"length {text} instead of {site.text(path)} in loop {name}, if area, spacing and "
                "feeds are right",
                1.0,
                f"{lever.name} {name}",
            )


def _as_drawn(lever: Lever, site: Site, table: str, row: int) -> Iterator[Candidate]:
    """The loop's length as its plan shows it, where it is stated otherwise."""
    for loop in site.related(table, row, TABLE_OF[lever.of]):
        name = site.tables["loops"].ids[loop]
        if site.text(f"loops.{name}.length") not in (None, "drawn"):
            yield Candidate(
                lever,
                (f"loops.{name}.length=drawn",),
                f"length as drawn in loop {name}",
                1.0,
                f"{lever.name} {name}",
            )


HOW: dict[str, Offered] = {
    "split": _split,
    "split with one more port": _split_with_port,
    "free port": _free_port,
    "pipe size": _pipe_size,
    "pump": pump,
    "flow setters": flow_setters,
    "steps of heating": steps_of_heating,
    "insulated feeds": _insulated_feeds,
    "length as reckoned": _as_computed,
    "as drawn": _as_drawn,
}
"""Changes of more than one value, by their names in `changes.yaml`."""
