"""Compares a job by the rules of its own day and by today's."""

from __future__ import annotations

from msgspec import UNSET, Struct

from checker.audit.papers import JudgedDesign
from checker.outcome.results import KINDS, SEVERITIES, Result


class Changed(Struct, frozen=True):
    """A result that differs between today's rules and those of the job's day."""

    rule: str
    subject: str
    title: str
    then: str
    then_says: str
    then_source: str
    now: str
    now_says: str
    now_source: str

    @property
    def matters(self) -> bool:
        """Whether the rule fails, is open or needs a review on at least one of the two days."""
        asks = ("fail", "open", "review")
        return self.then.startswith(asks) or self.now.startswith(asks)


class EditionComparison(Struct, frozen=True):
    """Both days, both verdicts, and the results that differ, the gravest by today's rules first."""

    then_day: str
    now_day: str
    then_verdict: str
    now_verdict: str
    alike: int
    changed: tuple[Changed, ...]


def side_by_side(then: JudgedDesign, now: JudgedDesign) -> EditionComparison:
    """Compare two judgements of one design.

    Args:
        then: judged by the editions of the job's own day.
        now: judged by today's editions.

    Returns:
        Both verdicts, and the results whose kind, severity of a fail or limit differ.
    """
    before = {(result.rule, result.subject): result for result in then.results}
    after = {(result.rule, result.subject): result for result in now.results}
    pairs = [(before.get(key), after.get(key)) for key in {**before, **after}]
    changed = [pair for pair in pairs if _outcome(pair[0]) != _outcome(pair[1])]
    changed.sort(key=lambda pair: _gravity(pair[1] or pair[0]))
    return EditionComparison(
        then.report.judged_by,
        now.report.judged_by,
        then.report.verdict,
        now.report.verdict,
        len(pairs) - len(changed),
        tuple(_changed(*pair) for pair in changed),
    )


def alike(both: EditionComparison) -> list[tuple[str, Changed]]:
    """Gather the changes that matter; those of one rule with the same outcome are joined.

    Args:
        both: the comparison of two days.

    Returns:
        For each group its subjects in words, and the first change.
    """
    groups: dict[tuple[str, ...], list[Changed]] = {}
    for one in both.changed:
        if not one.matters:
            continue
        key = (one.rule, one.then, one.then_source, one.now, one.now_source)
        groups.setdefault(key, []).append(one)
    return [(", ".join(one.subject for one in group), group[0]) for group in groups.values()]


def _outcome(result: Result | None) -> tuple[object, ...]:
    """What must be equal for two results to count as the same: kind, severity and limit."""
    if result is None:
        return ()
    return result.kind, result.severity if result.kind == "fail" else "", result.limit


def _gravity(result: Result | None) -> tuple[int, int]:
    assert result is not None
    return KINDS.index(result.kind), SEVERITIES.index(result.severity)


def _changed(then: Result | None, now: Result | None) -> Changed:
    one = now or then
    assert one is not None
    return Changed(
        one.rule, one.subject, one.title, *_side(then), *_side(now)
    )  # fmt: skip


def _side(result: Result | None) -> tuple[str, str, str]:
    if result is None:
        return "none", "No such rule.", ""
    kind = f"{result.kind} ({result.severity})" if result.kind == "fail" else result.kind
    return kind, result.message, "" if result.source is UNSET else result.source.id
