"""Designs into tables: every value converted, every mistake named where it stands."""

from __future__ import annotations

import json
from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from checker.design import tables as module
from checker.design.schema import DESIGNS, design_format
from checker.design.tables import Array, Tables, Unreadable
from checker.reading import yaml_reader
from checker.reading.yaml_reader import Problem, column_of, line_of
from tests.design.designs import generate
from tests.example import DESIGN

START = "design: 1\n"

HOUSE = """\
design: 1
project: {name: House, revision: 3.10, stage: installed, designed_on: 2026-03-12, region: GB-ENG, contractor: no}
codes: [EN-1264, GB-ENG]
plant: {source: boiler, supply: 113 °F, drop: 9 °F, fluid: {kind: propylene glycol, mass_fraction: 25 %}}
pipes:
  thin: {material: PB, outside: 12 mm}
  p16: {material: PE-RT, outside: 16 mm, wall: 2 mm, oxygen_barrier: yes, service_class: 4}
floors:
  slab: {construction: wet, screed: {material: cement, cover: 45 mm}, below: ground}
  boards: {layers: [{material: plywood, thickness: 22 mm}]}
rooms:
  bath: {temperature: 24 °C}
  kitchen: {temperature: 20 °C, heat_load: 0.9 kW}
headers:
  H1: {ports: 4, isolation_valves: off, pump: {curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa]]}}
  H2: {pump: {curves: {only: [[0 l/min, 30 kPa]]}, setting: only}}
loops:
  L1: {header: H2, port: 1, room: kitchen, floor: slab, pipe: p16, spacing: 6 in, length: 300 ft}
  L2: {header: H1, room: bath, pipe: thin}
  L3: {parts: [{room: bath, area: 2 m²}], feeds: [{room: kitchen, length: 4 m}]}
pressure_tests:
  first: {header: H2, hold: 0.5 h, readings: [{at: 0 min, pressure: 4 bar}, {at: 30 min, pressure: 58 psi}]}
heat_up: {started_on: 2026-04-28, steps: [{supply: 25 °C, hold: 3 day}]}
balance: {L2: {flow: 1.7 l/min}}
seen: [{rule: mixing-needed, subject: design, result: as wanted, by: A. Fitter, on: 2026-04-02}]
"""


def mistakes(text: str | bytes, path: str = "house.yaml") -> list[str]:
    """What is said of this design: "line:column message" each."""
    with pytest.raises(Unreadable) as found:
        Tables().add(path, text if isinstance(text, bytes) else text.encode())
    assert str(found.value) == found.value.problems[0].message
    return [
        f"{problem.line}:{problem.column} {problem.message}" for problem in found.value.problems
    ]


def column(tables: Tables, table: str, name: str) -> Array:
    names = [leaf.name for leaf in tables[table].shape.columns]
    return tables[table].column(names.index(name))


def word(tables: Tables, table: str, name: str, row: int = 0) -> str:
    return design_format().leaf(table, name).options[int(column(tables, table, name)[row])]


# What is taken


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
            with pytest.raises(Unreadable):
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


# What is refused


def test_the_missing_version() -> None:
    assert mistakes("project: {name: x}\n") == [
        "1:1 The key 'design' is missing; the file starts with 'design: 1'."
    ]
    assert mistakes("desing: 1\n") == [
        "1:1 The key 'design' is missing; the file starts with 'design: 1'.",
        "1:1 design: the key 'desing' is not known here; did you mean 'design'?",
    ]


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("2", "2 is not known here; write 1."),
        ("0", "0 is not known here; write 1."),
        ("1.0", "'1.0' is not a whole number; write one such as 1."),
        ("one", "'one' is not a whole number; write one such as 1."),
        ("", "there is no value; write one, such as '1'."),
        ("[1]", "one value is wanted here, not a list."),
    ],
)
def test_another_version(value: str, words: str) -> None:
    assert mistakes(f"design: {value}\n")[0].split(" ", 1)[1] == f"design: {words}"


