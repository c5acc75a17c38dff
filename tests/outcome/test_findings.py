"""From designs to results: verdicts, places, words, and what is never a pass."""

from __future__ import annotations

import json
import math
import re
from datetime import date
from pathlib import Path

import pytest
from msgspec import Struct
from msgspec.json import decode

from checker.outcome.results import KINDS, Limit, Measure, Result
from checker.reading import yaml_reader
from checker.run.batch import Plan, check
from tests.design.designs import generate
from tests.example import DESIGN, SOUND, as_json, changed, computed, report, result


def test_a_sound_design_is_released() -> None:
    found = report(SOUND)
    assert found.verdict == "release"
    assert [r.rule for r in found.results if r.kind == "fail" and r.severity != "observation"] == []


def test_a_fail_says_value_limit_margin_source_and_remedy() -> None:
    found = result(report(changed(("length: 88 m", "length: 128 m"))), "loop-length", "loops.L1")
    assert (found.kind, found.severity) == ("fail", "major")
    assert found.value == Measure(128.0, "m")
    assert found.limit == Limit(at_most=Measure(100.0, "m"))
    assert found.margin == Measure(-28.0, "m")
    assert found.source
    assert found.source.standing == "common practice"
    assert "128 m" in found.message
    assert found.remedy


CLASH = ("port: 2", "port: 1")


def test_a_fail_is_told_with_what_it_takes_to_mend_it() -> None:
    """Expected 12 m² / 150 mm + 8 m = 88 m, worked by hand; one of four ports is taken."""
    long = report(changed(("length: 88 m", "length: 128 m")))
    assert result(long, "loop-length-plausible", "loops.L1").message == (
        "The stated length is 45.5 % off the calculated one; at most 15 % is allowed. "
        "Area, spacing and feeds give 88 m."
    )
    clash = report(changed(CLASH))
    for loop in ("loops.L1", "loops.L2"):
        told = result(clash, "header-port-clash", loop).message
        assert told.endswith(" Ports 2, 3 and 4 are free on this header.")
    full = report(changed(CLASH, ("ports: 4", "ports: 1")))
    assert result(full, "header-port-clash", "loops.L1").message.endswith(
        " No port is free on this header."
    )


def test_what_is_told_besides_is_left_out_where_it_is_not_known() -> None:
    unknown = report(changed(CLASH, ("    ports: 4\n", "")))
    told = result(unknown, "header-port-clash", "loops.L1").message
    assert told == "2 loops are put on this port; it can feed 1."


def test_what_is_told_besides_is_in_the_readers_units() -> None:
    """88 m are 288.7 ft."""
    feet = changed(("length: 88 m", "length: 420 ft"), ("project: {", "project: {units: US, "))
    told = result(report(feet), "loop-length-plausible", "loops.L1").message
    assert told.endswith(" Area, spacing and feeds give 288.7 ft.")


def test_a_finding_stands_where_the_field_stands() -> None:
    text = changed(("length: 88 m", "length: 128 m"))
    found = result(report(text), "loop-length", "loops.L1")
    assert text.splitlines()[found.line - 1][found.column - 1 :].startswith("128 m")


def test_a_computed_value_stands_where_its_subject_stands() -> None:
    found = result(report(DESIGN), "pump-duty", "headers.H1")
    assert DESIGN.splitlines()[found.line - 1][found.column - 1 :].startswith("H1:")


@pytest.mark.parametrize("shift", ["# a comment\n", "\n\n\n"])
def test_a_fingerprint_does_not_know_lines(shift: str) -> None:
    before = {(r.rule, r.subject): r.fingerprint for r in report(DESIGN).results}
    after = {(r.rule, r.subject): r.fingerprint for r in report(shift + DESIGN).results}
    assert before == after
    assert len(set(before.values())) == len(before)


def test_a_missing_datum_is_open_and_named() -> None:
    found = report(changed(("heat_load: 700 W, ", "")))
    heat = result(found, "room-heat", "rooms.kitchen")
    assert heat.kind == "open"
    assert heat.missing == "rooms.kitchen: heat_load is not given"
    assert "heat_load" in heat.message


def test_a_missing_section_is_open_once_for_each_rule() -> None:
    text = DESIGN[: DESIGN.index("pressure_tests:")] + DESIGN[DESIGN.index("heat_up:") :]
    found = report(text)
    tests = [r for r in found.results if r.subject == "pressure_tests"]
    unruled = [r for r in tests if r.message.startswith("No limit is in force here")]
    assert {r.rule for r in unruled} == {"operating-pressure"}
    assert {r.kind for r in tests if r not in unruled} == {"open"}
    assert "test-pressure" in {r.rule for r in tests}
    assert all(r.missing for r in tests if r not in unruled)


