"""What is certain whatever a datum is stays so for every value of it that is tried."""

from __future__ import annotations

import random
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
import yaml
from msgspec import UNSET

from checker.compute import boxes
from checker.outcome.report import DesignReport
from checker.outcome.results import SEVERITIES, Result
from checker.reports.sentences import magnitude
from checker.run.batch import Plan, check
from tests.design.designs import generate
from tests.example import DESIGN, SOUND, changed, report, result

RANGES = {
    # Material or place, and the range in rules/ranges.yaml: (least, most, unit).
    "conductivity": (0.2, 0.5, "W/(m·K)"),
    "screed": (0.9, 1.8, "W/(m·K)"),
    "tile": (0.005, 0.03, "m²·K/W"),
    "timber": (0.04, 0.17, "m²·K/W"),
    "carpet": (0.06, 0.25, "m²·K/W"),
    "own_loss": (2, 20, "kPa"),
    "below_temperature": (0, 18, "°C"),
}
FIELDS = (
    (re.compile(r"(?<=wall: 2 mm, )conductivity: [^,]*"), "conductivity"),
    (re.compile(r"(?<=mm, )conductivity: [^,]*(?=, field)"), "screed"),
    (re.compile(r"own_loss: [^,]*"), "own_loss"),
    (re.compile(r"below_temperature: [^,]*"), "below_temperature"),
    *(
        (re.compile(rf"(?<=material: {covering}, )resistance: [^}}]*"), covering)
        for covering in ("tile", "timber", "carpet")
    ),
)


BEYOND = 8
"""One design in so many has coverings whose range reaches beyond the tables; those take long."""
LEAST_BEYOND = 25


class Patchy:
    """A generated design with some of its data struck out."""

    def __init__(self, number: int) -> None:
        chance = random.Random(number)
        text = generate(number, loops=chance.choice((2, 4, 8)))
        text = text.replace("below: ground", "below: unheated")
        if number % BEYOND:
            text = re.sub("material: (timber|carpet)", "material: tile", text)
        else:
            # Rich ones: with a carpet, a pipe of no one conductivity, and much struck out.
            text = re.sub("material: (timber|tile)", "material: carpet", text, count=1)
            text = re.sub("material: [A-Za-z-]+(?=, outside)", "material: multilayer", text)
        share = chance.choice((0.2, 0.5, 1.0) if number % BEYOND else (0.6, 1.0))
        self.gaps: list[tuple[str, str]] = []
        for pattern, kind in FIELDS:
            if kind == "conductivity" and "multilayer" not in text:
                continue

            def struck(found: re.Match[str], kind: str = kind) -> str:
                if chance.random() >= share:
                    return found[0]
                self.gaps.append((kind, found[0].partition(":")[0]))
                return f"<{len(self.gaps) - 1}>"

            text = pattern.sub(struck, text)
        self.text = text
        self.chance = chance

    def filled(self, share: float | None) -> bytes:
        """With each datum somewhere in its range, or (-1) left out."""
        text = self.text
        for number, (kind, key) in enumerate(self.gaps):
            least, most, unit = RANGES[kind]
            at = self.chance.choice((0.0, 1.0, self.chance.random())) if share is None else share
            stated = f"{key}: {least + at * (most - least):.6f} {unit}"
            text = text.replace(f"<{number}>", "" if share == -1 else stated)
        return re.sub(
            r", , |, (?=})|(?<={), ", lambda m: ", " if m[0] == ", , " else "", text
        ).encode()


Name = tuple[str, str]


def by_name(one: DesignReport, names: set[Name] | None = None) -> dict[Name, Result]:
    """The results by rule and subject; names: those that are wanted, else all."""
    found = ((result.rule, result.subject, result) for result in one.results)
    return {
        (rule, subject): result
        for rule, subject, result in found
        if names is None or (rule, subject) in names
    }


