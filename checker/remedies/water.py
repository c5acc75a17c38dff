"""Changes of more than one value about the water: pumps, flow setters, first heating."""

from __future__ import annotations

import math
from collections.abc import Iterator

from checker.design.leaves import Leaf
from checker.reading.documents import Mapping, Sequence
from checker.remedies.candidates import Candidate
from checker.remedies.naming import called, where
from checker.remedies.site import Site
from checker.remedies.typed_values import IMPERIAL, plain, typed, unit_of
from checker.rulebook.beside_records import Lever

FIRST_HEATING = ("25 °C", "3 day", "4 day")
"""EN 1264-4: 20 to 25 °C for 3 days, then the highest design supply for 4 days."""
SLOWEST = 0.3
"""Below this share of its speed, a pump counts as another pump; common practice, no source."""
FIRST_HEATING_IN_F = "75 °F"


def pump(lever: Lever, site: Site, table: str, row: int) -> Iterator[Candidate]:
    """Offer the pump of a header at another speed or setting, or a similar pump.

    At another speed flow is proportional to speed, head to its square. A header on another header's
    pump is served by a change of that pump.

    Args:
        lever: the change, with its steps of speed as shares.
        site: the design.
        table: of the record that the finding is about.
        row: of that record.

    Returns:
        A candidate for each setting with a curve, and for each speed.
    """
    for header in site.related(table, row, "headers"):
        owner = site.value("headers", "pump.with", header)
        own = header if math.isnan(owner) else int(owner)
        at = where([site.name("headers", own)])
        if own != header:
            at += f", which serves {called(site.name('headers', header))} too"
        yield from _settings(lever, site, own, at)
        yield from _speeds(lever, site, own, at)


def _speeds(lever: Lever, site: Site, header: int, at: str) -> Iterator[Candidate]:
    """The pump of a header at other speeds: the faster ones, then the slower ones."""
    path = site.path("headers", header, "pump.curve")
    points = site.text(path)
    if not isinstance(points, Sequence) or not points:
        return
    count = round(lever.steps.within / lever.steps.by)
    for step in (*range(1, count + 1), *range(-1, -count - 1, -1)):
        speed = 1 + step * lever.steps.by
        texts = _curve(site, path, len(points), speed) if speed >= SLOWEST else []
        if texts:
            ends = " to ".join(f"{head} at {flow}" for flow, head in (texts[0], texts[-1]))
            curve = ", ".join(f"[{flow}, {head}]" for flow, head in texts)
            yield Candidate(
                lever,
                (f"{path}=[{curve}]",),
                f"a pump or setting with {plain(100 * speed)} % of the speed {at}: {ends}",
                abs(step),
                f"{lever.name} {path}",
                side=1 if step > 0 else -1,
            )


def _curve(site: Site, path: str, count: int, speed: float) -> list[tuple[str, str]]:
    """The points of a curve at this factor of the speed, as typed; none where one is not stated."""
    texts = []
    for number in range(1, count + 1):
        point = []
        for part, power in ((1, 1), (2, 2)):
            at = f"{path}[{number}][{part}]"
            place, value = site.place(at), site.number(at) * speed**power
            if place is None or math.isnan(value):
                return []
            point.append(_three(value, unit_of(site.text(at)), place.leaf))
        texts.append((point[0], point[1]))
    return texts


def _settings(lever: Lever, site: Site, header: int, at: str) -> Iterator[Candidate]:
    """The pump's other settings, in the order in which they are stated."""
    title = site.name("headers", header)
    curves, now = site.text(f"{title}.pump.curves"), site.text(f"{title}.pump.setting")
    if not isinstance(curves, Mapping):
        return
    names = [*curves]
    own = names.index(now) if now in names else -1
    for place, name in enumerate(names):
        if place != own:
            yield Candidate(
                lever,
                (f"{title}.pump.setting={name}",),
                f"pump set to {name}" + (f" instead of {now}" if now else "") + f" {at}",
                float(abs(place - own)),
                f"{lever.name} {title}.pump.setting",
            )


def _three(value: float, unit: str, leaf: Leaf) -> str:
    """A value of a curve as it is typed, to three digits."""
    number, _, rest = typed(value, unit, leaf).partition(" ")
    return f"{float(f'{float(number):.3g}'):g} {rest}"


def flow_setters(lever: Lever, site: Site, table: str, row: int) -> Iterator[Candidate]:
    """Offer flow setters with another scale.

    Args:
        lever: the change, with the scales that are sold, in pairs, m³/s.
        site: the design.
        table: of the record that the finding is about.
        row: of that record.

    Returns:
        A candidate for each scale other than the stated one.
    """
    for header in site.related(table, row, "headers"):
        path = site.path("headers", header, "flow_setters")
        least, most = (site.number(f"{path}.{end}") for end in ("least", "most"))
        unit = unit_of(site.text(f"{path}.most")) or "l/min"
        steps = lever.imperial if unit in IMPERIAL and lever.imperial else lever.steps
        leaf = site.tables.format.leaf("headers", "flow_setters.most")
        at = where([site.name("headers", header)])
        for far, (low, high) in enumerate(steps.sizes):
            if abs(low - least) < 1e-9 and abs(high - most) < 1e-9:
                continue
            texts = [typed(value, unit, leaf) for value in (low, high)]
            changes = (f"{path}.least={texts[0]}", f"{path}.most={texts[1]}")
            yield Candidate(
                lever,
                changes,
                f"flow setters from {texts[0]} to {texts[1]} {at}",
                abs(math.log((low + high) / (least + most))) * 10
                if not math.isnan(least)
                else far + 1.0,
                f"{lever.name} {path}",
            )


def steps_of_heating(lever: Lever, site: Site, table: str, row: int) -> Iterator[Candidate]:
    """Offer a first heating in two steps, the second at the hottest design supply.

    Args:
        lever: the change.
        site: the design.
        table: makes no difference; all loops of the design count.
        row: makes no difference.

    Returns:
        One candidate; none where no supply is known or no first heating is stated.
    """
    hottest = max((own for _, own in site.supplies if not math.isnan(own)), default=math.nan)
    if math.isnan(hottest):
        return
    leaf = site.tables.format.leaf("heat_up_steps", "supply")
    unit = "°F" if site.imperial else "°C"
    first = FIRST_HEATING_IN_F if site.imperial else FIRST_HEATING[0]
    top = typed(hottest, unit, leaf)
    _, mild, hot = FIRST_HEATING
    steps = f"[{{supply: {first}, hold: {mild}}}, {{supply: {top}, hold: {hot}}}]"
    if site.text("heat_up.steps") is None and site.text("heat_up") is None:
        return
    yield Candidate(
        lever,
        (f"heat_up.steps={steps}",),
        f"first heating at {first} for 3 days, then {top} for 4 days",
        1.0,
        lever.name,
    )
