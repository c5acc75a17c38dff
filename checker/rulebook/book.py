"""All rules together, and the codes that they belong to."""

from __future__ import annotations

from datetime import date

from msgspec import Struct

from checker.rulebook.beside_records import Lever, Range, Tolerance
from checker.rulebook.model import Document, Rule


class Code(Struct, frozen=True):
    """A set of published documents that may apply to a job.

    Attributes:
        id: by which designs and calls name it, such as `EN-1264`.
        title: for readers.
        regions: ISO 3166-1 or -2, in capitals (`GB`, `GB-ENG`); `*` for any that no code names.
    """

    id: str
    title: str
    regions: tuple[str, ...]


class Rulebook(Struct, frozen=True):
    """All rules, and the codes they belong to.

    Attributes:
        rules: the program's and a firm's.
        codes: by id.
        documents: what sources cite, by id.
        edition: of these rules, perhaps a firm's.
        digest: of everything that they were read from.
        ranges: of data that a design may leave out.
        published: the edition of the program's own rules, year and month (`2026-11`).
        tolerances: how far what is built may be off what is planned.
        levers: the changes that rules refer to, by name.
        altered: what a firm's pack changes in the program's rules besides the limits that it
            replaces, in words.
    """

    rules: tuple[Rule, ...]
    codes: dict[str, Code]
    documents: dict[str, Document]
    edition: str
    digest: str
    ranges: tuple[Range, ...] = ()
    published: str = ""
    tolerances: tuple[Tolerance, ...] = ()
    levers: dict[str, Lever] = {}
    altered: tuple[str, ...] = ()

    @property
    def has_own(self) -> bool:
        """Whether a firm's own limits are among them."""
        return any(limit.source.own is True for rule in self.rules for limit in rule.limits)

    @property
    def own_limits(self) -> tuple[str, ...]:
        """Each limit of a firm's own that replaces one of the program's, and what else it
        changes.
        """
        return self.altered + tuple(
            f"{rule.id}: {limit.words}"
            + "".join(f", where {condition.words}" for condition in limit.when)
            + f" instead of {limit.source.replaces}"
            for rule in self.rules
            for limit in rule.limits
            if isinstance(limit.source.replaces, str)
        )

    @property
    def covers(self) -> dict[str, date]:
        """For each code with dated sources, the first day that one of them was in force."""
        first: dict[str, date] = {}
        for document in self.documents.values():
            if document.code and document.start is not None:
                first[document.code] = min(first.get(document.code, date.max), document.start)
        return first

    def is_after(self, day: float) -> bool:
        """Whether a day is after the month in which these rules were published.

        Args:
            day: as `date.toordinal` numbers it; NaN, an unknown day, is not.

        Returns:
            True from the first day of the next month on.
        """
        # Months from the year 0 on, with January as 0: the sum is the month after `published`.
        year, month = divmod(int(self.published[:4]) * 12 + int(self.published[5:]), 12)
        return day >= date(year, month + 1, 1).toordinal()

    def has_own_code(self, region: str) -> bool:
        """Whether a code is meant for this region or its country, not for all that have none.

        Args:
            region: ISO 3166-1 or -2, in capitals ('GB', 'GB-ENG').

        Returns:
            False also for an empty region.
        """
        country = region.split("-", 1)[0]
        return any(
            "*" not in code.regions and {region, country} & {*code.regions}
            for code in self.codes.values()
        )

    def codes_of(self, region: str) -> tuple[str, ...]:
        """Give the codes that hold in a region.

        Args:
            region: ISO 3166-1 or -2 ('GB', 'GB-ENG'), in any case; may be empty.

        Returns:
            The ids of the codes that name the region, else of those that name its country, else of
            those for any other region (`*`).
        """
        region = region.strip().upper()
        country = region.split("-", 1)[0]
        for wanted in (region, country):
            found = tuple(code.id for code in self.codes.values() if wanted in code.regions)
            if wanted and found:
                return found
        return tuple(code.id for code in self.codes.values() if "*" in code.regions)
