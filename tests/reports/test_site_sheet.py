"""The sheet that goes to site: what the crew sets, in what order, and from which day on."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from checker.reports.site_sheet import Sheet, columns, critical, csv_rows, page, sheet
from checker.run import batch
from checker.words.speech import PLAIN
from tests.example import DESIGN, TWO_ROOMS, changed, computed
from tests.reports.hostile import HOSTILE
from tests.reports.pages import Page, judged

AHEAD = changed(("stage: installed", "stage: design"))
"""The design before anything is laid."""


@cache
def made(text: str) -> Sheet:
    """The sheet of a design, made once for all tests that have it."""
    files = [("house.yaml", text.encode())]
    (design,), _ = batch.check(files, with_given=True)
    (installed,), _ = batch.check(files, stage="installed", with_given=True)
    return sheet(design, installed)


def test_ports_stand_in_order_and_free_ones_are_said() -> None:
    text = changed(("port: 1", "port: 3"), text=AHEAD)
    (header,) = made(text).headers
    assert [(port.port, port.loop) for port in header.ports] == [
        ("1", ""),
        ("2", "L2"),
        ("3", "L1"),
        ("4", ""),
    ]


def test_a_loop_in_two_rooms_names_both() -> None:
    (header,) = made(TWO_ROOMS.replace("stage: installed", "stage: design")).headers
    assert [port.room for port in header.ports[:2]] == ["kitchen, bath", "bath"]
    assert header.ports[0].floor == "slab"


def test_a_loop_has_its_flow_and_what_its_valve_must_take() -> None:
    (header,) = made(AHEAD).headers
    first, second = header.ports[:2]
    (report,) = judged(("house.yaml", AHEAD))
    flow, loss, other = (
        computed(report, subject, name)
        for subject, name in (
            ("loops.L1", "flow"),
            ("loops.L1", "pressure_drop"),
            ("loops.L2", "pressure_drop"),
        )
    )
    # Setters are read to a tenth of a litre a minute, unless their marks are stated.
    assert first.flow == f"{flow:.1f}"
    assert float(first.loss) == pytest.approx(loss, rel=0.005)
    assert loss > other
    assert first.throttle == "open fully"
    assert float(second.throttle) == pytest.approx(loss - other, rel=0.005)
    assert first.pipe == "p16, PE-RT 16 × 2 mm"


def test_where_a_loss_is_unknown_no_valve_is_told_what_to_take() -> None:
    text = changed(("spacing: 100 mm, ", ""), text=AHEAD)
    (header,) = made(text).headers
    assert [port.throttle for port in header.ports[:2]] == ["", ""]
    assert "Still open" in Page(b"".join(page([made(text)])).decode()).text


def test_the_days_of_the_first_heating_count_from_the_screed() -> None:
    found = made(AHEAD)
    (floor,) = found.floors
    # 21 days for cement screed, EN 1264-4 (2001, 2009; from memory for 2021): 5 to 26 April.
    assert (floor.laid_on, floor.wait, floor.earliest) == ("2026-04-05", "21 days", "2026-04-26")
    # Planned for 28 April, which is late enough.
    assert [(step.supply, step.start, step.end) for step in found.steps] == [
        ("25 °C", "2026-04-28", "2026-05-01"),
        ("42 °C", "2026-05-01", "2026-05-05"),
    ]


def test_a_day_that_is_too_early_is_moved_and_said() -> None:
    found = made(changed(("started_on: 2026-04-28", "started_on: 2026-04-10"), text=AHEAD))
    assert found.start == "2026-04-26"
    assert "that is too early" in Page(b"".join(page([found])).decode()).text


def test_without_a_day_of_laying_the_days_stay_blank() -> None:
    found = made(changed((", laid_on: 2026-04-05", ""), text=AHEAD))
    assert (found.start, found.floors[0].earliest) == ("", "")
    assert {(step.start, step.end) for step in found.steps} == {("", "")}


def test_under_asphalt_the_pressure_is_let_off() -> None:
    kept = "Leave the loops under pressure while the screed is laid, and watch the gauge"
    assert kept in Page(b"".join(page([made(AHEAD)])).decode()).text
    asphalt = changed(("material: cement", "material: mastic asphalt"), text=AHEAD)
    text = Page(b"".join(page([made(asphalt)])).decode()).text
    assert kept not in text
    assert "let the pressure off before it is laid" in text


def test_critical_findings_stand_on_the_sheet_and_are_counted() -> None:
    text = changed(("pressure: 4 bar", "pressure: 2 bar"), text=AHEAD)
    (report,) = judged(("house.yaml", text))
    assert [result.rule for result in critical(report)] == ["test-pressure"]
    assert (
        "Hold: this must change before the screed CRITICAL"
        in Page(b"".join(page([made(text)])).decode()).text
    )
    (sound,) = judged(("house.yaml", AHEAD))
    assert critical(sound) == []


def test_what_is_not_planned_is_asked_for() -> None:
    text = AHEAD[: AHEAD.index("pressure_tests:")]
    words = Page(b"".join(page([made(text)])).decode()).text
    assert "No pressure test is planned for this header." in words
    heads = re.findall(r"<h2>(\d+)\. ", b"".join(page([made(text)])).decode())
    assert heads == [str(number) for number in range(1, 11)]
    assert "Not before the loops of this header are tested and their readings judged." in words
    assert "The design has no steps for the first heating." in words


def test_as_rows_each_port_is_one() -> None:
    found = [*csv_rows([made(AHEAD)])]
    assert [tuple(row) for row in found] == [columns(PLAIN)] * 4
    assert [row["loop"] for row in found] == ["L1", "L2", "", ""]
    assert found[0]["filled"] is None


def test_hostile_texts_stay_texts() -> None:
    text = Page(b"".join(page([made(HOSTILE)])).decode())
    assert text.all("script") == []
    assert text.all("img") == []
    assert text.all("i") == []


def test_a_sheet_of_the_example_is_of_its_header(tmp_path: Path) -> None:
    assert [header.name for header in made(DESIGN).headers] == ["H1"]


def test_a_test_is_read_at_least_four_times_and_its_limits_are_told() -> None:
    (header,) = made(AHEAD).headers
    assert header.tests[0].times == ["start", "7 min", "13 min", "20 min, end"]
    (header,) = made(changed(("    hold: 20 min\n", ""), text=AHEAD)).headers
    assert header.tests[0].times[:4] == ["start", "____ min", "____ min", "end"]
    assert (
        "Twenty minutes cannot rule out a small leak in plastic pipe; a longer hold at a steady "
        "temperature can." in Page(b"".join(page([made(AHEAD)])).decode()).text
    )


def test_a_value_that_breaks_a_limit_is_marked() -> None:
    sound = b"".join(page([made(AHEAD)])).decode()
    assert "<mark>" not in sound
    text = changed(("pressure: 4 bar", "pressure: 2 bar"), ("length: 88 m", "length: 128 m"))
    found = made(changed(("stage: installed", "stage: design"), text=text))
    shown = b"".join(page([found])).decode()
    assert "<mark>2 bar&nbsp;✗</mark>" in shown
    assert "<mark>128&nbsp;✗</mark>" in shown
    assert "✗ breaks a limit." in Page(shown).text
    ports = found.headers[0].ports
    assert "length" in ports[0].broken
    assert "length" not in ports[1].broken
    assert next(iter(csv_rows([found])))["length [m]"] == "128", "numbers stay numbers"


def test_heads_stand_over_their_texts() -> None:
    shown = b"".join(page([made(AHEAD)])).decode()
    for head in ("Loop", "Room", "Pipe", "Floor", "Limit"):
        assert f'<th scope="col" class="text">{head}</th>' in shown


def test_a_shared_pump_and_its_setting_stand_on_the_sheet() -> None:
    curve = "pump: {curves: {low: [[0 l/min, 60 kPa], [40 l/min, 10 kPa]]}, setting: low}"
    text = re.sub(r"pump: \{curve: \[\[.*\]\]\}", curve, AHEAD)
    text = text.replace("headers:\n", "headers:\n  H0: {pump: {with: H1}}\n", 1)
    found = {header.name: header.pump for header in made(text).headers}
    assert found == {"H0": "pump of H1 at setting low", "H1": "pump at setting low"}


def test_a_loop_in_parts_has_the_rooms_and_spacings_of_all() -> None:
    parts = (
        "parts: [{room: kitchen, floor: slab, zone: perimeter, spacing: 100 mm, area: 3 m²},"
        " {room: bath, floor: slab, zone: occupied, spacing: 150 mm, area: 5 m²}]"
    )
    text = AHEAD.replace("loops:\n", f"loops:\n  L9: {{header: H1, {parts}}}\n", 1)
    (header,) = made(text).headers
    (port,) = (one for one in header.ports if one.loop == "L9")
    assert (port.room, port.spacing) == ("kitchen, bath", "100, 150")


def test_the_work_stands_in_its_order() -> None:
    """Nothing is set before there is pump and heat, and the plant is shut off while loops are tested.

    Common practice, no source: the order in which such a floor can be made at all.
    """
    text = Page(b"".join(page([made(AHEAD)])).decode()).text
    order = (
        "1. Before the pipe",
        "The edge strip rises",
        "2. The header",
        "3. The pipe",
        "4. Fill and purge",
        "Shut the main valves between header and plant",
        "let the water run until no bubble comes",
        "Open all loops and their setters fully",
        "5. Test",
        "Main valves still shut.",
        "The tester bled",
        "Pump up, shut the tester off",
        "Let the pressure off the tester before it is unscrewed",
        "6. The pour",
        "7. First heating",
        "The main valves are opened only now",
        "8. Balance, when pump and heat are there",
        "Set to",
        "9. Before the covering",
        "at most 1.8 %",
        "10. Hand-over",
    )
    places = [text.find(words) for words in order]
    assert -1 not in places, order[places.index(-1)]
    assert places == sorted(places)


def test_each_header_has_its_own_pages_with_what_is_laid_on_it() -> None:
    text = changed(
        ("  H1:\n    ports: 4", "  H2: {ports: 3}\n  H1:\n    ports: 4"),
        ("L2: {header: H1, port: 2", "L2: {header: H2, port: 2"),
        text=AHEAD,
    )
    shown = b"".join(page([made(text)])).decode()
    pages = shown.split('<article class="sheet-of-header"')[1:]
    assert len(pages) == 2
    assert ["L1" in one for one in pages] == [False, True]
    assert ["L2" in one for one in pages] == [True, False]
    assert all("45 mm" in one and "counterflow" in one for one in pages)


def test_a_flow_is_told_in_the_marks_of_its_setter() -> None:
    text = changed(("most: 5 l/min}", "most: 5 l/min, step: 0.25 l/min}"), text=AHEAD)
    (header,) = made(text).headers
    (report,) = judged(("house.yaml", text))
    flow = computed(report, "loops.L1", "flow")
    assert float(header.ports[0].flow) == round(flow / 0.25) * 0.25
    assert header.ports[0].flow == f"{round(flow / 0.25) * 0.25:.2f}"
    assert header.step == "0.25 l/min"
    assert "the marks of its setters are not stated" in made(AHEAD).headers[0].step


def test_loops_are_set_from_the_one_whose_valve_takes_most_to_the_index_loop() -> None:
    (header,) = made(AHEAD).headers
    assert [(port.loop, port.order) for port in header.ports_to_set] == [("L2", "1"), ("L1", "2")]
    (unknown,) = made(changed(("spacing: 100 mm, ", ""), text=AHEAD)).headers
    assert {port.order for port in unknown.ports} == {""}


def test_what_the_design_does_not_state_is_a_line_to_fill_in() -> None:
    text = changed((", wall_gap: 100 mm", ""), ("    height: 0.5 m\n", ""), text=AHEAD)
    shown = Page(b"".join(page([made(text)])).decode()).text
    assert "fixed ______ above the finished floor" in shown
    assert "counterflow____88" in "".join(shown.split())


def test_floors_of_a_loop_in_parts_stand_on_its_sheet() -> None:
    text = changed(
        ("  L1: {header: H1, port: 1, room: kitchen, floor: slab,", "  L1: {header: H1, port: 1,"),
        ("zone: occupied, spacing: 150 mm, area: 12 m², length: 88 m", "length: 88 m, parts: ["
         "{room: kitchen, floor: slab, zone: occupied, spacing: 150 mm, area: 8 m²}, "
         "{room: bath, floor: slab, zone: occupied, spacing: 100 mm, area: 4 m²}]"),
        ("  L2: {header: H1,", "  L2: {"),
        text=AHEAD,
    )  # fmt: skip
    header = made(text).headers[0]
    assert [bed.name for bed in header.beds] == ["slab"]
    assert header.ports[0].floor == "slab"
