"""What may be tried for a finding: each change on a rule's list, with every possible value."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from datetime import date
from functools import partial

import numpy as np
from msgspec import Struct

from checker import units
from checker.compute.naming import TABLE_OF
from checker.design.leaves import Leaf
from checker.design.schema import DESIGNS, PARTS
from checker.outcome.results import Stage
from checker.reading.documents import Mapping
from checker.remedies.naming import WHOLE_PLANT, along, where
from checker.remedies.site import Site, leaf_of, table_of
from checker.remedies.typed_values import IMPERIAL, plain, typed, unit_of
from checker.rulebook.beside_records import Lever, Steps
from checker.rulebook.model import STAGES
from checker.words import listed

SLACK = 1e-9
"""Tolerance of multiples of a step, as a share."""
LAST_PLANNED = STAGES.index("screeded")
"""The last stage at which the first heating is a plan, not a record."""
MOST_VALUES = 90
"""Most values of one field that are tried at once."""


class Candidate(Struct, frozen=True):
    """Changes that may clear a finding.

    Attributes:
        lever: the kind of change.
        changes: as they are written, `path=text`.
        what: the changes in words, for a person.
        distance: from what is stated, in steps.
        group: of the candidates of one lever at one place, only the least that works is used.
        finer: makes a candidate whose value is this share of a step closer to what is stated; None
            where there is nothing between.
    """

    lever: Lever
    changes: tuple[str, ...]
    what: str
    distance: float
    group: str
    finer: Callable[[float], Candidate | None] | None = None
    other: Lever | None = None
    """The second lever, where two are changed together."""
    side: int = 0
    """1 for a value above the stated one, -1 for one below it."""
    wide: bool = True
    """For two changes together: whether they are tried first; others only near those that work."""

    @property
    def confirm(self) -> tuple[str, ...]:
        """What is to be confirmed, and by whom."""
        return (self.lever.confirm, *([self.other.confirm] if self.other else []))


def candidates(lever: Lever, site: Site, subject: str, stage: Stage) -> Iterator[Candidate]:
    """List what a lever offers for a finding.

    Args:
        lever: one of the changes that the rule names.
        site: the design.
        subject: of the finding ('loops.L1').
        stage: of the job.

    Returns:
        The candidates, not yet judged; none where the stage is too late for the change, or what
        would be changed is not there.
    """
    if STAGES.index(stage) > STAGES.index(lever.until):
        return
    table = table_of(subject)
    row = site.design.row if table == DESIGNS else site.row(table, subject.partition(".")[2])
    if row is None:
        return
    if lever.how:
        from checker.remedies.structures import HOW

        yield from HOW[lever.how](lever, site, table, row)
        return
    for places in _places(lever, site, table, row):
        yield from _Field(lever, site, places, stage).candidates()


def _places(lever: Lever, site: Site, table: str, row: int) -> Iterator[list[str]]:
    """The paths of the field that change together: first all at once, then each alone."""
    of = TABLE_OF[lever.of]
    rows = [one for one in site.related(table, row, of) if not _stated(lever, site, of, one)]
    if lever.nearest:
        paths = [site.nearest(one, lever.field) for one in rows]
    elif of == PARTS:
        paths = [f"{_part_path(site, one)}.{lever.field}" for one in rows]
    else:
        paths = [site.path(of, one, lever.field) for one in rows]
    paths = [*dict.fromkeys(paths)]
    if len(paths) > 1 and not lever.nearest:
        yield paths
    for path in paths:
        yield [path]


def _stated(lever: Lever, site: Site, table: str, row: int) -> bool:
    """Whether a record states a field that leaves no room for the change (`Lever.unless`)."""
    record = site.text(site.name(table, row)) if table not in (DESIGNS, PARTS) else None
    return isinstance(record, Mapping) and any(key in record for key in lever.unless)


def _part_path(site: Site, row: int) -> str:
    return f"loops.{site.tables[PARTS].ids[row]}"


class _Field:
    """One field of one or several records, and the values that it can be set to."""

    def __init__(self, lever: Lever, site: Site, paths: list[str], stage: Stage) -> None:
        self.lever = lever
        self.site = site
        self.stage = stage
        self.paths = []
        self.leaf: Leaf | None = None
        old: list[float] = []
        for path in paths:
            place = site.place(path)
            if place is None:
                continue
            leaf = leaf_of(place.table, place.leaf.name)
            value = float(site.tables[place.table].column(leaf.slot)[place.row])
            if isinstance(site.text(path), str) and not math.isnan(value):
                self.leaf = leaf
                self.paths.append(path)
                old.append(value)
            elif site.text(path) is None and leaf.kind in ("boolean", "enumeration", "integer"):
                self.leaf = leaf
                self.paths.append(path)
                old.append(math.nan)
        self.old = old

    def candidates(self) -> Iterator[Candidate]:
        """All values that it can be set to, except the present one."""
        if self.leaf is None or any(self.site.text(path) == "drawn" for path in self.paths):
            return
        unit = self.site.unit(self.paths[0], self.leaf) if self.leaf.kind == "quantity" else ""
        steps = self.lever.steps
        if unit in IMPERIAL and self.lever.imperial is not None:
            steps = self.lever.imperial
        for value in self._values(steps, unit):
            finer = (
                partial(self._nearer, value, unit, steps) if not math.isnan(steps.fine) else None
            )
            made = self._made(value, unit, steps, finer)
            if made is not None:
                yield made

    def candidate(self, value: float, unit: str) -> Candidate | None:
        """The field set to one value."""
        return self._made(value, unit, self.lever.steps)

    def _nearer(self, value: float, unit: str, steps: Steps, share: float) -> Candidate | None:
        """The same, a share of a step closer to what is stated."""
        way = float(_sign(self.old[0] - value))
        return self._made(value + way * share * steps.by, unit, steps)

    def _values(self, steps: Steps, unit: str) -> list[float]:
        """The values that the steps allow, SI."""
        if steps.values:
            return [*steps.values]
        known = [own for own in self.old if not math.isnan(own)]
        if not known:
            return []
        least, most = min(known), max(known)
        scale, offset = self._factor(unit)
        step = steps.by / scale
        low, high = least - steps.within, most + steps.within
        if self.lever.way == "up":
            low = least
        if self.lever.way == "down":
            high = most
        if not math.isnan(steps.least):
            low = max(low, steps.least)
        assert self.leaf is not None
        if self.leaf.kind in ("quantity", "integer"):
            low, high = max(low, self.leaf.least), min(high, self.leaf.most)
        first = math.ceil((low - offset) / scale / step - SLACK)
        last = math.floor((high - offset) / scale / step + SLACK)
        middle = ((least + most) / 2 - offset) / scale / step
        numbers = sorted(range(first, last + 1), key=lambda n: abs(n - middle))[:MOST_VALUES]
        return [n * step * scale + offset for n in numbers]

    def _factor(self, unit: str) -> tuple[float, float]:
        """What one of the unit is in SI, and its offset."""
        assert self.leaf is not None
        return units.factor(unit, self.leaf.quantity) if unit else (1.0, 0.0)

    def _made(
        self,
        value: float,
        unit: str,
        steps: Steps,
        finer: Callable[[float], Candidate | None] | None = None,
    ) -> Candidate | None:
        """The candidate that sets the field to a value, SI, where it is not there already; None
        where it is everywhere.
        """
        leaf = self.leaf
        assert leaf is not None
        text = _text(value, unit, leaf)
        if self.lever.way == "up":
            turned = [n for n, own in enumerate(self.old) if not own >= value - SLACK * abs(value)]
        elif self.lever.way == "down":
            turned = [n for n, own in enumerate(self.old) if not own <= value + SLACK * abs(value)]
        else:
            turned = [n for n, own in enumerate(self.old) if not abs(own - value) <= 1e-7]
        if not turned:
            return None
        changes = []
        for nth in turned:
            changes.append(f"{self.paths[nth]}={text}")
        changes += self._along(turned, value)
        moved = [self.old[nth] - value for nth in turned if not math.isnan(self.old[nth])]
        distance = max((abs(one) for one in moved), default=0.0)
        first = self.old[turned[0]]
        per = steps.by if not math.isnan(steps.by) else _usual_step(steps, first)
        what = self._in_words(turned, text)
        what += along(changes[len(turned) :], text, self._records(turned))
        return Candidate(
            self.lever,
            tuple(changes),
            what,
            distance / per if per else 1.0,
            f"{self.lever.name} {','.join(self.paths)}",
            finer,
            side=_sign(value - first),
        )

    def _records(self, turned: list[int]) -> list[str]:
        """The paths of the records of these of the paths."""
        return [self.paths[nth].removesuffix(f".{self.lever.field}") for nth in turned]

    def _in_words(self, turned: list[int], text: str) -> str:
        """'spacing 200 mm instead of 250 mm in loop L5'."""
        title = self.lever.title
        paths = [self.paths[nth] for nth in turned]
        at = ""
        if paths[0] in WHOLE_PLANT:
            at = " for the whole plant"
        elif self.lever.of != "design":
            at = f" {where(self._records(turned))}"
        assert self.leaf is not None
        if self.leaf.kind == "boolean":
            return f"{'' if text == 'true' else 'no '}{title}{at}"
        before = {str(self.site.text(path)) for path in paths} - {"None"}
        instead = f" instead of {listed(sorted(before))}" if before else ""
        mark = ":" if self.leaf.kind == "enumeration" else ""
        return f"{title}{mark} {text}{instead}{at}"

    def _along(self, turned: list[int], value: float) -> list[str]:
        """The changes that go along with the value; turned: the numbers of the changed paths."""
        if self.lever.along == "length":
            return lengths(self.site, {self.paths[nth]: value for nth in turned})
        if self.lever.along == "first heating" and STAGES.index(self.stage) <= LAST_PLANNED:
            return _first_heating(self.site, self.paths[turned[0]], self.old[0], value)
        return []


def shifted(lever: Lever, site: Site, path: str, shift: float, stage: Stage) -> list[str]:
    """Shift one field.

    Args:
        lever: the kind of change.
        site: the design.
        path: of the field.
        shift: SI.
        stage: of the job.

    Returns:
        The changes that do it, kept within what the format allows, and what changes along; none
        where the field is not stated as a value.
    """
    field = _Field(lever, site, [path], stage)
    if field.leaf is None or math.isnan(field.old[0]) or site.text(path) == "drawn":
        return []
    value = float(field.old[0]) + shift
    if field.leaf.kind in ("quantity", "integer"):
        value = min(max(value, field.leaf.least), field.leaf.most)
    unit = site.unit(path, field.leaf) if field.leaf.kind == "quantity" else ""
    made = field.candidate(value, unit)
    return [] if made is None else [*made.changes]


def _sign(number: float) -> int:
    """1, -1, or 0; 0 for NaN."""
    return (number > 0) - (number < 0)


def _usual_step(steps: Steps, old: float) -> float:
    """The step between listed values around the stated one; 1 for NaN."""
    gaps = np.diff(np.sort(np.array(steps.values)))
    return float(np.median(gaps)) if len(gaps) and not math.isnan(old) else 1.0


def _text(value: float, unit: str, leaf: Leaf) -> str:
    """A value in SI as it is typed."""
    if leaf.kind == "quantity":
        return typed(value, unit, leaf)
    if leaf.kind == "date":
        return date.fromordinal(round(value)).isoformat()
    if leaf.kind == "boolean":
        return "true" if value == 1.0 else "false"
    if leaf.kind == "enumeration":
        return leaf.options[int(value)]
    return plain(value)


def lengths(site: Site, spacings: dict[str, float]) -> list[str]:
    """Work out the lengths that new spacings give.

    Args:
        site: the design.
        spacings: the new spacings by path ('loops.L1.spacing', 'loops.L2.parts[1].spacing'), m.

    Returns:
        Changes of loops' lengths, rounded up to whole metres or feet; none for a loop whose length
        or area is not stated.
    """
    more: dict[str, float] = {}
    for path, spacing in spacings.items():
        part = path.removesuffix(".spacing")
        loop = part.partition(".parts[")[0]
        area, old = site.place(f"{part}.area"), site.place(path)
        if area is None or old is None:
            continue
        square = float(site.tables[area.table].column(area.leaf.slot)[area.row])
        before = float(site.tables[old.table].column(old.leaf.slot)[old.row])
        more[loop] = more.get(loop, 0.0) + square / spacing - square / before
    found = []
    for loop, extra in more.items():
        path = f"{loop}.length"
        text = rounded_length(site, path, site.number(path) + extra)
        if text:
            found.append(f"{loop}.length={text}")
    return found


def rounded_length(site: Site, path: str, value: float) -> str:
    """Write a new length in whole metres or feet, rounded up.

    Args:
        site: the design.
        path: of the length that it replaces, whose unit it keeps.
        value: m.

    Returns:
        The length as it is typed; empty where none is stated at the path.
    """
    place = site.place(path)
    unit = unit_of(site.text(path))
    if place is None or not unit or not value > 0:
        return ""
    scale, _ = units.factor("ft" if unit in IMPERIAL else "m", "length")
    return typed(math.ceil(value / scale - 1e-6) * scale, unit, place.leaf)


def _first_heating(site: Site, path: str, old: float, new: float) -> list[str]:
    """The steps of a planned first heating at the design supply, changed to the new one."""
    own = [(where, value) for where, value in site.supplies if not math.isnan(value)]
    if not site.heating or old < max((value for _, value in own), default=old) - 1e-6:
        return []
    # Loops with other water keep theirs, and the hottest of all is what the screed is proved at.
    top = max([new, *(value for where, value in own if where != path)])
    return [
        f"{at}={as_typed(site, at, top)}"
        for at, value in site.heating
        if abs(value - old) < 1e-6 and abs(top - value) > 1e-6
    ]


def as_typed(site: Site, path: str, value: float) -> str:
    """Write a value in the unit that is used at a path.

    Args:
        site: the design.
        path: of the value that it replaces.
        value: SI.

    Returns:
        The value as it is typed; in the format's unit where none is stated at the path.
    """
    place = site.place(path)
    assert place is not None
    return typed(value, unit_of(site.text(path)) or place.leaf.unit, place.leaf)


Offered = Callable[[Lever, Site, str, int], Iterator[Candidate]]
"""For changes of more than one value: the function that lists what it offers."""
