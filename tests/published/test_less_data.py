"""A datum less can make nothing sounder: every datum of the examples left out.

The same of a faulty design for each rule is `test_less_data_of_faults`.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from copy import copy
from functools import cache
from typing import Any, TypeVar

import pytest
import yaml
from hypothesis import given, settings
from msgspec import UNSET

from checker.design.tables import BadDesign, Tables
from checker.outcome.applicable import JudgingOptions
from checker.outcome.findings import judge
from checker.reading import yaml_reader
from checker.reading.documents import Mapping
from checker.run.batch import check
from checker.run.rules_in_force import rulebook
from tests.design.designs import generate
from tests.design.test_example_designs import EXAMPLES, FOLDER, Loader, data
from tests.example import changed
from tests.published.test_metamorphic import SECTIONS, Design, Way, by_rule, few, invented, written

FALLS_BACK = {
    ("project",): "as without its stage, its day and its region",
    ("project", "stage"): "a design asks the least of all stages",
    ("project", "designed_on"): "the newest editions count",
    ("project", "region"): "other codes count",
    ("codes",): "the region's codes count",
    ("pipes", "*", "conductivity"): "EN 1264-2 Table A.13, by material",
    ("pipes", "*", "roughness"): "that of plastic and drawn pipe",
    ("pipes", "*", "max_length"): "the practice for pipes of its size",
    ("pipes", "*", "bend_radius"): "the practice for pipes of its size",
    ("plant", "flows"): "each room's own drop, as EN 1264-3 has it",
    ("headers", "*", "supply"): "the plant's supply",
    ("headers",): "the plant's supply, in a loop",
    ("headers", "*", "ports"): "the practice for headers",
    ("loops", "*", "supply"): "the header's supply, then the plant's",
    ("loops", "*", "flow"): "the flow that carries the load, or gives the drop",
    ("rooms", "*", "heat_load"): "the flow that gives the drop",
    ("floors", "*", "below_temperature"): "10 °C on ground, the room's over a heated room",
}
"""Data that have a stated stand-in, which may well be kinder than the datum was."""


def leaves(node: Any, way: Way = ()) -> Iterator[Way]:
    """The way to each datum and group of data under a key."""
    for name, value in node.items():
        if isinstance(value, dict):
            yield from leaves(value, (*way, name))
        yield (*way, name)


def general(way: Way) -> Way:
    """The way with a star for a name that the design gives."""
    return (way[0], "*", *way[2:]) if way[0] in SECTIONS.values() and len(way) > 1 else way


def data_of(design: Design) -> list[Way]:
    """What can be missing; a whole loop or room less is another house, no datum less."""
    ways = [way for way in leaves(design) if general(way) not in FALLS_BACK]
    return [way for way in ways if general(way)[1:] != ("*",)]


def test_a_loop_on_no_known_header_is_not_taken_to_have_the_plants_water() -> None:
    """It may hang on the header with water of its own, which is too hot for the screed."""
    design = data(FOLDER / "orchard-row-3-eight-mistakes.yaml")
    way = ("loops", "L6", "header")
    assert made_passes(design, [way]) == []
    (found,), _ = check([("x", written(without(design, way)))])
    screed = by_rule(found)["screed-temperature", "loops.L6"]
    assert screed.kind == "open"
    assert "header is not given" in screed.message


def test_a_room_that_feeds_may_pass_through_is_not_said_to_have_none() -> None:
    """Which feeds only pass hangs on the rooms that the loops heat."""
    design = data(FOLDER / "drawings" / "orchard-row-7.yaml")
    (whole,), _ = check([("x", written(design))])
    failed = {key for key, one in by_rule(whole).items() if one.kind == "fail"}
    rooms = {key for key in failed if key[0] == "passing-share"}
    assert rooms
    for loop in design["loops"]:
        (less,), _ = check([("x", written(without(design, ("loops", loop, "room"))))])
        found = by_rule(less)
        assert {found[key].kind for key in rooms} <= {"open", "fail"}


def test_loops_without_a_place_never_make_a_pass() -> None:
    """Without a header's own supply, nothing stands in for the header of a loop."""
    design = data(FOLDER / "orchard-row-3-eight-mistakes.yaml")
    for header in design["headers"].values():
        header.pop("supply", None)
    places = [("headers",), ("loops",), ("loops", "*", "header"), ("loops", "*", "port")]
    assert made_passes(design, [way for way in leaves(design) if general(way) in places]) == []


Tree = TypeVar("Tree", bound=Design)
"""A design as plain mappings, or as it was read, with places."""


def without(design: Tree, way: Way) -> Tree:
    """The design less one datum."""
    first, *rest = way
    made = copy(design)
    if rest:
        made[first] = without(made[first], tuple(rest))
        return made
    del made[first]
    if isinstance(made, Mapping):
        made.places = {name: places for name, places in made.places.items() if name != first}
    return made


def test_the_tree_without_a_datum_is_what_is_read_of_the_file_without_it() -> None:
    for path in EXAMPLES[1], EXAMPLES[-1]:
        design = data(path)
        tree = yaml_reader.read(written(design))
        for way in data_of(design):
            assert without(tree, way) == yaml_reader.read(written(without(design, way)))
        assert tree == yaml_reader.read(written(design))


