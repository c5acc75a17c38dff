"""What a comparison of revisions comes to, as records in the shape of its JSON."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from msgspec import UNSET, Struct, UnsetType

from checker.outcome.results import PASSING, SEVERITIES, Measure, Pattern, Result
from checker.outcome.status import CLEAR, FOUND, Answer
from checker.reading.mistakes import Unreadable
from checker.revisions.revision import Side
from checker.words import how_many
from checker.words.speech import PLAIN, Speech

VERSION = 2
STATES = (
    "new", "worse", "asked", "better",
    "mended", "gone", "judged otherwise", "no longer asked",
    "still",
)  # fmt: skip
"""What can become of a finding. A gate stops `new`, `worse` and `asked`.

`asked`: the change could be read in two ways, and the finding depends on which; `gone`: its subject
is gone; `judged otherwise`: only the limits in force make the difference; `no longer asked`: its
rule does not apply to the design any more, or not yet.
"""
HELD = ("new", "worse", "asked")


class Input(Struct, frozen=True):
    """A value of the design that differs; None on the side where it is not stated."""

    subject: str
    field: str
    before: str | None
    after: str | None


class Figure(Struct, frozen=True):
    """A computed value that differs."""

    subject: str
    name: str
    before: Measure
    after: Measure


class Renamed(Struct, frozen=True):
    """A record that has another id now."""

    before: str
    after: str


class Match(Struct, frozen=True):
    """Which records are the same: ids with their section, several where one was split or merged."""

    before: str | tuple[str, ...]
    after: str | tuple[str, ...]


class Unsure(Struct, frozen=True):
    """Records that could be matched in two ways."""

    before: tuple[str, ...]
    after: tuple[str, ...]


class Change(Struct, frozen=True):
    """What became of one finding.

    state: one of STATES; subject: by its new id, or its old one where it is gone; because: what
    changed, `design`, `limit` or `both`, else empty; inputs: the changed inputs that it may come
    from; before, after: the two results, as far as there are any.
    """

    state: str
    rule: str
    subject: str
    title: str
    severity: str
    because: str = ""
    inputs: tuple[Input, ...] = ()
    before: Result | UnsetType = UNSET
    after: Result | UnsetType = UNSET


class Pair(Struct, frozen=True):
    """Two revisions of one design, and all differences between them.

    speech: how values are shown to the reader of the new one.
    """

    name: str
    before: Side
    after: Side
    matched: tuple[Match, ...] = ()
    unsure: tuple[Unsure, ...] = ()
    renamed: tuple[Renamed, ...] = ()
    added: tuple[str, ...] = ()
    removed: tuple[str, ...] = ()
    inputs: tuple[Input, ...] = ()
    figures: tuple[Figure, ...] = ()
    changes: tuple[Change, ...] = ()
    speech: Speech = PLAIN

    def of(self, *states: str) -> list[Change]:
        """The findings with these states.

        Args:
            *states: some of STATES.

        Returns:
            In the order of STATES, the gravest of each state first.
        """
        return [change for change in self.changes if change.state in states]


class Single(Struct, frozen=True):
    """A design that is on one side only, with its findings."""

    name: str
    side: Side
    findings: tuple[Result, ...]


class Comparison(Struct, frozen=True):
    """All designs of two sides."""

    pairs: Sequence[Pair]
    only_before: Sequence[Single] = ()
    only_after: Sequence[Single] = ()
    unreadable: tuple[Unreadable, ...] = ()

    def totals(self) -> dict[str, int]:
        """The number of findings in each state; those of a new design count as new."""
        counts = Counter(change.state for pair in self.pairs for change in pair.changes)
        counts["new"] += sum(len(single.findings) for single in self.only_after)
        counts["mended"] += 0
        return {state: counts[state] for state in STATES}

    def answer(self, threshold: str) -> Answer:
        """The exit status of a comparison, with its reason.

        Args:
            threshold: the severity from which a finding counts; `anything` for every finding, open
                ones and reviews too; `never` for none.

        Returns:
            FOUND where something that counts is new or worse, or a new design has no loop, else
            CLEAR; files that cannot be read are not part of it.
        """
        if threshold == "never":
            return Answer(CLEAR, "nothing counts (fail-on never)")
        count = self.counting(threshold)
        grave = "" if threshold == "anything" else f" at or above {threshold}"
        said = []
        if count:
            verb = "is" if count == 1 else "are"
            said.append(f"{how_many(count, 'finding')}{grave} {verb} new or worse")
        sides = [one.after for one in self.pairs] + [one.side for one in self.only_after]
        if loopless := sum(side.loopless for side in sides):
            said.append(f"{how_many(loopless, 'design')} without a loop")
        if said:
            return Answer(FOUND, "; ".join(said))
        return Answer(CLEAR, f"nothing{grave} is new or worse")

    def counting(self, threshold: str) -> int:
        """How many findings are new or worse and count.

        A finding that could be read in two ways counts where it is in the new design; one that was
        accepted, or was known and is no worse, does not.

        Args:
            threshold: as in `answer`.

        Returns:
            Their number, with those of designs that are only among the new ones.
        """
        if threshold == "never":
            return 0
        counted = [
            change.after
            for pair in self.pairs
            for change in pair.of(*HELD)
            if change.after is not UNSET
        ]
        counted += [result for single in self.only_after for result in single.findings]
        # Findings that were accepted, or that were known and are no worse, do not count.
        counted = [r for r in counted if not (r.waived or r.state in PASSING)]
        if threshold == "anything":
            return len(counted)
        graver = SEVERITIES[: SEVERITIES.index(threshold) + 1]
        return sum(_counts(r) and r.severity in graver for r in counted)


def _counts(result: Result) -> bool:
    pattern = Pattern.of(result)
    return result.kind == "fail" or (pattern.asks and (result.kind == "open" or pattern.unproven))
