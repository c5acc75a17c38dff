"""An invented job of five subcontractors, played over four rounds through its register."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from contextlib import chdir
from pathlib import Path
from typing import Any

import pytest

from checker.cli import main
from tests.revisions.filled import filled
from tests.revisions.job import FOLDER, sent

HILL, RIDGE, MEADOW = (
    "Invented Hillside Floors",
    "Invented Ridge Radiant",
    "Invented Meadow Heating",
)
PLATEAU, QUAY = "Invented Plateau Chauffage", "Invented Quay Screeds Ltd"
DAYS = {1: "2026-03-02", 2: "2026-03-18", 3: "2026-03-30", 4: "2026-04-13"}


class Job:
    """What each round left: the register, and letters by the name of their file."""

    def __init__(self) -> None:
        self.registers: dict[int, Any] = {}

    def play(self, turn: int, *more: str, again: tuple[str, ...] = ()) -> None:
        """A round: only what came in lies there, with the maps."""
        came = Path("in")
        shutil.rmtree(came, ignore_errors=True)
        shutil.copytree(FOLDER / "maps", came)
        for file in (*(FOLDER / f"round-{turn}").iterdir(), *map(FOLDER.joinpath, again)):
            shutil.copy(file, came)
        if turn == 2:
            form = Path("letters-1/invented-hillside-floors-missing.xlsx").read_bytes()
            given: dict[str, dict[str, float | str]] = {
                "Headers": {"B6": 6, "C6": 25, "D6": 0.5},
                "Floors": {"C6": 8},
                "Loops": {f"G{row}": "10 cm" for row in range(6, 10)},
            }
            (came / "back.xlsx").write_bytes(filled(form, given))
        words = ["review", "in", "--register", "register.json", "--output", f"letters-{turn}"]
        assert main([*words, "--today", DAYS[turn], *more]) == 0
        self.registers[turn] = json.loads(Path("register.json").read_text("utf-8"))

    def point(self, turn: int, sender: str, about: str) -> Any:
        """A point of a sender's one design; empty where there is none."""
        found = [
            one
            for one in self.registers[turn]["points"]
            if (one["contractor"], one["about"]) == (sender, about)
        ]
        return found[0] if found else {"state": ""}

    def states(self, sender: str, about: str) -> list[str]:
        """What a point was after each round."""
        return [self.point(turn, sender, about)["state"] for turn in DAYS]

    @staticmethod
    def letter(turn: int, name: str) -> str:
        """A letter as its reader sees it."""
        return Path(f"letters-{turn}/{name}.md").read_text("utf-8").replace("\\", "")


@pytest.fixture(scope="module", name="job")
def played(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Job]:
    """All four rounds."""
    job = Job()
    with chdir(tmp_path_factory.mktemp("job")):
        Path("prescreed.yaml").write_text("fail-on: major\n")
        job.play(1)
        job.play(2)
        number = job.point(2, MEADOW, "feeds-located")["number"]
        Path("prescreed.waivers.yaml").write_text(
            "waivers:\n  - {rule: header-own-pump, subject: headers.M1, reason: The boiler has a "
            "pump for this header alone., accepted_by: R. Viewer, accepted_on: 2026-03-28, "
            "expires: 2026-12-31}\n"
        )
        accepted = ("--accept", str(number), "--accepted-by", "R. Viewer")
        job.play(3, *accepted, again=("round-2/meadow-view-2-p1.csv",
                                      "round-2/meadow-view-2-p1.answers.yaml"))  # fmt: skip
        job.play(4)
        yield job


def test_the_sheets_are_as_their_senders_wrote_them() -> None:
    for name, content in sent().items():
        assert (FOLDER / name).read_bytes() == content, "python -m tests.revisions.job"
    held = {str(file.relative_to(FOLDER)).replace(os.sep, "/") for file in FOLDER.rglob("*.*")}
    maps = {one for one in held if one.startswith("maps/")}
    assert held == {*sent(), "README.md", *maps}
    assert len(maps) == 5


def test_what_is_missing_is_asked_answered_by_a_form_and_kept(job: Job) -> None:
    for about in ("edge_strip", "ports", "bore", "height"):
        assert job.states(HILL, about) == ["asked", "answered", "answered", "answered"]
    # The bedroom's loop was split: which half the gap was measured at, nobody has said.
    assert job.states(HILL, "wall_gap") == ["asked", "answered", "asked", "asked"]
    assert "invented-hillside-floors-missing.xlsx" in job.letter(1, "invented-hillside-floors")
    assert "Known now, and in order: Edge strip" in job.letter(2, "invented-hillside-floors")
    kept = "Taken from your forms, until a revision of yours says otherwise: edge strip (slab)"
    assert kept in job.letter(4, "invented-hillside-floors")


