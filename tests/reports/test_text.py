"""The terminal report: what it shows, in what order, in how many columns."""

from __future__ import annotations

import re

import pytest
from msgspec.structs import replace

from checker.outcome.report import DesignReport, Records
from checker.outcome.results import Judged, Kind, Limit, Measure, Result, Severity, Source
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import FormatOptions, writer
from checker.reports.text import Writer

RUN = Run("edition", "sha256:0")
SOURCE = Source(
    id="a-standard",
    title="A standard with a long and winding title, as standards have",
    clause="4.2.3",
    edition="2021",
    standing="standard",
    seen="reported",
)


def found(rule: str, kind: Kind, severity: Severity = "major", **changes: object) -> Result:
    result = Result(
        rule=rule,
        subject="loops.L1",
        kind=kind,
        severity=severity,
        title="Loop longer than its pipe can feed",
        value=Measure(128.0, "m"),
        limit=Limit(at_most=Measure(100.0, "m")),
        source=SOURCE,
        message="The loop is 128 m long; its pipe feeds at most 100 m.",
        remedy="Split the loop, or use the next pipe size.",
        line=31,
        column=5,
        fingerprint="0" * 32,
    )
    return replace(result, **changes)


def design(*results: Result, name: str = "Orchard Row") -> DesignReport:
    return DesignReport("row.yaml", name, "2026-03-12", ("EN-1264",), Records(results))


def page(report: DesignReport, width: int = 80, colour: bool = False) -> str:
    return writer(FormatOptions("text", width, colour)).piece(report).decode()


def test_the_gravest_comes_first() -> None:
    text = page(
        design(found("a", "fail", "minor"), found("b", "fail", "critical"), found("c", "fail"))
    )
    assert text.index("CRITICAL") < text.index("MAJOR") < text.index("MINOR")


def test_a_finding_has_value_limit_remedy_line_and_source() -> None:
    text = " ".join(page(design(found("loop-length", "fail")), width=110).split())
    for part in (
        "loops.L1",
        "The loop is 128 m long; its pipe feeds at most 100 m.",
        "→ Split the loop",
        "line 31 · loop-length",
        "(2021), clause 4.2.3, as reported",
    ):
        assert part in text


@pytest.mark.parametrize("width", [40, 60, 80, 100, 120])
def test_no_line_is_wider_than_the_terminal(width: int) -> None:
    report = design(
        found("loop-length", "fail"),
        found("b", "open", missing="rooms.kitchen: heat_load is not given", message=""),
        found("c", "review", message="word " * 50),
        name="A very long name of a project " * 5,
    )
    assert max(len(line) for line in page(report, width).splitlines()) <= width


@pytest.mark.parametrize("width", range(40, 100))
def test_a_number_never_parts_from_its_unit(width: int) -> None:
    lines = page(design(found("loop-length", "fail")), width).splitlines()
    assert any("128 m long" in line or line.rstrip().endswith("128 m") for line in lines)
    assert not any(line.rstrip().endswith(("128", "100")) for line in lines)


def test_what_is_open_is_listed_by_the_datum_with_the_rules_that_want_it() -> None:
    missing = "rooms.kitchen: heat_load is not given"
    text = page(
        design(
            found("room-heat", "open", missing=missing), found("x-rule", "open", missing=missing)
        )
    )
    assert text.count(missing) == 1
    assert "(room-heat, x-rule)" in text


def test_a_code_that_disagrees_is_named() -> None:
    other = Judged("pass", "major", SOURCE, "4 bar to 6 bar: kept.")
    text = page(design(found("test-pressure", "fail", also=(other,))), width=110)
    assert "But A standard with a long and winding title" in text


def test_a_name_cannot_steer_the_terminal() -> None:
    text = page(design(found("a", "fail", message="\x1b[2Jgone\x07"), name="\x1b]0;owned\x07"))
    assert "\x1b" not in text
    assert "\x07" not in text


def test_colour_is_never_the_only_carrier() -> None:
    report = design(found("a", "fail"), found("b", "review"))
    plain = page(report)
    coloured = page(report, colour=True)
    assert "\x1b[" in coloured
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == plain


def test_the_last_line_counts() -> None:
    totals = Totals()
    totals.add(design(found("a", "fail", "critical"), found("b", "fail"), found("c", "pass")))
    totals.add(design(found("d", "open"), found("e", "review")))
    totals.unreadable = 1
    tail = (
        Writer(FormatOptions("text", 100))
        .end(RUN, totals, [Unreadable("x.yaml", 3, 1, "Empty.")])
        .decode()
    )
    assert " ".join(tail.splitlines()[-2:]) == (
        "2 designs, 1 on hold, 1 unproven: 1 passed, 2 failed (1 critical, 1 major), 1 open, "
        "1 for review, 1 unreadable."
    )
    assert "x.yaml:3:1: Empty." in tail


def test_a_caution_is_said_once() -> None:
    totals = Totals()
    for _ in range(3):
        totals.add(design(found("t", "fail", caution="Keep people away from a pipe under test.")))
    tail = Writer(FormatOptions("text", 100)).end(RUN, totals, []).decode()
    assert tail.count("Keep people away") == 1


def test_forty_loops_with_one_finding_take_no_more_room_than_one() -> None:
    results = [
        found("loop-length", "fail", subject=f"loops.L{n}", line=n + 5, fingerprint=f"{n:032}")
        for n in range(40)
    ]
    text = page(design(*results))
    assert len(text.splitlines()) <= len(page(design(results[0])).splitlines()) + 1
    assert "loops.L0 to L39 (40 loops)" in text
    assert "lines 5 to 44 · loop-length" in text


def test_open_results_stand_beside_the_verdict() -> None:
    lack = found("a", "open", missing="loops.L1: length is not given", subject="loops.L1")
    first = page(design(lack, replace(lack, rule="b"))).splitlines()[0]
    assert first.endswith("  UNPROVEN, 2 open")
    first = page(design(found("c", "fail"), lack)).splitlines()[0]
    assert first.endswith("  HOLD, 1 open")
    assert page(design(found("c", "fail"))).splitlines()[0].endswith("  HOLD")


@pytest.mark.parametrize("name", ["L1", "L" * 40, "L" * 64, "the loop by the door " * 3])
@pytest.mark.parametrize("width", [40, 80])
def test_label_and_subject_never_stick_together(name: str, width: int) -> None:
    text = page(design(found("a", "fail", subject=f"loops.{name.strip()}")), width)
    lines = text.splitlines()
    assert all(len(line) <= width for line in lines)
    (start,) = [line for line in lines if line.startswith("MAJOR")]
    assert start.startswith("MAJOR        l")
