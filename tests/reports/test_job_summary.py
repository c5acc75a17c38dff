"""The Markdown summary of a job: its tables, its size, and that text stays text."""

from __future__ import annotations

import html
import re

import pytest

from checker.outcome.results import Waived
from checker.reading.mistakes import Unreadable
from checker.reports import job_summary
from tests.reports.samples import design, gathered, result

WAIVED = Waived("The maker allows it.", "A. Designer", "2026-12-31")


def page(*designs: object, **more: object) -> str:
    return gathered("job-summary", *designs, **more).text.decode()  # type: ignore[arg-type]


def test_the_verdict_and_the_gravest_come_first() -> None:
    text = page(
        design(result("loops.a", severity="minor"), path="a.yaml"),
        design(result("loops.b", severity="critical"), path="b.yaml"),
    )
    assert text.startswith("## prescreed: hold\n")
    assert text.index("loops.b") < text.index("loops.a")
    assert text.index("| **HOLD**, 1 of 1 rules judged | b.yaml") < text.index(
        "| release, 1 of 1 rules judged | a.yaml"
    )


def test_a_waiver_and_a_known_finding_stay_visible() -> None:
    text = html.unescape(
        page(design(result("loops.a", waived=WAIVED), result("loops.b", state="worse")))
    )
    assert "waived until 2026-12-31, major" in text
    assert "Accepted by A. Designer: The maker allows it." in text
    assert "major, worse" in text


def test_text_is_no_markup() -> None:
    evil = "a | b\n# c <img src=x> [l](http://x) `code` **bold** @name #1"
    text = page(design(result(message=evil)))
    row = next(line for line in text.splitlines() if "loops.L1" in line)
    assert row.count("|") == 5
    plain = re.sub(r"&#\d+;", "", row)
    assert not set(plain) & set("<>[]`@#\n:")
    assert "a | b # c <img src=x> [l](http://x) `code` **bold** @name #1" in html.unescape(row)


def test_it_ends_at_a_row_before_hosts_drop_it(monkeypatch: pytest.MonkeyPatch) -> None:
    made = design(*(result(f"loops.{number:03}") for number in range(100)))
    whole = page(made)
    monkeypatch.setattr(job_summary, "MOST_BYTES", 8000)
    written = gathered("job-summary", made)
    text = written.text.decode()
    assert len(written.text) < 8200 < len(whole)
    kept = sum(f"loops.{number:03}" in text for number in range(100))
    assert 0 < kept < 100
    # The design's own row comes last, and is left out too where it does not fit.
    left_out = 100 - kept + ("| **HOLD**, " not in text)
    assert f"{left_out} rows are left out" in text
    assert text.endswith("the other reports have them.\n")
    assert len(written.log) == 1


def test_what_cannot_be_read_is_said() -> None:
    text = html.unescape(page(unreadable=(Unreadable("bad.yaml", 3, 1, "Empty."),)))
    assert "| bad.yaml:3:1 | Empty. |" in text


def test_every_table_has_rows_as_wide_as_its_head() -> None:
    text = page(design(result(), result("loops.L2", severity="minor")))
    for block in text.split("\n\n"):
        rows = [line for line in block.splitlines() if line.startswith("|")]
        assert len({row.count("|") for row in rows}) <= 1
