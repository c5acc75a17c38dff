"""What may differ from the papers at a job, and by how much: single causes, and pairs of causes.

Each cause that readings can show is one change in a few sizes. The sizes start where the change
would be noticed, and are no farther apart than readings can distinguish. They are our conventions,
without a source.
"""

from __future__ import annotations

from collections.abc import Container
from math import log
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt
from msgspec import Struct
from msgspec.structs import replace

from checker.arrays import Array, Mask
from checker.audit.loop_models import LoopModel

TWO = -2.5
"""Logarithm of how much less common two causes together are than one."""
MANY_LOOPS = 2
"""Pairs of causes are tried only where no more loops than this are complained about."""


class Explanations(Struct, frozen=True):
    """What differs from the papers in each explanation, as columns.

    Attributes:
        covering: additional resistance, m²·K/W, shape (explanations, loops).
        short: logarithm of one loop's flow over its computed flow, shape (explanations, loops).
        pump: logarithm of all loops' flow over the computed one, shape (explanations,).
        curve: K that the supply is off its heating curve, shape (explanations,).
        scale: what a flow scale shows over the true flow, shape (explanations,).
        supply_off: error of the thermometer in the supply, K, shape (explanations,).
        back_off: error of the thermometer in the return, K, shape (explanations,).
        glycol: mass fraction, NaN as on paper, shape (explanations,).
        thin: factor for the resistance downwards, shape (explanations,).
        heat: logarithm of the additional heat that a cold floor takes, shape (explanations, loops).
        loss: logarithm of a room's loss over that on paper, shape (explanations, loops).
        length: logarithm of the pipe's length over that on paper, shape (explanations, loops).
        order: the number of the loop whose water each floor gets, shape (explanations, loops).
        explains: whether it leaves a room cold whatever else is true, shape (explanations, loops).
        misreads: whether a thermostat shows another temperature than its air has, shape
            (explanations, loops).
        prior: logarithm of its probability beforehand, shape (explanations,).
        causes: the ids of all causes that are tried.
        has: by cause, in which explanations it is at work, shape (explanations,).
    """

    covering: Array
    short: Array
    pump: Array
    curve: Array
    scale: Array
    supply_off: Array
    back_off: Array
    glycol: Array
    thin: Array
    heat: Array
    loss: Array
    length: Array
    order: npt.NDArray[np.int64]
    explains: Mask
    misreads: Mask
    prior: Array
    causes: tuple[str, ...] = ()
    has: dict[str, Mask] = {}


def none(count: int, loops: int) -> Explanations:
    """Make explanations in which nothing differs from the papers.

    Args:
        count: the number of explanations.
        loops: the number of loops.

    Returns:
        Columns of shape (count,) and (count, loops), some of them the same array: copy before
        changing one.
    """
    by_loop, by_one = np.zeros((count, loops)), np.zeros(count)
    return Explanations(
        covering=by_loop, short=by_loop, pump=by_one, curve=by_one, scale=by_one + 1,
        supply_off=by_one, back_off=by_one, glycol=by_one + np.nan, thin=by_one + 1,
        heat=by_loop, loss=by_loop, length=by_loop,
        order=np.tile(np.arange(loops), (count, 1)), explains=by_loop > 0, misreads=by_loop > 0,
        prior=by_one,
    )  # fmt: skip


Change = dict[Any, Any]
"""One explanation: from a name, or a name and the number of a loop, to the value."""

NOTHING, ELSEWHERE = "nothing-wrong", "elsewhere"
RARER = {"common": 0.0, "occasional": -1.0, "rare": -2.0, ELSEWHERE: -4.0}
"""Logarithm of how much less common a cause is than a common one. `elsewhere`: it belongs to
another complaint, and would leave this one without a cause.
"""
SHORT, LONG = ("loop-starved", "air-in-loop"), "loop-too-long"
"""Causes that leave a loop short of water, and the cause that its length distinguishes from
them.
"""


def with_fluid(model: LoopModel, glycol: Array) -> LoopModel:
    """Give a loop another glycol content.

    Args:
        model: the loop as it is on paper.
        glycol: mass fraction, shape (explanations, 1); NaN as on paper.

    Returns:
        A copy whose fluid differs by explanation; where the papers have plain water, the glycol is
        propylene glycol.
    """
    stated = 0.0 if np.isnan(model.fluid_fraction) else model.fluid_fraction
    kind = model.fluid_kind if stated > 0 else 1.0
    other = np.isfinite(glycol)
    return replace(
        model,
        fluid_fraction=np.where(other, glycol, stated),
        fluid_kind=np.where(other, kind, model.fluid_kind),
    )


