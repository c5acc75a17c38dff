"""Each report against its published schema.

SARIF against the schema of OASIS is `tests/reports/test_sarif.py`, JUnit and the others beside it;
here our own JSON, for the examples and for designs in which something is missing: that is where a
report has gaps.
"""

from __future__ import annotations

import json
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from checker.outcome.runs import Run, Totals
from checker.reading.package_data import data_folder
from checker.reports import FormatOptions, writer
from checker.run import batch
from tests.design.test_example_designs import EXAMPLES, FOLDER, data
from tests.published.test_less_data import data_of, without
from tests.published.test_metamorphic import written

SCHEMA = json.loads((data_folder("schemas") / "report.schema.json").read_text("utf-8"))
VALIDATOR = Draft202012Validator(SCHEMA)


def report(files: list[tuple[str, bytes]]) -> Any:
    """The whole JSON report of designs given as path and content, parsed."""
    designs, unreadable = batch.check(files)
    made, totals = writer(FormatOptions("json")), Totals()
    for design in designs:
        totals.add(design)
    pieces = made.separator.join(made.piece(design) for design in designs)
    run = Run("edition", "sha256:" + "0" * 64)
    whole = made.head(run) + pieces + made.tail(run, totals, unreadable)
    return json.loads(whole)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_the_report_of_an_example_is_as_its_schema_says(path: Any) -> None:
    found = report([(path.name, path.read_bytes()), ("broken.yaml", b"design: 1\nloops: 3\n")])
    VALIDATOR.validate(found)
    assert len(found["designs"]) == 1
    assert found["unreadable"]


@pytest.mark.long
def test_the_report_of_a_design_that_lacks_a_datum_is_as_its_schema_says() -> None:
    """Every datum of one example is left out in turn; every report can be read, and each one in
    eight is held to the schema."""
    design = data(FOLDER / "orchard-row-2-bathroom.yaml")
    files = [
        (f"{number:04}", written(without(design, way)))
        for number, way in enumerate(data_of(design))
    ]
    found = report(files)
    assert len(found["designs"]) > 50
    found["designs"] = found["designs"][::8]
    VALIDATOR.validate(found)


def test_the_schema_takes_not_everything() -> None:
    (path, *_) = EXAMPLES
    found = report([(path.name, path.read_bytes())])
    found["designs"][0]["results"][0]["kind"] = "perhaps"
    assert not VALIDATOR.is_valid(found)