@pytest.mark.parametrize(
    ("part", "said"),
    [
        ("lops: {}", "2:1 design: the key 'lops' is not known here; did you mean 'loops'?"),
        (
            "loops: {L1: {lenght: 88 m}}",
            "2:14 loops.L1: the key 'lenght' is not known here; did you mean 'length'?",
        ),
        (
            "plant: {fluid: {thickness: 6 mm}}",
            "2:17 plant.fluid: the key 'thickness' is not known here; write one of "
            "'kind', 'mass_fraction'.",
        ),
        (
            "pressure_tests: {a: {readings: [{at: 0 min, pressure: 4 bar, time: 3}]}}",
            "2:62 pressure_tests.a.readings[1]: the key 'time' is not known here; "
            "write one of 'at', 'pressure', 'temperature'.",
        ),
        (
            f"? {'x' * 3000}\n: 1",
            f"2:3 design: the key '{'x' * 64}…' is not known here; write one of 'design', "
            "'project', 'codes', 'defaults', 'plant', 'pipes', 'floors', 'rooms', 'headers', 'loops', "
            "'pressure_tests', 'heat_up' (and 3 more).",
        ),
    ],
)
def test_an_unknown_key(part: str, said: str) -> None:
    assert mistakes(START + part) == [said]


@pytest.mark.parametrize(
    ("loop", "said"),
    [
        ("length: 88", "length: 88 has no unit; write '88 m'."),
        ("spacing: 150", "spacing: 150 has no unit; write '150 mm'."),
        ("flow: 1.8", "flow: 1.8 has no unit; write '1.8 l/min'."),
        ("supply: 45", "supply: 45 has no unit; write '45 °C'."),
        ("supply: 45 K", "supply: '45 K' is a difference; write '45 °C'."),
        ("area: 12 m", "area: '12 m' is a length; an area is wanted, such as '12 m²'."),
        ("length: 12,5 m", "length: '12,5 m' has a decimal comma; write '12.5 m'."),
        ("length: -8 m", "length: '-8 m' is negative, which is impossible here."),
        (
            "spacing: 150 m",
            "spacing: '150 m' is outside what is possible here (10 mm to 1 m); "
            "look at the unit and the decimal point.",
        ),
        (
            "supply: 450 °C",
            "supply: '450 °C' is outside what is possible here (5 °C to 95 °C); "
            "look at the unit and the decimal point.",
        ),
        (
            "length: .nan",
            "length: '.nan' does not begin with a number; write a length such as '88 m'.",
        ),
        (
            "length: .inf",
            "length: '.inf' does not begin with a number; write a length such as '88 m'.",
        ),
        (
            "length: nan m",
            "length: 'nan m' does not begin with a number; write a length such as '88 m'.",
        ),
        (
            "length: 1e999 m",
            "length: '1e999 m' is too large a number; write a length such as '88 m'.",
        ),
        ("length: ''", "length: nothing is written here; write a length such as '88 m'."),
        ("length: ", "length: there is no value; write one, such as '88 m'."),
        ("length: null", "length: there is no value; write one, such as '88 m'."),
        ("header: ~", "header: there is no value; write one, or leave the key out."),
        ("pattern: ", "pattern: there is no value; write one, or leave the key out."),
        ("length: [88 m]", "length: one value is wanted here, not a list."),
        ("length: {m: 88}", "length: one value is wanted here, not a mapping."),
        ("pattern: conterflow", "pattern: 'conterflow' is not taken here; did you mean 'counterflow'?"),
        (
            "pattern: double",
            "pattern: 'double' is not taken here; write one of 'counterflow', 'serpentine'.",
        ),
        ("pattern: snail", "pattern: 'snail' is not taken here; write 'counterflow'."),
        ("pattern: spiral", "pattern: 'spiral' is not taken here; write 'counterflow'."),
        ("pattern: meander", "pattern: 'meander' is not taken here; write 'serpentine'."),
        ("pattern: yes", "pattern: 'yes' is not taken here; write one of 'counterflow', 'serpentine'."),
        ("port: 1.5", "port: '1.5' is not a whole number; write one such as 1."),
        ("port: 1_0", "port: '1_0' is not a whole number; write one such as 1."),
        ("port: ١", "port: '١' is not a whole number; write one such as 1."),
        ("port: 0", "port: 0 is outside what is possible here (1 to 100)."),
        ("port: -1", "port: -1 is outside what is possible here (1 to 100)."),
        ("port: 1e1", "port: '1e1' is not a whole number; write one such as 1."),
        ("sleeved: y", "sleeved: 'y' is neither true nor false; write 'true' or 'false'."),
        ("sleeved: 1", "sleeved: '1' is neither true nor false; write 'true' or 'false'."),
        (f"pattern: {'x' * 500}", "pattern: the text has 500 characters; 200 are taken."),
    ],
)  # fmt: skip
def test_a_value_that_is_none(loop: str, said: str) -> None:
    key, value = loop.split(":", 1)
    place = len(key) + (7 if value.strip() else 6)
    assert mistakes(f"{START}loops:\n  L1:\n    {loop}\n") == [f"4:{place} loops.L1.{said}"]