class House(Protocol):
    """What explanations need to know about a house."""

    loops: list[str]
    about: list[int]
    length: Array
    fraction: Array
    several: bool
    side: float
    misreads: Mask

    def beyond(self, at: int) -> bool:
        """Whether, on paper, the room of a loop needs more heat than its floor can give.

        Args:
            at: the number of the loop in `loops`.

        Returns:
            Whether the rule of a room's heat fails for it; False also where that is open.
        """

    def on_paper(self, rule: str) -> bool:
        """Whether the design itself breaks a rule.

        Args:
            rule: its id.

        Returns:
            Whether any result of the rule in the job's latest design is a fail.
        """


THICKER = (0.03, 0.05, 0.075, 0.1, 0.12)
"""Additional resistances of a covering, m²·K/W."""
LESS_WATER = tuple(map(log, (0.75, 0.6, 0.48, 0.38, 0.3, 0.24, 0.18, 0.12, 0.08, 0.04)))
MORE_WATER = tuple(map(log, (1.3, 1.6, 2.0, 2.6)))
"""Logarithms of a loop's flow over its computed flow."""
WEAKER = tuple(map(log, (0.8, 0.68, 0.58, 0.5, 0.42, 0.36, 0.3, 0.25)))
"""Logarithms of all loops' flow over the computed one."""
LOSES_MORE = tuple(map(log, (1.25, 1.45, 1.7, 2.0, 2.4)))
"""Logarithms of a room's loss over that on paper."""
COLD_FLOOR = tuple(map(log, (1.0, 1.07, 1.15, 1.3, 1.5, 1.75, 2.05, 2.4, 2.8)))
"""Logarithms of the heat that a cold floor takes over that of a warm one."""
DUTY = (-0.3, 0.0, 0.3, 0.7)
"""Logarithm of the heat that a floor takes at the visit after its valve was shut, over what its
room loses.
"""
LONGER = tuple((log(s), log(m)) for s, m in ((0.85, 1.3), (0.75, 1.5), (0.65, 1.8), (0.6, 2.2)))
"""Logarithms of the flow of a loop that is too long over its computed flow, and of its length over
that on paper.
"""
COOLER, HOTTER = (-2.5, -4.0, -5.5, -7.5, -10.0), (3.0, 4.5, 6.0, 8.0, 10.0, 12.5, 15.0)
"""K by which the supply is off its heating curve."""
READ_OFF = (-6.0, -5.0, -4.0, -3.0, -2.0, 2.0, 3.0, 4.0, 5.0, 6.0)
"""Errors of a thermometer, K."""
SCALED = (0.35, 0.45, 0.55, 0.65, 0.75, 1.35, 1.6, 2.0, 2.5)
"""What a flow scale shows over the true flow."""
GLYCOL, OTHER_GLYCOL = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5), 0.08
"""Mass fractions of glycol, and how far one must be from that on paper to be tried."""
THINNER = (0.5, 0.25, 0.12)
"""Factors for the resistance downwards."""
CAN_HAVE = tuple(map(log, (1.0, 0.85, 0.7)))
"""Share of the flow for its load that a loop is set to where its floor cannot give that load."""

Sizes = dict[tuple[str, ...], list[Change]]


def changes(house: House, causes: Container[str]) -> Sizes:
    """List the changes to try, each in several sizes.

    Args:
        house: the house as it is on paper.
        causes: the ids of the causes to try.

    Returns:
        By the ids of the causes that a change represents, its sizes.
    """
    found: Sizes = {}
    for each in (*(_of_loop(house, at) for at in house.about), _of_all(house)):
        for names, sizes in each.items():
            named = tuple(one for one in names if one in causes)
            if named and sizes:
                found.setdefault(named, []).extend(sizes)
    return found


