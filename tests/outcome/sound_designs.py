"""Changes after which the sound design is as sound, though it looks like one that is not."""

from __future__ import annotations

from tests.outcome.design_changes import (
    LEAKING,
    LOOP,
    Change,
    earlier_test,
    first_test,
    hall_of_feeds,
    hot_perimeter,
    in_layers,
    loop,
    read_as,
    screed,
)

SOUND_TOO: dict[str, Change] = {
    "a kitchen with a strip of perimeter zone": hot_perimeter(strip="5 m²"),
    "a kitchen that is perimeter zone no hotter than where people stay": lambda d: loop(d).update(
        zone="perimeter"
    ),
    "a store of which nothing else is known": lambda d: d["rooms"].update(store={"use": "store"}),
    "a bedroom that needs no heat": lambda d: d["rooms"].update(
        bedroom={"use": "bedroom", "area": "9 m²", "heat_load": "0 W"}
    ),
    "layers that are all laid dry": in_layers("gypsum fibre board"),
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
    "a cold store beside warm rooms": lambda d: d["rooms"]["kitchen"].update(
        use="store", temperature="8 °C"
    ),
    "a bedroom as cool as some like it": lambda d: d["rooms"]["kitchen"].update(
        use="bedroom", temperature="14 °C"
    ),
    "thin carpet, glued down": lambda d: d["rooms"]["kitchen"]["covering"].update(
        material="carpet", resistance="0.03 m²·K/W"
    ),
    "pipe of a thin series": lambda d: d["pipes"]["p16"].update(wall="1.2 mm"),
    "a staircase": lambda d: d["rooms"]["kitchen"].update(use="hall", temperature="10 °C"),
    "a field of screed that is nearly a square": lambda d: screed(d).update(
        field_length="5.5 m", field_area="30 m²"
    ),
    "a screed with quartz in it": lambda d: [
        screed(d).update(conductivity="2 W/(m·K)"),
        d["plant"].update(supply="38 °C"),
        d["heat_up"]["steps"][1].update(supply="38 °C"),
    ],
    "loops as full as by the drop of the plant": lambda d: d["balance"][LOOP].update(
        flow="2.4 l/min"
    ),
    "a test that was too weak, and a sound one after it": earlier_test(
        pressure="3 bar", hold="5 min", plant_shut="false", tested_on="2026-03-20"
    ),
    "a test with air, and one with water after it": earlier_test(
        medium="air", pressure="3 bar", tested_on="2026-03-20"
    ),
    "a test in frost, and one after the thaw": earlier_test(
        read_as(
            ("0 min", "4.02 bar", "-2.0 °C"),
            ("1 h", "4.01 bar", "-2.0 °C"),
            ("4 h", "4.00 bar", "-2.0 °C"),
        ),
        tested_on="2026-03-20",
    ),
    "a slab that holds its pipes": lambda d: d["floors"]["slab"].update(
        bed="structural slab", slab_thickness="120 mm"
    ),
    "a screed of calcium sulphate as dry as it gets": lambda d: screed(d).update(
        material="calcium sulphate", moisture="0.1 %"
    ),
    "a passive house on cool water": lambda d: [
        d["plant"].update(supply="30 °C", drop="4 K", primary_supply="30 °C"),
        d["rooms"]["kitchen"].update(heat_load="130 W"),
        d["rooms"]["bath"].update(heat_load="40 W"),
        d["heat_up"]["steps"][1].update(supply="30 °C"),
        d["balance"][LOOP].update(flow="0.7 l/min"),
        d.pop("seen"),
    ],
    "a bedroom that its neighbours warm": lambda d: [
        d["rooms"]["kitchen"].update(use="bedroom", temperature="16 °C", heat_load="40 W"),
        d["balance"][LOOP].update(flow="0.5 l/min"),
    ],
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
"""Each changes the sound design, which is sound after it, though it looks like one of `UNSOUND`."""
