"""The HTML report taken apart: what is there, in what order, and that nothing breaks out."""

from __future__ import annotations

import re
from typing import Any

import pytest

from checker.outcome.results import Answer, Notes, Waived
from checker.reports import writer
from checker.reports.came_out import passed_rules, required
from tests.example import DESIGN, changed, result
from tests.reports import samples
from tests.reports.golden import EXAMPLES
from tests.reports.hostile import HOSTILE, LONG, SCRIPT
from tests.reports.pages import CHOSEN, RUN, Page, html, judged, totals
from tests.reports.samples import whole

MISTAKES = (EXAMPLES / "orchard-row-3-eight-mistakes.yaml").read_text("utf-8")
INSTALLED = (EXAMPLES / "orchard-row-4-installed.yaml").read_text("utf-8")


@pytest.fixture(scope="module")
def mistakes() -> Page:
    return Page(html(("mistakes.yaml", MISTAKES)))


@pytest.fixture(scope="module")
def installed() -> Page:
    return Page(html(("installed.yaml", INSTALLED)))


def test_the_verdict_comes_first_and_the_gravest_before_the_rest(mistakes: Page) -> None:
    text = mistakes.text
    places = [
        text.index(words)
        for words in ("HOLD", "What must change", "critical", "major", "minor", "Cautions")
    ]
    assert places == sorted(places)


def test_a_finding_has_value_limit_source_remedy_rule_and_line(mistakes: Page) -> None:
    (report,) = judged(("mistakes.yaml", MISTAKES))
    found = result(report, "loop-length", "loops.L1")
    for part in (
        f"loop L1: {found.title} {found.message} {found.remedy}",
        "106 m limit: at most 100 m",
        "The pipe's own documentation, as the design states it, as reported · loop-length · line 86",
    ):
        assert part in mistakes.text


def test_what_is_said_alike_of_two_loops_is_said_once(mistakes: Page) -> None:
    assert mistakes.text.count("2 loops are put on this port") == 1
    assert "loop L3, loop L4: Two loops on one port" in mistakes.text
    assert "lines 88, 89" in mistakes.text


def test_the_bar_of_a_broken_limit_reaches_beyond_its_mark(mistakes: Page) -> None:
    spans = mistakes.all("span")
    kinds = [(one.get("class") or "", one.get("style") or "") for one in spans]
    place = next(n for n, (kind, _) in enumerate(kinds) if kind == "value over")
    width = float(kinds[place][1].removeprefix("width:").removesuffix("%"))
    left = float(kinds[place + 1][1].removeprefix("left:").removesuffix("%"))
    # 48 °C against at most 45 °C is the first finding.
    assert left / width == pytest.approx(45 / 48, abs=0.002)
    assert width <= 100


def test_every_picture_is_there_and_says_in_words_what_it_shows(installed: Page) -> None:
    text = installed.text
    for title in (
        "Loop lengths None is longer than its pipe can feed.",
        "Pressure loss on down D1 loses most",
        "Pump of up At",
        "Heat against need None gets less heat than it needs.",
        "Floor at its warmest None has a floor that gets too hot.",
        "Pressure test downstairs",
        "First heating Done: 3 days at 25 °C, then 4 days at 42 °C, from 2025-11-17.",
    ):
        assert title in text, title
    charts = [one for one in installed.all("svg") if one.get("class") in ("chart", "chart tall")]
    drawings = [one for one in installed.all("svg") if "viewbox" in one]
    assert len(drawings) - len(charts) == 2  # headers, which say in words what they show
    assert all(one["aria-label"] for one in drawings if one not in charts)
    assert len(charts) == 10
    assert all(one["aria-hidden"] == "true" for one in charts)


def test_the_page_is_whole_in_itself(mistakes: Page) -> None:
    for name, attributes in mistakes.elements:
        for attribute in ("src", "href", "srcset", "action", "data", "xlink:href"):
            value = attributes.get(attribute) or ""
            assert not value or value.startswith("#") or value == "data:,", (name, value)
    policy = next(m["content"] for m in mistakes.all("meta") if m.get("http-equiv"))
    assert policy is not None
    assert policy.startswith("default-src 'none'")
    style = html(("a.yaml", DESIGN)).split("<style>")[1].split("</style>")[0]
    assert "url(" not in style
    assert "@import" not in style


