"""The gate over the life of a repository: a real command in a scratch git repository."""

from __future__ import annotations

import json

import pytest

from tests.cli.repository import DIRTY, WAIVER, Repository, of
from tests.cli.repository import repository as repository
from tests.design.designs import generate
from tests.example import SOUND as DESIGN
from tests.example import sound_but


def test_freeze_mend_and_worsen(repository: Repository) -> None:
    assert repository.status("designs") == 1
    frozen = repository.run("freeze", "designs")
    assert frozen.returncode == 0
    repository.commit()
    known = ("--known", "prescreed.known.json", "designs")
    assert repository.status(*known) == 0

    repository.put("designs/house.yaml", "# moved\n\n" + DIRTY)
    assert repository.status(*known) == 0

    repository.put("designs/house.yaml", DIRTY.replace("length: 128 m", "length: 129 m"))
    assert repository.status(*known) == 1
    report = repository.json(*known)
    assert of(report, "loop-length", "loops.L1")["state"] == "worse"
    assert report["designs"][0]["verdict"] == "hold"

    repository.put("designs/house.yaml", DESIGN)
    done = repository.run("check", *known)
    assert done.returncode == 0
    assert "MENDED       loops.L1 (loop-length)" in done.stdout
    report = repository.json(*known)
    assert {"rule": "loop-length", "subject": "loops.L1"} in report["designs"][0]["mended"]

    # One mended and one new: a count would see nothing.
    other = sound_but(("insulation: 4 m²·K/W", "insulation: 1 m²·K/W"))
    repository.put("designs/house.yaml", other)
    assert repository.status(*known) == 1


def test_freezing_anew_says_what_it_hides(repository: Repository) -> None:
    repository.run("freeze", "designs")
    repository.put(
        "designs/house.yaml", sound_but(("insulation: 4 m²·K/W", "insulation: 1 m²·K/W"))
    )
    said = repository.run("freeze", "designs").stderr
    assert "not in the file before" in said
    assert "gone from it" in said
    assert ", 0 of them" not in said


def test_freeze_leaves_out_what_is_waived_and_writes_nothing_over_the_unreadable(
    repository: Repository,
) -> None:
    repository.put("prescreed.waivers.yaml", WAIVER)
    repository.run("freeze", "--today", "2026-06-01", "designs")
    text = (repository.folder / "prescreed.known.json").read_text("utf-8")
    assert '"rule":"loop-length"' not in text
    repository.put("designs/bad.yaml", "design: 1\nloops:\n  L1: {length: 88}\n")
    done = repository.run("freeze", "designs")
    assert done.returncode == 2
    assert "88 has no unit" in done.stderr
    assert (repository.folder / "prescreed.known.json").read_text("utf-8") == text


def test_freezing_nothing_but_the_unreadable_is_told_like_any_mistake(
    repository: Repository,
) -> None:
    repository.put("designs/house.yaml", "design: 1\nloops:\n  L1: {length: 88}\n")
    done = repository.run("freeze", "designs")
    assert done.returncode == 2
    assert "88 has no unit" in done.stderr
    assert "Traceback" not in done.stderr


def test_waive_and_expire(repository: Repository) -> None:
    repository.put("prescreed.waivers.yaml", WAIVER)
    assert repository.status("--today", "2026-12-31", "designs") == 0
    assert repository.status("--today", "2027-01-01", "designs") == 1

    report = repository.json("--today", "2026-12-31", "designs")
    found = of(report, "loop-length", "loops.L1")
    assert (found["kind"], found["waived"]["by"]) == ("fail", "A. Designer")
    assert report["designs"][0]["verdict"] == "release"
    assert report["totals"]["waived"] == 1
    assert "major" not in report["totals"]["failed"]
    assert report["run"]["today"] == "2026-12-31"
    assert report["run"]["settings"]["waivers"] == ["prescreed.waivers.yaml"]

    text = repository.run("check", "--today", "2027-01-01", "designs").stdout
    assert "It expired after 2026-12-31" in " ".join(text.split())
    assert "MAJOR        loops.L1" in text


def test_the_day_changes_the_digest_of_nothing_but_itself(repository: Repository) -> None:
    repository.put("prescreed.waivers.yaml", WAIVER)
    first = repository.json("--today", "2026-06-01", "designs")["run"]
    second = repository.json("--today", "2026-06-02", "designs")["run"]
    assert (first.pop("today"), second.pop("today")) == ("2026-06-01", "2026-06-02")
    assert first == second
    repository.put("prescreed.waivers.yaml", WAIVER.replace("130", "131"))
    third = repository.json("--today", "2026-06-01", "designs")["run"]
    assert third["settings_digest"] != first["settings_digest"]


def test_without_waivers_the_report_has_no_clock_in_it(repository: Repository) -> None:
    first = repository.run("check", "--format", "json", "--today", "2026-06-01", "designs").stdout
    second = repository.run("check", "--format", "json", "--today", "2030-06-01", "designs").stdout
    assert first == second
    assert "today" not in json.loads(first)["run"]


def test_a_waived_finding_stays_visible(repository: Repository) -> None:
    repository.put("prescreed.waivers.yaml", WAIVER)
    formats = (
        "text", "json", "sarif", "junit", "code-quality", "job-summary", "markdown", "html", "csv",
    )  # fmt: skip
    words = [word for name in formats for word in ("--format", name, "--output", f"{name}.out")]
    assert repository.status("--today", "2026-06-01", *words, "designs") == 0
    for name in formats:
        text = (repository.folder / f"{name}.out").read_text("utf-8")
        assert "The maker allows 130 m." in text, name


