"""Designs into tables: every value converted, every reference a row, and any text at all survived."""

from __future__ import annotations

import json
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from checker.design.schema import DESIGNS, design_format
from checker.design.tables import BadDesign, Tables
from checker.reading import yaml_reader
from checker.reading.documents import Problem, column_of, line_of
from tests.design.designs import generate
from tests.design.house import HOUSE, START, column, word
from tests.example import DESIGN


def test_values_come_in_si_under_the_names_of_the_schema() -> None:
    tables = Tables()
    tables.add("house.yaml", HOUSE.encode())
    nan = np.nan
    for table, name, wanted in (
        (DESIGNS, "plant.supply", [45]),
        (DESIGNS, "plant.drop", [5]),
        (DESIGNS, "plant.fluid.mass_fraction", [0.25]),
        (DESIGNS, "plant.outside", [nan]),
        (DESIGNS, "project.designed_on", [date(2026, 3, 12).toordinal()]),
        (DESIGNS, "heat_up.started_on", [date(2026, 4, 28).toordinal()]),
        ("pipes", "outside", [0.012, 0.016]),
        ("pipes", "wall", [nan, 0.002]),
        ("pipes", "oxygen_barrier", [nan, 1]),
        ("pipes", "service_class", [nan, 4]),
        ("floors", "screed.cover", [0.045, nan]),
        ("rooms", "heat_load", [nan, 900]),
        ("headers", "isolation_valves", [0, nan]),
        ("loops", "length", [91.44, nan, nan]),
        ("loops", "spacing", [0.1524, nan, nan]),
        ("pressure_tests", "hold", [1800]),
        ("readings", "at", [0, 1800]),
        ("readings", "pressure", [4e5, 58 * 6894.757293168]),
        ("heat_up_steps", "hold", [3 * 86400]),
        ("pump_curve", "head", [60e3, 45e3, 30e3]),
        ("balance", "flow", [1.7e-3 / 60]),
    ):
        np.testing.assert_allclose(column(tables, table, name), wanted, rtol=1e-12)
    assert word(tables, DESIGNS, "project.stage") == "installed"
    assert word(tables, DESIGNS, "plant.fluid.kind") == "propylene glycol"
    assert word(tables, "pipes", "material", 1) == "PE-RT"
    assert word(tables, "floors", "below") == "ground"


def test_references_are_rows_and_parts_know_their_record() -> None:
    tables = Tables()
    tables.add("other.yaml", generate(1, 13).encode())
    before = {name: len(table) for name, table in tables.tables.items()}
    tables.add("house.yaml", HOUSE.encode())

    def rows(table: str, name: str) -> list[float]:
        return [*column(tables, table, name)[before[table] :]]

    assert rows("loops", "header")[:2] == [before["headers"] + 1, before["headers"]]
    assert rows("loops", "room")[:2] == [before["rooms"] + 1, before["rooms"]]
    assert rows("loops", "pipe")[:2] == [before["pipes"] + 1, before["pipes"]]
    assert rows("loops", "floor")[:2] == pytest.approx([before["floors"], np.nan], nan_ok=True)
    assert rows("balance", "of") == [before["loops"] + 1]
    curve = tables["pump_curve"].parents.tolist()[before["pump_curve"] :]
    assert curve == [before["headers"], before["headers"], before["headers"] + 1]
    assert (
        tables["readings"].parents.tolist()[before["readings"] :] == [before["pressure_tests"]] * 2
    )
    assert tables["heat_up_steps"].parents.tolist()[before["heat_up_steps"] :] == [1]
    assert [*tables.design_of("readings")[before["readings"] :]] == [1, 1]
    assert [*tables.design_of("loops")] == [0] * 13 + [1, 1, 1]
    assert [*tables.design_of(DESIGNS)] == [0, 1]


