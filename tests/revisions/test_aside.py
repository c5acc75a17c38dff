"""Designs put aside: read again, they are what they were."""

from __future__ import annotations

from pathlib import Path

import pytest

from checker.cli import main
from checker.revisions import aside
from checker.revisions.aside import Aside
from checker.revisions.comparing import pair
from checker.revisions.revision import Revision, read
from tests.design.designs import generate

LONGER = 3
"""Of these designs the loops were longer before."""


def sent(number: int, revision: str) -> tuple[str, bytes]:
    text = generate(number, 2).replace("project: {", f"project: {{contractor: C {number % 2}, ", 1)
    for own in "ABCD":
        text = text.replace(f"revision: {own}", f"revision: {revision}")
    if revision == "B" and number < LONGER:
        text = text.replace("length: 1", "length: ", 1)
    return f"{number}-{revision}.yaml", text.encode()


FILES = [sent(number, revision) for number in range(6) for revision in "AB"]


def taken(kept: Aside | None) -> list[Revision]:
    """The designs, judged four at a time."""
    found = []
    for start in range(0, len(FILES), 4):
        some, unreadable = read(FILES[start : start + 4], aside=kept)
        assert not unreadable
        found += some
    return found


@pytest.mark.parametrize("few", [0, aside.FEW], ids=["computed again", "kept"])
def test_what_was_put_aside_is_as_it_was(few: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(aside, "FEW", few)
    monkeypatch.setattr(aside, "IN_HAND", 4)
    plain, kept = taken(None), taken(Aside())
    # There and back, so that each part is read again, and none is written over.
    for number in [*range(len(FILES)), *reversed(range(len(FILES)))]:
        one, other = plain[number], kept[number]
        assert one.data == other.data == FILES[number][1]
        assert one.content == other.content
        assert (one.revision, one.project) == (other.revision, other.project)
        assert one.report.results == other.report.results
        assert one.report.computed == other.report.computed
        assert one.report.verdict == other.report.verdict


def test_pairs_are_compared_alike_when_their_sides_are_put_aside(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(aside, "FEW", 0)
    monkeypatch.setattr(aside, "IN_HAND", 1)
    plain, kept = taken(None), taken(Aside())
    for old in range(0, len(FILES), 2):
        assert pair(plain[old], plain[old + 1]) == pair(kept[old], kept[old + 1])


@pytest.mark.long
def test_a_review_writes_the_same_whatever_is_in_hand(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "sent").mkdir()
    for name, data in FILES:
        (tmp_path / "sent" / name).write_bytes(data)
    monkeypatch.chdir(tmp_path)
    assert main(["review", "sent", "--output", "whole", "--register", "whole.json"]) == 0
    said = capsys.readouterr().out
    monkeypatch.setattr(aside, "IN_HAND", 2)
    assert main(["review", "sent", "--output", "aside", "--register", "aside.json"]) == 0
    assert capsys.readouterr().out.replace("aside", "whole") == said
    assert (tmp_path / "aside.json").read_bytes() == (tmp_path / "whole.json").read_bytes()
    letters = {one.name: one for one in (tmp_path / "whole").iterdir() if one.suffix != ".xlsx"}
    assert len(letters) > 2
    for name, one in letters.items():
        assert (tmp_path / "aside" / name).read_bytes() == one.read_bytes(), name
