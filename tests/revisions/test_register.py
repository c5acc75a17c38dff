"""The register of a job: numbers that last, nothing decided in silence, nothing lost."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from python_calamine import CalamineWorkbook

from checker.reading.package_data import data_folder
from checker.revisions.names import near_names, plain_name
from tests.cli.calling import Calling, Done, calling, put
from tests.example import DESIGN
from tests.revisions.register_schema import overview_schema, schema

__all__ = ["calling"]

SENT = DESIGN.replace(
    "region: GB-ENG", "region: GB-ENG, contractor: Sub D Ltd, revision: A"
).replace("balance: {L1: {flow: 1.5 l/min}}", "")
LONG = SENT.replace("length: 88 m", "length: 128 m")
L2 = next(line for line in SENT.splitlines(keepends=True) if line.startswith("  L2:"))


def reviewed(call: Calling, day: str, *more: str) -> Done:
    return call(
        "review", "in", "--register", "register.json", "--output", "out", "--today", day, *more
    )


def register() -> Any:
    found = json.loads(Path("register.json").read_text("utf-8"))
    Draft202012Validator(schema()).validate(found)
    return found


def point(about: str, kind: str = "change") -> Any:
    (one,) = [p for p in register()["points"] if (p["about"], p["kind"]) == (about, kind)]
    return one


def queries() -> str:
    return "\n".join(one["about"] for one in register()["queries"])


def test_the_schema_is_fresh() -> None:
    text = (data_folder("schemas") / "register.schema.json").read_text("utf-8")
    assert json.loads(text) == schema(), "python -m tests.revisions.register_schema > …"


def test_the_overview_tells_how_designs_stand_the_worst_first(call: Calling) -> None:
    text = (data_folder("schemas") / "overview.schema.json").read_text("utf-8")
    assert json.loads(text) == overview_schema()
    put("in/a.yaml", LONG)
    put("in/b.yaml", SENT.replace("Test House", "House 2").replace("Sub D Ltd", "Best Floors"))
    put("in/c.yaml", "design: 1\nplant: {supply: 45}\n")
    assert reviewed(call, "2026-03-20").status == 2
    found = json.loads(Path("out/overview.json").read_text("utf-8"))
    Draft202012Validator(json.loads(text)).validate(found)
    assert found["designs"][0]["standing"] == "on hold"
    assert found["unreadable"][0]["path"] == "in/c.yaml"
    cause = next(one for one in found["causes"] if one["about"] == "loop-length")
    assert (cause["contractors"], cause["places"]) == (1, 1)
    Path("in/c.yaml").unlink()
    put("in/a.yaml", SENT.replace("revision: A", "revision: B"))
    assert reviewed(call, "2026-05-01").status == 0
    page = Path("out/overview.html").read_text("utf-8")
    assert page.count('<svg class="chart') == 3
    assert "Points over the days since 2026-03-20" in page
    # One design is overdue, the other came in today; two contractors.
    assert page.count('class="bar"') == 4
    told = reviewed(call, "2026-05-01", "--format", "json")
    assert told.out.encode() == Path("out/overview.json").read_bytes()
    sheets = CalamineWorkbook.from_path("out/overview.xlsx")
    heads, *rows = sheets.get_sheet_by_name("The state of each design").to_python()
    assert heads[3:5] == ["Stands", "Rounds"]
    assert {row[4] for row in rows} == {1.0, 2.0}
    late = json.loads(Path("out/overview.json").read_text("utf-8"))
    assert [day["on"] for day in late["trend"]] == ["2026-03-20", "2026-05-01"]
    assert "loop-length" not in {one["about"] for one in late["causes"]}
    assert "The state of each design" in Path("out/overview.md").read_text("utf-8")


def test_a_point_keeps_its_number_and_follows_its_loop(call: Calling) -> None:
    put("in/a.yaml", LONG)
    assert reviewed(call, "2026-03-20").status == 0
    first = point("loop-length")
    assert (first["state"], first["places"]) == (
        "asked",
        [{"subject": "loops.L1", "state": "asked"}],
    )
    assert (first["asked_on"], first["answer_by"], first["rounds"]) == (
        "2026-03-20",
        "2026-04-03",
        1,
    )
    Path("in/a.yaml").unlink()
    put(
        "in/b.yaml",
        LONG.replace("  L1: {header", "  K7: {header").replace("revision: A", "revision: B"),
    )
    assert reviewed(call, "2026-04-10").status == 0
    second = point("loop-length")
    assert (second["number"], second["rounds"]) == (first["number"], 2)
    assert second["places"] == [{"subject": "loops.K7", "state": "asked"}]
    put(
        "in/b.yaml",
        SENT.replace("  L1: {header", "  K7: {header").replace("revision: A", "revision: C"),
    )
    assert reviewed(call, "2026-04-20").status == 0
    third = point("loop-length")
    assert (third["number"], third["state"]) == (first["number"], "mended")
    assert [(s["on"], s["state"]) for s in third["steps"]] == [
        ("2026-03-20", "asked"), ("2026-04-20", "mended"),
    ]  # fmt: skip
    assert [s["revision"] for s in register()["submissions"]] == ["A", "B", "C"]


def test_the_same_content_again_changes_nothing(call: Calling) -> None:
    put("in/a.yaml", LONG)
    reviewed(call, "2026-03-20")
    before = Path("register.json").read_bytes()
    put("in/other-name.yaml", LONG)
    assert reviewed(call, "2026-03-27").status == 0
    assert Path("register.json").read_bytes() == before


def test_a_loop_that_was_left_out_is_gone_and_not_mended(call: Calling) -> None:
    put("in/a.yaml", LONG)
    reviewed(call, "2026-03-20")
    long = next(line for line in LONG.splitlines(keepends=True) if line.startswith("  L1:"))
    other = L2.replace("L2:", "L3:").replace("port: 2", "port: 3").replace("80 m", "70 m")
    put("in/a.yaml", LONG.replace(long, other).replace("revision: A", "revision: B"))
    reviewed(call, "2026-03-27")
    assert point("loop-length")["state"] == "gone"


def test_a_part_of_a_design_leaves_what_was_asked_of_the_rest(call: Calling) -> None:
    put("in/a.yaml", LONG)
    reviewed(call, "2026-03-20")
    long = next(line for line in LONG.splitlines(keepends=True) if line.startswith("  L1:"))
    put("in/a.yaml", LONG.replace(long, "").replace("revision: A", "revision: B"))
    done = reviewed(call, "2026-03-27")
    assert point("loop-length")["state"] == "asked"
    assert "counts as a part" in queries()
    assert "counts as a part" in done.err


@pytest.mark.parametrize("names", [("x", "y"), ("y", "x")])
def test_two_contents_under_one_revision_are_asked_about_whatever_their_files(
    call: Calling, names: tuple[str, str]
) -> None:
    for name, text in zip(names, (SENT, LONG), strict=True):
        put(f"in/{name}.yaml", text)
    reviewed(call, "2026-06-20")
    assert "both say revision A" in queries()
    assert point("loop-length")["state"] == "asked"


def test_names_that_differ_in_marks_are_one_and_near_names_are_asked_about(call: Calling) -> None:
    put("in/a.yaml", LONG)
    put("in/b.yaml", LONG.replace("Sub D Ltd", "SUB D Ltd.").replace("Test House", "Test-House")
        .replace("revision: A", "revision: B"))  # fmt: skip
    put("in/c.yaml", LONG.replace("Test House", "Test Hause"))
    reviewed(call, "2026-03-20")
    assert {s["contractor"] for s in register()["submissions"]} == {"Sub D Ltd"}
    assert "alike except for capitals, spaces and marks" in queries()
    assert "is 'Test House' the same design as 'Test Hause'?" in queries()


def test_numbers_and_single_letters_tell_names_apart() -> None:
    assert [*near_names(["House 3", "House 4", "Sub D Ltd", "Sub B Ltd", "Müller", "Mülller"])] == [
        ("Müller", "Mülller")
    ]
    assert plain_name("Sub D Ltd.") == plain_name("SUB  D-LTD")


def test_a_senders_answer_counts_once_it_is_accepted(call: Calling) -> None:
    says = (
        "seen:\n  - {rule: mixing-needed, subject: design, result: as wanted, by: A. Fitter, "
        "on: 2026-04-02, what: limiter set to 50 °C and tried}\n"
    )
    put("in/a.yaml", SENT.rstrip("\n") + "\n" + says)
    reviewed(call, "2026-04-10")
    one = point("mixing-needed", "confirm")
    assert (one["state"], one["steps"][0]["by"]) == ("answered", "A. Fitter")
    refused = reviewed(call, "2026-04-11", "--accept", str(one["number"]))
    assert (refused.status, "--accepted-by" in refused.err) == (2, True)
    done = reviewed(
        call, "2026-04-11", "--accept", str(one["number"]), "--accepted-by", "R. Viewer"
    )
    assert done.status == 0
    one = point("mixing-needed", "confirm")
    assert (one["state"], one["steps"][-1]["by"]) == ("accepted", "R. Viewer")
    put("in/a.yaml", SENT.replace("revision: A", "revision: B").rstrip("\n") + "\n" + says)
    reviewed(call, "2026-04-12")
    assert point("mixing-needed", "confirm")["state"] == "accepted"
    again = reviewed(call, "2026-04-12", "--accept", "999", "--accepted-by", "R. Viewer")
    assert (again.status, "no point 999" in again.err) == (2, True)


@pytest.mark.parametrize(
    "text", ["", "{", '{"register": 99}', "[]", '{"register": 1, "points": 3}']
)
def test_a_damaged_register_is_refused_and_left_alone(call: Calling, text: str) -> None:
    put("in/a.yaml", SENT)
    put("register.json", text)
    done = reviewed(call, "2026-03-20")
    assert (done.status, "Traceback" in done.err) == (2, False)
    assert Path("register.json").read_text("utf-8") == text


@pytest.mark.long
def test_reviewers_who_write_at_once_lose_nothing(tmp_path: Path) -> None:
    calls = []
    for number in range(4):
        folder = tmp_path / f"in{number}"
        folder.mkdir()
        (folder / "a.yaml").write_text(LONG.replace("Test House", f"House {number}"), "utf-8")
        words = ["review", folder.name, "--register", "r.json", "--output", f"out{number}"]
        calls.append(
            subprocess.Popen(
                [sys.executable, "-m", "checker", *words, "--today", "2026-03-20"], cwd=tmp_path,
                stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                env={"PYTHONPATH": str(Path(__file__).parents[2]), "PATH": ""},
            )
        )  # fmt: skip
    assert [one.wait(timeout=300) for one in calls] == [0, 0, 0, 0]
    for one in calls:
        one.communicate()
    found = json.loads((tmp_path / "r.json").read_text("utf-8"))
    assert {s["design"] for s in found["submissions"]} == {f"House {n}" for n in range(4)}
    numbers = [p["number"] for p in found["points"]]
    assert len(numbers) == len(set(numbers)) == found["last_number"]
