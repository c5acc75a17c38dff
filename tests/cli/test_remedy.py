"""`prescreed remedy`, and remedies beside findings in reports."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import yaml
from jsonschema import Draft202012Validator

from checker.reading.package_data import data_folder
from tests.cli.calling import Calling, put
from tests.cli.calling import calling as calling
from tests.example import DESIGN

SHEETS = (Path(__file__).parents[2] / "example_designs/subcontractors").resolve()
COLD = (
    DESIGN.replace("stage: installed", "stage: design")
    .replace("heat_load: 700 W", "heat_load: 860 W")
    .replace("supply: 42 °C\n", "supply: 36 °C   # as the heat pump has it\n")
    .replace("supply: 42 °C, hold", "supply: 36 °C, hold")
)


def test_the_shape_that_others_rely_on(call: Calling) -> None:
    put("house.yaml", COLD)
    done = call("remedy", "house.yaml", "--format", "json")
    assert done.status == 0, done.err
    found = {(one["rule"], one["subject"]): one for one in done.json["remedies"]}
    own = found["room-heat", "rooms.kitchen"]
    assert own["against"] == []
    for one in own["proposals"]:
        assert all("=" in words for words in one["changes"])
        assert all({"rule", "subject", "severity"} <= {*added} for added in one["adds"])


def test_a_proposal_is_written_into_the_file_and_nothing_else(call: Calling) -> None:
    put("house.yaml", COLD)
    done = call("remedy", "house.yaml", "--format", "json", "--rule", "room-heat")
    (first, *_) = done.json["remedies"][0]["proposals"]
    wrote = call("remedy", "house.yaml", "--apply", str(first["number"]), "--output", "new.yaml")
    assert wrote.status == 0, wrote.err
    assert "Have it confirmed:" in wrote.err
    before, after = COLD.splitlines(), Path("new.yaml").read_text().splitlines()
    differ = [(old, new) for old, new in zip(before, after, strict=True) if old != new]
    assert 1 <= len(differ) <= len(first["changes"])
    assert "# as the heat pump has it" in Path("new.yaml").read_text()
    told = call("compare", "house.yaml", "new.yaml", "--format", "json")
    states = {(c["rule"], c["subject"]): c["state"] for c in told.json["pairs"][0]["changes"]}
    assert states["room-heat", "rooms.kitchen"] == "mended"
    assert call("check", "new.yaml", "--format", "json").json["designs"][0]["verdict"] != "hold"
    assert Path("house.yaml").read_text() == COLD


def test_the_design_itself_is_only_written_over_when_told(call: Calling) -> None:
    put("house.yaml", COLD)
    put("other.yaml", DESIGN)
    for output, said in (("house.yaml", "is an input"), ("other.yaml", "name another output")):
        done = call("remedy", "house.yaml", "--apply", "1", "--output", output)
        assert done.status == 2
        assert said in done.err
    assert Path("house.yaml").read_text() == COLD
    done = call("remedy", "house.yaml", "--apply", "1", "--in-place")
    assert done.status == 0, done.err
    assert Path("house.yaml").read_text() != COLD
    shown = call("remedy", "other.yaml", "--apply", "99")
    assert shown.status == 2
    assert "there is no such proposal; there are none" in shown.err
    assert call("remedy", "house.yaml", "--in-place").status == 2


def test_a_sheet_is_answered_by_the_design_made_of_it(call: Calling, tmp_path: Path) -> None:
    for ending in ("xlsx", "map.yaml"):
        shutil.copy(SHEETS / f"haus-am-hang-4.{ending}", tmp_path)
    sheet, made = tmp_path / "haus-am-hang-4.xlsx", tmp_path / "made.yaml"
    assert call("remedy", str(sheet), "--apply", "1", "--output", str(made)).status == 0
    assert made.read_text("utf-8").startswith("# Read from haus-am-hang-4.xlsx")
    assert "1 mended" in call("compare", str(sheet), str(made)).out
    refused = call("remedy", str(sheet), "--apply", "1", "--in-place")
    assert refused.status == 2
    assert "is not a design file" in refused.err


def test_a_design_in_json_stays_one(call: Calling) -> None:
    put("house.json", json.dumps(yaml.load(COLD, yaml.BaseLoader), indent=2, ensure_ascii=False))
    done = call("remedy", "house.json", "--apply", "1")
    assert done.status == 0, done.err
    assert json.loads(done.out)["plant"]["supply"] != "36 °C"


def test_reports_tell_remedies_beside_findings(call: Calling) -> None:
    put("house.yaml", COLD)
    text = " ".join(call("check", "house.yaml", "--remedies").out.split())
    assert "instead of 36 °C" in text
    assert "Have it confirmed:" in text
    assert "Have it confirmed:" not in call("check", "house.yaml").out
    assert "What would do" in call("check", "house.yaml", "--format", "html").out
    found = call("check", "house.yaml", "--format", "json", "--remedies")
    schema = json.loads((data_folder("schemas") / "report.schema.json").read_text("utf-8"))
    Draft202012Validator(schema).validate(found.json)
    assert found.json["designs"][0]["remedies"]
    log = call("check", "house.yaml", "--format", "sarif", "--remedies").json
    fixes = [fix for one in log["runs"][0]["results"] for fix in one.get("fixes", ())]
    lines = COLD.splitlines()
    assert fixes
    for fix in fixes:
        for change in fix["artifactChanges"][0]["replacements"]:
            region = change["deletedRegion"]
            assert region["startLine"] <= len(lines)
            assert change["insertedContent"]["text"]


def test_letters_say_what_would_do(call: Calling) -> None:
    put("in/house.yaml", COLD)
    assert call("review", "in", "--output", "letters").status == 0
    letters = "".join(path.read_text() for path in Path("letters").glob("*.md"))
    assert "What would clear it:" in letters


def test_over_several_designs_the_habit_that_clears_most_is_told(call: Calling) -> None:
    put("d/a.yaml", COLD)
    put("d/b.yaml", COLD.replace("Test House", "Other House"))
    done = call("remedy", "d", "--format", "json")
    assert done.status == 0, done.err
    supply = [one for one in done.json["habits"] if one["words"].startswith("supply")]
    assert supply
    assert supply[0]["cleared"] > supply[0]["brought"]
    assert supply[0]["designs"] == 2
    assert {one["path"] for one in done.json["remedies"]} == {"d/a.yaml", "d/b.yaml"}
    assert "one change of habit clears" in call("remedy", "d").out
