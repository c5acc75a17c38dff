"""What was found before: never trusted when damaged, never shared where something differs."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from msgspec.msgpack import encode
from msgspec.structs import replace

from checker.reports import FormatOptions
from checker.run import batch, judging, rules_in_force
from checker.run.batch import Plan
from checker.run.cache import Cache, key_of
from tests.design.designs import generate
from tests.example import SOUND

PLAN = Plan(formats=(FormatOptions("json"),))
Whole = tuple[object, ...]


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    made = tmp_path_factory.mktemp("designs")
    paths = []
    for number in range(12):
        path = made / f"h{number:03}.yaml"
        path.write_text(generate(number, loops=2), "utf-8")
        paths.append(str(path))
    (made / "bad.yaml").write_text("design: 3\n", "utf-8")
    return [str(made / "bad.yaml"), *paths]


@pytest.fixture(scope="module")
def filled(files: list[str], tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Whole]:
    """A cache in which all of it is kept, to be copied, and what was found."""
    path = tmp_path_factory.mktemp("filled") / "own" / "c.sqlite"
    cache = Cache(path)
    found = whole(files, PLAN, cache)
    cache.close()
    return path, found


def whole(files: list[str], plan: Plan, cache: Cache | None, jobs: int = 1) -> Whole:
    chunks = list(batch.run(files, plan, jobs, cache=cache))
    return (
        [piece for chunk in chunks for piece in chunk.pieces[0]],
        [chunk.totals for chunk in chunks],
        [problem for chunk in chunks for problem in chunk.unreadable],
    )


def forbid(monkeypatch: pytest.MonkeyPatch) -> None:
    def check(*_: object, **__: object) -> None:
        raise AssertionError("computed although it was kept")

    monkeypatch.setattr(judging, "check", check)


def test_a_warm_run_computes_nothing_and_says_the_same(
    files: list[str], filled: tuple[Path, Whole], monkeypatch: pytest.MonkeyPatch
) -> None:
    path, cold = filled
    cache = Cache(path)
    assert cold == whole(files, PLAN, None)
    forbid(monkeypatch)
    assert whole(files, PLAN, cache) == cold


def test_the_day_of_the_check_counts_for_designs_that_may_be_ahead_of_it(
    files: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kept verdict of before the day that a record names does not stand after it, or the other
    way round; and where all days are past, another day finds what was kept."""
    cache = Cache(tmp_path / "c.sqlite")
    before, on = (replace(PLAN, today=date(2026, 4, day)) for day in (1, 2))
    (tmp_path / "sound.yaml").write_text(SOUND, "utf-8")
    own = [str(tmp_path / "sound.yaml")]
    ahead, there = whole(own, before, cache), whole(own, on, cache)
    assert ahead != there
    assert (ahead, there) == (whole(own, before, None), whole(own, on, None))
    assert (ahead, there) == (whole(own, before, cache), whole(own, on, cache))
    late = [replace(PLAN, today=date(2026, month, 1)) for month in (10, 11)]
    past = whole([*own, *files], late[0], cache)
    forbid(monkeypatch)
    assert whole([*own, *files], late[1], cache) == past


