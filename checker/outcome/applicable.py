"""What designs are judged by: which codes and editions count for each, and from which stage on."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from checker.design.schema import DESIGNS, design_format
from checker.design.tables import Tables
from checker.rulebook.model import STAGES, Rule, Rulebook
from checker.words.speech import AS_WRITTEN, POINT, Speech

Objects = npt.NDArray[np.object_]

STAGE = "project.stage"
NO_LIMIT = "No limit is in force here (codes: {})."
"""What a rule without a limit for a design says: by which codes that is judged."""


class JudgingOptions(Struct, frozen=True):
    """By what the designs are judged: codes, day and stage, where the call says so.

    further_codes: those that count besides the ones that the design or its region says.
    """

    codes: tuple[str, ...] | None = None
    on: date | None = None
    stage: str = ""
    """The stage to judge by, whatever the design's own."""
    further_codes: tuple[str, ...] = ()
    strict: bool = False
    """Whether a datum that is missing is never taken to lie in its range."""
    accepted: tuple[str, ...] | None = None
    """The answers that count, by their digests, where not all that designs carry do."""
    second_opinion: bool = False
    """Whether floors are worked out by their section beside the standard too."""
    units: str = AS_WRITTEN
    """The system of units that readers are told values in."""
    decimal: str = POINT
    """The decimal mark that readers are told values with."""
    today: date | None = None
    """The day of the check: what is recorded of a later one has not happened. None: not asked."""

    @property
    def day_number(self) -> float:
        """The day of the check as `date.toordinal` numbers it, NaN where there is none."""
        return np.nan if self.today is None else float(self.today.toordinal())


class ApplicableLimits:
    """For each design, the codes and the day it is judged by.

    remarks: for each design, what a reader must know of that: a region without a code of its own,
    or a day that no known edition is of.
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
        """For each design, how its reader is told values."""
        self.ageless = np.zeros(len(whole), dtype=bool)
        """Designs older than every edition known: judged as if undated, lest findings be lost."""
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
            for row, design in enumerate(tables.designs)
        ]
        self._under = {
            code: np.array([code in codes for codes in self.codes], dtype=bool)
            for code in {document.code for document in rulebook.documents.values()}
        }
        self._force: dict[str, npt.NDArray[np.bool_]] = {}

    @cached_property
    def no_limit(self) -> Objects:
        """For each design, what a rule says that has no limit by its codes."""
        words = {codes: NO_LIMIT.format(", ".join(codes)) for codes in {*self.codes}}
        return np.array([words[codes] for codes in self.codes], dtype=object)

    def counts(self, rule: Rule) -> npt.NDArray[np.bool_]:
        """For each limit of the rule and each design, whether its source is in force there."""
        return np.array([self._counts(one.document) for one in rule.limits], dtype=bool)

    def due(self, rule: Rule) -> npt.NDArray[np.bool_]:
        """For each design, whether its stage asks for the rule."""
        return np.asarray(self.stage >= STAGES.index(rule.stage))

    def _remarks(
        self, row: int, region: str, rulebook: Rulebook, covers: dict[str, date], *, by_region: bool
    ) -> Iterator[str]:
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

    def _counts(self, document: Any) -> npt.NDArray[np.bool_]:
        found = self._force.get(document.source.id)
        if found is None:
            found = document.in_force(np.where(self.ageless, np.nan, self.day))
            if document.code:
                found &= self._under[document.code]
            self._force[document.source.id] = found
        return found
