"""Which files of a repository a call judges: lists, exclusions, changes, standard input."""

from __future__ import annotations

import argparse
import io
import json
import sys

import pytest

from checker.reading import bounded
from checker.run.designs_named import named_designs
from checker.run.writer import Unwritable
from tests.cli.repository import DIRTY, WAIVER, Repository
from tests.cli.repository import repository as repository
from tests.cli.test_sheets import form
from tests.example import SOUND as DESIGN


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


def test_a_list_names_workbooks_too(repository: Repository) -> None:
    form(repository.folder / "designs" / "form.xlsx")
    repository.put("designs/prices.csv", "pipe,price\np16,1.20\n")
    report = repository.json("--files-from", "-", stdin=b"designs/form.xlsx\ndesigns/prices.csv\n")
    assert [one["path"] for one in report["designs"]] == ["designs/form.xlsx"]
    assert [(one["path"], one["why"]) for one in report["files"] if one["state"] != "judged"] == [
        ("designs/prices.csv", "a sheet without a map")
    ]


@pytest.mark.parametrize("source", ["-", "list"])
def test_no_list_is_cut(
    repository: Repository, monkeypatch: pytest.MonkeyPatch, source: str
) -> None:
    """A list that is too long is refused: what is beyond its end would not be judged."""
    names = b"designs/house.yaml\ndesigns/other.yaml\n"
    (repository.folder / "list").write_bytes(names)
    monkeypatch.chdir(repository.folder)
    monkeypatch.setattr(bounded, "LARGEST_RECORD", len(names) - 1)
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(names)))
    asked = argparse.Namespace(paths=[], files_from=source)
    with pytest.raises(Unwritable, match="it has more than the 37 bytes that it may have"):
        named_designs(argparse.ArgumentParser(), asked)


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
    assert "3 files passed over: excluded." in done.stdout
    done = repository.run("check", "--exclude", "*", "designs")
    assert done.returncode == 2
    assert done.stdout.startswith("exit 2: nothing was judged: 5 files passed over: excluded\n")


def test_changed_files_only(repository: Repository) -> None:
    repository.put("designs/sound.yaml", DESIGN)
    repository.commit()
    done = repository.run("check", "--changed", "HEAD")
    assert done.returncode == 0
    assert done.stdout.startswith("exit 0: nothing to judge: no design differs from HEAD\n")
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
