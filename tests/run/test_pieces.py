"""Pieces that a format wants all of: the same from memory and from the file."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from checker.run import outputs
from checker.run.outputs import Pieces


@pytest.mark.parametrize("room", [0, 1, 900, 10_000_000])
def test_pieces_come_back_in_order_wherever_they_are_kept(
    room: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(outputs, "IN_MEMORY", room)
    draw = random.Random(5)
    made = [draw.randbytes(draw.choice([0, 1, 7, 400])) for _ in range(40)]
    kept = Pieces(str(tmp_path / "report.txt"))
    for number, piece in enumerate(made):
        kept.add(memoryview(piece) if number % 2 else piece)
    assert len(kept) == len(made)
    assert [*kept] == made
    assert [kept[number] for number in range(-40, 40)] == made * 2
    assert kept[3:30:4] == made[3:30:4]
    assert [*tmp_path.iterdir()] == []


def test_pieces_may_be_added_after_some_were_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(outputs, "IN_MEMORY", 0)
    kept = Pieces(str(tmp_path / "report.txt"))
    pieces = [bytes([65 + number]) * 50 for number in range(6)]
    for number, piece in enumerate(pieces):
        kept.add(piece)
        assert kept[number // 2] == pieces[number // 2]
    assert [*kept] == pieces
