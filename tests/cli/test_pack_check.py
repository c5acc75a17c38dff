"""`prescreed pack-check`: a firm's own rules, their mistakes and what they change."""

from __future__ import annotations

import html
import json
from pathlib import Path

import pytest

from checker import __version__
from checker.reading.bounded import LARGEST_FILE
from tests.cli.calling import prescreed
from tests.example import DESIGN, changed

SOURCES = """\
edition: firm 7
made_for: {program: "0.1", rules: "2026-11"}
sources:
  firm-manual: {title: The firm's manual, standing: guidance, seen: text}
"""

OVER = """\
limits:
  - id: practice-loop-length
    at_most: 85 m
    source: firm-manual
  - at_most: 80 m
    when: {zone: perimeter}
    source: firm-manual
examples:
  - {length: 85 m, zone: occupied, gives: pass}
  - {length: 86 m, zone: occupied, gives: fail}
  - {length: 81 m, zone: perimeter, gives: fail}
  - {gives: open}
"""

NEW = """\
title: Feeds longer than we run them
subject: loop
value: feeds
severity: minor
limits:
  - at_most: 7 m
    source: firm-manual
found: The feeds are {value} long; {limit} is our rule.
why: Long feeds heat the hall and not the room.
remedy: Move the header.
from: design
examples:
  - {feeds: 7 m, gives: pass}
  - {feeds: 8 m, gives: fail}
  - {gives: open}
"""


@pytest.fixture
def pack(tmp_path: Path) -> Path:
    folder = tmp_path / "pack"
    folder.mkdir()
    for name, text in (("sources", SOURCES), ("loop-length", OVER), ("firm-feeds", NEW)):
        (folder / f"{name}.yaml").write_text(text, "utf-8")
    return folder