@pytest.mark.parametrize(
    ("section", "rule", "subject"),
    [
        ("headers", "loop-lengths-alike", "loops.L1"),
        ("headers", "test-before-screed", "pressure_tests.first"),
        ("rooms", "surface-temperature", "loops.L2"),
        ("floors", "surface-temperature", "loops.L1"),
        ("pipes", "loop-length", "loops.L2"),
        ("loops", "balance-recorded", "loops"),
    ],
)
def test_what_refers_to_a_missing_section_is_open(section: str, rule: str, subject: str) -> None:
    document = yaml_reader.read(DESIGN.encode())
    del document[section]
    found = result(report(json.dumps(document), "house.json"), rule, subject)
    assert (found.kind, found.missing) == ("open", f"the design has no section '{section}'")


def test_the_design_that_the_readme_shows_can_be_checked() -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
    snippet = readme.partition("```yaml\n")[2].partition("```")[0]
    assert "design: 1" in snippet
    found = report(snippet)
    assert any(r.kind == "open" for r in found.results)


def test_results_at_one_place_stand_by_rule() -> None:
    """Those of the design and those of sections that it lacks among one another."""
    for text in ("design: 1\n", "# A comment.\ndesign: 1\n", '{"design": 1}\n'):
        found = [(r.line, r.column, r.rule) for r in report(text).results]
        assert len({line for line, *_ in found}) == text.count("\n")
        assert found == sorted(found)


def test_a_record_is_judged_whatever_the_stage() -> None:
    """A fall from 4 to 1 bar must not go unseen because nobody wrote the stage down."""
    for stage in ("", "stage: design, "):
        fallen = changed(
            ("stage: installed, ", stage), ("pressure: 4.00 bar, t", "pressure: 1.00 bar, t")
        )
        assert result(report(fallen), "test-drop", "pressure_tests.first").kind == "fail"


def test_a_section_is_asked_for_from_the_stage_that_needs_it() -> None:
    absent = result(report("design: 1\n"), "test-drop", "pressure_tests")
    assert (absent.kind, absent.due) == ("notApplicable", "laid")
    assert "no section 'pressure_tests'" in absent.message
    later = result(report("design: 1\nproject: {stage: laid}\n"), "test-drop", "pressure_tests")
    assert (later.kind, later.missing) == ("open", "the design has no section 'pressure_tests'")


def test_out_of_range_is_open_and_names_the_range() -> None:
    # Pipes of 16 mm at 17 mm leave one another no room, so no section can stand in.
    found = report(changed(("spacing: 150 mm", "spacing: 17 mm")))
    assert math.isnan(computed(found, "loops.L1", "output"))
    surface = result(found, "surface-temperature", "loops.L1")
    assert surface.kind == "open"
    assert surface.missing
    assert "EN 1264-2" in surface.missing


@pytest.mark.parametrize("length", ["100 m", "99.999 m", "328.083 ft"])
def test_equal_to_the_limit_passes(length: str) -> None:
    assert result(
        report(changed(("length: 88 m", f"length: {length}"))), "loop-length", "loops.L1"
    ).kind == "pass"  # fmt: skip


def test_a_value_just_beyond_is_told_apart_from_its_limit() -> None:
    found = result(
        report(changed(("length: 88 m", "length: 100.0004 m"))), "loop-length", "loops.L1"
    )
    assert found.kind == "fail"
    assert "100.0004 m" in found.message


def test_the_newest_editions_count_where_the_day_is_unknown() -> None:
    found = report(changed((", designed_on: 2026-03-12", "")))
    assert found.judged_by == ""
    source = result(found, "test-pressure", "pressure_tests.first").source
    assert source
    assert source.edition == "2021"


def test_the_day_picks_the_edition_and_the_call_goes_first() -> None:
    old = changed(("designed_on: 2026-03-12", "designed_on: 2005-06-01"))
    for text, plan in ((old, Plan()), (DESIGN, Plan(on=date(2005, 6, 1)))):
        found = result(report(text, plan=plan), "test-pressure", "pressure_tests.first")
        assert found.source
        assert found.source.edition == "2001"
        assert found.kind == "fail"  # 4 bar, where EN 1264-4:2001 wanted at least 6 bar


def test_two_codes_that_disagree_are_both_named() -> None:
    text = changed(("    pressure: 4 bar\n", "    pressure: 6 bar\n"))
    found = result(
        report(text, plan=Plan(codes=("EN-1264", "US"))), "test-pressure", "pressure_tests.first"
    )
    assert found.kind == "fail"  # the IRC wants 100 psi, 6.9 bar
    assert found.source
    assert found.source.code == "US"
    assert found.also
    assert ("pass", "EN-1264") in [(other.kind, other.source.code) for other in found.also]


def test_declared_codes_go_before_the_region() -> None:
    assert report(DESIGN).codes != ("US",)
    assert report(changed(("region: GB-ENG}", "region: GB-ENG}\ncodes: [US]"))).codes == ("US",)


