"""The codes and editions that apply to each design, and the stage from which rules count."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from checker.arrays import Array, Mask
from checker.design.schema import DESIGNS, design_format
from checker.design.tables import Tables
from checker.outcome.dated import recorded_days
from checker.rulebook.book import Rulebook
from checker.rulebook.model import STAGES, Rule, RuleLimit
from checker.words.speech import AS_WRITTEN, POINT, Speech

Objects = npt.NDArray[np.object_]

STAGE = "project.stage"
NO_LIMIT = "No limit is in force here (codes: {})."
"""The reason of a rule without a limit for a design: the codes that it is judged by."""


class JudgingOptions(Struct, frozen=True):
    """The codes, day and stage to judge by, where the call sets them.

    Attributes:
        codes: instead of those of the design or its region; None for those.
        on: the day whose editions count; None for that of the design.
        further_codes: codes that count in addition to those of the design or its region.
    """

    codes: tuple[str, ...] | None = None
    on: date | None = None
    stage: str = ""
    """The stage to judge by, instead of the design's own."""
    further_codes: tuple[str, ...] = ()
    strict: bool = False
    """Whether missing data are never replaced by their range."""
    accepted: tuple[str, ...] | None = None
    """The digests of the answers that count, where not all in the designs do."""
    second_opinion: bool = False
    """Whether floors are solved in section as well as by the standard."""
    units: str = AS_WRITTEN
    """The system of units in which values are shown."""
    decimal: str = POINT
    """The decimal mark with which values are shown."""
    today: date | None = None
    """The day of the check: records with a later date have not happened yet. None: dates do not
    matter.
    """
    calendar: date | None = None
    """The day by the computer's calendar, where that of the check is a later one."""

    @property
    def day_number(self) -> float:
        """The day of the check as `date.toordinal` numbers it, NaN where there is none."""
        return np.nan if self.today is None else float(self.today.toordinal())


