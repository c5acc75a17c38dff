"""The worked calculation: every step again, by its own formula, and where a chain breaks."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute import formulas
from checker.compute.meanings import meaning, of_plan
from checker.compute.naming import MEMBERS, OF_PARTS, TABLE_OF, dotted
from checker.compute.registry import REGISTRY, Quantity
from checker.compute.settling import settled
from checker.design.tables import Tables
from checker.explain import worked as module
from checker.explain.figures import figures, symbol_of
from checker.explain.records import Explained, NotExplained, Pictured
from checker.explain.steps import BY_THE_PROGRAM, Working
from checker.explain.worked import explain
from checker.outcome import findings
from checker.outcome.applicable import JudgingOptions
from checker.outcome.drawn_records import FloorPicture
from checker.outcome.floor_pictures import floor_picture
from checker.quantities.symbols import SYMBOLS
from checker.run.rules_in_force import rulebook
from checker.words.speech import Speech
from tests.example import DESIGN, changed, report, result

EXAMPLES = sorted((Path(__file__).parents[2] / "example_designs").glob("*.yaml"))
EXAMPLES.append(EXAMPLES[0].parent / "drawings" / "orchard-row-7.yaml")
QUANTITIES = pytest.mark.parametrize(
    "quantity", REGISTRY.values(), ids=lambda q: f"{q.subject}-{q.name}"
)


def explained(rule: str, subject: str, text: str = DESIGN, **judging: object) -> Explained:
    tables = Tables()
    tables.add("house.yaml", text.encode())
    return explain(tables, rulebook(), rule, subject, JudgingOptions(**judging))  # type: ignore[arg-type]


def known(quantity: Quantity, name: str) -> bool:
    """Whether a name in a formula is an input, or another quantity of the same subject."""
    column = dotted(quantity.subject, name)
    return column in quantity.inputs or meaning(quantity.subject, column) is not None


@QUANTITIES
def test_every_quantity_has_a_symbol_and_a_formula(quantity: Quantity) -> None:
    assert quantity.symbol
    assert quantity.formula
    for formula in quantity.formula:
        assert [name for name in formulas.names(formula) if not known(quantity, name)] == []


@QUANTITIES
def test_every_symbol_of_a_formula_is_known(quantity: Quantity) -> None:
    for formula in quantity.formula:
        for name in formulas.names(formula):
            column = dotted(quantity.subject, name)
            subject = quantity.subject
            part, _, rest = column.partition(".")
            if part in OF_PARTS:
                subject, column = OF_PARTS[part], rest
            elif part in MEMBERS:
                assert rest in SYMBOLS[part]
                continue
            symbol = symbol_of(subject, column)
            assert symbol not in ("", column, column.rpartition(".")[2]), column


@QUANTITIES
def test_an_arithmetic_formula_names_only_inputs(quantity: Quantity) -> None:
    for formula in quantity.formula:
        if formulas.is_arithmetic(formula):
            for name in formulas.names(formula):
                assert dotted(quantity.subject, name) in quantity.inputs


def test_symbols_are_of_fields_that_there_are() -> None:
    shapes = Tables().format.shapes
    for table, symbols in SYMBOLS.items():
        assert set(symbols) <= {leaf.name for leaf in shapes[table].columns}


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_value_comes_out_of_its_own_formula(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where no formula gives a value, the working says so; it says so nowhere. All rules of a
    design are worked on one graph, and a step that several of them need once, which takes long."""
    once = cache(settled)
    monkeypatch.setattr(module, "settled", once)
    monkeypatch.setattr(findings, "settled", once)
    monkeypatch.setattr(module, "Working", cache(Working))
    monkeypatch.setattr(module, "floor_picture", cache(floor_picture))
    pictured: dict[int, Pictured] = {}
    draw = module._pictured

    def drawn(picture: FloorPicture, speech: Speech) -> Pictured:
        if id(picture) not in pictured:
            pictured[id(picture)] = draw(picture, speech)
        return pictured[id(picture)]

    monkeypatch.setattr(module, "_pictured", drawn)
    tables = Tables()
    tables.add(path.name, path.read_bytes())
    in_numbers, contradicting = set(), set()
    for rule in rulebook().rules:
        table = "loops" if rule.subject == "part" else TABLE_OF[rule.subject]
        if of_plan(rule.subject, rule.value) and not tables.drawings:
            continue
        for id_ in tables[table].ids[:1]:
            name = f"{table}.{id_}" if id_ else "design"
            for step in explain(tables, rulebook(), rule.id, name, JudgingOptions()).steps:
                if step.numbers:
                    in_numbers.add(step.title)
                if step.formula == BY_THE_PROGRAM:
                    contradicting.add((step.title, name))
    assert contradicting == set()
    assert len(in_numbers) >= 15


