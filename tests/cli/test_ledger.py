"""Every file accounted for: what is judged, what is passed over and why, and what that is worth."""

from __future__ import annotations

import csv
import html
import os
import signal
from pathlib import Path
from typing import Any

import pytest

from checker.design.schema import design_format
from checker.reading.other_files import SECTIONS, what_else
from checker.reading.package_data import data_folder
from checker.reports import FORMATS
from checker.run import batch, judging
from tests.cli.calling import Calling, calling, git, put
from tests.cli.test_fuzz import MAP
from tests.example import SOUND as DESIGN
from tests.example import sound_but

__all__ = ["calling"]

DIRTY = sound_but(("150 mm, area: 12 m²", "100 mm, area: 12 m²"), ("length: 88 m", "length: 128 m"))

ANSWERS = (
    "answers: 1\nseen:\n  - {rule: mixing-needed, subject: design, result: as wanted, by: A. Fitter, "
    "on: 2026-04-21, what: tried again}\n"
)


def states(report: Any) -> dict[str, tuple[str, str]]:
    return {one["path"]: (one["state"], one["why"]) for one in report["files"]}


def test_every_file_of_a_folder_is_accounted_for(call: Calling) -> None:
    put("d/house.yaml", DESIGN)
    put("d/bad.yaml", "design: 1\nloops: 3\n")
    for name in (
        ".house.yaml",
        "Prescreed.yaml",
        "prescreed.yaml",
        "a.readings.yaml",
        "a.map.yaml",
    ):
        put(f"d/{name}", "fail-on: major\n")
    put("d/.cache/x.yaml")
    put("d/.git/x.yaml")
    put("d/notes.txt")
    os.mkfifo("d/pipe.yaml")
    put("d/drafts/x.yaml", DESIGN)
    put("d/deploy.yaml", "kind: Service\nspec: {ports: [80]}\n")
    done = call("check", "--format", "json", "--exclude", "d/drafts", "d")
    assert done.status == 2
    found = states(done.json)
    assert found["d/house.yaml"] == ("judged", "found")
    assert found["d/bad.yaml"] == ("unreadable", "found")
    assert {path: why for path, (state, why) in found.items() if state == "passed over"} == {
        "d/.cache": "hidden",
        "d/.house.yaml": "hidden",
        "d/Prescreed.yaml": "named like settings of this program except for capitals: nothing is read from it",
        "d/a.map.yaml": "a map",
        "d/a.readings.yaml": "readings",
        "d/deploy.yaml": "no design",
        "d/drafts/x.yaml": "excluded: by 'd/drafts'",
        "d/pipe.yaml": "a pipe or a device",
        "d/prescreed.yaml": "settings of this program",
    }  # fmt: skip
    Path("d/bad.yaml").unlink()
    done = call("check", "d")
    assert "files passed over: a map (1), a pipe or a device (1), hidden (2), " in " ".join(
        done.out.split()
    )
    assert "d/.house.yaml: passed over (hidden)\n" in call("check", "--verbose", "d").err


def test_own_reports_and_known_findings_are_told_by_what_they_are(call: Calling) -> None:
    put("d/house.yaml", DIRTY)
    formats = ("json", "code-quality", "sarif", "sarif-alerts")
    reports = [
        word for name in formats for word in ("--format", name, "--output", f"d/{name}.json")
    ]
    for _ in range(2):
        assert call("check", ".", *reports).status == 1
        assert call("freeze", "--output", "d/base.json", ".").status == 0
        assert call("compare", "d", "d", "--format", "json", "--output", "d/c.json").status == 0
    found = states(call("check", "--format", "json", ".").json)
    assert found.pop("./d/house.yaml") == ("judged", "found")
    assert {why for _, why in found.values()} == {"own report", "known findings"}
    assert len(found) == 6


