"""The site sheet: what the crew sets, fills in and ticks off, header by header."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from msgspec import Struct

from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING, Result
from checker.reports.facts import Facts
from checker.reports.header_drawing import on_paper
from checker.reports.joining import Joined, joined, lacking
from checker.reports.sentences import cautions, waived_results, wanted_data, worst_first
from checker.reports.site_first_heating import Ready, Step, first_day, floors_ready, heating_steps
from checker.reports.site_header import Header, made_header
from checker.reports.verdicts import Asked, answered, asked, looked_at, sentence
from checker.words.speech import Speech

PARTS = 1000
"""Parts of the page that are written at once."""
COLUMNS = (
    "design",
    "revision",
    "header",
    "port",
    "loop",
    "room",
    "pipe",
    ("length", "m"),
    ("spacing", "mm"),
    ("flow to set", "l/min"),
    ("pressure loss", "kPa"),
    ("valve takes", "kPa"),
    "filled",
    "purged",
    "set",
)
"""The columns of the sheet as CSV, some with the unit of reports; the last three are for the
crew.
"""

NO_LOOPS = "the design has no loop to lay or set"
"""Why a design gets no sheet."""


class Sheet(Struct):
    """The content of one design's sheet.

    Attributes:
        design: its report.
        facts: its numbers, as the sheet's reader has them.
        headers: each with its ports.
        floors: how long each screed must wait.
        start: the first day of heating (ISO 8601); empty where it is not known.
        steps: of the first heating.
        grave: critical and major fails.
        waived: fails and open results that a waiver accepts.
        reviews: what a person must look at.
        seen: what a person looked at.
        asked: what is not stated.
        wanted: why something cannot be judged, with the rules concerned.
        cautions: of the rules that apply, as if all records were due.
    """

    design: DesignReport
    facts: Facts
    headers: list[Header]
    floors: list[Ready]
    start: str
    steps: list[Step]
    grave: list[Joined]
    waived: list[Joined]
    reviews: list[Joined]
    seen: list[Joined]
    asked: list[Asked]
    wanted: list[tuple[str, list[str]]]
    cautions: list[str]


def critical(design: DesignReport) -> list[Result]:
    """The findings that keep a design from going to site.

    Args:
        design: its report.

    Returns:
        Critical fails that are not waived, in file order.
    """
    fails = design.results_of("fail")
    return [result for result in fails if result.severity == "critical" and not result.waived]


def sheet(design: DesignReport, installed: DesignReport, speech: Speech | None = None) -> Sheet:
    """The sheet of a design.

    Args:
        design: its report, made with what it states.
        installed: the same, judged as if its records were due; the limits of the work ahead are
            taken from it.
        speech: how values are shown to the reader, where not as to the design's own.

    Returns:
        The sheet, with a part for each header, and one for loops that name none.
    """
    facts = Facts(design, speech)
    later = Facts(installed, speech)
    floors = [*floors_ready(facts, later)]
    start = first_day(facts, floors)
    fails = (result for result in facts.results if result.kind == "fail" and not result.waived)
    return Sheet(
        design,
        facts,
        [made_header(facts, later, header) for header in _headers(facts)],
        floors,
        start,
        [*heating_steps(facts, start)],
        [one for one in joined(worst_first(fails), facts.speech) if one.severity in HOLDING],
        joined(waived_results(facts.results), facts.speech),
        joined((r for r in facts.results if r.kind == "review" and not answered(r)), facts.speech),
        joined(looked_at(facts.results), facts.speech),
        asked(design.questions),
        lacking(wanted_data(design)),
        cautions(installed),
    )


def columns(speech: Speech) -> tuple[str, ...]:
    """The headings of the sheet as CSV.

    Args:
        speech: how values are shown; its units are in the headings.

    Returns:
        The headings, as many as COLUMNS.
    """
    return tuple(
        one if isinstance(one, str) else f"{one[0]} [{speech.unit(one[1])}]" for one in COLUMNS
    )


def csv_rows(sheets: Iterable[Sheet]) -> Iterator[dict[str, str | None]]:
    """One row for each port, by its `columns`.

    Args:
        sheets: sheets whose readers have the same units.

    Returns:
        Cells by heading; None in those that the crew fills in.
    """
    for one in sheets:
        names = columns(one.facts.speech)
        revision = one.facts.words("design", "project.revision", "")
        for header in one.headers:
            for port in header.ports:
                given = (
                    one.design.name,
                    revision,
                    header.name,
                    port.port,
                    port.loop,
                    port.room,
                    port.pipe,
                    port.length,
                    port.spacing,
                    port.flow,
                    port.loss,
                    port.throttle,
                    None,
                    None,
                    None,
                )
                yield dict(zip(names, given, strict=True))


def _headers(facts: Facts) -> list[str]:
    """The headers, and an empty name where some loop has none."""
    return facts.names("headers") + ([""] if facts.loops_of("headers", "") else [])


def page(sheets: Iterable[Sheet], names: str = "") -> Iterator[bytes]:
    """The sheets as one page to be printed.

    Args:
        sheets: taken one by one, as they are written.
        names: of the designs, for the page's title.

    Returns:
        The page, part by part.
    """
    from checker.reports.html import environment, style

    template: Any = environment().get_template("site_sheet.html")
    parts = template.stream(
        sheets=sheets,
        names=names,
        sentence=sentence,
        style=style("site_sheet.css"),
        header_drawings=on_paper,
    )
    parts.enable_buffering(PARTS)
    for part in parts:
        yield part.encode()
