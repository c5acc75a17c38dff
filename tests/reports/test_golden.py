"""Reports are what was reviewed by eye; see `tests.reports.golden` to write them again."""

from __future__ import annotations

import json

import pytest
from jsonschema import Draft202012Validator

from checker.reading.package_data import data_folder
from tests.reports.golden import HERE, golden, whole_json

Made = dict[str, bytes]


@pytest.fixture(name="made", scope="module")
def reports() -> Made:
    return golden()


@pytest.mark.parametrize("name", sorted(file.name for file in HERE.iterdir()))
def test_report_is_as_reviewed(name: str, made: Made) -> None:
    kept = (HERE / name).read_text("utf-8")
    assert made[name].decode() == kept


def test_every_report_is_kept(made: Made) -> None:
    assert {file.name for file in HERE.iterdir()} == set(made)


def test_json_report_is_by_its_schema() -> None:
    schema = json.loads((data_folder("schemas") / "report.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(whole_json())


@pytest.mark.parametrize("width", [80, 120])
def test_text_fits_its_columns(width: int, made: Made) -> None:
    lines = made[f"examples-{width}.txt"].decode().splitlines()
    assert max(len(line) for line in lines) <= width


def test_the_readme_shows_real_output() -> None:
    readme = (HERE.parents[2] / "README.md").read_text("utf-8")
    excerpt = readme.split("## What you see", 1)[1].split("```", 2)[1]
    kept = (HERE / "examples-80.txt").read_text("utf-8").splitlines()
    shown = [line for line in excerpt.strip("\n").splitlines() if line != "…"]
    assert len(shown) > 15
    assert [line for line in shown if line not in kept] == []