def test_a_bad_waiver_file_waives_nothing_and_is_no_release(repository: Repository) -> None:
    bad = WAIVER.replace("    reason: The maker allows 130 m.\n", "")
    repository.put("prescreed.waivers.yaml", bad)
    done = repository.run("check", "--format", "json", "designs")
    assert done.returncode == 2
    assert "prescreed.waivers.yaml:2:5" in done.stderr
    assert "only waived for a reason" in done.stderr
    assert json.loads(done.stdout)["designs"][0]["verdict"] == "hold"


def test_a_run_over_some_files_calls_no_waiver_unused(repository: Repository) -> None:
    repository.put("designs/sound.yaml", DESIGN)
    repository.put("prescreed.waivers.yaml", WAIVER)
    day = ("--today", "2026-06-01")
    assert "waives nothing" not in repository.run("check", *day, "designs/sound.yaml").stdout
    repository.put("designs/house.yaml", DESIGN)
    assert "waives nothing" in " ".join(repository.run("check", *day, "designs").stdout.split())


def test_open_results_can_be_demanded(repository: Repository) -> None:
    text = sound_but(("heat_load: 700 W, ", ""))
    repository.put("designs/house.yaml", text)
    # Open and major counts like a fail; what is allowed to be unproven can still be demanded.
    assert repository.status("designs") == 1
    assert repository.status("--fail-on", "critical", "designs") == 0
    allowed = ("--allow-unproven",)
    assert repository.status(*allowed, "designs") == 0
    assert repository.status(*allowed, "--fail-on-open", "room-heat", "designs") == 1
    assert repository.status(*allowed, "--fail-on-open", "loop-bend,room-heat", "designs") == 1
    assert repository.status(*allowed, "--fail-on-open", "all", "designs") == 1
    assert repository.status(*allowed, "--fail-on-open", "loop-length", "designs") == 0
    done = repository.run("check", "--fail-on-open", "room-heta", "designs")
    assert done.returncode == 2
    assert "did you mean 'room-heat'?" in done.stderr
    repository.run("freeze", "designs")
    known = ("--known", "prescreed.known.json")
    assert repository.status("--fail-on-open", "all", *known, "designs") == 0


def test_what_was_judged_before_and_is_open_now_is_worse(repository: Repository) -> None:
    repository.put("designs/house.yaml", sound_but(("heat_load: 700 W", "heat_load: 1300 W")))
    assert repository.status("designs") == 1
    repository.run("freeze", "designs")
    known = ("--known", "prescreed.known.json")
    assert repository.status(*known, "designs") == 0
    repository.put("designs/house.yaml", sound_but(("heat_load: 700 W, ", "")))
    assert repository.status(*known, "designs") == 1
    assert repository.status(*known, "--allow-unproven", "designs") == 1
    assert repository.status(*known, "--fail-on", "never", "designs") == 0


def test_quiet_and_verbose(repository: Repository) -> None:
    done = repository.run("check", "--quiet", "designs")
    assert (done.returncode, done.stdout, done.stderr) == (1, "", "")
    done = repository.run("check", "--quiet", "--format", "json", "designs")
    assert json.loads(done.stdout)["report"] == 2
    done = repository.run("check", "--verbose", "designs")
    assert "rules 20" in done.stderr
    assert "\n1 file to judge\n" in done.stderr


def test_annotations_join_the_text_on_a_host_that_reads_them(repository: Repository) -> None:
    evil = DIRTY.replace("name: Test House", 'name: "::add-mask::Test"')
    repository.put("designs/house.yaml", evil)
    plain = repository.run("check", "designs").stdout
    assert "::error" not in plain
    lines = repository.run("check", "designs", GITHUB_ACTIONS="true").stdout.splitlines()
    guard = lines[0].removeprefix("::stop-commands::")
    assert len(guard) == 32
    end = lines.index(f"::{guard}::")
    # What the design says stands where the host takes no commands, and is none besides.
    assert any(line.startswith(": :add-mask::") for line in lines[1:end])
    assert lines[1:end] == plain.splitlines()
    after = lines[end + 1 :]
    assert after
    assert all(line.startswith(("::error ", "::warning ", "::notice ")) for line in after)
    assert "file=designs/house.yaml,line=" in after[0]
    machine = repository.run("check", "--format", "json", "designs", GITHUB_ACTIONS="true").stdout
    assert json.loads(machine)["report"] == 2


@pytest.mark.long
def test_workers_change_no_byte_of_any_format(repository: Repository) -> None:
    for number in range(52):
        repository.put(f"designs/h{number:02}.yaml", generate(number, loops=2))
    repository.put("prescreed.waivers.yaml", WAIVER.replace("loops.L1", "loops.L*"))
    repository.run("freeze", "--today", "2026-06-01", "designs/house.yaml")
    words: list[str] = []
    formats = (
        "text",
        "json",
        "sarif",
        "sarif-alerts",
        "junit",
        "code-quality",
        "annotations",
        "job-summary",
    )
    for name in formats:
        words += ["--format", name, "--output", f"{name}.out"]
    written = []
    for jobs in ("1", "2"):
        repository.run(
            "check", "--jobs", jobs, "--today", "2026-06-01", "--known", "prescreed.known.json",
            "--no-cache", *words, "designs",
        )  # fmt: skip
        written.append([(repository.folder / f"{name}.out").read_bytes() for name in formats])
    assert written[0] == written[1]
    assert all(written[0])


def test_a_design_without_a_loop_is_never_passed(repository: Repository) -> None:
    """What is open may be allowed; that nothing was designed may not."""
    repository.put("designs/nil.yaml", "design: 1\n")
    done = repository.run("check", "--allow-unproven", "designs/nil.yaml")
    assert done.returncode == 1
    assert done.stdout.startswith("exit 1: 1 design without a loop")
