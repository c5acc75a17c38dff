"""Signs of thermostats, of a header's own thermometers, and of what was tried on a loop."""

from __future__ import annotations

import pytest

from checker.audit import following, jobs, ranking
from checker.audit.complaints import complaints
from checker.audit.on_site import Site
from checker.audit.signs import SIGNS
from tests.example import TWO_ROOMS

KNOWN = complaints()


def _site(rooms: str = "", loops: str = "", headers: str = "") -> Site:
    parts = (("rooms", rooms), ("loops", loops), ("headers", headers))
    told = "".join(f"  {name}: {{{text}}}\n" for name, text in parts if text)
    readings = f"readings: 1\nvisits:\n- on: 2027-01-15\n  outside: -2 °C\n{told}".encode()
    files = [("house.yaml", TWO_ROOMS.encode())]
    return Site(jobs.from_texts("job", files, ("a.readings.yaml", readings)))


def _due(share: float) -> str:
    flow = _site().paper.value("loop", "flow", "L1") * 6e4
    return f"{share * flow:.4f} l/min"


def test_a_thermostat_is_set_lower_or_higher_than_designed() -> None:
    room = _site().paper.ids("rooms")[0]
    designed = _site().paper.value("room", "temperature", room)
    low = _site(rooms=f"{room}: {{temperature: {designed - 3} °C, set: {designed - 3} °C}}")
    assert SIGNS["set-low"](low, room).value == pytest.approx(3.0)
    assert SIGNS["set-high"](low, room).value == pytest.approx(-3.0)
    # What is read is what was asked for, so the room is not cold.
    assert SIGNS["room-as-set"](low, room).value == pytest.approx(0.0)
    assert "what it is set to" in SIGNS["room-as-set"](low, room).words
    ranked = ranking.rank(low, KNOWN, "cold-room", f"rooms.{room}")
    # This design's balance record speaks for a loop that is starved.
    assert [one.id for one in ranked[:2]] == ["loop-starved", "set-too-low"]
    assert ranked[1].support == "well supported"


def test_a_thermostat_turned_up_makes_no_room_less_cold() -> None:
    room = _site().paper.ids("rooms")[0]
    designed = _site().paper.value("room", "temperature", room)
    up = _site(rooms=f"{room}: {{temperature: {designed - 3} °C, set: {designed + 5} °C}}")
    assert SIGNS["room-as-set"](up, room).value == pytest.approx(-3.0)
    order = [one.id for one in ranking.rank(up, KNOWN, "cold-room", f"rooms.{room}")]
    assert "set-too-high" not in order
    # Of a floor too hot it is what is asked for.
    warm = _site(rooms=f"{room}: {{temperature: {designed + 3} °C, set: {designed + 3} °C}}")
    assert SIGNS["room-warm"](warm, room).value == pytest.approx(0.0)
    assert ranking.rank(warm, KNOWN, "hot-floor", f"rooms.{room}")[0].id == "set-too-high"


def test_a_header_s_supply_stands_for_its_loops_where_none_was_read() -> None:
    site = _site(headers="H1: {supply: 39.5 °C}", loops="L1: {supply: 38 °C}")
    assert site.readings("L1").supply.tolist() == [38.0]
    assert site.readings("L2").supply.tolist() == [39.5]


def test_a_header_s_thermometers_tell_on_those_of_its_loops() -> None:
    ids = _site().paper.ids("loops")
    loops = ", ".join(f"{one}: {{flow: 1 l/min, supply: 40 °C, return: 30 °C}}" for one in ids)
    same = _site(loops=loops, headers="H1: {supply: 40 °C, return: 30 °C}")
    assert SIGNS["waters-apart"](same, "H1").value == pytest.approx(0.0, abs=1e-9)
    apart = _site(loops=loops, headers="H1: {supply: 40 °C, return: 34 °C}")
    found = SIGNS["waters-apart"](apart, "H1")
    assert found.value == pytest.approx(4.0)
    assert found.words == "at the loops 4 K below that of the header: return"
    # A return that was not read at every loop says nothing of their mixture.
    some = _site(loops=loops.replace(", return: 30 °C", "", 1), headers="H1: {return: 34 °C}")
    assert SIGNS["waters-apart"](some, "H1").value != SIGNS["waters-apart"](some, "H1").value


@pytest.mark.parametrize(
    ("purged", "head", "first"),
    [(1.0, 0.05, "air-in-loop"), (0.05, 1.0, "controls"), (0.05, 0.05, "loop-starved")],
)
def test_what_was_tried_tells_air_a_drive_and_a_valve_apart(
    purged: float, head: float, first: str
) -> None:
    tried = f"flow: {_due(0.05)}, flow_purged: {_due(purged)}, flow_other_head: {_due(head)}"
    site = _site(loops=f"L1: {{{tried}}}, L2: {{flow: {_due(1.0)}}}")
    room = site.paper.named("L1", "room")[0]
    ranked = ranking.rank(site, KNOWN, "cold-room", f"rooms.{room}")
    assert ranked[0].id == first


def test_flushing_and_heads_compete_with_other_steps_where_a_loop_is_short() -> None:
    site = _site(loops=f"L1: {{flow: {_due(0.05)}}}, L2: {{flow: {_due(1.0)}}}")
    room = site.paper.named("L1", "room")[0]
    ranked = ranking.rank(site, KNOWN, "cold-room", f"rooms.{room}")
    steps = {one.id: one for one in following.next_measurements(ranked, KNOWN)}
    assert "heads" in steps
    assert steps["heads"].parts > 0
    sound = _site(loops=f"L1: {{flow: {_due(1.0)}}}, L2: {{flow: {_due(1.0)}}}")
    ranked = ranking.rank(sound, KNOWN, "cold-room", f"rooms.{room}")
    wanted = {want.measure for cause in ranked for want in cause.missing}
    assert not wanted & {"heads", "purge"}