def mended(path: Path, *changes: tuple[str, str]) -> None:
    text = path.read_text("utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    path.write_text(text, "utf-8")


def test_a_good_pack_says_what_it_changes(pack: Path) -> None:
    done = prescreed("pack-check", str(pack))
    assert (done.returncode, done.stderr) == (0, "")
    assert "firm-feeds, a new rule" in done.stdout
    assert "loop-length, a rule of the program" in done.stdout
    assert "replaces the limit of practice-loop-length: at most 85 m" in done.stdout
    assert "adds a limit: at most 80 m" in done.stdout
    assert "2 rule files, 7 examples, all true" in done.stdout


def test_a_single_file_finds_the_sources_beside_it(pack: Path) -> None:
    done = prescreed("pack-check", str(pack / "firm-feeds.yaml"))
    assert done.returncode == 0, done.stdout
    assert "1 rule file," in done.stdout


def test_every_mistake_is_named_in_one_pass(pack: Path) -> None:
    mended(
        pack / "firm-feeds.yaml",
        ("severity: minor", "severity: minr"),
        ("at_most: 7 m\n    source: firm-manual", "at_most: 7\n    source: firm-manul"),
        ("{value} long", "{lenght} long"),
        ("why:", "whi:"),
        ("{feeds: 7 m, gives: pass}", "{feeds: 7 m, gives: pas}"),
        ("{feeds: 8 m,", "{feed: 8 m,"),
    )
    mended(pack / "sources.yaml", ("standing: guidance", "standing: law"))
    mended(pack / "loop-length.yaml", ("length: 85 m", "length: 85"))
    done = prescreed("pack-check", str(pack))
    assert (done.returncode, done.stderr) == (1, "")
    feeds, over, sources = (pack / f"{n}.yaml" for n in ("firm-feeds", "loop-length", "sources"))
    for line in (
        f"{feeds}:4:11: severity: 'minr' is not known here; did you mean 'minor'?",
        f"{feeds}:6:14: 7 has no unit; write '7 m'",
        f"{feeds}:7:13: There is no source 'firm-manul'",
        f"{feeds}:8:8: found: only {{value}}",
        f"{feeds}:9:1: the key 'whi' is not known here; did you mean 'why'?",
        f"{feeds}:13:25: examples.1.gives: 'pas' is not known here",
        f"{feeds}:14:6: 'feed' is neither a field nor a quantity of a loop; did you mean 'feeds'?",
        f"{over}:9:14: 85 has no unit; write '85 m'",
        f"{sources}:4:53: sources.firm-manual.standing: 'law' is not known here",
    ):
        assert line in done.stdout
    # What is wrong with a source is not told again wherever the source is used.
    assert done.stdout.count("There is no source") == 1


def test_an_example_that_is_not_true_is_named(pack: Path) -> None:
    mended(pack / "firm-feeds.yaml", ("{feeds: 8 m, gives: fail}", "{feeds: 8 m, gives: pass}"))
    done = prescreed("pack-check", str(pack))
    assert done.returncode == 1
    assert f"{pack / 'firm-feeds.yaml'}:14:1: This example gives fail, not pass" in done.stdout


def test_examples_that_are_not_there_are_asked_for(pack: Path) -> None:
    mended(pack / "firm-feeds.yaml", ("  - {gives: open}\n", ""))
    done = prescreed("pack-check", str(pack))
    assert done.returncode == 0
    assert "no example gives open" in done.stdout


def test_a_rule_of_the_program_cannot_be_given_another_value(pack: Path) -> None:
    mended(pack / "loop-length.yaml", ("limits:", "value: feeds\nlimits:"))
    done = prescreed("pack-check", str(pack))
    assert done.returncode == 1
    assert "judges 'length' of each loop, not 'feeds' of each loop" in done.stdout
    assert "give your rule's file another name" in done.stdout


def test_a_pack_for_a_newer_program_is_refused_and_says_why(pack: Path) -> None:
    mended(pack / "sources.yaml", ('program: "0.1"', 'program: "99.1"'))
    done = prescreed("pack-check", str(pack))
    assert done.returncode == 1
    assert f"is made for prescreed 99.1; this is {__version__}" in done.stdout
    assert "1 mistake" in done.stdout
    checked = prescreed("check", "--rules", str(pack), "-", stdin=DESIGN)
    assert checked.returncode == 2
    assert "99.1" in checked.stderr


def test_an_older_pack_loads_or_says_what_it_was_made_for(pack: Path) -> None:
    mended(
        pack / "sources.yaml",
        ('program: "0.1", rules: "2026-11"', 'program: "0.0.9", rules: "2019-02"'),
    )
    assert prescreed("pack-check", str(pack)).returncode == 0
    mended(pack / "firm-feeds.yaml", ("value: feeds", "value: feed_length"))
    done = prescreed("pack-check", str(pack))
    assert done.returncode == 1
    assert (
        f"{pack / 'sources.yaml'}:2:11: made_for: the pack was made for prescreed 0.0.9 with rules 2019-02. This is prescreed {__version__}"
        in done.stdout
    )
    assert "'feed_length' is neither a field nor a quantity of a loop" in done.stdout


@pytest.mark.parametrize("text", ["", "- a list\n", "a: &x [*x]\n", "title: 'open\n", "\x00"])
def test_a_file_that_is_no_rule_is_named(pack: Path, text: str) -> None:
    (pack / "bad.yaml").write_text(text, "utf-8")
    done = prescreed("pack-check", str(pack))
    assert done.returncode == 1
    assert f"{pack / 'bad.yaml'}:1:" in done.stdout
    assert "Traceback" not in done.stdout + done.stderr


def test_a_huge_file_is_refused(pack: Path) -> None:
    (pack / "huge.yaml").write_bytes(b"#" * (9 * 1024 * 1024))
    done = prescreed("pack-check", str(pack))
    assert done.returncode == 1
    assert f"{pack / 'huge.yaml'}:1:1: The file has" in done.stdout


def test_a_pack_that_is_not_there_is_said(tmp_path: Path) -> None:
    done = prescreed("pack-check", str(tmp_path / "gone"))
    assert done.returncode == 2
    assert "no such file or folder" in done.stderr


def test_a_check_with_the_pack_reports_own_limits(pack: Path, tmp_path: Path) -> None:
    house = tmp_path / "house.yaml"
    house.write_text(DESIGN, "utf-8")
    done = prescreed("check", "--rules", str(pack), "--format", "json", str(house))
    results = json.loads(done.stdout)["designs"][0]["results"]
    length = next(r for r in results if (r["rule"], r["subject"]) == ("loop-length", "loops.L1"))
    # 88 m: within the 100 m of common practice for 16 mm pipe, over the firm's 85 m.
    assert length["kind"] == "fail"
    assert length["source"]["id"] == "firm-manual"
    assert length["source"]["own"] is True
    assert length["source"]["replaces"] == "practice-loop-length"
    assert length["limit"] == {"at_most": {"magnitude": 85.0, "unit": "m"}}
    feeds = next(r for r in results if (r["rule"], r["subject"]) == ("firm-feeds", "loops.L1"))
    assert (feeds["kind"], feeds["source"]["own"]) == ("fail", True)
    assert "replaces" not in feeds["source"]
    text = " ".join(prescreed("check", "--rules", str(pack), str(house)).stdout.split())
    assert "own limit, instead of practice-loop-length" in text
    assert "The firm's manual, own limit" in text


def test_an_own_limit_that_is_added_counts_beside_ours(pack: Path, tmp_path: Path) -> None:
    # Ours of no code settle one another; a firm's is not settled by them.
    house = tmp_path / "house.yaml"
    house.write_text(
        changed(
            (
                "L1: {header: H1, port: 1, room: kitchen, floor: slab, pipe: p16, pattern: counterflow, zone: occupied",
                "L1: {header: H1, port: 1, room: kitchen, floor: slab, pipe: p16, pattern: counterflow, zone: perimeter",
            ),
            ("bend_radius: 80 mm", "bend_radius: 80 mm, max_length: 100 m"),
        ),
        "utf-8",
    )
    done = prescreed("check", "--rules", str(pack), "--format", "json", str(house))
    results = json.loads(done.stdout)["designs"][0]["results"]
    length = next(r for r in results if (r["rule"], r["subject"]) == ("loop-length", "loops.L1"))
    assert length["limit"] == {"at_most": {"magnitude": 80.0, "unit": "m"}}
    assert [other["source"]["id"] for other in length["also"]] == ["declared-for-this-pipe"]


WEAK = """\
limits:
  - id: en-1264-4-2021
    at_least: 1 bar
    source: firm-manual
examples:
  - {pressure: 1 bar, medium: water, gives: pass}
"""
WEAKENED = "OWN LIMIT test-pressure: at least 1 bar instead of en-1264-4-2021 4.2.3"


@pytest.mark.parametrize("form", ["text", "markdown", "html", "job-summary"])
def test_a_limit_that_stands_in_for_ours_is_told_though_it_is_kept(pack: Path, form: str) -> None:
    (pack / "test-pressure.yaml").write_text(WEAK, "utf-8")
    design = pack.parent / "house.yaml"
    design.write_text(DESIGN, "utf-8")
    call = ("check", str(design), "--format", form, "--no-cache")
    done = prescreed(*call, "--rules", str(pack))
    told = " ".join(html.unescape(done.stdout).replace("\\", "").split())
    assert WEAKENED in told
    assert "OWN LIMIT loop-length: at most 85 m instead of practice-loop-length" in told
    if form != "job-summary":  # which has no line on each design
        assert "judged by EN-1264, GB-ENG and own rules, " in told
    without = prescreed(*call)
    assert "OWN LIMIT" not in without.stdout
    assert "own rules" not in without.stdout


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        (
            "between: [7 m, 6 m]",
            "6:14: between: the first value is above the second, so nothing lies between them; "
            "write '[6 m, 7 m]'.",
        ),
        ("at_most: feeds", "6:14: The limit is 'feeds', the value itself, which always keeps it;"),
        ("between: [1 m, feeds]", "6:14: The limit is 'feeds', the value itself"),
    ],
)
def test_a_limit_that_nothing_or_everything_keeps_is_refused(
    pack: Path, limit: str, words: str
) -> None:
    mended(pack / "firm-feeds.yaml", ("at_most: 7 m", limit))
    done = prescreed("pack-check", str(pack))
    assert (done.returncode, done.stderr) == (1, "")
    assert words in done.stdout


