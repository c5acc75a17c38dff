"""Test-report XML: what CI servers take, and what makes them drop a report or a case."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from junitparser import JUnitXml
from msgspec.structs import replace

from checker import __version__
from checker.outcome.results import Answer, Waived
from checker.reading.mistakes import Unreadable
from checker.reports import junit
from tests.reports.samples import RUN, design, gathered, result

WAIVED = Waived("The maker allows it.", "A. Designer", "2026-12-31")


def cases(text: bytes) -> dict[str, ElementTree.Element]:
    """Each case by its class and name; a reader drops a second one of the same names."""
    found = list(ElementTree.fromstring(text).iter("testcase"))
    by_name = {f"{case.get('classname')}|{case.get('name')}": case for case in found}
    assert len(by_name) == len(found)
    return by_name


def inside(case: ElementTree.Element) -> list[str]:
    return [child.tag for child in case]


def test_each_kind_has_its_word() -> None:
    made = design(
        result("loops.fails"),
        result("loops.opens", "open"),
        result("loops.looks", "review"),
        result("loops.passes", "pass"),
        result("loops.no", "notApplicable"),
        result("loops.waived", waived=WAIVED),
        result("loops.known", state="unchanged"),
    )
    found = {
        name.rpartition(" loops.")[2]: inside(case)
        for name, case in cases(gathered("junit", made).text).items()
    }
    assert found == {
        "fails": ["failure"],
        "opens": ["skipped"],
        "looks": ["skipped"],
        "passes": [],
        "waived": ["skipped"],
        "known": ["skipped"],
    }


def test_a_review_says_whether_somebody_looked_or_when_to() -> None:
    answer = Answer("as wanted", "A. Person", "2026-12-31")
    made = design(
        result("loops.now", "review"),
        result("loops.seen", "review", answer=answer),
        result("loops.later", "review", due="installed"),
    )
    found = [case[0].get("message", "") for case in cases(gathered("junit", made).text).values()]
    said = [words.partition(":")[0] for words in found]
    assert sorted(said) == [
        "For review", "For review from stage installed on", "Reviewed",
    ]  # fmt: skip


def test_a_general_reader_counts_the_same() -> None:
    made = design(result("loops.L1"), result("loops.L2", "open"), result("loops.L3", "pass"))
    bad = (Unreadable("bad.yaml", 3, 1, "Empty."), Unreadable("bad.yaml", 9, 1, "Worse."))
    report = JUnitXml.fromstring(gathered("junit", made, unreadable=bad).text)
    suites = [(s.name, s.tests, s.failures, s.errors, s.skipped) for s in report]
    assert suites[0][1:] == (3, 1, 0, 1)
    assert suites[1][1:] == (1, 0, 1, 0)
    assert suites[0][0] == "Test House (house.yaml)"


def test_every_suite_says_by_what_it_is_judged() -> None:
    made = [design(result(f"loops.{sign}"), path=f"{sign}.yaml") for sign in "ab"]
    made[1].name = "<properties>"
    run = replace(RUN, today="2026-06-01")
    bad = (Unreadable("bad.yaml", 3, 1, "Empty."),)
    report = ElementTree.fromstring(gathered("junit", *made, unreadable=bad, run=run).text)
    whole = {
        "program": f"prescreed {__version__}",
        "rules-edition": RUN.edition,
        "rules-digest": RUN.digest,
        "settings-digest": RUN.settings_digest,
        "waivers-judged-on": "2026-06-01",
    }
    own = {"judged-by": "2026-03-12", "codes": "EN-1264"}
    found = [{p.get("name"): p.get("value") for p in suite[0].iter("property")} for suite in report]
    assert [suite[0].tag for suite in report] == ["properties"] * 3
    assert found == [{**whole, **own}, {**whole, **own}, whole]


def test_a_failure_has_its_words_in_the_body() -> None:
    (case,) = cases(gathered("junit", design(result())).text).values()
    body = case[0].text or ""
    for part in ("128 m", "Split it.", "A standard (2021), clause 4.2.3", "house.yaml:31:5"):
        assert part in body
    # Long attributes break readers.
    assert len(case[0].get("message") or "") < 200


def test_a_waiver_stays_visible() -> None:
    (case,) = cases(gathered("junit", design(result(waived=WAIVED))).text).values()
    assert "Waived until 2026-12-31 by A. Designer: The maker" in (case[0].get("message") or "")


@pytest.mark.parametrize("sign", ["\x00", "\x07", "\x1b[31m", "\ufffe", "]]>", "<b>&", '"', "\r\n"])
def test_no_sign_breaks_the_report(sign: str) -> None:
    made = design(result(f"loops.{sign}", message=f"It is {sign}.", title=f"Title {sign}"))
    found = cases(gathered("junit", made).text)
    (case,) = found.values()
    assert inside(case) == ["failure"]


def test_designs_of_one_name_are_told_apart() -> None:
    made = [
        design(result(), path=path) for path in ("a/house.yaml", "a/house.json", "b/house.yaml")
    ]
    names = list(cases(gathered("junit", *made).text))
    assert len(names) == 3
    # Readers take all before the last dot of a class for its package.
    assert {name.split("|")[0].rpartition(".")[0] for name in names} == {"a", "b"}


def test_passes_go_first_where_there_are_too_many_cases(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(junit, "MOST_CASES", 3)
    made = design(result("loops.L0"), *(result(f"loops.{n}", "pass") for n in range(1, 5)))
    written = gathered("junit", made)
    assert [inside(case) for case in cases(written.text).values()] == [["failure"]]
    (said,) = written.log
    assert "4 cases that pass are left out" in said
    assert not gathered("junit", design(*(result(f"loops.{n}", "pass") for n in range(3)))).log
