"""Changes of the sound design, each a function that changes one thing in its texts."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from typing import Any

import yaml

from tests.example import SOUND

Design = Any
"""Nested mappings and lists of texts, as typed."""
Change = Callable[[Design], object]
WHOLE: Design = yaml.load(SOUND, yaml.BaseLoader)  # it makes nothing but texts
LOOP, TEST = "L1", "first"


def loop(design: Design) -> Design:
    return design["loops"][LOOP]


def first_test(design: Design) -> Design:
    return design["pressure_tests"][TEST]


def screed(design: Design) -> Design:
    return design["floors"]["slab"]["screed"]


def read_as(*readings: tuple[str, str, str]) -> Change:
    """The test with other readings: time, pressure and temperature of each."""
    keys = ("at", "pressure", "temperature")
    own = [dict(zip(keys, one, strict=True)) for one in readings]
    return lambda design: first_test(design).update(readings=own)


def no_headers(design: Design) -> None:
    del design["headers"]
    del first_test(design)["header"]
    for own in design["loops"].values():
        del own["header"]


def no_rooms(design: Design) -> None:
    design["rooms"] = {}
    for own in design["loops"].values():
        del own["room"]


def no_loops(design: Design) -> None:
    del design["loops"], design["balance"]


def another_floor(**other: str) -> Change:
    """Loop 1 on a floor of its own, in screed like the other but for this; what is empty is left out."""

    def change(design: Design) -> None:
        floor = deepcopy(design["floors"]["slab"])
        floor["screed"] |= other
        floor["screed"] = {key: text for key, text in floor["screed"].items() if text}
        design["floors"]["upstairs"] = floor
        loop(design)["floor"] = "upstairs"

    return change


def in_parts(*parts: Design) -> Change:
    def change(design: Design) -> None:
        own = loop(design)
        whole = {key: own.pop(key) for key in ("room", "floor", "zone", "spacing", "area")}
        own["parts"] = [whole, *parts]

    return change


def another_test(**other: str) -> Change:
    return lambda design: design["pressure_tests"].update(more=first_test(design) | other)


LEAKING = read_as(
    ("0 min", "4.00 bar", "17.0 °C"), ("1 h", "3.20 bar", "17.0 °C"), ("4 h", "2.20 bar", "17.0 °C")
)


def earlier_test(*changes: Change, **other: str) -> Change:
    """The test that is there, and another before it, with these changes."""

    def change(design: Design) -> None:
        own = deepcopy(first_test(design))
        for one in changes:
            one(design)
        design["pressure_tests"] = {TEST: first_test(design) | other, "again": own}

    return change


def hall_of_feeds(*, covered: str) -> Change:
    """A hall that is warmed by its own loop, and as much by the feed of another that passes."""

    def change(design: Design) -> None:
        room, own = design["rooms"]["kitchen"], deepcopy(loop(design))
        design["rooms"]["hall"] = room | {
            "use": "hall",
            "area": "12 m²",
            "heat_load": "400 W",
            "covered_area": covered,
        }
        design["loops"]["L3"] = own | {
            "room": "hall",
            "port": "3",
            "area": "4 m²",
            "length": "35 m",
        }
        loop(design)["feeds"] = [
            {"room": "hall", "floor": "slab", "length": "10 m", "spacing": "200 mm"}
        ]

    return change


def old_and_hot(designed_on: str = "2026-03-12", region: str = "GB-ENG") -> Change:
    """By other codes or editions, and heated at once, hotter than any of them allows."""

    def change(design: Design) -> None:
        design["project"].update(designed_on=designed_on, region=region)
        first_test(design).update(pressure="8 bar", hold="2 h")
        for one in first_test(design)["readings"]:
            one["pressure"] = "8 bar"
        design["heat_up"].update(
            started_on="2026-04-07",
            steps=[{"supply": "80 °C", "hold": "3 day"}, {"supply": "80 °C", "hold": "4 day"}],
        )

    return change


def by_its_report(design: Design) -> None:
    """The floor by its test report, with the same screed."""
    design["floors"]["slab"].update(
        construction="tested", heat_coefficient="5 W/(m²·K)", excess_limit="60 K"
    )


def in_layers(material: str) -> Change:
    """The floor by its layers, the uppermost of this material, and no record of a screed."""

    def change(design: Design) -> None:
        pipe = {"thickness": "60 mm", "conductivity": "1.2 W/(m·K)", "pipe_axis": "50 mm"}
        under = {"material": "insulation board", "thickness": "100 mm", "conductivity": "0.035 W/(m·K)"}  # fmt: skip
        if material:
            pipe["material"] = material
        floor = {"construction": "layered", "layers": [pipe, under], "below": "ground"}
        design["floors"]["slab"] = floor | {"edge_strip": "8 mm"}
        del design["heat_up"]

    return change


def no_day_by_its_report(design: Design) -> None:
    by_its_report(design)
    del design["heat_up"]["started_on"]


def large_field_by_its_report(design: Design) -> None:
    by_its_report(design)
    screed(design).update(field_area="120 m²", field_length="13 m")


def too_good_by_its_report(design: Design) -> None:
    by_its_report(design)
    design["floors"]["slab"].update(heat_coefficient="9 W/(m²·K)", excess_limit="40 K")
    for room in design["rooms"].values():
        room["covering"] = {"material": "carpet", "resistance": "0.12 m²·K/W"}
    design["rooms"]["bath"]["heat_load"] = "250 W"
    design["headers"]["H1"]["flow_setters"]["least"] = "0.2 l/min"
    design["plant"]["supply"] = "34 °C"


def low_by_its_report(design: Design) -> None:
    by_its_report(design)
    design["floors"]["slab"].update(build_up="40 mm")


def hot_by_its_report(design: Design) -> None:
    by_its_report(design)
    design["heat_up"]["steps"] = [{"supply": "80 °C", "hold": "7 day"}]


def hot_perimeter(*, strip: str) -> Change:
    """Kitchen and bath with warmer water, so much of the kitchen called perimeter zone."""

    def change(design: Design) -> None:
        plant, heating = design["plant"], design["heat_up"]["steps"]
        plant["supply"] = heating[1]["supply"] = "46 °C"
        design["loops"]["L2"].update(spacing="150 mm", length="56.7 m")
        rest = f"{12 - float(strip.removesuffix(' m²')):g} m²"
        in_parts(deepcopy(loop(design)) | {"area": rest, "spacing": "300 mm"})(design)
        whole, other = loop(design)["parts"]
        whole |= {"zone": "perimeter", "area": strip}
        for key in ("header", "port", "pipe", "pattern", "length", "feeds", "wall_gap", "joints"):
            del other[key]
        if rest == "0 m²":
            loop(design)["parts"].remove(other)
        loop(design)["length"] = f"{88 - float(rest.removesuffix(' m²')) / 0.3:g} m"

    return change
