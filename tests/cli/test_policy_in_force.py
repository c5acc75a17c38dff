"""Whose settings hold in a repository: pins, files further down, a commit's, a named one."""

from __future__ import annotations

import json

import pytest

from checker.reading.package_data import data_folder
from tests.cli.repository import DIRTY, WAIVER, Repository
from tests.cli.repository import repository as repository
from tests.example import SOUND as DESIGN


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
        assert line.startswith(f"designs/prescreed.yaml:1: {loosens.partition(':')[0]} is ignored")
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
    assert "designs/prescreed.waivers.yaml is ignored" in report["policy"]["not_held"][0]
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
    assert f"'{name}' cannot be set in a file" in done.stderr
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
    assert (
        done.stderr == "prescreed.yaml:1:10: 'fial-on' is not a setting; did you mean 'fail-on'?\n"
    )


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ("fail-on-open: [room-heta]", "fail-on-open: there is no rule 'room-heta'; did you mean"),
        ("known: gone.json", "known: 'gone.json' cannot be read: No such file or directory"),
        ("known: designs/house.yaml", "known: 'designs/house.yaml': this is not a file of known"),
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


def test_provenance_has_the_settings_that_hold(repository: Repository) -> None:
    repository.put("prescreed.yaml", "fail-on: minor\ncodes: [EN-1264, DE]\n")
    run = repository.json("--as-of", "2020-01-01", "designs")["run"]
    assert run["settings"]["fail-on"] == "minor"
    assert run["settings"]["codes"] == ["EN-1264", "DE"]
    assert run["settings"]["as-of"] == "2020-01-01"
    assert run["settings_digest"].startswith("sha256:")
    again = repository.json("--as-of", "2020-01-01", "--jobs", "1", "designs")["run"]
    assert again == run
