"""What would clear the findings that letters name: worked out for so many, the gravest first."""

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
"""For so many causes of a review it is worked out what would do: each is searched for by judging
many changed designs, so that with more the search and not the review would take the time."""


AT_ONCE = 20
"""Designs in hand at a time, as judging a few costs little less than judging many: their changed
copies take room, and refer to one another in rings, which are looked for after each time."""


class Cause(NamedTuple):
    """A rule that holds a design up, where a letter names it first; nth: of its design."""

    nth: int
    report: DesignReport
    rule: str
    subject: str


class WorkedOut(NamedTuple):
    """How many causes it was worked out for, and of how many; beyond: designs with so much that is
    grave that for none of it one change would do, and nothing was searched."""

    done: int
    of: int
    beyond: int = 0


def work_out(found: Iterable[Project], plans: dict[str, batch.Plan], most: int = MOST) -> WorkedOut:
    """Work out what would clear causes of the newest revisions (`DesignReport.remedies`).

    A letter names a cause once with a few ways out, so one place of a cause is searched for. Every
    design's gravest cause comes first, then every second, until there are `most`. plans: by the
    path of a design, what it was judged by.
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
