"""The gate over the life of a repository: a real command in a scratch git repository."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from checker.reading.package_data import data_folder
from tests.cli.calling import needed, prescreed
from tests.design.designs import generate
from tests.example import SOUND as DESIGN
from tests.example import sound_but as changed

SOURCE = Path(__file__).parents[2]
LONG = (
    ("150 mm, area: 12 m²", "100 mm, area: 12 m²"),
    ("length: 88 m", "length: 128 m"),
    ("  supply: 42 °C\n", "  supply: 40 °C\n"),
)
"""Changes that give one major fail: loop-length of loops.L1."""
DIRTY = changed(*LONG)
WAIVER = """\
waivers:
  - rule: loop-length
    subject: loops.L1
    reason: The maker allows 130 m.
    accepted_by: A. Designer
    accepted_on: 2026-03-12
    expires: 2026-12-31
"""
QUIET_HOST = {"GITHUB_ACTIONS": "", "NO_COLOR": "1"}


class Repository:
    """A scratch git repository, and the command called in it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "designs").mkdir(parents=True)
        self.git("init", "--quiet", "--initial-branch=main")

    def git(self, *words: str) -> str:
        done = subprocess.run(
            [needed("git"), "-c", "user.name=Test", "-c", "user.email=test@example.invalid", *words],
            cwd=self.folder, capture_output=True, text=True, check=True,
        )  # fmt: skip
        return done.stdout

    def commit(self) -> None:
        self.git("add", "--all")
        self.git("commit", "--quiet", "--message", "a step")

    def put(self, name: str, text: str) -> None:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")

    def run(
        self, *words: str, stdin: bytes = b"", **environment: str
    ) -> subprocess.CompletedProcess[str]:
        return prescreed(*words, stdin=stdin, cwd=self.folder, **QUIET_HOST | environment)

    def status(self, *words: str) -> int:
        return self.run("check", *words).returncode

    def json(self, *words: str, stdin: bytes = b"") -> Any:
        done = self.run("check", "--format", "json", *words, stdin=stdin)
        report = json.loads(done.stdout)
        schema = json.loads((data_folder("schemas") / "report.schema.json").read_text("utf-8"))
        Draft202012Validator(schema).validate(report)
        return report


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    made = Repository(tmp_path / "work")
    made.put("designs/house.yaml", DIRTY)
    made.commit()
    return made


def of(report: Any, rule: str, subject: str, design: int = 0) -> Any:
    (found,) = [
        r
        for r in report["designs"][design]["results"]
        if (r["rule"], r["subject"]) == (rule, subject)
    ]
    return found


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
    other = changed(("insulation: 4 m²·K/W", "insulation: 1 m²·K/W"))
    repository.put("designs/house.yaml", other)
    assert repository.status(*known) == 1


def test_freezing_anew_says_what_it_hides(repository: Repository) -> None:
    repository.run("freeze", "designs")
    repository.put("designs/house.yaml", changed(("insulation: 4 m²·K/W", "insulation: 1 m²·K/W")))
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


def test_pin_and_upgrade(repository: Repository) -> None:
    rules = repository.json("designs")["rules"]
    pinned = f"rules: {{edition: '{rules['edition']}', digest: '{rules['digest']}'}}\n"
    repository.put("prescreed.yaml", pinned)
    assert repository.status("designs") == 1

    # The program brings another edition: nothing is judged by rules nobody asked for.
    repository.put("prescreed.yaml", pinned.replace(rules["edition"], "1999-01"))
    done = repository.run("check", "designs")
    assert (done.returncode, done.stdout) == (2, "")
    assert f"pinned to '1999-01', and the rules here have '{rules['edition']}'" in done.stderr
    assert done.stderr.startswith("prescreed.yaml:1:18: ")

    # A firm's own rules change the digest, too.
    own = repository.folder / "our-rules" / "loops"
    own.mkdir(parents=True)
    text = (data_folder("rules") / "loops" / "loop-length.yaml").read_text("utf-8")
    (own / "loop-length.yaml").write_text(text, "utf-8")
    repository.put("prescreed.yaml", pinned)
    done = repository.run("check", "--rules", "our-rules", "designs")
    assert done.returncode == 2
    assert "digest is pinned" in done.stderr