@pytest.mark.parametrize(
    ("hold", "words"),
    [
        ("20", "20 has no unit; write '20 min'."),
        ("1:30:00", "'1:30:00' has no unit; write '90 min'."),
        ("0:20:30", "'0:20:30' has no unit; write '20.5 min'."),
        ("1:30", "'1:30' can be read in two ways; write '90 min' or '90 s'."),
    ],
)
def test_a_duration_as_on_a_clock(hold: str, words: str) -> None:
    said = mistakes(f"{START}pressure_tests: {{a: {{hold: {hold}}}}}\n")
    assert said == [f"2:28 pressure_tests.a.hold: {words}"]


@pytest.mark.parametrize(
    "typed",
    ["12.03.2026", "2026-3-12", "20260312", "2026-W11-4", "2026-03-12T08:00", "soon"],
)
def test_a_date_that_is_none(typed: str) -> None:
    assert mistakes(f"{START}project: {{designed_on: {typed}}}\n") == [
        f"2:24 project.designed_on: '{typed}' is not a date; write year-month-day, "
        "such as '2026-03-12'."
    ]


@pytest.mark.parametrize("typed", ["England", "gb", "GB_ENG", "GBR", "GB-", "GB-ENGL"])
def test_a_region_that_is_none(typed: str) -> None:
    assert mistakes(f"{START}project: {{region: {typed}}}\n") == [
        f"2:19 project.region: '{typed}' is not taken here; write one such as 'GB-ENG'."
    ]


def test_a_day_that_the_calendar_does_not_have() -> None:
    assert mistakes(f"{START}project: {{designed_on: 2026-02-30}}\n") == [
        "2:24 project.designed_on: there is no day '2026-02-30'; look at the month and the day."
    ]


def test_a_region_by_a_name_that_is_no_code() -> None:
    assert mistakes(f"{START}project: {{region: UK}}\n") == [
        "2:19 project.region: 'UK' is not taken here; write 'GB'."
    ]


def test_a_word_only_somewhat_like_another_is_told_all_there_are() -> None:
    assert mistakes(f"{START}rooms: {{a: {{use: dining}}}}\n") == [
        "2:18 rooms.a.use: 'dining' is not taken here; write one of 'living', 'bedroom', "
        "'bathroom', 'kitchen', 'hall', 'office', 'utility', 'store', 'other'."
    ]


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (
            "floors: {slab: {screed: {cover: 4,5 cm, material: cement}}}",
            "2:33 floors.slab.screed.cover: '4,5 cm' has a decimal comma; write '4.5 cm'.",
        ),
        (
            "loops: {L1: {joints: 0,5}}",
            "2:22 loops.L1.joints: '0,5' has a decimal comma; write '0.5'.",
        ),
        ("loops: {L1: {joints: 0, 5}}", "2:25 loops.L1: the key '5' is not known here; "),
    ],
)
def test_a_decimal_comma_between_braces(part: str, said: str) -> None:
    (only,) = mistakes(START + part)
    assert only.startswith(said)


