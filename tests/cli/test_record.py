"""`prescreed record`: what was written down on site goes into the design's own file, and is judged."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from checker.forms.model import Record
from checker.forms.writing import workbook
from checker.reading import yaml_reader
from checker.run import batch
from checker.site.records import known, site_form
from tests.cli.calling import Calling, calling, put
from tests.example import SOUND

__all__ = ["calling"]

PLANNED = re.sub(r"\n    readings:(\n      - .*)+", "", SOUND)
PLANNED = PLANNED.replace("    plant_shut: true\n", "").replace("stage: installed", "stage: design")
PLANNED = re.sub(r"\nbalance:.*", "", PLANNED).replace(", laid_on: 2026-04-05, moisture: 1.6 %", "")
PLANNED = re.sub(r"\nseen:\n(?:  .*\n)*", "\n", PLANNED).replace("design: 1", "# kept\ndesign: 1")
READ = {
    "1": ("0 min", "4.02 bar", "17 °C"),
    "2": ("20 min", "4.01 bar", "17 °C"),
    "3": ("2 h", "4.01 bar", "17 °C"),
}

Fill = Callable[[dict[str, list[Record]]], None]


def filled(fill: Fill, design: str = PLANNED, name: str = "form.xlsx") -> None:
    """The form of the design with more in it, as a crew fills it in."""
    (report,), _ = batch.check([("house.yaml", design.encode())], with_given=True)
    records = known(report, yaml_reader.read(design.encode()))
    fill(records)
    made = io.BytesIO()
    workbook(made, site_form(report), records)
    put(name, made.getvalue())


def answered(records: dict[str, list[Record]], block: str, name: str, values: Any) -> None:
    """Fill one record of a block in."""
    own = records[block]
    for place, one in enumerate(own):
        if one.name == name:
            own[place] = Record(name, {**one.values, **values})
            return
    own.append(Record(name, values))


def test_read(records: dict[str, list[Record]]) -> None:
    answered(records, "tests", "first", {"pressure_tests.plant_shut": "true"})
    for name, (at, pressure, temperature) in READ.items():
        values = {
            "test": "first",
            "pressure_tests.readings.at": at,
            "pressure_tests.readings.pressure": pressure,
            "pressure_tests.readings.temperature": temperature,
        }
        answered(records, "readings", name, values)


test_read.__test__ = False  # type: ignore[attr-defined]


def document(path: str = "house.yaml") -> Any:
    return yaml_reader.read(Path(path).read_bytes())


def test_a_form_that_nobody_filled_in_changes_nothing(call: Calling) -> None:
    put("house.yaml", SOUND)
    assert call("record", "house.yaml", "--form", "form.xlsx").status == 0
    done = call("record", "house.yaml", "form.xlsx")
    assert done.status == 0
    assert "nothing in it that the design does not say already" in done.err
    assert Path("house.yaml").read_text() == SOUND


def test_readings_go_into_the_file_and_the_pour_is_judged(call: Calling) -> None:
    put("house.yaml", PLANNED)
    filled(test_read)
    done = call("record", "house.yaml", "form.xlsx")
    assert done.status == 0, done.err
    assert "stage 'design' → 'laid'" in done.err
    assert "May the screed be poured?" in done.out
    test = document()["pressure_tests"]["first"]
    assert [tuple(row.values()) for row in test["readings"]] == [*READ.values()]
    assert test["plant_shut"] == "true"
    text = Path("house.yaml").read_text()
    assert text.startswith("# kept\n")
    assert document()["project"]["stage"] == "laid"
    kept = [line for line in PLANNED.splitlines() if "stage:" not in line]
    assert all(line in text for line in kept)


def test_a_fault_on_site_is_found_at_the_gate(call: Calling) -> None:
    def fallen(records: dict[str, list[Record]]) -> None:
        test_read(records)
        answered(records, "readings", "3", {"pressure_tests.readings.pressure": "2.1 bar"})

    put("house.yaml", PLANNED)
    filled(fallen)
    done = call("record", "house.yaml", "form.xlsx")
    assert done.status == 0
    assert done.out.startswith("HOLD: May the screed be poured?")
    assert "CRITICAL pressure_tests.first" in done.out
    assert "compressed air can kill" in done.out


def test_the_job_moves_on_through_all_its_stages(call: Calling) -> None:
    put("house.yaml", PLANNED)
    filled(test_read)
    assert "→ 'laid'" in call("record", "house.yaml", "form.xlsx").err

    def poured(records: dict[str, list[Record]]) -> None:
        answered(records, "floors", "slab", {"floors.screed.laid_on": "2026-04-05"})

    filled(poured, Path("house.yaml").read_text())
    done = call("record", "house.yaml", "form.xlsx")
    assert "→ 'screeded'" in done.err
    assert "May it be heated?" in done.out

    def heated(records: dict[str, list[Record]]) -> None:
        answered(records, "floors", "slab", {"floors.screed.moisture": "1.6 %"})
        for one in records["seen"]:
            if one.name.startswith("heat-up-done"):
                values = {"result": "as wanted", "by": "A. Fitter", "on": "2026-05-12",
                          "found": "log: seven days, dry"}  # fmt: skip
                answered(records, "seen", one.name, values)

    filled(heated, Path("house.yaml").read_text())
    done = call("record", "house.yaml", "form.xlsx")
    assert "→ 'heated'" in done.err, done
    assert "May it be covered?" in done.out
    assert dict(document()["seen"][-1]) == {
        "rule": "heat-up-done",
        "subject": "design",
        "result": "as wanted",
        "by": "A. Fitter",
        "on": "2026-05-12",
        "what": "log: seven days, dry",
    }

    def balanced(records: dict[str, list[Record]]) -> None:
        for loop, flow in (("L1", "1.6 l/min"), ("L2", "1.0 l/min")):
            answered(records, "balance", loop, {"balance.flow": flow})

    filled(balanced, Path("house.yaml").read_text())
    done = call("record", "house.yaml", "form.xlsx")
    assert "→ 'installed'" in done.err
    assert "May it be handed over?" in done.out
    assert document()["balance"]["L1"]["flow"] == "1.6 l/min"


def test_a_header_without_a_test_gets_one(call: Calling) -> None:
    text = re.sub(r"\npressure_tests:\n(?:  .*\n)*", "\n", PLANNED)
    put("house.yaml", text)

    def made(records: dict[str, list[Record]]) -> None:
        values = {"pressure_tests.medium": "water", "pressure_tests.pressure": "4 bar",
                  "pressure_tests.hold": "2 h", "pressure_tests.tested_on": "2026-04-02"}  # fmt: skip
        answered(records, "tests", "test of H1", values)

    filled(made, text)
    assert call("record", "house.yaml", "form.xlsx").status == 0
    test = document()["pressure_tests"]["test of H1"]
    assert (test["header"], test["pressure"], test["hold"]) == ("H1", "4 bar", "2 h")


def test_what_was_laid_otherwise_is_judged_as_laid(call: Calling) -> None:
    put("house.yaml", PLANNED)
    filled(lambda records: answered(records, "loops", "L1", {"loops.length": "131 m"}))
    done = call("record", "house.yaml", "form.xlsx")
    assert document()["loops"]["L1"]["length"] == "131 m"
    assert "loops.L1" in done.out
    assert "(loop-length)" in done.out


@pytest.mark.parametrize(
    ("fill", "told"),
    [
        (lambda records: answered(records, "balance", "L1", {"balance.flow": "fast"}), "'fast'"),
        (
            lambda records: answered(
                records, "seen", records["seen"][0].name, {"result": "as wanted"}
            ),
            "without who looked and the day",
        ),
        (
            lambda records: answered(
                records, "readings", "1", {"pressure_tests.readings.at": "0 min"}
            ),
            "name no test",
        ),
    ],
)
def test_what_cannot_be_taken_is_told_and_nothing_is_written(
    call: Calling, fill: Fill, told: str
) -> None:
    put("house.yaml", PLANNED)
    filled(fill)
    done = call("record", "house.yaml", "form.xlsx")
    assert done.status == 2
    assert told in done.err
    assert "othing was written" in done.err
    assert Path("house.yaml").read_text() == PLANNED


def test_another_file_can_be_written_instead(call: Calling) -> None:
    put("house.yaml", PLANNED)
    filled(test_read)
    assert call("record", "house.yaml", "form.xlsx", "--output", "new.yaml").status == 0
    assert Path("house.yaml").read_text() == PLANNED
    assert document("new.yaml")["project"]["stage"] == "laid"


LOG = """Logger 7;;
Time;Pressure [bar];Temperature [°C]
2026-04-02 14:00:00;4,02;17,1
2026-04-02 14:20:00;4,01;17,1
2026-04-02 16:00:00;4,01;17,0
"""


def test_a_loggers_file_is_read_as_it_is(call: Calling) -> None:
    put("house.yaml", PLANNED)
    put("log.csv", LOG)
    done = call("record", "house.yaml", "--log", "first=log.csv")
    assert done.status == 0, done.err
    rows = [dict(row) for row in document()["pressure_tests"]["first"]["readings"]]
    assert rows == [
        {"at": "0 min", "pressure": "4.02 bar", "temperature": "17.1 °C"},
        {"at": "20 min", "pressure": "4.01 bar", "temperature": "17.1 °C"},
        {"at": "120 min", "pressure": "4.01 bar", "temperature": "17 °C"},
    ]
    assert "May the screed be poured?" in done.out


def test_a_long_log_is_thinned_and_keeps_its_lowest(call: Calling) -> None:
    put("house.yaml", PLANNED)
    pressures = [4.0] * 2_000
    pressures[777] = 3.2
    rows = "".join(f"{at},{pressure}\n" for at, pressure in enumerate(pressures))
    put("log.csv", f"elapsed [s],pressure [bar]\n{rows}")
    done = call("record", "house.yaml", "--log", "first=log.csv")
    kept = [row["pressure"] for row in document()["pressure_tests"]["first"]["readings"]]
    assert len(kept) <= 121
    assert "3.2 bar" in kept
    assert "of 2000 readings are kept" in done.err
    assert "no temperatures" in done.err


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (("Pressure [bar]", "Pressure"), "has no unit"),
        (("2026-04-02 14:20:00", "later"), "'later' is not a time"),
        (("4,01;17,1", "four;17,1"), "'four' is not a number"),
        (("14:20:00", "13:20:00"), "not later"),
        (("Time", "When"), "no row has headings"),
    ],
)
def test_a_log_that_cannot_be_read_says_why(
    call: Calling, change: tuple[str, str], told: str
) -> None:
    put("house.yaml", PLANNED)
    put("log.csv", LOG.replace(*change))
    done = call("record", "house.yaml", "--log", "first=log.csv")
    assert done.status == 2
    assert told in done.err
    assert Path("house.yaml").read_text() == PLANNED


def test_no_other_workbook_is_taken_for_the_form(call: Calling) -> None:
    put("house.yaml", PLANNED)
    assert call("schedule", "house.yaml", "--output", "other.xlsx").status == 0
    done = call("record", "house.yaml", "other.xlsx")
    assert done.status == 2
    assert "is not a form of 'prescreed record'" in done.err


STAGES = {
    "1-design": ("release", ""),
    "2-laid": ("release", ""),
    "2-laid-leak": ("hold", "test-tight"),
    "3-screeded": ("release", ""),
    "3-screeded-let-off": ("hold", "test-kept-on"),
    "4-heated": ("release", ""),
    "4-heated-damp": ("hold", "screed-moisture"),
    "5-installed": ("release", ""),
    "5-installed-misset": ("release", "balance-recorded"),
}
FOLDER = Path(__file__).parents[2] / "example_designs" / "stages"


def test_the_example_job_has_every_stage_and_a_fault_at_each_gate() -> None:
    assert {path.stem for path in FOLDER.iterdir()} == STAGES.keys()


@pytest.mark.parametrize("name", STAGES)
def test_a_fault_of_the_example_job_is_found_at_its_gate(name: str) -> None:
    (design,), _ = batch.check([(name, (FOLDER / f"{name}.yaml").read_bytes())])
    verdict, rule = STAGES[name]
    assert design.stage == name.split("-")[1]
    assert design.verdict == verdict
    fails = {result.rule for result in design.results_of("fail")}
    assert (rule in fails) if rule else not fails


def test_records_never_go_over_a_sheet(call: Calling) -> None:
    put("house.yaml", PLANNED)
    assert call("schedule", "house.yaml", "--output", "house.xlsx").status == 0
    before = Path("house.xlsx").read_bytes()
    filled(test_read)
    done = call("record", "house.xlsx", "form.xlsx")
    assert done.status == 2
    assert "is a sheet" in done.err
    done = call("remedy", "house.xlsx", "--apply", "1", "--in-place")
    assert done.status == 2
    assert Path("house.xlsx").read_bytes() == before


def test_a_record_without_its_flow_gets_a_place_for_it() -> None:
    design = f"{PLANNED}\nbalance: {{L1: {{}}}}\n".encode()
    (report,), unreadable = batch.check([("house.yaml", design)], with_given=True)
    assert not unreadable
    (own,) = (one for one in known(report, yaml_reader.read(design))["balance"] if one.name == "L1")
    assert "balance.flow" not in own.values