def test_a_pin_holds_below_other_settings_too(repository: Repository) -> None:
    repository.put("prescreed.yaml", "fail-on: minor\nrules:\n  edition: '1999-01'\n")
    repository.put("designs/prescreed.yaml", "fail-on: observation\n")
    for words in (("designs",), (".",), ("designs/house.yaml",)):
        done = repository.run("check", *words)
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr.startswith("prescreed.yaml:3:12: The rules' edition is pinned")


def test_a_pin_further_down_is_added(repository: Repository) -> None:
    repository.put("other/house.yaml", DESIGN)
    repository.put("designs/prescreed.yaml", "rules: {edition: '1999-01'}\n")
    done = repository.run("check", "--format", "json", "designs", "other")
    # What is pinned to other rules is not judged by these; the rest is.
    assert done.returncode == 2
    assert "designs/prescreed.yaml:1:18: The rules' edition is pinned" in done.stderr
    assert [d["path"] for d in json.loads(done.stdout)["designs"]] == ["other/house.yaml"]


def test_a_file_further_down_only_makes_it_stricter(repository: Repository) -> None:
    assert repository.status("designs") == 1
    for loosens in (
        "fail-on: never",
        "exclude: ['*']",
        "known: ../known.json",
        "fail-on: critical",
    ):
        repository.put("designs/prescreed.yaml", f"{loosens}\n")
        repository.run("freeze", "--output", "known.json", "designs/house.yaml")
        done = repository.run("check", "--format", "json", "designs")
        assert done.returncode == 1, loosens
        (line,) = json.loads(done.stdout)["policy"]["not_held"]
        assert line.startswith(f"designs/prescreed.yaml:1: {loosens.partition(':')[0]} does not")
    repository.put("designs/house.yaml", DESIGN)  # short of good practice in two places, no more
    repository.put("designs/prescreed.yaml", "fail-on: critical\n")
    before = repository.status("designs")
    repository.put("designs/prescreed.yaml", "fail-on: observation\n")
    assert (before, repository.status("designs")) == (0, 1)
    # The call itself goes before every file.
    assert repository.status("--fail-on", "never", "designs") == 0
    shown = repository.run("settings", "designs").stdout
    assert "fail-on observation designs/prescreed.yaml:1" in [
        " ".join(s.split()) for s in shown.splitlines()
    ]


def test_codes_further_down_count_besides(repository: Repository) -> None:
    repository.put("designs/us/prescreed.yaml", "codes: [US]\n")
    repository.put("designs/us/house.yaml", DESIGN)
    report = repository.json("designs")
    assert [(d["path"], d["codes"]) for d in report["designs"]] == [
        ("designs/house.yaml", ["EN-1264", "GB-ENG"]),
        ("designs/us/house.yaml", ["EN-1264", "GB-ENG", "US"]),
    ]
    repository.put("prescreed.yaml", "codes: [EN-1264]\n")
    report = repository.json("designs")
    assert [d["codes"] for d in report["designs"]] == [["EN-1264"], ["EN-1264", "US"]]
    assert [d["codes"] for d in repository.json("--codes", "DE", "designs")["designs"]] == [
        ["DE"], ["DE"],
    ]  # fmt: skip


def test_waivers_further_down_do_not_hold_unless_they_are_trusted(repository: Repository) -> None:
    repository.put("designs/prescreed.waivers.yaml", WAIVER)
    day = ("--today", "2026-06-01", "designs")
    report = repository.json(*day)
    assert report["designs"][0]["verdict"] == "hold"
    assert "designs/prescreed.waivers.yaml does not hold" in report["policy"]["not_held"][0]
    assert report["policy"]["from"] == "none"
    repository.put("prescreed.yaml", "trust: [designs]\n")
    report = repository.json(*day)
    assert report["designs"][0]["verdict"] == "release"
    assert report["policy"]["not_held"] == []
    assert report["policy"]["from"] == "prescreed.yaml"
    # Nobody trusts himself.
    repository.put("prescreed.yaml", "fail-on: major\n")
    repository.put("designs/prescreed.yaml", "trust: [., ../designs]\n")
    assert repository.status(*day) == 1


