"""Designs that must not be released: the sound one with a record less, or one that does not fit.

Neither the verdict, nor the exit status, nor a word in any format may say otherwise.
"""

from __future__ import annotations

import json
from copy import deepcopy

import pytest

from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING
from checker.outcome.runs import Totals
from checker.outcome.status import CLEAR, FOUND, GateCounts, answer
from checker.reports import FormatOptions, writer
from checker.run.batch import check
from tests.outcome.design_changes import (
    LEAKING,
    LOOP,
    TEST,
    WHOLE,
    Change,
    another_floor,
    another_test,
    earlier_test,
    first_test,
    hall_of_feeds,
    hot_by_its_report,
    hot_perimeter,
    in_parts,
    loop,
    no_day_by_its_report,
    no_headers,
    no_loops,
    no_rooms,
    old_and_hot,
    read_as,
    screed,
)

CHANGES: dict[str, Change] = {
    "water that is no warmer than its room": lambda d: d["plant"].update(supply="20 °C"),
    "a kitchen that is perimeter zone all over": hot_perimeter(strip="12 m²"),
    "a kitchen that is perimeter zone but for a corner": hot_perimeter(strip="11 m²"),
    "a loop that gets no water": lambda d: d["balance"][LOOP].update(flow="0 l/min"),
    "a loop that gets half its water": lambda d: d["balance"][LOOP].update(flow="0.7 l/min"),
    "a heated room below in frost": lambda d: d["floors"]["slab"].update(
        below="heated", below_temperature="-20 °C"
    ),
    "an outside that is colder below the floor": lambda d: [
        d["floors"]["slab"].update(below="outside", below_temperature="-10 °C"),
        d["plant"].update(outside="2 °C"),
    ],
    "a plan for a warm day": lambda d: d["plant"].update(outside="15 °C"),
    "antifreeze that a missing minus makes strong enough": lambda d: d["plant"].update(
        outside="15 °C", fluid={"kind": "propylene glycol", "mass_fraction": "20 %"}
    ),
    "water with antifreeze in it": lambda d: d["plant"].update(
        fluid={"kind": "water", "mass_fraction": "30 %"}
    ),
    "a test of another year": lambda d: first_test(d).update(tested_on="2016-04-02"),
    "a gauge far above the stated pressure": read_as(
        ("0 min", "7.00 bar", "17.0 °C"),
        ("1 h", "6.99 bar", "17.0 °C"),
        ("4 h", "6.98 bar", "17.0 °C"),
    ),
    "a gauge that is pumped up beyond the limit after the first look": lambda d: [
        read_as(("0 min", "4.02 bar", "17.0 °C"), ("1 h", "8 bar", "17.0 °C"))(d),
        first_test(d)["readings"].append(
            {"at": "4 h", "pressure": "7.98 bar", "temperature": "17.0 °C"}
        ),
    ],
    "a gauge beyond what any warming lifts it to": read_as(
        ("0 min", "5.5 bar", "15.0 °C"), ("2 h", "7 bar", "19.0 °C"), ("4 h", "5.5 bar", "15.0 °C")
    ),
    "a screed without any moisture": lambda d: screed(d).update(moisture="0 %"),
    "a moisture that is a share and called a percentage": lambda d: screed(d).update(
        moisture="0.016 %"
    ),
    "a humidity that is a share and called a percentage": lambda d: [
        screed(d).pop("moisture"),
        screed(d).update(humidity="0.7 %"),
    ],
    "a house whose loads all lack a digit": lambda d: [
        d["rooms"]["kitchen"].update(heat_load="70 W"),
        d["rooms"]["bath"].update(heat_load="40 W"),
    ],
    "a living room whose load lacks a digit": lambda d: d["rooms"]["kitchen"].update(
        use="living", temperature="22 °C", heat_load="60 W"
    ),
    "flows that nobody set": lambda d: d.pop("balance"),
    "a floor over the open air, and no minus before the frost": lambda d: [
        d["floors"]["slab"].update(below="outside", insulation="1.5 m²·K/W"),
        d["plant"].update(outside="13 °C"),
    ],
    "a room of which nothing is known": lambda d: d["rooms"].update(hall={}),
    "a bedroom without loop or load": lambda d: d["rooms"].update(
        bedroom={"use": "bedroom", "area": "9 m²"}
    ),
    "a load in kilowatts written as watts": lambda d: d["rooms"]["kitchen"].update(
        heat_load="0.7 W"
    ),
    "loops that lie under fixed units": lambda d: d["rooms"]["kitchen"].update(
        covered_area="12 m²"
    ),
    "a hall whose own loop lies under a wardrobe": hall_of_feeds(covered="10 m²"),
    "a header that gets cooler water than the plant's, and nobody saw its valve": lambda d: [
        d.pop("seen"),
        d["plant"].update(supply="70 °C", primary_supply="70 °C"),
        d["headers"]["H1"].update(supply="42 °C"),
    ],
    "loops that get cooler water than the plant's, and nobody saw their valve": lambda d: [
        d.pop("seen"),
        d["plant"].update(supply="70 °C", primary_supply="70 °C"),
        *(own.update(supply="42 °C") for own in d["loops"].values()),
    ],
    "a header that is to get hotter water than there is": lambda d: [
        d["plant"].update(supply="35 °C", primary_supply="40 °C"),
        d["headers"]["H1"].update(supply="42 °C"),
    ],
    "a screed that is higher than there is room for": lambda d: d["floors"]["slab"].update(
        build_up="40 mm"
    ),
    "a loop without its header": lambda d: loop(d).pop("header"),
    "no headers": no_headers,
    "a header of which nothing is known": lambda d: d["headers"].update(H2={}),
    "no rooms": no_rooms,
    "a loop without its room": lambda d: loop(d).pop("room"),
    "a room with a load and no loop": lambda d: d["rooms"].update(
        attic=d["rooms"]["kitchen"] | {"heat_load": "500 W"}
    ),
    "no loops": no_loops,
    "no construction": lambda d: d["floors"]["slab"].pop("construction"),
    "a floor of which nothing is known": lambda d: d["floors"].update(attic={}),
    "an unknown fluid": lambda d: d["plant"].pop("fluid"),
    "antifreeze of unknown strength": lambda d: d["plant"].update(
        fluid={"kind": "ethylene glycol"}
    ),
    "an empty plant": lambda d: d.update(plant={}),
    "a boiler of unknown temperature": lambda d: d["plant"].pop("primary_supply"),
    "a pipe of which nothing is known": lambda d: d.update(pipes={"p16": {}}),
    "a loop without its pipe": lambda d: loop(d).pop("pipe"),
    "no length": lambda d: loop(d).pop("length"),
    "no way of the feeds": lambda d: loop(d).update(feeds=[]),
    "no covering": lambda d: d["rooms"]["kitchen"].pop("covering"),
    "a covering of another kind": lambda d: d["rooms"]["kitchen"].update(
        covering={"material": "other"}
    ),
    "no heat loads": lambda d: [room.pop("heat_load") for room in d["rooms"].values()],
    "no heat wanted anywhere": lambda d: [
        room.update(heat_load="0 W") for room in d["rooms"].values()
    ],
    "a loop that is shut": lambda d: loop(d).update(flow="0 l/min"),
    "a part of which only the room is known": in_parts({"room": "bath"}),
    "an empty screed": lambda d: d["floors"]["slab"].update(screed={}),
    "a screed of another kind": lambda d: screed(d).update(material="other"),
    "a screed of no day": lambda d: screed(d).pop("laid_on"),
    "a second screed of no day": another_floor(laid_on=""),
    "a second screed before the test": another_floor(laid_on="2026-04-01"),
    "a second screed too young to heat": another_floor(laid_on="2026-04-20"),
    "a screed of unknown moisture": lambda d: screed(d).pop("moisture"),
    "a screed of which only the damp air over it is known": lambda d: [
        screed(d).pop("moisture"),
        screed(d).update(humidity="90 %"),
    ],
    "heat on young screed before any edition speaks of it": old_and_hot("1999-01-01"),
    "heat on young screed where no code speaks of it": old_and_hot(region="CN"),
    "hot water in the screed of a tested floor": hot_by_its_report,
    "a first heating of no day on a tested floor": no_day_by_its_report,
    "a test below the pressure in use": lambda d: first_test(d).update(
        operating_pressure="4.5 bar"
    ),
    "couplings not spoken of": lambda d: loop(d).pop("joints"),
    "couplings": lambda d: loop(d).update(joints="2"),
    "no tests": lambda d: d.pop("pressure_tests"),
    "a test of no header": lambda d: first_test(d).pop("header"),
    "a test of no day": lambda d: first_test(d).pop("tested_on"),
    "a test of no medium": lambda d: first_test(d).pop("medium"),
    "a test without readings": lambda d: first_test(d).pop("readings"),
    "a test without temperatures": lambda d: [
        one.pop("temperature") for one in first_test(d)["readings"]
    ],
    "a test after the screed": lambda d: first_test(d).update(tested_on="2026-04-06"),
    "a further test that is too weak": another_test(pressure="1 bar"),
    "a further test after the screed as if it were the first": another_test(tested_on="2026-04-20"),
    "the same reading again and again": read_as(*[("0 min", "4.02 bar", "17 °C")] * 3),
    "readings of too short a time": read_as(
        ("0 min", "4.02 bar", "17 °C"), ("2 min", "4.02 bar", "17 °C")
    ),
    "a gauge that falls in the cold": read_as(
        ("0 min", "4.02 bar", "17 °C"), ("3 h", "3.4 bar", "2 °C")
    ),
    "a gauge that rises": read_as(("0 min", "4.02 bar", "17 °C"), ("3 h", "5.5 bar", "17 °C")),
    "a gauge that is pumped up again before each look": read_as(
        ("0 min", "4.00 bar", "17.1 °C"),
        ("1 h", "3.80 bar", "17.1 °C"),
        ("2 h", "4.00 bar", "17.0 °C"),
        ("3 h", "3.80 bar", "17.1 °C"),
        ("4 h", "4.00 bar", "17.0 °C"),
    ),
    "a gauge that is pumped up once": read_as(
        ("0 min", "4.0 bar", "17 °C"), ("1 h", "3.7 bar", "17 °C"), ("4 h", "4.0 bar", "17 °C")
    ),
    "a gauge that is pumped up at the end": read_as(
        ("0 min", "4.00 bar", "17.1 °C"),
        ("1 h", "3.90 bar", "17.1 °C"),
        ("2 h", "3.80 bar", "17.1 °C"),
        ("4 h", "4.00 bar", "17.1 °C"),
    ),
    "a gauge that falls to nothing": read_as(
        ("0 min", "58.3 psi", "62.6 °F"), ("3 h", "0 psi", "62.6 °F")
    ),
    "a gauge under half the pressure": read_as(
        ("0 min", "2 bar", "17 °C"), ("3 h", "2 bar", "17 °C")
    ),
    "an old test that was let off, and one without readings": lambda d: [
        earlier_test(tested_on="2025-03-20", kept_during_screed="false")(d),
        d["pressure_tests"]["again"].pop("readings"),
    ],
    "an old test that was let off, and one after the screed": lambda d: [
        earlier_test(tested_on="2025-03-20", kept_during_screed="false")(d),
        d["pressure_tests"]["again"].update(tested_on="2026-06-01", after_screed="true"),
    ],
    "an old test, and one of after the screed without readings": lambda d: [
        earlier_test(tested_on="2025-03-20")(d),
        d["pressure_tests"]["again"].update(tested_on="2026-06-01", after_screed="true"),
        d["pressure_tests"]["again"].pop("readings"),
    ],
    "an old test, and one of another header": lambda d: [
        earlier_test(tested_on="2025-03-20")(d),
        d["headers"].update(H2=deepcopy(d["headers"]["H1"])),
        d["loops"]["L2"].update(header="H2"),
        d["pressure_tests"]["again"].update(header="H2"),
    ],
    "a leak on the day of the test that shows none": earlier_test(LEAKING),
    "a leak after a test that showed none": lambda d: [
        earlier_test(tested_on="2026-04-01")(d),
        LEAKING({"pressure_tests": {TEST: d["pressure_tests"]["again"]}}),
    ],
    "no first heating": lambda d: d.pop("heat_up"),
    "a first heating of no day": lambda d: d["heat_up"].pop("started_on"),
    "a first heating without steps": lambda d: d["heat_up"].update(steps=[]),
    "a first heating before the screed": lambda d: d["heat_up"].update(started_on="2026-04-01"),
    "a first heating downwards": lambda d: d["heat_up"]["steps"].reverse(),
    "a step that lasts nobody knows how long": lambda d: d["heat_up"]["steps"][0].pop("hold"),
    "a last step that is too hot": lambda d: d["heat_up"]["steps"].append(
        {"supply": "158 °F", "hold": "24 h"}
    ),
    "nobody who looked": lambda d: d.pop("seen"),
    "an answer about something else": lambda d: d["seen"][0].update(subject="headers.H1"),
    "an answer to another rule": lambda d: d["seen"][0].update(rule="header-purge"),
    "an answer of before the design": lambda d: d["seen"][0].update(on="2026-03-11"),
    "an answer about other water": lambda d: d["seen"][0].update(
        values={"plant.primary_supply": "131.9 °F"}
    ),
    "an answer that was no": lambda d: d["seen"][0].update(result="not as wanted"),
    "an answer of long ago to a design of no day": lambda d: [
        d["project"].pop("designed_on"),
        d["seen"][0].update(on="1990-01-01"),
    ],
    "answers of one day, the newest above": lambda d: d.update(
        seen=[
            d["seen"][0] | {"result": "not as wanted"},
            d["seen"][0],
            d["seen"][0] | {"on": "2026-04-10"},
        ]
    ),
    "an answer that one of the same day takes back": lambda d: d["seen"].append(
        d["seen"][0] | {"result": "not as wanted"}
    ),
    "an answer that a later one takes back": lambda d: d["seen"].insert(
        0, d["seen"][0] | {"result": "not as wanted", "on": "2026-05-02"}
    ),
}


