"""`--changed`: which designs differ from a commit, and which a changed policy or drawing affects."""

from __future__ import annotations

import os
from pathlib import Path

from checker.reading.package_data import data_folder
from tests.cli import test_sheets as sheets
from tests.cli.calling import Calling, calling, git, put
from tests.cli.test_ledger import ANSWERS, DIRTY
from tests.example import SOUND as DESIGN

__all__ = ["calling"]


def test_changed_takes_submodules_and_heeds_no_configuration(call: Calling) -> None:
    put("../other/s.yaml", DESIGN)
    os.chdir("../other")
    git("init", "--quiet")
    git("add", "--all")
    git("commit", "--quiet", "-m", "a")
    os.chdir("../work")
    git("init", "--quiet")
    git("submodule", "--quiet", "add", os.path.abspath("../other"), "vendor")
    put("sub/house.yaml", DESIGN)
    git("add", "--all")
    git("commit", "--quiet", "-m", "a")
    assert "no design differs from HEAD" in call("check", "--changed", "HEAD").out
    put("vendor/s.yaml", DIRTY)
    assert call("check", "--changed", "HEAD", ".").status == 1
    git("-C", "vendor", "commit", "--quiet", "--all", "-m", "b")
    put("vendor/compose.yaml", "services: {}\n")
    git("config", "diff.ignoreSubmodules", "all")
    git("add", "vendor")
    done = call("check", "--format", "json", "--governed")
    assert [one["path"] for one in done.json["designs"]] == ["vendor/s.yaml"]
    assert done.status == 1
    os.unlink("vendor/compose.yaml")
    git("-C", "vendor", "reset", "--quiet", "--hard", "HEAD~1")
    git("add", "vendor")
    git("config", "diff.relative", "true")
    put("sub/house.yaml", DIRTY)
    os.chdir("sub")
    assert call("check", "--changed", "HEAD").status == 1


def test_a_changed_policy_is_a_change_of_all_it_governs(call: Calling) -> None:
    git("init", "--quiet")
    waiver = (
        "waivers:\n  - {rule: loop-length, subject: loops.L1, reason: So it is., accepted_by: A, "
        "accepted_on: 2026-01-01, expires: 2026-12-31}\n"
    )
    day = ("--today", "2026-06-01", "--changed", "HEAD")
    put("designs/house.yaml", DIRTY)
    put("other/house.yaml", DESIGN)
    put("prescreed.waivers.yaml", waiver)
    git("add", "--all")
    git("commit", "--quiet", "-m", "a")
    assert call("check", *day).status == 0
    Path("prescreed.waivers.yaml").unlink()
    assert call("check", *day).status == 1
    put("prescreed.waivers.yaml", waiver)
    put("other/prescreed.yaml", "fail-on: observation\n")
    done = call("check", "--format", "json", *day)
    assert [d["path"] for d in done.json["designs"]] == ["./other/house.yaml"]
    assert done.status == 1


def test_a_policy_that_is_renamed_or_a_pack_that_loses_a_rule_is_a_change(call: Calling) -> None:
    git("init", "--quiet")
    rule = (data_folder("rules") / "loops" / "loop-length.yaml").read_text("utf-8")
    put("pack/loops/loop-length.yaml", rule)
    put("pack/loops/loop-bend.yaml", rule.replace("loop-length", "x"))
    put("prescreed.yaml", "rules: [pack]\n")
    put("a/house.yaml", DESIGN)
    put("a/prescreed.yaml", "fail-on: observation\n")
    git("add", "--all")
    git("commit", "--quiet", "-m", "a")
    Path("pack/loops/loop-bend.yaml").unlink()
    git("add", "--all")

    def paths(*words: str) -> list[str]:
        return [d["path"] for d in call("check", "--format", "json", *words).json["designs"]]

    assert paths("--changed", "HEAD") == ["./a/house.yaml"]
    assert paths("--governed") == ["./a/house.yaml"]
    git("commit", "--quiet", "-m", "b")
    assert call("check", "--governed").status == 0
    put("a/house.answers.yaml", ANSWERS)
    git("add", "--all")
    assert paths("--governed") == ["a/house.yaml"]
    git("commit", "--quiet", "-m", "c")
    git("rm", "--quiet", "a/house.answers.yaml")
    assert paths("--governed") == ["a/house.yaml"]
    git("reset", "--quiet", "--hard")
    git("mv", "a/prescreed.yaml", "a/old.yaml")
    assert paths("--changed", "HEAD") == ["./a/house.yaml"]
    assert paths("--governed") == ["a/house.yaml"]