@pytest.mark.parametrize(
    ("wall", "wrong"), [("9 mm", True), ("8.5 mm", True), ("8.4 mm", False), ("2 mm", False)]
)
def test_a_wall_that_leaves_no_bore(wall: str, wrong: bool) -> None:
    text = f"{START}pipes: {{p17: {{outside: 17 mm, wall: {wall}}}}}\n"
    said = f"2:37 pipes.p17.wall: two walls of {wall} leave no bore in a pipe of 17 mm."
    if wrong:
        assert mistakes(text) == [said]
    else:
        Tables().add("a.yaml", text.encode())


def test_a_code_that_is_none() -> None:
    text = f"{START}codes: [GB-ENG, EN 1264]\n".encode()
    with pytest.raises(Unreadable) as found:
        Tables(["EN-1264", "GB-ENG", "OWN-1"]).add("a.yaml", text)
    (problem,) = found.value.problems
    assert (problem.line, problem.column) == (2, 17)
    assert problem.message == "codes: there is no code 'EN 1264'; did you mean 'EN-1264'?"
    Tables(["EN-1264", "OWN-1"]).add("b.yaml", f"{START}codes: [OWN-1]\n".encode())


def test_a_text_too_long() -> None:
    assert mistakes(f"{START}project: {{name: {'x' * 201}}}\n") == [
        "2:17 project.name: the text has 201 characters; 200 are taken."
    ]


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (
            "headers: {H1: {}, H2: {}}\nloops: {L1: {header: h1}}",
            "3:22 loops.L1.header: there is no 'h1' in headers; did you mean 'H1'?",
        ),
        (
            "rooms: {kitchen: {}}\nloops: {L1: {room: kitchin}}",
            "3:20 loops.L1.room: there is no 'kitchin' in rooms; did you mean 'kitchen'?",
        ),
        (
            "pipes: {a1: {}, b2: {}}\nloops: {L1: {pipe: xyz}}",
            "3:20 loops.L1.pipe: there is no 'xyz' in pipes; write one of 'a1', 'b2'.",
        ),
        (
            "floors: {}\nloops: {L1: {floor: slab}}",
            "3:21 loops.L1.floor: there is no 'slab' in floors; there is none.",
        ),
        (
            "loops: {L1: {}}\nbalance: {l1: {}}",
            "3:11 balance: there is no 'l1' in loops; did you mean 'L1'?",
        ),
    ],
)
def test_an_id_that_refers_to_nothing(part: str, said: str) -> None:
    assert mistakes(START + part) == [said]


def test_a_reference_reaches_only_into_its_own_design() -> None:
    tables = Tables()
    tables.add("a.yaml", f"{START}headers: {{H1: {{}}}}\n".encode())
    tables.add("b.yaml", f"{START}loops: {{L1: {{header: H1}}}}\n".encode())
    with pytest.raises(Unreadable, match="there is no 'H1' in headers"):
        tables.add("c.yaml", f"{START}headers: {{}}\nloops: {{L1: {{header: H1}}}}\n".encode())
    header = design_format().leaf("loops", "header").slot
    assert np.isnan(tables["loops"].column(header)).tolist() == [True]


@pytest.mark.parametrize("section", ["headers", "rooms", "floors", "pipes", "loops"])
def test_a_section_without_data_yet_may_be_left_out_though_others_name_it(section: str) -> None:
    document = yaml_reader.read(DESIGN.encode())
    del document[section]
    Tables().add("a.json", json.dumps(document).encode())


KEYS = "keys with their values are wanted here, such as"
NOTHING = "nothing stands here; fill it in, or leave the key out."