@pytest.mark.parametrize(
    "line",
    ["output: ../../x", "format: csv\noutput: x", "cluster: tcp://h:1", "today: 2026-01-15",
     "jobs: 300", "quiet: true", "changed: HEAD", "files-from: /dev/zero", "stdin-path: x",
     "policy: x", "no-cache: true"],
)  # fmt: skip
@pytest.mark.parametrize("folder", ["", "designs/"])
def test_no_file_says_what_only_the_call_says(
    repository: Repository, folder: str, line: str
) -> None:
    repository.put(f"{folder}prescreed.yaml", f"fail-on: minor\n{line}\n")
    done = repository.run("check", "designs")
    name = line.splitlines()[-1].partition(":")[0]
    number = 1 + len(line.splitlines())
    assert done.returncode == 2
    assert done.stderr.startswith(f"{folder}prescreed.yaml:{number}:")
    assert f"'{name}' cannot stand in a file" in done.stderr
    assert sorted(p.name for p in repository.folder.iterdir()) == sorted(
        {".git", "designs", "prescreed.yaml"} if not folder else {".git", "designs"}
    )


def test_the_policy_of_a_commit_holds_whatever_a_change_makes_of_it(
    repository: Repository,
) -> None:
    repository.put("prescreed.yaml", "fail-on: minor\ntrust: [own]\nrules: [pack]\n")
    repository.put("own/prescreed.waivers.yaml", WAIVER)
    repository.put("own/house.yaml", DIRTY)
    rule = (data_folder("rules") / "loops" / "loop-length.yaml").read_text("utf-8")
    repository.put("pack/loops/loop-length.yaml", rule)
    repository.commit()
    day = ("--today", "2026-06-01")
    at_first = repository.json(*day, "designs", "own")
    assert [d["verdict"] for d in at_first["designs"]] == ["hold", "release"]
    repository.put("prescreed.yaml", "fail-on: never\nexclude: ['*']\nknown: k.json\n")
    repository.put("prescreed.waivers.yaml", WAIVER)
    repository.put("own/prescreed.waivers.yaml", "waivers: []\n")
    repository.put("pack/loops/loop-length.yaml", "title: broken\n")
    done = repository.run(
        "check", "--format", "json", *day, "--policy-from", "HEAD", "designs", "own"
    )
    report = json.loads(done.stdout)
    assert done.returncode == 1, done.stderr
    assert [d["verdict"] for d in report["designs"]] == ["hold", "release"]
    assert report["policy"]["from"] == "HEAD:prescreed.yaml"
    assert report["rules"]["digest"] == at_first["rules"]["digest"]
    assert any(
        line.startswith("prescreed.yaml:1: fail-on") for line in report["policy"]["not_held"]
    )
    done = repository.run("check", "--policy-from", "nowhere", "designs")
    assert (done.returncode, "nowhere" in done.stderr) == (2, True)
    done = repository.run("check", "--policy-from", "HEAD", "--policy", "own", "designs")
    assert (done.returncode, "two policies" in done.stderr) == (2, True)


def test_a_named_policy_stands_in_for_that_of_the_root(repository: Repository) -> None:
    repository.put("prescreed.yaml", "fail-on: never\n")
    repository.put("ci/prescreed.yaml", "fail-on: major\nexclude: [designs/old]\n")
    repository.put("ci/prescreed.waivers.yaml", WAIVER)
    repository.put("designs/old/house.yaml", DIRTY)
    for path in ("ci", "ci/prescreed.yaml"):
        report = repository.json("--policy", path, "--today", "2026-06-01", "designs")
        assert [(d["path"], d["verdict"]) for d in report["designs"]] == [
            ("designs/house.yaml", "release")
        ]
        assert report["policy"]["from"] == "ci/prescreed.yaml"
    done = repository.run("check", "--policy", "nowhere", "designs")
    assert (done.returncode, "there is no file or folder" in done.stderr) == (2, True)