def test_a_pack_of_rules_beside_designs_is_passed_over(call: Calling) -> None:
    put("house.yaml", DESIGN)
    rule = (data_folder("rules") / "loops" / "loop-length.yaml").read_text("utf-8")
    put("own/loops/loop-length.yaml", rule)
    assert call("check", ".").status == 0  # by what it is
    put("prescreed.yaml", "rules: [own]\n")
    assert call("check", ".").status == 0  # by where it lies
    assert states(call("check", "--format", "json", ".").json)["./own/loops/loop-length.yaml"] == (
        "passed over", "rules",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("design: 1\n", ""),
        ("desing: 1\nloops: {}\n", ""),
        (" design: 1\n", ""),
        ("loops:\n  L1: {length: 88\n", ""),
        ("{design: 1, loops: {", ""),
        ('{"loops": {', ""),
        ("design: \udcff", ""),
        ("", ""),
        ("# nothing\n", "no design"),
        ("- a\n- b\n", "no design"),
        ("kind: Service\n", "no design"),
        ("title: x\nlimits: []\n", "rules"),
        ("waivers: []\n", "waivers"),
        ('{"report": 2, "tool": {}}', "own report"),
        ('{"known": 1, "findings": [{"design": "x"}]}', "known findings"),
        ('[{"check_name": "prescreed/x"}]', "own report"),
        ("{{ template }}: {% if x %}", "no design"),
    ],
)
def test_what_may_be_a_design_is_never_taken_for_something_else(text: str, words: str) -> None:
    assert what_else(text.encode("utf-8", "surrogateescape")) == words
    assert what_else(text.encode("utf-16", "replace")) == ""


def test_the_sections_that_tell_a_design_are_those_of_the_format() -> None:
    assert design_format().top.members.keys() >= SECTIONS


@pytest.mark.parametrize("setting", ["exclude: ['*']", "exclude: d"])
def test_nothing_judged_is_no_pass(call: Calling, setting: str) -> None:
    put("d/house.yaml", DESIGN)
    put("prescreed.yaml", setting)
    done = call("check", "d")
    assert done.status == 2
    assert done.out.startswith("exit 2: nothing was judged: 1 file passed over: excluded\n")
    assert done.out.endswith("exit 2: nothing was judged: 1 file passed over: excluded\n")
    assert call("check", "--fail-on", "never", "d").status == 2
    put("e/x.txt")
    assert call("check", "e").status == 2
    put("f/deploy.yaml", "kind: Service\n")
    assert call("check", "f").status == 2


def test_only_own_files_named_is_nothing_to_do(call: Calling) -> None:
    put("d/house.yaml", DIRTY)
    put("prescreed.yaml", "fail-on: major\n")
    done = call("check", "prescreed.yaml")
    assert (done.status, done.err) == (0, "")
    assert "nothing to judge: only files of the program's own are named" in done.out
    # The hook asks for all that such a file governs.
    assert call("check", "--governed", "prescreed.yaml").status == 1


def test_a_list_may_quote_its_names_as_git_does(call: Calling) -> None:
    put("HAUS-Ü.yaml", DIRTY)
    put("HAUS.YAML", DIRTY)
    put('a"b\tc\\.yaml', DIRTY)
    put("-x.yaml", DIRTY)
    put("notes.md")
    git("init", "--quiet")
    git("add", "--all")
    listed = git("ls-files")
    assert r'"HAUS-\303\234.yaml"' in listed
    put("list", listed)
    done = call("check", "--format", "json", "--files-from", "list")
    assert done.status == 1
    assert [d["path"] for d in done.json["designs"]] == [
        "-x.yaml", "HAUS-Ü.yaml", "HAUS.YAML", 'a"b\tc\\.yaml',
    ]  # fmt: skip


def test_a_file_named_like_an_option_is_refused(call: Calling) -> None:
    put("house.yaml", DIRTY)
    put("--exclude=*.yaml")
    done = call("check", "--exclude=*.yaml", "house.yaml")
    assert done.status == 2
    assert "is an option, and a file here is called so too" in done.err
    assert call("check", "--", "house.yaml").status == 1


@pytest.mark.skipif(os.getuid() == 0, reason="nothing is forbidden to this user")
def test_a_folder_that_cannot_be_read_is_no_pass(call: Calling) -> None:
    put("d/house.yaml", DESIGN)
    put("d/locked/house.yaml", DIRTY)
    os.chmod("d/locked", 0)
    try:
        done = call("check", "d")
    finally:
        os.chmod("d/locked", 0o700)
    assert (done.status, "The folder cannot be read" in done.out) == (2, True)


