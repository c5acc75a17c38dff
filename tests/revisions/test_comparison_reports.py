"""A comparison as JSON, text, Markdown and a page."""

from __future__ import annotations

import json
from html.parser import HTMLParser
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from checker.outcome.runs import RuleSet
from checker.reading.package_data import data_folder
from checker.revisions.comparison_reports import as_html, as_json, as_markdown
from checker.revisions.fates import FINDINGS
from checker.revisions.revision import read
from tests.design.designs import generate
from tests.example import changed
from tests.revisions.test_comparing import PAIR, compared, text_of


def schema() -> Any:
    text = (data_folder("schemas") / "comparison.schema.json").read_text("utf-8")
    return Draft202012Validator(json.loads(text))


@pytest.mark.long
@settings(max_examples=8, deadline=None)
@given(st.integers(0, 500), st.integers(0, 500))
def test_json_is_by_its_schema_and_every_finding_is_counted_once(one: int, other: int) -> None:
    found = compared(generate(one, loops=4), generate(other, loops=4))
    written = json.loads(b"".join(as_json(found, RuleSet("edition", "sha256:0"))))
    schema().validate(written)
    states = [c["state"] for c in written["pairs"][0]["changes"]]
    assert {s: states.count(s) for s in written["totals"]} == written["totals"]
    (now,), _ = read([("n.yaml", generate(other, loops=4).encode())])
    results = [r for r in now.report.results_of("fail", "open", "review") if not r.due]
    gone = ("mended", "gone", "judged otherwise", "no longer asked")
    told = [c for c in written["pairs"][0]["changes"] if c["state"] not in gone]
    assert len([c for c in told if c.get("after", {}).get("kind") in FINDINGS]) == len(results)


@pytest.mark.parametrize("width", [60, 80, 120])
def test_text_keeps_to_its_width(width: int) -> None:
    old, new = ((PAIR / f"orchard-row-6-revision-{r}.yaml").read_text("utf-8") for r in "bc")
    text = text_of(compared(old, new), width).decode()
    assert max(len(line) for line in text.splitlines()) <= width
    assert "living north" in " ".join(text.split())
    assert " still there. exit 1: " in " ".join(text.split())


def test_a_design_cannot_put_marks_or_signs_into_a_report() -> None:
    hostile = changed(("name: Test House", 'name: "<b>x</b> [a](http://b.invalid) \\e[31m"'))
    found = compared(hostile, hostile.replace("length: 88 m", "length: 128 m"))
    markdown = as_markdown(found).decode()
    assert "<b>" not in markdown
    assert "[a](" not in markdown
    assert "\x1b" not in text_of(found, 80).decode()
    assert "<b>" not in as_html(found).decode()


def test_a_page_tells_what_the_text_tells() -> None:
    old, new = ((PAIR / f"orchard-row-6-revision-{r}.yaml").read_text("utf-8") for r in "bc")
    found = compared(old, new)
    shown = _Shown()
    shown.feed(as_html(found).decode())
    page = " ".join(" ".join(shown.texts).split())
    # All but the status, with which the text begins and ends.
    _, *lines, _ = text_of(found, 110).decode().replace("\n      ", " ").splitlines()
    for line in lines:
        assert " ".join(line.removeprefix("  - ").split())[:60] in page, line
    assert "://" not in as_html(found).decode()


class _Shown(HTMLParser):
    """The texts of a page, in order."""

    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []

    def handle_data(self, data: str) -> None:
        self.texts.append(data)