def test_a_pin_above_a_submodule_holds_in_it(repository: Repository) -> None:
    other = Repository(repository.folder.parent / "other")
    other.put("s.yaml", DESIGN)
    other.commit()
    repository.git("-c", "protocol.file.allow=always", "submodule", "--quiet", "add",
                   str(other.folder), "vendor")  # fmt: skip
    repository.put("prescreed.yaml", "rules: {edition: '1999-01'}\n")
    assert repository.status("vendor/s.yaml") == 2
    (repository.folder / "prescreed.yaml").unlink()
    assert repository.status("vendor/s.yaml") == 0


def test_a_mistake_in_settings_ends_the_call(repository: Repository) -> None:
    repository.put("prescreed.yaml", "fial-on: minor\n")
    done = repository.run("check", "designs")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == "prescreed.yaml:1:10: 'fial-on' is no setting; did you mean 'fail-on'?\n"


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ("fail-on-open: [room-heta]", "fail-on-open: there is no rule 'room-heta'; did you mean"),
        ("known: gone.json", "known: 'gone.json' cannot be read: No such file or directory"),
        ("known: designs/house.yaml", "known: 'designs/house.yaml': this is no file of known"),
        ("codes: [EN-1246]", "codes: there is no code 'EN-1246'; did you mean 'EN-1264'?"),
    ],
)
def test_what_a_setting_names_is_told_with_its_place(
    repository: Repository, setting: str, words: str
) -> None:
    repository.put("designs/two.yaml", DESIGN)
    repository.put("prescreed.yaml", f"fail-on: minor\n{setting}\n")
    done = repository.run("check", "designs")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"prescreed.yaml:2: {words}")


def test_a_file_named_twice_is_checked_once(repository: Repository) -> None:
    (repository.folder / "link").symlink_to("designs")
    (repository.folder / "designs" / "z.yaml").symlink_to("house.yaml")
    whole = str(repository.folder / "designs" / "house.yaml")
    names = ("designs", "./designs/house.yaml", "link", "link/house.yaml", "link/../designs")
    listed = b"designs/house.yaml\nlink/house.yaml\n./designs/z.yaml\n"
    report = repository.json(*names, "--files-from", "-", stdin=listed)
    assert [design["path"] for design in report["designs"]] == ["./designs/house.yaml"]
    (design,) = repository.json("designs", whole)["designs"]
    assert design["path"] == whole


def test_open_results_can_be_demanded(repository: Repository) -> None:
    text = changed(("heat_load: 700 W, ", ""))
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
    repository.put("designs/house.yaml", changed(("heat_load: 700 W", "heat_load: 1300 W")))
    assert repository.status("designs") == 1
    repository.run("freeze", "designs")
    known = ("--known", "prescreed.known.json")
    assert repository.status(*known, "designs") == 0
    repository.put("designs/house.yaml", changed(("heat_load: 700 W, ", "")))
    assert repository.status(*known, "designs") == 1
    assert repository.status(*known, "--allow-unproven", "designs") == 1
    assert repository.status(*known, "--fail-on", "never", "designs") == 0


@pytest.mark.parametrize("between", [b"\n", b"\r\n", b"\0"])
def test_a_list_of_files(repository: Repository, between: bytes) -> None:
    repository.put("designs/a b.yaml", DESIGN)
    repository.put("notes.md", "no design")
    names = [b"designs/a b.yaml", b"designs/house.yaml", b"notes.md", b"prescreed.yaml", b""]
    listed = between.join(names)
    report = repository.json("--files-from", "-", stdin=listed)
    assert [d["path"] for d in report["designs"]] == ["designs/a b.yaml", "designs/house.yaml"]
    (repository.folder / "list").write_bytes(listed)
    assert repository.json("--files-from", "list")["designs"] == report["designs"]


def test_an_empty_list_is_no_error_and_says_so(repository: Repository) -> None:
    done = repository.run("check", "--files-from", "-")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("exit 0: nothing to judge: the list names no design\n")


