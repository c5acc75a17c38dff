"""Answers beside a design, through the commands: found, named, changed, reviewed."""

from __future__ import annotations

from pathlib import Path

from tests.cli import test_sheets as sheets
from tests.cli.calling import Calling, calling, git, put
from tests.example import SEEN, SOUND

__all__ = ["calling"]

DESIGN = SOUND.replace(SEEN, "")
ANSWERS = "answers: 1\n" + SEEN


def test_naming_them_means_their_design(call: Calling) -> None:
    put("jobs/house.yaml", DESIGN)
    put("jobs/house.answers.yaml", ANSWERS)
    for path in ("jobs", "jobs/house.yaml", "jobs/house.answers.yaml"):
        done = call("check", path, "--format", "json", "--no-cache")
        assert done.status == 0
        (design,) = done.json["designs"]
        assert (design["path"], design["verdict"]) == ("jobs/house.yaml", "release")
    states = [one["state"] for one in call("check", "jobs", "--format", "json").json["files"]]
    assert states == ["read", "judged"]
    Path("jobs/house.yaml").unlink()
    lost = call("check", "jobs/house.answers.yaml")
    assert lost.status == 2
    assert "These answers belong to no design" in lost.err


def test_a_workbook_has_answers_too(call: Calling) -> None:
    """What counts in the verdict is never called answers to no design."""
    Path("jobs").mkdir()
    sheets.form(Path("jobs/house.xlsx"))
    put("jobs/house.answers.yaml", f"answers: 1\nseen:\n{LAID}")
    for path in ("jobs", "jobs/house.xlsx", "jobs/house.answers.yaml"):
        (design,) = call("check", path, "--format", "json", "--no-cache").json["designs"]
        assert design["path"] == "jobs/house.xlsx"
        answered = {one["rule"] for one in design["results"] if "answer" in one}
        assert answered == {"header-purge"}
    files = call("check", "jobs", "--format", "json").json["files"]
    assert [(one["state"], one["why"]) for one in files] == [
        ("read", "answers: to jobs/house.xlsx"),
        ("judged", "found"),
    ]


LAID = """\
  - {rule: edge-apron, subject: floors.slab, result: as wanted, by: B. Layer, on: 2026-04-03, what: apron taped}
  - {rule: header-purge, subject: headers.H1, result: as wanted, by: C. Filler, on: 2026-04-02, what: each loop alone}
"""


def test_an_answer_is_told_wherever_its_question_was(call: Calling) -> None:
    """Limiter tried, apron taped, loops purged: in reports, letters and on the site sheet."""
    anhydrite = DESIGN.replace("material: cement, cover", "material: calcium sulphate, cover")
    for name, answers in (("open", ""), ("told", SEEN + LAID)):
        put(f"{name}/house.yaml", anhydrite.replace("moisture: 1.6 %", "moisture: 0.4 %") + answers)
        for form in ("text", "json", "html", "markdown"):
            call("check", name, "--format", form, "--output", f"{name}.{form}")
        call("site-sheet", f"{name}/house.yaml", "--output", f"{name}.sheet")
        call("review", name, "--output", f"{name}.letters")
        Path(f"{name}.letter").write_text(Path(f"{name}.letters/not-named.html").read_text())
    for form in ("text", "json", "html", "markdown", "sheet", "letter"):
        before, after = (Path(f"{name}.{form}").read_text("utf-8") for name in ("open", "told"))
        for person in ("A. Fitter", "B. Layer", "C. Filler"):
            assert person not in before
            assert person in after, (form, person)


def test_what_is_kept_of_a_design_does_not_outlast_its_answers(call: Calling) -> None:
    put("house.yaml", DESIGN)
    statuses = []
    for text in ("", ANSWERS, ANSWERS.replace("result: as", "result: not as"), ""):
        if text:
            put("house.answers.yaml", text)
        else:
            Path("house.answers.yaml").unlink(missing_ok=True)
        statuses += [call("check", "house.yaml").status for _ in range(2)]
    assert statuses == [1, 1, 0, 0, 1, 1, 1, 1]


def test_a_sender_answers_in_vain_until_the_answer_is_accepted(call: Calling) -> None:
    put("sent/house.yaml", DESIGN)
    put("sent/house.answers.yaml", ANSWERS)
    assert call("review", "sent", "--output", "letters").status == 0
    letter = Path("letters/not-named.md").read_text("utf-8")
    assert "That is not proven." in letter
    asked = letter.partition("### Please confirm")[2].partition("###")[0]
    assert "**Hot water that must be kept out of the floor (critical)**" in asked
    assert "answered by A. Fitter, 2026-04-20: as wanted; not accepted yet" in asked
    overview = Path("letters/overview.md").read_text("utf-8")
    assert "| Loops | On hold | Unproven |" in overview
    assert "| 2 | 0 | 1 |" in overview


def test_a_design_differs_where_its_answers_do(call: Calling) -> None:
    git("init", "-q")
    put("house.yaml", DESIGN)
    put("other.yaml", DESIGN)
    put("house.answers.yaml", "answers: 1\n")
    git("add", ".")
    git("commit", "-q", "-m", "first")
    assert call("check", "--changed", "HEAD").status == 0
    put("house.answers.yaml", ANSWERS)
    done = call("check", "--changed", "HEAD", "--format", "json")
    assert [one["path"] for one in done.json["designs"]] == ["./house.yaml"]
    Path("house.answers.yaml").unlink()
    done = call("check", "--changed", "HEAD", "--format", "json")
    assert [one["path"] for one in done.json["designs"]] == ["./house.yaml"]