def test_a_sheet_that_differs_or_whose_map_does_is_a_change_of_its_designs(call: Calling) -> None:
    """What says how a sheet is read decides the design as much as the sheet."""
    git("init", "--quiet")
    Path("a").mkdir()
    sheets.houses(Path("a/row.xlsx"), Path("a/row.map.yaml"))
    put("a/mill-12.csv", sheets.SCHEDULE.replace("55x", "55"))
    put("a/mill.map.yaml", sheets.MAP)
    put("a/lane-3.csv", sheets.SCHEDULE.replace("55x", "55"))
    put("a/lane-3.map.yaml", sheets.MAP)
    git("add", "--all")
    git("commit", "--quiet", "-m", "a")

    def paths(*words: str) -> list[str]:
        git("add", "--all")
        found = call("check", "--format", "json", "--no-cache", *words).json["designs"]
        git("reset", "--quiet", "--hard")
        return [one["path"].removeprefix("./") for one in found]

    assert paths("--changed", "HEAD") == []
    Path("a/row.xlsx").write_bytes(Path("a/row.xlsx").read_bytes() + b"\0")
    assert paths("--changed", "HEAD") == ["a/row.xlsx#House-1", "a/row.xlsx#House-2"]
    for words in (("--changed", "HEAD"), ("--governed",)):
        put("a/mill.map.yaml", sheets.MAP.replace("42 °C", "58 °C"))
        assert paths(*words) == ["a/mill-12.csv"]
        os.unlink("a/lane-3.map.yaml")
        assert paths(*words) == []  # no sheet without a map is a design
        put("a/lane.map.yaml", sheets.MAP)
        os.unlink("a/lane-3.map.yaml")
        assert paths(*words) == ["a/lane-3.csv"]  # now read by that of its sender
    put("a/row.answers.yaml", "answers: 1\n")
    assert paths("--changed", "HEAD") == ["a/row.xlsx#House-1", "a/row.xlsx#House-2"]
    put("other.map.yaml", sheets.MAP)
    stated = ("--map", "other.map.yaml", "a/mill-12.csv", "a/lane-3.csv")
    assert paths("--changed", "HEAD", *stated) == ["a/lane-3.csv", "a/mill-12.csv"]


def test_a_drawing_that_differs_is_a_change_of_its_design(call: Calling) -> None:
    git("init", "--quiet")
    put("a/house.yaml", DESIGN + "plan: {drawing: floors/x.dxf, map: x.map.yaml}\n")
    put("a/other.yaml", DESIGN)
    put("a/floors/x.dxf", "0\nEOF\n")
    put("a/x.map.yaml", "map: 1\n")
    git("add", "--all")
    git("commit", "--quiet", "-m", "a")
    assert call("check", "--changed", "HEAD").status == 0
    put("a/floors/x.dxf", "0\nEOF\n\n")
    git("add", "--all")
    for words in (("--changed", "HEAD"), ("--governed",)):
        done = call("check", "--format", "json", *words)
        assert done.status == 2  # it is no drawing
        assert {u["path"].removeprefix("./") for u in done.json["unreadable"]} == {"a/house.yaml"}
        assert done.json["designs"] == []
    os.unlink("a/x.map.yaml")
    os.mkfifo("a/x.map.yaml")
    assert "a pipe or a device" in call("check", "a/house.yaml").err


def test_changed_from_where_two_lines_parted(call: Calling) -> None:
    git("init", "--quiet", "--initial-branch=main")
    put("a.yaml", DESIGN)
    git("add", "--all")
    git("commit", "--quiet", "-m", "a")
    git("switch", "--quiet", "-c", "mine")
    put("b.yaml", DESIGN)
    git("add", "--all")
    git("commit", "--quiet", "-m", "b")
    git("switch", "--quiet", "main")
    put("a.yaml", DIRTY)
    git("commit", "--quiet", "-a", "-m", "c")
    git("switch", "--quiet", "mine")
    put("b.yaml", DESIGN + "# not committed yet\n")

    def paths(ref: str) -> list[str]:
        report = call("check", "--format", "json", "--changed", ref).json
        return [d["path"] for d in report["designs"]]

    assert paths("main") == ["./a.yaml", "./b.yaml"]
    assert paths("main...") == ["./b.yaml"]
    assert call("check", "--changed", "nowhere...").status == 2
