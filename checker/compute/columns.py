"""Computed values, one a row, and why some are missing."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from msgspec import Struct

from checker.arrays import Array, Index, Mask

Reasons = npt.NDArray[np.int64]

NO_REASON = -1


class Column(NamedTuple):
    """Computed values, and why some are missing.

    Attributes:
        values: SI and °C, shape (n,), NaN where missing.
        reasons: their numbers, NO_REASON where nothing is missing, shape (n,); None where nothing
            is missing at all.
    """

    values: Array
    reasons: Reasons | None


class Grouped(Struct, frozen=True):
    """Values of all members of some groups.

    A member whose group is unknown could belong to any group of its design, so all of these are
    missing.

    Attributes:
        values: shape (m,).
        group: of each member, shape (m,), 0 to n - 1.
        size: the number n of groups.
        unknown_groups: whether the design of each group lists no such members yet, shape (n,); None
            where all do.
    """

    values: Array
    group: Index
    size: int
    unknown_groups: Mask | None = None

    def sum(self) -> Array:
        """Total of each group, shape (n,); NaN where a member is missing or there is none."""
        total = np.bincount(self.group, weights=self.values, minlength=self.size).astype(float)
        total[np.bincount(self.group, minlength=self.size) == 0] = np.nan
        return self._where_known(total)

    def largest(self) -> Array:
        """Largest of each group, shape (n,); NaN where a member is missing or there is none."""
        found = np.full(self.size, -np.inf)
        with np.errstate(invalid="ignore"):
            np.maximum.at(found, self.group, self.values)
        found[np.isneginf(found)] = np.nan
        return found

    def smallest(self) -> Array:
        """Smallest of each group, shape (n,); NaN where a member is missing or there is none."""
        return -Grouped(-self.values, self.group, self.size).largest()

    def ordered(self, by: Grouped, *, last: bool) -> Array:
        """The first or last value of each group in the order of another column.

        Args:
            by: what to order by, such as the times of readings; same members in the same order.
            last: whether the last is wanted, otherwise the first.

        Returns:
            Shape (n,); NaN for a group without members.
        """
        order = np.argsort(by.values, kind="stable")
        order = order if last else order[::-1]
        found = np.full(self.size, np.nan)
        found[self.group[order]] = self.values[order]
        return found

    def count(self) -> Array:
        """Number of members of each group, shape (n,); NaN where missing or in unknown_groups."""
        counts = np.bincount(self.group, minlength=self.size).astype(float)
        counts[self.group[np.isnan(self.values)]] = np.nan
        return self._where_known(counts)

    def where(self, chosen: Mask) -> Grouped:
        """Some of the members, in the same groups.

        Args:
            chosen: whether a member is wanted, shape (m,).

        Returns:
            The groups; one of which no member is wanted has none.
        """
        return Grouped(self.values[chosen], self.group[chosen], self.size, self.unknown_groups)

    def known(self) -> Grouped:
        """The members whose value is not missing, in the same groups."""
        return self.where(~np.isnan(self.values))

    def any(self, holds: Mask) -> Mask:
        """Whether something holds of a member of each group.

        Args:
            holds: of each member, shape (m,).

        Returns:
            Shape (n,); false for a group without members.
        """
        found: Mask = np.bincount(self.group[holds], minlength=self.size) > 0
        return found

    def _where_known(self, found: Array) -> Array:
        if self.unknown_groups is not None:
            found[self.unknown_groups] = np.nan
        return found
