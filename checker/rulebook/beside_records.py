"""What files beside the rules hold, as data: ranges of unknown data, tolerances, changes."""

from __future__ import annotations

from msgspec import Struct

from checker.outcome.results import Source, Stage
from checker.rulebook.model import Condition, Described


class Range(Struct, frozen=True):
    """The range of an unknown value, in SI, with its source.

    It counts for a record whose field is missing and that meets all conditions; the first of
    several counts.
    """

    subject: str
    field: str
    described: Described
    when: tuple[Condition, ...]
    least: float
    most: float
    source: Source


class Tolerance(Struct, frozen=True):
    """How far a value as built is from what is stated: 19 of 20 within, in SI or as a share.

    nearest: for a loop's water: the place where it is stated.
    """

    name: str
    title: str
    subject: str
    field: str
    nearest: bool
    within: float
    share: float
    source: Source


class Steps(Struct, frozen=True):
    """What can be built or set, in SI: values, or multiples of `by`; NaN where none is given.

    fine: a smaller step around the first value that works; within: the largest distance from what
    is stated; least: the least value that is tried; sizes: pairs that are sold.
    """

    values: tuple[float, ...] = ()
    by: float = float("nan")
    fine: float = float("nan")
    within: float = float("nan")
    least: float = float("nan")
    sizes: tuple[tuple[float, float], ...] = ()


class Lever(Struct, frozen=True):
    """A kind of change to a design: a field of the records that a finding is about, or `how`.

    nearest: the field is changed where it is stated: in the loop, its header or the plant;
    imperial: the steps where a design uses inches, feet, °F, psi or gallons; way: up, down or both
    (empty); along: what changes with it; until: the last stage at which it can be done; unless: not
    where one of these is stated; confirm: what is to be confirmed, and by whom.
    """

    name: str
    title: str
    of: str
    field: str
    described: Described | None
    nearest: bool
    steps: Steps
    imperial: Steps | None
    way: str
    along: str
    until: Stage
    unless: tuple[str, ...]
    how: str
    confirm: str
    habit: tuple[float, ...] = ()
    """How far it is shifted in all designs of a firm, in SI, to see the effect."""
    habit_words: tuple[str, ...] = ()

    def shift_words(self, shift: float) -> str:
        """Say how far a field is shifted in all designs.

        Args:
            shift: one of `habit`, in SI.

        Returns:
            The shift without its sign, as the file writes it, and its direction: '2 K less', '3 day
            later'.
        """
        text = self.habit_words[self.habit.index(shift)].lstrip("-+")
        if self.described is not None and self.described.kind == "date":
            return f"{text} {'later' if shift > 0 else 'earlier'}"
        return f"{text} {'more' if shift > 0 else 'less'}"
