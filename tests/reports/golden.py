"""Reports of the example designs, reviewed by eye and kept.

    python -m tests.reports.golden

writes them again; read the difference before you commit it.
"""

from __future__ import annotations

from contextlib import chdir
from pathlib import Path
from typing import Any

import msgspec
from msgspec.structs import replace

from checker.outcome.runs import Run, Totals
from checker.outcome.status import GateCounts, answer
from checker.reading import design_files
from checker.reports import FormatOptions, writer
from checker.reports.csv import table
from checker.reports.site_sheet import Sheet, columns, csv_rows, page, sheet
from checker.run import batch, sheets
from checker.words.speech import PLAIN
from tests.reports.samples import whole

HERE = Path(__file__).parent / "golden"
EXAMPLES = Path(__file__).parents[2] / "example_designs"
SUBJECT = "orchard-row-3-eight-mistakes.yaml"
"""The one design whose JSON is kept, in short."""
SHEET = "subcontractors/ridge-lane-12.xlsx"
"""The one workbook whose report is kept: its places are cells."""


def reports(chosen: tuple[FormatOptions, ...], files: list[str]) -> list[bytes]:
    """The whole reports of these files, as the command writes them, from one check."""
    # The rules' edition and digest change with every rule; what they do to a result is seen there.
    run = Run("edition", "sha256:" + "0" * 64)
    totals = Totals()
    pieces: list[list[bytes]] = [[] for _ in chosen]
    for checked in batch.run(files, batch.Plan(formats=chosen), 1):
        for own, more in zip(pieces, checked.pieces, strict=True):
            own += map(bytes, more)
        totals.join(checked.totals)
    run = replace(run, answer=answer([GateCounts(totals, "major")]).line)
    made = zip(map(writer, chosen), pieces, strict=True)
    return [whole(one, own, totals, run=run).text for one, own in made]


def report(chosen: FormatOptions, files: list[str]) -> bytes:
    """The same of one format."""
    return reports((chosen,), files)[0]


def sheet_designs(name: str) -> list[str]:
    """The designs of a workbook among the examples, read by the map beside it."""
    path = f"{EXAMPLES.name}/{name}"
    return sheets.take([path], frozenset([path])).files


def site_sheet(path: str) -> list[Sheet]:
    """The sheet of one design."""
    content = [(path, Path(path).read_bytes())]
    (design,), _ = batch.check(content, with_given=True)
    (installed,), _ = batch.check(content, stage="installed", with_given=True)
    return [sheet(design, installed)]


def whole_json() -> Any:
    """The whole JSON report of the one design."""
    with chdir(EXAMPLES.parent):
        return msgspec.json.decode(report(FormatOptions("json"), [f"{EXAMPLES.name}/{SUBJECT}"]))


def in_short(whole: Any) -> Any:
    """The report with one result of each kind and one subject's computed values, to be read."""
    (design,) = whole["designs"]
    kinds = {one["kind"]: one for one in reversed(design["results"])}
    design["results"] = [one for one in design["results"] if one is kinds[one["kind"]]]
    design["computed"] = dict(list(design["computed"].items())[:1])
    return whole


def golden() -> dict[str, bytes]:
    """What each golden file should hold."""
    # Paths are as a user beside the examples has them: where lines break depends on them.
    with chdir(EXAMPLES.parent):
        found = design_files.designs([EXAMPLES.name]).files
        files = sheets.take(found, frozenset()).files
        two = [f"{EXAMPLES.name}/{name}" for name in (SUBJECT, "orchard-row-4-installed.yaml")]
        narrow, wide, summary = reports(
            (
                FormatOptions("text", 80),
                FormatOptions("text", 120),
                FormatOptions("text", 80, summary=True),
            ),
            files,
        )
        markdown, loops = reports(
            (FormatOptions("markdown"), FormatOptions("csv", table="computed")), two
        )
        by_rule, results = reports(
            (FormatOptions("text", 80, by_rule=True), FormatOptions("csv")), two[:1]
        )
        sheets_of_site = site_sheet(two[0])
        return {
            "examples-80.txt": narrow,
            "examples-120.txt": wide,
            "sheet-80.txt": report(FormatOptions("text", 80), sheet_designs(SHEET)),
            "summary-80.txt": summary,
            "by-rule-80.txt": by_rule,
            "two.md": markdown,
            "results.csv": results,
            "loops.csv": loops,
            "site-sheet.html": b"".join(page(sheets_of_site, sheets_of_site[0].design.name)),
            "site-sheet.csv": b"".join(table(columns(PLAIN), csv_rows(sheets_of_site))),
            "eight-mistakes.json": msgspec.json.format(
                msgspec.json.encode(in_short(whole_json())), indent=1
            ),
        }


if __name__ == "__main__":
    for name, text in golden().items():
        (HERE / name).write_bytes(text)