def test_designs_do_not_touch_one_another() -> None:
    texts = [generate(number, loops=3) for number in range(6)]
    together, _ = check([(f"{n}.yaml", text.encode()) for n, text in enumerate(texts)], Plan())
    for number, found in enumerate(together):
        alone, _ = check([(f"{number}.yaml", texts[number].encode())], Plan())
        assert as_json(alone[0]) == as_json(found)


def test_odd_ids_survive_the_report() -> None:
    odd = 'L "1" % {x} é\\'
    text = changed(
        ("  L1: {header", f"  {odd!s}: {{header"), ("balance: {L1:", f"balance: {{{odd!r}:")
    )
    text = text.replace(repr(odd), '"' + odd.replace("\\", "\\\\").replace('"', '\\"') + '"')
    found = report(text)
    assert f"loops.{odd}" in {r.subject for r in found.results}
    assert f"loops.{odd}" in found.computed


def test_a_result_is_what_the_report_has_of_it() -> None:
    """JSON is written of a whole batch at once, and a result made on its own: both say the same."""
    texts = [
        DESIGN,
        changed(("oxygen_barrier: true", "oxygen_barrier: false")),
        changed(("isolation_valves: true", "isolation_valves: false")),
        changed(("medium: water", "medium: air")),
        changed(
            ("operating_pressure: 1.5 bar", "pressure: 4 bar"),
            (
                "    pressure: 4 bar\n",
                "",
            ),
        ),
        "design: 1\n",
        *(generate(number) for number in range(8)),
    ]
    files = [(f"{number}.yaml", text.encode()) for number, text in enumerate(texts)]
    for codes in (None, ("EN-1264", "US", "CN", "DE", "FR", "CA", "GB-ENG"), ()):
        designs, _ = check(files, Plan(codes=codes))
        for design in designs:
            read = decode(as_json(design), type=_Design)
            assert read.results == design.results
            assert read.computed == {
                subject: {name: one for name, one in own.items() if one.magnitude is not None}
                for subject, own in design.computed.items()
            }
            kinds = [(pattern.rule, pattern.kind) for pattern in design.found.patterns]
            assert [(one.rule, one.kind) for one in read.results] == kinds
            assert all(one.message for one in read.results)


class _Design(Struct):
    results: list[Result]
    computed: dict[str, dict[str, Measure]]


@pytest.mark.parametrize(
    ("found", "message"),
    [
        ("The loop {{value}} is {limit}.", "The loop {value} is at most 100 m."),
        ("Past {limit} by its {value}.", "Past at most 100 m by its 128 m."),
        ("Loop past {bound}.", "Loop past 100 m."),
        ("100 % of {value} %s %b", "100 % of 128 m %s %b"),
    ],
)
def test_a_firms_words_stand_as_it_wrote_them(tmp_path: Path, found: str, message: str) -> None:
    rule = (Path(__file__).parents[2] / "rules" / "loops" / "loop-length.yaml").read_text("utf-8")
    rule = re.sub("(?m)^found: .*$", f"found: '{found}'", rule)
    (tmp_path / "loop-length.yaml").write_text(rule, "utf-8")
    text = changed(("length: 88 m", "length: 128 m"))
    one = result(report(text, plan=Plan(rules=(str(tmp_path),))), "loop-length", "loops.L1")
    assert (one.kind, " ".join(one.message.split())) == ("fail", message)
    assert one.value == Measure(128.0, "m")
    assert one.margin == Measure(-28.0, "m")


def test_every_result_has_a_whole_fingerprint_of_its_own() -> None:
    for text in (DESIGN, "design: 1\nproject: {stage: installed}\n"):
        marks = [r.fingerprint for r in report(text).results]
        assert len(marks) > 20
        assert all(re.fullmatch("[0-9a-f]{32}", mark) for mark in marks)
        assert len(set(marks)) == len(marks)


def test_what_a_format_needs_besides_changes_no_finding() -> None:
    (plain,), _ = check([("a.yaml", DESIGN.encode())])
    (given,), _ = check([("a.yaml", DESIGN.encode())], with_given=True)
    assert given.given
    assert not plain.given
    assert as_json(given) == as_json(plain)


def test_the_report_counts_its_results_by_kind() -> None:
    found = report(changed(("length: 88 m", "length: 128 m"), ("wall_gap: 100 mm, ", "")))
    counts = json.loads(as_json(found))["counts"]
    kinds = [r.kind for r in found.results]
    assert counts == {kind: kinds.count(kind) for kind in KINDS}
    assert counts["open"] > 0
    assert counts["fail"] > 0


@pytest.mark.parametrize(("typed", "shown"), [("58 psi", "3.999 bar"), ("6.001 bar", "6.001 bar")])
def test_a_value_just_outside_two_limits_does_not_read_like_one(typed: str, shown: str) -> None:
    found = report(changed(("pressure: 4 bar", f"pressure: {typed}")))
    test = result(found, "test-pressure", "pressure_tests.first")
    assert test.kind == "fail"
    assert f"made at {shown}; 4 bar to 6 bar" in test.message
