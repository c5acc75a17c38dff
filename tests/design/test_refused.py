"""Designs with mistakes: every one named where it stands, with what to write instead."""

from __future__ import annotations

import numpy as np
import pytest

from checker.design.schema import design_format
from checker.design.tables import BadDesign, Tables
from checker.design.taking import MOST_PROBLEMS
from tests.design.house import HOUSE, START, mistakes


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
        ("[1]", "one value is expected here, not a list."),
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
        ("area: 12 m", "area: '12 m' is a length; an area is expected, such as '12 m²'."),
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
        ("length: [88 m]", "length: one value is expected here, not a list."),
        ("length: {m: 88}", "length: one value is expected here, not a mapping."),
        ("pattern: conterflow", "pattern: 'conterflow' is not allowed here; did you mean 'counterflow'?"),
        (
            "pattern: double",
            "pattern: 'double' is not allowed here; write one of 'counterflow', 'serpentine'.",
        ),
        ("pattern: snail", "pattern: 'snail' is not allowed here; write 'counterflow'."),
        ("pattern: spiral", "pattern: 'spiral' is not allowed here; write 'counterflow'."),
        ("pattern: meander", "pattern: 'meander' is not allowed here; write 'serpentine'."),
        ("pattern: yes", "pattern: 'yes' is not allowed here; write one of 'counterflow', 'serpentine'."),
        ("port: 1.5", "port: '1.5' is not a whole number; write one such as 1."),
        ("port: 1_0", "port: '1_0' is not a whole number; write one such as 1."),
        ("port: ١", "port: '١' is not a whole number; write one such as 1."),
        ("port: 0", "port: 0 is outside what is possible here (1 to 100)."),
        ("port: -1", "port: -1 is outside what is possible here (1 to 100)."),
        ("port: 1e1", "port: '1e1' is not a whole number; write one such as 1."),
        ("sleeved: y", "sleeved: 'y' is neither true nor false; write 'true' or 'false'."),
        ("sleeved: 1", "sleeved: '1' is neither true nor false; write 'true' or 'false'."),
        (f"pattern: {'x' * 500}", "pattern: the text has 500 characters; at most 200 are allowed."),
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
        f"2:19 project.region: '{typed}' is not allowed here; write one such as 'GB-ENG'."
    ]


def test_a_day_that_the_calendar_does_not_have() -> None:
    assert mistakes(f"{START}project: {{designed_on: 2026-02-30}}\n") == [
        "2:24 project.designed_on: there is no day '2026-02-30'; look at the month and the day."
    ]


def test_a_region_by_a_name_that_is_no_code() -> None:
    assert mistakes(f"{START}project: {{region: UK}}\n") == [
        "2:19 project.region: 'UK' is not allowed here; write 'GB'."
    ]


def test_a_word_only_somewhat_like_another_is_told_all_there_are() -> None:
    assert mistakes(f"{START}rooms: {{a: {{use: dining}}}}\n") == [
        "2:18 rooms.a.use: 'dining' is not allowed here; write one of 'living', 'bedroom', "
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
    with pytest.raises(BadDesign) as found:
        Tables(["EN-1264", "GB-ENG", "OWN-1"]).add("a.yaml", text)
    (problem,) = found.value.problems
    assert (problem.line, problem.column) == (2, 17)
    assert problem.message == "codes: there is no code 'EN 1264'; did you mean 'EN-1264'?"
    Tables(["EN-1264", "OWN-1"]).add("b.yaml", f"{START}codes: [OWN-1]\n".encode())


def test_a_text_too_long() -> None:
    assert mistakes(f"{START}project: {{name: {'x' * 201}}}\n") == [
        "2:17 project.name: the text has 201 characters; at most 200 are allowed."
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
    with pytest.raises(BadDesign, match="there is no 'H1' in headers"):
        tables.add("c.yaml", f"{START}headers: {{}}\nloops: {{L1: {{header: H1}}}}\n".encode())
    header = design_format().leaf("loops", "header").slot
    assert np.isnan(tables["loops"].column(header)).tolist() == [True]


KEYS = "keys with their values are expected here, such as"
NOTHING = "there is no value here; fill it in, or leave the key out."


@pytest.mark.parametrize(
    ("part", "said"),
    [
        ("plant:", f"2:7 plant: {NOTHING}"),
        ("plant: hot", f"2:8 plant: {KEYS} {{source: heat pump, supply: 45 °C}}."),
        ("plant: [hot]", f"2:8 plant: {KEYS} {{source: heat pump, supply: 45 °C}}."),
        ("loops: []", f"2:8 loops: {KEYS} {{L1: {{header: …, port: 1}}}}."),
        ("loops: {L1: }", f"2:13 loops.L1: {NOTHING}"),
        ("loops: {L1: 88 m}", f"2:13 loops.L1: {KEYS} {{header: …, port: 1}}."),
        ("codes: EN-1264", "2:8 codes: a list is expected here, such as [EN-1264]."),
        ("codes: [EN-1264, [a]]", "2:18 codes: a list of words is expected here."),
        ("codes: [~]", "2:9 codes: a list of words is expected here."),
        ("codes: ['']", "2:9 codes: a list of words is expected here."),
        (
            "heat_up: {steps: {supply: 25 °C}}",
            "2:18 heat_up.steps: a list is expected here, such as [{supply: 25 °C, hold: 3 day}].",
        ),
        (
            "heat_up: {steps: [25 °C]}",
            f"2:19 heat_up.steps[1]: {KEYS} {{supply: 25 °C, hold: 3 day}}.",
        ),
        (
            "headers: {H1: {pump: {curve: [0 l/min, 60 kPa]}}}",
            "2:31 headers.H1.pump.curve[1]: a pair [flow, head] is expected here.",
        ),
        (
            "headers: {H1: {pump: {curve: [[0 l/min, 60 kPa], [9 l/min]]}}}",
            "2:50 headers.H1.pump.curve[2]: a pair [flow, head] is expected here.",
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
    assert len(said) == MOST_PROBLEMS
    assert said[-1].startswith(f"{MOST_PROBLEMS + 2}:")


def test_a_reader_s_refusal_comes_alone() -> None:
    assert mistakes(b"design: 1\nlops: {}\n\xff") == [
        "3:1 The byte 0xff is not UTF-8; save the file as UTF-8."
    ]
    assert mistakes("design: 1\n", "A.JSON") == [
        "1:1 This is not JSON: a value is missing here; a text needs double quotes, "
        'such as "45 °C".'
    ]
