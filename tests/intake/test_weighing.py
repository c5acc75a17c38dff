"""Marks and units that only one reading makes possible. Sheets and figures are invented."""

from __future__ import annotations

from typing import Any

import pytest

from checker.intake.maps import load
from checker.intake.reading import of_book
from checker.intake.weighing import Column, weigh
from tests.intake.test_suggesting import proposed

AREA = Column("m²", (12.0, 9.0, 10.5))


@pytest.mark.parametrize(
    ("unit", "cells", "apart"),
    [
        ("W", ("1.150", "1.020", "620"), True),  # 96 W/m² or 0.1
        ("kW", ("1.150", "1.020", "0.62"), False),  # 96 W/m² or 96 kW/m²
        ("W", ("1,150", "1,020", 620.0), True),
        ("W", ("850", "700", "620"), None),  # no text that could be read in two ways
        ("W", ("1.150", "2", "620"), True),  # 2 W is odd either way; its mark is plain
    ],
)
def test_a_load_against_its_area_tells_what_the_sign_is(
    unit: str, cells: tuple[Any, ...], apart: bool | None
) -> None:
    assert weigh({"loops.area": AREA, "rooms.heat_load": Column(unit, cells)}).apart is apart


def test_where_rows_contradict_one_another_nothing_is_told() -> None:
    """1.150 W needs thousands, 850.500 W over 10.5 m² a decimal point: one sign cannot be both."""
    found = weigh({"loops.area": AREA, "rooms.heat_load": Column("W", ("1.150", "1", "850.500"))})
    assert found.apart is None
    assert found.units == {}


@pytest.mark.parametrize(
    ("spacing", "area", "length", "told"),
    [
        ((15.0, 15.0, 10.0), ("m²", (12.0, 10.0, 6.0)), ("m", (88.0, 74.0, 66.0)), "cm"),
        ((150.0, 150.0, 100.0), ("m²", (12.0, 10.0, 6.0)), ("m", (88.0, 74.0, 66.0)), "mm"),
        ((6.0, 6.0, 4.0), ("ft²", (128.0, 125.0, 62.0)), ("ft", (290.0, 282.0, 208.0)), "in"),
        ((6.0, 6.0, 6.0), ("m²", (12.0, 10.0, 6.0)), ("m", (8.0, 7.0, 6.0)), None),  # none fits
        ((15.0,), ("m²", (12.0,)), ("m", (88.0,)), None),  # one row is too few
    ],
)
def test_a_spacing_without_a_unit(
    spacing: tuple[float, ...], area: tuple[str, Any], length: tuple[str, Any], told: str | None
) -> None:
    found = weigh({"loops.spacing": Column("", spacing), "loops.area": Column(*area),
                   "loops.length": Column(*length)})  # fmt: skip
    assert found.units.get("loops.spacing") == told


def test_a_unit_is_not_told_where_another_is_possible_too() -> None:
    """96 W/m² in watts, 28 W/m² in Btu/h: both are loads."""
    loads = Column("", (1150.0, 900.0, 980.0))
    assert weigh({"loops.area": AREA, "rooms.heat_load": loads}).units == {}


def test_the_proposal_reads_what_it_weighed_and_says_so() -> None:
    text, sheets = proposed(
        ["Loop", "Room", "Area [m²]", "Spacing", "Length [m]", "Heat load [W]"],
        ["L1", "hall", "12", "15", "88", "1.150"], ["L2", "den", "9", "15", "66", "1.020"],
    )  # fmt: skip
    lines = text.splitlines()
    assert "decimal: comma" in lines
    (thousands,) = [line for line in lines if line.startswith("thousands: point")]
    assert "LOOK: '1.150' is read as 1150; only that is possible by" in thousands
    (spacing,) = [line for line in lines if "loops.spacing" in line]
    assert "unit: cm" in spacing
    assert "LOOK: the heading names no unit; only cm is possible" in spacing
    done = of_book(sheets, load("a.map.yaml", text.encode()))
    assert [str(one) for one in done.read.mistakes] == []
    assert done.read.tree["rooms"]["hall"]["heat_load"] == "1150 W"
    assert done.read.tree["loops"]["L1"]["spacing"] == "15 cm"


@pytest.mark.parametrize("text", ["1.234", "1,234"])
@pytest.mark.parametrize(("which", "read"), [("As ", "1.234 W"), ("Or as ", "1234 W")])
def test_the_lines_offered_for_an_undecided_mark_work_as_they_stand(
    text: str, which: str, read: str
) -> None:
    """Whichever of the two is taken, the map is sound and reads the cell that way."""
    proposal, sheets = proposed(
        ["Loop", "Room", "Length [m]", "Heat load [W]"],
        ["L1", "hall", 88.0, text], ["L2", "den", 66.0, text],
    )  # fmt: skip
    lines = proposal.splitlines()
    start = next(n for n, line in enumerate(lines) if which in line and line.endswith(":"))
    for number in range(start + 1, len(lines)):
        if not lines[number].startswith(("# decimal:", "# thousands:")):
            break
        lines[number] = lines[number].removeprefix("# ")
    done = of_book(sheets, load("a.map.yaml", "\n".join(lines).encode()))
    assert [str(one) for one in done.read.mistakes + done.read.refused] == []
    assert done.read.tree["rooms"]["hall"]["heat_load"] == read
