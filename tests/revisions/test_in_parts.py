"""Many designs compared some pairs at a time."""

from __future__ import annotations

import json
from collections.abc import Sequence

import msgspec
import pytest

from checker.outcome.runs import RuleSet
from checker.reading.mistakes import Unreadable
from checker.revisions import in_parts
from checker.revisions.comparing import compare
from checker.revisions.comparison_reports import as_json
from checker.revisions.revision import Named, Revision, read
from checker.run.batch import BY_THE_DESIGN
from tests.design.designs import generate

BEFORE = {f"old/{number}.yaml": generate(number, 2).encode() for number in range(6)}
AFTER = {f"new/{number}.yaml": generate(number, 2).encode() for number in range(2, 8)}
AFTER["new/2.yaml"] = AFTER["new/2.yaml"].replace(b"drop: ", b"drop: 1")
RULES = RuleSet("edition", "sha256:0")


def named(files: dict[str, bytes]) -> list[Named]:
    found, bad = in_parts.listed(files.items(), BY_THE_DESIGN)
    assert not bad
    return found


def judged(files: dict[str, bytes], fails_on: str = "") -> in_parts.Judged:
    def judge(paths: Sequence[str]) -> tuple[list[Revision], list[Unreadable]]:
        bad = [Unreadable(path, 1, 1, "it failed") for path in paths if path == fails_on]
        found, _ = read([(path, files[path]) for path in paths if path != fails_on])
        return found, bad

    return judge


def test_in_parts_it_is_what_it_is_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(in_parts, "AT_ONCE", 3)
    moved: list[int] = []
    sides = named(BEFORE), named(AFTER)
    found = in_parts.compared(
        sides, (judged(BEFORE), judged(AFTER)), [], BY_THE_DESIGN, moved.append
    )
    whole = compare(read(BEFORE.items())[0], read(AFTER.items())[0])
    assert [len(own) for own in (found.pairs, found.only_before, found.only_after)] == [4, 2, 2]
    assert b"".join(as_json(found, RULES)) == b"".join(as_json(whole, RULES))
    assert found.totals() == whole.totals()
    assert found.totals()["still"] > 0
    assert sum(moved) == 12
    assert max(moved) == 3


def test_the_parts_of_json_are_what_would_be_written_at_once() -> None:
    whole = compare(read(BEFORE.items())[0], read(AFTER.items())[0])
    text = b"".join(as_json(whole, RULES))
    assert text == msgspec.json.format(text, indent=1) + b"\n"
    assert [*json.loads(text)] == [
        "comparison", "tool", "rules", "pairs", "only_before", "only_after", "unreadable", "totals",
    ]  # fmt: skip


def test_a_design_that_the_program_fails_on_counts_as_not_there() -> None:
    sides = named(BEFORE), named(AFTER)
    both = judged(BEFORE, "old/3.yaml"), judged(AFTER)
    found = in_parts.compared(sides, both, [], BY_THE_DESIGN)
    assert [one.message for one in found.unreadable] == ["it failed"]
    assert len(found.pairs) == 3
    assert [one.side.path for one in found.only_after] == [
        "new/3.yaml", "new/6.yaml", "new/7.yaml",
    ]  # fmt: skip