@pytest.mark.long
def test_no_value_inside_the_ranges_contradicts_what_is_certain() -> None:
    patchy = [Patchy(number) for number in range(500)]
    beyond = Counter(kind for one in patchy[::BEYOND] for kind in {kind for kind, _ in one.gaps})
    # Each kind of datum is struck out beyond the tables, in that many designs at least.
    assert min(beyond[kind] for kind in RANGES) >= LEAST_BEYOND
    struck, unreadable = check([(f"{n}", one.filled(-1)) for n, one in enumerate(patchy)])
    assert not unreadable
    certain = [
        {name: one for name, one in by_name(found).items() if one.whatever is not UNSET}
        for found in struck
    ]
    seen = Counter(one.kind for own in certain for one in own.values())
    assert seen["fail"] > 500
    assert seen["pass"] > 5000
    hung = Counter(
        (datum.field.partition(".")[0], datum.field.rpartition(".")[2])
        for own in certain[::BEYOND]
        for one in own.values()
        for datum in one.whatever or ()
    )
    # Beyond the tables too, things are certain of each kind of datum, and so can be contradicted.
    for datum in (
        ("pipes", "conductivity"),
        ("floors", "conductivity"),
        ("rooms", "resistance"),
        ("headers", "own_loss"),
        ("floors", "below_temperature"),
    ):
        assert hung[datum] >= LEAST_BEYOND, (datum, hung)
    asked = [{question.field for question in found.questions} for found in struck]
    filled = [
        (f"{n} {again}", one.filled(None)) for again in range(4) for n, one in enumerate(patchy)
    ]
    full, unreadable = check(filled)
    assert not unreadable
    for number, found in enumerate(full):
        own = certain[number % len(patchy)]
        for name, now in by_name(found, {*own}).items():
            was = own[name]
            assert now.kind == was.kind, (number, name, was.message, now.message)
            if was.kind == "fail":
                assert SEVERITIES.index(now.severity) <= SEVERITIES.index(was.severity)
        # Nothing is asked once all is answered that was not asked before.
        assert {one.field for one in found.questions} <= asked[number % len(patchy)]


def leaves(node: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any], str]]:
    """Every value of a design: its path as questions have it, the mapping that it is in, its key."""
    for key, value in node.items():
        here = f"{path}.{key}" if path else key
        if isinstance(value, dict):
            yield from leaves(value, here)
        elif isinstance(value, str) and path:
            yield here, node, key


@pytest.mark.long
def test_who_answers_all_that_is_asked_is_asked_nothing_more() -> None:
    """Any data struck out, with or without a range; what is asked is given back, and no more."""
    designs = []
    for number in range(120):
        chance = random.Random(number)
        text = re.sub("material: (timber|carpet)", "material: tile", generate(number, loops=4))
        design = yaml.safe_load(re.sub(r"(\d{4}-\d\d-\d\d)", r"'\1'", text))
        known = [one for one in leaves(design) if one[0] != "project.name"]
        struck = {path: mapping.pop(key) for path, mapping, key in chance.sample(known, 12)}
        designs.append((design, struck))
    first, unreadable = check(
        [(f"{n}", yaml.safe_dump(design).encode()) for n, (design, _) in enumerate(designs)]
    )
    assert not unreadable
    asked = [{question.field for question in found.questions} for found in first]
    for fields, (design, struck) in zip(asked, designs, strict=True):
        for path in fields & struck.keys():
            mapping, keys = design, path.split(".")
            for key in keys[:-1]:
                mapping = mapping.setdefault(key, {})
            mapping[keys[-1]] = struck[path]
    again, unreadable = check(
        [(f"{n}", yaml.safe_dump(design).encode()) for n, (design, _) in enumerate(designs)]
    )
    assert not unreadable
    for fields, found, (_, struck) in zip(asked, again, designs, strict=True):
        more = {question.field for question in found.questions}
        assert more <= fields - struck.keys(), (found.path, more - (fields - struck.keys()))
    assert (
        sum(len(fields & struck.keys()) for fields, (_, struck) in zip(asked, designs, strict=True))
        > 300
    )


@pytest.mark.long
def test_nothing_is_asked_twice_and_all_that_is_asked_is_missing() -> None:
    patchy = [Patchy(number) for number in range(100)]
    struck, _ = check([(f"{n}", one.filled(-1)) for n, one in enumerate(patchy)])
    for one in struck:
        fields = [question.field for question in one.questions]
        assert len(fields) == len({*fields})
        order = [SEVERITIES.index(question.severity) for question in one.questions]
        assert order == sorted(order)


PUMP = "[[0 l/min, 6 kPa], [20 l/min, 4 kPa], [40 l/min, 1 kPa]]"
LAMINATE = ("{material: tile, resistance: 0.02 m²·K/W}}\n  bath", "{material: laminate}}\n  bath")