def test_steps_lead_up_from_what_is_given() -> None:
    worked = explained("loop-pressure-drop", "loops.L1")
    assert [step.number for step in worked.steps] == list(range(1, len(worked.steps) + 1))
    last = worked.steps[-1]
    assert (last.symbol, last.subject) == ("Δp", "loops.L1")
    assert last.formula == "= f · L / d · ρ · v² / 2"
    assert last.numbers.endswith("/ 2")
    lines = DESIGN.splitlines()
    for one in worked.given:
        assert one.typed in lines[one.line - 1] or one.subject == "design"
    assert {(one.subject, one.name) for one in worked.given} >= {
        ("loops.L1", "length"), ("pipes.p16", "outside"), ("rooms.kitchen", "heat_load"),
        ("design", "plant.supply"),
    }  # fmt: skip


def test_a_step_that_is_used_twice_stands_once() -> None:
    steps = [(step.subject, step.name) for step in explained("pump-duty", "H1").steps]
    assert len(steps) == len(set(steps))


def test_speed_by_hand() -> None:
    # Continuity, v = V̇/(π/4·d²): 1.5 l/min in a bore of 12 mm.
    text = changed(("feeds: 8 m,", "feeds: 8 m, flow: 1.5 l/min,"))
    (bore, speed) = explained("water-speed-high", "L1", text).steps
    assert (bore.formula, bore.numbers, bore.result) == (
        "= d_a − 2 · s_R", "= 16 mm − 2 · 2 mm", "12 mm"
    )  # fmt: skip
    assert speed.numbers == "= 1.5 l/min / (π/4 · (12 mm)²)"
    assert speed.result == f"{figures(1.5e-3 / 60 / (np.pi / 4 * 0.012**2))} m/s"


def test_the_formula_that_holds_is_the_one_shown() -> None:
    def limit(text: str) -> tuple[str, str]:
        steps = explained("surface-temperature", "L1", text).steps
        return next((s.formula, s.result) for s in steps if s.name == "surface_limit")

    assert limit(DESIGN) == ("= 29 °C", "29 °C")
    assert limit(changed(("zone: occupied", "zone: perimeter"))) == ("= 35 °C", "35 °C")
    # At 20 °C both rules give 29 °C; in a bathroom it is the room's 9 K that counts.
    bath = changed(("{use: kitchen", "{use: bathroom"))
    assert limit(bath) == ("= θ_i + 9 K", "29 °C")


def test_only_inputs_that_count_are_shown() -> None:
    given = {one.name for one in explained("supply-temperature", "L1").given}
    assert given == {"plant.supply"}
    own = explained(
        "supply-temperature", "L1", changed(("feeds: 8 m,", "feeds: 8 m, supply: 40 °C,"))
    )
    assert [(one.subject, one.name) for one in own.given] == [("loops.L1", "supply")]
    assert own.steps == ()


def test_missing_data_is_shown_where_the_chain_breaks() -> None:
    worked = explained(
        "pump-duty",
        "H1",
        changed((", conductivity: 1.2 W/(m·K)", ""), ("material: cement", "material: other")),
    )
    assert worked.kind == "open"
    (lacking,) = [one for one in worked.given if one.value == "not given"]
    assert (lacking.subject, lacking.name) == ("floors.slab", "screed.conductivity")
    broken = [step for step in worked.steps if step.missing]
    assert "screed.conductivity is not given" in broken[0].missing
    assert {step.missing for step in broken[1:]} == {f"step {broken[0].number} has no result"}
    assert all(step.numbers == "" and step.result == "missing" for step in broken)


def test_out_of_range_data_breaks_the_chain_too() -> None:
    worked = explained("room-heat", "kitchen", changed(("spacing: 150 mm", "spacing: 17 mm")))
    broken = [step for step in worked.steps if step.missing]
    assert "outside 50 mm to 1 m" in broken[0].missing
    assert "T = 17 mm" in broken[0].uses


