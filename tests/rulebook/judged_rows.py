"""A rule made of a few lines, judged on columns of given values."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest

import checker.quantities  # noqa: F401  # registers the quantities
from checker.arrays import Mask
from checker.compute.meanings import Names
from checker.outcome.results import KINDS
from checker.rulebook.evaluation import Values, evaluate
from checker.rulebook.loading import load
from checker.rulebook.model import Rule
from checker.rulebook.outcomes import Outcome

NAMES = Names()
NAN = float("nan")
SOURCES = """\
codes: {A: {title: Code A}, B: {title: Code B}}
sources:
  practice-x: {title: A practice, standing: common practice, seen: reported}
  a-1: {title: One of A, code: A, standing: standard, seen: reported}
  a-2: {title: Another of A, code: A, standing: standard, seen: reported}
  b-1: {title: One of B, code: B, standing: standard, seen: reported}
  homes: {title: On homes, scope: {project.building: dwelling}, standing: standard, seen: reported}
"""
HEAD = """\
title: Something is wrong
why: For a reason.
remedy: Do something.
from: design
"""


class Rows:
    """Columns of given values as a graph gives them; a missing one's reason is its row number."""

    def __init__(self, **columns: list[float]) -> None:
        self.columns = {name.replace("__", "."): np.array(v) for name, v in columns.items()}
        self.length = len(next(iter(self.columns.values())))

    def column(self, subject: str, name: str) -> Values:
        values = self.columns.get(name, np.full(self.length, NAN))
        missing = np.isnan(values)
        reasons = np.where(missing, np.arange(self.length), -1)
        return Values(values, reasons if missing.any() else None)

    def size(self, subject: str) -> int:
        return self.length

    def note(self, words: str, subject: str) -> int:
        return 1000


Make = Callable[[str], Rule]


@pytest.fixture(scope="module")
def make(tmp_path_factory: pytest.TempPathFactory) -> Make:
    folder: Path = tmp_path_factory.mktemp("rules")
    (folder / "sources.yaml").write_text(SOURCES)

    def rule(text: str) -> Rule:
        (folder / "a-rule.yaml").write_text(HEAD + text)
        return next(r for r in load(NAMES, [folder]).rules if r.id == "a-rule")

    return rule


@pytest.fixture(scope="module")
def at_most(make: Make) -> Rule:
    return make(LENGTH.format("{at_most: 100 m, source: practice-x}"))


LENGTH = "subject: loop\nvalue: length\nseverity: major\nlimits: [{}]\n"


def outcome(rule: Rule, rows: Rows, counts: npt.NDArray[np.bool_] | None = None) -> Outcome:
    judged: Mask = np.ones(rows.length, dtype=bool)
    if counts is None:
        counts = np.ones((len(rule.limits), rows.length), dtype=bool)
    return evaluate(rule, rows, counts, judged)


def kinds(rule: Rule, rows: Rows) -> list[str]:
    return [KINDS[kind] for kind in outcome(rule, rows).kinds.tolist()]
