"""What a page asks of one design's numbers, whatever its size."""

from __future__ import annotations

from typing import Any

import pytest
from msgspec.structs import replace

from checker.outcome.report import DesignReport
from checker.outcome.results import Limit, Measure
from checker.reports import FormatOptions, writer
from checker.reports.facts import Facts
from checker.reports.loop_table import loop_columns
from checker.run.batch import check
from tests.design.designs import MOST_PORTS, generate


def judged(headers: int) -> DesignReport:
    return judged_text(generate(1, loops=headers * MOST_PORTS))


def judged_text(text: str) -> DesignReport:
    (found,), unreadable = check([("house.yaml", text.encode())], with_given=True)
    assert not unreadable
    found.content = text.encode()
    return found


def test_each_loop_is_found_by_what_it_names() -> None:
    facts = Facts(judged(2))
    assert facts.names("headers") == ["H1", "H2"]
    for header in facts.names("headers"):
        own = facts.loops_of("headers", header)
        assert len(own) == MOST_PORTS
        assert {facts.words(f"loops.{loop}", "header") for loop in own} == {header}
        assert facts.on_pump(header) == [header]
    assert facts.loops_of("headers", "") == facts.loops_of("headers", "H9") == []
    assert [*map(facts.named, ["L1"], ["pipe"])] == [facts.names("pipes")]


def test_a_page_sorts_findings_out_once_however_many_headers(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    real, asked = DesignReport.results_of, []

    def results_of(self: DesignReport, *kinds: Any) -> list[object]:
        asked.append(kinds)
        return [*real(self, *kinds)]

    monkeypatch.setattr(DesignReport, "results_of", results_of)
    counts = []
    for headers in (2, 4):
        design = judged(headers)
        asked.clear()
        page = writer(FormatOptions("html")).piece(design)
        assert page.count(b'class=\\"header-drawing\\"') == headers
        counts.append(len(asked))
    assert counts[0] == counts[1] > 0


def test_a_column_that_says_nothing_of_any_loop_is_told_once_instead() -> None:
    text = generate(1, loops=4)
    known = Facts(judged_text(text))
    columns = loop_columns(known, known.header_loops("H1"))
    titles = ["Length", "Spacing", "Flow", "Speed", "Loss", "Valve takes"]
    titles += ["Water out", "Water back", "Heat", "Floor at most"]
    assert [one.title for one in columns.known] == titles
    assert columns.unknown == []
    assert columns.known[5].cells.count("index loop") == 1
    lacking = Facts(judged_text(text.replace("fluid: {kind: water}, ", "")))
    columns = loop_columns(lacking, lacking.header_loops("H1"))
    assert columns.unknown == ["flow", "speed", "loss", "valve takes"]
    assert [one.title for one in columns.known] == [*titles[:2], *titles[6:]]


def test_a_limit_of_zero_is_a_limit(monkeypatch: pytest.MonkeyPatch) -> None:
    facts = Facts(judged_text(generate(1, loops=2)))
    found = facts.result("loop-length", "loops.L1")
    assert found is not None
    assert found.limit
    assert found.limit.at_most
    assert facts.limit("loop-length", "loops.L1") == found.limit.at_most.magnitude
    zero = replace(found, limit=Limit(at_most=Measure(0.0, "m")))
    monkeypatch.setattr(facts, "result", lambda rule, subject: zero)
    assert facts.limit("loop-length", "loops.L1") == 0.0
