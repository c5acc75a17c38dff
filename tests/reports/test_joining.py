"""Findings told once for many subjects: which, how named, with what range."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from checker.outcome.results import COMES_OF, Measure, Result, Under
from checker.reports.joining import Joined, joined, lacking, lined, named
from checker.words.speech import PLAIN
from tests.reports.test_text import found


def many(*values: tuple[str, float]) -> list[Result]:
    return [
        found(
            "water-speed-low",
            "fail",
            "observation",
            subject=f"loops.{name}",
            line=number,
            fingerprint=f"{number:032}",
            value=Measure(value, "m/s"),
            margin=Measure(value - 0.1, "m/s"),
            message=f"The water moves at {value:g} m/s, under at least 0.1 m/s.",
        )
        for number, (name, value) in enumerate(values, 3)
    ]


def test_one_alone_is_told_as_it_stands() -> None:
    (one,) = joined(results := many(("L1", 0.05)), PLAIN)
    assert one == Joined(results[0], ["loops.L1"], "line 3", results[0].message)


def test_values_are_told_as_a_range() -> None:
    (one,) = joined(many(("L1", 0.05), ("L2", 0.03), ("L3", 0.07)), PLAIN)
    assert one.subjects == ["loops.L1", "loops.L2", "loops.L3"]
    assert one.where == "lines 3, 4, 5"
    assert one.message == "The water moves at 0.03 m/s to 0.07 m/s, under at least 0.1 m/s."


def test_one_value_is_no_range_though_it_reads_like_the_limit() -> None:
    (one,) = joined(many(("L1", 0.1), ("L2", 0.1)), PLAIN)
    assert one.message == "The water moves at 0.1 m/s, under at least 0.1 m/s."


def test_another_limit_severity_or_section_stands_alone() -> None:
    first, *others = many(("L1", 0.05), ("L2", 0.05), ("L3", 0.05), ("L4", 0.05))
    apart = [
        replace(others[0], message=others[0].message.replace("0.1", "0.2")),
        replace(others[1], severity="minor"),
        replace(others[2], subject="headers.H1"),
    ]
    assert [one.subjects for one in joined([first, *apart], PLAIN)] == [
        ["loops.L1"], ["loops.L2"], ["loops.L3"], ["headers.H1"]
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("ids", "words"),
    [
        (["L1"], "loops.L1"),
        (["L1", "L2", "L9"], "loops.L1, L2, L9"),
        ([f"L{n}" for n in range(40)], "loops.L0 to L39 (40 loops)"),
        ([f"L{n}" for n in range(40) if n != 7], "loops.L0, L1, L2, L3, L4, L5 and 33 more"),
        ([f"{n:02}" for n in range(4, 12)], "loops.04 to 11 (8 loops)"),
        ([f"{n}" for n in "4567890"], "loops.4, 5, 6, 7, 8, 9 and 1 more"),
        ([*"abcdefg"], "loops.a, b, c, d, e, f and 1 more"),
    ],
)
def test_subjects_by_name(ids: list[str], words: str) -> None:
    assert named([f"loops.{name}" for name in ids]) == words


def test_a_section_of_two_words() -> None:
    assert named([f"pressure_tests.{n}" for n in range(1, 9)]) == (
        "pressure_tests.1 to 8 (8 pressure tests)"
    )
    assert named(["design"]) == "design"


@pytest.mark.parametrize(
    ("lines", "words"),
    [([7], "line 7"), ([7, 9], "lines 7, 9"), ([*range(7, 47)], "lines 7 to 46")],
)
def test_lines(lines: list[int], words: str) -> None:
    assert lined(lines) == words


def test_what_many_lack_alike_is_told_once() -> None:
    missing = {
        "the design has no section 'headers'": ["pump-duty"],
        "loops.L1: pattern is not given": ["loop-bend"],
        "loops.L2: pattern is not given": ["loop-bend"],
        "loops.L3: pattern is not given": ["loop-bend", "loop-pattern"],
        "rooms.a: area is not given": ["room-area"],
    }
    assert lacking(missing) == [
        ("the design has no section 'headers'", ["pump-duty"]),
        ("loops.L1, L2: pattern is not given", ["loop-bend"]),
        ("loops.L3: pattern is not given", ["loop-bend", "loop-pattern"]),
        ("rooms.a: area is not given", ["room-area"]),
    ]


def under(one: Result, cause: Result) -> Result:
    words = one.message + COMES_OF.format(cause.rule)
    return replace(one, under=Under(cause.rule, cause.subject), message=words)


def test_what_comes_of_another_finding_is_told_under_it_where_the_first_stands() -> None:
    cause = replace(many(("L9", 1.0))[0], rule="cause", subject="design", severity="observation")
    first, second = (under(one, cause) for one in many(("L1", 0.05), ("L2", 0.03)))
    other = replace(many(("L3", 0.05))[0], rule="other")
    found = joined([first, other, second, cause], PLAIN)
    assert [one.result.rule for one in found] == ["cause", "other"]
    ((below, words),) = found[0].below
    assert below.subjects == ["loops.L1", "loops.L2"]
    assert words == "The water moves at 0.03 m/s to 0.05 m/s, under at least 0.1 m/s."
    assert found[0].severity == first.severity


def test_without_its_cause_a_finding_stands_by_itself() -> None:
    cause = replace(many(("L9", 1.0))[0], rule="cause", subject="design")
    (one,) = joined([under(many(("L1", 0.05))[0], cause)], PLAIN)
    assert one.subjects == ["loops.L1"]
    assert one.message.endswith(COMES_OF.format("cause"))
