"""From spreadsheets never seen before to letters, as a person does it."""

from __future__ import annotations

from pathlib import Path

from tests.cli.calling import Calling, calling, prescreed, put
from tests.example import DESIGN, changed
from tests.intake.workbooks import FOLDER

__all__ = ["calling"]


def test_from_an_unseen_spreadsheet_to_a_letter_in_three_commands(tmp_path: Path) -> None:
    sheet = tmp_path / "ridge-lane-12.xlsx"
    sheet.write_bytes((FOLDER / "ridge-lane-12.xlsx").read_bytes())
    plan = prescreed("intake", "--suggest", sheet.name, cwd=tmp_path)
    assert plan.returncode == 0
    (tmp_path / "ridge.map.yaml").write_text(plan.stdout, "utf-8")
    taken = prescreed(
        "intake", sheet.name, "--map", "ridge.map.yaml", "--output", "designs", cwd=tmp_path
    )
    assert (taken.returncode, taken.stderr) == (0, "")
    done = prescreed("review", "designs", "--by", "project", "--output", "letters", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    names = sorted(path.name for path in (tmp_path / "letters").iterdir())
    assert names == [
        "overview.html",
        "overview.md",
        "overview.xlsx",
        "ridge-lane-12.html",
        "ridge-lane-12.md",
    ]
    letter = (tmp_path / "letters" / "ridge-lane-12.md").read_text("utf-8")
    assert "Two loops on one port (major" in letter.replace("\\", "")
    assert "Circuits H11" in letter
    assert "What we ask you for" in letter


def test_the_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text(DESIGN, "utf-8")
    for folder in ("one", "two"):
        assert prescreed("review", "a.yaml", "--output", folder, cwd=tmp_path).returncode == 0
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()


def test_a_waived_finding_is_not_asked_to_change(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text(changed(("length: 88 m", "length: 128 m")), "utf-8")
    (tmp_path / "prescreed.waivers.yaml").write_text(
        "waivers:\n  - {rule: loop-length, subject: loops.L1, reason: The maker allows 130 m for this pipe., "
        "accepted_by: A. Reviewer, accepted_on: 2026-02-01, expires: 2026-12-31}\n"
    )
    done = prescreed("review", "a.yaml", "--output", "out", "--today", "2026-03-01", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    text = (tmp_path / "out" / "not-named.md").read_text("utf-8")
    assert ": 128 m" not in text
    assert "1 more point was reviewed and is accepted as it is:" in text
    told = "Loop L1: Loop longer than its pipe can feed; accepted by A. Reviewer until 2026-12-31."
    assert told in text.replace("\\", "")
    assert told in (tmp_path / "out" / "not-named.html").read_text("utf-8")
    assert done.stdout.startswith("1 letter about 1 project: out")


def test_hostile_names_stay_in_the_folder(tmp_path: Path) -> None:
    for number, name in enumerate(("../../up", "Overview", "///", "x" * 190, "a b", "ä b")):
        (tmp_path / f"{number}.yaml").write_text(
            DESIGN.replace("region: GB-ENG}", f"region: GB-ENG, contractor: '{name}'}}")
            .replace("Test House", f"House {number}"), "utf-8"
        )  # fmt: skip
    done = prescreed("review", ".", "--output", "out", cwd=tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"up.md", "overview-2.md", "letter.md", "a-b.md", "a-b-2.md"} <= names
    assert len(names) == 15


def test_what_cannot_be_reviewed_is_said(tmp_path: Path) -> None:
    (tmp_path / "good.yaml").write_text(DESIGN, "utf-8")
    (tmp_path / "bad.yaml").write_text("design: 1\nloops: {L1: {length: 88}}\n")
    done = prescreed("review", "good.yaml", "bad.yaml", "--output", "out", cwd=tmp_path)
    assert done.returncode == 2
    assert "88 has no unit" in done.stderr
    assert "88 has no unit" in (tmp_path / "out" / "overview.md").read_text("utf-8")
    assert prescreed("review", "good.yaml", cwd=tmp_path).returncode == 2
    assert prescreed("review", "gone.yaml", "--output", "out", cwd=tmp_path).returncode == 2
    (tmp_path / "file").write_text("")
    refused = prescreed("review", "good.yaml", "--output", "file", cwd=tmp_path)
    assert (refused.returncode, "cannot be written" in refused.stderr) == (2, True)


def test_what_is_known_and_no_worse_stands_apart_in_the_letter(call: Calling) -> None:
    put("in/a.yaml", changed(("length: 88 m", "length: 128 m")))
    assert call("freeze", "in").status == 0
    put("prescreed.yaml", "known: prescreed.known.json\n")

    def letter(*words: str) -> str:
        done = call("review", "in", "--output", "out", *words)
        assert done.status == 0, done
        pages = [Path("out/not-named.md").read_text(), Path("out/not-named.html").read_text()]
        known = ["on record already and no worse" in page for page in pages]
        assert known[0] == known[1]
        return pages[0]

    # As for a check, by the policy or by the call's own word.
    text = letter()
    must, _, known = text.partition("on record already and no worse")
    assert "Loop L1 (line" not in must
    assert "Loop L1: Loop longer than its pipe can feed (major)" in known
    Path("prescreed.yaml").unlink()
    assert "128 m" in letter()
    assert "Loop L1 (line" not in letter("--known", "prescreed.known.json")
    put("in/a.yaml", changed(("length: 88 m", "length: 129 m")))
    assert "129 m" in letter("--known", "prescreed.known.json")
    # A sender's own file of known findings counts for nothing.
    put("in/prescreed.yaml", "known: prescreed.known.json\n")
    assert "129 m" in letter()
