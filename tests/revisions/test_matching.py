"""Loops known again by what they are, in revisions of which the truth is known."""

from __future__ import annotations

import os
import random
from collections import Counter
from typing import NamedTuple

import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from checker.design.tables import Tables
from checker.revisions.assignment import assigned
from checker.revisions.contents import Content, content_of
from checker.revisions.matching import matching
from checker.revisions.readings import Matching
from tests.revisions.revised import Job, Truth, exact, job, revised, written

REVISIONS = int(os.environ.get("PRESCREED_TEST_REVISIONS", "300"))


def content(text: str) -> Content:
    return content_of(Tables().add("d.yaml", text.encode()).document)


class Told(NamedTuple):
    """How many loops a revision has, which were told wrongly, and how many were asked about."""

    loops: int
    wrong: list[str]
    asked: list[str]


def judged(before: Job, after: Job, truth: Truth, found: Matching) -> Told:
    """Hold what was found against what was done."""
    name_of = {loop["id"]: loop for loop in before.loops.values()}
    asked = {key[1] for doubt in found.doubts for key in doubt.before}
    asked_now = {key[1] for doubt in found.doubts for key in doubt.after}
    joined = {(tuple(k[1] for k in one.before), tuple(k[1] for k in one.after))
              for one in found.joined if one.before[0][0] == "loops"}  # fmt: skip
    spoken = {name for was, _ in joined for name in was}
    wrong = [f"joined {one}" for one in joined if not any(_same(one, t) for t in truth.joined)]
    wrong += [f"not joined {t}" for t in truth.joined
              if not any(_same(one, t) for one in joined) and not asked.intersection(t[0])
              and not asked_now.intersection(t[1])]  # fmt: skip
    in_joined = {name for was, _ in truth.joined for name in was}
    names = {was[1]: now[1] for was, now in found.names.items() if was[0] == "loops"}
    origin = {now: was for was, now in truth.same.items()}
    for name in name_of:
        if name in asked | spoken | in_joined:
            continue
        told, true = names.get(name), truth.same.get(name)
        if told == true:
            continue
        # Loops that are alike in all but id and port are one another's equals.
        if (
            told is not None
            and told in origin
            and exact(name_of[origin[told]]) == exact(name_of[name])
        ):
            continue
        if told is None and true is not None:
            twins = [n for n in name_of if n != name and exact(name_of[n]) == exact(name_of[name])]
            if any(names.get(n) == true for n in twins):
                continue
        if true is None and told in origin and exact(name_of[origin[told]]) == exact(name_of[name]):
            continue
        wrong.append(f"{name}: told {told}, is {true}")
    return Told(len(name_of), wrong, [f"{d.likely} or {d.other}" for d in found.doubts])


def _same(one: tuple[tuple[str, ...], ...], other: tuple[tuple[str, ...], ...]) -> bool:
    return all(sorted(a) == sorted(b) for a, b in zip(one, other, strict=True))


def tried(seed: int, edits: int = 0) -> tuple[Told, Truth]:
    chance = random.Random(seed)
    before = job(chance)
    after, truth = revised(before, chance, edits)
    found = matching(content(written(before)), content(written(after, "B")))
    return judged(before, after, truth, found), truth


def test_of_random_revisions_none_is_told_wrongly_and_few_are_asked_about() -> None:
    loops, asked, wrong = 0, 0, []
    for seed in range(REVISIONS):
        told, truth = tried(seed)
        loops += told.loops
        asked += len(told.asked)
        wrong += [f"{seed} {truth.edits}: {one}" for one in told.wrong]
    assert wrong == []
    assert asked <= loops / 100


@pytest.mark.parametrize("edit", ["inserted", "renumbered", "swapped", "split", "left out",
                                  "renamed", "moved", "merged"])  # fmt: skip
def test_each_kind_of_change_alone_is_told_without_asking(
    edit: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tests.revisions.revised.EDITS", (edit,))
    asked, wrong, done = 0, [], Counter[str]()
    for seed in range(12):
        told, truth = tried(1000 + seed, edits=1)
        done.update(truth.edits)
        asked += len(told.asked)
        wrong += told.wrong
    assert done[edit] >= 3
    assert (wrong, asked) == ([], 0)


@pytest.mark.parametrize("size", [(1, 1), (3, 5), (6, 4), (9, 9), (40, 40)])
def test_the_assignment_gains_as_much_as_any(size: tuple[int, int]) -> None:
    """Against SciPy's, which shares no code with it, also where many gains are equal."""
    chance = np.random.default_rng(1)
    for number in range(60):
        gain = np.array(chance.normal(size=size), float)
        if number % 2:
            gain = np.round(2 * gain)
        found = assigned(gain)
        taken = [column for column in found if column >= 0]
        assert len(taken) == len(set(taken))
        best = np.maximum(gain, 0)
        rows, columns = linear_sum_assignment(-best)
        own = sum(gain[row, column] for row, column in enumerate(found) if column >= 0)
        assert own == pytest.approx(best[rows, columns].sum())


def test_areas_and_lengths_in_other_units_are_the_same_loops() -> None:
    """0.3048 m to the foot, exactly (international yard and pound agreement, 1959)."""
    before = content(written(made := job(random.Random(5))))
    text = written(made, "B")
    for loop in made.loops.values():
        text = text.replace(
            f"length: {loop['length']} m,", f"length: {loop['length'] / 0.3048:.1f} ft,"
        )
    found = matching(before, content(text))
    assert all(was == now for was, now in found.names.items())
    assert not found.doubts
