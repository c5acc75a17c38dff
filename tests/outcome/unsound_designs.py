"""Changes after which the sound design must not be released: a record less, or one that does not fit."""

from __future__ import annotations

from copy import deepcopy

from tests.outcome.design_changes import (
    LEAKING,
    LOOP,
    TEST,
    Change,
    another_floor,
    another_test,
    earlier_test,
    first_test,
    hall_of_feeds,
    hot_by_its_report,
    hot_perimeter,
    in_layers,
    in_parts,
    large_field_by_its_report,
    loop,
    low_by_its_report,
    no_day_by_its_report,
    no_headers,
    no_loops,
    no_rooms,
    old_and_hot,
    read_as,
    screed,
    too_good_by_its_report,
)

UNSOUND: dict[str, Change] = {
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
    "a bathroom planned so warm that its floor may hurt": lambda d: [
        d["rooms"]["bath"].update(temperature="29 °C", heat_load="200 W"),
        d["headers"]["H1"]["flow_setters"].update(least="0.2 l/min"),
    ],
    "a kitchen planned as cold as a garage": lambda d: d["rooms"]["kitchen"].update(
        temperature="35.6 °F"
    ),
    "a hall planned in frost": lambda d: d["rooms"]["kitchen"].update(
        use="hall", temperature="2 °C"
    ),
    "a field of screed shorter than its area lets it be": lambda d: screed(d).update(
        field_length="0.6 m"
    ),
    "a field of screed as long as a street": lambda d: screed(d).update(
        field_length="60 m", field_area="40 m²"
    ),
    "a carpet that holds no heat back": lambda d: d["rooms"]["kitchen"]["covering"].update(
        material="carpet", resistance="0 m²·K/W"
    ),
    "a screed that conducts like metal": lambda d: screed(d).update(conductivity="10 W/(m·K)"),
    "insulation of a hundred and fifty centimetres": lambda d: d["floors"]["slab"].update(
        insulation="40 m²·K/W"
    ),
    "a pipe with a wall of half a millimetre": lambda d: d["pipes"]["p16"].update(wall="0.5 mm"),
    "hot asphalt over plastic pipe": lambda d: screed(d).update(
        material="mastic asphalt", conductivity="0.9 W/(m·K)"
    ),
    "a screed that is wet by one of two methods": lambda d: screed(d).update(humidity="95 %"),
    "a test in water as hot as a bath": read_as(
        ("0 min", "4.02 bar", "59 °C"), ("1 h", "4.01 bar", "59 °C"), ("4 h", "4.00 bar", "59 °C")
    ),
    "a flow in gallons that is written in litres, or the other way round": lambda d: d["balance"][
        LOOP
    ].update(flow="1.5 gpm"),
    "a bathroom whose load was not filled in": lambda d: [
        d["rooms"]["bath"].update(heat_load="0 W"),
        d["rooms"]["kitchen"].update(heat_load="750 W"),
    ],
    "a screed that is too high by what lies under its pipes": lambda d: [
        screed(d).update(below_pipe="20 mm"),
        d["floors"]["slab"].update(build_up="65 mm"),
    ],
    "a glued covering over the hot end of a serpentine": lambda d: [
        d["rooms"]["kitchen"].update(
            heat_load="300 W", covering={"material": "resilient", "resistance": "0.035 m²·K/W"}
        ),
        d["headers"]["H1"]["flow_setters"].update(least="0.2 l/min"),
        d["balance"][LOOP].update(flow="0.65 l/min"),
        loop(d).update(pattern="serpentine", supply="33 °C"),
    ],
    "layers of which one without a name may be a screed": in_layers(""),
    "a layer of anhydrite, and no word of its drying": in_layers("anhydrite"),
    "a field of screed too large, in a floor with a test report": large_field_by_its_report,
    "a screed that is too high, in a floor with a test report": low_by_its_report,
    "a test report of more heat than its carpet lets through": too_good_by_its_report,
    "a slab thinner than the screed in it": lambda d: d["floors"]["slab"].update(
        bed="structural slab", slab_thickness="25 mm"
    ),
    "a test of years before the design, and a screed to come": lambda d: [
        d["project"].update(stage="laid"),
        screed(d).pop("laid_on"),
        first_test(d).update(tested_on="2020-04-02"),
    ],
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
    "flows of loops that are not there": lambda d: d.pop("loops"),
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
