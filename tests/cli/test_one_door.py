"""Every command by the same door: beside settings, a pack, waivers and a pin, all judge alike."""

from __future__ import annotations

import json
from datetime import date
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from msgspec.structs import replace

from checker.notes.baseline import Baseline
from checker.notes.waivers import WaiverFile
from checker.reports import FormatOptions
from checker.run.part import basis_of
from checker.run.plan import Plan
from tests.cli.calling import Calling, calling, prescreed, put
from tests.cli.test_pack_check import NEW, SOURCES
from tests.example import SOUND

__all__ = ["calling"]

PACK_RULE = NEW.replace("severity: minor", "severity: critical").replace(
    "severity:", "waivable: yes\nseverity:"
)
COMMANDS: dict[str, tuple[str, ...]] = {
    "check": ("check", "d"),
    "freeze": ("freeze", "--output", "-", "d"),
    "settings": ("settings", "d"),
    "compare": ("compare", "d/house.yaml", "d/house.yaml"),
    "review": ("review", "d", "--output", "letters"),
    "site-sheet": ("site-sheet", "d"),
    "explain": ("explain", "d/house.yaml", "loop-length", "loops.L1"),
    "rules": ("rules",),
    "audit": ("audit", "d/house.yaml"),
    "archive": ("archive", "d", "--output", "a.parquet"),
    "schedule": ("schedule", "d/house.yaml", "--output", "s.xlsx"),
    "quantities": ("quantities", "d/house.yaml"),
    "remedy": ("remedy", "d"),
    "tolerance": ("tolerance", "--draws", "10", "d"),
    "hand-over": ("hand-over", "d/house.yaml", "--output", "pack"),
    "record": ("record", "d/house.yaml", "--form", "f.xlsx"),
}


def policy(extra: str = "") -> None:
    put("pack/sources.yaml", SOURCES)
    put("pack/loops/long-feeds.yaml", PACK_RULE)
    put("prescreed.yaml", f"rules: {{paths: [pack]{extra}}}\n")
    put("d/house.yaml", SOUND)


@pytest.mark.parametrize("command", COMMANDS)
def test_a_pin_that_is_not_met_ends_every_command(call: Calling, command: str) -> None:
    policy(", edition: '1999-01'")
    done = call(*COMMANDS[command])
    assert (done.status, done.out) == (2, ""), done
    assert done.err.startswith("prescreed.yaml:1:")
    assert "The rules' edition is pinned to '1999-01'" in done.err
    assert sorted(path.name for path in Path().iterdir()) == ["d", "pack", "prescreed.yaml"]


@pytest.mark.parametrize("command", COMMANDS)
def test_a_setting_that_is_none_ends_every_command(call: Calling, command: str) -> None:
    policy()
    put("prescreed.yaml", "output: x\n")
    done = call(*COMMANDS[command])
    assert (done.status, done.out) == (2, "")
    assert "prescreed.yaml:1:9: 'output' cannot be set in a file" in done.err


@pytest.mark.parametrize("command", COMMANDS)
def test_codes_that_there_are_not_end_every_command(call: Calling, command: str) -> None:
    policy()
    put("prescreed.yaml", "codes: [EN-1246]\n")
    done = call(*COMMANDS[command])
    assert (done.status, done.out) == (2, "")
    assert "prescreed.yaml:1: codes: there is no code 'EN-1246'" in done.err


def test_every_command_judges_by_the_pack_of_the_policy(call: Calling) -> None:
    policy()
    assert '"rule":"long-feeds"' in call("check", "--format", "json", "d").out
    assert call("check", "d").status == 1
    assert '"rule":"long-feeds"' in call("freeze", "--output", "-", "d").out
    assert "long-feeds" in call("rules", "long-feeds").out
    assert call("explain", "d/house.yaml", "long-feeds", "loops.L1").status == 0
    sheet = call("site-sheet", "d")
    assert (sheet.status, "long-feeds" in sheet.err) == (1, True)
    compared = call("compare", "d/house.yaml", "d/house.yaml", "--format", "json").json
    assert "long-feeds" in json.dumps(compared)
    assert call("review", "d", "--output", "letters").status == 0
    assert "Feeds longer than we run them" in Path("letters/overview.md").read_text()


def test_a_waiver_of_the_policy_counts_for_the_sheet_too(call: Calling) -> None:
    policy()
    put(
        "prescreed.waivers.yaml",
        "waivers:\n  - {rule: long-feeds, subject: 'loops.L*', reason: The hall needs heat., "
        "accepted_by: A, accepted_on: 2026-01-01, expires: 2026-12-31}\n",
    )
    day = ("--today", "2026-06-01")
    assert call("check", *day, "d").status == 0
    assert call("site-sheet", *day, "d").status == 0
    assert call("site-sheet", "--today", "2027-06-01", "d").status == 1


def test_review_and_audit_take_nothing_from_what_they_judge(call: Calling) -> None:
    put("in/house.yaml", SOUND.replace("pressure: 4 bar", "pressure: 2.5 bar"))
    put("in/prescreed.yaml", "exclude: ['*']\nfail-on: never\noutput: x\n")
    put(
        "in/prescreed.waivers.yaml",
        "waivers:\n  - {rule: loop-length, subject: loops.L1, reason: So., accepted_by: Sender, "
        "accepted_on: 2026-01-01, expires: 2026-12-31}\n",
    )
    done = call("review", "in", "--output", "letters")
    assert done.status == 0, done
    assert "in/prescreed.waivers.yaml is not used: it is among what is judged" in done.err
    assert "2.5 bar" in "".join(path.read_text() for path in Path("letters").glob("*.md"))
    done = call("audit", "in")
    assert done.status == 0, done


