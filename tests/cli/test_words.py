"""Words that people have, options misspelt, files that are none of designs, and other machines."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from checker.cli import COMMANDS
from checker.rulebook import loading
from tests.cli.calling import Calling, prescreed, put
from tests.cli.calling import calling as calling
from tests.cli.test_sheets import MAP
from tests.example import DESIGN

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("manifolds: {M1: {}}", "the key 'manifolds' is not known here; write 'headers'."),
        ("circuits: {}", "the key 'circuits' is not known here; write 'loops'."),
        ("Heizkreise: {}", "the key 'Heizkreise' is not known here"),
        (
            "plant: {flow temperature: 45 °C}",
            "'flow temperature' is not known here; write 'supply'.",
        ),
        ("rooms: {a: {floor_finish: tile}}", "'floor_finish' is not known here; write 'covering'."),
        ("loops: {L1: {manifold: M1}}", "'manifold' is not known here; write 'header'."),
        ("loops: {L1: {lenght: 8 m}}", "did you mean 'length'?"),
    ],
)
def test_words_of_the_trade_are_answered_with_our_key(call: Calling, text: str, said: str) -> None:
    put("house.yaml", f"design: 1\n{text}\n")
    assert said in call("check", "house.yaml").err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("check", "--formt", "json", "x"),
            "'--formt' is no option of this command; did you mean '--format'?",
        ),
        (("check", "--format", "jsn", "x"), "--format: 'jsn' is not allowed; did you mean 'json'?"),
        (("check", "--fail-on", "mjor", "x"), "did you mean 'major'?"),
        (("schema", "desing"), "'desing' is not allowed; did you mean 'design'?"),
    ],
)
def test_options_and_values_misspelt_are_answered_in_a_line(
    call: Calling, words: tuple[str, ...], said: str
) -> None:
    done = call(*words)
    assert done.status == 2
    assert said in done.err
    assert done.err.count("\n") == 1


def test_the_ending_of_an_output_says_its_format(call: Calling) -> None:
    put("house.yaml", DESIGN)
    call("check", "house.yaml", "--output", "report.html")
    assert Path("report.html").read_text("utf-8").startswith("<!doctype html>")
    call("check", "house.yaml", "--output", "report.json")
    assert Path("report.json").read_text("utf-8").startswith('{"report":2')
    call("check", "house.yaml", "--output", "report.log")
    assert Path("report.log").read_text("utf-8").startswith("exit ")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (MAP, "This is a map, no design"),
        ("readings: 1\n", "These are readings, no design"),
        ("waivers:\n  - rule: loop-length\n", "These are waivers, not a design"),
    ],
)
def test_a_file_of_the_programs_own_is_known_by_its_first_key(
    call: Calling, text: str, said: str
) -> None:
    put("file.yaml", text)
    done = call("check", "file.yaml")
    assert done.status == 2
    assert done.err.count("file.yaml") == 1
    assert said in done.err


def test_a_file_that_is_not_there_has_no_line(call: Calling) -> None:
    done = call("check", "gone.yaml")
    assert done.err == "gone.yaml: There is no such file or folder.\n"


@pytest.mark.parametrize(
    "words",
    [
        ("remedy", "house.yaml", "--apply", "99"),
        ("audit", "house.yaml", "--complaint", "nonsense"),
        ("explain", "house.yaml", "loop-length", "loops.L9"),
        ("new", "--output", "house.txt"),
        ("check", "house.yaml", "--known", "gone.json"),
    ],
    ids=lambda words: words[0],
)
def test_a_refused_call_is_told_in_the_programs_name(call: Calling, words: tuple[str, ...]) -> None:
    put("house.yaml", DESIGN)
    done = call(*words)
    assert done.status == 2
    assert done.err.startswith("prescreed"), done.err


def test_a_summary_of_nothing_has_no_head(call: Calling) -> None:
    put("broken.yaml", "loops: [")
    done = call("check", "--summary", "broken.yaml")
    assert done.status == 2
    assert "VERDICT" not in done.out
    assert "UNREADABLE" in done.out


@pytest.mark.parametrize("encoding", ["cp1252", "cp437"])
def test_what_goes_into_a_file_is_utf_8_whatever_the_code_page(
    tmp_path: Path, encoding: str
) -> None:
    (tmp_path / "house.yaml").write_text(DESIGN, "utf-8")
    (tmp_path / "loops.csv").write_text("Loop;Raum;Rohrlänge [m]\nL1;Küche;88\n", "utf-8")
    process = subprocess.run(
        [sys.executable, "-m", "checker", "--help"], capture_output=True, cwd=tmp_path,
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert (process.returncode, "…" in process.stdout.decode("utf-8")) == (0, True)
    for words in (
        ("schema", "design"), ("--help",), ("rules", "--format", "markdown"), ("settings",),
        ("explain", "--format", "markdown", "house.yaml", "loop-length", "loops.L1"),
        ("explain", "house.yaml", "loop-length", "loops.L1"), ("check", "house.yaml"),
        ("intake", "--suggest", "loops.csv"), ("completion", "powershell"),
    ):  # fmt: skip
        # What it wrote is decoded as UTF-8.
        done = prescreed(*words, code_page=encoding, cwd=tmp_path, NO_COLOR="1")
        assert done.returncode in (0, 1), (words, done.stderr)
        assert "\r" not in done.stdout
        if words == ("--help",):
            assert done.stdout.encode() == process.stdout


def test_a_proposal_that_was_redirected_is_a_map_that_can_be_read(tmp_path: Path) -> None:
    (tmp_path / "loops.csv").write_text("Loop;Raum;Rohrlänge [m]\nL1;Küche;88\n", "utf-8")
    told = prescreed("intake", "--suggest", "loops.csv", code_page="cp1252", cwd=tmp_path)
    assert "Rohrlänge" in told.stdout
    (tmp_path / "loops.map.yaml").write_bytes(told.stdout.encode())
    done = prescreed("check", "loops.csv", code_page="cp1252", cwd=tmp_path)
    assert "Küche" not in done.stderr
    assert done.returncode == 1


@pytest.mark.parametrize(
    "words",
    [("schema", "design"), ("rules", "loop-length"), ("completion", "bash"),
     ("explain", "house.yaml", "loop-length", "loops.L1")],
)  # fmt: skip
def test_what_a_command_prints_it_also_writes(call: Calling, words: tuple[str, ...]) -> None:
    put("house.yaml", DESIGN)
    printed = call(*words).out
    done = call(*words, "--output", "out.txt")
    assert (done.status, done.out) == (0, "")
    assert Path("out.txt").read_text("utf-8") == printed


def test_line_ends_change_no_digest(tmp_path: Path) -> None:
    import checker.quantities  # noqa: F401
    from checker.compute.meanings import Names

    text = (ROOT / "rules" / "loops" / "loop-length.yaml").read_bytes()
    digests: list[str] = []
    for ends in (b"\n", b"\r\n"):
        folder = tmp_path / str(len(digests))
        folder.mkdir()
        (folder / "loop-length.yaml").write_bytes(text.replace(b"\n", ends))
        digests.append(loading.load(Names(), [folder]).digest)
    assert digests[0] == digests[1]


def test_a_design_with_the_line_ends_of_another_system_is_the_same(call: Calling) -> None:
    put("house.yaml", DESIGN)
    first = call("check", "house.yaml", "--format", "json").json["designs"]
    put("house.yaml", DESIGN.replace("\n", "\r\n"))
    assert call("check", "house.yaml", "--format", "json").json["designs"] == first


@pytest.mark.long
def test_workers_that_are_spawned_find_the_same(tmp_path: Path) -> None:
    for number in range(52):
        (tmp_path / f"{number:02}.yaml").write_text(DESIGN, "utf-8")
    words = ("check", ".", "--jobs", "2", "--no-cache", "--format", "csv")
    spawned = subprocess.run(
        [sys.executable, "-m", "checker", *words], capture_output=True, cwd=tmp_path,
        env={**os.environ, "PRESCREED_START": "spawn", "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    forked = prescreed(*words, cwd=tmp_path, PRESCREED_START="fork")
    assert spawned.stdout.count(b"\n") > 52
    assert (spawned.returncode, spawned.stdout.decode()) == (forked.returncode, forked.stdout)


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_tells_what_it_does(call: Calling, command: str) -> None:
    done = call(command, "--help")
    assert (done.status, done.err) == (0, "")
    assert f"prescreed {command}" in done.out
