"""Readings: values in SI, and mistakes with their place."""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path

import pytest
import yaml
from jsonschema import Draft202012Validator

from checker.audit import jobs, readings
from checker.audit.jobs import NoJob
from checker.reading.package_data import data_folder
from tests.example import DESIGN

JOBS = Path(__file__).parents[2] / "example_designs" / "past_jobs"

TEXT = """\
readings: 1
events: {handed_over: 2026-09-30, complaint: 2027-01-14}
accuracy: {flow: 5 %, pressure: 0.5 kPa}
visits:
  - on: 2027-01-15
    outside: 30.2 degF
    rooms: {bath: {temperature: 21 °C}}
    headers: {H1: {pressure: 1.4 bar}}
    loops:
      L2: {flow: 0.4 gpm, supply: 39 °C, return: 91.4 degF, content: 9 l}
"""


def _read(text: str) -> readings.Readings:
    return readings.read("site.readings.yaml", text.encode())


def test_values_are_si() -> None:
    found = _read(TEXT)
    day = datetime(2027, 1, 15)
    assert found.of("loops.L2", "flow") == {day: pytest.approx(0.4 * 3.785411784e-3 / 60)}
    assert found.of("loops.L2", "return") == {day: pytest.approx(33.0)}
    assert found.of("headers.H1", "pressure") == {day: 1.4e5}
    assert found.outside == {day: pytest.approx(-1.0)}
    assert found.events["complaint"] == date(2027, 1, 14)
    assert found.accuracy.flow == pytest.approx(0.05)
    assert found.accuracy.temperature == readings.Accuracy().temperature


@pytest.mark.parametrize(
    ("old", "new", "line", "column", "words"),
    [
        ("flow: 0.4 gpm", "flow: 0.4", 10, 18, "0.4 has no unit; write '0.4 l/min'"),
        ("flow: 0.4 gpm", "flow: 1,6 l/min", 10, 18, "has a decimal comma; write '1.6 l/min'"),
        ("flow: 0.4 gpm", "flow: 4 bar", 10, 18, "'4 bar' is a pressure"),
        ("flow: 0.4 gpm", "flov: 0.4 gpm", 10, 12, "did you mean 'flow'?"),
        ("- on: 2027-01-15", "- on: 15.1.2027", 5, 9, "write year-month-day"),
        ("flow: 0.4 gpm", "flow: 400 l/min", 10, 18, "outside what is possible here"),
        ("- on: 2027-01-15\n    outside", "- outside", 5, 5, "'on' is missing here"),
        ("{temperature: 21 °C}", "21 °C", 7, 19, "keys with their values should be here"),
        ("readings: 1\n", "", 1, 1, "the file starts with 'readings: 1'"),
    ],
)
def test_a_mistake_is_told_with_its_place(
    old: str, new: str, line: int, column: int, words: str
) -> None:
    assert old in TEXT
    with pytest.raises(readings.BadReadings) as refused:
        _read(TEXT.replace(old, new))
    assert len(refused.value.problems) == 1
    problem = refused.value.problems[0]
    assert words in problem.message
    assert (problem.line, problem.column) == (line, column)


def test_every_mistake_of_a_file_is_told() -> None:
    text = TEXT.replace("39 °C", "39").replace("9 l}", "9}").replace("1.4 bar", "1.4")
    with pytest.raises(readings.BadReadings) as refused:
        _read(text)
    assert [problem.line for problem in refused.value.problems] == [8, 10, 10]


def test_a_reading_of_a_loop_that_the_job_has_not_is_told() -> None:
    text = TEXT.replace("L2:", "L22:").encode()
    with pytest.raises(NoJob) as none:
        jobs.from_texts("job", [("house.yaml", DESIGN.encode())], ("a.readings.yaml", text))
    problem = none.value.problems[0]
    assert (problem.path, problem.line, problem.column) == ("a.readings.yaml", 10, 7)
    assert problem.message.endswith("the job has no 'L22' in loops; did you mean 'L2'?")