def test_landmarks_heads_and_names(mistakes: Page) -> None:
    assert mistakes.all("html")[0]["lang"] == "en"
    assert len(mistakes.all("main")) == 1
    ids = [one["id"] for _, one in mistakes.elements if "id" in one]
    assert len(ids) == len(set(ids))
    for _, one in mistakes.elements:
        if "aria-labelledby" in one:
            assert one["aria-labelledby"] in ids
    assert all("scope" in one for one in mistakes.all("th"))
    for region in mistakes.all("div"):
        if region.get("class") == "scroll":
            assert (region["tabindex"], region["role"]) == ("0", "region")
            assert region["aria-label"]


def test_hostile_texts_stay_texts() -> None:
    text = html(("<i>&.yaml", HOSTILE))
    page = Page(text)
    assert len(page.all("script")) == 1
    assert page.all("img") == []
    assert page.all("i") == []
    assert page.all("b") == []
    assert not any(name.startswith("on") for _, one in page.elements for name in one)
    assert " ".join(SCRIPT.split()) in page.text
    assert LONG in page.text


def test_the_same_designs_give_the_same_bytes() -> None:
    assert html(("a.yaml", MISTAKES)) == html(("a.yaml", MISTAKES))


def test_several_designs_have_an_overview_that_links_to_each() -> None:
    page = Page(html(("a.yaml", MISTAKES), ("b.yaml", DESIGN)))
    assert "2 designs, 1 on hold" in page.text
    ids = {one["id"] for _, one in page.elements if "id" in one}
    links = [one["href"] for one in page.all("a") if one.get("class") != "skip"]
    assert links[:2] == [f"#{one['id']}" for one in page.all("article")]
    assert {str(link).removeprefix("#") for link in links} <= ids
    rows = re.findall(r'<tr data-verdict="(\w+)">', html(("a.yaml", MISTAKES), ("b.yaml", DESIGN)))
    assert rows == ["hold", "unproven"]


def test_the_overview_marks_the_gravest_of_each_rule() -> None:
    without = MISTAKES.replace("edge_strip: 8 mm", "build_up: 100 mm")
    assert without != MISTAKES
    text = html(("a.yaml", without), ("b.yaml", DESIGN))
    heads = re.findall(r'<button type="button" title="[^"]*"><span>([^<]+)', text)
    row = text.split('<tr data-verdict="hold">')[1].split("</tr>")[0]
    cells = re.findall(r"<td(?: class=\"(\w+)\")?>([^<]*)</td>", row)
    marks = dict(zip(heads, [mark for _, mark in cells][-len(heads) :], strict=True))
    assert (marks["test-pressure"], marks["loop-length"], marks["supply-enough"]) == ("C", "M", "m")
    assert marks["edge-strip"] == "?"
    # Two critical rules come before all others.
    assert {*heads[:2]} == {"screed-temperature", "test-pressure"}


def test_a_folder_has_an_overview_and_a_page_a_design() -> None:
    reports = judged(("x/a.yaml", MISTAKES), ("y/a.yaml", DESIGN))
    made: Any = writer(CHOSEN)
    pieces = [made.piece(report) for report in reports]
    made_pages = made.pages(RUN, pieces, totals(reports), [])
    pages = {name: b"".join(parts) for name, parts in made_pages}
    assert next(iter(pages)) == "index.html"
    assert len(pages) == 3
    links = [one["href"] for one in Page(pages["index.html"].decode()).all("a")][1:]
    assert links == [*pages][1:]
    for name, content in pages.items():
        if name != "index.html":
            assert "index.html" in [one["href"] for one in Page(content.decode()).all("a")]


def test_a_design_without_sections_is_shown() -> None:
    page = Page(html(("bare.yaml", "design: 1\n")))
    assert "UNPROVEN" in page.text
    assert "Not stated, the one that decides most first" in page.text


def test_a_loop_that_states_no_header_is_not_lost() -> None:
    text = changed(("L2: {header: H1, port: 2, ", "L2: {"))
    assert "Loops on no header" in Page(html(("a.yaml", text))).text


