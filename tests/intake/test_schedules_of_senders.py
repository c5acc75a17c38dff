"""Twelve messy schedules: which cells are read right, told, refused, and that none is wrong in
silence."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from checker.intake.fields import fields, value_of
from checker.intake.maps import load
from checker.intake.reading import of_map, opened
from tests.intake.schedules_of_senders import SCHEDULES, Schedule, put


def read(tmp_path: Path, one: Schedule) -> tuple[dict[str, dict[str, Any]], str]:
    """What was read, by record and field; and everything that was said."""
    path = put(tmp_path, one)
    found: dict[str, dict[str, Any]] = {}
    said = []
    for taken in of_map(opened(path), load("m", one.plan.encode())):
        before = f"{taken.name}/" if taken.name else ""
        tree = taken.read.tree
        for section in ("loops", "rooms"):
            for name, record in tree.get(section, {}).items():
                found[f"{before}{section}.{name}"] = record
        said += [*map(str, taken.read.refused), *map(str, taken.read.slips),
                 *map(str, taken.read.mistakes), *taken.read.assumed, *taken.read.unused]  # fmt: skip
    return found, "\n".join(said)


def same(section: str, key: str, one: str, other: str) -> bool:
    leaf = fields()[f"{section}.{key}"].leaf
    if leaf.kind != "quantity":
        return one == other
    return value_of(leaf, one) == pytest.approx(value_of(leaf, other), rel=1e-9)


@pytest.mark.parametrize("one", SCHEDULES, ids=lambda one: one.name)
def test_every_cell_is_right_told_or_refused(tmp_path: Path, one: Schedule) -> None:
    found, said = read(tmp_path, one)
    wrong = []
    right = 0
    for record, values in one.truth.items():
        section = record.rpartition("/")[2].partition(".")[0]
        for key, text in values.items():
            own = found.get(record, {}).get(key)
            if own is None or not same(section, key, str(own), text):
                wrong.append((record, key, own, text))
            right += 1
    # Whatever else was read is either told of, or it would be wrong in silence.
    for record, values in found.items():
        for key, value in values.items():
            if key not in one.truth.get(record, {}) and key not in ("room", "header", "covering"):
                assert str(value) in said or str(value).split()[0] in said, (record, key, value)
    assert wrong == []
    assert right == sum(map(len, one.truth.values()))
    for words in one.told:
        assert words in said, said


def test_there_are_twelve_schedules() -> None:
    assert len(SCHEDULES) == 12
