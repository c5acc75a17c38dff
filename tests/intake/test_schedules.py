"""A design to a workbook and back is the same design."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from checker.design.tables import Tables
from checker.forms.designs import assembled
from checker.forms.model import Record
from checker.forms.whole import records_of, sized, whole
from checker.forms.writing import workbook
from checker.intake import workbooks
from checker.intake.fields import fields
from tests.design.designs import generate
from tests.example import DESIGN, changed
from tests.intake.taken import take

EXAMPLES = sorted(
    path
    for path in (Path(__file__).parents[2] / "example_designs").iterdir()
    if path.suffix in (".yaml", ".json")
)


def write(book: Path, document: dict[str, Any]) -> None:
    """Write the design's workbook, as `prescreed schedule` does."""
    records = records_of(document)
    with book.open("wb") as file:
        workbook(file, sized(records), records)


def round_trip(path: str, data: bytes) -> None:
    """Hold the design to what comes back from its workbook, table by table, number by number."""
    before, after = Tables(), Tables()
    document = before.add(path, data).document
    with TemporaryDirectory() as folder:
        book = Path(folder) / "book.xlsx"
        write(book, document)
        (taken,) = take(str(book))
    assert [str(one) for one in taken.read.mistakes + taken.read.refused] == []
    assert taken.read.unused == []
    back = after.add("back.yaml", taken.text.encode())
    assert back.name == before.designs[0].name
    assert back.codes == before.designs[0].codes
    for key in ("revision", "designer", "contractor", "region"):
        assert back.text("project", key) == before.designs[0].text("project", key)
    for name, table in before.tables.items():
        if name == "seen":
            continue  # a workbook takes no answers, as 'prescreed schedule' says
        other = after.tables[name]
        assert other.ids == table.ids, name
        assert other.parents == table.parents, name
        for leaf in table.shape.columns if table.rows else ():
            np.testing.assert_array_equal(
                other.column(leaf.slot), table.column(leaf.slot), f"{name}.{leaf.name}"
            )


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_an_example_comes_back(path: Path) -> None:
    round_trip(path.name, path.read_bytes())


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 14), st.integers(0, 9))
def test_any_design_comes_back(number: int, loops: int, seed: int) -> None:
    round_trip("g.yaml", generate(number, loops, seed).encode())


@pytest.mark.parametrize(
    "change",
    [
        ("length: 88 m", "length: 288.7 ft"),
        ("supply: 42 °C", "supply: 107.6 degF"),
        ("area: 12 m²", "area: 12.3456789012345678 m²"),
        ("name: Test House", "name: '=1+1'"),
        ("name: Test House", "name: '3.10', revision: '007'"),
        ("name: Test House", "name: 'yes', revision: 'null', designer: '- x: #'"),
        ("region: GB-ENG}", "region: GB-ENG}\ncodes: [EN-1264, US]"),
        ("L1: {header", "'1': {header"),
    ],
    ids=lambda change: change[1][:30],
)
def test_what_is_hard_to_write_comes_back(change: tuple[str, str]) -> None:
    text = changed(change)
    if "'1'" in change[1]:
        text = text.replace("balance: {L1", "balance: {'1'")
    round_trip("house.yaml", text.encode())


def test_no_text_becomes_a_formula(tmp_path: Path) -> None:
    hostile = changed(("name: Test House", "name: '=HYPERLINK(\"http://x.invalid\")'"))
    book = tmp_path / "book.xlsx"
    write(book, Tables().add("h.yaml", hostile.encode()).document)
    with zipfile.ZipFile(book) as archive:
        for name in archive.namelist():
            if "worksheets" in name:
                assert b"<f>" not in archive.read(name)
                assert b"hyperlink" not in archive.read(name)


def test_a_workbook_is_the_same_bytes_each_time(tmp_path: Path) -> None:
    document = Tables().add("h.yaml", DESIGN.encode()).document
    for name in ("a.xlsx", "b.xlsx"):
        write(tmp_path / name, document)
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()


def test_every_field_is_asked() -> None:
    assert {one.to for block in whole().blocks for one in block.questions} == {*fields()}


def test_a_name_of_no_record_is_told_with_its_cell_in_a_list_and_in_an_item() -> None:
    document = {
        "headers": {"H1": {"ports": "8"}},
        "rooms": {"hall": {}},
        "loops": {"L1": {"header": "H1", "parts": [{"room": "hal", "area": "9 m²"}]}},
    }
    records = records_of(document)
    records["headers pump curve"] = [
        Record("H2", {"headers.pump.curve.flow": "0 l/min", "headers.pump.curve.head": "60 kPa"})
    ]
    made = io.BytesIO()
    workbook(made, sized(records), records)
    form = whole()
    read = assembled(workbooks.read("b.xlsx", made.getvalue()), form)
    told = sorted(str(one) for one in read.refused)
    assert "sheet 'headers pump curve', row 6, column A: 'H2' is not among the headers" in told[0]
    assert "sheet 'loops parts', row 6" in told[1]
    assert "'hal' is not among the rooms; did you mean 'hall'?" in told[1]
    assert read.tree["loops"]["L1"]["parts"] == [{"area": "9 m²"}]


def test_a_pump_of_several_speeds_comes_back() -> None:
    low, high = "[[0 l/min, 30 kPa], [20 l/min, 12 kPa]]", "[[0 l/min, 60 kPa], [40 l/min, 10 kPa]]"
    plain = "pump: {curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]}"
    several = f"pump: {{curves: {{low: {low}, high: {high}}}, setting: high}}"
    round_trip("house.yaml", changed((plain, several)).encode())
