"""What may not change, and what must, when the same house is written or run in another way."""

from __future__ import annotations

import re
from math import log

import pytest

from checker.outcome.report import DesignReport
from checker.run.batch import check
from tests.example import changed, computed, report

HOUSE = """\
design: 1
plant: {{supply: {supply} °C, drop: 6 K, fluid: {{kind: water}}}}
pipes: {{p16: {{material: PE-RT, outside: 16 mm, wall: 2 mm}}}}
floors:
  slab: {{construction: wet, screed: {{material: cement, cover: 45 mm, conductivity: 1.2 W/(m·K)}}, insulation: 2.5 m²·K/W, below: ground}}
rooms:
  living: {{use: living, temperature: 20 °C, area: 30 m², heat_load: {living} W, covering: {{material: tile, resistance: 0.02 m²·K/W}}}}
  hall: {{use: hall, temperature: 19 °C, area: 12 m², heat_load: {hall} W, covering: {{material: tile, resistance: 0.02 m²·K/W}}}}
headers:
  H1: {{own_loss: 6 kPa, pump: {{curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]}}}}
loops:
{loops}
"""
LIVING = "room: living, floor: slab, zone: occupied, spacing: 150 mm"
PIPE = "header: H1, pipe: p16, pattern: counterflow"
WHOLE = f"  A: {{{PIPE}, {LIVING}, area: 14 m², length: 100 m, feeds: 6 m}}"
HALL = f"  H: {{{PIPE}, room: hall, floor: slab, zone: occupied, spacing: 150 mm, area: 9 m², length: 64 m, feeds: 4 m}}"
FEED = "feeds: [{room: hall, floor: slab, length: 10 m, spacing: 75 mm}]"
SAME = (
    *("flow", "return_temperature", "drop", "excess", "output", "largest_output", "down_loss"),
    *("heat_coefficient", "output_limit", "surface_mean", "surface_max", "needed_supply"),
    *("flow_at_drop", "pressure_drop", "velocity", "expected_length"),
)


def house(*loops: str, supply: float = 40, living: float = 900, hall: float = 500) -> DesignReport:
    return report(HOUSE.format(supply=supply, living=living, hall=hall, loops="\n".join(loops)))


def test_a_loop_in_two_equal_parts_is_the_loop_in_one() -> None:
    part = f"{{{LIVING}, area: 7 m²}}"
    two = f"  A: {{{PIPE}, length: 100 m, feeds: 6 m, parts: [{part}, {part}]}}"
    one, other = house(WHOLE, HALL), house(two, HALL)
    for name in SAME:
        assert computed(other, "loops.A", name) == pytest.approx(
            computed(one, "loops.A", name), rel=1e-9
        ), name


WHOLE_LOOPS = (
    ("L1", "room: kitchen, floor: slab, ", "zone: occupied, spacing: 150 mm, area: 12 m², ", 6),
    ("L2", "room: bath, floor: slab, ", "zone: occupied, spacing: 100 mm, area: 7 m², ", 3.5),
)
"""Loops of the small design: where they lie, what lies there, and half of their area."""


@pytest.mark.parametrize(
    "more",
    [
        (),
        (
            ("GB-ENG", "US-CA"),
            (
                "    edge_strip",
                "    bed: structural slab\n    slab_thickness: 5 in\n    edge_strip",
            ),
        ),
        (("cover: 45 mm", "cover: 60 mm"),),
        (("material: cement", "material: mastic asphalt"), ("joints: 0", "joints: 1")),
    ],
)
def test_a_loop_in_two_equal_parts_comes_out_alike_by_every_rule(
    more: tuple[tuple[str, str], ...],
) -> None:
    one = changed(*more)
    two = one
    for _, lies, there, half in WHOLE_LOOPS:
        part = "{" + lies + re.sub(r"area: \d+ m², ", f"area: {half} m²}}", there)
        two = two.replace(lies, "").replace(there, f"parts: [{part}, {part}], ")
    assert two.count("parts:") == len(WHOLE_LOOPS)
    whole, halves = report(one), report(two)

    def outcomes(of: DesignReport) -> dict[tuple[str, str], str]:
        return {(found.rule, found.subject): found.kind for found in of.results}

    assert outcomes(halves) == outcomes(whole)
    assert [asked.field for asked in halves.questions] == [asked.field for asked in whole.questions]


def test_splitting_a_loop_changes_no_rooms_heat() -> None:
    half = f"{LIVING}, area: 7 m², length: 52 m, feeds: 5 m"
    split = [f"  {name}: {{{PIPE}, {half}}}" for name in ("A", "B")]
    one, other = house(WHOLE, HALL), house(*split, HALL)
    for room in ("living", "hall"):
        for name in ("output", "coverage", "passing_heat"):
            assert computed(other, f"rooms.{room}", name) == pytest.approx(
                computed(one, f"rooms.{room}", name), rel=1e-9
            )
    flows = [computed(other, f"loops.{name}", "flow") for name in ("A", "B")]
    assert sum(flows) == pytest.approx(computed(one, "loops.A", "flow"), rel=1e-9)


