"""A rule as data: what it compares, with which limits, from which sources."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING, Protocol, get_args

from msgspec import Struct
from msgspec.structs import replace

from checker.arrays import Array, Mask
from checker.outcome.results import Kind, Severity, Source, Stage

if TYPE_CHECKING:
    from typing import TypeAlias

    Days: TypeAlias = Array
    """Days as `date.toordinal` numbers them, NaN where one is not known."""

GAP = re.compile(r"\{([^{}]+)\}")
"""A name in braces, in the text of a review or after a fail, which is replaced by its value."""

STAGES: tuple[Stage, ...] = get_args(Stage)
"""The stages of a job, in the order of the work."""

GENERAL = ""
"""The code of a source that belongs to none: common practice, a pipe's own papers."""


class Described(Struct, frozen=True):
    """What a name in a rule means.

    Attributes:
        kind: quantity, integer, boolean, date or enumeration.
        unit: the one that reports show a quantity in.
        measure: the kind of unit, a key of `checker.units.KINDS`.
        options: an enumeration's words; a column holds their places.
    """

    kind: str
    unit: str = "1"
    measure: str = "ratio"
    options: tuple[str, ...] = ()


class Vocabulary(Protocol):
    """The names that rules may use."""

    def __hash__(self) -> int:
        """Equal for two that know the same names."""

    def describe(self, subject: str, name: str) -> Described | None:
        """Say what a name means.

        Args:
            subject: whose, in the singular ('loop').
            name: of a field or a quantity.

        Returns:
            Its kind, unit and words; None where the subject has no such name.
        """

    def names(self, subject: str) -> list[str]:
        """List all names of a subject, for suggestions.

        Args:
            subject: in the singular ('loop').

        Returns:
            The names of its fields and quantities.
        """

    def subjects(self) -> list[str]:
        """All subjects."""


class Condition(Struct, frozen=True):
    """True where a column equals one of some values.

    Attributes:
        name: of the column.
        values: in SI, or the numbers of words.
        words: the condition for reports.
        stated: True or False where it only asks whether there is a value, or whether there is none;
            `values` is empty then.
    """

    name: str
    values: tuple[float, ...]
    words: str
    stated: bool | None = None


class Document(Struct, frozen=True):
    """A published document, or a practice, that limits come from.

    Attributes:
        source: how reports name it.
        code: the id of the code that it belongs to; GENERAL for none.
        start: the first day in force; None where it is not known.
        end: the first day no longer in force; None where it still is.
        scope: the jobs that it applies to; a job that is stated to be of another kind is not judged
            by it.
    """

    source: Source
    code: str
    start: date | None
    end: date | None
    scope: tuple[Condition, ...] = ()

    def in_force(self, days: Days) -> Mask:
        """Mark the days on which the document was in force.

        Args:
            days: shape (n,), as `date.toordinal` numbers them; NaN, an unknown day, counts as
                today's edition: one that has no end.

        Returns:
            A mask, shape (n,).
        """
        import numpy as np  # imported only here, so that rules can be read back without it

        found = np.ones(len(days), dtype=bool)
        if self.start is not None:
            found &= days >= self.start.toordinal()
        if self.end is not None:
            found &= days < self.end.toordinal()
        found[np.isnan(days)] = self.end is None
        return found


class Table(Struct, frozen=True):
    """A limit in steps: by the value of another column.

    Attributes:
        by: the name of that column.
        keys: its values, SI, in rising order.
        values: the limit for each key, SI.
        exact: whether the column must equal a key; otherwise the largest key that is not above it
            counts.
        words: the reason where no key fits.
    """

    by: str
    keys: tuple[float, ...]
    values: tuple[float, ...]
    exact: bool
    words: str


class Bound(Struct, frozen=True):
    """One value to compare with; exactly one of the three is there.

    Attributes:
        number: SI.
        name: of a column of the rule's subject.
        table: a value in steps.
    """

    number: float | None = None
    name: str | None = None
    table: Table | None = None


