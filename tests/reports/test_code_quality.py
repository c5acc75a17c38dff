"""Code-quality JSON: every member that readers need, or they show nothing and say nothing."""

from __future__ import annotations

import json
from typing import Any

import pytest

from checker.outcome.results import Kind, Waived
from checker.reading.mistakes import Unreadable
from tests.reports.samples import design, gathered, result

SEVERITIES = {"info", "minor", "major", "critical", "blocker"}
"""GitLab documentation, Code Quality report format."""


def entries(*designs: Any, unreadable: tuple[Unreadable, ...] = ()) -> list[Any]:
    text = gathered("code-quality", *designs, unreadable=unreadable).text
    assert not text.startswith(b"\xef\xbb\xbf")
    found: list[Any] = json.loads(text)
    for entry in found:
        assert set(entry) == {"description", "check_name", "fingerprint", "severity", "location"}
        assert entry["severity"] in SEVERITIES
        assert entry["check_name"].startswith("prescreed/")
        assert not entry["location"]["path"].startswith(("/", "./"))
        assert entry["location"]["lines"]["begin"] >= 1
    fingerprints = [entry["fingerprint"] for entry in found]
    assert len(fingerprints) == len(set(fingerprints))
    return found


def test_fails_only() -> None:
    kinds: tuple[Kind, ...] = ("pass", "open", "review", "notApplicable")
    made = design(result("loops.L1"), *(result(f"loops.{kind}", kind) for kind in kinds))
    (entry,) = entries(made)
    assert entry["description"].startswith("loops.L1: The loop is 128 m long")
    assert entry["location"] == {"path": "house.yaml", "lines": {"begin": 31}}


def test_a_design_without_fails_leaves_the_array_whole() -> None:
    sound = design(result(kind="pass"), path="sound.yaml")
    assert entries() == []
    assert len(entries(sound, design(result()), sound)) == 1


@pytest.mark.parametrize(
    ("severity", "wanted"),
    [("critical", "critical"), ("major", "major"), ("minor", "minor"), ("observation", "info")],
)
def test_severities(severity: str, wanted: str) -> None:
    assert entries(design(result(severity=severity)))[0]["severity"] == wanted


def test_fingerprints_are_of_the_finding_not_of_its_line() -> None:
    before = entries(design(result(line=31)))[0]["fingerprint"]
    assert entries(design(result(line=99)))[0]["fingerprint"] == before
    assert entries(design(result(), path="other.yaml"))[0]["fingerprint"] != before
    # Unique even where two files hold the same design, and many findings stand in one line.
    many = [result(f"loops.{number}", line=1) for number in range(50)]
    assert len(entries(design(*many), design(*many, path="copy.yaml"))) == 100


def test_a_waived_finding_stays_visible_and_is_no_alarm() -> None:
    waived = Waived("The maker allows it.", "A. Designer", "2026-12-31")
    (entry,) = entries(design(result(severity="critical", waived=waived)))
    assert entry["severity"] == "info"
    assert entry["description"].startswith("Waived until 2026-12-31 (The maker allows it.)")


def test_an_unreadable_file_blocks() -> None:
    bad = Unreadable("bad.yaml", 3, 1, "Empty.")
    found = entries(unreadable=(bad, bad))
    assert [entry["severity"] for entry in found] == ["blocker", "blocker"]
