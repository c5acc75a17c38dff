"""Chances: how a design performs where what is built differs slightly from what is planned.

Every datum with a tolerance is drawn for every record at once, and all draws are judged as copies
of the design in one pass of the columns. Half of the draws are one sample, half another; for each
tolerance a third sample takes its own data from the second and all others from the first, and from
these the shares of variance are computed (Saltelli et al. 2010, Computer Physics Communications
181, for the first order; Jansen 1999 for the total). The draws are seeded: the same call gives the
same result.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from checker.arrays import Array
from checker.compute.judging import OfTheSame, asked_designs, judged, result_subject
from checker.compute.naming import TABLE_OF
from checker.compute.settling import settled
from checker.compute.variants import Copies
from checker.design.answer_files import beside
from checker.design.tables import Tables
from checker.outcome.applicable import ApplicableLimits, JudgingOptions
from checker.outcome.phrasing import Shown
from checker.outcome.results import HOLDING, SEVERITIES, Measure, Severity
from checker.physics.carried import Carried
from checker.remedies.draws import data_of, sample, shares
from checker.remedies.site import Place, Site
from checker.rulebook.beside_records import Tolerance
from checker.rulebook.book import Rulebook
from checker.rulebook.model import Rule
from checker.rulebook.outcomes import FAIL, NOT_APPLICABLE, OPEN, PASS, Outcome, governing, taken
from checker.words.speech import Speech

DRAWS, SEED = 1000, 0


AIMED = 0.05
"""Share of draws that may break a limit where the recommended margin is kept."""
AT_ONCE = 2000
"""Most copies that are judged in one pass."""
STILL = 1e-12
"""Values that vary by less than this share count as constant."""


class ShareOf(Struct, frozen=True):
    """The share of a value's variance that is due to one tolerance.

    Attributes:
        name: of the tolerance.
        title: in words.
        first: by itself.
        total: with all its interactions.
    """

    name: str
    title: str
    first: float
    total: float


class Chance(Struct, frozen=True):
    """The chance that a limit is kept.

    Attributes:
        rule: its id.
        subject: 'loops.L1'.
        title: of the rule.
        severity: of the gravest fail among the draws.
        chance: 0 to 1.
        error: the standard error of the chance.
        value: as stated.
        margin: of that to the limit.
        aim: the margin with which 19 of 20 draws would keep the limit.
        shares: what decides, the most first.
    """

    rule: str
    subject: str
    title: str
    severity: Severity
    chance: float
    error: float
    value: Measure
    margin: Measure
    aim: Measure
    shares: tuple[ShareOf, ...]


class BetweenSections(Struct, frozen=True):
    """Interpolation between sections of floors in draws; both 0 where no sections were needed.

    Attributes:
        solved: the number of places that were solved.
        error: the largest error seen, as a share of a coefficient.
    """

    solved: int
    error: float


class Chances(Struct, frozen=True):
    """A design under the tolerances of a site.

    Attributes:
        path: of the design.
        name: of the project.
        draws: how many there were.
        seed: of the random numbers.
        sound: the chance that nothing critical or major breaks, of what can be judged.
        judged: how many limits could be judged in some draw, each rule and subject once.
        open: how many could not be judged in some draw, for want of data.
        limits: the gravest first, then the least likely kept.
        tolerances: those that were drawn.
        not_drawn: titles of tolerances that were not, because nothing that they apply to is stated.
        carried: how sections of floors were interpolated.
        speech: how values are shown to the reader.
    """

    path: str
    name: str
    draws: int
    seed: int
    sound: float
    judged: int
    open: int
    limits: tuple[Chance, ...]
    tolerances: tuple[Tolerance, ...]
    not_drawn: tuple[str, ...]
    carried: BetweenSections
    speech: Speech


class _Course(NamedTuple):
    """One rule for one subject over all draws.

    Attributes:
        kinds: outcomes, shape (draws,).
        margins: SI, shape (draws,).
        values: SI, shape (draws,).
        severities: numbers of SEVERITIES, of fails, shape (draws,).
    """

    kinds: npt.NDArray[np.int8]
    margins: Array
    values: Array
    severities: npt.NDArray[np.int8]


def chances(
    path: str,
    data: bytes,
    book: Rulebook,
    judging: JudgingOptions,
    draws: int = DRAWS,
    seed: int = SEED,
    changes: tuple[str, ...] = (),
) -> Chances:
    """Judge a design under tolerances.

    Args:
        path: the design's path, for messages and for the answers beside it.
        data: its bytes.
        book: the rules.
        judging: the options of judging.
        draws: how many, 4 at least; of an odd number one less.
        seed: of the random numbers.
        changes: changes to make first.

    Returns:
        The chance that each limit is kept, for values that differ between draws.

    Raises:
        BadDesign: the design, or the file of answers beside it, has mistakes.
    """
    tables = Tables(book.codes)
    design = tables.add(path, data, changes)
    design.beside = beside(path)
    return _Study(tables, book, judging, draws, seed).run()


class _Study:
    """One design under tolerances, while it is judged."""

    def __init__(
        self, tables: Tables, book: Rulebook, judging: JudgingOptions, draws: int, seed: int
    ) -> None:
        self.tables = tables
        self.book = book
        self.judging = judging
        self.seed = seed
        self.half = max(2, draws // 2)
        self.site = Site(tables, tables.designs[0])
        self.data = data_of(self.site, book.tolerances)
        self.along = [*self._first_heating()]
        self.basis = ApplicableLimits(tables, book, judging)
        self.carried = Carried()
        self.names: dict[tuple[int, int], tuple[str, str]] = {}

    def _first_heating(self) -> Iterator[tuple[Place, int]]:
        """Steps of the first heating at the hottest supply, each with the datum of that supply.

        They are drawn together, because the screed is heated with what the plant gives.
        """
        supplies = [n for n, one in enumerate(self.data) if one.path.endswith("supply")]
        if not supplies:
            return
        hottest = max(supplies, key=lambda n: self.data[n].stated)
        for path, stated in self.site.heating:
            place = self.site.place(path)
            if place is not None and abs(stated - self.data[hottest].stated) < 1e-6:
                yield place, hottest

    def run(self) -> Chances:
        """Draw, judge, and collect the results."""
        generator = np.random.default_rng(self.seed)
        first, second = (sample(self.data, self.half, generator) for _ in range(2))
        stated = np.array([[one.stated for one in self.data]])
        everything = [*range(len(self.book.rules))]
        base = self._judged(stated, everything)
        both = self._judged(np.concatenate([first, second]), everything)
        moving = {
            key: own
            for key, own in both.items()
            if key in base and base[key].kinds[0] in (PASS, FAIL) and _moves(own.values)
        }
        rules = sorted({rule for rule, _ in moving})
        groups = sorted({one.tolerance for one in self.data})
        of = np.array([one.tolerance for one in self.data])
        own = [np.where(of == group, second, first) for group in groups]
        mixed = self._judged(np.concatenate([first[:0], *own]), rules)
        limits = [
            self._chance(key, base[key], course, mixed[key].values if own else None, groups)
            for key, course in moving.items()
        ]
        order = sorted(
            limits, key=lambda one: (SEVERITIES.index(one.severity), one.chance, one.rule)
        )
        grave = np.ones(2 * self.half, dtype=bool)
        for course in both.values():
            holding = np.isin(course.severities, [SEVERITIES.index(one) for one in HOLDING])
            grave &= ~((course.kinds == FAIL) & holding)
        known = {one.tolerance for one in self.data}
        design = self.tables.designs[0]
        return Chances(
            design.path,
            design.name,
            2 * self.half,
            self.seed,
            float(grave.mean()),
            sum(bool(np.isin(one.kinds, (PASS, FAIL)).any()) for one in both.values()),
            sum(bool((one.kinds == OPEN).any()) for one in both.values()),
            tuple(order),
            tuple(self.book.tolerances[number] for number in sorted(known)),
            tuple(one.title for n, one in enumerate(self.book.tolerances) if n not in known),
            BetweenSections(
                sum(one.solved for one in self.carried.families),
                max((one.error for one in self.carried.families if one.carries), default=0.0),
            ),
            self.basis.speech[0],
        )

    def _judged(self, values: Array, rules: Sequence[int]) -> dict[tuple[int, int], _Course]:
        """The rules for all their rows over all draws; values: of the data, shape (draws, data)."""
        blocks: dict[tuple[int, int], list[_Course]] = {}
        for start in range(0, len(values), AT_ONCE):
            for key, own in self._block(values[start : start + AT_ONCE], rules).items():
                blocks.setdefault(key, []).append(own)
        return {
            key: own[0] if len(own) == 1 else _Course(*map(np.concatenate, zip(*own, strict=True)))
            for key, own in blocks.items()
        }

    def _block(self, values: Array, rules: Sequence[int]) -> dict[tuple[int, int], _Course]:
        """The rules for all their rows over some draws, judged in one pass."""
        count = len(values)
        wanted = np.zeros(count, dtype=np.intp)
        copies = Copies(self.tables, wanted)
        every = np.arange(count)
        for number, one in enumerate(self.data):
            rows = copies.rows(one.table, every, one.row)
            copies.tables[one.table].fill(one.slot, rows, values[:, number])
        for place, number in self.along:
            rows = copies.rows(place.table, every, place.row)
            copies.tables[place.table].fill(place.leaf.slot, rows, values[:, number])
        self.carried.forget_rows()
        graph = settled(copies.tables, carried=self.carried if count > 1 else None)
        found: dict[tuple[int, int], _Course] = {}
        for number in rules:
            rule = self.book.rules[number]
            if not Shown(rule.described).plain:
                continue
            asked = asked_designs(rule, copies.tables)
            if asked is not None and not asked.any():
                continue
            outcome, which = judged(rule, graph, OfTheSame(self.basis, wanted))
            if which is not None:
                outcome = taken(outcome, which)
            size = len(self.tables[TABLE_OF[result_subject(rule)]])
            if size:
                found |= self._courses(number, rule, outcome, (count, size))
        return found

    def _courses(
        self, number: int, rule: Rule, outcome: Outcome, shape: tuple[int, int]
    ) -> dict[tuple[int, int], _Course]:
        """A rule's outcome by subject; shape: (draws, rows of one design)."""
        kinds = outcome.kinds.reshape(shape)
        margins = _margins(outcome).reshape(shape)
        values = outcome.values.reshape(shape)
        severities = governing(outcome)[0].reshape(shape)
        table = TABLE_OF[result_subject(rule)]
        found = {}
        for row in range(shape[1]):
            if (kinds[:, row] == NOT_APPLICABLE).all():
                continue
            key = number, row
            self.names.setdefault(key, (rule.id, self.site.name(table, row)))
            found[key] = _Course(kinds[:, row], margins[:, row], values[:, row], severities[:, row])
        return found

    def _chance(
        self,
        key: tuple[int, int],
        base: _Course,
        own: _Course,
        mixed: Array | None,
        groups: Sequence[int],
    ) -> Chance:
        """The chance that one rule is kept for one subject, and what decides it."""
        rule = self.book.rules[key[0]]
        name, subject = self.names[key]
        shown = Shown(rule.described)
        count = len(own.kinds)
        share = float((own.kinds == PASS).sum()) / count
        fails = own.kinds == FAIL
        gravest = int(own.severities[fails].min()) if fails.any() else int(base.severities[0])
        margin = float(base.margins[0])
        low = float(np.nanquantile(own.margins, AIMED)) if _known(own.margins) else margin
        first, second = own.values[: self.half], own.values[self.half :]
        columns = np.empty((self.half, 0)) if mixed is None else mixed.reshape(-1, self.half).T
        whole = ~(np.isnan(first) | np.isnan(second) | np.isnan(columns).any(axis=1))
        alone, total = shares(first[whole], second[whole], columns[whole])
        parts = [
            ShareOf(self.book.tolerances[group].name, self.book.tolerances[group].title, a, t)
            for group, a, t in zip(groups, alone.tolist(), total.tolist(), strict=True)
        ]
        parts.sort(key=lambda one: -one.total)
        (value,) = shown.numbers(base.values[:1])
        differences = shown.differences(np.array([margin, margin - low]))
        unit = shown.difference_unit
        return Chance(
            name,
            subject,
            rule.title,
            SEVERITIES[gravest],
            share,
            float(np.sqrt(share * (1 - share) / count)),
            shown.measured(value),
            Measure(differences[0], unit),
            Measure(max(0.0, differences[1]), unit),
            tuple(parts),
        )


def _moves(values: Array) -> bool:
    known = values[~np.isnan(values)]
    return len(known) > 1 and bool(np.ptp(known) > STILL * max(1e-9, float(np.abs(known).max())))


def _known(values: Array) -> bool:
    return bool((~np.isnan(values)).any())


def _margins(outcome: Outcome) -> Array:
    """Of each row, the margin to its governing limit, in SI."""
    margins = np.full(len(outcome.kinds), np.nan)
    for number, limit_outcome in enumerate(outcome.limits):
        if limit_outcome.applies_anywhere:
            margins = np.where(outcome.governing == number, limit_outcome.margins, margins)
    return margins
