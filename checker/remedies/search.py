"""Searches for remedies: tries everything that a rule's list allows at once, and keeps the least
change that works.

The candidates for all findings of all designs are judged together. Of several values for one
field, the one nearest to the stated value that clears the finding counts; where no single change
clears it, two are tried together. The remaining candidates are written into the file's own text,
which is read and judged like any design; only those that still clear the finding are proposed.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from functools import partial
from itertools import combinations

from msgspec import Struct, field

from checker.design.changes import BadChange, changed
from checker.design.tables import BadDesign, Tables
from checker.outcome.applicable import JudgingOptions
from checker.outcome.proposals import Brought, Proposal, Remedy, TextEdit
from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING, Result
from checker.remedies.candidates import Candidate, candidates
from checker.remedies.naming import where
from checker.remedies.proving import Proof, Proven, text_edits
from checker.remedies.sifting import between, sides, spread, stride, together, wider
from checker.remedies.site import Site
from checker.remedies.trial import Bench, Effect, Named, Variant
from checker.rulebook.book import Rulebook
from checker.rulebook.model import Rule
from checker.words import listed

_Key = tuple[int, tuple[str, ...]]
"""A design and changes to it."""

MOST_AT_ONCE = 1200
"""Most variants that are judged in one pass, so that memory stays constant."""
MOST_PAIRS = 6
"""Most pairs of changes that are tried for one finding."""
MOST_PROPOSALS = 8
"""Most proposals that are shown for one finding."""
FINE_STEPS = 4


class _Finding(Struct, eq=False):
    """A fail for which a remedy is searched."""

    design: int
    result: Result
    singles: list[Candidate] = field(default_factory=list)
    chosen: list[Candidate] = field(default_factory=list)
    against: dict[Named, int] = field(default_factory=dict)

    @property
    def name(self) -> Named:
        return self.result.rule, self.result.subject


MOST_GRAVE = 100
"""In a design with more grave findings than this, single changes cannot help; nothing is
searched.
"""


def remedied(
    reports: Sequence[DesignReport],
    contents: Mapping[str, bytes],
    book: Rulebook,
    judging: JudgingOptions,
    changes: tuple[str, ...] = (),
    only: Mapping[str, Container[tuple[str, str]]] | None = None,
) -> None:
    """Work out for each report what would clear its grave findings (`DesignReport.remedies`).

    Args:
        reports: filled in; one with no grave finding, or more than MOST_GRAVE, is left as it is.
        contents: the designs' files by path.
        book: the rules that they were judged by.
        judging: the options of judging, likewise.
        changes: changes that were made to each design before it was judged.
        only: by path the findings to search for, by rule and subject; None for all.
    """
    wanted = [one for one in reports if 0 < graves(one) <= MOST_GRAVE]
    if wanted:
        _Search(wanted, contents, book, judging, changes, only).run()


def graves(report: DesignReport) -> int:
    """Count the fails that keep a design from release.

    Args:
        report: with its notes; waived fails do not count.

    Returns:
        How many there are; with more than MOST_GRAVE nothing is searched.
    """
    return sum(1 for _ in _grave(report))


def _grave(report: DesignReport) -> Iterator[Result]:
    """The fails that keep a design from release."""
    for place, pattern in enumerate(report.found.patterns):
        if pattern.kind == "fail" and pattern.severity in HOLDING:
            result = report.result(place)
            if not result.waived:
                yield result


class _Search:
    """One search over some designs."""

    def __init__(
        self,
        reports: Sequence[DesignReport],
        contents: Mapping[str, bytes],
        book: Rulebook,
        judging: JudgingOptions,
        changes: tuple[str, ...],
        only: Mapping[str, Container[tuple[str, str]]] | None,
    ) -> None:
        self.reports = reports
        self.book = book
        self.rules = {rule.id: rule for rule in book.rules}
        self.tables = Tables(book.codes)
        self.bench = Bench(self.tables, book, judging)
        self.contents = contents
        self.changes = changes
        self.judging = judging
        self.sites = []
        self.findings: list[_Finding] = []
        for number, report in enumerate(reports):
            design = self.tables.add(report.path, contents[report.path], changes)
            self.sites.append(Site(self.tables, design))
            self.findings += [
                _Finding(number, result)
                for result in _grave(report)
                if only is None or (result.rule, result.subject) in only.get(report.path, ())
            ]
        asked = {one.result.rule for one in self.findings}
        self.asked = [rule for rule in book.rules if rule.id in asked]
        self.screened: dict[_Key, Effect | None] = {}
        """Effects by the findings' own rules alone; None where the format forbids a change."""
        self.known: dict[_Key, Effect | None] = {}
        """The effect by all rules, of changes that clear the finding they are for."""

    def run(self) -> None:
        """Search, prove, and put the results into the reports."""
        for finding in self.findings:
            report, site = self.reports[finding.design], self.sites[finding.design]
            for name in self.rules[finding.result.rule].changes:
                lever = self.book.levers[name]
                finding.singles += candidates(lever, site, finding.result.subject, report.stage)
        self._screen_widely()
        finer = {id(one): [*self._finer(one)] for one in self.findings}
        self._screen((one.design, own) for one in self.findings for own in finer[id(one)])
        for finding in self.findings:
            finding.singles += finer[id(finding)]
        self._weigh([(one, one.singles) for one in self.findings])
        for finding in self.findings:
            finding.chosen = self._least(finding, finding.singles)
        bare = [one for one in self.findings if not one.chosen]
        pairs = {id(one): [*self._paired(one)] for one in bare}
        for widely in (True, False):
            bare = [one for one in bare if not one.chosen]
            offered = [(one, pairs[id(one)]) for one in bare]
            self._screen(
                (of.design, one) for of, own in offered for one in own if one.wide >= widely
            )
            self._weigh(offered)
            for finding, own in offered:
                finding.chosen = self._least(finding, own)
        for finding in bare:
            if not finding.chosen:
                self._blocked(finding, [*finding.singles, *pairs[id(finding)]])
        self._prove()

    # ---- trying

    def _screen(self, wanted: Iterable[tuple[int, Candidate]]) -> None:
        """Judge candidates only by the rules that found something."""
        self._judge(wanted, self.screened, self.asked)

    def _judge(
        self,
        wanted: Iterable[tuple[int, Candidate]],
        known: dict[_Key, Effect | None],
        rules: Sequence[Rule] | None = None,
    ) -> None:
        """Judge the candidates that have not been judged yet; rules: all of them if None."""
        keys = [
            key
            for key in dict.fromkeys((design, one.changes) for design, one in wanted if one.changes)
            if key not in known
        ]
        for start in range(0, len(keys), MOST_AT_ONCE):
            some = keys[start : start + MOST_AT_ONCE]
            before = len(self.tables.designs)
            variants = [self._variant(design, changes) for design, changes in some]
            sound = [one for one in variants if one is not None]
            effects = iter(self.bench.tried(sound, rules) if sound else ())
            for key, variant in zip(some, variants, strict=True):
                known[key] = None if variant is None else next(effects)
            self.tables.cut(before)

    def _screen_widely(self) -> None:
        """Screen single changes: a few far apart, then those where clearing begins, or all."""
        ways = [
            (finding, own)
            for finding in self.findings
            for group in self._groups(finding.singles).values()
            for own in sides(group)
        ]
        self._screen((of.design, one) for of, own in ways for one in own[:: -stride(own)])
        self._screen(
            (of.design, one)
            for of, own in ways
            for one in between(own, partial(self._is_screened, of), partial(self._clears, of))
        )
        cleared = {id(of) for of, own in ways if any(self._clears(of, one) for one in own)}
        self._screen((of.design, one) for of, own in ways if id(of) not in cleared for one in own)

    def _weigh(self, offered: Sequence[tuple[_Finding, Sequence[Candidate]]]) -> None:
        """Judge by all rules what clears its finding, until the least harmless change is known.

        First the least of each group. Where it causes another finding, farther values in growing
        steps; and where one of those causes none, all between it and the last that does.
        """
        groups: list[tuple[_Finding, list[Candidate], list[Candidate]]] = []
        for finding, some in offered:
            for group in self._groups(some).values():
                own = sorted(group, key=lambda one: one.distance)
                clear = [one for one in own if self._clears(finding, one)]
                if clear:
                    groups.append((finding, clear, own))
        self._judge(((of.design, clear[0]) for of, clear, _ in groups), self.known)
        unclean = [each for each in groups if not self._is_clean(each[0], each[1][0])]
        self._judge(
            ((of.design, clear[place]) for of, clear, _ in unclean for place in wider(len(clear))),
            self.known,
        )
        self._judge(
            (
                (of.design, one)
                for of, _, own in unclean
                for does in (self._is_sound, self._is_clean)
                for one in between(own, partial(self._effect, of), partial(does, of))
                if self._clears(of, one) or not self._is_screened(of, one)
            ),
            self.known,
        )

    def _variant(self, design: int, changes: tuple[str, ...]) -> Variant | None:
        """The changes as a variant; None where the design's format does not allow them."""
        site = self.sites[design]
        try:
            cells = site.cells(changes)
            if cells is not None:
                return Variant(design, design, tuple(cells))
            document = changed(site.document, changes)
            made = self.tables.take(site.design.path, document)
        except (BadChange, BadDesign):
            return None
        return Variant(design, made.row, ())

    def _effect(self, finding: _Finding, candidate: Candidate) -> Effect | None:
        return self.known.get((finding.design, candidate.changes))

    def _is_screened(self, finding: _Finding, candidate: Candidate) -> bool:
        return (finding.design, candidate.changes) in self.screened

    def _clears(self, finding: _Finding, candidate: Candidate) -> bool:
        key = finding.design, candidate.changes
        effect = self.screened.get(key) or self.known.get(key)
        return effect is not None and finding.name in effect.cleared

    def _is_sound(self, finding: _Finding, candidate: Candidate) -> bool:
        effect = self._effect(finding, candidate)
        return effect is not None and not effect.forbidden

    def _is_clean(self, finding: _Finding, candidate: Candidate) -> bool:
        effect = self._effect(finding, candidate)
        return effect is not None and not effect.added

    # ---- choosing

    def _finer(self, finding: _Finding) -> Iterator[Candidate]:
        """Finer steps between the stated value and the first that clears the finding."""
        for group in self._groups(finding.singles).values():
            own = [one for one in group if one.finer is not None]
            clear = [one for one in own if self._clears(finding, one)]
            if not clear:
                continue
            first = min(clear, key=lambda one: one.distance)
            assert first.finer is not None
            for nth in range(1, FINE_STEPS + 1):
                made = first.finer(nth / (FINE_STEPS + 1))
                if made is not None and made.distance < first.distance:
                    yield made

    @staticmethod
    def _groups(some: Sequence[Candidate]) -> dict[str, list[Candidate]]:
        groups: dict[str, list[Candidate]] = {}
        for one in some:
            groups.setdefault(one.group, []).append(one)
        return groups

    def _least(self, finding: _Finding, some: Sequence[Candidate]) -> list[Candidate]:
        """Of each group, the least that clears the finding, and the least that also adds none."""
        found: list[Candidate] = []
        for own in self._groups(some).values():
            clear = [one for one in own if self._clears(finding, one)]
            clear.sort(key=lambda one: one.distance)
            found += [one for one in clear if self._is_sound(finding, one)][:1]
            clean = [one for one in clear if self._is_clean(finding, one)]
            found += [one for one in clean[:1] if one not in found]
        return found

    def _paired(self, finding: _Finding) -> Iterator[Candidate]:
        """Pairs of changes of different kinds, where no single one works."""
        groups = [*self._groups(finding.singles).values()]
        for first, second in [*combinations(groups, 2)][:MOST_PAIRS]:
            if first[0].lever.name == second[0].lever.name:
                continue
            for place, one in enumerate(spread(first)):
                for other_place, other in enumerate(spread(second)):
                    made = together(one, other, wide=(place + other_place) % 2 == 0)
                    if made is not None:
                        yield made

    def _blocked(self, finding: _Finding, some: Sequence[Candidate]) -> None:
        """The findings that rule out everything that would clear this one."""
        for one in some:
            effect = self._effect(finding, one) if self._clears(finding, one) else None
            if effect is not None:
                for added in effect.added:
                    if added.forbidden:
                        name = added.rule, added.subject
                        finding.against[name] = finding.against.get(name, 0) + 1

    # ---- proving

    def _prove(self) -> None:
        """Judge the chosen changes in full, and put those that hold into the reports."""
        proof = Proof(self.reports, self.contents, self.book, self.judging, self.changes)
        for finding in self.findings:
            for one in finding.chosen:
                proof.want(finding.design, one.changes)
        proof.run()
        numbers = [0] * len(self.reports)
        # The gravest first, as in reports.
        for finding in sorted(self.findings, key=lambda one: HOLDING.index(one.result.severity)):
            proposed: list[tuple[Candidate, Proven]] = []
            for one in finding.chosen:
                proven = proof.of(finding.design, one.changes, finding.name)
                if proven is not None:
                    proposed.append((one, proven))
            proposed.sort(key=lambda own: bool(own[1].adds))
            proposals = []
            for one, proven in proposed[:MOST_PROPOSALS]:
                numbers[finding.design] += 1
                path = self.reports[finding.design].path
                edits = () if self.changes else text_edits(path, self.contents[path], one.changes)
                proposals.append(_proposal(numbers[finding.design], one, proven, edits))
            result = finding.result
            against = tuple(
                Brought(rule, subject)
                for rule, subject in sorted(finding.against, key=lambda n: -finding.against[n])[:4]
            )
            self.reports[finding.design].remedies[finding.name] = Remedy(
                result.rule,
                result.subject,
                result.severity,
                tuple(proposals),
                () if proposals else against,
                "" if proposals else _nothing(finding, against, bool(finding.singles)),
            )


def _proposal(number: int, one: Candidate, proven: Proven, edits: tuple[TextEdit, ...]) -> Proposal:
    """A change that a full check has confirmed, for a report."""
    return Proposal(
        number,
        one.changes,
        one.what,
        proven.then,
        proven.adds,
        proven.clears,
        one.confirm,
        edits,
    )


def _nothing(finding: _Finding, against: Sequence[Brought], tried: bool) -> str:
    """Why there is no proposal, in a sentence."""
    if not tried:
        return (
            "No value in the design can be changed for this; it is to be done, or measured again."
        )
    if not against:
        return "Nothing that was tried clears this."
    own = f"{finding.result.rule} {where([finding.result.subject])}"
    other = listed([f"{one.rule} {where([one.subject])}" for one in against[:2]])
    return f"No change that was tried works: what clears {own} breaks {other}."
