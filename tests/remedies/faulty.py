"""Designs with faults of the kinds that remedies are for, without end, invented."""

from __future__ import annotations

import random
import re
from collections.abc import Callable

from tests.design.designs import generate


def faulty(number: int, seed: int = 20) -> str:
    """One plausible design with one to three faults; the same text for the same call."""
    chance = random.Random(seed * 100_003 + number)
    text = generate(number, loops=chance.choice((4, 6, 8, 10)), seed=seed)
    for fault in chance.sample(FAULTS, chance.choice((1, 2, 2, 3))):
        text = fault(text, chance)
    return text


def _one_of(text: str, pattern: str, chance: random.Random, new: Callable[[str], str]) -> str:
    """The text with one of the places that the pattern's group has changed."""
    places = [*re.finditer(pattern, text)]
    if not places:
        return text
    place = chance.choice(places)
    start, end = place.span(1)
    return text[:start] + new(place[1]) + text[end:]


def _times(least: float, most: float) -> Callable[[str, random.Random], Callable[[str], str]]:
    def changed(_: str, chance: random.Random) -> Callable[[str], str]:
        by = chance.uniform(least, most)
        return lambda old: f"{float(old) * by:.3g}"

    return changed


def _field(pattern: str, least: float, most: float) -> Callable[[str, random.Random], str]:
    def fault(text: str, chance: random.Random) -> str:
        return _one_of(text, pattern, chance, _times(least, most)(text, chance))

    return fault


def _clash(text: str, chance: random.Random) -> str:
    return _one_of(text, r"port: (\d+),", chance, lambda old: "1")


def _spacing(text: str, chance: random.Random) -> str:
    """A loop at another spacing, with the length that goes with it."""
    loops = [*re.finditer(r"spacing: (\d+) mm, area: ([\d.]+) m², length: ([\d.]+) m, feeds: ([\d.]+)", text)]  # fmt: skip
    loop = chance.choice(loops)
    spacing = chance.choice((75, 100, 250, 300))
    length = float(loop[2]) * 1000 / spacing + float(loop[4])
    new = f"spacing: {spacing} mm, area: {loop[2]} m², length: {length:.1f} m, feeds: {loop[4]}"
    return text[: loop.start()] + new + text[loop.end() :]


def _supply(text: str, chance: random.Random) -> str:
    """All water hotter or colder, the first heating with it."""
    by = chance.choice((-8.0, -6.0, -4.0, 5.0, 9.0, 14.0))
    old = re.search(r"supply: ([\d.]+) °C", text)
    assert old is not None
    return text.replace(f"supply: {old[1]} °C", f"supply: {float(old[1]) + by:g} °C")


def _early(text: str, chance: random.Random) -> str:
    return re.sub(r"started_on: 2026-05-\d\d", "started_on: 2026-04-20", text)


def _weak_pumps(text: str, chance: random.Random) -> str:
    by = chance.uniform(0.15, 0.5)
    return re.sub(
        r"(l/min, )([\d.]+)( kPa\])", lambda m: f"{m[1]}{float(m[2]) * by:.3g}{m[3]}", text
    )


FAULTS: tuple[Callable[[str, random.Random], str], ...] = (
    _clash,
    _spacing,
    _supply,
    _early,
    _field(r"heat_load: ([\d.]+) W", 1.15, 1.6),
    _field(r"resistance: ([\d.]+) m²", 1.5, 4.0),
    _field(r"insulation: ([\d.]+) m²", 0.2, 0.5),
    _field(r"pressure: ([\d.]+) bar", 0.4, 0.7),
    _field(r"hold: ([\d.]+) min", 0.2, 0.6),
    _field(r"edge_strip: ([\d.]+) mm", 0.3, 0.5),
    _field(r"cover: ([\d.]+) mm", 0.4, 0.7),
    _weak_pumps,
    _field(r"length: ([\d.]+) m, feeds", 1.3, 1.7),
    _field(r"drop: ([\d.]+) K", 0.3, 0.6),
)
"""What goes wrong: a text and chance to the text with the fault in it."""
