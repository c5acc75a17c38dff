"""What a reader must know of the codes and the day that a design was judged by, in every format."""

from __future__ import annotations

import csv
import io

import pytest

from checker.run import batch
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
