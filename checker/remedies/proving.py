"""The proof of a remedy: changes are written into the file's text, which is then judged in full."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from msgspec import UNSET

from checker.design.answer_files import beside
from checker.design.changes import BadChange, replacements, written
from checker.design.tables import BadDesign, Tables
from checker.outcome.applicable import JudgingOptions
from checker.outcome.findings import judge
from checker.outcome.proposals import Brought, TextEdit
from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING, SEVERITIES, Measure, Result, Value
from checker.reading.design_files import is_json
from checker.reading.documents import Problem
from checker.remedies.trial import WORSE, Named, is_binding
from checker.reports.sentences import bounded, magnitude, value_text
from checker.rulebook.book import Rulebook
from checker.words.speech import Speech


class Proven(NamedTuple):
    """What a full check of the changed design says.

    Attributes:
        then: the finding's value and its limit afterwards; empty where these say nothing more.
        adds: milder findings that the changes add.
        clears: other findings that they clear.
    """

    then: str
    adds: tuple[Brought, ...]
    clears: tuple[Brought, ...]


class _Standing(NamedTuple):
    """The results of a design that require something, by name."""

    found: dict[Named, Result]
    report: DesignReport

    @classmethod
    def of(cls, report: DesignReport) -> _Standing:
        """Those of a report."""
        own = report.results_of("fail", "open", "review")
        return cls({(one.rule, one.subject): one for one in own}, report)

    def other(self, name: Named) -> Result | None:
        """The result with that name, where it requires nothing; None where its subject is gone."""
        for place, pattern in enumerate(self.report.found.patterns):
            if pattern.rule == name[0] and pattern.kind in ("pass", "notApplicable"):
                result = self.report.result(place)
                if result.subject == name[1]:
                    return result
        return None


class Proof:
    """Changes to some designs, proved together."""

    def __init__(
        self,
        reports: Sequence[DesignReport],
        contents: Mapping[str, bytes],
        book: Rulebook,
        judging: JudgingOptions,
        changes: tuple[str, ...] = (),
    ) -> None:
        self.reports = reports
        self.contents = contents
        self.book = book
        self.judging = judging
        self.changes = changes
        self.before = {number: _Standing.of(one) for number, one in enumerate(reports)}
        self.wanted: dict[tuple[int, tuple[str, ...]], _Standing | None] = {}

    def want(self, design: int, changes: tuple[str, ...]) -> None:
        """Add changes to those that `run` is to prove.

        Args:
            design: the number of its report.
            changes: each `path=text`.
        """
        self.wanted[design, changes] = None

    def run(self) -> None:
        """Judge all that were added."""
        tables = Tables(self.book.codes, keep=False)
        kept = []
        for design, changes in self.wanted:
            path = self.reports[design].path
            data = self.contents[path]
            try:
                text = written(data, (*self.changes, *changes), is_json=is_json(path))
                made = tables.add(path, text)
                made.beside = beside(path)
            except (BadChange, BadDesign, Problem):
                continue
            kept.append((design, changes))
        for key, report in zip(kept, judge(tables, self.book, self.judging), strict=True):
            self.wanted[key] = _Standing.of(report)

    def of(self, design: int, changes: tuple[str, ...], name: Named) -> Proven | None:
        """Give what the full check says about a change.

        Args:
            design: the number of its report.
            changes: as `want` was given them, before `run`.
            name: the rule and subject of the finding that the changes are for.

        Returns:
            What the check says; None where the finding remains, another gets worse that must not,
            or the changes cannot be made in the file.
        """
        after = self.wanted.get((design, changes))
        if after is None or name in after.found:
            return None
        mended = after.other(name)
        if mended is not None and mended.kind != "pass":
            return None  # that nothing is known to limit it clears nothing
        before = self.before[design]
        adds = []
        for other, result in after.found.items():
            old = before.found.get(other)
            if _spoils(result, old):
                return None
            if _is_new(result, old):
                kind = UNSET if result.kind == "fail" else result.kind
                adds.append(Brought(*other, result.severity, kind))
        clears = tuple(
            Brought(*other, old.severity)
            for other, old in before.found.items()
            if old.kind == "fail" and other not in after.found and other != name
        )
        then = ""
        if mended is not None and mended.value is not UNSET and _tells(mended.value):
            then = _stands(mended, after.report.speech)
        return Proven(then, tuple(adds), clears)


def _tells(value: Value) -> bool:
    """Whether a value says more than the words of the change: not a count, not a yes."""
    return isinstance(value, Measure) and value.unit != "1"


def _stands(result: Result, speech: Speech) -> str:
    """A value with its limit, in the units of the design's readers."""
    value = value_text(result.value, speech)
    limit = bounded(result.limit, speech) if result.limit else ""
    return f"{value} ({limit})" if limit else value


def _is_new(result: Result, old: Result | None) -> bool:
    if old is None or old.kind != result.kind:
        return result.kind != "review" or result.severity == SEVERITIES[0] or old is None
    return SEVERITIES.index(result.severity) < SEVERITIES.index(old.severity)


def _spoils(result: Result, old: Result | None) -> bool:
    """Whether no proposal may cause this result: grave, or against a code's or maker's limit."""
    if result.kind == "review":
        return (old is None or old.kind != "review") and result.severity == SEVERITIES[0]
    grave = result.severity in HOLDING
    if _is_new(result, old):
        return grave or (result.kind == "fail" and _binds(result, old))
    if result.kind == "fail" and _binds(result, old):
        return True
    if not grave or result.kind != "fail" or old is None:
        return False
    own, was = magnitude(result.margin), magnitude(old.margin)
    return own is not None and was is not None and own < was - WORSE * max(1.0, abs(was))


def _binds(result: Result, old: Result | None) -> bool:
    """Whether it breaks a code's or a maker's limit that was kept before."""
    return bool(_broken(result) - (_broken(old) if old is not None else set()))


def _broken(result: Result) -> set[str]:
    """The codes' and makers' limits that a result breaks, by their sources."""
    sources = [one.source for one in result.also or () if one.kind == "fail"]
    if result.kind == "fail" and result.source is not UNSET:
        sources.append(result.source)
    return {source.id for source in sources if is_binding(source)}


def text_edits(path: str, data: bytes, changes: Sequence[str]) -> tuple[TextEdit, ...]:
    """Give changes as replacements in a file's text.

    Args:
        path: of the file, whose ending says whether it is JSON.
        data: its bytes.
        changes: each `path=text`.

    Returns:
        The replacements; none where the text does not allow them.
    """
    try:
        found = replacements(data, changes, is_json=is_json(path))
    except (BadChange, Problem):
        return ()
    text = data.decode("utf-8-sig")
    return tuple(
        TextEdit(_place(text, one.start), _place(text, one.end), one.text) for one in found
    )


def _place(text: str, at: int) -> tuple[int, int]:
    """Line and column, from 1, of a character of the text."""
    return text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)