def test_links_to_folders_are_followed_once_and_within_bounds(call: Calling) -> None:
    put("d/house.yaml", DESIGN)
    put("more/two.yaml", DIRTY)
    os.symlink("../more", "d/a-link")
    os.symlink("..", "d/up")
    os.symlink(".", "d/itself")
    os.symlink("../more", "d/again")
    done = call("check", "--format", "json", "d")
    assert [d["path"] for d in done.json["designs"]] == ["d/a-link/two.yaml", "d/house.yaml"]
    assert {p for p, (state, _) in states(done.json).items() if state == "passed over"} == {
        "d/again", "d/itself", "d/up",
    }  # fmt: skip
    put("../elsewhere/three.yaml", DIRTY)
    os.symlink("../../elsewhere", "d/out")
    done = call("check", "d")
    assert (done.status, "leads out of the folder" in done.err) == (2, True)


@pytest.mark.parametrize(
    "option", [(), ("--known",), ("--files-from",), ("--rules",), ("--policy",)]
)
@pytest.mark.parametrize("kind", ["pipe", "device"])
def test_pipes_and_devices_are_refused(call: Calling, option: tuple[str, ...], kind: str) -> None:
    put("house.yaml", DESIGN)
    path = "/dev/zero"
    if kind == "pipe":
        path = "pipe.yaml"
        os.mkfifo(path)
    done = call("check", *option, path, *(["house.yaml"] if option else []))
    assert done.status == 2
    assert "a pipe or a device" in done.err


COMMANDS = {
    "audit": ("audit", "j"),
    "audit one": ("audit", "pipe.yaml"),
    "siblings": ("audit", "h", "--complaint", "room cold", "--siblings", "--archive", "j"),
    "explain": ("explain", "pipe.yaml", "loop-length", "loops.L1"),
    "compare": ("compare", "pipe.yaml", "house.yaml"),
    "site-sheet": ("site-sheet", "pipe.yaml"),
    "schedule": ("schedule", "pipe.yaml", "--output", "s.xlsx"),
    "pack-check": ("pack-check", "pipe.yaml"),
    "intake": ("intake", "pipe.csv", "--map", "x.map.yaml", "--output", "o"),
    "intake map": ("intake", "x.csv", "--map", "pipe.yaml", "--output", "o"),
    "policy": ("settings", "--policy", "pipe.yaml"),
    "archive": ("archive", "j", "--output", "a.parquet"),
}


@pytest.mark.parametrize("name", COMMANDS)
def test_no_command_waits_for_a_pipe(call: Calling, name: str) -> None:
    for folder in ("h", "j"):
        put(f"{folder}/house.yaml", DESIGN)
    put("house.yaml", DESIGN)
    put("x.csv", "a\n")
    put("x.map.yaml", MAP)
    for path in ("j/site.readings.yaml", "pipe.yaml", "pipe.csv"):
        os.mkfifo(path)

    def late(*_: object) -> None:
        pytest.fail("it waits")

    signal.signal(signal.SIGALRM, late)
    signal.alarm(60)
    try:
        done = call(*COMMANDS[name])
    finally:
        signal.alarm(0)
    if name != "siblings":  # which looks at designs alone
        assert done.status in (1, 2)
        assert "pipe" in done.err + done.out


def test_a_link_to_a_device_in_a_pack_is_refused(call: Calling) -> None:
    put("house.yaml", DESIGN)
    put("pack/a.yaml", "title: x\n")
    os.symlink("/dev/zero", "pack/b.yaml")
    done = call("check", "--rules", "pack", "house.yaml")
    assert (done.status, "a pipe or a device" in done.err) == (2, True)
    assert call("check", "--rules", "/", "house.yaml").status == 2