def test_designs_can_be_passed_over(repository: Repository) -> None:
    for name in ("house-draft", "old/house", "old/deep/house", "older/house"):
        repository.put(f"designs/{name}.yaml", DESIGN)
    paths = ["designs/house.yaml", "designs/older/house.yaml"]
    globs = ("--exclude", "designs/*-draft.yaml", "--exclude", "designs/old")
    assert [d["path"] for d in repository.json(*globs, "designs")["designs"]] == paths
    # In a policy they start from its folder, and a file that is named is no exception.
    repository.put("prescreed.yaml", "exclude: ['*-draft.yaml', designs/old]\n")
    report = repository.json("designs", "designs/old/house.yaml")
    assert [d["path"] for d in report["designs"]] == paths
    done = repository.run("check", "--verbose", "designs")
    assert "designs/old/house.yaml: passed over (excluded: by 'designs/old')" in done.stderr
    assert "3 files passed over: 3 excluded." in done.stdout
    done = repository.run("check", "--exclude", "*", "designs")
    assert done.returncode == 2
    assert done.stdout.startswith("exit 2: nothing was judged: 5 files passed over: 5 excluded\n")


def test_changed_files_only(repository: Repository) -> None:
    repository.put("designs/sound.yaml", DESIGN)
    repository.commit()
    done = repository.run("check", "--changed", "HEAD")
    assert done.returncode == 0
    assert done.stdout.startswith("exit 0: nothing to judge: nothing differs from HEAD\n")
    repository.put("designs/sound.yaml", DESIGN + "# note\n")
    repository.put("designs/new.yaml", DESIGN)
    paths = [d["path"] for d in repository.json("--changed", "HEAD", "designs")["designs"]]
    assert paths == ["designs/new.yaml", "designs/sound.yaml"]
    assert repository.status("--changed", "HEAD") == 0
    assert len(repository.json("--changed", "HEAD~1")["designs"]) == 2
    done = repository.run("check", "--changed", "no-such-commit", "designs")
    assert done.returncode == 2
    assert "no-such-commit" in done.stderr
    assert repository.run("check", "--changed=--output=x", "designs").returncode == 2


def test_standard_input_with_a_path(repository: Repository) -> None:
    repository.put("prescreed.waivers.yaml", WAIVER)
    repository.put("designs/prescreed.yaml", "codes: [DE]\n")
    words = ("--stdin-path", "designs/house.yaml", "--today", "2026-06-01")
    report = repository.json(*words, stdin=DIRTY.encode())
    (design,) = report["designs"]
    assert (design["path"], design["verdict"], design["codes"]) == (
        "designs/house.yaml", "release", ["EN-1264", "GB-ENG", "DE"],
    )  # fmt: skip
    done = repository.run("check", "--files-from", "-", *words)
    assert done.returncode == 2
    assert "not both" in done.stderr


def test_standard_input_stands_in_for_the_file_of_its_path(repository: Repository) -> None:
    repository.put("designs/house.yaml", DESIGN)
    for order in (("-", "designs"), ("designs", "-")):
        call = ("check", "--format", "json", "--stdin-path", "designs/house.yaml", *order)
        done = repository.run(*call, stdin=DIRTY.encode())
        (design,) = json.loads(done.stdout)["designs"]
        assert design["path"] == "designs/house.yaml"
        assert design["verdict"] == "hold"
        assert done.returncode == 1


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


def test_provenance_has_the_settings_that_hold(repository: Repository) -> None:
    repository.put("prescreed.yaml", "fail-on: minor\ncodes: [EN-1264, DE]\n")
    run = repository.json("--as-of", "2020-01-01", "designs")["run"]
    assert run["settings"]["fail-on"] == "minor"
    assert run["settings"]["codes"] == ["EN-1264", "DE"]
    assert run["settings"]["as-of"] == "2020-01-01"
    assert run["settings_digest"].startswith("sha256:")
    again = repository.json("--as-of", "2020-01-01", "--jobs", "1", "designs")["run"]
    assert again == run


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
