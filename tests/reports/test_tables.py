"""Tables: one row a result or a loop, and no text that a spreadsheet would compute."""

from __future__ import annotations

import csv
import io
import json
import sys
from typing import Any

import pytest

from checker.outcome.runs import Totals
from checker.reports import FormatOptions, NotInstalled, writer
from tests.example import DESIGN, TWO_ROOMS, changed
from tests.reports.hostile import HOSTILE
from tests.reports.pages import RUN, judged
from tests.reports.samples import whole


def made(name: str, table: str, *texts: str) -> bytes:
    """The table of these designs in a format."""
    format_writer: Any = writer(FormatOptions(name, table=table))
    reports = judged(*[(f"{number}.yaml", text) for number, text in enumerate(texts)])
    pieces = [format_writer.piece(report) for report in reports]
    text: bytes = whole(format_writer, pieces, Totals(), run=RUN).text
    return text


def rows(text: bytes) -> list[dict[str, str]]:
    """The rows of a CSV file, by the names in its heading."""
    return [*csv.DictReader(io.StringIO(text.decode("utf-8-sig")))]


TOO_LONG = changed(("length: 88 m", "length: 128 m"))


def test_a_result_is_a_row() -> None:
    found = rows(made("csv", "results", TOO_LONG))
    (report,) = judged(("0.yaml", TOO_LONG))
    assert len(found) == len(report.results)
    (row,) = [r for r in found if (r["rule"], r["subject"]) == ("loop-length", "loops.L1")]
    assert (row["kind"], row["severity"], row["verdict"]) == ("fail", "major", "hold")
    assert (float(row["value"]), row["unit"], float(row["most"])) == (128.0, "m", 100.0)
    assert (row["least"], float(row["margin"]), row["limit"]) == ("", -28.0, "at most 100 m")
    assert (row["design"], row["path"]) == ("Test House", "0.yaml")
    assert TOO_LONG.splitlines()[int(row["line"]) - 1][int(row["column"]) - 1 :].startswith("128 m")


def test_a_loop_is_a_row_of_what_is_stated_and_computed() -> None:
    found = rows(made("csv", "computed", DESIGN, TOO_LONG))
    assert [row["loop"] for row in found] == ["L1", "L2", "L1", "L2"]
    (report,) = judged(("0.yaml", DESIGN))
    flow = report.computed["loops.L1"]["flow"]
    assert flow.magnitude == pytest.approx(float(found[0][f"flow [{flow.unit}]"]), rel=1e-9)
    assert (found[0]["room"], found[0]["header"], found[0]["port"]) == ("kitchen", "H1", "1")
    assert float(found[2]["length [m]"]) == 128.0


def test_a_loop_in_two_rooms_names_both() -> None:
    row = rows(made("csv", "computed", TWO_ROOMS))[0]
    assert (row["room"], row["floor"]) == ("kitchen, bath", "slab")


def test_what_is_missing_is_empty_and_never_nought() -> None:
    text = changed(("heat_load: 700 W, ", ""), ("  supply: 42 °C\n", ""))
    row = rows(made("csv", "computed", text))[0]
    assert row["output [W/m²]"] == ""


@pytest.mark.parametrize("start", ["=", "+", "-", "@", " =", "＝"])
def test_no_text_begins_a_formula(start: str) -> None:
    text = changed(("name: Test House", f'name: "{start}1+cmd|x"'))
    for table in ("results", "computed"):
        for row in rows(made("csv", table, text)):
            assert row["design"] == f"\t{start}1+cmd|x"


def test_a_number_below_nought_stays_a_number() -> None:
    text = made("csv", "results", TOO_LONG).decode("utf-8-sig")
    assert ",-28.0," in text


def test_parquet_has_the_same_rows_with_kinds() -> None:
    pytest.importorskip("pyarrow", reason="the table needs pyarrow")
    import pandas

    for table in ("results", "computed"):
        read = pandas.read_parquet(io.BytesIO(made("parquet", table, TOO_LONG, HOSTILE)))
        assert len(read) == len(rows(made("csv", table, TOO_LONG, HOSTILE)))
        assert str(read["design"].dtype) == "string"
    assert str(read["port"].dtype) == "Int64"
    assert str(read["length [m]"].dtype) == "Float64"
    assert read["header"].iloc[-1] == "=cmd|1 <i>"


def test_a_table_says_by_what_is_judged() -> None:
    for table in ("results", "computed"):
        for row in rows(made("csv", table, TOO_LONG)):
            assert (row["judged_by"], row["rules_edition"]) == ("2026-03-12", RUN.edition)


def test_parquet_says_by_what_is_judged() -> None:
    parquet = pytest.importorskip("pyarrow.parquet", reason="the table needs pyarrow")
    import pandas

    file = io.BytesIO(made("parquet", "results", TOO_LONG))
    held = json.loads(parquet.read_schema(file).metadata[b"prescreed"])
    assert held["rules"] == {"edition": RUN.edition, "digest": RUN.digest}
    assert (held["settings"], held["settings_digest"]) == (RUN.settings, RUN.settings_digest)
    assert set(pandas.read_parquet(file)["judged_by"]) == {"2026-03-12"}


def test_the_same_designs_give_the_same_file() -> None:
    assert made("csv", "results", TOO_LONG) == made("csv", "results", TOO_LONG)


def test_without_its_library_parquet_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    monkeypatch.setattr("checker.reports.parquet.find_spec", lambda name: None)
    with pytest.raises(NotInstalled, match=r"pip install '\.\[parquet\]'"):
        writer(FormatOptions("parquet", width=1))


def test_a_table_without_rows_still_has_a_heading() -> None:
    for table, more in (("results", '"rule","title",'), ("computed", '"rules_edition"')):
        heading = made("csv", table).decode("utf-8-sig")
        assert heading.startswith(f'"design","path","verdict","judged_by",{more}')
        assert heading.count("\n") == 1