def _of_loop(house: House, at: int) -> Sizes:
    """The changes of one loop or its room; some leave a room cold by themselves."""
    short, loss, heat = ("short", at), ("loss", at), ("heat", at)
    by_itself: Change = {("explains", at): True}
    no_drive: Change = {short: LESS_WATER[-1], **by_itself}
    sensor: Change = {("misreads", at): True} if house.misreads[at] else {}
    cold_floors: list[Change] = [
        {heat: size, loss: duty, **by_itself, **sensor} for size in COLD_FLOOR for duty in DUTY
    ]
    other_loops = (other for other in range(len(house.loops)) if other != at)
    measured = bool(np.isfinite(house.length[at]))
    found: Sizes = {
        ("covering-too-resistive",): [{("covering", at): size} for size in THICKER],
        (*SHORT, *(() if measured else (LONG,))): [{short: size} for size in LESS_WATER],
        ("house-loses-more",): [{loss: size} for size in LOSES_MORE],
        # A floor that is too warm was not shut off, so it takes what it should.
        ("controls",): [
            {**by_itself, **sensor},
            *((no_drive, *cold_floors) if house.side >= 0 else ()),
        ],
        ("too-much-water",): [{short: size, **by_itself} for size in MORE_WATER],
        ("loops-swapped",): [{("swap", at): other, **by_itself} for other in other_loops],
    }
    if measured:
        found[LONG,] = [{short: less, ("length", at): size} for less, size in LONGER]
    if house.beyond(at):
        found["load-beyond-floor",] = [{short: size, **by_itself} for size in CAN_HAVE]
    return found


def _of_all(house: House) -> Sizes:
    """The changes that all loops of a header have in common."""
    warm: Change = {("explains", at): True for at in house.about}
    read = [("supply_off", size) for size in READ_OFF] + [("back_off", size) for size in READ_OFF]
    other = [size for size in GLYCOL if abs(size - house.fraction[0]) > OTHER_GLYCOL]
    if not house.several:
        # What one loop alone shows is not known to be common to all of them.
        read, other = [], []
    found: Sizes = {
        ("pump-weak",): [{"pump": size} for size in WEAKER],
        ("supply-too-cool",): [{"curve": size} for size in COOLER],
        ("supply-too-hot",): [{"curve": size, **warm} for size in HOTTER],
        ("reading-wrong",): [
            *({name: size} for name, size in read),
            *({"scale": size} for size in SCALED if house.several),
        ],
        ("wrong-fluid",): [{"glycol": size} for size in other],
        ("insulation-too-thin",): [{"thin": size} for size in THINNER],
    }
    if house.on_paper("insulation"):
        # What the papers say themselves is in the model already.
        found["insulation-too-thin",].append({})
    if len(house.about) > 1:
        every = range(len(house.loops))
        everywhere = (
            ("house-loses-more", "loss", LOSES_MORE),
            ("covering-too-resistive", "covering", THICKER),
        )
        for cause, name, sizes in everywhere:
            found[cause,] = [{(name, at): size for at in every} for size in sizes]
    return found


def tried(house: House, causes: dict[str, str]) -> Explanations:
    """List all explanations to try: nothing, each change in each size, and pairs from different
    causes.

    Args:
        house: the house as it is on paper.
        causes: by the id of each cause to try, how common it is (a key of `RARER`).

    Returns:
        The explanations as columns; the first is that nothing differs. Pairs are left out where
        more than MANY_LOOPS loops are complained of.
    """
    by_cause = changes(house, causes)
    ones: list[tuple[tuple[str, ...], float, Change]] = []
    for named, sizes in by_cause.items():
        prior = max(RARER[causes[one]] for one in named) - float(np.log(len(sizes)))
        ones += [(named, prior, size) for size in sizes]
    rows = [((NOTHING,), 0.0, {}), *ones]
    if len(house.about) <= MANY_LOOPS:
        for place, (named, prior, size) in enumerate(ones):
            for other, beside, more in ones[place + 1 :]:
                seldom = causes[named[0]] == causes[other[0]] == ELSEWHERE
                if seldom or set(named) & set(other) or _same(size, more):
                    continue
                rows.append(((*named, *other), prior + beside + TWO, {**size, **more}))
    found = none(len(rows), len(house.loops))
    columns = [one for one in Explanations.__struct_fields__ if one not in ("causes", "has")]
    values = {name: getattr(found, name).copy() for name in columns}
    for number, (_, prior, change) in enumerate(rows):
        values["prior"][number] = prior
        for key, value in change.items():
            name, *at = key if isinstance(key, tuple) else (key,)
            if name == "swap":
                values["order"][number, [at[0], value]] = [value, at[0]]
            else:
                values[name][(number, *at)] = value
    names = tuple(dict.fromkeys(cause for named, _, _ in rows for cause in named))
    has = {name: np.array([name in named for named, _, _ in rows]) for name in names}
    return Explanations(**values, causes=names, has=has)


def _same(one: Change, other: Change) -> bool:
    """Whether two changes change the same thing; that they explain the same room is no matter."""
    return any(key in other and key[0] != "explains" for key in one)
