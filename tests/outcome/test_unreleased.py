"""Designs that must not be released: the sound one with a record less, or one that does not fit.

Neither the verdict, nor the exit status, nor a word in any format may say otherwise.
"""

from __future__ import annotations

import json
from copy import deepcopy

import pytest

from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING
from checker.outcome.runs import Totals
from checker.outcome.status import CLEAR, FOUND, GateCounts, answer
from checker.reports import FormatOptions, writer
from checker.run.batch import check
from tests.outcome.design_changes import WHOLE
from tests.outcome.sound_designs import SOUND_TOO
from tests.outcome.unsound_designs import UNSOUND


@pytest.fixture(scope="module")
def judged() -> dict[str, DesignReport]:
    """Each design, all judged together, and the whole one under no name."""
    texts = {}
    for name, change in {"": lambda design: None, **UNSOUND, **SOUND_TOO}.items():
        design = deepcopy(WHOLE)
        change(design)
        texts[name] = json.dumps(design).encode()
    found, unreadable = check([(f"{name}.json", text) for name, text in texts.items()])
    assert not unreadable
    return dict(zip(texts, found, strict=True))


def answered(found: DesignReport) -> int:
    totals = Totals()
    totals.add(found)
    return answer([GateCounts(totals, "major")]).status


def test_the_whole_design_is_released(judged: dict[str, DesignReport]) -> None:
    assert judged[""].verdict == "release"
    assert answered(judged[""]) == CLEAR


@pytest.mark.parametrize("name", SOUND_TOO)
def test_what_only_looks_like_them_is_released(name: str, judged: dict[str, DesignReport]) -> None:
    found = judged[name]
    grave = [one for one in found.results if one.kind == "fail" and one.severity in HOLDING]
    assert grave == []
    assert found.verdict == "release"


@pytest.mark.parametrize("name", UNSOUND)
def test_less_than_the_whole_is_not(name: str, judged: dict[str, DesignReport]) -> None:
    found = judged[name]
    assert found.verdict in ("hold", "unproven")
    assert answered(found) == FOUND
    assert found.judged.done < judged[""].judged.of or found.verdict == "hold"
    for kind in ("text", "markdown", "lines", "json"):
        words = writer(FormatOptions(kind)).piece(found).decode().replace(name, "")
        assert "release" not in words.lower()
        assert "Nothing was found against it" not in words
