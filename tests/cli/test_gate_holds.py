"""The gate says yes only of what it judged: what git does not know, links, lists, answers, copies."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from checker.reading.other_files import what_else
from tests.cli import test_sheets as sheets
from tests.cli.calling import Calling, calling, git, prescreed, put
from tests.cli.repository import DIRTY, WAIVER
from tests.cli.test_ledger import ANSWERS
from tests.example import SOUND as DESIGN

__all__ = ["calling"]


def commit() -> None:
    git("add", "--all")
    git("commit", "--quiet", "--message", "a step")


@pytest.fixture(name="check")
def _check(call: Calling) -> Calling:
    """A check in a repository with one sound design."""
    git("init", "--quiet", "--initial-branch=main")
    put("designs/house.yaml", DESIGN)
    put(".gitignore", "build\n")
    commit()
    return lambda *words: call("check", *words)


def test_what_git_does_not_know_is_never_called_unchanged(check: Calling, tmp_path: Path) -> None:
    put("build/house.yaml", DIRTY)
    put(str(tmp_path / "elsewhere" / "house.yaml"), DIRTY)
    os.symlink(tmp_path / "elsewhere" / "house.yaml", "designs/linked.yaml")
    commit()
    for path in ("build", "build/house.yaml", "../elsewhere", "designs"):
        assert check("--changed", "HEAD", path).status == 1, path
    assert check("--changed", "HEAD", "designs/house.yaml").status == 0
    for words in (("-",), ("--stdin-path", "designs/house.yaml")):
        done = prescreed("check", "--changed", "HEAD", *words, stdin=DIRTY)
        assert done.returncode == 1, words


def test_a_map_of_any_name_is_seen_to_differ(check: Calling) -> None:
    put("designs/drawn.yaml", DESIGN + 'plan: {"draw\\u0069ng": floors/x.dxf, map: roles.txt}\n')
    put("designs/floors/x.dxf", "0\nEOF\n")
    put("designs/roles.txt", "drawing: 1\n")
    commit()
    assert check("--changed", "HEAD").status == 0
    put("designs/roles.txt", "drawing: 1\n\n")
    git("add", "--all")
    for words in (("--changed", "HEAD"), ("--governed",)):
        done = check("--format", "json", *words)
        assert [one["path"].removeprefix("./") for one in done.json["unreadable"]] == [
            "designs/drawn.yaml"
        ]


def test_what_the_call_holds_designs_to_is_seen_to_differ(check: Calling) -> None:
    put("designs/house.yaml", DIRTY)
    put("ours/prescreed.yaml", "known: k.json\n")
    put("ours/house.yaml", DIRTY)
    put("prescreed.yaml", "trust: [ours]\n")
    for folder in ("designs", "ours"):
        assert prescreed("freeze", folder, "--output", f"{folder}/k.json").returncode == 0
    commit()
    put("designs/k.json", Path("designs/k.json").read_text("utf-8").replace("loops.L1", "loops.L9"))
    put("ours/k.json", Path("ours/k.json").read_text("utf-8").replace("loops.L1", "loops.L9"))
    git("add", "--all")
    for words in (("--changed", "HEAD", "designs"), ("--governed", "--exclude", "ours")):
        assert check(*words, "--known", "designs/k.json").status == 1, words
    assert check("--changed", "HEAD", "ours").status == 1


def test_a_file_that_is_no_design_and_differs_alone_is_no_mistake(check: Calling) -> None:
    put("compose.yaml", "services: {}\n")
    assert check("--changed", "HEAD").status == 0
    done = prescreed("check", "--files-from", "-", stdin="compose.yaml\n.gitignore\n")
    assert (done.returncode, "the list names no design" in done.stdout) == (0, True)
    assert check("--changed", "HEAD", "--exclude", "designs", ".").status == 2


def test_lines_that_have_no_commit_in_common_are_told(check: Calling) -> None:
    git("switch", "--quiet", "--orphan", "lone")
    put("designs/house.yaml", DIRTY)
    commit()
    done = check("--changed", "main...")
    assert done.status == 2
    assert "main and HEAD have no commit in common here" in done.err


def test_an_empty_name_of_a_policy_is_refused(check: Calling) -> None:
    """A variable that a pipeline did not set must not let a change bring its own policy."""
    put("designs/house.yaml", DIRTY)
    put("prescreed.yaml", "fail-on: never\n")
    for option in ("--policy-from", "--policy"):
        done = check(option, "", "designs")
        assert (done.status, f"{option}: an empty text names no" in done.err) == (2, True)


def test_a_link_to_a_trusted_file_is_not_trusted_where_it_lies(check: Calling) -> None:
    put("prescreed.yaml", "trust: [designs/ours]\n")
    put("designs/ours/prescreed.yaml", "fail-on: never\n")
    put("designs/ours/prescreed.waivers.yaml", WAIVER)
    for folder in ("ours", "theirs"):
        put(f"designs/{folder}/house.yaml", DIRTY)
    assert check("designs/ours").status == 0
    for name in ("prescreed.yaml", "prescreed.waivers.yaml"):
        os.symlink(f"../ours/{name}", f"designs/theirs/{name}")
        assert check("--today", "2026-06-01", "designs/theirs").status == 1
        os.unlink(f"designs/theirs/{name}")


def test_a_demanded_rule_that_does_not_exist_is_refused_in_every_file(check: Calling) -> None:
    put("designs/prescreed.yaml", "fail-on-open: [room-heet]\n")
    done = check("designs")
    assert done.status == 2
    assert "designs/prescreed.yaml:1: fail-on-open: there is no rule 'room-heet'" in done.err


@pytest.mark.parametrize(
    "listed",
    [
        "designs/house.yaml\r\n".encode("utf-16"),
        "\ufeffdesigns/house.yaml\r\n".encode(),
        b"designs/house.yaml \n",
        b"'designs/house.yaml',\n",
    ],
)
def test_a_list_as_other_tools_write_it_drops_no_design(check: Calling, listed: bytes) -> None:
    put("designs/house.yaml", DIRTY)
    assert prescreed("check", "--files-from", "-", stdin=listed).returncode == 1


def test_answers_are_for_every_design_that_is_judged_with_them(check: Calling) -> None:
    for ending in ("yml", "YAML"):
        put(f"designs/house.{ending}", DESIGN)
    put("designs/house.answers.yaml", ANSWERS)
    done = check("--format", "json", "designs/house.answers.yaml")
    assert [one["path"] for one in done.json["designs"]] == [
        "designs/house.yaml",
        "designs/house.yml",
    ]
    os.unlink("designs/house.yaml")
    done = check("--format", "json", "designs/house.answers.yaml")
    assert [one["path"] for one in done.json["designs"]] == [
        "designs/house.YAML",
        "designs/house.yml",
    ]


def test_answers_beside_the_path_of_standard_input_count_when_they_change(
    check: Calling, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """What was found before is kept with the files beside the path, not beside the folder."""
    monkeypatch.setenv("PRESCREED_CACHE", str(tmp_path / "cache"))
    words = ("check", "--stdin-path", "designs/house.yaml")
    assert prescreed(*words, stdin=DESIGN).returncode == 0
    put("designs/house.answers.yaml", "answers: 1\nseen: [")
    assert prescreed(*words, stdin=DESIGN).returncode == 2


def test_a_design_copied_into_two_folders_was_moved_to_neither(check: Calling) -> None:
    put("designs/house.yaml", DIRTY)
    assert prescreed("freeze", "designs", "--output", "k.json").returncode == 0
    put("designs/b/prescreed.yaml", "fail-on: minor\n")
    put("designs/b/house.yaml", DIRTY)
    os.unlink("designs/house.yaml")
    assert check("--known", "k.json", "designs").status == 0
    put("designs/a/house.yaml", DIRTY)
    assert check("--known", "k.json", "designs").status == 1


def test_designs_reached_by_a_link_to_the_repository_are_the_same(
    check: Calling, tmp_path: Path
) -> None:
    put("designs/house[1].yaml", DIRTY)
    os.symlink(Path.cwd(), tmp_path / "link")
    linked = str(tmp_path / "link" / "designs")
    assert prescreed("freeze", "designs", "--output", "k.json").returncode == 0
    assert check("--known", "k.json", linked).status == 0
    assert check(linked).status == 1
    put("prescreed.waivers.yaml", WAIVER + "    design: designs/house[1].yaml\n")
    for path in (linked, "designs"):
        assert check("--today", "2026-06-01", path).status == 0


def test_no_report_is_written_over_a_sheet_or_drawing(check: Calling) -> None:
    sheet = put("designs/prices.csv", "pipe,price\np16,1.20\n")
    drawing = put("designs/floor.dxf", "0\nEOF\n")
    for file in (sheet, drawing):
        before = file.read_bytes()
        for words in (("check", "--format", "csv"), ("freeze",)):
            assert prescreed(*words, "designs", "--output", str(file)).returncode == 2
        assert file.read_bytes() == before
    for _ in range(2):  # a report of the program's own may be written again
        assert check("designs", "--format", "csv", "--output", "designs/out.csv").status == 0


def test_a_broken_design_in_one_line_is_a_design_whatever_stands_before_it() -> None:
    broken = b"{design: 1, loops: {L1: {length: 128 m}}"
    for before in (b"", b"# exported\n\n", b"%YAML 1.2\n--- ", b"\xef\xbb\xbf# a\r\n---\r\n"):
        assert what_else(before + broken) == "", before
    assert what_else(b"# ours\nwaivers:\n- {rule: x}\n") == "waivers"


def test_a_working_tree_of_its_own_is_a_root_whatever_the_folders_are_called(
    call: Calling, tmp_path: Path
) -> None:
    os.makedirs(tmp_path / "modules" / "main")
    os.chdir(tmp_path / "modules" / "main")
    git("init", "--quiet")
    put("prescreed.yaml", "fail-on: minor\n")
    put("designs/house.yaml", DESIGN)
    commit()
    git("worktree", "add", "--quiet", "../tree")
    os.chdir("../tree/designs")
    assert "prescreed.yaml" in call("check", "house.yaml").out


def workbook(rows: list[str], its_map: str, name: str = "designs/row") -> None:
    put(f"{name}.csv", "\n".join(rows) + "\n")
    put(f"{name}.map.yaml", its_map)


SPLIT = sheets.MAP.replace("sheets:", "split: '{Flat}'\nsheets:")
HEADINGS = "Flat;Loop;Room;Manifold;Port;Length [m];Spacing [mm];Area [m²]"
FIRST, SECOND = "A 1;L1;hall;H1;1;88;150;12", "A 2;L2;bath;H1;2;55;100;5"


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([HEADINGS, FIRST, SECOND.replace("A 2", "A-1")], "both be called 'A-1'"),
        ([HEADINGS.replace("Flat", "Home"), FIRST], "no row has a value for the map's 'split: {F"),
        ([HEADINGS, ";L0;hall;H1;3;188;150;12", FIRST], "before the first that has a value"),
    ],
)
def test_no_house_of_a_schedule_is_lost(check: Calling, rows: list[str], words: str) -> None:
    workbook(rows, SPLIT)
    done = check("designs")
    assert (done.status, words in done.err) == (2, True)


def test_a_row_of_units_belongs_to_no_house_and_is_no_mistake(check: Calling) -> None:
    workbook([HEADINGS, ";;;;;m;mm;m²", FIRST, SECOND], SPLIT)
    done = check("--format", "json", "designs")
    assert done.json["unreadable"] == []
    assert [one["path"] for one in done.json["designs"][1:]] == [
        "designs/row.csv#A-1",
        "designs/row.csv#A-2",
    ]


def test_a_named_house_that_is_not_there_is_a_mistake(check: Calling) -> None:
    workbook([HEADINGS, FIRST, SECOND], SPLIT)
    done = check("designs/house.yaml", "designs/row.csv#A-3")
    assert done.status == 2
    assert "There is no design 'A-3' in this file; did you mean 'A-" in done.err


def test_a_sheet_that_the_map_does_not_read_is_listed(check: Calling) -> None:
    """A third house under another name is at least told of."""
    sheets.houses(Path("designs/row.xlsx"), Path("designs/row.map.yaml"))
    text = Path("designs/row.map.yaml").read_text("utf-8").replace("House *", "House 1")
    put("designs/row.map.yaml", text)
    listed = check("--format", "json", "designs").json["files"]
    assert [(one["path"], one["why"]) for one in listed if "#" in one["path"]] == [
        ("designs/row.xlsx#House 2", "a sheet that its map does not read"),
        ("designs/row.xlsx#House-1", "found"),
    ]


def test_the_word_for_all_rules_demands_all_beside_others_too(check: Calling) -> None:
    put("designs/house.yaml", re.sub(r",? heat_load: [^,}]*", "", DESIGN))
    words = ("--allow-unproven", "--fail-on", "critical", "--fail-on-open")
    alone = check(*words, "all", "designs")
    assert (alone.status, "room-heat (2)" in alone.out) == (1, True)
    assert check(*words, "screed-cover", "designs").status == 0
    assert check(*words, "all,screed-cover", "designs") == alone
    assert "no rule is named" in prescreed("check", *words, ",", "designs").stderr


def test_a_comparison_with_a_design_without_a_loop_is_no_pass(check: Calling) -> None:
    put("a.yaml", "design: 1\nproject: {name: Bare}\n")
    put("b.yaml", "design: 1\nproject: {name: Bare}\n")
    done = prescreed("compare", "a.yaml", "b.yaml")
    assert (done.returncode, "1 design without a loop" in done.stdout) == (1, True)
    assert prescreed("compare", "a.yaml", "b.yaml", "--fail-on", "never").returncode == 0
    assert prescreed("compare", "designs/house.yaml", "designs/house.yaml").returncode == 0
