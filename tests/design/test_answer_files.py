"""Answers in a file beside their design count as if they stood in it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from msgspec import UNSET

from checker.outcome.answers import digest
from checker.outcome.report import DesignReport
from checker.reading.package_data import data_folder
from checker.run.batch import Plan, check
from tests.example import DESIGN, SEEN, SOUND, result

MIXING = ("mixing-needed", "design")
ASKING = SOUND.replace(SEEN, "")
ANSWER = "{rule: mixing-needed, subject: design, result: as wanted, by: A. Fitter, on: 2026-04-20}"
ANSWERS = f"answers: 1\nseen:\n  - {ANSWER}\n"


def judged(
    folder: Path, answers: str, design: str = ASKING, plan: Plan | None = None
) -> DesignReport:
    """The report of a design with answers beside it."""
    (folder / "house.answers.yaml").write_text(answers, "utf-8")
    found, unreadable = check([(f"{folder}/house.yaml", design.encode())], plan or Plan())
    assert not unreadable, unreadable
    return found[0]


def refused(folder: Path, answers: str) -> list[str]:
    """Why a design with these answers beside it is refused."""
    (folder / "house.answers.yaml").write_text(answers, "utf-8")
    found, unreadable = check([(f"{folder}/house.yaml", ASKING.encode())])
    assert not found
    return [one.message.removeprefix(f"{folder}/") for one in unreadable]


def test_they_count_and_say_where_they_stand(tmp_path: Path) -> None:
    found = judged(tmp_path, ANSWERS)
    assert found.verdict == "release"
    answer = result(found, *MIXING).answer
    assert answer is not UNSET
    assert (answer.path, answer.line, answer.column) == (f"{tmp_path}/house.answers.yaml", 3, 5)
    assert judged(tmp_path, "answers: 1\n").verdict == "unproven"


def test_what_it_was_about_is_asked_again_where_it_differs(tmp_path: Path) -> None:
    held = ANSWERS.replace("2026-04-20}", "2026-04-20, values: {value: 55 °C}}")
    assert judged(tmp_path, held).verdict == "release"
    found = judged(tmp_path, held.replace("55 °C", "60 °C"))
    assert found.verdict == "unproven"
    assert "value was 60 °C and is 55 °C" in result(found, *MIXING).message


def test_a_leak_test_is_answered_by_a_further_test_only(tmp_path: Path) -> None:
    tight = (
        ANSWERS
        + "  - "
        + ANSWER.replace("mixing-needed", "test-tight").replace("design", "pressure_tests.first")
    )
    found = judged(tmp_path, tight, DESIGN)
    assert result(found, "test-tight", "pressure_tests.first").answer is UNSET
    assert found.verdict == "unproven"
    assert found.asides[0].startswith(f"{tmp_path}/house.answers.yaml:4:5: seen[2]: ")


@pytest.mark.parametrize(
    ("first", "second", "verdict"),
    [
        ("as wanted, on: 2026-04-02", "not as wanted, on: 2026-04-03", "hold"),
        ("not as wanted, on: 2026-04-02", "as wanted, on: 2026-04-03", "release"),
        ("as wanted, on: 2026-04-03", "not as wanted, on: 2026-04-02", "release"),
        ("as wanted, on: 2026-04-02", "not as wanted, on: 2026-04-02", "hold"),
        ("not as wanted, on: 2026-04-02", "as wanted, on: 2026-04-02", "hold"),
    ],
)
def test_of_several_the_latest_counts_and_the_other_stays_visible(
    tmp_path: Path, first: str, second: str, verdict: str
) -> None:
    def seen(words: str, by: str) -> str:
        return f"  - {{rule: mixing-needed, subject: design, result: {words}, by: {by}}}\n"

    design = ASKING + "seen:\n" + seen(first, "A. Fitter")
    found = judged(tmp_path, "answers: 1\nseen:\n" + seen(second, "B. Builder"), design)
    assert found.verdict == verdict
    message = result(found, *MIXING).message
    assert "A. Fitter" in message
    assert "B. Builder" in message


def test_none_counts_but_those_that_are_accepted(tmp_path: Path) -> None:
    says = {"rule": "mixing-needed", "subject": "design", "result": "as wanted"}
    own = digest({**says, "by": "A. Fitter", "on": "2026-04-20"})
    other = digest({**says, "by": "A. Fitter", "on": "2026-04-21"})
    assert judged(tmp_path, ANSWERS, plan=Plan(accepted=(own,))).verdict == "release"
    for accepted in ((), (other,)):
        found = judged(tmp_path, ANSWERS, plan=Plan(accepted=accepted))
        assert found.verdict == "unproven"
        assert "has not accepted the answer" in result(found, *MIXING).message
    turned_down = ANSWERS.replace("result: as", "result: not as")
    assert judged(tmp_path, turned_down, plan=Plan(accepted=())).verdict == "unproven"


@pytest.mark.parametrize(
    ("answers", "told"),
    [
        ("seen: []\n", "house.answers.yaml:1:1: The file starts with 'answers: 1'."),
        ("answers: 2\n", "house.answers.yaml:1:1: The file starts with 'answers: 1'."),
        ("answers: 1\nsen: []\n", "house.answers.yaml:2:1: The key 'sen' is not known here"),
        (
            ANSWERS.replace("on: 2026-04-20", "on: 20.4.2026"),
            "house.answers.yaml:3:82: seen[1].on: '20.4.2026' is not a date",
        ),
        (
            ANSWERS.replace("by: A. Fitter, ", ""),
            "house.answers.yaml:3:5: seen[1]: 'by' is missing",
        ),
        ("answers: 1\nseen: {}\n", "house.answers.yaml:2:7: seen: a list is expected here"),
        ("answers: [\n", "house.answers.yaml:"),
    ],
)
def test_a_mistake_in_them_is_told_with_its_place(tmp_path: Path, answers: str, told: str) -> None:
    assert refused(tmp_path, answers)[0].startswith(told)


def test_their_schema_is_that_of_the_designs() -> None:
    folder = data_folder("schemas")
    design, answers = (
        json.loads((folder / f"{name}.schema.json").read_text("utf-8"))
        for name in ("design", "answers")
    )
    assert answers["properties"]["seen"] == design["properties"]["seen"]