def test_one_changed_design_is_the_only_one_computed(
    files: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = [shutil.copy(path, str(tmp_path)) for path in files]
    cache = Cache(tmp_path / "c.sqlite")
    whole(files, PLAN, cache)
    with open(files[3], "a", encoding="utf-8") as file:
        file.write("# changed\n")
    computed: list[str] = []
    real = judging.entries

    def entries(left: list[tuple[str, bytes | None]], plan: Plan) -> Iterator[batch.Entry]:
        computed.extend(path for path, _ in left)
        return real(left, plan)

    monkeypatch.setattr(batch, "entries", entries)
    whole(files, PLAN, cache)
    assert computed == [files[3]]


@pytest.mark.parametrize(
    "other",
    [
        Plan(formats=(FormatOptions("text"),)),
        Plan(formats=(FormatOptions("json"),), on=date(2010, 1, 1)),
        Plan(formats=(FormatOptions("json"),), codes=("US",)),
    ],
)
def test_another_option_is_another_result(
    files: list[str], filled: tuple[Path, Whole], tmp_path: Path, other: Plan
) -> None:
    cache = Cache(shutil.copytree(filled[0].parent, tmp_path / "own") / "c.sqlite")
    assert whole(files, other, cache) == whole(files, other, None) != filled[1]


def test_a_changed_rule_is_another_result(files: list[str], tmp_path: Path) -> None:
    pack = tmp_path / "pack" / "loops"
    pack.mkdir(parents=True)
    rule = (Path(__file__).parents[2] / "rules" / "loops" / "loop-length.yaml").read_text("utf-8")
    (pack / "loop-length.yaml").write_text(rule, "utf-8")
    plan = Plan(formats=(FormatOptions("json"),), rules=(str(tmp_path / "pack"),))
    cache = Cache(tmp_path / "c.sqlite")
    before = rules_in_force.compiled_rules(plan.rules, cache)
    (pack / "loop-length.yaml").write_text(rule + "# another\n", "utf-8")
    assert rules_in_force.compiled_rules(plan.rules, cache) != before


@pytest.mark.parametrize("damage", ["garbage", "cut", "entry", "empty", "sum alone", "text"])
def test_a_damaged_cache_is_ignored_and_rebuilt(
    files: list[str], filled: tuple[Path, Whole], tmp_path: Path, damage: str
) -> None:
    path = shutil.copytree(filled[0].parent, tmp_path / "own") / "c.sqlite"
    cold = filled[1]
    if damage == "garbage":
        path.write_bytes(b"not a database at all" * 500)
    elif damage == "cut":
        path.write_bytes(path.read_bytes()[:5000])
    else:
        connection = sqlite3.connect(path)
        rows = connection.execute("SELECT key, entry FROM entries").fetchall()
        for key, entry in rows:
            flipped = bytearray(entry)
            flipped[len(flipped) // 2] ^= 0xFF
            others: dict[str, bytes | str] = {
                "empty": b"",
                "sum alone": b"\0" * 4,
                "text": "a text",
            }
            spoilt = others.get(damage, bytes(flipped))
            connection.execute("UPDATE entries SET entry = ? WHERE key = ?", (spoilt, key))
        connection.commit()
        connection.close()
    again = Cache(path)
    assert whole(files, PLAN, again) == cold
    assert whole(files, PLAN, again) == cold
    again.close()


def test_a_cache_that_cannot_be_written_does_no_harm(files: list[str], tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", "utf-8")
    cache = Cache(tmp_path / "file" / "c.sqlite")
    assert whole(files, PLAN, cache) == whole(files, PLAN, None)


@pytest.mark.parametrize("which", ["folder", "file"])
@pytest.mark.parametrize("how", ["group", "others", "owner"])
def test_what_others_may_have_written_is_not_used(
    files: list[str],
    filled: tuple[Path, Whole],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    which: str,
    how: str,
) -> None:
    path = shutil.copytree(filled[0].parent, tmp_path / "own") / "c.sqlite"
    cache = Cache(path)
    assert (cache.refused, path.parent.stat().st_mode & 0o777) == ("", 0o700)
    cache.close()
    cold = filled[1]
    spoilt = path if which == "file" else path.parent
    if how == "owner":
        uid = os.getuid() + 1
        monkeypatch.setattr(os, "getuid", lambda: uid)
        if which == "file":
            return  # the folder's owner is the file's
    else:
        spoilt.chmod(0o770 if how == "group" else 0o707)
    again = Cache(path)
    assert str(spoilt) in again.refused
    assert again.get([key_of(b"x")]) == {}
    assert whole(files, PLAN, again) == cold


def test_an_own_link_to_an_own_folder_is_followed(files: list[str], tmp_path: Path) -> None:
    (tmp_path / "large").mkdir(mode=0o700)
    (tmp_path / "own").symlink_to("large")
    cache = Cache(tmp_path / "own" / "c.sqlite")
    assert cache.refused == ""
    whole(files, PLAN, cache)
    cache.close()
    assert (tmp_path / "large" / "c.sqlite").stat().st_size > 4096


def test_the_rules_are_kept_compiled(tmp_path: Path) -> None:
    cache = Cache(tmp_path / "c.sqlite")
    first = rules_in_force.compiled_rules((), cache)
    assert rules_in_force.compiled_rules((), cache) == first
    # As bytes, for a number that is not known is unlike itself.
    assert (
        encode(rules_in_force.rulebook((), first)) == encode(rules_in_force.rulebook(())) == first
    )


def test_a_checkout_keeps_its_compiled_rules_beside_its_bytecode(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    loaded: list[tuple[str, ...]] = []
    load = rules_in_force._loaded

    def counting(rules: tuple[str, ...]) -> Any:
        loaded.append(rules)
        return load(rules)

    monkeypatch.setattr(rules_in_force, "_loaded", counting)
    monkeypatch.setattr(rules_in_force, "_ready_made", lambda: b"")
    monkeypatch.setattr(
        rules_in_force, "_bytecode", lambda: str(tmp_path / rules_in_force.PACKAGED)
    )
    monkeypatch.setattr("sys.dont_write_bytecode", True)
    fresh = rules_in_force.compiled_rules((), None)
    assert [*tmp_path.iterdir()] == []
    monkeypatch.setattr("sys.dont_write_bytecode", False)
    assert rules_in_force.compiled_rules((), None) == fresh
    assert len(loaded) == 2
    assert [path.name for path in tmp_path.iterdir()] == [rules_in_force.PACKAGED]
    assert rules_in_force.compiled_rules((), None) == fresh
    assert len(loaded) == 2
    # Another program, or a rule that changed, has another key.
    monkeypatch.setattr(rules_in_force, "program", lambda: b"another")
    assert rules_in_force.compiled_rules((), None) == fresh
    assert len(loaded) == 3
