"""Known findings: what is new, worse, unchanged or mended, whatever lines and counts do."""

from __future__ import annotations

from pathlib import Path

import pytest
from msgspec import UNSET

from checker.notes.baseline import (
    BadKnown,
    Baseline,
    KnownDesign,
    KnownFinding,
    compare,
    finding,
    is_finding,
    line_of,
    lines_of,
    moved,
    read,
    written,
)
from checker.outcome.report import DesignReport
from checker.outcome.results import Kind, Measure, Notes, Severity, State
from checker.outcome.runs import RuleSet
from checker.run.batch import Plan, check
from tests.example import DESIGN, changed
from tests.reports.samples import design, result

RULES = RuleSet("2026-11", "sha256:" + "0" * 64)
TOO_LONG = changed(("length: 88 m", "length: 128 m"))
KEY = ("loop-length", "loops.L1")


def frozen(text: str, folder: Path, path: str = "house.yaml") -> Baseline:
    """The findings of a design, written down in a folder."""
    (design,), _ = check([(path, text.encode())])
    base = Baseline(str(folder), b"")
    findings = [
        finding(base.name_of(str(folder / path)), result)
        for result in design.results
        if is_finding(result)
    ]
    return Baseline(str(folder), b"".join(written(RULES, [lines_of(findings)])))


def held(text: str, known: Baseline, path: str = "house.yaml") -> DesignReport:
    """A design, held against known findings."""
    whole = str(Path(known.folder) / path)
    (design,), _ = check([(whole, text.encode())], Plan(known=known))
    return design


def states(design: DesignReport) -> dict[tuple[str, str], str]:
    return {(r.rule, r.subject): r.state for r in design.results if r.state}


def test_what_was_there_is_unchanged(tmp_path: Path) -> None:
    design = held(TOO_LONG, frozen(TOO_LONG, tmp_path))
    assert set(states(design).values()) == {"unchanged"}
    assert KEY in states(design)
    assert design.mended == ()


def test_it_stays_known_when_lines_move_and_others_come_and_go(tmp_path: Path) -> None:
    known = frozen(TOO_LONG, tmp_path)
    moved = "# a note\n\n\n" + TOO_LONG.replace("length: 80 m", "length: 130 m")
    assert states(held(moved, known))[KEY] == "unchanged"
    assert states(held(moved, known))["loop-length", "loops.L2"] == "new"


def test_one_mended_and_one_new_are_both_seen(tmp_path: Path) -> None:
    known = frozen(TOO_LONG, tmp_path)
    other = changed(("length: 80 m", "length: 130 m"))
    design = held(other, known)
    assert states(design)["loop-length", "loops.L2"] == "new"
    assert design.mended
    assert KEY in {(one.rule, one.subject) for one in design.mended}


@pytest.mark.parametrize(
    ("length", "state"),
    [
        ("128 m", "unchanged"),
        ("128.00001 m", "unchanged"),
        ("128.1 m", "worse"),
        ("120 m", "unchanged"),
    ],
)
def test_it_is_worse_where_the_margin_grew(tmp_path: Path, length: str, state: str) -> None:
    known = frozen(TOO_LONG, tmp_path)
    now = TOO_LONG.replace("length: 128 m", f"length: {length}")
    assert states(held(now, known))[KEY] == state


@pytest.mark.parametrize(
    ("severity", "kind", "margin"),
    [
        ("minor", "fail", Measure(-28.0, "m")),  # it became graver
        ("major", "open", None),  # it could not be judged, and now fails
        ("major", "fail", Measure(-28.0, "ft")),  # it cannot be compared
        ("major", "fail", None),
    ],
)
def test_it_is_worse_where_it_cannot_be_the_same(
    tmp_path: Path, severity: Severity, kind: Kind, margin: Measure | None
) -> None:
    one = KnownFinding("house.yaml", *KEY, kind, severity, margin)
    known = Baseline(str(tmp_path), b"".join(written(RULES, [lines_of([one])])))
    assert states(held(TOO_LONG, known))[KEY] == "worse"


def test_a_fail_without_a_margin_is_worse_than_an_open_result(tmp_path: Path) -> None:
    made = design(result(margin=UNSET))
    cases: list[tuple[Kind, State]] = [
        ("open", "worse"),
        ("fail", "unchanged"),
        ("review", "worse"),  # nobody had looked, and now it is not as wanted
    ]
    for kind, state in cases:
        one = KnownFinding("house.yaml", *KEY, kind, "major")
        known = Baseline(str(tmp_path), b"".join(written(RULES, [lines_of([one])])))
        assert compare(made, str(tmp_path / "house.yaml"), known) == {0: Notes(state=state)}


@pytest.mark.parametrize(
    ("known", "state"), [("review", "unchanged"), ("fail", "worse"), ("open", "worse")]
)
def test_an_answer_that_is_taken_back_is_worse(tmp_path: Path, known: Kind, state: State) -> None:
    made = design(result(kind="review", severity="critical", margin=UNSET))
    one = KnownFinding("house.yaml", *KEY, known, "critical")
    base = Baseline(str(tmp_path), b"".join(written(RULES, [lines_of([one])])))
    assert compare(made, str(tmp_path / "house.yaml"), base) == {0: Notes(state=state)}