PLAN = Plan(formats=(FormatOptions("json"),))
OTHER: dict[str, Any] = {
    "codes": ("US",),
    "on": date(2010, 1, 1),
    "rules": ("pack",),
    "formats": (FormatOptions("text"),),
    "waivers": (WaiverFile("/d", "w", ()),),
    "today": date(2026, 1, 1),
    "newest_day": date(2026, 1, 2),
    "known": Baseline("/d", b"{}"),
    "folder": "/elsewhere",
    "standard_input": "house.yaml",
    "compiled": b"other rules",
    "further_codes": ("DE",),
    "strict": True,
    "accepted": ("an answer",),
    "second_opinion": True,
    "remedies": True,
    "changes": ("plant.supply=40 °C",),
    "units": "US",
    "decimal": "comma",
}


@pytest.mark.parametrize("part", Plan.__struct_fields__)
def test_every_part_of_a_plan_is_a_part_of_the_key(part: str) -> None:
    # The day is part of the whole key only where waivers are judged by it; else of the keys of
    # those designs that may be ahead of it.
    days = ("today", "newest_day")
    plan = replace(PLAN, waivers=OTHER["waivers"]) if part in days else PLAN
    assert getattr(plan, part) != OTHER[part]
    assert basis_of(plan) != basis_of(replace(plan, **{part: OTHER[part]}))


def test_each_part_of_the_policy_gives_another_verdict_from_the_same_cache(
    call: Calling,
) -> None:
    put("d/house.yaml", SOUND)
    words = ("check", "--format", "json", "d", "--today", "2026-06-01")

    def seen() -> tuple[str, int]:
        report = call(*words).json
        return report["designs"][0]["verdict"], len(report["designs"][0]["results"])

    assert seen()[0] == "release"
    policy()
    assert seen()[0] == "hold"
    put("pack/loops/long-feeds.yaml", PACK_RULE.replace("at_most: 7 m", "at_most: 70 m"))
    assert seen()[0] == "release"
    put("pack/loops/long-feeds.yaml", PACK_RULE)
    put(
        "prescreed.waivers.yaml",
        "waivers:\n  - {rule: long-feeds, subject: 'loops.L*', reason: The hall needs heat., "
        "accepted_by: A, accepted_on: 2026-01-01, expires: 2026-12-31}\n",
    )
    assert seen()[0] == "release"
    words = (*words[:-1], "2027-01-01")
    assert seen()[0] == "hold"


def test_an_archive_holds_to_the_policy_and_passes_over_what_is_no_design(call: Calling) -> None:
    pytest.importorskip("pyarrow")
    put("jobs/a/house.yaml", SOUND)
    put("jobs/a/house-old.yaml", "design: 1\nloops: 3\n")
    put("jobs/deploy.yaml", "kind: Service\n")
    put("prescreed.yaml", "exclude: ['*-old.yaml']\n")
    done = call("archive", "jobs", "--output", "a.parquet")
    assert (done.status, done.err.partition(" in ")[0]) == (0, "1 design"), done
    Path("prescreed.yaml").unlink()
    done = call("archive", "jobs", "--output", "a.parquet")
    assert (done.status, "house-old.yaml:2" in done.err, "deploy" in done.err) == (2, True, False)


PASSED_OVER = sorted({*COMMANDS} - {"settings", "rules", "audit"})


@pytest.mark.parametrize("command", PASSED_OVER)
def test_a_command_whose_designs_are_all_passed_over_says_so(call: Calling, command: str) -> None:
    put("d/house.yaml", SOUND)
    put("prescreed.yaml", "exclude: [d]\n")
    done = call(*COMMANDS[command])
    words = "nothing was judged" if command != "record" else "one design"
    assert (done.status, words in done.out + done.err) == (2, True), done
    assert {one.name for one in Path().iterdir()} == {"d", "prescreed.yaml"}


@pytest.mark.parametrize("sides", [("d/house.yaml", "d/new.yaml"), ("d/new.yaml", "d/house.yaml")])
def test_a_side_that_is_passed_over_is_no_comparison(call: Calling, sides: tuple[str, str]) -> None:
    put("d/house.yaml", SOUND)
    put("d/new.yaml", SOUND)
    put("prescreed.yaml", "exclude: [d/new.yaml]\n")
    assert call("compare", *sides).status == 2


@pytest.mark.parametrize("command", ["audit", "archive", "freeze", "review", "site-sheet"])
def test_a_folder_without_any_design_is_told(call: Calling, command: str) -> None:
    put("d/deploy.yaml", "kind: Service\n")
    done = call(*(word.replace("d/house.yaml", "d") for word in COMMANDS[command]))
    assert (done.status, done.err.count("\n")) == (2, 1), done


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """The sound design as a workbook."""
    folder = tmp_path_factory.mktemp("book")
    (folder / "house.yaml").write_text(SOUND, "utf-8")
    made = prescreed("schedule", "house.yaml", "--output", "book.xlsx", cwd=folder)
    assert made.returncode == 0, made
    return (folder / "book.xlsx").read_bytes()


@pytest.mark.parametrize("command", sorted({*COMMANDS} - {"settings", "rules", "record"}))
def test_every_command_takes_a_workbook_for_a_design(
    call: Calling, command: str, book: bytes
) -> None:
    put("house.yaml", SOUND)
    put("d/book.xlsx", book)
    words = [word.replace("house.yaml", "book.xlsx") for word in COMMANDS[command]]
    done = call(*words)
    # What the workbook lacks, answers, is open; it is judged all the same.
    assert done.status == (1 if command in ("check",) else 0), done
    if command == "audit":
        audited = call(*words, "--format", "json").json
        digest = f"sha256:{sha256(book).hexdigest()}"
        assert [(one["path"], one["digest"]) for one in audited["inputs"]] == [
            ("d/book.xlsx", digest)
        ]
