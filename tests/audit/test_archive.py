"""The archive as one Parquet table."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import pytest

from checker.audit import archive, jobs
from checker.audit.visit import known_records, visit_form
from checker.cli import main
from checker.forms.model import Record
from checker.forms.writing import workbook
from tests.design.designs import generate
from tests.example import DESIGN

JOBS = Path(__file__).parents[2] / "example_designs" / "past_jobs"


def frame_of(path: Path | str) -> Any:
    """The archive as a data frame; its libraries take a second to load, so they are loaded here."""
    import pandas

    return pandas.read_parquet(path)


@pytest.fixture(scope="module")
def table(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("archive") / "archive.parquet"
    count, unreadable = archive.write(str(JOBS), str(path))
    assert count == 10
    assert unreadable == []
    return path


def test_every_result_and_value_has_its_row(table: Path) -> None:
    frame = frame_of(table)
    papers = [paper for found, _, _ in jobs.under(str(JOBS), list) for paper in found]
    results = sum(r.kind != "notApplicable" for paper in papers for r in paper.results)
    computed = sum(len(v) for paper in papers for v in paper.report.computed.values())
    counts = frame["record"].value_counts()
    assert counts["design"] == len(papers) == 10
    assert counts["loop"] == 30
    assert counts["result"] == results
    assert counts["computed"] == computed
    tests = frame["subject"].str.startswith("pressure_tests.") & (frame["record"] == "reading")
    visits = counts["reading"] - tests.sum()
    assert visits == 2 * (3 + 12) + (3 + 12) + 2 * (3 + 12) + 4 * 2


def test_a_form_of_a_visit_is_in_it_like_the_text_of_one(tmp_path: Path) -> None:
    (tmp_path / "house.yaml").write_text(DESIGN, "utf-8")
    paper = jobs.open_job(str(tmp_path)).current
    records = known_records(paper)
    records["visit"] = [Record("", {"on": "2027-01-15", "outside": "-1.5 °C"})]
    (kitchen,) = (one for one in records["rooms"] if one.name == "kitchen")
    read = Record("kitchen", {"rooms.shown": "20.5 °C", "rooms.temperature": "17.5 °C"})
    records["rooms"][records["rooms"].index(kitchen)] = read
    with (tmp_path / "visit.readings.xlsx").open("wb") as file:
        workbook(file, visit_form(paper, "cold-room"), records)
    out = tmp_path / "archive.parquet"
    assert archive.write(str(tmp_path), str(out))[1] == []
    frame = frame_of(out)
    own = frame[frame["path"].str.endswith(".xlsx")]
    assert dict(zip(own["name"], own["value"], strict=True)) == {"shown": 20.5, "temperature": 17.5}
    assert set(own["outside"]) == {-1.5}
    assert own["job"].notna().all()
    # A file that is no form is told of, and stops no other.
    (tmp_path / "other.readings.xlsx").write_bytes(b"no workbook")
    assert len(archive.write(str(tmp_path), str(out))[1]) == 1


def test_a_reading_knows_its_job_its_complaint_and_its_weather(table: Path) -> None:
    frame = frame_of(table)
    read = frame[(frame["record"] == "reading") & (frame["subject"] == "loops.L1")]
    assert read["job"].notna().all()
    assert read["contractor"].notna().all()
    own = read[read["job"] == "Lantern Way 2"].iloc[0]
    assert str(own["complaint_on"]) == "2023-01-12"
    assert str(own["handed_over"]) == "2021-12-01"
    assert own["stage"] == "installed"
    assert -20 < own["outside"] < 20
    tested = frame[frame["subject"] == "pressure_tests.first"]
    tested = tested[tested["record"] == "reading"]
    assert {*tested["name"]} == {"pressure", "temperature"}
    assert tested[tested["name"] == "pressure"]["value"].between(1e5, 20e5).all()
    assert tested["after"].min() == 0


def test_values_are_those_of_the_report(table: Path) -> None:
    frame = frame_of(table)
    row = frame[
        (frame["record"] == "result")
        & (frame["rule"] == "heat-up-start")
        & (frame["stage"] == "installed")
        & (frame["job"] == "Lantern Way 7")
    ].iloc[0]
    assert (row["kind"], row["severity"]) == ("fail", "critical")
    assert (row["value"], row["least"], row["margin"]) == (11, 21, -10)
    assert str(row["designed_on"]) == "2022-03-01"
    loop = frame[(frame["record"] == "loop") & (frame["subject"] == "loops.L1")].iloc[0]
    assert loop["spacing"] == pytest.approx(0.1)
    assert loop["pipe_material"] == "PE-RT"


@pytest.mark.parametrize("title", archive.QUERIES)
def test_the_documented_queries_run(table: Path, title: str) -> None:
    query = archive.QUERIES[title].replace("'archive.parquet'", f"'{table}'")
    import duckdb

    rows = duckdb.connect().execute(query).fetchall()
    if "computed" in title:
        percents = [row[4] for row in rows]
        assert percents == sorted(percents)
        assert rows[0][1:] == ("loops.L1", 0.85, 1.014, 84)
    elif "in trouble" in title:
        assert [row[0] for row in rows] == ["Lantern Way 2", "Lantern Way 5"]
    else:
        assert rows[0][2] == "balance-recorded"


def test_the_queries_are_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["archive", "--queries"]) == 0
    printed = capsys.readouterr().out
    assert len(re.findall(r"^-- ", printed, re.MULTILINE)) == 3


def test_the_command_writes_the_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    output = tmp_path / "out.parquet"
    assert main(["archive", str(JOBS), "--output", str(output)]) == 0
    assert capsys.readouterr().err.startswith("10 designs in ")
    assert len(frame_of(output)) > 1000
    assert [path.name for path in tmp_path.iterdir()] == ["out.parquet"]


def test_a_file_that_cannot_be_read_leaves_the_rest(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "a").mkdir()
    source = JOBS / "lantern-way-2-cold-bathroom"
    (tmp_path / "a" / "design.yaml").write_bytes((source / "design.yaml").read_bytes())
    (tmp_path / "a" / "bad.yaml").write_text("design: 1\nplant: {drop: 7}\n", "utf-8")
    output = tmp_path / "out.parquet"
    assert main(["archive", str(tmp_path), "--output", str(output)]) == 2
    assert "bad.yaml:2:15: plant.drop: 7 has no unit" in capsys.readouterr().err
    frame = frame_of(output)
    assert {"design", "loop", "result", "computed"} <= set(frame["record"])
    # What was read at its pressure test stands in the design itself.
    read = frame[frame["record"] == "reading"]["subject"]
    assert read.str.startswith("pressure_tests.").all()


def test_the_file_says_what_its_numbers_are_in(
    table: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import pyarrow.parquet

    schema = pyarrow.parquet.read_schema(table)
    for name in archive.LOOP_NUMBERS:
        assert schema.field(name).metadata[b"unit"].decode() == archive.LOOP_UNITS[name]
    with pytest.raises(SystemExit):
        main(["archive", "--help"])
    told = " ".join(capsys.readouterr().out.split())
    assert all(f"{name} {unit}" in told for name, unit in archive.LOOP_UNITS.items())


def test_only_a_parquet_file_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    output = tmp_path / "archive.csv"
    with pytest.raises(SystemExit) as ended:
        main(["archive", str(JOBS), "--output", str(output)])
    assert ended.value.code == 2
    assert "ends in .parquet" in capsys.readouterr().err
    assert not output.exists()


def test_with_workers_it_is_the_same_table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(jobs, "AT_ONCE", 3)
    for number in range(7):
        (tmp_path / f"{number}.yaml").write_text(generate(number, 2), "utf-8")
    (tmp_path / "8.yaml").write_text("design: 1\nrooms: [", "utf-8")
    found = []
    for workers in (1, 2):
        count, unreadable = archive.write(
            str(tmp_path), str(tmp_path / f"{workers}.parquet"), workers=workers
        )
        assert (count, [one.path[-6:] for one in unreadable]) == (7, ["8.yaml"])
        found.append((tmp_path / f"{workers}.parquet").read_bytes())
    assert found[0] == found[1]


MADE = jobs._made


def deadly(part: list[str], *rest: Any) -> Any:
    if any(path.endswith("2.yaml") for path in part):
        os._exit(9)
    return MADE(part, *rest)


def test_a_design_that_kills_its_worker_takes_no_other_with_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(jobs, "AT_ONCE", 2)
    for number in range(4):
        (tmp_path / f"{number}.yaml").write_text(generate(number, 2), "utf-8")

    monkeypatch.setattr(jobs, "_made", deadly)
    monkeypatch.setenv("PRESCREED_START", "fork")
    counts, lost = 0, []
    for _, count, bad in jobs.under(str(tmp_path), len, workers=2):
        counts += count
        lost += bad
    assert counts == 3
    assert [one.path[-6:] for one in lost] == ["2.yaml"]
    assert "the worker died on it" in lost[0].message
