"""The search: everything a rule lets be changed is tried in one pass, the least that does is kept.

Each finding's candidates are judged together, those of all findings of all designs in hand at once.
Of one change at one place the least that clears the finding counts; where nothing that a single
change offers does, two are tried together. What is left is written into the file's own text, read
and judged as any design is, and only what then holds is proposed.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from itertools import combinations

from msgspec import Struct, field

from checker.design.changes import BadChange, changed, replacements
from checker.design.tables import Tables, Unreadable
from checker.outcome.findings import Judging
from checker.outcome.results import (
    HOLDING,
    Brought,
    DesignReport,
    Proposal,
    Remedy,
    Result,
    TextEdit,
)
from checker.reading.design_files import is_json
from checker.reading.yaml_reader import Problem
from checker.remedies.candidates import Candidate, candidates
from checker.remedies.proving import Proof, Proven
from checker.remedies.site import Site
from checker.remedies.trial import Bench, Effect, Named, Variant
from checker.rulebook.model import Rulebook

MOST_AT_ONCE = 1200
"""Variants judged in one pass, so that memory stays flat."""
MOST_PAIRED = 8
"""Values of each of two changes that are tried together."""
MOST_PAIRS = 6
"""Pairs of changes tried for one finding."""
MOST_PROPOSALS = 8
"""Proposals told for one finding."""
FINE_STEPS = 4


class _Finding(Struct, eq=False):
    """A fail that a remedy is wanted for."""

    design: int
    result: Result
    singles: list[Candidate] = field(default_factory=list)
    chosen: list[Candidate] = field(default_factory=list)
    against: dict[Named, int] = field(default_factory=dict)

    @property
    def name(self) -> Named:
        return self.result.rule, self.result.subject


MOST_GRAVE = 100
"""With more grave findings a design is beyond single changes, and each would be searched for."""


def remedied(
    reports: Sequence[DesignReport],
    contents: Mapping[str, bytes],
    book: Rulebook,
    judging: Judging,
    changes: tuple[str, ...] = (),
    only: Mapping[str, Container[tuple[str, str]]] | None = None,
) -> None:
    """Work out for each report what would clear its grave findings (`DesignReport.remedies`).

    contents: the designs' files by path; changes: made to each before it was judged; only: of each
    path the findings, by rule and subject, that are searched for; all where it is None.
    """
    wanted = [one for one in reports if 0 < sum(1 for _ in _grave(one)) <= MOST_GRAVE]
    if wanted:
        _Search(wanted, contents, book, judging, changes, only).run()


def _grave(report: DesignReport) -> Iterator[Result]:
    """The fails that keep a design from release."""
    for place, pattern in enumerate(report.found.patterns):
        if pattern.kind == "fail" and pattern.severity in HOLDING:
            result = report.result(place)
            if not result.waived:
                yield result


class _Search:
    def __init__(
        self,
        reports: Sequence[DesignReport],
        contents: Mapping[str, bytes],
        book: Rulebook,
        judging: Judging,
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
        self.known: dict[tuple[int, tuple[str, ...]], Effect | None] = {}

    def run(self) -> None:
        """Search, prove, and leave what was found with the reports."""
        for finding in self.findings:
            report, site = self.reports[finding.design], self.sites[finding.design]
            for name in self.rules[finding.result.rule].changes:
                lever = self.book.levers[name]
                finding.singles += candidates(lever, site, finding.result.subject, report.stage)
        self._try((one.design, own) for one in self.findings for own in one.singles)
        finer = {id(one): [*self._finer(one)] for one in self.findings}
        self._try((one.design, own) for one in self.findings for own in finer[id(one)])
        for finding in self.findings:
            finding.singles += finer[id(finding)]
            finding.chosen = self._least(finding, finding.singles)
        bare = [one for one in self.findings if not one.chosen]
        pairs = {id(one): [*self._paired(one)] for one in bare}
        self._try((one.design, own) for one in bare for own in pairs[id(one)])
        for finding in bare:
            finding.chosen = self._least(finding, pairs[id(finding)])
            if not finding.chosen:
                self._blocked(finding, [*finding.singles, *pairs[id(finding)]])
        self._prove()

    # ---- trying

    def _try(self, wanted: Iterator[tuple[int, Candidate]]) -> None:
        """Judge candidates of designs that were not judged yet."""
        fresh: dict[tuple[int, tuple[str, ...]], None] = {}
        for design, candidate in wanted:
            key = design, candidate.changes
            if key not in self.known and candidate.changes:
                fresh[key] = None
        keys = [*fresh]
        for start in range(0, len(keys), MOST_AT_ONCE):
            some = keys[start : start + MOST_AT_ONCE]
            before = len(self.tables.designs)
            variants = [self._variant(design, changes) for design, changes in some]
            sound = [one for one in variants if one is not None]
            effects = iter(self.bench.tried(sound) if sound else ())
            for key, variant in zip(some, variants, strict=True):
                self.known[key] = None if variant is None else next(effects)
            self.tables.cut(before)

    def _variant(self, design: int, changes: tuple[str, ...]) -> Variant | None:
        """The changes as a variant; None where the design's format does not take them."""
        site = self.sites[design]
        try:
            cells = site.cells(changes)
            if cells is not None:
                return Variant(design, design, tuple(cells))
            document = changed(site.document, changes)
            made = self.tables.take(site.design.path, document)
        except (BadChange, Unreadable):
            return None
        return Variant(design, made.row, ())

    def _effect(self, finding: _Finding, candidate: Candidate) -> Effect | None:
        return self.known.get((finding.design, candidate.changes))

    def _clears(self, finding: _Finding, candidate: Candidate) -> bool:
        effect = self._effect(finding, candidate)
        return effect is not None and finding.name in effect.cleared

    # ---- choosing

    def _finer(self, finding: _Finding) -> Iterator[Candidate]:
        """Closer steps between what is stated and the first value that clears the finding."""
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
        """Of each group the least that clears the finding, and the least that adds nothing too."""
        found: list[Candidate] = []
        for own in self._groups(some).values():
            sound = [
                (one.distance, nth, one, effect)
                for nth, one in enumerate(own)
                if (effect := self._effect(finding, one)) is not None
                and finding.name in effect.cleared
                and not effect.forbidden
            ]
            sound.sort(key=lambda each: each[:2])
            found += [one for _, _, one, _ in sound[:1]]
            clean = [one for _, _, one, effect in sound if not effect.added]
            found += [one for one in clean[:1] if one not in found]
        return found

    def _paired(self, finding: _Finding) -> Iterator[Candidate]:
        """Two changes together, of different kinds, where no single one does."""
        groups = [*self._groups(finding.singles).values()]
        for first, second in [*combinations(groups, 2)][:MOST_PAIRS]:
            if first[0].lever.name == second[0].lever.name:
                continue
            for one in _spread(first):
                for other in _spread(second):
                    made = _together(one, other)
                    if made is not None:
                        yield made

    def _blocked(self, finding: _Finding, some: Sequence[Candidate]) -> None:
        """What stands against all that would clear the finding."""
        for one in some:
            if self._clears(finding, one):
                effect = self._effect(finding, one)
                assert effect is not None
                for added in effect.added:
                    if added.forbidden:
                        name = added.rule, added.subject
                        finding.against[name] = finding.against.get(name, 0) + 1

    # ---- proving

    def _prove(self) -> None:
        proof = Proof(self.reports, self.contents, self.book, self.judging, self.changes)
        for finding in self.findings:
            for one in finding.chosen:
                proof.want(finding.design, one.changes)
        proof.run()
        numbers = [0] * len(self.reports)
        # The gravest first, as reports tell them.
        for finding in sorted(self.findings, key=lambda one: HOLDING.index(one.result.severity)):
            told: list[tuple[Candidate, Proven]] = []
            for one in finding.chosen:
                proven = proof.of(finding.design, one.changes, finding.name)
                if proven is not None:
                    told.append((one, proven))
            told.sort(key=lambda own: bool(own[1].adds))
            proposals = []
            for one, proven in told[:MOST_PROPOSALS]:
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


