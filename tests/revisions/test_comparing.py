"""Two revisions held against one another."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path

import pytest

from checker.intake.maps import load
from checker.intake.reading import book_of, of_map
from checker.reading.mistakes import Unreadable
from checker.revisions.comparing import compare
from checker.revisions.comparison import Change, Comparison, Pair
from checker.revisions.comparison_reports import as_markdown, as_text
from checker.revisions.revision import Revision, read
from checker.run.batch import Plan
from tests.design.designs import generate
from tests.example import DESIGN, SOUND, changed
from tests.revisions import job

PAIR = Path(__file__).parents[2] / "example_designs" / "subcontractors"


def text_of(found: Comparison, width: int) -> bytes:
    """The comparison as the command writes it."""
    return as_text(found, width, found.answer("anything"))


@cache
def side(path: str, text: str, plan: Plan) -> tuple[list[Revision], list[Unreadable]]:
    """One side, read once for all tests that have it: to compare changes neither."""
    return read([(path, text.encode())], plan)


def compared(old: str, new: str, plan: Plan = Plan()) -> Comparison:  # noqa: B008  # frozen
    (before, bad), (after, also_bad) = side("old.yaml", old, plan), side("new.yaml", new, plan)
    return compare(before, after, [*bad, *also_bad], plan)


def pair(old: str, new: str) -> Pair:
    return compared(old, new).pairs[0]


def change(found: Pair, rule: str, subject: str) -> Change:
    (one,) = [c for c in found.changes if (c.rule, c.subject) == (rule, subject)]
    return one


def inputs(found: Pair) -> list[tuple[str, str, str | None, str | None]]:
    return [(i.subject, i.field, i.before, i.after) for i in found.inputs]


TOO_LONG = changed(("length: 88 m", "length: 128 m"))
UNTESTED = DESIGN[: DESIGN.index("pressure_tests:")] + DESIGN[DESIGN.index("heat_up:") :]


def test_what_wanted_a_section_is_held_against_what_stands_in_it_now() -> None:
    """Where it was missing, its findings are not gone with what they were about."""
    found = pair(UNTESTED, DESIGN)
    states = {c.rule: (c.subject, c.state) for c in found.changes if c.rule.startswith("test-")}
    assert states["test-pressure"] == ("pressure_tests.first", "mended")
    assert states["test-kept-on"] == ("pressure_tests.first", "mended")
    weak = pair(UNTESTED, changed(("pressure: 4 bar", "pressure: 3 bar")))
    assert change(weak, "test-pressure", "pressure_tests.first").state == "worse"
    assert not [c for c in (*found.changes, *weak.changes) if c.state == "gone"]
    gone = pair(DESIGN, UNTESTED)
    assert change(gone, "test-pressure", "pressure_tests").state == "new"


def test_an_answer_is_no_reason_of_what_nobody_looked_at() -> None:
    seen = SOUND.replace("on: 2026-04-20", "on: 2026-03-01")
    found = pair(SOUND, changed(("length: 88 m", "length: 128 m"), text=seen))
    too_long = change(found, "loop-length", "loops.L1")
    assert [one.field for one in too_long.inputs] == ["length"]
    asked = change(found, "mixing-needed", "design")
    assert (asked.state, [one.field for one in asked.inputs]) == ("new", ["seen[1].on"])


def test_feeds_by_room_are_held_against_one_another_field_by_field() -> None:
    fed = changed(
        ("feeds: 8 m,", "feeds: [{room: bath, floor: slab, length: 8 m, spacing: 75 mm}],")
    )
    found = pair(fed, fed.replace("length: 8 m", "length: 9 m"))
    assert inputs(found) == [("loops.L1", "feeds[1].length", "8 m", "9 m")]


def test_a_design_against_itself_has_nothing_new() -> None:
    found = compared(TOO_LONG, TOO_LONG)
    assert inputs(found.pairs[0]) == []
    assert found.pairs[0].figures == ()
    assert {c.state for c in found.pairs[0].changes} == {"still"}
    assert found.answer("anything").line == "exit 0: nothing is new or worse"


def test_a_new_fail_names_the_input_that_made_it() -> None:
    found = compared(DESIGN, TOO_LONG)
    assert inputs(found.pairs[0]) == [("loops.L1", "length", "88 m", "128 m")]
    one = change(found.pairs[0], "loop-length", "loops.L1")
    assert (one.state, one.because) == ("new", "design")
    assert [(i.field, i.after) for i in one.inputs] == [("length", "128 m")]
    assert found.answer("anything").status == 1
    assert found.answer("major").why == "2 findings at or above major are new or worse"
    assert found.answer("critical").why == "nothing at or above critical is new or worse"
    assert found.answer("never").line == "exit 0: nothing counts (fail-on never)"
    names = {(f.subject, f.name) for f in found.pairs[0].figures}
    assert ("loops.L1", "pressure_drop") in names
    assert ("loops.L2", "velocity") not in names


def test_what_is_mended_is_not_new() -> None:
    found = compared(TOO_LONG, DESIGN)
    assert change(found.pairs[0], "loop-length", "loops.L1").state == "mended"


@pytest.mark.parametrize(
    ("length", "state"), [("140 m", "worse"), ("110 m", "better"), ("128.0 m", "still")]
)
def test_further_beyond_the_limit_is_worse(length: str, state: str) -> None:
    new = changed(("length: 88 m", f"length: {length}"))
    assert change(pair(TOO_LONG, new), "loop-length", "loops.L1").state == state


def test_a_fail_whose_proof_is_taken_away_is_worse_and_not_mended() -> None:
    new = changed((" length: 88 m,", ""))
    one = change(pair(TOO_LONG, new), "loop-length", "loops.L1")
    assert (one.state, one.after.kind) == ("worse", "open")  # type: ignore[union-attr]


def test_a_datum_that_goes_missing_is_new() -> None:
    one = change(pair(DESIGN, changed((" length: 88 m,", ""))), "loop-length", "loops.L1")
    assert (one.state, one.because) == ("new", "design")


def test_another_way_to_write_a_value_is_no_change() -> None:
    new = changed(("length: 88 m", "length: 8800 cm"), ("supply: 42 °C", "supply: 107.6 °F"),
                  ("isolation_valves: true", "isolation_valves: yes"))  # fmt: skip
    assert inputs(pair(DESIGN, new)) == []


def test_another_limit_is_told_from_another_design() -> None:
    """By the edition of another day the same design may come out otherwise."""
    old = changed(("designed_on: 2026-03-12", "designed_on: 2008-03-12"), ("4 bar", "3 bar"))
    new = changed(("4 bar", "3 bar"))
    found = pair(old, new)
    moved = [c for c in found.changes if c.because == "limit"]
    assert moved, "no rule of another edition in the book; choose another day"
    assert all(c.inputs == () for c in moved)
    assert not [c for c in found.changes if c.because in ("design", "both")]
    same_day = compared(old, new, Plan(on=date(2026, 3, 12))).pairs[0]
    assert {c.state for c in same_day.changes} == {"still"}


def test_a_finding_that_other_limits_took_away_is_not_mended() -> None:
    found = compared(changed(("GB-ENG", "CN")), changed(("GB-ENG", "US")))
    lapsed = found.pairs[0].of("judged otherwise")
    assert {(one.rule, one.because, one.inputs) for one in lapsed} == {
        ("loop-bend", "limit", ()),
        ("retest-after-screed", "limit", ()),
        ("water-speed-least", "limit", ()),
    }
    assert found.pairs[0].of("mended") == []
    assert (found.totals()["judged otherwise"], found.totals()["mended"]) == (4, 0)
    text = text_of(found, 100).decode()
    assert "Judged otherwise: other limits are in force (4)" in text
    assert "4 judged otherwise" in text.replace("\n    ", " ")


def test_a_finding_that_design_and_limits_mended_would_be_judged_otherwise_anyway() -> None:
    """Told as judged otherwise: the new revision cannot take the credit."""
    mended = changed(("GB-ENG", "GB-ENG"), ("4 bar", "6 bar"))
    found = pair(changed(("GB-ENG", "US")), mended)
    assert change(found, "test-pressure", "pressure_tests.first").state == "judged otherwise"


def test_values_that_are_shown_alike_are_still_there() -> None:
    new = changed(("length: 88 m", "length: 128.004 m"))
    for old, now in ((TOO_LONG, new), (new, TOO_LONG)):
        found = pair(old, now)
        assert change(found, "loop-length", "loops.L1").state == "still"
        assert inputs(found) != []
        shown = [
            line for line in text_of(compared(old, now), 80).decode().splitlines() if "→" in line
        ]
        assert not [
            line for line in shown if (halves := line.split(" → "))[0].endswith(f" {halves[-1]}")
        ]


@pytest.mark.parametrize("swapped", [False, True])
def test_open_results_of_a_rule_are_told_together(swapped: bool) -> None:
    sides = DESIGN, DESIGN.replace(", wall_gap: 100 mm", "")
    found = compared(*sides[::-1]) if swapped else compared(*sides)
    state = "mended" if swapped else "new"
    subjects = {c.subject for c in found.pairs[0].of(state) if c.rule == "wall-gap"}
    assert subjects == {"loops.L1", "loops.L2"}
    for text in (text_of(found, 100).decode(), as_markdown(found).decode().replace("\\", "")):
        (line,) = [line for line in text.splitlines() if "Pipe too near the wall" in line]
        assert "open loops.L1, loops.L2: " in line
        assert "wall_gap 100 mm → not given" in text or swapped


def test_both_causes_are_told_apart_within_one_pair() -> None:
    old = changed(("designed_on: 2026-03-12", "designed_on: 2008-03-12"), ("4 bar", "3 bar"))
    new = changed(("4 bar", "3 bar"), ("length: 88 m", "length: 128 m"))
    found = pair(old, new)
    assert change(found, "loop-length", "loops.L1").because == "design"
    assert any(c.because == "limit" for c in found.changes)


def test_a_renamed_loop_keeps_its_findings() -> None:
    new = TOO_LONG.replace("L1:", "kitchen loop:")
    found = pair(TOO_LONG, new)
    assert ("loops.L1", "loops.kitchen loop") in [(r.before, r.after) for r in found.renamed]
    assert change(found, "loop-length", "loops.kitchen loop").state == "still"
    assert (found.added, found.removed, inputs(found)) == ((), (), [])


def test_renamed_headers_rooms_and_pipes_are_recognised_together() -> None:
    new = DESIGN
    for old_name, new_name in (("H1", "V1"), ("kitchen", "Küche"), ("p16", "pipe"), ("L2", "B2")):
        new = new.replace(f"{old_name}:", f"{new_name}:").replace(
            f": {old_name},", f": {new_name},"
        )
        new = new.replace(f"header: {old_name}\n", f"header: {new_name}\n")
    new = new.replace("use: Küche", "use: kitchen")
    found = pair(DESIGN, new)
    assert {(r.before, r.after) for r in found.renamed} == {
        ("headers.H1", "headers.V1"), ("rooms.kitchen", "rooms.Küche"), ("pipes.p16", "pipes.pipe"),
        ("loops.L2", "loops.B2"),
    }  # fmt: skip
    assert inputs(found) == []
    assert {c.state for c in found.changes} <= {"still"}


def test_a_renamed_room_with_another_covering_is_recognised_by_its_loop() -> None:
    new = changed(("room: kitchen", "room: diner"), ("kitchen: {use: kitchen", "diner: {use: living"),
                  ("0.02 m²·K/W}}\n  bath", "0.05 m²·K/W}}\n  bath"))  # fmt: skip
    found = pair(DESIGN, new)
    assert [(r.before, r.after) for r in found.renamed] == [("rooms.kitchen", "rooms.diner")]
    assert {i[1] for i in inputs(found)} == {"use", "covering.resistance"}


def test_another_loop_on_another_port_is_no_rename() -> None:
    loop = next(line for line in DESIGN.splitlines() if line.startswith("  L2:"))
    other = (
        loop.replace("L2:", "L9:")
        .replace("port: 2", "port: 4")
        .replace("room: bath", "room: kitchen")
    )
    other = other.replace(
        "100 mm, area: 7 m², length: 80 m, feeds: 10 m",
        "200 mm, area: 9 m², length: 50 m, feeds: 5 m",
    )
    found = pair(DESIGN, DESIGN.replace(loop, other))
    assert "loops.L2" in found.removed
    assert "loops.L9" in found.added
    assert found.renamed == ()


def test_designs_are_matched_by_project_whatever_their_files() -> None:
    houses = {n: generate(n) for n in range(4)}
    before, _ = read([(f"b/{n}.yaml", text.encode()) for n, text in houses.items()])
    after, _ = read([(f"c/{9 - n}.yaml", text.encode()) for n, text in houses.items() if n])
    new = DESIGN.replace("Test House", "New House")
    more, _ = read([("c/new.yaml", new.encode())])
    found = compare(before, [*after, *more])
    assert [p.before.path for p in found.pairs] == ["b/1.yaml", "b/2.yaml", "b/3.yaml"]
    assert [p.after.path for p in found.pairs] == ["c/8.yaml", "c/7.yaml", "c/6.yaml"]
    assert [s.name for s in found.only_before] == ["Invented Street 0"]
    assert [s.name for s in found.only_after] == ["New House"]
    assert {c.state for p in found.pairs for c in p.changes} == {"still"}
    assert found.totals()["new"] == len(found.only_after[0].findings)


def test_the_example_pair() -> None:
    old, new = ((PAIR / f"orchard-row-6-revision-{r}.yaml").read_text("utf-8") for r in "bc")
    found = pair(old, new)
    assert {(c.rule, c.subject) for c in found.of("mended")} == {
        ("loop-length", "loops.living east"), ("test-pressure", "pressure_tests.test of G1"),
    }  # fmt: skip
    several = [one for one in found.matched if not isinstance(one.after, str)]
    assert [(one.before, one.after) for one in several] == [
        ("loops.living east", ("loops.living east", "loops.living north"))
    ]
    assert found.added == ()
    assert {(r.before, r.after) for r in found.renamed} == {
        ("rooms.utility", "rooms.boot room"), ("loops.utility", "loops.boot room"),
    }  # fmt: skip
    assert change(found, "room-heat", "rooms.boot room").state == "new"


L1, L2 = (
    next(line for line in DESIGN.splitlines(keepends=True) if line.startswith(f"  {name}:"))
    for name in ("L1", "L2")
)
UNBALANCED = DESIGN.replace("balance: {L1: {flow: 1.5 l/min}}", "")
LONG = UNBALANCED.replace("length: 88 m", "length: 128 m")
HALF = L1.replace("area: 12 m²", "area: 6 m²").replace("length: 88 m", "length: 48 m")


def test_what_is_left_out_is_gone_and_not_mended() -> None:
    found = pair(LONG, LONG.replace("  L1: {header", "  L9: {header").replace(L2, ""))
    one = change(found, "loop-length", "loops.L9")
    assert one.state == "still"
    alone = compared(LONG, LONG.replace(L1.replace("length: 88 m", "length: 128 m"), "")).pairs[0]
    assert {c.state for c in alone.changes if c.subject == "loops.L1"} == {"gone"}
    assert not [c for c in alone.of("mended") if c.subject == "loops.L1"]
    assert alone.removed[0] == "loops.L1"


def test_swapped_ids_do_not_swap_findings() -> None:
    new = LONG.replace("  L1: {header", "  X: {header").replace("  L2: {header", "  L1: {header")
    found = pair(LONG, new.replace("  X: {header", "  L2: {header"))
    assert change(found, "loop-length", "loops.L2").state == "still"
    assert {(m.before, m.after) for m in found.matched if "loops" in m.before} == {
        ("loops.L1", "loops.L2"), ("loops.L2", "loops.L1"),
    }  # fmt: skip
    assert {c.state for c in found.changes} == {"still"}


def test_a_long_loop_that_was_split_is_mended_once() -> None:
    parts = HALF + HALF.replace("L1:", "L3:").replace("port: 1", "port: 3")
    long = L1.replace("length: 88 m", "length: 128 m")
    found = pair(TOO_LONG, TOO_LONG.replace(long, parts))
    assert [m.after for m in found.matched if m.before == "loops.L1"] == [("loops.L1", "loops.L3")]
    assert [c.state for c in found.changes if c.rule == "loop-length"] == ["mended"]
    back = pair(TOO_LONG.replace(long, parts), TOO_LONG)
    assert [m.before for m in back.matched if m.after == "loops.L1"] == [("loops.L1", "loops.L3")]
    assert [c.state for c in back.changes if c.rule == "loop-length"] == ["new"]


def test_a_rule_that_applies_no_more_is_told_apart() -> None:
    """A moisture that is missing is asked of a screed about to be covered, not of one planned."""
    old = changed((", moisture: 1.6 %", ""))
    found = pair(old, old.replace("stage: installed", "stage: design"))
    states = {c.rule: c.state for c in found.changes}
    assert states["screed-moisture"] == "no longer asked"


def test_what_could_be_read_two_ways_is_asked_and_holds() -> None:
    """Two loops of a room, one is left out and the other half way between them: which?"""
    twin = L1.replace("L1:", "L3:").replace("port: 1", "port: 3")
    old = UNBALANCED.replace(
        L1, L1.replace("length: 88 m", "length: 118 m") + twin.replace("88", "90")
    )
    new = UNBALANCED.replace(
        L1, twin.replace("L3:", "L5:").replace("88 m", "104 m").replace("port: 3", "port: 4")
    )
    found = compared(old, new)
    (one,) = found.pairs[0].unsure
    assert (set(one.before), one.after) == ({"loops.L1", "loops.L3"}, ("loops.L5",))
    asked = {(c.rule, c.subject) for c in found.pairs[0].of("asked")}
    assert ("loop-length", "loops.L5") in asked
    assert found.answer("anything").status == 1
    assert "please say which" in text_of(found, 100).decode()
    assert not [m for m in found.pairs[0].matched if "L5" in str(m.after)]


def test_an_id_that_is_doubtful_on_one_side_is_another_record_on_the_other() -> None:
    """Loops 4 and 5 of the first revision of the example job, of which 4 is asked about."""
    sheets = job.sent()
    old, new = (sheets[f"round-{n}/ridge-lane-14-r{n}.xlsx"] for n in (1, 2))
    plan = load("m", (job.FOLDER / "maps" / "ridge-lane-14.map.yaml").read_bytes())
    texts = [
        next(of_map(book_of(f"{n}.xlsx", data), plan)).text.encode()
        for n, data in enumerate((old, new))
    ]
    (one,), _ = read([("0.yaml", texts[0])])
    (two,), _ = read([("1.yaml", texts[1])])
    (found,) = compare([one], [two]).pairs
    loops = {m.before: m.after for m in found.matched if str(m.before).startswith("loops.")}
    assert loops == {
        "loops.1": "loops.2", "loops.2": "loops.3", "loops.3": "loops.4", "loops.5": "loops.6",
    }  # fmt: skip
    assert [(one.before, one.after) for one in found.unsure] == [(("loops.4",), ("loops.5",))]
    assert (found.added, found.removed) == (("rooms.Porch", "loops.1"), ())
