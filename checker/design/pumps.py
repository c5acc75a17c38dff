"""The pumps of headers: which curve counts, and contradictions in curves and pumps."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import groupby, pairwise
from typing import TYPE_CHECKING, Any

from checker.design.leaves import words
from checker.reading.documents import Mapping, Place, shown
from checker.words import choices

if TYPE_CHECKING:
    from checker.design.tables import Tables

Misfit = tuple[str, str, Place]
"""Where, what is wrong in words, and the place in the file."""


def take(tables: Tables, starts: dict[str, int], typed: Any) -> Iterator[Misfit]:
    """Find what is wrong with the pumps of one design, and choose each pump's curve by its setting.

    Args:
        tables: hold the design, as the last one that was read; the curve of a pump with several
            settings is added to them, once all mistakes have been taken.
        starts: by table, the first row of the design.
        typed: the design's headers as they were typed; None where it has none.

    Returns:
        Each mistake: where, what is wrong in words, and the place in the file.
    """
    headers = tables["headers"]
    slots = headers.shape.slots
    yield from _curves(tables, "pump_curve", starts)
    yield from _curves(tables, "pump_curves", starts)
    for row in range(starts["headers"], len(headers)):
        name = headers.ids[row]
        pump = typed[name].get("pump") if typed else None
        if not pump or not isinstance(pump, Mapping):
            continue
        where = f"headers.{shown(name)}.pump"
        places = {key: place for key, (place, _) in pump.places.items()}
        if "curve" in pump and "curves" in pump:
            said = "with 'curves', this is one of them, under the name of its setting"
            yield f"{where}.curve", said, places["curve"]
        if "with" in pump:
            for key in (key for key in ("curve", "curves", "setting") if key in pump):
                said = f"the pump is that of {shown(str(pump['with']))}; state this there"
                yield f"{where}.{key}", said, places[key]
            owner = headers.rows[row][slots["pump.with"]]
            if not math.isnan(owner):
                yield from _with(tables, row, int(owner), where, places["with"], slots["pump.with"])
        elif "setting" in pump:
            setting = headers.rows[row][slots["pump.setting"]]
            yield from _setting(tables, row, setting, where, places["setting"])


def _with(
    tables: Tables, row: int, owner: int, where: str, place: Place, slot: int
) -> Iterator[Misfit]:
    """What is wrong with naming another header whose pump this one shares."""
    headers = tables["headers"]
    further = headers.rows[owner][slot]
    if owner == row:
        yield f"{where}.with", "a header is not with itself; state the pump's curve", place
    elif not math.isnan(further):
        own, first = shown(headers.ids[owner]), shown(headers.ids[int(further)])
        yield f"{where}.with", f"the pump of {own} is that of {first}; name {first} here too", place


def _setting(
    tables: Tables, row: int, setting: float, where: str, place: Place
) -> Iterator[Misfit]:
    """Make the curve of the setting the header's own."""
    curves, chosen = tables["pump_curves"], tables["pump_curve"]
    slot = tables.format.leaf("pump_curves", "setting").slot
    columns = len(chosen.shape.columns)
    own = [nth for nth in range(len(curves)) if curves.parents[nth] == row]
    known = [words.text(curves.rows[nth][slot]) for nth in own]
    if math.isnan(setting):
        return
    name = words.text(setting)
    if not known:
        said = "there are no curves to choose from; state them by name, as 'curves'"
        yield f"{where}.setting", said, place
    elif name not in known:
        said = f"there is no curve '{shown(name)}'; {choices(shown(name), dict.fromkeys(known))}"
        yield f"{where}.setting", said, place
    for nth, of in zip(own, known, strict=True):
        if of == name:
            source = curves.rows[nth]
            made = chosen.add("", row, curves.places[nth])
            for leaf in chosen.shape.columns:
                other = tables.format.leaf("pump_curves", leaf.name).slot
                made[leaf.slot] = source[other]
                made[leaf.slot + columns] = source[other + len(curves.shape.columns)]
            if tables.keep:
                chosen.sources.append(curves.sources[nth])


def _curves(tables: Tables, table: str, starts: dict[str, int]) -> Iterator[Misfit]:
    """Each curve of this design that rises or has two points at one flow."""
    curves, headers = tables[table], tables["headers"]
    leaves = {leaf.name: leaf.slot for leaf in curves.shape.columns}
    flow, head, setting = leaves["flow"], leaves["head"], leaves.get("setting")

    def owner(nth: int) -> tuple[int, float]:
        return curves.parents[nth], 0.0 if setting is None else curves.rows[nth][setting]

    rows = range(starts[table], len(curves))
    for (parent, of), members in groupby(sorted(rows, key=owner), owner):
        named = "curve" if setting is None else f"curves.{shown(words.text(of))}"
        where = f"headers.{shown(headers.ids[parent])}.pump.{named}"
        points = sorted(members, key=lambda nth: curves.rows[nth][flow])
        for before, after in pairwise(points):
            one, two = curves.rows[before], curves.rows[after]
            if one[flow] == two[flow]:
                said = "two points have the same flow; a curve has one head at each flow"
                yield where, said, curves.places[after]
            elif two[head] > one[head]:
                said = "the head rises with the flow; a pump's curve only falls"
                yield where, said, curves.places[after]
