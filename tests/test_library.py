"""The library from outside: what a script and a notebook get."""

from __future__ import annotations

import pydoc
import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path
from typing import Any

import pytest

import checker
from checker import CannotCheck, check
from checker.reports.verdicts import to_look_at
from checker.run import batch
from tests.example import SOUND

EXAMPLES = Path(__file__).parents[1] / "example_designs"
FAULTY = EXAMPLES / "orchard-row-3-eight-mistakes.yaml"


@pytest.fixture(name="faulty", scope="module")
def _faulty() -> checker.Checked:
    return check(FAULTY)


def test_a_path_and_its_text_are_judged_as_the_engine_judges_them(faulty: checker.Checked) -> None:
    (direct,), _ = batch.check([(str(FAULTY), FAULTY.read_bytes())])
    assert faulty.results() == direct.results
    text = check(FAULTY.read_text("utf-8"))
    assert [one.message for one in text.results()] == [one.message for one in direct.results]
    assert list(faulty.verdicts.values()) == list(text.verdicts.values()) == ["hold"]


def test_a_mapping_is_a_design() -> None:
    design = {
        "design": 1,
        "project": {"name": "House", "region": "GB-ENG", "designed_on": date(2026, 3, 12)},
        "pipes": {"p16": {"material": "PE-RT", "outside": "16 mm", "wall": "2 mm"}},
        "loops": {"L1": {"pipe": "p16", "length": "140 m"}},
    }
    (found,) = [one for one in check(design).results("fail") if one.rule == "loop-length"]
    assert (found.subject, found.value) == ("loops.L1", checker.Measure(140.0, "m"))


def test_frames_hold_every_result_and_every_value(faulty: checker.Checked) -> None:
    frame = faulty.results_frame()
    assert list(frame["rule"]) == [one.rule for one in faulty.results()]
    values = faulty.computed_frame()
    ours = next(iter(faulty.computed().values()))
    row = values[(values["subject"] == "loops.L1") & (values["name"] == "flow")].iloc[0]
    assert (row["value"], row["unit"]) == (ours["loops.L1"]["flow"].magnitude, "l/min")
    assert len(values) == sum(map(len, ours.values()))


def test_what_cannot_be_read_is_never_taken_for_nothing_found(tmp_path: Path) -> None:
    (tmp_path / "bad.yaml").write_text("design: 1\nloops: {L1: {length: 88}}\n")
    shutil.copy(FAULTY, tmp_path / "good.yaml")
    with pytest.raises(CannotCheck, match="write '88 m'") as caught:
        check(tmp_path)
    assert [(one.line, one.column) for one in caught.value.mistakes] == [(2, 22)]
    checked = check(tmp_path, keep_going=True)
    assert (len(checked.designs), len(checked.mistakes)) == (1, 1)
    with pytest.raises(CannotCheck):
        check(tmp_path / "absent.yaml")
    (tmp_path / "empty").mkdir()
    with pytest.raises(CannotCheck):
        check(tmp_path / "empty")


@pytest.mark.parametrize("source", ["design: 1\nloops: {}\n", FAULTY])
def test_an_unknown_code_is_refused(source: Any) -> None:
    with pytest.raises(CannotCheck, match="EN-1264"):
        check(source, codes=["EN1264"])


def test_a_notebook_shows_findings_and_no_markup_of_a_design(faulty: checker.Checked) -> None:
    shown = faulty._repr_html_()
    assert "loop-length" in shown
    evil = check("design: 1\nproject: {name: '<script>x</script>'}\nloops: {}\n")
    assert "<script>" not in evil._repr_html_()


def test_a_notebook_shows_no_review_that_is_answered_or_not_yet_due() -> None:
    sound = check(SOUND)
    shown = sound._repr_html_()
    every = sound.results("review")
    assert shown.count("<td>review</td>") == len(to_look_at(every)) < len(every)


def test_help_works_and_pandas_is_imported_only_when_asked() -> None:
    for name in checker.__all__:
        if name != "__version__":
            assert pydoc.render_doc(getattr(checker, name))
    code = (
        "import sys; from checker import check; "
        f"check({str(FAULTY)!r}); print('pandas' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True,
        cwd=Path(__file__).parents[1],
    )  # fmt: skip
    assert done.stdout.strip() == "False"