def test_a_split_loop_is_mended_and_one_that_grew_is_worse(job: Job) -> None:
    assert job.states(HILL, "loop-length") == ["asked", "asked", "asked", "mended"]
    told = job.letter(3, "invented-hillside-floors")
    assert "Mended: Loop longer than its pipe can feed (loop HKV 1.4)." in told
    assert "Loop HKV 1.1 ('Rohrlänge [m]', Heizkreise J8): 108 m; worse than in revision A" in told
    places = {p["subject"]: p["state"] for p in job.point(3, HILL, "loop-length")["places"]}
    assert places == {"loops.HKV 1.1": "asked", "loops.HKV 1.4": "mended"}


def test_loops_numbered_anew_keep_their_points_and_a_new_one_is_new(job: Job) -> None:
    told = job.letter(2, "invented-ridge-radiant")
    assert "Loop 1 ('Pipe length ft', Circuits H10): 350 ft; not so in revision 1" in told
    assert "Mended: Two loops on one port (loop 6)." in told
    assert "loop 4 may have become loop 5, or have gone" in told
    feeds = job.point(2, RIDGE, "feeds-located")
    assert [p["subject"] for p in feeds["places"]] == ["loops.2", "loops.3", "loops.4", "loops.6"]
    assert job.states(RIDGE, "loop-length") == ["asked", "asked", "asked", "mended"]
    # What was doubtful counts as gone, never as mended.
    places = {p["subject"]: p["state"] for p in job.point(4, RIDGE, "loop-length")["places"]}
    assert places == {"loops.1": "mended", "loops.5": "gone"}
    assert "Port 4 of header A: loops 4 and 5" in job.letter(1, "invented-ridge-radiant")


def test_what_other_limits_judge_and_what_is_no_longer_asked_is_not_mended(job: Job) -> None:
    told = job.letter(3, "invented-quay-screeds-ltd")
    assert "Judged otherwise by the limits that are in force for it now" in told
    assert "Mended: Loop longer than its pipe can feed (loop Q3)." in told
    assert job.states(QUAY, "slab-cover") == ["asked", "asked", "gone", "gone"]
    assert job.states(QUAY, "loop-length") == ["asked", "asked", "mended", "mended"]
    told = job.letter(4, "invented-ridge-radiant")
    assert "No longer asked: Antifreeze too weak for the cold outside (the design)" in told
    assert job.states(RIDGE, "frost-protection") == ["asked", "asked", "asked", "gone"]


def test_what_was_left_out_is_gone(job: Job) -> None:
    assert job.states(PLATEAU, "loop-length") == ["asked", "asked", "gone", "gone"]
    told = job.letter(3, "invented-plateau-chauffage")
    assert "not counted as mended; tell us if it was left out by mistake: Loop longer" in told


def test_an_answer_is_accepted_and_so_is_a_finding(job: Job) -> None:
    assert job.states(MEADOW, "feeds-located") == ["asked", "answered", "accepted", "accepted"]
    steps = job.point(4, MEADOW, "feeds-located")["steps"]
    assert [one.get("by", "") for one in steps] == ["", "A. Fitter", "R. Viewer"]
    assert job.states(MEADOW, "header-own-pump") == ["asked", "asked", "accepted", "accepted"]
    assert "Too much pipe on a header without its own pump; accepted by R. Viewer" in job.letter(
        3, "invented-meadow-heating"
    )


def test_who_is_silent_is_chased_once_it_is_due_and_not_when_released(job: Job) -> None:
    assert "Loop longer than its pipe can feed (major): loop V1; asked on 2026-03-02" in job.letter(
        2, "chasing-invented-plateau-chauffage"
    )
    # Until the day that their letter named nobody is chased, nor who holds nothing up.
    assert not [*Path("letters-3").glob("chasing-*")]
    assert not [*Path("letters-4").glob("chasing-*")]


def test_two_sheets_of_one_revision_and_a_name_typed_otherwise_are_asked_about(job: Job) -> None:
    asked = "\n".join(one["about"] for one in job.registers[2]["queries"])
    assert "both say revision 1: the later counts" in asked
    assert "'INVENTED QUAY SCREEDS LTD.' is read as 'Invented Quay Screeds Ltd'" in asked
    assert {one["contractor"] for one in job.registers[4]["submissions"]} == {
        HILL, RIDGE, MEADOW, PLATEAU, QUAY,
    }  # fmt: skip


def test_at_the_end_all_are_released_and_nothing_grave_is_asked(job: Job) -> None:
    stands = json.loads(Path("letters-4/overview.json").read_text("utf-8"))
    assert {one["standing"] for one in stands["designs"]} == {"released"}
    waiting = [one for one in job.registers[4]["points"] if one["state"] == "asked"]
    assert not [one for one in waiting if one["severity"] in ("critical", "major")]
    every = {p["state"] for one in job.registers.values() for p in one["points"]}
    assert every == {"asked", "answered", "accepted", "mended", "gone"}
    numbers = [one["number"] for one in job.registers[4]["points"]]
    assert len(numbers) == len({*numbers})
