"""All that was found about one design; results are made when they are asked for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import Protocol

from msgspec import Struct
from msgspec.structs import replace

from checker.outcome.drawn_records import FloorPicture, OverSupply, Sketch
from checker.outcome.proposals import Remedy
from checker.outcome.results import (
    HOLDING,
    KINDS,
    Done,
    Given,
    Kind,
    Measure,
    Notes,
    Pattern,
    Question,
    Result,
    Stage,
    Verdict,
)
from checker.words.speech import PLAIN


class DesignResults(Protocol):
    """The results of one design; each is made when it is asked for."""

    @property
    def patterns(self) -> list[Pattern]:
        """What each result counts as, in file order and then by rule."""

    def result(self, place: int) -> Result:
        """Make one result.

        Args:
            place: among the design's results, in the order of `patterns`.

        Returns:
            The result, without notes such as a waiver.
        """

    def subject(self, place: int) -> str:
        """Give the subject of one result, without making the result.

        Args:
            place: among the design's results, in the order of `patterns`.

        Returns:
            Its name as reports show it ('loops.L1').
        """

    def computed(self, *, shown: bool = True) -> dict[str, dict[str, Measure]]:
        """Give the design's computed values.

        Args:
            shown: True for those in every report, False for those that only pictures show.

        Returns:
            By subject and name, each value in the unit of reports; one that is missing has no
            number.
        """


class Records:
    """Results that exist already, and no computed values."""

    def __init__(self, results: Iterable[Result]) -> None:
        self._results = [*results]
        self.patterns = [*map(Pattern.of, self._results)]

    def result(self, place: int) -> Result:
        """Give one of the results.

        Args:
            place: in the order in which they were given.

        Returns:
            The result itself.
        """
        return self._results[place]

    def subject(self, place: int) -> str:
        """Give the subject of one of the results.

        Args:
            place: in the order in which they were given.

        Returns:
            Its name as reports show it ('loops.L1').
        """
        return self._results[place].subject

    def computed(self, *, shown: bool = True) -> dict[str, dict[str, Measure]]:
        """Give the computed values, of which there are none.

        Args:
            shown: makes no difference.

        Returns:
            An empty mapping.
        """
        return {}


class DesignReport:
    """All that was found about one design.

    Attributes:
        path: of the file, as it was named.
        name: of the project, or of the file where the project has none.
        codes: that it was judged by.
        judged_by: the day whose editions counted (ISO 8601), empty where it is unknown.
        found: every result, in file order and then by rule, and the computed values.
        patterns: what the results count as, notes included, with how often.
        notes: waivers and states of findings, by the place of the result in `found`.
        given: for each subject what the design states, by name, where a report needs it
            (`needs_given`).
        sections: its floors in section for pictures, where a report needs them.
        supplies: its headers at several supplies, where the supply is higher than needed.
        sketch: its plan, if it has one.
        content: the file's bytes, where they are available.
        mended: findings that were known and are gone; None where no findings were known.
        waivers: those that name a finding here, and whether they count.
        own_rules: whether a firm's own limits were among the rules.
        own_limits: those that replace one of the program's, and what else a firm's rules
            change, in words.
        remarks: what a reader must know about the codes and the day that it was judged by.
        speech: how values are shown to its reader.
        stage: the one that it is judged at.
        loopless: whether it has no loop.
        sheet: name of the sheet file that it was read from.
        sheet_remarks: remarks on the reading of that sheet, by heading.
        unread: cells of the sheet that could not be read, in words; they keep it unproven.
        questions: everything that is missing, in the order of how much it decides.
        asides: answers that could not be used, in sentences.
        unasked: open results, by rule and subject, that no datum would settle, such as those
            beyond a table's range.
        remedies: what would clear each grave finding, by rule and subject, where a report needs
            it.
    """

    __slots__ = (
        "asides",
        "codes",
        "content",
        "found",
        "given",
        "judged_by",
        "loopless",
        "mended",
        "name",
        "notes",
        "own_limits",
        "own_rules",
        "path",
        "patterns",
        "questions",
        "remarks",
        "remedies",
        "sections",
        "sheet",
        "sheet_remarks",
        "sketch",
        "speech",
        "stage",
        "supplies",
        "unasked",
        "unread",
        "waivers",
    )

    def __init__(
        self, path: str, name: str, judged_by: str, codes: tuple[str, ...], found: DesignResults
    ) -> None:
        self.path = path
        self.name = name
        self.judged_by = judged_by
        self.codes = codes
        self.found = found
        self.given: dict[str, dict[str, Given]] = {}
        self.sketch: Sketch | None = None
        self.sections: tuple[FloorPicture, ...] = ()
        self.supplies: tuple[OverSupply, ...] = ()
        self.content = b""
        self.mended: tuple[Mended, ...] | None = None
        self.waivers: list[WaiverUse] = []
        self.own_rules = False
        self.own_limits: tuple[str, ...] = ()
        self.notes: dict[int, Notes] = {}
        self.stage: Stage = "design"
        self.loopless = False
        self.sheet = ""
        self.sheet_remarks: tuple[tuple[str, tuple[str, ...]], ...] = ()
        self.unread: tuple[str, ...] = ()
        self.questions: tuple[Question, ...] = ()
        self.asides: tuple[str, ...] = ()
        self.unasked: frozenset[tuple[str, str]] = frozenset()
        self.patterns = Counter(self.found.patterns)
        self.remarks: tuple[str, ...] = ()
        self.speech = PLAIN
        self.remedies: dict[tuple[str, str], Remedy] = {}

    def note(self, notes: dict[int, Notes]) -> None:
        """Give results their notes; a waived finding does not keep the design from release.

        Args:
            notes: by the place of the result in `found`; they replace all earlier notes of these
                results.
        """
        self.notes = notes
        for place, own in notes.items():
            self.found.patterns[place] = replace(self.found.patterns[place], notes=own)
        self.patterns = Counter(self.found.patterns)

    @property
    def verdict(self) -> Verdict:
        """The verdict on the design."""
        if any(map(_holds, self.patterns)):
            return "hold"
        if self.loopless or self.unread or any(pattern.unproven for pattern in self.patterns):
            return "unproven"
        return "release"

    @property
    def judged(self) -> Done:
        """How many of the rules that apply at its stage are fully judged."""
        rules: dict[str, bool] = {}
        for pattern in self.patterns:
            if pattern.kind != "notApplicable" and not pattern.early:
                rules[pattern.rule] = rules.get(pattern.rule, True) and not pattern.asks
        return Done(sum(rules.values()), len(rules))

    @property
    def results(self) -> list[Result]:
        """Every result, in file order and then by rule."""
        return [*map(self.result, range(len(self.found.patterns)))]

    def results_of(self, *kinds: Kind) -> list[Result]:
        """Make the results of some kinds.

        Args:
            *kinds: which ones ('fail', 'open').

        Returns:
            The results with their notes, in file order and then by rule.
        """
        places = enumerate(self.found.patterns)
        return [self.result(place) for place, pattern in places if pattern.kind in kinds]

    def result(self, place: int) -> Result:
        """Make one result, with its notes.

        Args:
            place: in `found`.

        Returns:
            The result, with whether it is waived and its state against known findings.
        """
        made, own = self.found.result(place), self.notes.get(place)
        return made if own is None else replace(made, waived=own.waived, state=own.state)

    @property
    def counts(self) -> dict[Kind, int]:
        """The number of results of each kind."""
        counts = dict.fromkeys(KINDS, 0)
        for pattern, count in self.patterns.items():
            counts[pattern.kind] += count
        return counts

    @property
    def computed(self) -> dict[str, dict[str, Measure]]:
        """For each subject its computed values by name."""
        return self.found.computed()

    @property
    def further(self) -> dict[str, dict[str, Measure]]:
        """For each subject the computed values that only pictures show, by name."""
        return self.found.computed(shown=False)


def _holds(pattern: Pattern) -> bool:
    """Whether a result of this pattern keeps its design from release."""
    return pattern.kind == "fail" and pattern.severity in HOLDING and not pattern.notes.waived


class Mended(Struct, frozen=True):
    """A known finding that is gone."""

    rule: str
    subject: str


class WaiverUse(Struct):
    """A waiver, and its effect over all designs of a run.

    Attributes:
        path: of the file of waivers.
        line: of the waiver there.
        rule: that it names.
        subject: as reports name it, or a pattern.
        reason: as it was written.
        by: who answers for it.
        until: the last day on which it counts (ISO 8601).
        waives: the number of findings that it accepts.
        refused: how many findings that it names it did not accept, by reason.
        problems: what is wrong with the waiver, in sentences.
    """

    path: str
    line: int
    rule: str
    subject: str
    reason: str
    by: str
    until: str
    waives: int = 0
    refused: dict[str, int] = {}
    problems: list[str] = []