@pytest.mark.parametrize("path", sorted(JOBS.rglob("*.readings.yaml")), ids=lambda p: p.parent.name)
def test_the_examples_are_by_the_schema(path: Path) -> None:
    schema = json.loads((data_folder("schemas") / "readings.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    document = yaml.load(path.read_text("utf-8"), yaml.BaseLoader)
    document["readings"] = 1  # the only number of the format that is no text
    Draft202012Validator(schema).validate(document)


def test_two_designs_of_one_stage_are_no_job() -> None:
    files = [("a.yaml", DESIGN.encode()), ("b.yaml", DESIGN.encode())]
    with pytest.raises(NoJob, match=r"2 designs at stage 'installed' \(a.yaml, b.yaml\)"):
        jobs.from_texts("job", files)


@pytest.mark.parametrize(
    ("own", "words"),
    [
        ("supply: 33 °C, return: 40 °C", "the return is warmer than the supply"),
        ("supply: 20 °C, return: 20 °C, surface: 69 °C", "cannot be warmer than its water"),
        ("supply: 40 °C, surface_max: 43 °C", "cannot be warmer than its water"),
    ],
)
def test_what_cannot_be_true_of_a_loop_is_refused(own: str, words: str) -> None:
    old = "flow: 0.4 gpm, supply: 39 °C, return: 91.4 degF, content: 9 l"
    with pytest.raises(readings.BadReadings) as refused:
        _read(TEXT.replace(old, own))
    (problem,) = refused.value.problems
    assert words in problem.message
    assert (problem.line, problem.column) == (10, 7)


def test_temperatures_within_what_instruments_may_be_off_are_taken() -> None:
    text = TEXT.replace("supply: 39 °C, return: 91.4 degF", "supply: 33 °C, return: 34 °C")
    assert _read(text).of("loops.L2", "return") == {datetime(2027, 1, 15): pytest.approx(34)}


def test_water_below_nought_is_taken() -> None:
    text = TEXT.replace("return: 91.4 degF", "return: -0.7 °C")
    assert _read(text).of("loops.L2", "return") == {datetime(2027, 1, 15): pytest.approx(-0.7)}


def test_a_day_that_stands_twice_is_told_at_its_second_visit() -> None:
    text = TEXT + "  - on: 2027-01-15\n    outside: 2 °C\n"
    with pytest.raises(readings.BadReadings) as refused:
        _read(text)
    (problem,) = refused.value.problems
    assert "2027-01-15 is there twice" in problem.message
    assert (problem.line, problem.column) == (11, 5)


def _job_with_flow(flow: str) -> jobs.Job:
    text = f"readings: 1\nvisits:\n  - {{on: 2027-01-15, loops: {{L1: {{flow: {flow}}}}}}}\n"
    files = [("house.yaml", DESIGN.encode())]
    return jobs.from_texts("job", files, ("a.readings.yaml", text.encode()))


@pytest.mark.parametrize(
    ("flow", "words"),
    [
        ("45 l/min", "the pump curve of its header ends at 40 l/min"),
        ("20 l/min", "10 times its design flow is 15.6 l/min"),
    ],
)
def test_a_flow_that_no_loop_can_have_is_refused(flow: str, words: str) -> None:
    with pytest.raises(NoJob) as none:
        _job_with_flow(flow)
    (problem,) = none.value.problems
    assert words in problem.message
    assert "a convention of this program" in problem.message
    assert problem.line == 3


def test_a_large_flow_within_the_accuracy_is_taken() -> None:
    # 10 % off, the default, 17 l/min may be 15.3 l/min, below ten times the design flow.
    assert _job_with_flow("17 l/min").readings.taken[0].name == "flow"


def test_two_visits_of_one_day_have_their_times_and_words_are_kept() -> None:
    text = TEXT.replace("on: 2027-01-15", 'on: 2027-01-15\n    at: "09:30"').replace(
        "content: 9 l", "content: 9 l, valve: half open, notes: 'hisses, smells'"
    )
    text += '  - {on: 2027-01-15, at: "14:00", notes: cold, headers: {H1: {glycol: 25 %}}}\n'
    found = _read(text)
    morning, noon = datetime(2027, 1, 15, 9, 30), datetime(2027, 1, 15, 14)
    assert found.visits == (morning, noon)
    assert found.of("headers.H1", "glycol") == {noon: pytest.approx(0.25)}
    assert found.notes == (
        (morning, "loops.L2", "valve half open"),
        (morning, "loops.L2", "hisses, smells"),
        (noon, "design", "cold"),
    )