def test_a_source_written_out_in_a_rule_is_told_in_plain_words(pack: Path) -> None:
    inline = "source: {title: Ours, standing: guidance, seen: text}"
    mended(pack / "firm-feeds.yaml", ("source: firm-manual", inline))
    mended(pack / "loop-length.yaml", ("limits:\n", "why: [a, b]\nlimits:\n"))
    done = prescreed("pack-check", str(pack))
    assert "7:13: limits.1.source: write the id of a source here" in done.stdout
    assert "sources.yaml" in done.stdout
    assert "why: this is a list; write a value" in done.stdout
    assert "{'" not in done.stdout


def test_a_pack_without_examples_says_so(pack: Path) -> None:
    (pack / "firm-feeds.yaml").unlink()
    over = pack / "loop-length.yaml"
    over.write_text(OVER[: OVER.index("examples:")], "utf-8")
    done = prescreed("pack-check", str(pack))
    assert (done.returncode, done.stderr) == (0, "")
    assert "1 rule file, no examples." in done.stdout


def test_a_rule_file_that_is_too_large_is_not_called_a_design(pack: Path) -> None:
    with (pack / "firm-feeds.yaml").open("a", encoding="utf-8") as file:
        file.write("# " + "x" * LARGEST_FILE + "\n")
    done = prescreed("pack-check", str(pack))
    assert done.returncode == 1
    assert "more than the 8,388,608 bytes that a file may have" in done.stdout
    assert "design" not in done.stdout


def test_what_a_pack_weakens_is_named_here_and_in_every_report(pack: Path, tmp_path: Path) -> None:
    (pack / "loop-length.yaml").write_text("severity: observation\n" + OVER, "utf-8")
    told = "loop-length: severity observation instead of major"
    assert f"alters {told}" in prescreed("pack-check", str(pack)).stdout
    (tmp_path / "house.yaml").write_text(DESIGN, "utf-8")
    for form in ("text", "markdown", "html"):
        done = prescreed(
            "check", "house.yaml", "--rules", str(pack), "--format", form, cwd=tmp_path
        )
        assert told in html.unescape(" ".join(done.stdout.split())), form
    done = prescreed("check", "house.yaml", "--rules", str(pack), "--format", "json", cwd=tmp_path)
    assert told in json.loads(done.stdout)["totals"]["own_limits"]
