"""A floor in section for a terminal: what stands where, told from a floor that is known by hand."""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree import ElementTree

import numpy as np
import pytest
from msgspec.structs import replace

from checker.outcome.drawn_records import FloorPicture
from checker.reports.chart_parts import STYLE
from checker.reports.charts import PAPER, alone
from checker.reports.drawn import floor_in_section
from checker.reports.section_text import SHADES, WIDE, WIDTH, section_text
from checker.words.speech import PLAIN, US, Speech

SPACING, OUTSIDE, DEPTH = 0.160, 0.016, 0.028


@dataclass(frozen=True)
class Slope:
    """Temperatures that fall evenly downwards, °C, from the surface on, and by the metre, K/m."""

    top: float = 30.0
    by_metre: float = 100.0

    def lines(self) -> tuple[tuple[tuple[float, float, float], ...], ...]:
        rows = [0.0, 0.010, 0.020, 0.024, 0.032, 0.040, 0.050, 0.070]
        ways = [0.0, 0.004, 0.012, 0.040, SPACING / 2]

        def at(x: float, y: float) -> tuple[float, float, float]:
            inside = x**2 + (y - DEPTH) ** 2 < (OUTSIDE / 2) ** 2
            return x, y, float("nan") if inside else self.top - self.by_metre * y

        return tuple(tuple(at(x, y) for x in ways) for y in rows)


PICTURE = FloorPicture(
    loops=("L1",),
    spacing=SPACING,
    covering="tile, 0.02 m²·K/W",
    layers=(("board, 20 mm", 0.020, False), ("foam, 50 mm", 0.050, True)),
    depth=DEPTH,
    outside=OUTSIDE,
    wall=0.002,
    plate=(0.0005, 0.080, 0.020),
    joist=0.040,
    lines=np.array(Slope().lines()),
    surface=((0.0, 26.0), (0.040, 25.0), (0.080, 24.0)),
    mean=25.0,
    limit=29.0,
    water=40.0,
    room=20.0,
    heat=(50.0, 8.0),
)


def drawn(picture: FloorPicture = PICTURE, speech: Speech = PLAIN) -> list[str]:
    return section_text(picture, speech)


def insides(lines: list[str]) -> list[str]:
    return [line[1 : WIDE + 1] for line in lines if line.startswith("│")]


def test_pipe_plate_and_joist_stand_where_they_lie() -> None:
    rows = insides(drawn())
    # 4 mm a column, 8 mm a row: 20 mm of board are 2 rows, 50 mm of foam 6.
    assert len(rows) == 2 + 6
    first = rows[2]
    # The plate is 80 mm wide, 20 columns, of which the pipe takes four in the middle.
    assert first.count("=") == 16
    assert first.index("=") == 10
    assert first[18:22] == "O  O"
    # A joist of 40 mm between two pipes ends 20 mm from the side: its edge lies at the
    # fifth column's outer side, from the pipe the sixteenth's.
    assert [place for place, sign in enumerate(rows[5]) if sign == "|"] == [4, 35]
    assert not any("|" in row for row in rows[:2])
    assert all(row == row[::-1] for row in rows)


def test_shades_are_bands_of_the_temperatures() -> None:
    rows = [row.replace("|", "")[0] for row in insides(drawn())]
    # Warm on top and colder downwards, in five even bands of what is drawn.
    assert rows == sorted(rows, key=SHADES.index, reverse=True)
    assert rows[0] == SHADES[-1]
    assert rows[-1] == SHADES[0]
    key = next(line for line in drawn() if line.startswith(SHADES[0]))
    # Middles of the first and last rows: 5 mm and 65.8 mm down, 29.5 and 23.4 °C by the slope.
    assert key.startswith("· to 24.6 °C")
    assert key.endswith("█ to 29.5 °C")


def test_the_surface_is_told_with_its_limit() -> None:
    lines = drawn()
    assert [line[WIDE + 2 :] for line in lines[:3]] == [
        "surface: 26 °C at most,", "25 °C in the mean,", "limit 29 °C",
    ]  # fmt: skip
    curve = [line[1 : WIDE + 1] for line in lines[:3]]
    assert all(row == row[::-1] for row in curve)
    # The middle column is 2 mm beside the pipe's middle, and a hair colder.
    assert curve[0][WIDE // 2] == "▇"
    assert curve[0][0] == curve[1][0] == " "
    assert "limit" not in "".join(drawn(replace(PICTURE, limit=None)))


@pytest.mark.parametrize(
    "picture",
    [
        PICTURE,
        replace(PICTURE, layers=(("a board of a name that is longer than its row, 1 mm", 0.001, False), ("foam", 2.0, False))),
        replace(PICTURE, plate=None, joist=0.0, surface=((0.0, 25.0), (0.08, 25.0))),
        replace(PICTURE, covering="covering " * 12),
    ],
)  # fmt: skip
def test_it_fits_a_terminal(picture: FloorPicture) -> None:
    lines = drawn(picture)
    assert max(map(len, lines)) <= WIDTH
    assert len(lines) < 50


def test_readers_of_us_units_are_told_theirs() -> None:
    text = "\n".join(drawn(speech=Speech(US)))
    assert "78.8 °F at most" in text
    assert "°C" not in text


def test_a_picture_alone_names_no_property_of_a_page() -> None:
    made = floor_in_section(PICTURE, PLAIN)
    svg = alone(made.svg, made.title, "a < b & c")
    root = ElementTree.fromstring(svg)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert "var(" not in svg
    assert [root[0].text, root[1].text] == [made.title, "a < b & c"]
    assert root[0].text in [one.text for one in root.iter("{http://www.w3.org/2000/svg}text")]
    # Every colour that charts use is written out.
    assert all(f"var(--{name})" in STYLE for name in PAPER)
