"""Inputs that once broke a command: each is read or refused with a message, and stops no other file."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path

import pytest

from checker.intake import workbooks
from checker.intake.sheets import BadSheet
from tests.cli.calling import Calling, calling, put
from tests.cli.test_pack_check import NEW, SOURCES
from tests.example import SOUND
from tests.intake.test_workbooks import edited, xlsx

__all__ = ["calling"]


@pytest.mark.parametrize("unit", ["ft²", "°F", "K", "l/min", "%", "bar"])
def test_a_column_mapped_to_a_field_of_another_kind_is_told(call: Calling, unit: str) -> None:
    put("s.csv", "Loop,Loop Length ft\nL1,300\nL2,120\n")
    for field in ("area", "length"):
        put(
            "m.map.yaml",
            "map: 1\nsheets:\n  - ids: {loops: '{Loop}'}\n    columns:\n"
            f"      - {{heading: Loop Length ft, field: loops.{field}, unit: {unit}}}\n",
        )
        done = call("intake", "s.csv", "--map", "m.map.yaml", "--output", "out", "--replace")
        assert done.status in (0, 1, 2)
        fits = (field, unit) == ("area", "ft²")
        assert (done.status != 2) is fits, done
        assert fits or "m.map.yaml:5:" in done.err or "s.csv" in done.err


@pytest.mark.parametrize("value", ["[88 m]", "[]", "{a: 1}", "nan", "1e999 m", "88", "''", "yes"])
def test_an_example_of_a_rule_takes_one_value(call: Calling, value: str) -> None:
    put("house.yaml", SOUND)
    put("pack/sources.yaml", SOURCES)
    line = next(one for one in NEW.splitlines() if "gives:" in one)
    name = line.partition("{")[2].partition(":")[0]
    put("pack/loops/own.yaml", NEW.replace(line, f"  - {{{name}: {value}, gives: pass}}"))
    done = call("pack-check", "pack")
    assert done.status == 1
    assert "pack/loops/own.yaml:" in done.out
    assert call("check", "--rules", "pack", "house.yaml").status in (0, 2)


@pytest.mark.parametrize(
    "address", ["A0", "1A", "A", "", "A99999999999", "ZZZZZZ1", "\u00c41", "A1:B2", "$A$1", "a1"]
)
def test_a_workbook_damaged_in_its_addresses_is_refused_or_read(address: str) -> None:
    data = edited(
        xlsx(("A1", "Loop"), ("B2", 88)),
        "xl/worksheets/sheet1.xml",
        b'r="B2"',
        f'r="{address}"'.encode(),
    )
    with suppress(BadSheet):
        assert workbooks.read("book.xlsx", data).sheets


def test_a_folder_that_cannot_be_made_is_told(call: Calling) -> None:
    put("s.csv", "Loop,Length m\nL1,88\n")
    put(
        "m.map.yaml",
        "map: 1\nsheets:\n  - ids: {loops: '{Loop}'}\n    columns:\n"
        "      - {heading: Length m, field: loops.length, unit: m}\n",
    )
    for target in ("/proc/out", "s.csv/out"):
        done = call("intake", "s.csv", "--map", "m.map.yaml", "--output", target)
        assert (done.status, "cannot be used as a folder" in done.err) == (2, True), done
    done = call("schedule", "--output", "/proc/x.xlsx")
    assert (done.status, "cannot be written" in done.err) == (2, True)


def test_more_folders_than_a_pack_has_are_not_searched(call: Calling) -> None:
    put("house.yaml", SOUND)
    done = call("check", "--rules", "/", "house.yaml")
    assert (done.status, done.err.count("\n")) == (2, 1)
    assert Path("house.yaml").read_text() == SOUND
