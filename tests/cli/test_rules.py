"""`prescreed rules` as a person calls it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from checker.run.rules_in_force import rulebook
from tests.cli.calling import prescreed


@pytest.mark.parametrize("width", [80, 120])
def test_all_rules_stand_in_a_table(width: int) -> None:
    done = prescreed("rules", COLUMNS=str(width))
    assert (done.returncode, done.stderr) == (0, "")
    assert max(map(len, done.stdout.splitlines())) <= width
    listed = {line.split()[0] for line in done.stdout.splitlines() if line.strip()}
    assert {rule.id for rule in rulebook().rules} <= listed
    assert ("EN-1264" in done.stdout) == (width == 120)
    assert "\x1b[" not in done.stdout


def test_json_lists_every_rule_with_its_limits() -> None:
    listed = json.loads(prescreed("rules", "--format", "json").stdout)
    assert [rule["id"] for rule in listed["rules"]] == [rule.id for rule in rulebook().rules]
    for rule in listed["rules"]:
        assert rule["limits"]
        assert all(limit["source"]["standing"] for limit in rule["limits"])


def test_one_rule_is_told_whole() -> None:
    rule = next(rule for rule in rulebook().rules if rule.id == "test-pressure")
    done = prescreed("rules", "test-pressure", COLUMNS="80")
    told = " ".join(done.stdout.split())
    assert done.returncode == 0
    for text in (rule.title, rule.why, rule.remedy, rule.caution, "in force from 2021-08-01"):
        assert text in told
    for limit in rule.limits:
        assert f"id {limit.id}" in told
    assert told.count(": pass") == sum(example.gives == "pass" for example in rule.examples)
    as_json = json.loads(prescreed("rules", "test-pressure", "--format", "json").stdout)
    assert as_json["id"] == "test-pressure"
    assert prescreed("rules", "test-pressure", "--format", "markdown").stdout.startswith(
        "### test-"
    )


@pytest.mark.parametrize(
    ("words", "kept"),
    [
        (["--subject", "pipe"], lambda rule: rule.subject == "pipe"),
        (["--severity", "critical"], lambda rule: rule.severity == "critical"),
        (["--code", "FR"], lambda rule: "FR" in {one.document.code for one in rule.limits}),
        (["--stage", "screeded"], lambda rule: rule.stage == "screeded"),
        (["--standing", "code"], lambda rule: "code" in {o.source.standing for o in rule.limits}),
        (["--seen", "memory"], lambda rule: "memory" in {o.source.seen for o in rule.limits}),
        # One limit must answer to all that is asked of limits.
        (
            ["--code", "CN", "--seen", "text", "--severity", "minor"],
            lambda rule: (
                rule.severity == "minor"
                and ("CN", "text") in {(o.document.code, o.source.seen) for o in rule.limits}
            ),
        ),
    ],
)
def test_rules_are_picked(words: list[str], kept: object) -> None:
    listed = json.loads(prescreed("rules", *words, "--format", "json").stdout)
    wanted = [rule.id for rule in rulebook().rules if kept(rule)]  # type: ignore[operator]
    assert wanted
    assert [rule["id"] for rule in listed["rules"]] == wanted


def test_a_firms_rules_are_listed_and_marked(tmp_path: Path) -> None:
    (tmp_path / "loop-length.yaml").write_text(
        "limits: [{id: practice-loop-length, at_most: 90 m, source: practice-loop-length}]\n",
        "utf-8",
    )
    done = prescreed("rules", "--rules", str(tmp_path), "--code", "CA", COLUMNS="120")
    assert "general, CN, CA, own" in done.stdout
    told = prescreed("rules", "loop-length", "--rules", str(tmp_path)).stdout
    assert "own limit, instead of practice-loop-length" in " ".join(told.split())


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (["test-presure"], "did you mean 'test-pressure'?"),
        (["--code", "EN-1246"], "did you mean 'EN-1264'?"),
        (["test-pressure", "--code", "US"], "an ID shows one rule"),
        (["--rules", "/nowhere"], "/nowhere"),
        (["--severity", "grave"], "critical"),
    ],
)
def test_a_call_that_cannot_be_read_says_why(words: list[str], hint: str) -> None:
    done = prescreed("rules", *words)
    assert done.returncode == 2
    assert hint in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("words", "first", "among"),
    [
        (["manifold"], "header-", "header-ports"),
        (["flow", "temperature"], "header-supply-", "supply-temperature"),
        (["flow temperature"], "header-supply-", "supply-temperature"),
        (["noise"], "header-speed", "water-speed-high"),
        (["manifold", "noise"], "header-speed", "header-speed"),
        (["tog"], "covering-", "covering-resistance"),
        (["Expansion", "joints"], "", "joint-sleeve"),
        (["damp"], "screed-", "screed-moisture"),
        (["JGJ"], "", "surface-mean"),
    ],
)
def test_rules_are_found_by_word_and_by_name_of_the_trade(
    words: list[str], first: str, among: str
) -> None:
    done = prescreed("rules", *words, COLUMNS="80")
    assert (done.returncode, done.stderr) == (0, "")
    ids = {rule.id for rule in rulebook().rules}
    starts = [line.split()[0] for line in done.stdout.splitlines() if line.strip()]
    listed = [start for start in starts if start in ids]
    assert listed[0].startswith(first)
    assert among in listed
    assert len(listed) < len(ids)