def test_what_the_program_fails_on_costs_that_design_alone(
    call: Calling, monkeypatch: pytest.MonkeyPatch
) -> None:
    put("d/h3.yaml", DESIGN)
    put("d/h4.yaml", DESIGN.replace("Test House", "Planted"))
    real = batch.check

    def check(files: Any, plan: Any, **more: Any) -> Any:
        found = [*files]
        if any(b"Planted" in data for _, data in found):
            raise ZeroDivisionError("planted")
        return real(found, plan, **more)

    monkeypatch.setattr(judging, "check", check)
    for name in ("text", "json", "sarif", "junit", "html", "markdown", "csv", "code-quality",
                 "job-summary", "annotations"):  # fmt: skip
        done = call("check", "--no-cache", "--format", name, "d")
        assert done.status == 3, name
        assert "d/h4.yaml: prescreed" in done.err
        if name != "csv":
            assert "ZeroDivisionError: planted" in " ".join(
                done.out.replace("&#58;", ":").split()
            ), name
    for number in (0, 1, 2, 5, 6, 7, 8):
        put(f"d/h{number}.yaml", DESIGN)
    report = call("check", "--no-cache", "--format", "json", "d").json
    assert len(report["designs"]) == 8
    assert [one["path"] for one in report["crashed"]] == ["d/h4.yaml"]
    assert states(report)["d/h4.yaml"] == ("crashed", "found")
    assert report["answer"].startswith("exit 3: the program itself failed on 1 design")


def test_a_command_that_fails_itself_says_so_in_one_sentence(
    call: Calling, monkeypatch: pytest.MonkeyPatch
) -> None:
    from checker.cli import rules

    def broken(words: list[str]) -> int:
        raise KeyError("planted")

    monkeypatch.setattr(rules, "run", broken)
    done = call("rules")
    assert (done.status, done.out) == (3, "")
    assert done.err.startswith("prescreed 0.1.0 itself failed (KeyError: 'planted'). Please report")
    assert done.err.count("\n") == 1


def test_every_format_tells_itself_which_waivers_do_not_hold(call: Calling) -> None:
    put("d/house.yaml", DIRTY)
    put("d/bad.yaml", "design: 1\nloops: 3\n")
    put("d/prescreed.yaml", "fail-on: never\n")
    entry = (
        "  - {{rule: loop-length, subject: {}, reason: So it is., accepted_by: A, "
        "accepted_on: 2026-01-01, expires: {}{}}}\n"
    )
    put(
        "prescreed.waivers.yaml",
        "waivers:\n"
        + entry.format("loops.L1", "2026-03-31", "")
        + entry.format("loops.L7", "2026-12-31", "")
        + entry.format("'loops.L*'", "2026-12-31", ", up_to: 101 m"),
    )
    names = [name for name in FORMATS if name != "parquet"]
    words = [word for name in names for word in ("--format", name, "--output", f"{name}.out")]
    assert call("check", "--today", "2026-06-01", *words, "d").status == 2
    for name in names:
        text = html.unescape(" ".join(Path(f"{name}.out").read_text("utf-8").split()))
        text = text.replace("&#58;", ":").replace("\\", "")
        assert "It expired after 2026-03-31" in text, name
        assert "the value is beyond 101 m" in text, name
        # Where a file cannot be read, a waiver may be for that; no format says it is unused.
        assert "It waives nothing" not in text, name
    Path("d/bad.yaml").unlink()
    assert call("check", "--today", "2026-06-01", *words, "d").status == 1
    for name in names:
        assert "It waives nothing" in Path(f"{name}.out").read_text("utf-8"), name


@pytest.mark.parametrize("name", ["csv", "parquet"])
def test_a_table_has_rows_for_what_is_no_result(call: Calling, name: str) -> None:
    put("d/house.yaml", DIRTY)
    put("d/bad.yaml", "design: 1\nloops: 3\n")
    put("d/prescreed.yaml", "fail-on: never\n")
    if name == "parquet":
        pytest.importorskip("pyarrow")
    assert call("check", "--format", name, "--output", "t", "d").status == 2
    if name == "csv":
        with open("t", encoding="utf-8-sig", newline="") as file:
            found: list[dict[str, Any]] = [*csv.DictReader(file)]
    else:
        from pyarrow import parquet

        found = parquet.read_table("t").to_pylist()
    unreadable, policy = found[-2:]
    assert (unreadable["kind"], unreadable["path"]) == ("unreadable", "d/bad.yaml")
    assert int(unreadable["line"]) == 2
    assert "loops" in unreadable["message"]
    assert policy["kind"] == "policy"
    assert policy["message"].startswith("d/prescreed.yaml:1: fail-on is ignored")
    assert {row["kind"] for row in found[:-2]} <= {
        "pass", "fail", "open", "review", "notApplicable",
    }  # fmt: skip
