"""One line a finding."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from checker.outcome.results import HOLDING
from checker.reports import FormatOptions
from checker.run import batch
from tests.cli.calling import Calling, put
from tests.cli.calling import calling as calling
from tests.reports.golden import report

EXAMPLES = Path(__file__).parents[2] / "example_designs"
PATCHY = str(EXAMPLES / "patchy/orchard-row-8-renovation.yaml")
FAULTY = str(EXAMPLES / "orchard-row-3-eight-mistakes.yaml")
LINE = re.compile(r"(.+?):(\d+):(\d+): (critical|major|minor|observation) ([a-z-]+): (.+)")


@pytest.mark.parametrize(("path", "kind"), [(FAULTY, "fail"), (PATCHY, "open")])
def test_every_fail_and_every_grave_question_has_one_line(path: str, kind: str) -> None:
    lines = report(FormatOptions("lines"), [path]).decode().splitlines()
    found = [match.groups() for match in map(LINE.fullmatch, lines) if match]
    assert len(found) == len(lines)
    (design,), _ = batch.check([(path, Path(path).read_bytes())])
    told = [
        result
        for result, pattern in zip(design.results, design.found.patterns, strict=True)
        if result.kind == "fail" or (pattern.asks and result.severity in HOLDING)
    ]
    assert [one[:5] for one in found] == [
        (path, str(one.line), str(one.column), one.severity, one.rule) for one in told
    ]
    assert kind in {one.kind for one in told}
    assert len(told) < len(design.results)


def test_a_file_that_cannot_be_read_has_its_line(call: Calling) -> None:
    put("broken.yaml", "design: 1\nloops: {L1: {length: 88}}\n")
    done = call("check", "--format", "lines", "broken.yaml")
    assert done.status == 2
    assert "broken.yaml:2:22: error unreadable: " in done.out
    assert "write '88 m'" in done.out