@pytest.fixture(scope="module")
def judged() -> dict[str, DesignReport]:
    """Each design, all judged together, and the whole one under no name."""
    texts = {}
    for name, change in {"": lambda design: None, **CHANGES, **SOUND_TOO}.items():
        design = deepcopy(WHOLE)
        change(design)
        texts[name] = json.dumps(design).encode()
    found, unreadable = check([(f"{name}.json", text) for name, text in texts.items()])
    assert not unreadable
    return dict(zip(texts, found, strict=True))


SOUND_TOO: dict[str, Change] = {
    "a kitchen with a strip of perimeter zone": hot_perimeter(strip="5 m²"),
    "a kitchen that is perimeter zone no hotter than where people stay": lambda d: loop(d).update(
        zone="perimeter"
    ),
    "a store of which nothing else is known": lambda d: d["rooms"].update(store={"use": "store"}),
    "a bedroom that needs no heat": lambda d: d["rooms"].update(
        bedroom={"use": "bedroom", "area": "9 m²", "heat_load": "0 W"}
    ),
    "a cupboard on loops that are more than enough": lambda d: d["rooms"]["kitchen"].update(
        covered_area="2 m²"
    ),
    "a gauge that shows a little more than is stated": read_as(
        ("0 min", "6.20 bar", "17.0 °C"),
        ("1 h", "6.19 bar", "17.0 °C"),
        ("4 h", "6.18 bar", "17.0 °C"),
    ),
    "a test in pipe with metal that the sun warmed": lambda d: [
        d["pipes"]["p16"].update(material="multilayer", metal="0.4 mm", conductivity="0.4 W/(m·K)"),
        read_as(
            ("0 min", "5.50 bar", "17.0 °C"),
            ("1 h", "6.50 bar", "20.0 °C"),
            ("2 h", "5.49 bar", "17.0 °C"),
            ("4 h", "5.48 bar", "17.0 °C"),
        )(d),
    ],
    "a test at too high a pressure, and a sound one after it": earlier_test(
        read_as(
            ("0 min", "8.00 bar", "17.0 °C"),
            ("1 h", "7.99 bar", "17.0 °C"),
            ("4 h", "7.98 bar", "17.0 °C"),
        ),
        tested_on="2026-03-20",
    ),
    "a screed of calcium sulphate as dry as it gets": lambda d: screed(d).update(
        material="calcium sulphate", moisture="0.1 %"
    ),
    "a passive house on cool water": lambda d: [
        d["plant"].update(supply="30 °C", drop="4 K", primary_supply="30 °C"),
        d["rooms"]["kitchen"].update(heat_load="130 W"),
        d["rooms"]["bath"].update(heat_load="40 W"),
        d["heat_up"]["steps"][1].update(supply="30 °C"),
        d.pop("seen"),
    ],
    "a bedroom that its neighbours warm": lambda d: d["rooms"]["kitchen"].update(
        use="bedroom", temperature="16 °C", heat_load="40 W"
    ),
    "one loop of which the flow was not read": lambda d: d["balance"].update(
        {"L2": d["balance"].pop(LOOP) | {"flow": "1.0 l/min"}}
    ),
    "a mild coast": lambda d: d["plant"].update(outside="13.5 °C"),
    "a mild coast under a floor over the open air": lambda d: [
        d["floors"]["slab"].update(below="outside"),
        d["plant"].update(outside="13 °C"),
    ],
    "room for the floor as far as inches are written": lambda d: d["floors"]["slab"].update(
        build_up="2.4 in"
    ),
    "an answer of before the tests of a design of no day": lambda d: [
        d["project"].pop("designed_on"),
        d["seen"][0].update(on="2025-12-01"),
    ],
    "an answer of long ago that says what it was about": lambda d: [
        d["project"].pop("designed_on"),
        d["seen"][0].update(on="2020-01-01", values={"plant.primary_supply": "55 °C"}),
    ],
    "a fault that was mended on the day it was seen": lambda d: d["seen"].insert(
        0, d["seen"][0] | {"result": "not as wanted"}
    ),
    "a test that stood over the winter": lambda d: first_test(d).update(tested_on="2025-11-20"),
    "a floor tested long ago, and again before the screed": earlier_test(tested_on="2025-09-01"),
    "a floor tested long ago, and again after the screed": lambda d: [
        earlier_test(tested_on="2025-09-01")(d),
        d["pressure_tests"]["again"].update(tested_on="2026-06-01", after_screed="true"),
    ],
    "a test that was let off, and one that was kept on": earlier_test(
        tested_on="2026-03-20", kept_during_screed="false"
    ),
    "a leak that was mended, and tested again": lambda d: [
        earlier_test(LEAKING, tested_on="2026-03-20")(d),
        loop(d).update(repaired_on="2026-03-22"),
    ],
    "a record without readings, and a test with them": earlier_test(
        lambda d: first_test(d).pop("readings"), tested_on="2026-03-20"
    ),
    "a hall among warm rooms that needs next to nothing": lambda d: (
        d["rooms"].update(
            hall=d["rooms"]["kitchen"] | {"use": "hall", "area": "9 m²", "heat_load": "8 W"}
        )
        or d["loops"].update(
            L3=loop(d) | {"room": "hall", "port": "3", "area": "9 m²", "length": "68 m"}
        )
    ),
    "a wardrobe beside which loop and feeds give enough": hall_of_feeds(covered="9 m²"),
    "supply that is not mixed, typed in another unit": lambda d: [
        d["plant"].update(supply="43 °C", primary_supply="109.4 °F"),
        d["heat_up"]["steps"][1].update(supply="43 °C"),
        d.pop("seen"),
    ],
    "room enough for the floor": lambda d: d["floors"]["slab"].update(build_up="140 mm"),
    "a strong screed of which the load is stated": lambda d: [
        d["project"].update(region="DE"),
        d["floors"]["slab"].update(load="2 kN/m²"),
        screed(d).update(cover="42 mm", strength="F5"),
    ],
}
"""Designs that look like some of these and are sound."""


def answered(found: DesignReport) -> int:
    totals = Totals()
    totals.add(found)
    return answer([GateCounts(totals, "major")]).status


def test_the_whole_design_is_released(judged: dict[str, DesignReport]) -> None:
    assert judged[""].verdict == "release"
    assert answered(judged[""]) == CLEAR


@pytest.mark.parametrize("name", SOUND_TOO)
def test_what_only_looks_like_them_is_released(name: str, judged: dict[str, DesignReport]) -> None:
    found = judged[name]
    grave = [one for one in found.results if one.kind == "fail" and one.severity in HOLDING]
    assert grave == []
    assert found.verdict == "release"


@pytest.mark.parametrize("name", CHANGES)
def test_less_than_the_whole_is_not(name: str, judged: dict[str, DesignReport]) -> None:
    found = judged[name]
    assert found.verdict in ("hold", "unproven")
    assert answered(found) == FOUND
    assert found.judged.done < judged[""].judged.of or found.verdict == "hold"
    for kind in ("text", "markdown", "lines", "json"):
        words = writer(FormatOptions(kind)).piece(found).decode().replace(name, "")
        assert "release" not in words.lower()
        assert "Nothing that was judged speaks against it" not in words