def test_texts_stay_as_typed() -> None:
    tables = Tables()
    design = tables.add("house.yaml", HOUSE.encode())
    assert design.text("project", "revision") == "3.10"
    assert design.text("project", "contractor") == "no"
    assert design.text("project", "designer") == ""
    assert design.codes == ["EN-1264", "GB-ENG"]
    assert (design.name, design.row) == ("House", 0)
    bare = tables.add("C:\\jobs\\row 5.v2.yaml", START.encode())
    assert (bare.name, bare.row, bare.codes) == ("row 5.v2", 1, None)
    assert bare.text("project", "name") == ""


def test_json_gives_the_same_tables() -> None:
    tables = Tables()
    document = tables.add("house.yaml", HOUSE.encode()).document
    tables.add("HOUSE.JSON", json.dumps(document, indent="\t").encode())
    for table in tables.tables.values():
        half = len(table) // 2
        assert table.ids[:half] == table.ids[half:]
        for slot, leaf in enumerate(table.shape.columns):
            if leaf.kind != "reference":
                values = table.column(slot)
                np.testing.assert_array_equal(values[:half], values[half:])


@pytest.mark.parametrize("word", ["true", "True", "yes", "YES", "on"])
@pytest.mark.parametrize(("not_word", "value"), [("", 1), ("no", 0), ("off", 0), ("FALSE", 0)])
def test_a_boolean_in_any_usual_word(word: str, not_word: str, value: int) -> None:
    tables = Tables()
    tables.add("a.yaml", f"{START}pipes: {{p: {{oxygen_barrier: {not_word or word}}}}}".encode())
    assert [*column(tables, "pipes", "oxygen_barrier")] == [value]


def test_columns_follow_the_designs_that_come_later() -> None:
    tables = Tables()
    tables.add("a.yaml", generate(1, 3).encode())
    assert len(column(tables, "loops", "length")) == 3
    tables.add("b.yaml", generate(2, 4).encode())
    assert len(column(tables, "loops", "length")) == 7


def test_a_bad_design_leaves_no_trace() -> None:
    texts = [generate(number, 8).encode() for number in range(4)]
    good, mixed = Tables(), Tables()
    for number, text in enumerate(texts):
        good.add(f"{number}.yaml", text)
        mixed.add(f"{number}.yaml", text)
        for bad in (
            text.replace(b"L8:", b"L9: {length: 8}\n  L8:"),
            text.replace(b"H1", b"H3", 1),
            text.replace(b"design: 1", b"design: 2"),
            text + b"lops: {}\n",
            b"\xff" + text,
        ):
            with pytest.raises(BadDesign):
                mixed.add("bad.yaml", bad)
    assert [design.row for design in mixed.designs] == [0, 1, 2, 3]
    for name, table in good.tables.items():
        other = mixed[name]
        assert (table.ids, table.parents) == (other.ids, other.parents)
        assert len(table.rows) == len(other.rows) == len(other.places) == len(other.sources)
        for slot in range(len(table.shape.columns)):
            np.testing.assert_array_equal(table.column(slot), other.column(slot))


PLACED = """\
design: 1
project: {name: Placed}
floors:
  wet: {construction: wet, screed: {material: cement, cover: 45 mm}}
  bare: {construction: tested}
rooms:
  hall: {use: hall}
loops:
  L1: {room: hall, pipe: p16,
    length: 88 m}
"""


@pytest.mark.parametrize(
    ("table", "name", "wanted"),
    [
        ("floors", "screed.cover", [(4, 62), (5, 3)]),
        ("floors", "screed.conductivity", [(4, 36), (5, 3)]),
        ("floors", "insulation", [(4, 3), (5, 3)]),
        ("floors", "", [(4, 3), (5, 3)]),
        ("floors", "no such field", [(4, 3), (5, 3)]),
        ("loops", "length", [(10, 13)]),
        ("loops", "room", [(9, 14)]),
        ("loops", "pipe", [(9, 26)]),
        ("loops", "floor", [(9, 3)]),
        (DESIGNS, "project.stage", [(2, 10)]),
        (DESIGNS, "plant.supply", [(1, 1)]),
        ("pressure_tests", "hold", []),
    ],
)
def test_a_field_has_its_place_else_that_of_what_it_belongs_in(
    table: str, name: str, wanted: list[tuple[int, int]]
) -> None:
    tables = Tables()
    tables.add("a.yaml", PLACED.encode())
    places = tables[table].places_at(name)
    assert [*zip(line_of(places).tolist(), column_of(places).tolist(), strict=True)] == wanted


