"""Waivers: what they accept, up to which day and value, and what is wrong with one."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from msgspec.structs import replace

from checker import units
from checker.notes.waivers import (
    KEYS,
    NEEDED,
    BadWaivers,
    WaiverFile,
    _beyond,
    load,
    settled,
)
from checker.outcome.report import DesignReport, WaiverUse
from checker.outcome.results import Limit, Measure
from checker.reading.package_data import data_folder
from checker.run.batch import Plan, check
from tests.example import SOUND, changed, result

DAY = date(2026, 6, 1)
TOO_LONG = changed(
    ("150 mm, area: 12 m²", "100 mm, area: 12 m²"),
    ("length: 88 m", "length: 128 m"),
    ("supply: 42 °C\n  drop", "supply: 41 °C\n  drop"),
    text=SOUND,
)
"""Its one major fail: loop-length of loops.L1, 128 m where 100 m is the limit."""
CRITICAL = changed(("    pressure: 4 bar\n", "    pressure: 3 bar\n"), text=SOUND)
"""Its one critical fail: test-pressure of pressure_tests.first."""
ENTRY = """\
  - rule: loop-length
    subject: loops.L1
    reason: The maker allows 130 m.
    accepted_by: A. Designer
    accepted_on: 2026-03-12
    expires: 2026-12-31