@pytest.mark.parametrize(
    ("part", "said"),
    [
        ("plant:", f"2:7 plant: {NOTHING}"),
        ("plant: hot", f"2:8 plant: {KEYS} {{source: heat pump, supply: 45 °C}}."),
        ("plant: [hot]", f"2:8 plant: {KEYS} {{source: heat pump, supply: 45 °C}}."),
        ("loops: []", f"2:8 loops: {KEYS} {{L1: {{header: …, port: 1}}}}."),
        ("loops: {L1: }", f"2:13 loops.L1: {NOTHING}"),
        ("loops: {L1: 88 m}", f"2:13 loops.L1: {KEYS} {{header: …, port: 1}}."),
        ("codes: EN-1264", "2:8 codes: a list is wanted here, such as [EN-1264]."),
        ("codes: [EN-1264, [a]]", "2:18 codes: a list of words is wanted here."),
        ("codes: [~]", "2:9 codes: a list of words is wanted here."),
        ("codes: ['']", "2:9 codes: a list of words is wanted here."),
        (
            "heat_up: {steps: {supply: 25 °C}}",
            "2:18 heat_up.steps: a list is wanted here, such as [{supply: 25 °C, hold: 3 day}].",
        ),
        (
            "heat_up: {steps: [25 °C]}",
            f"2:19 heat_up.steps[1]: {KEYS} {{supply: 25 °C, hold: 3 day}}.",
        ),
        (
            "headers: {H1: {pump: {curve: [0 l/min, 60 kPa]}}}",
            "2:31 headers.H1.pump.curve[1]: a pair [flow, head] is wanted here.",
        ),
        (
            "headers: {H1: {pump: {curve: [[0 l/min, 60 kPa], [9 l/min]]}}}",
            "2:50 headers.H1.pump.curve[2]: a pair [flow, head] is wanted here.",
        ),
        (
            "headers: {H1: {pump: {curve: [[0 l/min, 60]]}}}",
            "2:41 headers.H1.pump.curve[1].head: 60 has no unit; write '60 kPa'.",
        ),
        (
            "pressure_tests: {a: {readings: [{pressure: 4 bar}]}}",
            "2:33 pressure_tests.a.readings[1]: 'at' is missing here.",
        ),
    ],
)
def test_a_part_of_another_shape(part: str, said: str) -> None:
    first, *_ = mistakes(START + part)
    assert first == said


@pytest.mark.parametrize("name", ["''", "' L1'", '"L\\t1"', '"L\\e1"', '"L\\n1"', "L" * 65])
def test_an_id_that_is_none(name: str) -> None:
    _, words = mistakes(f"{START}loops: {{? {name} : {{}}}}")[0].rsplit(": ", 1)
    length = "; this one has 65" if name == "L" * 65 else ""
    assert words == (
        f"an id has 1 to 64 printable characters, and the first is not a space{length}."
    )


@pytest.mark.parametrize("name", ["L", "L" * 64, "1.2", "no", "küche & bad", "'a: b'"])
def test_an_id_that_is_one(name: str) -> None:
    tables = Tables()
    tables.add("a.yaml", f"{START}loops: {{{name}: {{}}}}".encode())
    assert tables["loops"].ids == [name.strip("'")]


def test_every_mistake_is_named_in_the_order_of_the_file() -> None:
    text = HOUSE.replace("header: H2, port: 1", "header: H9, port: none")
    text = text.replace("drop: 9 °F", "drop: 9").replace("below: ground", "below: grund")
    assert [said.split(": ")[0] for said in mistakes(text)] == [
        "4:47 plant.drop",
        "9:78 floors.slab.below",
        "18:16 loops.L1.header",
        "18:26 loops.L1.port",
    ]


def test_a_file_of_nothing_but_mistakes_stops_at_the_most() -> None:
    lines = [f"  L{number}: {{length: {number}}}" for number in range(5000)]
    said = mistakes(START + "loops:\n" + "\n".join(lines))
    assert len(said) == module.MOST_PROBLEMS
    assert said[-1].startswith(f"{module.MOST_PROBLEMS + 2}:")


def test_a_reader_s_refusal_comes_alone() -> None:
    assert mistakes(b"design: 1\nlops: {}\n\xff") == [
        "3:1 The byte 0xff is not UTF-8; save the file as UTF-8."
    ]
    assert mistakes("design: 1\n", "A.JSON") == [
        "1:1 This is not JSON: a value is missing here; a text wants double quotes, "
        'such as "45 °C".'
    ]


# Any design at all


def taken(data: bytes, path: str) -> list[Problem]:
    """The problems found; the tables hold one design where there are none, else nothing."""
    tables = Tables()
    try:
        tables.add(path, data)
    except Unreadable as found:
        assert not tables.designs
        assert not any(len(table) for table in tables.tables.values())
        return found.problems
    assert len(tables.designs) == len(tables[DESIGNS]) == 1
    return []


