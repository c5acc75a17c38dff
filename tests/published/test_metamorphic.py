"""What must not change, or only one way, when a whole design is changed.

No reference is needed to know that a house is the same in feet and in metres, in whatever order its
rooms are written, and however many houses are checked with it. That a datum less makes nothing
sounder is shown in `test_less_data`. The designs are the examples and invented ones without end.
"""

from __future__ import annotations

import json
import random
import re
from collections import Counter
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

import pytest
import yaml
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from checker.compute.meanings import of_plan
from checker.outcome.report import DesignReport
from checker.outcome.results import Result
from checker.run.batch import BY_THE_DESIGN, Plan, check
from checker.run.rules_in_force import rulebook
from tests.design.designs import generate
from tests.design.test_example_designs import EXAMPLES, Loader, data
from tests.example import as_json

if TYPE_CHECKING:
    import pint

Design: TypeAlias = dict[str, Any]
Way: TypeAlias = tuple[str, ...]


@cache
def registry() -> pint.UnitRegistry[float]:
    """pint's units, which take half a second to load."""
    import pint

    return pint.UnitRegistry()


examples = st.sampled_from([data(path) for path in EXAMPLES])
invented = st.builds(
    lambda number, loops: yaml.load(generate(number, loops=loops), Loader),
    st.integers(0, 10_000),
    st.integers(1, 6),
)
designs = examples | invented
# Making a design that fails smaller takes minutes, and it is not large.
few = settings(
    max_examples=25,
    deadline=None,
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def written(design: Design) -> bytes:
    return json.dumps(design, ensure_ascii=False).encode()


def checked(design: Design, plan: Plan = BY_THE_DESIGN) -> DesignReport | None:
    """The report, or None where the design is refused."""
    found, _ = check([("house.json", written(design))], plan)
    return found[0] if found else None


def by_rule(report: DesignReport) -> dict[tuple[str, str], Result]:
    return {(result.rule, result.subject): result for result in report.results}


def outcomes(report: DesignReport) -> dict[tuple[str, str], tuple[Any, ...]]:
    """What came out, without what hangs on lines and on the units that were typed."""
    return {
        key: (one.kind, one.severity, getattr(one.source, "id", None))
        for key, one in by_rule(report).items()
    }


def numbers(report: DesignReport) -> dict[tuple[str, str], float]:
    """Every computed value; NaN where it is missing."""
    return {
        (subject, name): float("nan") if measure.magnitude is None else measure.magnitude
        for subject, measures in report.computed.items()
        for name, measure in measures.items()
    }


def same(one: DesignReport, other: DesignReport, digits: float = 1e-9) -> None:
    """Fails where the two differ in an outcome, or in a value by more than rounding."""
    assert outcomes(one) == outcomes(other)
    assert numbers(one) == pytest.approx(numbers(other), rel=digits, abs=1e-12, nan_ok=True)


# The spelling in a design: what pint calls it, what to turn it into, and how to write that.
OTHER_UNITS = {
    "m": ("metre", "foot", "ft"),
    "mm": ("millimetre", "inch", "in"),
    "m²": ("metre**2", "foot**2", "ft²"),
    "°C": ("degC", "degF", "degF"),
    "degF": ("degF", "degC", "°C"),
    "°F": ("degF", "degC", "°C"),
    "K": ("delta_degC", "delta_degF", "°F"),
    "W": ("watt", "Btu/hour", "Btu/h"),
    "W/(m·K)": ("watt/(metre*kelvin)", "Btu*inch/(hour*foot**2*delta_degF)", "Btu·in/(h·ft²·°F)"),
    "m²·K/W": ("metre**2*kelvin/watt", "foot**2*delta_degF*hour/Btu", "ft²·°F·h/Btu"),
    "l/min": ("litre/minute", "US_liquid_gallon/minute", "gpm"),
    "kPa": ("kilopascal", "psi", "psi"),
    "bar": ("bar", "psi", "psi"),
    "min": ("minute", "hour", "h"),
    "day": ("day", "hour", "h"),
    "ft": ("foot", "metre", "m"),
    "in": ("inch", "millimetre", "mm"),
    "ft²": ("foot**2", "metre**2", "m²"),
    "psi": ("psi", "bar", "bar"),
    "gpm": ("US_liquid_gallon/minute", "litre/minute", "l/min"),
    "Btu/h": ("Btu/hour", "watt", "W"),
}
QUANTITY = re.compile(r"(-?[0-9.]+) ?([^0-9\s].*)")


def in_other_units(node: Any, key: str = "") -> Any:
    """The same design with every quantity in a unit of the other side of the ocean."""
    if isinstance(node, dict):
        return {name: in_other_units(value, name) for name, value in node.items()}
    if isinstance(node, list):
        return [in_other_units(value) for value in node]
    found = QUANTITY.fullmatch(node) if isinstance(node, str) else None
    if not found or found[2] not in OTHER_UNITS:
        return node
    of, to, spelled = OTHER_UNITS[found[2]]
    if key == "drop" and of == "degF":  # a difference, whatever the sign for it
        of, to = "delta_degF", "delta_degC"
    return f"{registry().Quantity(float(found[1]), of).to(to).magnitude!r} {spelled}"


@pytest.mark.long
@few
@given(designs)
def test_units_change_nothing(design: Design) -> None:
    plain, other = checked(design), checked(in_other_units(design))
    assert plain is not None
    assert other is not None
    same(plain, other)


def test_the_units_are_really_other_ones() -> None:
    design = data(EXAMPLES[1])
    other = written(in_other_units(design)).decode()
    assert not re.search(r'"[0-9.]+ (m|mm|m²|°C|l/min|kPa|bar)"', other)
    assert re.search(r"[0-9.]+ ft", other)


def shuffled(node: Any, chance: random.Random) -> Any:
    """The same mapping with its keys in another order, all the way down; lists keep theirs."""
    if isinstance(node, dict):
        names = list(node)
        chance.shuffle(names)
        return {name: shuffled(node[name], chance) for name in names}
    return [shuffled(value, chance) for value in node] if isinstance(node, list) else node


@pytest.mark.long
@few
@given(designs, st.randoms(use_true_random=False))
def test_the_order_of_keys_changes_only_the_order(design: Design, chance: random.Random) -> None:
    plain, other = checked(design), checked(shuffled(design, chance))
    assert plain is not None
    assert other is not None
    same(plain, other)
    # Of several data that are missing, an open or early result names the first in the file.
    words = [
        Counter(
            (
                r.rule,
                r.subject,
                r.fingerprint,
                r.message * (r.kind not in ("open", "notApplicable")),
            )
            for r in one.results
        )
        for one in (plain, other)
    ]
    assert words[0] == words[1]


@pytest.mark.long
@settings(few, max_examples=15)
@given(st.lists(designs, min_size=2, max_size=4), st.randoms(use_true_random=False))
def test_neighbours_in_a_batch_change_nothing(found: list[Design], chance: random.Random) -> None:
    """To the byte, alone, together and the other way round."""
    files = [(f"{number}.json", written(design)) for number, design in enumerate(found)]
    alone = {file[0]: as_json(check([file])[0][0]) for file in files}
    together = {one.path: as_json(one) for one in check(files)[0]}
    chance.shuffle(files)
    turned = {one.path: as_json(one) for one in check(files)[0]}
    assert together == alone
    assert turned == alone


def test_a_refused_neighbour_changes_nothing() -> None:
    good = written(data(EXAMPLES[1]))
    (alone,) = check([("a.json", good)])[0]
    found, unreadable = check([("0.json", b'{"design": 1, "lops": {}}'), ("a.json", good)])
    assert [as_json(one) for one in found] == [as_json(alone)]
    assert [one.path for one in unreadable] == ["0.json"]


@pytest.mark.long
@few
@given(designs)
def test_every_rule_has_one_result_for_every_subject(design: Design) -> None:
    report = checked(design)
    assert report is not None
    found = Counter((result.rule, result.subject) for result in report.results)
    assert set(found.values()) == {1}
    wanted = {
        (rule.id, subject)
        for rule in rulebook().rules
        if not of_plan(rule.subject, rule.value)  # asked only of a design with a plan
        for subject in subjects_of(design, rule.subject)
    }
    assert set(found) == wanted


def subjects_of(design: Design, subject: str) -> list[str]:
    section = SECTIONS[subject]
    if not section:
        return ["design"]
    if section not in design:
        return [section]  # a whole section that is missing has one result a rule
    return [f"{section}.{name}" for name in design[section]]


SECTIONS = {
    "design": "",
    "loop": "loops",
    "part": "loops",
    "header": "headers",
    "room": "rooms",
    "floor": "floors",
    "pipe": "pipes",
    "test": "pressure_tests",
}
LADDERS = {
    "length": ("at_most", ["40 m", "80 m", "100 m", "200 m"]),
    "pressure_drop": ("at_most", ["1 kPa", "6 kPa", "15 kPa", "80 kPa"]),
    "surface_max": ("at_most", ["24 °C", "26 °C", "28 °C", "33 °C"]),
    "output": ("at_least", ["120 W/m²", "80 W/m²", "50 W/m²", "5 W/m²"]),
    "velocity": ("at_least", ["1 m/s", "0.35 m/s", "0.2 m/s", "0.01 m/s"]),
}
"""A value, a comparison, and limits each of which asks less than the one before it."""
OWN_RULE = """\
title: A firm's own limit
subject: loop
value: {value}
severity: minor
from: design
limits: [{{{comparison}: {limit}, source: practice-loop-length}}]
why: To see what a limit does.
remedy: Look.
examples: [{{gives: open}}]
"""


@pytest.fixture(scope="module")
def packs(tmp_path_factory: pytest.TempPathFactory) -> list[Plan]:
    """A folder of own rules for each rung of all ladders."""
    plans = []
    for rung in range(4):
        folder: Path = tmp_path_factory.mktemp(f"rung{rung}")
        for value, (comparison, limits) in LADDERS.items():
            text = OWN_RULE.format(value=value, comparison=comparison, limit=limits[rung])
            name = f"own-{value.replace('_', '-')}.yaml"
            (folder / name).write_text(text, "utf-8")
        plans.append(Plan(rules=(str(folder),)))
    return plans


@pytest.mark.long
@settings(few, max_examples=8)
@given(st.lists(designs, min_size=8, max_size=8))
def test_a_limit_that_asks_less_never_finds_more(packs: list[Plan], found: list[Design]) -> None:
    files = [(f"{number}.json", written(design)) for number, design in enumerate(found)]
    before: dict[tuple[str, str, str], str] | None = None
    for plan in packs:
        reports, _ = check(files, plan)
        after = {
            (report.path, result.rule, result.subject): result.kind
            for report in reports
            for result in report.results
            if result.rule.startswith("own-")
        }
        assert after
        if before is not None:
            assert after.keys() == before.keys()
            for key, kind in after.items():
                assert kind == before[key] or (before[key], kind) == ("fail", "pass"), key
        before = dict(after)
