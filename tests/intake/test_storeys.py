"""Columns of storeys, volumes and prices: none of them names a floor's build-up or a pipe."""

from __future__ import annotations

import pytest

from checker.intake.maps import load
from checker.intake.reading import of_book
from checker.intake.storeys import are_storeys
from tests.intake.test_suggesting import proposed

STOREYS = ["GF", "FF", "1F", "EG", "OG", "DG", "UG", "1.OG", "KG", "RDC", "1er", "PT", "P1", "BG", "V1", "Ground", "First", "ground_floor", "Erdgeschoss", "0", "-1", "2", "Obergeschoss", "rez-de-chaussée", "étage_1", "Planta_baja", "Primera", "Piano_terra", "Primo", "begane_grond", "zolder", "1st", "2nd_floor", "Level_1", "Keller", "R+1", "1º", "Souterrain", "1._Obergeschoss", "2e_étage", "Loft"]  # fmt: skip


@pytest.mark.parametrize("value", STOREYS)
def test_values_under_floor_that_are_storeys(value: str) -> None:
    assert are_storeys("Floor", [value.replace("_", " ")])


@pytest.mark.parametrize(
    ("heading", "value"),
    [("Floor", "slab"), ("Floor", "wet 65"), ("Floor", "FB1"), ("Floor", "screed ground"),
     ("Floor type", "P1"), ("Aufbau", "V1"), ("Build-up", "1"), ("Floor", "Aufbau EG")],
)  # fmt: skip
def test_names_of_build_ups_are_no_storeys(heading: str, value: str) -> None:
    assert not are_storeys(heading, [value])


def test_a_column_of_storeys_is_not_placed_and_may_part_the_rooms() -> None:
    text, book = proposed(
        ["Loop", "Floor", "Room", "Length [m]"], ["1", "GF", "Hall", 80.0], ["2", "FF", "Bed", 60.0]
    )  # fmt: skip
    assert "# - column B 'Floor'" in text
    tree = of_book(book, load("a.map.yaml", text.encode())).read.tree
    assert "floors" not in tree
    assert tree["loops"]["1"] == {"room": "Hall", "length": "80 m"}
    text, _ = proposed(
        ["Loop", "Floor", "Room", "Length [m]"], ["1", "GF", "WC", 80.0], ["2", "FF", "WC", 60.0]
    )  # fmt: skip
    assert "LOOK: rooms of one name are one in each {Floor} only" in text
    text, _ = proposed(["Loop", "Floor", "Length [m]"], ["1", "slab", 80.0], ["2", "joists", 60.0])
    assert 'floors: "{Floor}"' in text


@pytest.mark.parametrize(
    "heading",
    ["Pipe volume (l)", "Pipe volume", "Pipe content [l]", "Rohrinhalt (l)", "Pipe (kg)", "Room volume (m³)"],
)  # fmt: skip
def test_volumes_and_weights_are_no_names(heading: str) -> None:
    text, _ = proposed(
        ["Loop", "Length [m]", heading], ["1", 80.0, 9.1], ["2", 70.0, 7.9], ["3", 70.0, 7.9]
    )
    assert f"# - column C '{heading}'" in text
    assert "pipes:" not in text.replace("#   pipes:", "")
    assert "rooms:" not in text