def test_what_is_waived_is_told_apart_with_who_accepted_it() -> None:
    accepted = Waived("Agreed with the client.", "A. Person", "2026-12-31")
    made: Any = writer(CHOSEN)
    report = samples.design(
        samples.result(waived=accepted, message="One."), samples.result("loops.L2", message="Two.")
    )
    text = Page(whole(made, [made.piece(report)], totals([report]), run=RUN).text.decode()).text
    before, _, after = text.partition("Accepted, or mended since")
    assert "Two." in before
    assert "One." not in before
    assert "1 thing is accepted by a waiver." in before
    found = samples.design(samples.result(waived=accepted))
    only = Page(whole(made, [made.piece(found)], totals([found]), run=RUN).text.decode()).text
    assert "Apart from what a waiver accepts, nothing was found that breaks a limit" in only
    assert "One. Accepted by A. Person until 2026-12-31: Agreed with the client." in after


def test_a_row_says_what_is_waived_answered_kept_or_not_judged() -> None:
    accepted = Waived("Agreed with the client.", "A. Person", "2026-12-31")
    answer = Answer("as wanted", "A. Person", "2026-12-31")
    found = required(
        [
            samples.result("loops.waived", waived=accepted),
            samples.result("loops.broken"),
            samples.result("loops.seen", "review", answer=answer),
            samples.result("loops.later", "review", due="installed"),
            samples.result("loops.kept", "pass"),
            samples.result("loops.other", "notApplicable"),
        ]
    )
    assert {subject: len(own) for subject, own in found.items()} == {
        "loops.waived": 1, "loops.broken": 1, "loops.seen": 0, "loops.kept": 0,
    }  # fmt: skip


def test_the_row_of_a_waived_loop_does_not_say_that_it_is_kept() -> None:
    made: Any = writer(CHOSEN)
    (report,) = judged(("a.yaml", changed(("length: 88 m", "length: 128 m"))))
    accepted = Waived("Agreed with the client.", "A. Person", "2026-12-31")
    place = next(
        n
        for n, one in enumerate(report.results)
        if one.rule == "loop-length" and one.kind == "fail"
    )
    report.note({place: Notes(waived=accepted)})
    text = whole(made, [made.piece(report)], totals([report]), run=RUN).text.decode()
    row = next(line for line in text.splitlines() if '-loop0"' in line and "<tr" in line)
    assert '<span class="mark waived">waived</span>' in text
    assert "kept" not in row


def test_a_rule_is_kept_by_so_many_of_those_it_applies_to() -> None:
    found = passed_rules(
        [
            samples.result("loops.L1", "pass"),
            samples.result("loops.L2"),
            samples.result("loops.L3", "open"),
            samples.result("loops.L4", "notApplicable"),
        ]
    )
    assert [(one.count, one.of, one.closest.subject) for one in found] == [(1, 3, "loops.L1")]


LAST_READING = "      - {at: 20 min, pressure: 4.00 bar, temperature: 17 °C}\n"


def test_a_dip_is_not_told_as_no_fall() -> None:
    dip = "      - {at: 10 min, pressure: 3.5 bar, temperature: 17 °C}\n"
    back = LAST_READING.replace("4.00", "4.02")
    made = html(("house.yaml", changed((LAST_READING, dip + back))))
    shown = Page(made).text
    # 4.02 bar less 3.5 bar, at a steady temperature.
    assert "the pressure fell by 0.52 bar, to its lowest reading" in shown
    assert "<td>yes</td><td>0.52 bar</td>" in made


@pytest.mark.parametrize("more", ["", LAST_READING.replace("20 min", "0 min")])
def test_readings_of_one_moment_show_no_fall(more: str) -> None:
    text = changed((LAST_READING, more))
    (report,) = judged(("house.yaml", text))
    found = report.computed["pressure_tests.first"]["corrected_drop"]
    assert found.magnitude is None
    assert "no reading is later than the first" in str(found.missing)
    assert "fell by" not in Page(html(("house.yaml", text))).text.lower().replace(
        "fell by, temperature taken out", ""
    )


def test_a_finding_links_to_its_rule_where_the_manual_is_published() -> None:
    plain = html(("mistakes.yaml", MISTAKES))
    assert "<code>loop-length</code>" in plain
    assert "rules/loop-length.html" not in plain
    linked = html(("mistakes.yaml", MISTAKES), manual="https://manual.example.org/v1/")
    link = '<a href="https://manual.example.org/v1/rules/loop-length.html"><code>loop-length</code></a>'
    assert link in linked