def test_where_one_datum_decides_it_is_said_where_it_turns() -> None:
    found = report(changed(LAMINATE))
    heat = result(found, "room-heat", "rooms.kitchen")
    assert heat.kind == "open"
    assert heat.turns_at is not UNSET
    assert heat.turns_at.field == "rooms.kitchen.covering.resistance"
    turning = heat.turns_at.value.magnitude
    assert turning is not None
    assert 0.04 < turning < 0.15
    for share, kind in ((0.99, "pass"), (1.01, "fail")):
        stated = f"{{material: laminate, resistance: {turning * share:.5f} m²·K/W}}}}\n  bath"
        text = changed((LAMINATE[0], stated))
        assert result(report(text), "room-heat", "rooms.kitchen").kind == kind
    assert f"It passes up to {turning:.3g} m²·K/W." in heat.message
    question = next(one for one in found.questions if one.field == heat.turns_at.field)
    assert question.who == "owner"


def test_what_is_certain_names_its_ranges_and_their_source() -> None:
    found = report(changed(LAMINATE))
    one = result(found, "surface-temperature", "loops.L1")
    assert one.kind == "pass"
    assert one.whatever is not UNSET
    (datum,) = one.whatever
    assert datum.field == "rooms.kitchen.covering.resistance"
    assert (datum.least.magnitude, datum.most.magnitude) == (0.04, 0.15)
    assert datum.source.id == "practice-ranges"
    assert "whatever rooms.kitchen.covering.resistance is between" in one.message
    # The worst is the value at that end of the range that is nearer to the limit.
    ends = []
    for end in ("0.04", "0.15"):
        stated = f"{{material: laminate, resistance: {end} m²·K/W}}}}\n  bath"
        at_end = report(changed((LAMINATE[0], stated)))
        ends.append(magnitude(result(at_end, "surface-temperature", "loops.L1").value))
    assert magnitude(one.value) == pytest.approx(max(end for end in ends if end), rel=1e-9)


LAYERED = """\
    construction: layered
    layers:
      - {material: gypsum, thickness: 20 mm}
      - {material: insulation board, thickness: 30 mm, conductivity: 0.035 W/(m·K), pipe_axis: 8 mm, plate: {thickness: 0.5 mm, width: 120 mm, conductivity: 200 W/(m·K)}}
      - {material: insulation board, thickness: 60 mm, conductivity: 0.035 W/(m·K)}
"""
WET = DESIGN[DESIGN.index("    construction: wet") : DESIGN.index("    below: ground")]


def layered(conductivity: str = "") -> str:
    """The sound design on a dry floor whose top layer has no one value by its material's name."""
    layers = LAYERED.replace("gypsum,", f"gypsum, {conductivity}")
    return changed((WET, layers), ("spacing: 100 mm", "spacing: 150 mm"), text=SOUND)


def test_a_layer_that_is_given_by_its_material_is_judged_over_what_that_conducts() -> None:
    found = report(layered())
    name = "floors.slab.layers[1].conductivity"
    one = result(found, "surface-temperature", "loops.L2")
    assert one.kind == "pass"
    assert one.whatever is not UNSET
    (datum,) = one.whatever
    # ISO 10456, Table 3, gypsum of 600 to 1,500 kg/m³; from memory.
    assert (datum.field, datum.least.magnitude, datum.most.magnitude) == (name, 0.18, 0.56)
    assert (datum.source.id, datum.source.clause) == ("iso-10456-2007", "Table 3, gypsum")
    for conductivity in ("0.18", "0.3", "0.56"):
        at = report(layered(f"conductivity: {conductivity} W/(m·K), "))
        now = {(r.rule, r.subject): r for r in at.results}
        for was in found.results:
            if was.whatever is not UNSET:
                assert now[was.rule, was.subject].kind == was.kind, (was.rule, was.subject)
    asked = {question.field: question for question in found.questions}
    assert asked[name].who == "designer"
    assert not any("screed" in field or "insulation" in field for field in asked)


