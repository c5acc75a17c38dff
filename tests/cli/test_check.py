"""The command as a person or a pipeline calls it."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from checker.cli import main
from checker.cli.check import run
from checker.reading.package_data import data_folder
from checker.run import batch
from checker.run.standard_streams import install
from tests.cli.calling import needed, prescreed
from tests.design.designs import generate
from tests.example import SOUND as DESIGN
from tests.example import sound_but

TOO_LONG = sound_but(("length: 88 m", "length: 128 m"))
"""One loop 40 m longer than its area and spacing ask for, and than its pipe feeds."""


@pytest.fixture
def house(tmp_path: Path) -> Path:
    path = tmp_path / "house.yaml"
    path.write_text(TOO_LONG, "utf-8")
    return path


def as_json(done: subprocess.CompletedProcess[str]) -> Any:
    report = json.loads(done.stdout)
    schema = json.loads((data_folder("schemas") / "report.schema.json").read_text("utf-8"))
    Draft202012Validator(schema).validate(report)
    return report


def test_a_sound_design_passes(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(DESIGN, "utf-8")
    done = prescreed("check", str(path))
    assert (done.returncode, done.stderr) == (0, "")
    assert "RELEASE" in done.stdout


def test_a_design_in_a_region_without_a_code_says_so(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(DESIGN.replace("region: GB-ENG", "region: JP"), "utf-8")
    said = " ".join(prescreed("check", str(path)).stdout.split())
    assert "judged by EN-1264, 2026-03-12; no code of JP's own is known" in said


def test_a_broken_limit_fails(house: Path) -> None:
    done = prescreed("check", str(house))
    assert (done.returncode, done.stderr) == (1, "")
    assert "HOLD" in done.stdout
    assert "loops.L1" in done.stdout
    assert "128 m" in done.stdout


@pytest.mark.parametrize(
    ("threshold", "status"),
    [("critical", 0), ("major", 1), ("minor", 1), ("observation", 1), ("never", 0)],
)
def test_the_threshold_decides_the_status(house: Path, threshold: str, status: int) -> None:
    assert prescreed("check", "--fail-on", threshold, str(house)).returncode == status


def test_json_is_by_the_schema(house: Path) -> None:
    report = as_json(prescreed("check", "--format", "json", str(house)))
    assert report["report"] == 2
    (design,) = report["designs"]
    assert (design["path"], design["verdict"]) == (str(house), "hold")
    (found,) = [
        r for r in design["results"] if (r["rule"], r["subject"]) == ("loop-length", "loops.L1")
    ]
    assert found["kind"] == "fail"
    assert found["value"] == {"magnitude": 128.0, "unit": "m"}
    assert found["limit"] == {"at_most": {"magnitude": 100.0, "unit": "m"}}
    line = TOO_LONG.splitlines()[found["line"] - 1]
    assert line[found["column"] - 1 :].startswith("128 m")


def test_every_rule_has_one_result_for_each_subject_in_file_order(house: Path) -> None:
    report = as_json(prescreed("check", "--format", "json", str(house)))
    results = report["designs"][0]["results"]
    keys = [(r["rule"], r["subject"]) for r in results]
    assert len(keys) == len(set(keys))
    order = [(r["line"], r["column"], r["rule"]) for r in results]
    assert order == sorted(order)


def test_standard_input(house: Path) -> None:
    done = prescreed("check", "--format", "json", "-", stdin=TOO_LONG)
    assert done.returncode == 1
    assert as_json(done)["designs"][0]["path"] == "standard input"


def test_a_folder_is_searched_in_order_and_hidden_ones_are_not(tmp_path: Path) -> None:
    for name in ("b/two.yml", "a/one.yaml", "c.json", ".git/no.yaml", "b/readme.txt"):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text('{"design": 1}' if name.endswith("json") else DESIGN, "utf-8")
    report = as_json(prescreed("check", "--format", "json", ".", cwd=tmp_path))
    assert [d["path"] for d in report["designs"]] == ["./a/one.yaml", "./b/two.yml", "./c.json"]


def test_a_bad_file_stops_no_other(tmp_path: Path, house: Path) -> None:
    (tmp_path / "a-bad.yaml").write_text("design: 1\nloops:\n  L1: {length: 88}\n", "utf-8")
    (tmp_path / "b-bad.yaml").write_bytes(b"design: \xff")
    done = prescreed("check", "--format", "json", str(tmp_path))
    assert done.returncode == 2
    report = as_json(done)
    assert len(report["designs"]) == 1
    first, second = report["unreadable"]
    assert (first["line"], first["column"]) == (3, 16)
    assert "88 has no unit; write '88 m'" in first["message"]
    assert "UTF-8" in second["message"]
    assert first["message"] in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("format_", ["text", "json"])
def test_no_design_under_a_path_is_said(tmp_path: Path, format_: str) -> None:
    done = prescreed("check", "--format", format_, str(tmp_path))
    assert done.returncode == 2
    assert "no design under this folder" in done.stderr
    assert "no design under this folder" in done.stdout


def test_a_path_that_is_not_there_is_said(tmp_path: Path) -> None:
    done = prescreed("check", str(tmp_path / "gone.yaml"))
    assert done.returncode == 2
    assert "no such file" in done.stderr


def test_several_formats_in_one_run(house: Path, tmp_path: Path) -> None:
    done = prescreed(
        "check", "--format", "json", "--output", str(tmp_path / "r.json"), "--format", "text", str(house)
    )  # fmt: skip
    assert done.returncode == 1
    assert done.stdout.startswith("exit 1: 2 major in 1 design\n\nTest House")
    assert json.loads((tmp_path / "r.json").read_text("utf-8"))["report"] == 2


def test_two_reports_cannot_share_standard_output(house: Path) -> None:
    done = prescreed("check", "--format", "json", "--format", "text", str(house))
    assert done.returncode == 2
    assert "cannot both go to standard output" in done.stderr
    assert done.stdout == ""


def test_an_output_that_cannot_be_written_is_said_before_any_work(house: Path) -> None:
    done = prescreed("check", "--output", "/nowhere/at/all/report.txt", str(house))
    assert done.returncode == 2
    assert "there is no folder" in done.stderr


def test_an_output_file_appears_whole_or_not_at_all(
    house: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "r.json").write_text("before", "utf-8")

    def broken(*_: Any, **__: Any) -> Iterator[None]:
        raise RuntimeError("planted")
        yield

    monkeypatch.setattr("checker.run.batch.run", broken)
    with pytest.raises(RuntimeError, match="planted"):
        run(["--format", "json", "--output", str(folder / "r.json"), str(house)])
    assert (folder / "r.json").read_text("utf-8") == "before"
    assert [p.name for p in folder.iterdir()] == ["r.json"]


def test_the_same_bytes_whatever_the_number_of_workers(tmp_path: Path) -> None:
    for number in range(25):
        (tmp_path / f"h{number:02}.yaml").write_text(generate(number, loops=3), "utf-8")
    (tmp_path / "bad.yaml").write_text("design: 2\n", "utf-8")
    outputs = {
        prescreed("check", "--format", "json", "--jobs", jobs, str(tmp_path)).stdout
        for jobs in ("1", "2", "5")
    }
    assert len(outputs) == 1
    assert len(json.loads(outputs.pop())["designs"]) == 25


def test_a_closed_pipe_is_not_an_error(tmp_path: Path) -> None:
    for number in range(10):
        (tmp_path / f"h{number:02}.yaml").write_text(generate(number, loops=1), "utf-8")
    command = f"{sys.executable} -m checker check --format json --jobs 1 {tmp_path} | head -c 10"
    done = subprocess.run(
        [needed("bash"), "-c", command], capture_output=True, text=True, check=False,
        cwd=Path(__file__).parents[2],
    )  # fmt: skip
    assert done.stderr == ""
    assert done.stdout == '{"report":'


@pytest.mark.parametrize(
    ("threshold", "status", "designs"),
    [("major", 1, batch.WORTH_SHARING + 10), ("never", 0, 10)],
    ids=["several workers", "one"],
)
def test_a_closed_pipe_hides_no_finding(
    house: Path, threshold: str, status: int, designs: int
) -> None:
    for number in range(designs):
        (house.parent / f"a{number:02}.yaml").write_text(generate(number, loops=1), "utf-8")
    call = f"check --format json --fail-on {threshold} {house.parent}"
    command = f"{sys.executable} -m checker {call} | head -c 10 >/dev/null; echo ${{PIPESTATUS[0]}}"
    done = subprocess.run(
        [needed("bash"), "-c", command], capture_output=True, text=True, check=False,
        cwd=Path(__file__).parents[2],
    )  # fmt: skip
    assert (done.stdout, done.stderr) == (f"{status}\n", "")


@pytest.mark.parametrize("sink", ["2>/dev/full", "2>&-", "2> >(exec 2<&-; sleep 0)"])
def test_an_error_output_that_takes_nothing_changes_no_status(house: Path, sink: str) -> None:
    (house.parent / "bad.yaml").write_text("design: 2\n", "utf-8")
    for words, status in ((f"--verbose {house}", 1), (f"--verbose {house.parent}", 2)):
        done = subprocess.run(
            [needed("bash"), "-c", f"{sys.executable} -m checker check {words} {sink}"],
            capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2],
        )  # fmt: skip
        assert done.returncode == status
        assert "HOLD" in done.stdout


SINKS = [(">/dev/full", "No space left on device"), (">&-", "it is closed")]


@pytest.mark.parametrize("command", ["check {}", "check --format csv {}", "rules", "check --help"])
@pytest.mark.parametrize(("sink", "why"), SINKS)
def test_an_output_that_takes_nothing_is_said(
    house: Path,
    command: str,
    sink: str,
    why: str,
    monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:
    """As a process starts: Python has no stream where the caller closed it."""
    monkeypatch.setattr(sys, "stderr", sys.stderr)  # put back after `install`, like the output
    with open("/dev/full", "w", encoding="utf-8") as full:
        monkeypatch.setattr(sys, "stdout", full if "full" in sink else None)
        install()
        assert main(command.format(house).split()) == 2
    assert capfd.readouterr().err == f"prescreed: standard output cannot be written: {why}\n"


@pytest.mark.parametrize(("sink", "why"), SINKS)
def test_a_process_whose_output_takes_nothing_says_so(house: Path, sink: str, why: str) -> None:
    command = "check {}"
    done = subprocess.run(
        [needed("bash"), "-c", f"{sys.executable} -m checker {command.format(house)} {sink}"],
        capture_output=True, text=True, check=False, cwd=Path(__file__).parents[2],
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr == f"prescreed: standard output cannot be written: {why}\n"


def test_colour_only_where_it_is_wanted(house: Path) -> None:
    assert "\x1b[" not in prescreed("check", str(house)).stdout
    forced = prescreed("check", str(house), FORCE_COLOR="1").stdout
    assert "\x1b[" in forced
    refused = prescreed("check", str(house), FORCE_COLOR="1", NO_COLOR="1").stdout
    assert "\x1b[" not in refused


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (["check"], "PATH"),
        (["chek", "x"], "did you mean 'check'?"),
        (["check", "--as-of", "yesterday", "x"], "is not a date"),
        (["check", "--codes", "", "x"], "no code is named; write one or several"),
        (["check", "--codes", " , ", "x"], "no code is named; write one or several"),
        (["check", "--as-of", "20120601", "x"], "is not a date; write year-month-day"),
        (["check", "--as-of", "2012-06-31", "x"], "there is no day '2012-06-31'"),
        (["check", "--jobs", "0", "x"], "number of workers"),
        (["check", "--codes", "EN-1246", "x"], "did you mean 'EN-1264'?"),
        (["check", "--rules", "/nowhere", "x"], "/nowhere"),
        ([], "usage"),
    ],
)
def test_a_call_that_cannot_be_read_says_why(words: list[str], hint: str) -> None:
    done = prescreed(*words)
    assert done.returncode == 2
    assert hint in done.stderr + done.stdout
    assert "Traceback" not in done.stderr


def test_version_and_help() -> None:
    assert prescreed("--version").stdout.startswith("prescreed ")
    assert "check" in prescreed("--help").stdout
    assert "--fail-on" in prescreed("check", "--help").stdout


def test_schema_is_printed() -> None:
    assert json.loads(prescreed("schema", "design").stdout)["title"]


def test_starting_loads_no_heavy_package(house: Path) -> None:
    code = (
        "import sys; from checker.cli import main; main({words}); "
        "print(*sorted(m for m in {heavy} if m in sys.modules), file=sys.stderr)"
    )
    heavy = ["pint", "pandas", "scipy", "jsonschema", "rich", "hypothesis", "numpy", "yaml"]

    def loaded(words: list[str]) -> set[str]:
        done = subprocess.run(
            [sys.executable, "-c", code.format(words=words, heavy=heavy)],
            capture_output=True, text=True, check=True, cwd=Path(__file__).parents[2],
        )  # fmt: skip
        return set(done.stderr.split())

    assert loaded(["--version"]) == set()
    assert loaded(["check", "--format", "json", str(house)]) == {"numpy", "yaml"}
