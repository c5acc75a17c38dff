"""Remedies of many faulty designs, each proposal judged again by the ordinary way.

PRESCREED_REMEDIES=500 looks at so many designs instead of a few; `python -m
tests.remedies.test_many 500` prints what came of them.

Of 500 designs with 3,822 grave findings none of 3,839 proposals was wrong.
"""

from __future__ import annotations

import json
import os
import sys
from collections import Counter
from typing import NamedTuple

import pytest

from checker.design.changes import changed
from checker.outcome.proposals import Proposal
from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING
from checker.reading import yaml_reader
from checker.run.batch import Plan, check
from tests.remedies.faulty import faulty

FEW = 12
AT_ONCE = 20
COUNT = int(os.environ.get("PRESCREED_REMEDIES", FEW))


class Outcome(NamedTuple):
    """What came of some designs.

    Attributes:
        counts: designs, findings, proposals, and findings by whether they have a proposal.
        wrong: what did not hold, in words.
    """

    counts: Counter[str]
    wrong: list[str]


def worked_out(first: int, count: int) -> Outcome:
    """Remedies of these designs, and each proposal judged again as `check --with` does."""
    texts = {f"house {n}.yaml": faulty(n) for n in range(first, first + count)}
    files = [(path, text.encode()) for path, text in texts.items()]
    reports, unreadable = check(files, Plan(remedies=True))
    assert not unreadable
    counts: Counter[str] = Counter(designs=len(reports))
    wrong: list[str] = []
    tried: list[tuple[DesignReport, tuple[str, str], Proposal]] = []
    for report in reports:
        grave = {name for name, severity in fails(report).items() if severity in HOLDING}
        if {*report.remedies} != grave:
            wrong.append(f"{report.path}: {grave ^ {*report.remedies}} have no remedy or no fail")
        for name, remedy in report.remedies.items():
            kind = "a proposal" if remedy.proposals else "against" if remedy.against else "neither"
            counts["findings"] += 1
            counts[f"with {kind}"] += 1
            tried += [(report, name, one) for one in remedy.proposals]
    counts["proposals"] = len(tried)
    again = [(f"{n}.json", _written(texts[r.path], one)) for n, (r, _, one) in enumerate(tried)]
    judged, bad = check(again)
    wrong += [f"{tried[int(one.path[:-5])]}: {one.message}" for one in bad]
    after = {one.path: one for one in judged}
    for number, (report, name, one) in enumerate(tried):
        if f"{number}.json" in after:
            found = amiss(fails(report), after[f"{number}.json"], name, one)
            wrong += [f"{report.path}: {name}: {one.changes}: {words}" for words in found]
    return Outcome(counts, wrong)


def _written(text: str, one: Proposal) -> bytes:
    """The changed design as JSON, so that what writes YAML has no part in it."""
    return json.dumps(changed(yaml_reader.read(text.encode()), one.changes)).encode()


def fails(report: DesignReport) -> dict[tuple[str, str], str]:
    """The fails of a design with their severities."""
    return {(r.rule, r.subject): r.severity for r in report.results_of("fail")}


def amiss(
    before: dict[tuple[str, str], str],
    report: DesignReport,
    name: tuple[str, str],
    one: Proposal | None,
) -> list[str]:
    """What is wrong with a changed design.

    Args:
        before: the fails of the design as it was.
        report: the changed design, judged.
        name: the rule and subject of the finding that the change should clear.
        one: the proposal, for the new fails that it announces; None for a change without one.
    """
    after = fails(report)
    found = [f"not cleared: {name}"] if name in after else []
    new = {other for other in after if other not in before}
    found += [f"adds {other}, {after[other]}" for other in new if after[other] in HOLDING]
    found += [
        f"is open: {r.rule} of {r.subject}"
        for r in report.results_of("open")
        if (r.rule, r.subject) == name or (r.severity in HOLDING and (r.rule, r.subject) in before)
    ]
    told = new if one is None else {(a.rule, a.subject) for a in one.adds if not a.kind}
    found += [f"does not tell of {other}" for other in new - told]
    return found


@pytest.mark.long
@pytest.mark.parametrize("first", range(0, COUNT, AT_ONCE))
def test_every_proposal_clears_what_it_says_and_adds_nothing_grave(first: int) -> None:
    outcome = worked_out(first, min(AT_ONCE, COUNT - first))
    assert outcome.wrong == []
    assert outcome.counts["with a proposal"] > 0


if __name__ == "__main__":
    total: Counter[str] = Counter()
    for start in range(0, int(sys.argv[1]), AT_ONCE):
        made = worked_out(start, AT_ONCE)
        total += made.counts
        for line in made.wrong:
            print(line)
    print(dict(total))