def test_more_supply_means_less_set_flow_and_the_same_heat() -> None:
    flows = []
    for supply in (38, 40, 44, 50):
        found = house(WHOLE, HALL, supply=supply)
        assert computed(found, "rooms.living", "output") == pytest.approx(900, rel=1e-9)
        flows.append(computed(found, "loops.A", "flow"))
    assert flows == sorted(flows, reverse=True)
    assert flows[-1] < 0.5 * flows[0]


def test_rooms_add_up_to_their_header_with_feeds_and_all() -> None:
    fed = WHOLE.replace("feeds: 6 m", FEED)
    found = house(fed, HALL)
    assert computed(found, "rooms.hall", "passing_heat") > 50
    rooms = sum(computed(found, f"rooms.{name}", "output") for name in ("living", "hall"))
    assert computed(found, "headers.H1", "output") == pytest.approx(rooms, rel=1e-9)
    assert computed(found, "design", "output") == pytest.approx(rooms, rel=1e-9)
    # What passes takes as much off the hall's own loop.
    assert computed(found, "rooms.hall", "output") == pytest.approx(500, rel=1e-9)


def test_insulated_feeds_give_nothing() -> None:
    fed = WHOLE.replace("feeds: 6 m", FEED.replace("75 mm", "75 mm, insulated: true"))
    assert computed(house(fed, HALL), "rooms.hall", "passing_heat") == 0


def test_passing_heat_shuts_no_loop() -> None:
    fed = WHOLE.replace("feeds: 6 m", FEED.replace("10 m", "60 m"))
    found = house(fed, HALL, hall=100)
    assert computed(found, "rooms.hall", "passing_heat") > 100
    # A tenth of the load is left for the hall's own loop.
    own = computed(found, "loops.H", "output") * 9
    assert own == pytest.approx(10, rel=1e-6)


def test_coverage_and_needed_supply_agree() -> None:
    """No room at 100 % and more whose loop asks for warmer water, and none below with enough."""
    edge = "{room: living, floor: slab, zone: perimeter, spacing: 100 mm, area: 5 m²}"
    middle = "{room: living, floor: slab, zone: occupied, spacing: 200 mm, area: 9 m²}"
    loops = [
        f"  A: {{{PIPE}, length: 100 m, feeds: 5 m, parts: [{edge}]}}",
        f"  B: {{{PIPE}, length: 50 m, feeds: 5 m, parts: [{middle}]}}",
    ]
    for load in (700, 900, 930, 960, 1100):
        found = house(*loops, HALL, living=load, supply=39)
        enough = computed(found, "rooms.living", "coverage") >= 100
        for name in ("A", "B"):
            assert (computed(found, f"loops.{name}", "needed_supply") <= 39) == enough


def test_a_load_of_nought_shuts_its_loop_and_opens_nothing_else() -> None:
    found = house(WHOLE, HALL, hall=0)
    for name in ("flow", "velocity", "reynolds", "pressure_drop", "output", "down_loss"):
        assert computed(found, "loops.H", name) == 0, name
    for name in ("return_temperature", "valve_drop", "valve_kv", "needed_supply"):
        assert found.computed["loops.H"][name].magnitude is None, name
    assert computed(found, "loops.H", "largest_output") > 50
    alone = house(WHOLE)
    for name in ("flow", "pressure_drop", "pump_head", "met_flow"):
        assert computed(found, "headers.H1", name) == pytest.approx(
            computed(alone, "headers.H1", name), rel=1e-9
        )


def test_a_serpentine_is_hottest_where_the_water_comes_in() -> None:
    """Same floor, same water; the surface over the inlet run follows from the supply's excess."""
    plain = house(WHOLE, HALL)
    other = house(WHOLE.replace("counterflow", "serpentine"), HALL)
    mean = 6 / log(20 / 14)
    ratio = (20 / mean) ** (1 / 1.1)
    rise = computed(plain, "loops.A", "surface_max") - 20
    assert computed(other, "loops.A", "surface_max") - 20 == pytest.approx(rise * ratio, rel=1e-9)


def test_the_plants_drop_sets_flows_where_the_design_says_so() -> None:
    text = HOUSE.format(supply=40, living=900, hall=500, loops=WHOLE + "\n" + HALL)
    found = report(text.replace("drop: 6 K", "drop: 6 K, flows: by drop"))
    for name in ("A", "H"):
        flow = computed(found, f"loops.{name}", "flow")
        assert flow == pytest.approx(computed(found, f"loops.{name}", "flow_at_drop"), rel=2e-3)
    assert computed(found, "rooms.living", "output") > 900