def test_beyond_the_tables_the_section_is_the_step() -> None:
    worked = explained(
        "room-heat", "kitchen", changed(("0.02 m²·K/W}}\n  bath", "0.2 m²·K/W}}\n  bath"))
    )
    assert [step for step in worked.steps if step.missing] == []
    steps = {step.name: step for step in worked.steps}
    assert steps["working_coefficient"].formula == "= K_W · κ"
    assert steps["working_up"].formula.endswith("with a water film of α_w")
    assert steps["end_ratio"].result != "1"
    assert "the section of a floor" in steps["working_coefficient"].source
    assert any("W/m² from the water; by hand between" in one for one in steps["section"].members)


def test_limits_of_every_code_stand_side_by_side() -> None:
    # EN 1264-4 wants 4 to 6 bar; IRC 2018, M2103.4 at least 100 psi, which is 6.89 bar.
    worked = explained("test-pressure", "first", codes=("US",))
    by_code = {limit.code: limit for limit in worked.limits}
    assert by_code["US"].counts
    assert by_code["US"].kind == "fail"
    assert "beyond" in by_code["US"].margin
    assert not by_code["EN-1264"].counts
    assert by_code["EN-1264"].why_not in (
        "the job is not under EN-1264", "only where medium is air"
    )  # fmt: skip
    (governs,) = [limit for limit in worked.limits if limit.governs]
    assert governs.code == "US"


def test_an_edition_out_of_force_says_so() -> None:
    limits = explained("test-pressure", "first").limits
    old = next(limit for limit in limits if limit.id == "en-1264-4-2001")
    assert not old.counts
    assert old.why_not == "not in force on 2026-03-12 (2001-12-01 to 2009-10-31)"


def test_the_verdict_is_the_reports_own() -> None:
    text = changed(("length: 88 m", "length: 128 m"))
    worked = explained("loop-length", "L1", text)
    found = result(report(text), "loop-length", "loops.L1")
    assert (worked.kind, worked.severity) == ("fail", "major")
    assert (worked.message, worked.remedy) == (found.message, found.remedy)
    (governs,) = [limit for limit in worked.limits if limit.governs]
    assert (governs.verdict, governs.margin) == ("not met", "28 m beyond")


@pytest.mark.parametrize(
    ("rule", "subject", "words"),
    [
        ("loop-lenght", "L1", "did you mean 'loop-length'?"),
        ("loop-length", "L9", "There is no 'L9' in the design"),
        ("loop-length", "rooms.kitchen", "'rooms.kitchen' is a room"),
        ("loop-length", "", "write one of 'loops.L1', 'loops.L2'"),
    ],
)
def test_what_is_not_there_is_said(rule: str, subject: str, words: str) -> None:
    with pytest.raises(NotExplained) as caught:
        explained(rule, subject)
    assert words in str(caught.value)


def test_a_design_without_the_section_is_said() -> None:
    with pytest.raises(NotExplained, match="has no section 'loops'"):
        explained("loop-length", "L1", "design: 1\n")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (88.0, "88"),
        (1.83456, "1.835"),
        (0.02, "0.02"),
        (41900.4, "41900"),
        (2.1e-9, "2.1·10⁻⁹"),
        (-3.0, "−3"),
        (0.0, "0"),
    ],
)
def test_a_number_has_the_digits_that_the_next_step_wants(value: float, text: str) -> None:
    assert figures(value) == text


def test_the_zone_of_a_feed_is_told_as_what_it_is() -> None:
    feeds = "feeds: [{room: kitchen, floor: slab, length: 6 m, spacing: 75 mm}]"
    before, loop, after = DESIGN.partition("  L2:")
    text = before + loop + re.sub("feeds: [0-9.]+ m", feeds, after, count=1)
    assert feeds in text
    found = explained("feed-surface", "loops.L2", text)
    (zone,) = (one for one in found.given if one.name == "zone")
    assert zone.typed == "of every feed, which lies where people walk"


def test_points_of_a_curve_are_named_as_the_design_states_them() -> None:
    plain = "pump: {curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]}"
    several = plain.replace("{curve: [[", "{curves: {high: [[").replace(
        "]]}", "]]}, setting: high}"
    )
    for text, name in (
        (DESIGN, "pump.curve.head"),
        (DESIGN.replace(plain, several), "pump.curves.high.head"),
    ):
        found = explained("pump-duty", "headers.H1", text)
        assert [one.name for one in found.given if one.subject == "headers.H1"].count(name) == 1