class ApplicableLimits:
    """For each design, the codes and the day that it is judged by.

    Attributes:
        judging: the options of the call.
        codes: of each design.
        day: as `date.toordinal` numbers it, NaN where it is unknown, shape (designs,).
        days: the same in ISO 8601, empty where it is unknown.
        remarks: for each design, what a reader must know about these: a region without a code of
            its own, or a day before or after all known editions.
    """

    def __init__(self, tables: Tables, rulebook: Rulebook, judging: JudgingOptions) -> None:
        self.judging = judging
        self.codes: list[tuple[str, ...]] = []
        for design in tables.designs:
            declared = design.codes
            if judging.codes is not None:
                self.codes.append(judging.codes)
            elif declared is not None:
                self.codes.append(tuple(declared))
            else:
                self.codes.append(rulebook.codes_of(design.text("project", "region")))
            more = [code for code in judging.further_codes if code not in self.codes[-1]]
            self.codes[-1] = (*self.codes[-1], *more)
        whole = tables[DESIGNS]
        designed_on = whole.column(design_format().leaf(DESIGNS, "project.designed_on").slot)
        self.day = designed_on
        if judging.on is not None:
            self.day = np.full(len(whole), float(judging.on.toordinal()))
        self.days = [
            "" if np.isnan(day) else date.fromordinal(int(day)).isoformat() for day in self.day
        ]
        leaf = design_format().leaf(DESIGNS, STAGE)
        stage = np.nan_to_num(whole.column(leaf.slot), nan=0.0)
        self.stage = stage.astype(np.intp)
        """For each design, the number of its stage; one that states none is at the first."""
        if judging.stage:
            self.stage = np.full(len(whole), STAGES.index(judging.stage))
        self.speech = [
            Speech(
                design.text("project", "units") or design.system
                if judging.units == AS_WRITTEN
                else judging.units,
                judging.decimal,
            )
            for design in tables.designs
        ]
        """For each design, the units and decimal mark in which values are shown."""
        self.ageless = np.zeros(len(whole), dtype=bool)
        """Designs older than every edition known: judged as if undated, to lose no finding."""
        covers = rulebook.covers
        self.remarks = [
            tuple(
                self._remarks(
                    row,
                    design.text("project", "region"),
                    rulebook,
                    covers,
                    by_region=judging.codes is None and design.codes is None,
                )
            )
            + tuple(self._ahead(tables, row, designed_on[row]))
            for row, design in enumerate(tables.designs)
        ]
        self._under = {
            code: np.array([code in codes for codes in self.codes], dtype=bool)
            for code in {document.code for document in rulebook.documents.values()}
        }
        self._force: dict[str, Mask] = {}
        self._in_force: dict[str, tuple[tuple[RuleLimit, ...], Mask]] = {}
        self._due: dict[str, Mask] = {}

    @cached_property
    def _dated(self) -> Array:
        return np.where(self.ageless, np.nan, self.day)

    @cached_property
    def no_limit(self) -> Objects:
        """For each design, the reason of a rule that has no limit by its codes."""
        words = {codes: NO_LIMIT.format(", ".join(codes)) for codes in {*self.codes}}
        return np.array([words[codes] for codes in self.codes], dtype=object)

    def counts(self, rule: Rule) -> Mask:
        """Say which limits of a rule are in force for each design, by its codes and its day.

        Args:
            rule: any rule of the rulebook, or a copy of one with other limits.

        Returns:
            A mask, shape (limits, designs), in the rule's order of limits; read-only.
        """
        limits, found = self._in_force.get(rule.id, ((), None))
        if found is None or limits is not rule.limits:
            each = [self._counts(one.document) for one in rule.limits]
            found = each[0][np.newaxis] if len(each) == 1 else np.array(each, dtype=bool)
            found.setflags(write=False)
            self._in_force[rule.id] = rule.limits, found
        return found

    def due(self, rule: Rule) -> Mask:
        """Say which designs are at a stage that asks for the rule.

        Args:
            rule: any rule of the rulebook.

        Returns:
            A mask, shape (designs,); read-only.
        """
        found = self._due.get(rule.stage)
        if found is None:
            found = self._due[rule.stage] = self.stage >= STAGES.index(rule.stage)
            found.setflags(write=False)
        return found

    def _remarks(
        self, row: int, region: str, rulebook: Rulebook, covers: dict[str, date], *, by_region: bool
    ) -> Iterator[str]:
        """The remarks on one design; marks one that is older than every edition known."""
        if region and by_region and not rulebook.has_own_code(region):
            yield f"no code of {region}'s own is known"
        day = self.day[row]
        before = [one for one in self.codes[row] if one in covers and day < covers[one].toordinal()]
        if before and len(before) == len(self.codes[row]):
            self.ageless[row] = True
        for code in before:
            so = "its newest editions count" if self.ageless[row] else "none of its limits counts"
            yield (
                f"the day is before the oldest edition of {code} that is known ({covers[code]}), "
                f"so that {so}; see whether the date is right"
            )
        if rulebook.is_after(self.day[row]):
            yield (
                f"the day is after these rules (edition {rulebook.published}), so that newer "
                "editions may hold; see whether the date is right"
            )

    def _ahead(self, tables: Tables, row: int, designed_on: float) -> Iterator[str]:
        """What to know of days that have hardly begun, or not yet."""
        today, calendar = self.judging.today, self.judging.calendar
        if today is None:
            return
        if designed_on > today.toordinal():
            yield (
                f"the day of the design, {date.fromordinal(int(designed_on))}, is after that of "
                "this check; see whether it is right"
            )
        if calendar is not None and (recorded_days(tables, row) > calendar.toordinal()).any():
            yield (
                f"records up to {today} count as done: this computer's clock runs on UTC, and that "
                "day has begun somewhere"
            )

    def _counts(self, document: Any) -> Mask:
        """Whether a document is in force for each design, by its day and its codes."""
        found = self._force.get(document.source.id)
        if found is None:
            found = document.in_force(self._dated)
            if document.code:
                found &= self._under[document.code]
            self._force[document.source.id] = found
        return found