"""


def waivers(folder: Path, *changes: tuple[str, str]) -> Path:
    text = "waivers:\n" + changed(*changes, text=ENTRY)
    path = folder / "prescreed.waivers.yaml"
    path.write_text(text, "utf-8")
    return path


def read(path: Path) -> WaiverFile:
    return load(path.read_bytes(), path.name, str(path.parent))


def judged(
    folder: Path, *changes: tuple[str, str], text: str = TOO_LONG, today: date = DAY
) -> tuple[DesignReport, WaiverUse]:
    """The design under the one waiver, and how that waiver fared."""
    file = read(waivers(folder, *changes))
    path = str(folder / "house.yaml")
    Path(path).write_text(text, "utf-8")
    plan = Plan(waivers=(file,), today=today)
    (design,), _ = check([(path, text.encode())], plan)
    rules = {r.rule for r in design.results}
    (use,) = settled(design.waivers, [file], today, frozenset([path]), rules)
    return design, use


def waives(*arguments: object, **more: object) -> bool:
    design, _ = judged(*arguments, **more)  # type: ignore[arg-type]
    return bool(result(design, "loop-length", "loops.L1").waived)


def test_a_waived_fail_holds_no_more_and_stays_visible(tmp_path: Path) -> None:
    design, use = judged(tmp_path)
    found = result(design, "loop-length", "loops.L1")
    assert found.kind == "fail"
    assert found.waived
    assert (found.waived.by, found.waived.until) == ("A. Designer", "2026-12-31")
    assert design.verdict == "release"
    assert (use.waives, use.problems) == (1, [])


def test_without_a_waiver_it_holds() -> None:
    (design,), _ = check([("house.yaml", TOO_LONG.encode())])
    assert design.verdict == "hold"


@pytest.mark.parametrize(
    ("today", "accepted"),
    [
        (date(2026, 3, 11), False),
        (date(2026, 3, 12), True),
        (date(2026, 12, 31), True),  # the day of expiry is included
        (date(2027, 1, 1), False),
    ],
)
def test_it_holds_from_its_first_day_to_its_last(
    tmp_path: Path, today: date, accepted: bool
) -> None:
    design, use = judged(tmp_path, today=today)
    assert bool(result(design, "loop-length", "loops.L1").waived) is accepted
    assert any("expired" in problem for problem in use.problems) is (today.year == 2027)


def test_an_expired_waiver_is_reported_and_its_finding_counts(tmp_path: Path) -> None:
    design, use = judged(tmp_path, today=date(2027, 1, 1))
    assert design.verdict == "hold"
    assert use.waives == 0
    (problem,) = use.problems
    assert "expired after 2026-12-31" in problem


@pytest.mark.parametrize(
    ("subject", "accepted"),
    [("loops.L1", True), ("loops.L?", True), ("loops.L2", False), ("L1", False)],
)
def test_a_subject_may_be_a_pattern(tmp_path: Path, subject: str, accepted: bool) -> None:
    assert waives(tmp_path, ("subject: loops.L1", f'subject: "{subject}"')) is accepted


@pytest.mark.parametrize(
    ("design", "accepted"),
    [("house.yaml", True), ("h*.yaml", True), ("other.yaml", False), ("sub/house.yaml", False)],
)
def test_a_waiver_may_be_for_one_design(tmp_path: Path, design: str, accepted: bool) -> None:
    changes = ("    reason", f"    design: {design}\n    reason")
    assert waives(tmp_path, changes) is accepted


@pytest.mark.parametrize(
    ("up_to", "accepted"),
    [
        ("128 m", True),  # equal holds
        ("420 ft", True),  # 128.016 m
        ("419 ft", False),  # 127.7112 m
        ("127.9999999 m", True),  # equal within 1e-9 of it, as everywhere
        ("127.9999998 m", False),
        ("127.999 m", False),
        ("20 kPa", False),
    ],
)
def test_it_holds_up_to_a_value(tmp_path: Path, up_to: str, accepted: bool) -> None:
    assert units.parse("419 ft", "length") < 128 < units.parse("420 ft", "length")
    changes = ("    reason", f"    up_to: {up_to}\n    reason")
    design, use = judged(tmp_path, changes)
    assert bool(result(design, "loop-length", "loops.L1").waived) is accepted
    assert bool(use.problems) is not accepted


@pytest.mark.parametrize(
    ("up_to", "accepted"), [("1 m²·K/W", True), ("0.6 m²·K/W", True), ("1.1 m²·K/W", False)]
)
def test_a_value_below_its_limit_is_accepted_down_to_the_one_named(
    tmp_path: Path, up_to: str, accepted: bool
) -> None:
    # 1.25 m²·K/W is wanted over ground.
    text = changed(("insulation: 4 m²·K/W", "insulation: 1 m²·K/W"))
    design, _ = judged(
        tmp_path,
        ("rule: loop-length", "rule: insulation"),
        ("subject: loops.L1", f"subject: floors.slab\n    up_to: {up_to}"),
        text=text,
    )
    found = result(design, "insulation", "floors.slab")
    assert (found.kind, bool(found.waived)) == ("fail", accepted)


CRITICAL_CHANGES = (
    ("rule: loop-length", "rule: test-pressure"),
    ("subject: loops.L1", "subject: pressure_tests.first"),
)


@pytest.mark.parametrize(("length", "findings"), [("80 m", "1 finding"), ("129 m", "2 findings")])
def test_it_is_told_of_how_many_findings_it_does_not_hold_for(
    tmp_path: Path, length: str, findings: str
) -> None:
    text = changed(("length: 80 m", f"length: {length}"), text=TOO_LONG)
    _, use = judged(tmp_path, ("loops.L1", '"loops.L*"\n    up_to: 110 m'), text=text)
    assert use.problems == [
        f"It is not applied to {findings} that it names: "
        "the value is beyond 110 m, up to which it was accepted."
    ]


def test_a_critical_fail_is_waived_only_where_the_rules_allow_it(tmp_path: Path) -> None:
    design, use = judged(tmp_path, *CRITICAL_CHANGES, text=CRITICAL)
    found = result(design, "test-pressure", "pressure_tests.first")
    assert (found.kind, found.severity, bool(found.waived)) == ("fail", "critical", False)
    assert design.verdict == "hold"
    assert "critical" in use.problems[0]


def test_a_pack_may_allow_it(tmp_path: Path) -> None:
    pack = tmp_path / "pack" / "pressure_tests"
    pack.mkdir(parents=True)
    own = (data_folder("rules") / "pressure_tests" / "test-pressure.yaml").read_text("utf-8")
    (pack / "test-pressure.yaml").write_text("waivable: yes\n" + own, "utf-8")
    file = read(waivers(tmp_path, *CRITICAL_CHANGES))
    plan = Plan(rules=(str(tmp_path / "pack"),), waivers=(file,), today=DAY)
    (design,), _ = check([(str(tmp_path / "house.yaml"), CRITICAL.encode())], plan)
    assert result(design, "test-pressure", "pressure_tests.first").waived
    assert design.verdict == "release"


@pytest.mark.parametrize(
    ("subject", "broad"),
    [
        ("*", True),
        ("loops.*", True),
        ("loops.??", True),
        ("*.L1", True),
        ("l*", True),
        ("loops.[!x]*", True),
        ("loops.L*", False),
        ("loops.L[12]", False),
        ("design", False),
    ],
)
def test_one_that_names_no_subject_is_refused(tmp_path: Path, subject: str, broad: bool) -> None:
    path = waivers(tmp_path, ("subject: loops.L1", f'subject: "{subject}"'))
    if broad:
        with pytest.raises(BadWaivers, match="too broad") as bad:
            read(path)
        (problem,) = bad.value.problems
        assert (problem.line, problem.column) == (3, 14)
    else:
        assert read(path).waivers


@pytest.mark.parametrize(("expires", "ends"), [("2036-12-31", True), ("9999-12-31", False)])
def test_one_without_an_end_is_refused(tmp_path: Path, expires: str, ends: bool) -> None:
    path = waivers(tmp_path, ("expires: 2026-12-31", f"expires: {expires}"))
    if ends:
        assert read(path).waivers[0].until == date(2036, 12, 31)
    else:
        with pytest.raises(BadWaivers, match="too far off: a waiver lasts at most 10 years"):
            read(path)


@pytest.mark.parametrize("up_to", ["nan", "inf", "-inf", "1_000", "１０", "much", "nan m"])
def test_a_bound_that_is_no_number_is_refused(tmp_path: Path, up_to: str) -> None:
    path = waivers(tmp_path, ("    reason", f"    up_to: '{up_to}'\n    reason"))
    with pytest.raises(BadWaivers, match="is not a value such as"):
        read(path)


def test_one_with_a_value_up_to_which_it_holds_is_not_too_broad(tmp_path: Path) -> None:
    _, use = judged(tmp_path, ("subject: loops.L1", 'subject: "loops.*"\n    up_to: 130 m'))
    assert use.problems == []


def test_one_that_waives_nothing_is_reported(tmp_path: Path) -> None:
    _, use = judged(tmp_path, ("subject: loops.L1", "subject: loops.L2"))
    assert use.problems == ["It waives nothing. Take it out."]


def test_it_is_not_called_unused_while_designs_of_its_folder_were_not_judged(
    tmp_path: Path,
) -> None:
    (tmp_path / "other.yaml").write_text("design: 1\n", "utf-8")
    _, use = judged(tmp_path, ("subject: loops.L1", "subject: loops.L2"))
    assert use.problems == []


@pytest.mark.parametrize("design", ["row.xlsx#House-1", "row.xlsx#*", "'*'", "row.xlsx"])
def test_it_is_not_called_unused_while_its_workbook_was_not_judged(
    tmp_path: Path, design: str
) -> None:
    path = tmp_path / "prescreed.waivers.yaml"
    entry = ENTRY.replace("    subject:", f"    design: {design}\n    subject:")
    path.write_text(f"waivers:\n{entry}", "utf-8")
    (tmp_path / "row.xlsx").touch()
    (tmp_path / "house.yaml").write_text(SOUND, "utf-8")
    one, other, third = (
        str(tmp_path / name) for name in ("house.yaml", "row.xlsx#House-1", "row.xlsx#House-2")
    )
    (use,) = settled([], [read(path)], DAY, frozenset([one]), ["loop-length"])
    assert use.problems == []
    (use,) = settled([], [read(path)], DAY, frozenset([one, other, third]), ["loop-length"])
    assert use.problems == ["It waives nothing. Take it out."]


def test_a_rule_that_there_is_not_is_reported(tmp_path: Path) -> None:
    _, use = judged(tmp_path, ("rule: loop-length", "rule: loop-lenght"))
    assert "did you mean 'loop-length" in use.problems[0]


def test_it_counts_only_below_its_folder(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    file = read(waivers(tmp_path / "a"))
    plan = Plan(waivers=(file,), today=DAY)
    (design,), _ = check([(str(tmp_path / "ab" / "house.yaml"), TOO_LONG.encode())], plan)
    assert not result(design, "loop-length", "loops.L1").waived


@pytest.mark.parametrize("up_to", ["", "\n    up_to: 80 %"])
def test_an_open_result_may_be_waived_too(tmp_path: Path, up_to: str) -> None:
    """What an open result may come to is not known, so that no value bounds it."""
    text = changed(("heat_load: 700 W, ", ""))
    design, _ = judged(
        tmp_path,
        ("rule: loop-length", "rule: room-heat"),
        ("subject: loops.L1", f"subject: rooms.kitchen{up_to}"),
        text=text,
    )
    found = result(design, "room-heat", "rooms.kitchen")
    assert (found.kind, bool(found.waived)) == ("open", True)


@pytest.mark.parametrize(
    ("change", "place", "words"),
    [
        (("    reason: The maker allows 130 m.\n", ""), (2, 5), "only waived for a reason"),
        (("    reason: The maker allows 130 m.\n", "    reason: ''\n"), (4, 13), "'reason' should be"),
        (("    expires: 2026-12-31\n", ""), (2, 5), "holds up to a day"),
        (("expires: 2026-12-31", "expires: 31.12.2026"), (7, 14), "is not a date such as 2026-12-31"),
        (("expires: 2026-12-31", "expires: 2026-02-30"), (7, 14), "is not a date"),
        (("accepted_by", "acepted_by"), (5, 5), "did you mean 'accepted_by'?"),
        (("    accepted_by: A. Designer\n", ""), (2, 5), "'accepted_by' is missing"),
        (("  - rule: loop-length", "    rule: loop-length"), (2, 5), "should be a list"),
        (("    expires: 2026-12-31\n", "    expires: 2026-12-31\nall: yes\n"), (8, 1), "'all' is not known here"),
        (("    expires: 2026-12-31\n", "    expires: 2026-12-31\nzone: 1\n"), (8, 1), "'zone' is not known here"),
    ],
)  # fmt: skip
def test_a_mistake_is_told_with_its_place(
    tmp_path: Path, change: tuple[str, str], place: tuple[int, int], words: str
) -> None:
    path = waivers(tmp_path, change)
    with pytest.raises(BadWaivers) as bad:
        read(path)
    problem = bad.value.problems[0]
    assert words in problem.message
    assert (problem.line, problem.column) == place


def test_every_mistake_is_told(tmp_path: Path) -> None:
    path = tmp_path / "prescreed.waivers.yaml"
    path.write_text("waivers:\n  - {rule: a}\n  - {rule: b}\n", "utf-8")
    with pytest.raises(BadWaivers) as bad:
        read(path)
    assert [problem.line for problem in bad.value.problems] == [2, 3]


def test_the_schema_for_editors_knows_the_same_keys() -> None:
    schema = json.loads((data_folder("schemas") / "waivers.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    entry = schema["properties"]["waivers"]["items"]
    assert set(entry["properties"]) == set(KEYS)
    assert set(entry["required"]) == set(NEEDED)


def test_many_unused_waivers_look_for_designs_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from checker.reading import design_files

    path = tmp_path / "prescreed.waivers.yaml"
    entries = "".join(ENTRY.replace("loops.L1", f"loops.N{number}") for number in range(300))
    path.write_text(f"waivers:\n{entries}", "utf-8")
    (tmp_path / "house.yaml").write_text(SOUND, "utf-8")
    real = design_files.designs
    searched: list[list[str]] = []

    def search(paths: list[str]) -> design_files.Named:
        searched.append(paths)
        return real(paths)

    monkeypatch.setattr(design_files, "designs", search)
    file = read(path)
    for judged_too, unused in ((True, 300), (False, 0)):
        here = frozenset([str(tmp_path / "house.yaml")] if judged_too else [])
        uses = settled([], [file], DAY, here, ["loop-length"])
        assert sum(use.problems == ["It waives nothing. Take it out."] for use in uses) == unused
    assert len(searched) == 2


@pytest.mark.parametrize(
    ("value", "accepted"),
    [(9.0, False), (10.0, True), (15.0, True), (120.0, True), (200.0, True), (201.0, False)],
)
def test_between_two_limits_each_side_has_its_own_bound(value: float, accepted: bool) -> None:
    """Below the least the bound is one to stay over, above the most one to stay under."""
    (design,), _ = check([("house.yaml", TOO_LONG.encode())], Plan())
    found = replace(
        result(design, "loop-length", "loops.L1"),
        value=Measure(value, "m"),
        limit=Limit(between=(Measure(20.0, "m"), Measure(100.0, "m"))),
    )
    up_to = "10 m" if value < 20 else "200 m"
    assert (_beyond(up_to, found) == "") == accepted


@pytest.mark.parametrize(
    ("up_to", "said"),
    [("3", ""), ("4.5", ""), ("2", "beyond 2"), ("3 m", "not a plain number"), ("0.03 %", "plain")],
)
def test_a_bound_of_what_has_no_unit_is_a_plain_number(up_to: str, said: str) -> None:
    (design,), _ = check([("house.yaml", TOO_LONG.encode())], Plan())
    found = replace(
        result(design, "loop-length", "loops.L1"),
        value=Measure(3.0, "1"),
        limit=Limit(at_most=Measure(1.0, "1")),
    )
    told = _beyond(up_to, found)
    assert said in told
    assert bool(told) == bool(said)
