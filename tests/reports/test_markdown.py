"""The Markdown report: worst first, and nothing of a design is mark-up in it."""

from __future__ import annotations

from typing import Any

import pytest

from checker.outcome.report import DesignReport
from checker.outcome.results import Waived
from checker.reports import FormatOptions, writer
from checker.reports.markdown import plain
from checker.reports.verdicts import to_look_at
from tests.example import DESIGN, SOUND, changed
from tests.reports import samples
from tests.reports.hostile import HOSTILE
from tests.reports.pages import RUN, judged, totals


def made(*texts: str) -> str:
    """The report on these designs."""
    format_writer: Any = writer(FormatOptions("markdown"))
    reports = judged(*[(f"{number}.yaml", text) for number, text in enumerate(texts)])
    pieces = [format_writer.piece(report) for report in reports]
    text: bytes = samples.whole(format_writer, pieces, totals(reports), run=RUN).text
    return text.decode()


BAD = changed(("pressure: 4 bar", "pressure: 2 bar"), ("length: 88 m", "length: 128 m"))


def test_the_gravest_comes_first_with_its_remedy() -> None:
    text = made(BAD)
    assert text.startswith("## Test House: HOLD")
    assert text.index("1. **CRITICAL** **pressure test first**") < text.index("**MAJOR**")
    assert "   → Split the loop, or use the next pipe size." in text


def test_what_is_not_grave_is_folded() -> None:
    before, _, folded = made(BAD).partition("<details>")
    assert "at least" not in before.split("**CRITICAL**")[0]
    assert "<summary>Where the limits are published</summary>\n\n- " in folded
    assert folded.count("</details>") == folded.count("<details>") + 1


def test_one_design_has_no_table_and_several_have_one() -> None:
    assert "| Design |" not in made(DESIGN)
    text = made(DESIGN, BAD)
    one, other = (report.judged for report in judged(("0.yaml", DESIGN), ("1.yaml", BAD)))
    rows = [line.split(" | ") for line in text.splitlines() if line.startswith("| Test House")]
    assert [row[1] for row in rows] == [
        f"**HOLD**, {other.done} of {other.of} judged",
        f"**UNPROVEN**, {one.done} of {one.of} judged",
    ]
    assert rows[0][2].startswith("1 critical, 2 major")


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("a|b", r"a\|b"),
        ("**b** _i_ `c`", r"\*\*b\*\* \_i\_ \`c\`"),
        ("<script>", "&lt;script>"),
        ("[x](y)", r"\[x\](y)"),
        ("@mate", "@<!-- -->mate"),
        ("#12 and !3", "#<!-- -->12 and !<!-- -->3"),
        ("http://x", "http:<!-- -->//x"),
        ("www.x", "www<!-- -->.x"),
        ("&lt;", "&amp;<!-- -->lt;"),
        ("two\nlines", "two lines"),
        ("100 % at 4.5 °C: yes", "100 % at 4.5 °C: yes"),
    ],
)
def test_text_stays_text(text: str, shown: str) -> None:
    assert plain(text) == shown


def test_hostile_texts_stay_texts() -> None:
    text = made(HOSTILE, HOSTILE)
    assert "<script" not in text
    assert "<img" not in text
    assert "<i>" not in text
    rows = [line for line in text.splitlines() if line.startswith("| ")]
    assert {line.replace(r"\|", "").count("|") for line in rows} == {6}


def test_what_is_waived_is_folded_with_who_accepted_it() -> None:
    accepted = Waived("Agreed.", "A. Person", "2026-12-31")
    format_writer: Any = writer(FormatOptions("markdown"))
    report = samples.design(samples.result(waived=accepted))
    text = samples.whole(
        format_writer, [format_writer.piece(report)], totals([report]), run=RUN
    ).text
    before, _, folded = text.decode().partition("<details>")
    assert "MAJOR" not in before
    assert "Accepted by A. Person until 2026-12-31: Agreed." in folded


def gathered(*reports: DesignReport) -> tuple[str, tuple[str, ...]]:
    """The report on these, and its log."""
    found = samples.gathered("markdown", *reports)
    return found.text.decode(), found.log


def test_the_worst_design_comes_first_and_clean_ones_are_counted() -> None:
    critical, major = samples.result(severity="critical"), samples.result()
    reports = [
        samples.design(samples.result(kind="pass"), path="clean.yaml"),
        samples.design(samples.result(severity="minor"), path="minor.yaml"),
        samples.design(major, path="one.yaml"),
        samples.design(major, samples.result("loops.L2"), path="two.yaml"),
        samples.design(critical, path="critical.yaml"),
        samples.design(samples.result(kind="open", missing="x"), path="open.yaml"),
    ]
    text, log = gathered(*reports)
    places = [text.index(f"\n{n}.yaml · ") for n in ("critical", "two", "one", "open", "minor")]
    assert places == sorted(places)
    assert "clean.yaml" not in text
    assert "Without any finding, and not shown: 1." in text
    assert text.count("| Test House |") == 5
    assert log == ()


def test_a_single_clean_design_is_shown() -> None:
    text, _ = gathered(samples.design(samples.result(kind="pass"), path="clean.yaml"))
    assert text.startswith("## Test House: RELEASE")


def test_many_designs_end_at_a_design_before_hosts_refuse_the_text() -> None:
    long = [samples.result(message=f"{n} " + "word " * 200, severity="minor") for n in range(5)]
    reports = [samples.design(*long, path=f"{n}.yaml") for n in range(40)]
    text, log = gathered(*reports)
    shown = text.count("## Test House")
    assert 55_000 < len(text.encode()) < 60_300
    assert text.count("| Test House |") == shown
    assert f"**{40 - shown} more designs are left out" in text
    assert log == (
        f"markdown: {40 - shown} more designs are left out: the report would be too large.",
    )
    assert text.count("<details>") == text.count("</details>")
    more = [samples.result(message=f"{n} " + "word " * 200) for n in range(100)]
    large, _ = gathered(samples.design(*more))
    assert large.count("word") == 20_000, "a design is never cut"


def test_the_table_counts_what_is_still_to_be_looked_at() -> None:
    (report,) = judged(("sound.yaml", SOUND))
    reviews = report.results_of("review")
    wanted = to_look_at(reviews)
    assert len(wanted) < len(reviews)
    rows = [line.split(" | ") for line in made(BAD, SOUND).splitlines() if "| Test House" in line]
    assert rows[1][1].startswith("release")
    assert rows[1][-1] == f"{len(wanted)} |"


def test_a_design_that_is_not_proven_is_not_among_those_without_a_finding() -> None:
    made_by: Any = writer(FormatOptions("markdown"))
    sound, unread = (samples.design(samples.result("loops.L1", "pass")) for _ in range(2))
    unread.unread = ("Loops C7",)
    assert unread.verdict == "unproven"
    pieces = [made_by.piece(one) for one in (sound, unread)]
    text = samples.whole(made_by, pieces, totals([sound, unread]), run=RUN).text.decode()
    assert "Without any finding, and not shown: 1." in text
    assert "UNPROVEN" in text
