"""Annotations: what hosts show, in what order, and that a design gives them no command."""

from __future__ import annotations

import re

from checker.outcome.results import Waived
from checker.reading.mistakes import Unreadable
from tests.reports.samples import design, gathered, result

COMMAND = re.compile(r"::(error|warning|notice)(?: ([^:]*))?::(.*)")
WAIVED = Waived("The maker allows it.", "A. Designer", "2026-12-31")


def commands(*designs: object, **more: object) -> list[tuple[str, str, str]]:
    """Each line as a host reads it: level, members, message."""
    lines = gathered("annotations", *designs, **more).text.decode().splitlines()  # type: ignore[arg-type]
    found = []
    for line in lines:
        match = COMMAND.fullmatch(line)
        assert match, line
        found.append((match[1], match[2] or "", match[3]))
    return found


def test_a_fail_is_placed_and_said() -> None:
    ((level, members, message),) = commands(design(result()))
    assert level == "error"
    assert members == ("file=house.yaml,line=31,col=5,title=Loop too long (loop-length%2C major)")
    assert message.startswith("loops.L1: The loop is 128 m long")


def test_a_design_cannot_give_the_host_a_command() -> None:
    evil = "x\n::add-mask::secret\r::set-env name=A::b%0A,:"
    made = design(
        result(f"loops.{evil}", message=evil, remedy=evil, title=evil), path="a,b:c\nd.yaml"
    )
    text = gathered("annotations", made).text.decode()
    assert len(text.splitlines()) == 1
    ((_, members, message),) = commands(made)
    assert members.count("=") - members.count("name=A") == 4
    assert "%0A::add-mask::secret%0D::set-env name=A::b%250A,:" in message


def test_the_gravest_ten_of_each_level_and_how_many_more() -> None:
    grave = [result(f"loops.c{number}", severity="critical") for number in range(3)]
    major = [result(f"loops.m{number}") for number in range(12)]
    minor = [result(f"loops.w{number}", severity="minor") for number in range(11)]
    seen = [result(f"loops.o{number}", severity="observation") for number in range(11)]
    found = commands(design(*seen, *minor, *major, *grave))
    levels = [level for level, _, _ in found]
    assert [levels.count(level) for level in ("error", "warning", "notice")] == [10, 10, 10]
    assert [message[:8] for _, _, message in found[:4]] == [
        "loops.c0", "loops.c1", "loops.c2", "loops.m0",
    ]  # fmt: skip
    # 5 errors, 1 warning, 2 observations.
    assert found[-1] == ("notice", "", "Not shown here: 8 more findings; see the report.")


def test_what_is_waived_or_known_is_only_counted() -> None:
    made = design(result("loops.L1", waived=WAIVED), result("loops.L2", state="unchanged"))
    assert commands(made) == [
        ("notice", "", "Not shown here: 1 waived, 1 known and no worse; see the report.")
    ]


def test_an_unreadable_file_comes_first() -> None:
    bad = Unreadable("bad.yaml", 3, 1, "Empty.")
    found = commands(design(result(severity="critical")), unreadable=(bad,))
    assert found[0] == ("error", "file=bad.yaml,line=3,col=1,title=Cannot be read", "Empty.")


def test_nothing_found_says_nothing() -> None:
    assert commands(design(result(kind="pass"))) == []