class RuleLimit(Struct, frozen=True):
    """One limit of a rule.

    Attributes:
        id: by which a firm's rule replaces it.
        comparison: one of `limits.COMPARISONS`.
        bounds: what the value is compared with; none for a review.
        when: where it counts; all conditions must be met.
        document: where it comes from.
        source: of this very limit, with its clause.
        severity: of a fail.
        review: what a person must judge, with names in braces.
        words: the limit for reports.
        group: limits of one group are tried in file order, and the first that can be computed
            counts. The limits of a code are one group, those of no code another, and a firm's own
            of no code a third.
        fallback: whether it counts only where none of the limits before it could be computed.
        strict: whether a value equal to its bound breaks it.
        caution: instead of the rule's, where it has its own.
    """

    id: str
    comparison: str
    bounds: tuple[Bound, ...]
    when: tuple[Condition, ...]
    document: Document
    source: Source
    severity: Severity
    review: str = ""
    words: str = ""
    group: str = GENERAL
    fallback: bool = False
    strict: bool = False
    caution: str = ""


class Example(Struct, frozen=True):
    """A case that the rule's author worked out.

    Attributes:
        values: names of columns, and values as the file writes them.
        gives: the kind of result.
        codes: those that it is judged by; None for those of no region.
        on: the day that it is judged by; None for the editions in force now.
        line: of the example in the rule's file, from 1.
    """

    values: tuple[tuple[str, str], ...]
    gives: Kind
    codes: tuple[str, ...] | None
    on: date | None
    line: int


class Uncertainty(Struct, frozen=True):
    """The uncertainty of a rule's method; a fail by less counts as minor.

    Attributes:
        share: of the limit; 0 where it is a difference.
        difference: in the rule's unit, SI; 0 where it is a share.
        words: as the rule's file writes it.
        source: for how large it is.
    """

    share: float
    difference: float
    words: str
    source: Source


class Rule(Struct, frozen=True):
    """A rule, with everything that its file says.

    Attributes:
        subject: what is judged, in the singular ('loop').
        value: the name of the column that is compared.
        described: what that is.
        severity: of a fail, where the limit has none of its own.
        stage: the first of STAGES whose next step cannot be taken without the rule; before that,
            missing data do not count.
        applies: the rows that are judged.
        limits: in the order in which they are tried.
        at: the field that a finding points to in the file.
        found: the words of a fail, with {value}, {limit} and {bound}; empty for the usual ones.
        why: why it matters.
        remedy: what to do about a fail.
        caution: what can hurt someone; empty where nothing can.
        topic: the folder of its file.
        path: of its file, as shown.
        line: of the rule in its file, from 1.
        waivable: whether even its critical fails may be waived.
        uncertainty: of its method; None where every fail counts in full.
        under: the rule, about a field of the design, under which its fails are listed where they
            are caused by it.
        changes: the names of the changes that may clear a fail, the cheapest first.
    """

    id: str
    title: str
    subject: str
    value: str
    described: Described
    severity: Severity
    stage: Stage
    applies: tuple[Condition, ...]
    limits: tuple[RuleLimit, ...]
    at: str
    found: str
    why: str
    remedy: str
    caution: str
    examples: tuple[Example, ...]
    topic: str
    path: str
    line: int
    waivable: bool = False
    uncertainty: Uncertainty | None = None
    of_remedy: bool = False
    """Whether the caution is about the remedy only, so that a pass needs none."""
    under: str = ""
    unlimited: str = ""
    """The words where no limit is in force, such as which rule judges instead."""
    changes: tuple[str, ...] = ()
    besides: str = ""
    """A sentence that follows a fail, with other values of the subject in braces."""
    raised_by: tuple[str, ...] = ()
    """Columns that only raise the value: where one is missing, a value under its limit is open."""

    def with_limits(self, limits: tuple[RuleLimit, ...]) -> Rule:
        """Give the same rule with other limits.

        Args:
            limits: instead of all limits that it has, in the order in which they are tried.

        Returns:
            A copy.
        """
        return replace(self, limits=limits)