def test_a_part_keeps_its_own_keys_to_itself() -> None:
    both = WHOLE.replace("feeds: 6 m", f"feeds: 6 m, parts: [{{{LIVING}, area: 7 m²}}]")
    _, refused = check([("a.yaml", HOUSE.format(supply=40, living=9, hall=5, loops=both).encode())])
    assert any("belongs in each of them" in one.message for one in refused)


def test_headers_on_one_pump_are_one_header_where_they_lose_nothing_themselves() -> None:
    text = HOUSE.format(supply=40, living=900, hall=500, loops=f"{WHOLE}\n{HALL}")
    one = report(text.replace("own_loss: 6 kPa", "own_loss: 0 kPa"))
    text = text.replace("own_loss: 6 kPa", "own_loss: 0 kPa")
    text = text.replace("loops:\n", "  H2: {own_loss: 0 kPa, pump: {with: H1}}\nloops:\n", 1)
    two = report(text.replace("H: {header: H1", "H: {header: H2"))
    for loop in ("A", "H"):
        for name in ("flow", "valve_drop"):
            assert computed(two, f"loops.{loop}", name) == pytest.approx(
                computed(one, f"loops.{loop}", name), rel=1e-9
            )
    heads = [computed(two, f"headers.{name}", "pump_head") for name in ("H1", "H2")]
    assert heads == [computed(one, "headers.H1", "pump_head")] * 2
    met = [computed(two, f"headers.{name}", "met_flow") for name in ("H1", "H2")]
    assert sum(met) == pytest.approx(computed(one, "headers.H1", "met_flow"), rel=1e-9)


def on_two_headers(second: str, own: str = "12 kPa") -> DesignReport:
    """The hall's loop on a header of its own, with this pump."""
    text = HOUSE.format(supply=40, living=900, hall=500, loops=f"{WHOLE}\n{HALL}")
    text = text.replace("loops:\n", f"  H2: {{own_loss: {own}, pump: {second}}}\nloops:\n", 1)
    return report(text.replace("H: {header: H1", "H: {header: H2"))


def test_a_pump_is_held_to_the_flow_of_all_its_headers() -> None:
    found = on_two_headers("{with: H1}")
    flow = sum(computed(found, f"headers.{name}", "flow") for name in ("H1", "H2"))
    # From 60 kPa at nothing to 45 kPa at 20 l/min.
    head = computed(found, "headers.H2", "pump_head")
    assert head == pytest.approx(60 - 15 * flow / 20, rel=1e-9)
    # The loop that loses most on the worst header has the valve that takes nothing.
    worst = computed(found, "headers.H2", "pressure_drop")
    assert worst > computed(found, "headers.H1", "pressure_drop")
    assert computed(found, "loops.H", "valve_drop") == 0
    other = computed(found, "loops.A", "pressure_drop") + computed(found, "loops.A", "valve_drop")
    assert other + 6 == pytest.approx(worst, rel=1e-9)


def kinds(found: DesignReport, rule: str) -> dict[str, str]:
    return {one.subject: one.kind for one in found.results if one.rule == rule}


def test_a_header_without_a_pump_leaves_open_what_the_others_do() -> None:
    """Nobody knows whether it hangs on H1's pump; it is asked for once."""
    text = HOUSE.format(supply=40, living=900, hall=500, loops=f"{WHOLE}\n{HALL}")
    text = text.replace("H: {header: H1", "H: {header: H2").replace(
        "plant:", "project: {stage: screeded}\nplant:", 1
    )

    def with_second(
        words: str, pump: str = "[[0 l/min, 60 kPa], [20 l/min, 45 kPa]]"
    ) -> DesignReport:
        own = text.replace("[[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]", pump)
        return report(own.replace("loops:\n", f"  H2: {{own_loss: 6 kPa{words}}}\nloops:\n", 1))

    found = with_second("")
    assert kinds(found, "pump-duty") == {"headers.H1": "open", "headers.H2": "open"}
    asked = [one for one in found.questions if "pump" in one.field]
    assert [one.field for one in asked] == ["headers.H2.pump"]
    assert "pump-duty" in asked[0].rules
    assert asked[0].who == "designer"
    assert found.computed["headers.H1"]["met_flow"].magnitude is None
    # A pump of its own, also one whose curve is not known, settles it for H1.
    for own, second in (("{with: H1}", "pass"), ("{}", "open")):
        found = with_second(f", pump: {own}")
        assert kinds(found, "pump-duty") == {"headers.H1": "pass", "headers.H2": second}
    assert kinds(found, "header-own-pump") == {"headers.H1": "pass", "headers.H2": "pass"}
    assert [one.field for one in found.questions if "pump" in one.field] == [
        "headers.H2.pump.curve"
    ]
    # Too weak for H1 alone is too weak whatever else hangs on it.
    found = with_second("", "[[0 l/min, 4 kPa], [20 l/min, 1 kPa]]")
    assert kinds(found, "pump-duty") == {"headers.H1": "fail", "headers.H2": "open"}


