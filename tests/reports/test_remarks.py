"""What a reader must know of the codes and the day that a design was judged by, in every format."""

from __future__ import annotations

import csv
import io
import re

import pytest

from checker.run import batch
from tests.design.designs import generate
from tests.example import SOUND
from tests.reports.samples import design, gathered, result

REMARK = "the day is after these rules, so that newer editions may hold"


@pytest.mark.parametrize(
    "name", ["text", "json", "markdown", "html", "csv", "sarif", "sarif-alerts", "junit"]
)
def test_a_remark_is_in_the_report(name: str) -> None:
    made = design(result())
    made.remarks = (REMARK,)
    made.given = {"design": {}}
    told = " ".join(gathered(name, made).text.decode().split())
    assert REMARK in told
    assert REMARK not in " ".join(gathered(name, design(result())).text.decode().split())


def test_a_table_has_the_remarks_in_a_column() -> None:
    made = design(result(), result("loops.L2"))
    made.remarks = (REMARK, "no code of JP's own is known")
    text = gathered("csv", made).text.decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert [row["remarks"] for row in rows] == [f"{REMARK}; no code of JP's own is known"] * 2


@pytest.mark.parametrize(
    ("day", "region", "said"),
    [
        # The editions of 1997 are the oldest that are known of EN 1264.
        ("1960-03-12", "GB", "the day is before the oldest edition of EN-1264 that is known"),
        ("2049-03-12", "GB", "the day is after these rules"),
        ("2026-03-12", "JP", "no code of JP's own is known"),
        ("2026-03-12", "GB", "no code of GB's own is known"),
    ],
)
def test_a_design_is_told_of_its_day_and_region(day: str, region: str, said: str) -> None:
    text = SOUND.replace("2026-03-12, region: GB-ENG", f"{day}, region: {region}")
    (made,), _ = batch.check([("house.yaml", text.encode())])
    assert [one for one in made.remarks if one.startswith(said)], made.remarks


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("heat_load: 700 W, ", ""), "the heat load of kitchen is not stated"),
        (("design: 1", "design: 1"), ""),
    ],
)
def test_a_design_is_told_what_stands_in_for_a_load(change: tuple[str, str], said: str) -> None:
    """With no load known, a loop counts at its open point."""
    assert change[0] in SOUND
    (made,), _ = batch.check([("house.yaml", SOUND.replace(*change).encode())])
    told = [one for one in made.remarks if "stated" in one]
    assert len(told) == bool(said)
    assert all(one.startswith(said) for one in told)


def test_a_design_without_its_headers_is_told_whose_water_counts() -> None:
    start, end = SOUND.index("headers:\n"), SOUND.index("loops:\n")
    (made,), _ = batch.check([("house.yaml", (SOUND[:start] + SOUND[end:]).encode())])
    assert "the headers are not stated, so loops count with the plant's own water" in made.remarks


def test_of_many_rooms_without_a_load_the_first_are_named() -> None:
    text = re.sub(r"heat_load: \d+ W, ", "", generate(3, loops=8))
    (made,), _ = batch.check([("house.yaml", text.encode())])
    (told,) = [one for one in made.remarks if "heat load" in one]
    assert " and 4 more is not stated" in told