def test_a_dry_floor_is_not_asked_for_its_screed() -> None:
    by_rule = {one.rule: one.kind for one in report(layered()).results}
    for rule in ("screed-moisture", "edge-apron", "test-before-screed", "test-kept-on"):
        assert by_rule[rule] == "notApplicable"
    assert by_rule["header-tested"] == "pass"
    poured = report(layered().replace("material: gypsum", "material: cement screed"))
    assert result(poured, "screed-moisture", "floors.slab").kind == "open"


def test_nothing_is_certain_of_a_rule_whose_applying_leaps() -> None:
    """Whether water runs in layers leaps at one Reynolds number, maybe between two points."""
    patchy = [Patchy(number) for number in range(1, 40) if number % BEYOND]
    struck, _ = check([(f"{n}", one.filled(-1)) for n, one in enumerate(patchy)])
    own = [one for found in struck for one in found.results if one.rule == "laminar-flow"]
    assert sum(one.kind == "open" for one in own) > 50
    assert all(one.whatever is UNSET for one in own)


def test_what_is_not_asked_yet_fails_all_the_same_where_it_does_whatever_a_datum_is() -> None:
    """A pump too weak by far, on a header whose own loss is not known, before a pump is due."""
    weak = changed(
        ("stage: installed", "stage: design"),
        ("    own_loss: 8 kPa\n", ""),
        ("[[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]", PUMP),
        text=SOUND,
    )
    pump = result(report(weak), "pump-duty", "headers.H1")
    assert (pump.kind, pump.due) == ("fail", UNSET)
    assert pump.whatever is not UNSET
    assert [datum.field for datum in pump.whatever] == ["headers.H1.own_loss"]


PANEL = """\
    construction: tested
    heat_coefficient: 4.5 W/(m²·K)
    excess_limit: 24 K
    screed: {material: none, cover: 12 mm, conductivity: 0.3 W/(m·K)}
    insulation: 4 m²·K/W
"""


def test_a_tested_panel_without_screed_waits_for_none() -> None:
    found = report(changed((WET, PANEL), text=SOUND))
    by_rule = {one.rule: one.kind for one in found.results}
    for rule in (
        "screed-moisture",
        "edge-apron",
        "test-before-screed",
        "test-kept-on",
    ):
        assert by_rule[rule] == "notApplicable"
    assert not any("screed" in question.field for question in found.questions)
    assert found.verdict == "release"
    # Not said to be without, it may have one.
    silent = report(changed((WET, PANEL.replace("material: none, ", "")), text=SOUND))
    moisture = result(silent, "screed-moisture", "floors.slab")
    assert moisture.kind == "open"
    assert "without screed, write none" in moisture.message
    assert silent.verdict == "unproven"
    _, (refused,) = check([("x", changed((WET, PANEL.replace("tested", "wet"))).encode())])
    assert "a wet floor has its pipes in screed" in refused.message


def test_strict_takes_no_datum_to_lie_in_its_range() -> None:
    found = report(changed(LAMINATE), plan=Plan(strict=True))
    assert result(found, "surface-temperature", "loops.L1").kind == "open"
    assert all(one.whatever is UNSET for one in found.results)


@pytest.mark.parametrize(
    "alone_too", [range(0, 20, 3), pytest.param(range(20), marks=pytest.mark.long)]
)
def test_a_design_comes_out_the_same_in_any_company(alone_too: range) -> None:
    texts = [(f"{n}", Patchy(n).filled(-1)) for n in range(20)]
    together, _ = check(texts)
    for number in alone_too:
        one = together[number]
        (alone,), _ = check([texts[number]])
        assert alone.results == one.results
        assert alone.questions == one.questions


def test_a_design_with_many_data_is_judged_at_a_few_points_at_a_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rich = next(one for one in map(Patchy, range(BEYOND, 400, BEYOND)) if len(one.gaps) > 4)
    text = ("rich", rich.filled(-1))
    (at_once,), _ = check([text])
    assert any(one.whatever is not UNSET for one in at_once.results)
    for most in ("MOST_ROWS", "MOST_IN_SECTION"):
        monkeypatch.setattr(boxes, most, 16)
    (few,), _ = check([text])
    assert few.results == at_once.results
    assert few.questions == at_once.questions


def test_data_without_a_range_stay_missing() -> None:
    assert "conductivity" in DESIGN
    found = report(changed(("heat_load: 700 W, ", "")))
    assert result(found, "room-heat", "rooms.kitchen").kind == "open"
