"""Each fixed rule finds its fault in a whole design, and nothing grave in a sound one."""

from __future__ import annotations

import pytest

from checker.results import HOLDING
from tests.example import DESIGN, changed, report, result

L1, L2, H1, TEST = "loops.L1", "loops.L2", "headers.H1", "pressure_tests.first"

FAULTS = [
    ("loop-length", L1, "major", [("length: 88 m, feeds: 8 m", "length: 108 m, feeds: 28 m")]),
    ("loop-length-plausible", L1, "major", [("length: 88 m", "length: 70 m")]),
    ("loop-lengths-alike", L2, "minor", [("length: 80 m", "length: 43 m")]),
    ("loop-bend", L1, "minor", [("bend_radius: 80 mm", "bend_radius: 160 mm")]),
    ("loop-spacing", L1, "minor", [("spacing: 150 mm", "spacing: 350 mm")]),
    ("loop-pressure-drop", L1, "minor", [("joints: 0}\n  L2", "joints: 0, flow: 3.5 l/min}\n  L2")]),
    ("loop-flow-setting", L1, "major", [("least: 0.5 l/min", "least: 2 l/min")]),
    ("water-speed-low", L2, "observation", []),
    ("water-speed-high", L1, "minor", [("joints: 0}\n  L2", "joints: 0, flow: 8 l/min}\n  L2")]),
    ("surface-temperature", L1, "major", [("supply: 42 °C\n  drop", "supply: 50 °C\n  drop")]),
    (
        "covering-temperature",
        L1,
        "major",
        [
            ("area: 13 m², heat_load: 700 W, covering: {material: tile", "area: 13 m², heat_load: 700 W, covering: {material: laminate"),
        ],
    ),
    ("covering-resistance", "rooms.kitchen", "major", [("tile, resistance: 0.02 m²·K/W}}\n  bath", "tile, resistance: 0.2 m²·K/W}}\n  bath")]),
    ("supply-temperature", L1, "major", [("supply: 42 °C\n  drop", "supply: 56 °C\n  drop")]),
    ("screed-temperature", L1, "critical", [("supply: 42 °C\n  drop", "supply: 56 °C\n  drop")]),
    ("temperature-drop", L1, "minor", [("drop: 7 K", "drop: 12 K")]),
    ("room-heat", "rooms.kitchen", "major", [("heat_load: 700 W", "heat_load: 1300 W")]),
    ("header-ports", H1, "major", [("ports: 4", "ports: 1")]),
    ("header-port-exists", L2, "major", [("ports: 4", "ports: 1")]),
    ("header-port-clash", L1, "major", [("port: 2", "port: 1")]),
    ("header-speed", H1, "minor", [("bore: 25 mm", "bore: 5 mm")]),
    ("header-valves", H1, "major", [("isolation_valves: true", "isolation_valves: false")]),
    ("header-tested", "headers.H0", "critical", [("headers:\n", "headers:\n  H0: {ports: 2}\n")]),
    ("pump-duty", H1, "major", [("[0 l/min, 60 kPa], [20 l/min, 45 kPa]", "[0 l/min, 9 kPa], [20 l/min, 8 kPa]")]),
    ("mixing-possible", "design", "major", [("primary_supply: 55 °C", "primary_supply: 40 °C")]),
    ("test-pressure", TEST, "critical", [("pressure: 4 bar", "pressure: 3 bar")]),
    ("test-hold", TEST, "major", [("hold: 20 min", "hold: 10 min")]),
    ("test-medium", TEST, "critical", [("medium: water", "medium: air"), ("designed_on: 2026", "designed_on: 2006")]),
    ("test-drop", TEST, "critical", [("pressure: 4.00 bar", "pressure: 3.70 bar")]),
    ("test-reached", TEST, "major", [("pressure: 4.02 bar", "pressure: 3.70 bar")]),
    ("test-read-to-end", TEST, "major", [("at: 20 min", "at: 5 min")]),
    ("test-before-screed", TEST, "critical", [("tested_on: 2026-04-02", "tested_on: 2026-04-06")]),
    ("test-kept-on", TEST, "critical", [("kept_during_screed: true", "kept_during_screed: false")]),
    ("insulation", "floors.slab", "major", [("insulation: 4 m²·K/W", "insulation: 1 m²·K/W")]),
    ("floor-loss", L1, "minor", [("insulation: 4 m²·K/W", "insulation: 1.5 m²·K/W")]),
    ("edge-strip", "floors.slab", "major", [("edge_strip: 8 mm", "edge_strip: 3 mm")]),
    ("screed-cover", "floors.slab", "major", [("cover: 45 mm", "cover: 25 mm")]),
    ("screed-field", "floors.slab", "major", [("field_area: 30 m²", "field_area: 60 m²")]),
    ("heat-up-start", "floors.slab", "critical", [("started_on: 2026-04-28", "started_on: 2026-04-20")]),
    ("heat-up-steps", "design", "major", [("hold: 4 day", "hold: 1 day")]),
    ("heat-up-temperature", "floors.slab", "critical", [("{supply: 42 °C, hold", "{supply: 58 °C, hold")]),
    ("pipe-class", "pipes.p16", "major", [("service_class: 4", "service_class: 2")]),
    ("oxygen-barrier", "pipes.p16", "minor", [("oxygen_barrier: true", "oxygen_barrier: false")]),
    ("buried-joint", L1, "major", [("joints: 0}\n  L2", "joints: 1}\n  L2")]),
    ("wall-gap", L1, "minor", [("wall_gap: 100 mm, joints: 0}\n  L2", "wall_gap: 30 mm, joints: 0}\n  L2")]),
    ("balance-recorded", L1, "minor", [("{L1: {flow: 1.5 l/min}}", "{L1: {flow: 0.9 l/min}}")]),
]  # fmt: skip


@pytest.mark.parametrize(
    ("rule", "subject", "severity", "changes"), FAULTS, ids=[fault[0] for fault in FAULTS]
)
def test_a_fault_is_found(
    rule: str, subject: str, severity: str, changes: list[tuple[str, str]]
) -> None:
    found = report(changed(*changes))
    one = result(found, rule, subject)
    assert (one.kind, one.severity) == ("fail", severity), one.message
    assert one.remedy
    if severity in HOLDING:
        assert found.verdict == "hold"
    if changes:
        sound = [r for r in report(DESIGN).results if (r.rule, r.subject) == (rule, subject)]
        assert [r.kind for r in sound if r.kind == "fail"] == []


def test_a_sound_design_is_released() -> None:
    found = report(DESIGN)
    grave = [r for r in found.results if r.kind == "fail" and r.severity in HOLDING]
    assert grave == []
    assert found.verdict == "release"


def test_records_of_work_are_not_asked_for_at_the_design_stage() -> None:
    found = report(changed(("stage: installed", "stage: design")))
    records = ("test-drop", "test-reached", "heat-up-start", "heat-up-steps", "balance-recorded")
    for one in found.results:
        if one.rule in records:
            assert one.kind == "notApplicable", one.rule
    # A planned test is judged as planned.
    assert result(found, "test-pressure", TEST).kind == "pass"
