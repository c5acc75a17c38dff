"""Works out what would clear the findings that letters name, the gravest first, up to a number."""

from __future__ import annotations

import gc
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING, PASSING
from checker.remedies.search import MOST_GRAVE, graves
from checker.revisions.senders import Project
from checker.run import batch

MOST = 40
"""Changes are worked out for at most this many causes of a review: each search judges many changed
designs, so with more the search would take longer than the review.
"""


AT_ONCE = 20
"""Designs that are worked on at once, because judging a few costs little less than judging many;
their changed copies take memory, and garbage is collected after each time.
"""


class Cause(NamedTuple):
    """A rule that holds a design up, at the place where a letter names it first; nth: its number in
    its design.
    """

    nth: int
    report: DesignReport
    rule: str
    subject: str


class WorkedOut(NamedTuple):
    """For how many causes changes were worked out, and of how many; beyond: designs with too many
    grave findings for one change to clear, for which nothing was searched.
    """

    done: int
    of: int
    beyond: int = 0


def work_out(found: Iterable[Project], plans: dict[str, batch.Plan], most: int = MOST) -> WorkedOut:
    """Work out changes that would clear causes in the newest revisions.

    A letter names a cause once with a few changes, so only one place of each cause is searched for.
    First comes every design's gravest cause, then every second, until there are `most`.

    Args:
        found: the designs; the reports of their newest revisions get the changes
            (`DesignReport.remedies`).
        plans: by the path of a design, how it was judged.
        most: for how many causes at most.

    Returns:
        For how many causes changes were searched, of how many, and which designs were left out.
    """
    every = [project.newest for project in found]
    newest = [one for one in every if graves(one.report) <= MOST_GRAVE]
    causes = [cause for one in newest for cause in _causes(one.report)]
    causes.sort(key=lambda cause: cause.nth)
    chosen: dict[str, set[tuple[str, str]]] = {}
    for cause in causes[:most]:
        chosen.setdefault(cause.report.path, set()).add((cause.rule, cause.subject))
    by_plan: dict[int, list[int]] = {}
    for number, one in enumerate(newest):
        if one.report.path in chosen:
            by_plan.setdefault(id(plans[one.report.path]), []).append(number)
    for numbers in by_plan.values():
        for start in range(0, len(numbers), AT_ONCE):
            own = [newest[number] for number in numbers[start : start + AT_ONCE]]
            contents = {one.report.path: one.data for one in own}
            plan = plans[own[0].report.path]
            batch.remedies([one.report for one in own], contents, plan, chosen)
            gc.collect(1)
    return WorkedOut(min(most, len(causes)), len(causes), len(every) - len(newest))


def _causes(report: DesignReport) -> Iterator[Cause]:
    first: dict[str, str] = {}
    fails = [
        result
        for result in report.results_of("fail")
        if result.severity in HOLDING and not result.waived and result.state not in PASSING
    ]
    for severity in HOLDING:
        for result in fails:
            if result.severity == severity:
                first.setdefault(result.rule, result.subject)
    for nth, (rule, subject) in enumerate(first.items()):
        yield Cause(nth, report, rule, subject)