def made_passes(design: Design, ways: list[Way]) -> list[tuple[Way, str, str]]:
    """Ways without which some rule passes that did not pass with them; a design that is refused
    without the datum asks for it, and guesses nothing."""
    return passes_made([(design, ways)])[0]


def passes_made(cases: list[tuple[Design, list[Way]]]) -> list[list[tuple[Way, str, str]]]:
    """The same of several designs, judged together, which is quicker than one by one."""
    book = rulebook()
    tables = Tables(book.codes, keep=False)
    for case, (design, ways) in enumerate(cases):
        # Read once: without a datum the tree is what the reader makes of the file without it.
        data = written(design)
        tree = yaml_reader.read(data)
        tables.take(f"{case} whole", tree, data)
        for order, way in enumerate(ways):
            with suppress(BadDesign):
                tables.take(f"{case} {order}", without(tree, way), data)
    found: list[list[tuple[Way, str, str]]] = [[] for _ in cases]
    whole: dict[int, set[tuple[str, str]]] = {}
    for report in judge(tables, book, JudgingOptions()):
        number, at = report.path.split()
        case = int(number)
        if at == "whole":
            unmet = report.results_of("fail", "open", "review")
            whole[case] = {(one.rule, one.subject) for one in unmet}
            continue
        short = whole[case]
        rules = {rule for rule, _ in short}
        for place, pattern in enumerate(report.found.patterns):
            if pattern.kind == "pass" and pattern.rule in rules:
                one = report.result(place)
                # A pass whatever the datum is within its published range guesses nothing.
                if one.whatever is UNSET and (one.rule, one.subject) in short:
                    found[case].append((cases[case][1][int(at)], one.rule, one.subject))
    assert len(whole) == len(cases)
    return found


def faulty(changes: list[tuple[str, str]]) -> Design:
    loaded: Design = yaml.load(changed(*changes), Loader)
    return loaded


@cache
def _passes_of_examples() -> list[list[tuple[Way, str, str]]]:
    return passes_made([(design, data_of(design)) for design in map(data, EXAMPLES)])


@pytest.mark.parametrize("number", range(len(EXAMPLES)), ids=[path.stem for path in EXAMPLES])
def test_a_datum_less_never_makes_a_pass(number: int) -> None:
    """Every single datum of the examples."""
    assert _passes_of_examples()[number] == []


def test_a_pass_that_is_made_would_be_seen() -> None:
    """Without its pipe's own longest length, the loop is held to the kinder practice."""
    design = faulty([("bend_radius: 80 mm", "bend_radius: 80 mm, max_length: 60 m")])
    way = ("pipes", "p16", "max_length")
    found = made_passes(design, [("rooms", "bath", "use"), way])
    assert found == [(way, "loop-length", "loops.L1"), (way, "loop-length", "loops.L2")]


def test_water_that_only_a_film_needs_never_makes_a_pass_by_being_missing() -> None:
    """A carpet beyond the tables: without its film, the floor would give 5 % more than it does."""
    design = yaml.load(generate(877, loops=6), Loader)
    assert made_passes(design, [("plant", "fluid", "kind"), ("plant", "fluid")]) == []


BEYOND = ("outside: 16 mm, wall", "outside: 32 mm, wall")
"""A pipe wider than the tables', so that the floor is judged by its section."""


@pytest.mark.parametrize(
    ("changes", "way", "rule"),
    [
        # Glycol whose kind is not said has no film either, though its share is.
        (
            [BEYOND, ("kind: water", "kind: propylene glycol, mass_fraction: 30 %")],
            ("plant", "fluid", "kind"),
            ("room-heat", "rooms.kitchen"),
        ),
        # A loop in no known room may take any share of the load of the room beside.
        (
            [("area: 7 m²", "flow: 0.4 l/min, area: 7 m²")],
            ("loops", "L1", "room"),
            ("temperature-drop", "loops.L2"),
        ),
        ([], ("rooms", "bath", "use"), ("surface-temperature", "loops.L2")),
    ],
    ids=["kind of glycol", "room of a loop", "use of a bathroom"],
)
def test_what_is_told_of_a_datum_less_is_true_with_it(
    changes: list[tuple[str, str]], way: Way, rule: tuple[str, str]
) -> None:
    """Of loops from well under their limits to well over them."""
    files = []
    for supply in range(26, 60, 2):
        design = faulty(changes)
        design["plant"]["supply"] = f"{supply} °C"
        design["rooms"]["bath"]["heat_load"] = f"{60 * (supply - 24)} W"
        files += [(f"{supply} 1", written(design)), (f"{supply} 2", written(without(design, way)))]
    found = [by_rule(report) for report in check(files)[0]]
    assert len(found) == len(files)
    assert {"pass", "fail"} <= {full[rule].kind for full in found[::2]}
    for full, less in zip(found[::2], found[1::2], strict=True):
        for key, one in less.items():
            if one.whatever is UNSET and key in full:
                assert {one.kind, full[key].kind} != {"pass", "fail"}, key


@pytest.mark.long
@settings(few, max_examples=8)
@given(invented)
def test_a_datum_less_never_makes_a_pass_of_any_design(design: Design) -> None:
    assert made_passes(design, data_of(design)) == []
