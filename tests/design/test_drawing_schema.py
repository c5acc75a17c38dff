"""The schema of a drawing's map says what the program reads."""

from __future__ import annotations

import json
from typing import Any

import pytest
import yaml
from jsonschema import Draft202012Validator

from checker.design.drawings import KEYS, BadMap, load
from checker.geometry.assembly import PARTS
from checker.geometry.dxf import UNITS
from checker.reading.package_data import data_folder
from tests.geometry.example_house import MAP

SCHEMA: dict[str, Any] = json.loads(
    (data_folder("schemas") / "drawing.schema.json").read_text("utf-8")
)
VALIDATOR = Draft202012Validator(SCHEMA)


def test_it_is_valid_and_has_every_key_part_and_unit() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert set(SCHEMA["properties"]) == set(KEYS)
    assert set(SCHEMA["properties"]["layers"]["properties"]) == set(PARTS)
    assert set(SCHEMA["properties"]["unit"]["enum"]) == {w for w, _ in UNITS.values()} - {"dm"}


@pytest.mark.parametrize(
    "text",
    [
        MAP,
        "drawing: 1\nunit: mm\ngap: 5 mm\nbend: 75 mm\nnamed_by: text\nlabels: [A]\nlayers: {rooms: R}",
        "drawing: 1\nlayers: {pipes: A}",
        "drawing: 2\nlayers: {rooms: A}",
        "drawing: 1\nlayers: {rooms: A}\nunit: mile",
        "drawing: 1\nlayers: {rooms: {}}",
        "drawing: 1",
        "drawing: 1\nlayers: {}\nnamed_by: colour",
    ],
)
def test_it_takes_what_the_program_takes(text: str) -> None:
    try:
        load(text.encode())
        taken = True
    except BadMap:
        taken = False
    assert VALIDATOR.is_valid(yaml.safe_load(text)) == taken