VALUES = generate(3, 2)


@pytest.mark.parametrize("pump", ["['']", "[[]]", "x", "''", "7", "[a, b]"])
def test_a_pump_that_is_no_pump_is_refused(pump: str) -> None:
    text = f"design: 1\nheaders: {{H1: {{ports: 2, pump: {pump}}}}}\n"
    with pytest.raises(Unreadable, match=r"headers\.H1\.pump"):
        Tables().add("a.yaml", text.encode())


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


@pytest.mark.parametrize(
    ("curve", "said"),
    [
        ("[[0 l/min, 20 kPa], [5 l/min, 25 kPa]]", "2:49 headers.H.pump.curve: the head rises"),
        ("[[0 l/min, 20 kPa], [0 l/min, 15 kPa]]", "2:49 headers.H.pump.curve: two points stand"),
    ],
)
def test_a_pump_curve_falls_and_has_one_head_at_each_flow(curve: str, said: str) -> None:
    (words,) = mistakes(f"design: 1\nheaders: {{H: {{pump: {{curve: {curve}}}}}}}")
    assert words.startswith(said)


SPEEDS = (
    "curves: {low: [[0 l/min, 20 kPa], [5 l/min, 8 kPa]],"
    " high: [[0 l/min, 40 kPa], [9 l/min, 10 kPa]]}"
)


def pumps(first: str, second: str) -> str:
    return f"design: 1\nheaders: {{H1: {{pump: {first}}}, H2: {{pump: {second}}}}}\n"


def test_of_several_speeds_the_curve_of_the_setting_counts() -> None:
    tables = Tables()
    tables.add("a.yaml", pumps(f"{{{SPEEDS}, setting: high}}", f"{{{SPEEDS}}}").encode())
    assert column(tables, "pump_curve", "head").tolist() == [40e3, 10e3]
    assert [*tables["pump_curve"].parents] == [0, 0]
    assert column(tables, "pump_curves", "head").tolist() == [20e3, 8e3, 40e3, 10e3] * 2


def test_headers_on_one_pump_name_the_one_that_states_it() -> None:
    tables = Tables()
    tables.add("other.yaml", generate(1).encode())
    before = len(tables["headers"])
    tables.add(
        "a.yaml", pumps("{curve: [[0 l/min, 2 kPa], [9 l/min, 0 kPa]]}", "{with: H1}").encode()
    )
    np.testing.assert_array_equal(column(tables, "headers", "pump.with")[before:], [np.nan, before])


@pytest.mark.parametrize(
    ("first", "second", "said"),
    [
        (f"{{{SPEEDS}, setting: hihg}}", "{}", "there is no curve 'hihg'; did you mean 'high'?"),
        ("{setting: high}", "{}", "there are no curves to choose from"),
        (f"{{{SPEEDS}, curve: [[0 l/min, 9 kPa]]}}", "{}", "with 'curves' this stands among them"),
        ("{curves: {low: [[0 l/min, 2 kPa], [5 l/min, 8 kPa]]}}", "{}", "the head rises with the"),
        ("{curves: {low: [[5 l/min, 9 kPa], [5 l/min, 8 kPa]]}}", "{}", "two points stand at one"),
        ("{curves: {low: 3 kPa}}", "{}", "a list is wanted here, such as [[20 l/min, 45 kPa]]"),
        ("{curves: [[0 l/min, 9 kPa]]}", "{}", "such as {low: [[20 l/min, 45 kPa]]}"),
        ("{with: H3}", "{}", "there is no 'H3' in headers"),
        ("{with: H1}", "{}", "a header is not with itself"),
        ("{with: H2}", "{with: H1}", "the pump of H2 is that of H1; name H1 here too"),
        ("{with: H2, setting: high}", "{}", "the pump is that of H2; state this there"),
    ],
)
def test_a_pump_that_cannot_be(first: str, second: str, said: str) -> None:
    assert any(said in words for words in mistakes(pumps(first, second)))