def test_a_reference_is_known_to_stand_there_though_it_leads_nowhere_yet() -> None:
    tables = Tables()
    tables.add("a.yaml", PLACED.encode())
    slots = [design_format().leaf("loops", name).slot for name in ("pipe", "room", "floor")]
    assert [bool(tables["loops"].placed(slot)[0]) for slot in slots] == [True, True, False]
    assert np.isnan(column(tables, "loops", "pipe")[0])


def test_tables_that_keep_nothing_hold_the_same_numbers() -> None:
    kept, bare = Tables(), Tables(keep=False)
    kept.add("house.yaml", HOUSE.encode())
    bare.add("house.yaml", HOUSE.encode())
    for name, table in kept.tables.items():
        assert table.rows
        assert len(table.sources) == len(table.rows)
        assert bare[name].sources == []
        np.testing.assert_array_equal(np.array(bare[name].rows), np.array(table.rows))
    assert set(bare.designs[0].document) == {"project", "codes", "seen"}
    assert bare.designs[0].name == kept.designs[0].name
    assert bare.designs[0].codes == kept.designs[0].codes


@pytest.mark.parametrize("section", ["headers", "rooms", "floors", "pipes", "loops"])
def test_a_section_without_data_yet_may_be_left_out_though_others_name_it(section: str) -> None:
    document = yaml_reader.read(DESIGN.encode())
    del document[section]
    Tables().add("a.json", json.dumps(document).encode())


@pytest.mark.parametrize("name", ["L", "L" * 64, "1.2", "no", "küche & bad", "'a: b'"])
def test_an_id_that_is_one(name: str) -> None:
    tables = Tables()
    tables.add("a.yaml", f"{START}loops: {{{name}: {{}}}}".encode())
    assert tables["loops"].ids == [name.strip("'")]


def taken(data: bytes, path: str) -> list[Problem]:
    """The problems found; the tables hold one design where there are none, else nothing."""
    tables = Tables()
    try:
        tables.add(path, data)
    except BadDesign as found:
        assert not tables.designs
        assert not any(len(table) for table in tables.tables.values())
        return found.problems
    assert len(tables.designs) == len(tables[DESIGNS]) == 1
    return []


VALUES = generate(3, 2)


@given(st.data())
def test_any_text_in_place_of_a_value(data: st.DataObject) -> None:
    document = Tables().add("a.yaml", VALUES.encode()).document
    section = data.draw(st.sampled_from(sorted({*document} - {"design"})))
    inner = document[section]
    while any(isinstance(value, dict) for value in inner.values()) and data.draw(st.booleans()):
        inner = next(value for value in inner.values() if isinstance(value, dict))
    key = data.draw(st.sampled_from(sorted(inner)))
    inner[key] = data.draw(
        st.one_of(
            st.text(max_size=30),
            st.floats().map(str),
            st.none(),
            st.booleans(),
            st.recursive(
                st.text(max_size=3),
                lambda deeper: st.lists(deeper) | st.dictionaries(st.text(max_size=3), deeper),
            ),
        )
    )
    for problem in taken(json.dumps(document).encode(), "a.json"):
        assert problem.message.isprintable()
        assert problem.message.endswith((".", "?"))


@settings(deadline=None)  # the first unit that is not in the table imports pint
@given(st.integers(0, len(VALUES) - 1), st.integers(0, 60), st.text(max_size=6))
def test_a_stretch_of_a_design_replaced(start: int, length: int, text: str) -> None:
    damaged = VALUES[:start] + text + VALUES[start + length :]
    problems = taken(damaged.encode(), "a.yaml")
    assert problems == sorted(problems, key=lambda problem: (problem.line, problem.column))
