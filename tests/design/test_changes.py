"""Changes to a design: paths, new texts, what is shared and what is refused."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from checker.design.changes import BadChange, changed, read_change, stated, written
from checker.reading import yaml_reader
from checker.reading.documents import Mapping, Sequence
from checker.reading.yaml_text import flow
from tests.example import DESIGN


def document(text: str = DESIGN) -> Mapping:
    return yaml_reader.read(text.encode())


def at(changes: list[str], *steps: str | int) -> object:
    return stated(changed(document(), changes), steps)


@pytest.mark.parametrize(
    ("change", "steps", "value"),
    [
        ("plant.supply=40 °C", ("plant", "supply"), "40 °C"),
        ("loops.L1.port = 3", ("loops", "L1", "port"), "3"),
        ("heat_up.steps[2].supply=40 °C", ("heat_up", "steps", 1, "supply"), "40 °C"),
        ("headers.H1.pump.curve[3][2]=9 kPa", ("headers", "H1", "pump", "curve", 2, 1), "9 kPa"),
        ("headers.H1.pump.curve[3].head=9 kPa", ("headers", "H1", "pump", "curve", 2, 1), "9 kPa"),
        ("plant.water.flushed=true", ("plant", "water", "flushed"), "true"),
        ("rooms.bath.covering.resistance=null", ("rooms", "bath", "covering", "resistance"), None),
        ("loops.L3={header: H1, port: 3}", ("loops", "L3", "port"), "3"),
        ("loops.L1.b={header: H1}", ("loops", "L1.b", "header"), "H1"),
        ("loops.L1.feeds=[{room: bath, length: 4 m}]", ("loops", "L1", "feeds", 0, "room"), "bath"),
        ("heat_up.steps[3]={supply: 25 °C, hold: 3 day}", ("heat_up", "steps", 2, "hold"), "3 day"),
        ("project.name=A=B", ("project", "name"), "A=B"),
        (
            "headers.H1.pump={curves: {low: [[0 l/min, 9 kPa]]}, setting: low}",
            ("headers", "H1", "pump", "curves", "low", 0, 1),
            "9 kPa",
        ),
    ],
)
def test_a_change_takes_its_place(
    change: str, steps: tuple[str | int, ...], value: str | None
) -> None:
    assert at([change], *steps) == value


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ("plant", "'plant' is not a change"),
        ("plant.suply=40 °C", "did you mean 'supply'?"),
        ("loops.L9.length=40 m", "there is no 'L9' in loops"),
        ("heat_up.steps[5].hold=3 day", "the list has 2 items"),
        ("heat_up.steps.hold=3 day", "write 'heat_up.steps[1]'"),
        ("plant.supply=", "nothing is written behind '='"),
        ("plant.supply.more=3", "there is nothing under 'plant.supply'"),
        ("loops.L3={header: H1", "cannot be read"),
    ],
)
def test_what_a_design_cannot_take_is_told(change: str, said: str) -> None:
    with pytest.raises(BadChange) as bad:
        changed(document(), [change])
    assert said in str(bad.value)


def test_the_design_itself_stays_as_it_is_and_shares_what_is_not_changed() -> None:
    before = document()
    after = changed(before, ["loops.L1.length=90 m", "loops.L1.port=null"])
    assert before == document()
    assert after["loops"]["L1"]["length"] == "90 m"
    assert "port" not in after["loops"]["L1"]
    assert after["loops"]["L2"] is before["loops"]["L2"]
    assert after["rooms"] is before["rooms"]
    assert after["loops"]["L1"].places.keys() == after["loops"]["L1"].keys()


def test_the_longest_id_that_fits_is_meant() -> None:
    text = DESIGN.replace("  L2: {", "  L1.length: {")
    change, found = read_change("loops.L1.length.port=4", document(text))
    assert (change.text, found.steps) == ("4", ("loops", "L1.length", "port"))


words = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=9)


@given(st.dictionaries(words, words | st.lists(words, max_size=3), max_size=4))
@example({"0": "0:?"})
def test_what_is_written_as_a_flow_mapping_reads_the_same(value: dict[str, object]) -> None:
    plain = Mapping(0)
    for key, own in value.items():
        if isinstance(own, list):
            made = Sequence(0)
            made.extend(own)
            own = made
        plain[key] = own
    if "<<" in value:
        return
    assert yaml_reader.read(f"value: {flow(plain)}".encode())["value"] == value


def test_a_curve_is_found_by_the_name_of_its_setting() -> None:
    first = "headers.H1.pump={curves: {low: [[0 l/min, 9 kPa]]}, setting: low}"
    here = ("headers", "H1", "pump", "curves")
    document = changed(yaml_reader.read(DESIGN.encode()), [first])
    for change, steps, value in (
        ("headers.H1.pump.curves.low[1].head=8 kPa", ("low", 0, 1), "8 kPa"),
        ("headers.H1.pump.curves.high=[[0 l/min, 30 kPa]]", ("high", 0, 1), "30 kPa"),
    ):
        assert stated(changed(document, [change]), (*here, *steps)) == value
    with pytest.raises(BadChange, match="did you mean 'low'"):
        changed(document, ["headers.H1.pump.curves.lo[1].head=8 kPa"])


@pytest.mark.parametrize(
    "changes",
    [
        ["plant.supply=40.5 °C"],
        ["loops.L1.port=3", "loops.L1.length=90 m", "loops.L2.flow=1.5 l/min"],
        ["loops.L1 b={header: H1, port: 3, room: kitchen}"],
        ["plant.water={flushed: true}"],
        ["plant.water.flushed=true"],
        ["heat_up.steps[3]={supply: 30 °C, hold: 1 day}"],
        ["heat_up.steps=[{supply: 30 °C, hold: 1 day}]"],
        ["headers.H1.pump.curve=[[0 l/min, 9 kPa], [1 l/min, 8 kPa]]"],
        ["headers.H1.height=null", "loops.L2.joints=null", "loops.L1.header=null"],
        ["seen=[{rule: mixing-needed, subject: design, result: as wanted, by: A, on: 2026-04-20}]"],
        ["rooms.bath.covering.resistance=0.01 m²·K/W", "rooms.spare={use: other}"],
        ["project.name='a: b'"],
    ],
)
def test_only_the_signs_of_what_changes_are_written_anew(changes: list[str]) -> None:
    before = DESIGN.replace("supply: 42 °C\n", "supply: 42 °C   # behind the valve\n", 1)
    after = written(before.encode(), changes).decode()
    assert yaml_reader.read(after.encode()) == changed(document(before), changes)
    kept = {
        line
        for line in before.splitlines()
        if not any(one.split("=")[0].split(".")[-1] in line for one in changes)
    }
    assert kept - {*after.splitlines()} <= {
        line
        for line in kept
        if "curve" in line or "steps" in line or "L" in line or "bath" in line or "height" in line
    }
    assert "# behind the valve" in after


def test_a_file_of_json_stays_one() -> None:
    before = b'{\n\t"design": 1,\n\t"plant": {"supply": "42 \xc2\xb0C", "drop": "7 K"},\n\t"loops": {"L1": {"port": 1}}\n}\n'
    after = written(
        before,
        ["plant.supply=40 °C", "loops.L1.port=2", "loops.L2={port: 3, joints: 0}"],
        is_json=True,
    )
    assert after.decode() == (
        '{\n\t"design": 1,\n\t"plant": {"supply": "40 °C", "drop": "7 K"},\n'
        '\t"loops": {"L1": {"port": 2}, "L2": {"port": 3, "joints": 0}}\n}\n'
    )


def test_what_stands_by_an_alias_is_not_written() -> None:
    text = "design: 1\nrooms:\n  a: &room {use: living, area: 9 m²}\n  b: *room\n"
    with pytest.raises(BadChange, match="alias"):
        written(text.encode(), ["rooms.b.area=8 m²"])


def test_the_mark_that_a_file_begins_with_stays() -> None:
    data = b"\xef\xbb\xbf" + DESIGN.encode()
    assert written(data, ["plant.supply=40 °C"]).startswith(b"\xef\xbb\xbfdesign: 1")
