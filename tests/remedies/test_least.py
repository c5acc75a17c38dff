"""The least change: held against every nearer value of a fine grid, each judged as a design.

PRESCREED_LEAST=60 was the longest look: no value that also clears the finding lies more than a step
nearer.
"""

from __future__ import annotations

import json
import os
from typing import NamedTuple

import pytest

from checker.design.changes import changed
from checker.outcome.proposals import Proposal
from checker.outcome.report import DesignReport
from checker.reading import yaml_reader
from checker.run.batch import Plan, check
from tests.remedies.faulty import faulty
from tests.remedies.test_many import amiss, fails

COUNT = int(os.environ.get("PRESCREED_LEAST", 10))
SEED = 41
STEPS = {
    "supply": (0.1, 0.5),
    "drop": (0.25, 0.5),
    "resistance": (0.001, 0.005),
    "insulation": (0.05, 0.25),
    "cover": (1.0, 5.0),
    "pressure": (0.1, 0.5),
}
"""Of fields the finer step that is tried here, and that in which a change is proposed."""
FINE_SPACING, SPACING_STEP = 5.0, 25.0
"""mm; the same of the spacing, whose length follows."""


class Nearer(NamedTuple):
    """A proposal with a value nearer to what is stated."""

    report: DesignReport
    name: tuple[str, str]
    proposal: Proposal
    value: float
    gap: float
    """How far nearer, in steps of what is proposed."""


def at(document: object, path: str) -> str:
    """What is stated there."""
    for part in path.split("."):
        document = document[part]  # type: ignore[index]
    return str(document)


def spacings(
    report: DesignReport, document: object, name: tuple[str, str], one: Proposal
) -> list[tuple[Nearer, bytes]]:
    """Every nearer spacing of a proposal that changes the spacing and length of one loop.

    The length of a spacing between the two: what stands in both, and what goes as 1/spacing.
    """
    if len(one.changes) != 2:
        return []
    (path, text), (along, length) = (words.split("=") for words in one.changes)
    if along != path.replace("spacing", "length") or not text.endswith("mm"):
        return []
    old, new = (float(words.split()[0]) for words in (at(document, path), text))
    before, after = (float(words.split()[0]) for words in (at(document, along), length))
    slope = (after - before) / (1 / new - 1 / old)
    way = 1 if old > new else -1
    found = []
    for nth in range(1, round(abs(old - new) / FINE_SPACING)):
        value = new + way * nth * FINE_SPACING
        metres = before + slope * (1 / value - 1 / old)
        changes = (f"{path}={value:.6g} mm", f"{along}={metres:.4g} m")
        made = json.dumps(changed(document, changes)).encode()  # type: ignore[arg-type]
        gap = nth * FINE_SPACING / SPACING_STEP
        found.append((Nearer(report, name, one, value, gap), made))
    return found


def nearer(report: DesignReport, document: object, found: list[tuple[Nearer, bytes]]) -> None:
    """Every nearer value of each proposal that changes one of these fields alone."""
    for name, own in report.remedies.items():
        for one in own.proposals:
            path, _, text = one.changes[0].partition("=")
            field = path.rpartition(".")[2]
            number, _, unit = text.partition(" ")
            follows = all(
                words.startswith("heat_up.") and words.endswith(f"={text}")
                for words in one.changes[1:]
            )
            if field == "spacing" and not one.adds:
                found += spacings(report, document, name, one)
            if field not in STEPS or not follows or one.adds:
                continue
            fine, step = STEPS[field]
            stated = at(document, path)
            assert stated.endswith(unit)
            old = float(stated.split()[0])
            new = float(number)
            way = 1 if old > new else -1
            for nth in range(1, round(abs(old - new) / fine)):
                value = new + way * nth * fine
                changes = tuple(
                    f"{words.partition('=')[0]}={value:.6g} {unit}" for words in one.changes
                )
                made = json.dumps(changed(document, changes)).encode()  # type: ignore[arg-type]
                found.append((Nearer(report, name, one, value, nth * fine / step), made))


def clears(own: Nearer, after: DesignReport) -> bool:
    """Whether the nearer value does as much: clears the finding and brings nothing at all."""
    before = {(r.rule, r.subject) for r in own.report.results_of("fail", "open")}
    brought = {(r.rule, r.subject) for r in after.results_of("fail", "open")} - before
    return not brought and not amiss(fails(own.report), after, own.name, None)


@pytest.mark.long
def test_nothing_that_does_lies_a_step_nearer() -> None:
    texts = {f"house {n}.yaml": faulty(n, SEED) for n in range(COUNT)}
    reports, bad = check(
        [(path, text.encode()) for path, text in texts.items()], Plan(remedies=True)
    )
    assert not bad
    tried: list[tuple[Nearer, bytes]] = []
    for report in reports:
        nearer(report, yaml_reader.read(texts[report.path].encode()), tried)
    judged, bad = check([(f"{n}.json", made) for n, (_, made) in enumerate(tried)])
    assert not bad
    does = []
    for one in judged:
        own, _ = tried[int(one.path[:-5])]
        if own.gap > 1 + 1e-6 and clears(own, one):
            does.append((own.report.path, own.name, own.proposal.changes, own.value))
    assert does == []
    assert {own.proposal.changes[0].partition("=")[0].rpartition(".")[2] for own, _ in tried} >= {
        "supply", "resistance", "insulation", "pressure", "spacing",
    }  # fmt: skip
    assert len(tried) > 100