def test_headers_without_a_pump_concern_the_pumps_of_their_own_design_alone() -> None:
    text = HOUSE.format(supply=40, living=900, hall=500, loops=f"{WHOLE}\n{HALL}")
    text = text.replace("loops:\n", "  H2: {own_loss: 6 kPa}\nloops:\n", 1)
    doubtful = text.replace("H: {header: H1", "H: {header: H2")
    files = [(f"{n}.yaml", t.encode()) for n, t in enumerate((doubtful, text) * 2)]
    duties = [kinds(one, "pump-duty")["headers.H1"] for one in check(files)[0]]
    assert duties == ["notApplicable", "pass"] * 2


def test_a_header_without_loops_or_pump_leaves_the_others_alone() -> None:
    text = HOUSE.format(supply=40, living=900, hall=500, loops=f"{WHOLE}\n{HALL}")
    found = report(text.replace("loops:\n", "  H2: {own_loss: 6 kPa}\nloops:\n", 1))
    assert kinds(found, "pump-duty")["headers.H1"] == "pass"


def test_a_header_that_is_not_known_leaves_open_what_its_pump_does() -> None:
    found = on_two_headers("{with: H1}").computed["headers.H1"]
    assert found["met_flow"].magnitude is not None
    unknown = report(
        HOUSE.format(supply=40, living=900, hall=500, loops=f"{WHOLE}\n{HALL}")
        .replace("loops:\n", "  H2: {own_loss: 1 kPa, pump: {with: H1}}\nloops:\n", 1)
        .replace("H: {header: H1", "H: {header: H2")
        .replace("area: 9 m², length: 64 m", "area: 9 m²")
    ).computed["headers.H1"]
    assert unknown["flow"].magnitude is not None
    assert unknown["met_flow"].missing == "loops.H: length is not given"


def test_a_setting_that_is_not_stated_is_what_is_missing() -> None:
    speeds = "{curves: {low: [[0 l/min, 30 kPa], [20 l/min, 9 kPa]]}}"
    found = on_two_headers(speeds).computed["headers.H2"]
    assert found["pump_head"].missing == "headers.H2: pump.setting is not given"
    chosen = on_two_headers(speeds.replace("]]}", "]]}, setting: low"))
    flow = computed(chosen, "headers.H2", "flow")
    assert computed(chosen, "headers.H2", "pump_head") == pytest.approx(30 - 21 * flow / 20)


@pytest.mark.parametrize("size", ["15 mm, wall: 1.5 mm", "22 mm, wall: 2 mm", "32 mm, wall: 3 mm"])
def test_a_size_without_a_usual_length_says_what_judges_the_loop(size: str) -> None:
    text = HOUSE.format(supply=40, living=900, hall=500, loops=f"{WHOLE}\n{HALL}")
    found = report(text.replace("16 mm, wall: 2 mm", size))
    (one,) = [r for r in found.results if (r.rule, r.subject) == ("loop-length", "loops.A")]
    assert one.kind == "notApplicable"
    assert "loop-pressure-drop and pump-duty judge the loop" in one.message


def test_feeds_in_a_layered_floor_over_the_cold_leave_their_room_what_it_needs() -> None:
    """What passes the pipes downwards is the same for shares, returns and passing heat."""
    boards = """\
  boards:
    construction: layered
    layers:
      - {material: gypsum fibre board, thickness: 20 mm, conductivity: 0.32 W/(m·K)}
      - {material: insulation board, thickness: 30 mm, conductivity: 0.035 W/(m·K), pipe_axis: 8 mm, plate: {thickness: 0.5 mm, width: 120 mm, conductivity: 200 W/(m·K)}}
    insulation: 0.5 m²·K/W
    below: ground
    below_temperature: -5 °C
"""
    feeds = "feeds: [{room: hall, floor: boards, length: 12 m, spacing: 150 mm}]"
    loops = (WHOLE.replace("feeds: 6 m", feeds), HALL.replace("floor: slab", "floor: boards"))
    text = HOUSE.format(supply=44, living=900, hall=420, loops="\n".join(loops))
    found = report(text.replace("rooms:\n", boards + "rooms:\n", 1))
    assert computed(found, "rooms.hall", "passing_heat") > 100
    assert computed(found, "rooms.hall", "output") == pytest.approx(420, rel=1e-9)