def _spread(own: list[Candidate]) -> list[Candidate]:
    """Some of a change's values, from the least on."""
    own = sorted(own, key=lambda one: one.distance)
    if len(own) <= MOST_PAIRED:
        return own
    step = len(own) / MOST_PAIRED
    return [own[int(nth * step)] for nth in range(MOST_PAIRED)]


def _together(one: Candidate, other: Candidate) -> Candidate | None:
    """Both changes; None where they change the same."""
    paths = {words.partition("=")[0] for words in one.changes}
    if paths & {words.partition("=")[0] for words in other.changes}:
        return None
    return Candidate(
        one.lever,
        (*one.changes, *other.changes),
        f"{one.what}, and {other.what}",
        one.distance + other.distance,
        f"{one.group} and {other.group}",
        other=other.lever,
    )


def _proposal(number: int, one: Candidate, proven: Proven, edits: tuple[TextEdit, ...]) -> Proposal:
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


def text_edits(path: str, data: bytes, changes: Sequence[str]) -> tuple[TextEdit, ...]:
    """The changes as signs of the file to replace; none where its text cannot take them."""
    try:
        found = replacements(data, changes, is_json=is_json(path))
    except (BadChange, Problem):
        return ()
    text = data.decode("utf-8-sig")
    return tuple(
        TextEdit(_place(text, one.start), _place(text, one.end), one.text) for one in found
    )


def _place(text: str, at: int) -> tuple[int, int]:
    """Line and column, from 1, of a sign of the text."""
    return text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)


def _nothing(finding: _Finding, against: Sequence[Brought], tried: bool) -> str:
    if not tried:
        return (
            "No value in the design can be changed for this; it is to be done, or measured again."
        )
    if not against:
        return "Nothing that was tried clears this."
    own = f"{finding.result.rule} of {finding.result.subject}"
    other = " and ".join(f"{one.rule} of {one.subject}" for one in against[:2])
    return f"No change that was tried does: what clears {own} breaks {other}."
