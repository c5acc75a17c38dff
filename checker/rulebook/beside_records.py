"""What files beside the rules hold, as data: ranges of unknown data, tolerances, changes."""

from __future__ import annotations

from msgspec import Struct

from checker.outcome.results import Source, Stage
from checker.rulebook.model import Condition, Described


class Range(Struct, frozen=True):
    """The range of an unknown value, with its source.

    It counts for a record whose field is missing and that meets all conditions; the first of
    several counts.

    Attributes:
        subject: whose field it is, in the singular ('room').
        field: its name.
        described: what it is.
        when: the records that it counts for.
        least: SI.
        most: SI.
        source: where the range was published.
    """

    subject: str
    field: str
    described: Described
    when: tuple[Condition, ...]
    least: float
    most: float
    source: Source


class Tolerance(Struct, frozen=True):
    """How far a value as built is from what is stated: 19 of 20 are no farther.

    Attributes:
        name: its id.
        title: in words.
        subject: whose field it is, in the singular.
        field: its name.
        nearest: whether it is about the water of loops, which is drawn where it is stated: in the
            loop, its header or the plant.
        within: SI; NaN where it is a share.
        share: of the stated value; NaN where it is a difference.
        source: where it was published.
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
    """What can be built or set, in SI.

    Attributes:
        values: all that there are; empty where any multiple of `by` can be.
        by: the step; NaN where there is none.
        fine: a smaller step around the first value that works; NaN for none.
        within: the largest distance from what is stated; NaN for any.
        least: the least value that is tried; NaN for any.
        sizes: pairs that are sold.
    """

    values: tuple[float, ...] = ()
    by: float = float("nan")
    fine: float = float("nan")
    within: float = float("nan")
    least: float = float("nan")
    sizes: tuple[tuple[float, float], ...] = ()


class Lever(Struct, frozen=True):
    """A kind of change to a design: of a field, or as a function in the program (`how`).

    Attributes:
        name: by which rules refer to it.
        title: in words.
        of: whose field is changed, in the singular; of the records that a finding is about.
        field: its name; empty where `how` says what is done.
        described: what the field is; None where there is none.
        nearest: whether the field is changed where it is stated: in the loop, its header or the
            plant.
        steps: what is tried.
        imperial: the same where a design uses inches, feet, °F, psi or gallons; None where that
            makes no difference.
        way: up, down or both (empty).
        along: what changes with it: `length`, `first heating` or nothing.
        until: the last stage at which it can be done.
        unless: not where one of these fields is stated.
        how: the name of the function that makes it, in `remedies.structures`; empty for a field.
        confirm: what is to be confirmed, and by whom.
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