def test_another_design_of_the_same_name_is_another_design(tmp_path: Path) -> None:
    known = frozen(TOO_LONG, tmp_path)
    assert states(held(TOO_LONG, known, "copy.yaml"))[KEY] == "new"


@pytest.mark.parametrize(
    ("there", "judged", "is_moved"),
    [
        (True, ("row.xlsx#House-1", "row.xlsx#House-2"), False),  # a copy, and new as such
        (True, ("row.xlsx#House-2",), True),
        (True, (), False),
        (False, (), True),
    ],
)
def test_a_design_is_moved_out_of_a_workbook_only_where_it_is_gone_from_it(
    tmp_path: Path, there: bool, judged: tuple[str, ...], is_moved: bool
) -> None:
    """What is known of one house says nothing of another that has its name."""
    if there:
        (tmp_path / "row.xlsx").touch()
    known = KnownDesign("row.xlsx#House-1", "Orchard Row 1", "digest", (), ())
    lines = (b"".join(written(RULES, [], [line_of(known)])),)
    paths = [str(tmp_path / path) for path in (*judged, "house.yaml")]
    names = {paths[-1]: "Orchard Row 1"}
    found = moved(
        Baseline(str(tmp_path), *lines), paths, lambda path: ("other", names.get(path, ""))
    )
    expected = (("house.yaml", "row.xlsx#House-1"),) if is_moved else ()
    assert found.moved == expected


def test_what_is_known_of_a_design_goes_with_one_alone(tmp_path: Path) -> None:
    """A further house of its name is new, also where the design itself was found by its content."""
    known = KnownDesign("row.xlsx", "row", "digest", (), ())
    base = Baseline(str(tmp_path), b"".join(written(RULES, [], [line_of(known)])))
    first, second = (str(tmp_path / f"row.xlsx#House-{number}") for number in (1, 2))
    now = {first: ("digest", "row"), second: ("other", "row")}
    assert moved(base, [*now], now.__getitem__).moved == (("row.xlsx#House-1", "row.xlsx"),)
    now[first] = ("changed", "row")
    assert moved(base, [*now], now.__getitem__).moved == ()  # either may be the one


def test_a_subject_that_is_gone_is_mended(tmp_path: Path) -> None:
    known = frozen(TOO_LONG.replace("  L1:", "  L9:").replace("{L1:", "{L9:"), tmp_path)
    design = held(DESIGN, known)
    assert design.mended
    assert ("loop-length", "loops.L9") in {(one.rule, one.subject) for one in design.mended}


def test_an_open_result_is_a_finding_too(tmp_path: Path) -> None:
    text = changed(("heat_load: 700 W, ", ""))
    assert states(held(text, frozen(text, tmp_path)))["room-heat", "rooms.kitchen"] == "unchanged"
    assert states(held(text, frozen(DESIGN, tmp_path)))["room-heat", "rooms.kitchen"] == "new"


def test_the_file_has_a_finding_a_line_in_order_and_no_lines_or_counts(tmp_path: Path) -> None:
    data = frozen(TOO_LONG, tmp_path).data
    findings = [*read(data).each()]
    keys = [(one.design, one.rule, one.subject) for one in findings]
    assert keys == sorted(keys)
    assert b'"line"' not in data
    lines = lines_of(reversed(findings))
    designs = map(line_of, read(data).each_design())
    assert b"".join(written(RULES, [lines], designs)) == data
    assert len(data.splitlines()) == len(findings) + len(read(data).designs or " ") + 3


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "not a file of known findings"),
        (b"design: 1", "not a file of known findings"),
        (b"\xff", "not a file of known findings"),
        (b'{"known": 1}', "not a file of known findings"),
        (b"".join(written(RULES, [])).replace(b'"known":2', b'"known":3'), "this program knows 2"),
    ],
)
def test_another_file_is_refused(data: bytes, words: str) -> None:
    with pytest.raises(BadKnown, match=words):
        read(data)


@pytest.mark.parametrize(
    ("now", "then", "state"),
    [
        (None, None, "unchanged"),
        (-1.0, None, "worse"),
        (None, -1.0, "worse"),
        (-1.0, -1.0, "unchanged"),
    ],
)
def test_a_margin_without_a_number_is_the_same_only_as_another_without(
    tmp_path: Path, now: float | None, then: float | None, state: State
) -> None:
    made = design(result(margin=Measure(now, "m")))
    one = KnownFinding("house.yaml", *KEY, "fail", "major", Measure(then, "m"))
    known = Baseline(str(tmp_path), b"".join(written(RULES, [lines_of([one])])))
    assert compare(made, str(tmp_path / "house.yaml"), known) == {0: Notes(state=state)}
