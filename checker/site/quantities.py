"""Writes what a job needs: for a terminal, as JSON, CSV, a workbook and a page."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from checker.outcome.report import DesignReport
from checker.outcome.results import Measure
from checker.reports.verdicts import sentence
from checker.site.take_off import Coils, Line, TakeOff
from checker.words import listed, number, visible
from checker.words.speech import PLAIN, Speech

QUANTITIES = 1
"""Version of the JSON format; members are added and never removed."""
TITLES = {
    "pipe": "Pipe",
    "headers": "Headers",
    "floor": "Under the pipe",
    "screed": "Screed",
    "water": "Water",
}
"""The headings of the groups."""
COLUMNS = ("design", "group", "item", "at least", "amount", "unit", "taken from", "missing")
"""The headings of the table as CSV."""
NOTE = (
    "Counts and measures of the design as it is, without waste unless stated. Have them "
    "confirmed by whoever orders."
)


def amount(line: Line, speech: Speech) -> str:
    """The amount of a line in words.

    Args:
        line: of the take-off.
        speech: how values are shown to the reader.

    Returns:
        Number and unit, after `at least` where more is needed than is known; a blank to fill in
        where nothing is known.
    """
    if line.amount is None:
        return "______"
    words = _text(line.amount, speech)
    return f"at least {words}" if line.at_least else words


def _text(of: Measure, speech: Speech) -> str:
    return speech.measure(of.magnitude or 0.0, of.unit)


def coil_rows(coils: Coils, speech: Speech) -> Iterator[tuple[str, str, str, str, str]]:
    """One row for each coil, in words.

    Args:
        coils: the plan.
        speech: how values are shown to the reader.

    Returns:
        Number, pipe, size, loops in the order of cutting, and what is left.
    """
    for place, cut in enumerate(coils.coils, 1):
        size, left = (_text(one, speech) for one in (cut.size, cut.left))
        yield str(place), cut.pipe, size, ", ".join(cut.loops), left


def coil_notes(coils: Coils, speech: Speech) -> Iterator[str]:
    """Notes on the plan of coils: how good it is, and which loops are in no coil.

    Args:
        coils: the plan.
        speech: how values are shown to the reader.

    Returns:
        Sentences, at most three.
    """
    if coils.coils:
        yield f"{_text(coils.bought, speech)} bought. {coils.verdict}"
    if coils.too_long:
        many = len(coils.too_long) > 1
        yield (
            f"{listed(coils.too_long)} {'are' if many else 'is'} longer than any of these coils: "
            "shorten, split, or have a longer coil, for a joint in the floor is the last resort."
        )
    if coils.unknown:
        yield f"In no coil, for want of a length, a pipe or a coil for it: {listed(coils.unknown)}."


def text(
    design: DesignReport, found: TakeOff, cautions: Sequence[str], width: int, colour: bool
) -> bytes:
    """The take-off for a terminal.

    Args:
        design: the design's report.
        found: the take-off.
        cautions: warnings to add at the end.
        width: columns of the terminal.
        colour: whether it shows colours.

    Returns:
        The page, as UTF-8, in the units of the design's reader.
    """
    from checker.reports.terminal import WIDEST, Page

    speech = design.speech
    out = Page(max(40, min(width, WIDEST)), colour)
    out.wrapped(f"What {design.name} needs", first="", style="bold")
    out.wrapped(f"{design.verdict.upper()}: {sentence(design)}", first="")
    for name, lines in found.groups.items():
        out.line("")
        out.line(TITLES[name], style="bold")
        for line in lines:
            out.parts((f"{line.item}  ", ""), (amount(line, speech), "bold"))
            for words in filter(None, (line.of, line.missing and f"needed: {line.missing}")):
                out.wrapped(words, first="    ", style="dim")
    if found.coils is not None:
        out.line("")
        out.line("Coils", style="bold")
        for place, pipe, size, loops, left in coil_rows(found.coils, speech):
            out.wrapped(f"{loops}; {left} left", first=f"{place:>3}  {pipe}, {size}: ")
        for note in coil_notes(found.coils, speech):
            out.wrapped(note, first="     ")
    out.line("")
    for words in (NOTE, *cautions):
        out.wrapped(words, first="", style="dim")
    return out.bytes()


def csv_rows(design: DesignReport, found: TakeOff) -> Iterator[dict[str, str | None]]:
    """One row for each line of the take-off, then one for each coil.

    Args:
        design: the design's report.
        found: the take-off.

    Returns:
        Cells by the headings in COLUMNS, amounts in units of reports; None for an amount that is
        not known.
    """
    speech = PLAIN  # a table keeps the units of every machine format
    for group, lines in found.groups.items():
        for line in lines:
            known = line.amount
            cells = (
                design.name,
                group,
                line.item,
                "yes" if line.at_least else "",
                None if known is None else number(known.magnitude or 0.0),
                "" if known is None or known.unit == "1" else known.unit,
                line.of,
                line.missing,
            )
            yield dict(zip(COLUMNS, cells, strict=True))
    if found.coils is not None:
        for place, pipe, size, loops, left in coil_rows(found.coils, speech):
            of_coil = (
                f"Coil {place} of {pipe}, {size}",
                "",
                None,
                "",
                f"cut: {loops}",
                f"{left} left",
            )
            yield dict(zip(COLUMNS, (design.name, "coils", *of_coil), strict=True))


def page(design: DesignReport, found: TakeOff, cautions: Sequence[str]) -> bytes:
    """The take-off as a page to be printed.

    Args:
        design: the design's report.
        found: the take-off.
        cautions: warnings to add at the end.

    Returns:
        The page, as UTF-8, in the units of the design's reader.
    """
    from checker.reports.html import environment, style

    made: Any = environment().get_template("quantities.html")
    return str(
        made.render(
            design=design,
            found=found,
            titles=TITLES,
            sentence=sentence(design),
            speech=design.speech,
            amount=amount,
            coil_rows=coil_rows,
            coil_notes=coil_notes,
            notes=(NOTE, *cautions),
            style=style("site_sheet.css"),
        )
    ).encode()


def workbook(design: DesignReport, found: TakeOff, cautions: Sequence[str]) -> bytes:
    """The take-off as a workbook: a sheet of lines, and one of coils where they are planned.

    Args:
        design: the design's report.
        found: the take-off.
        cautions: warnings to add below the lines.

    Returns:
        The workbook; amounts are numbers in the units of the design's reader, rounded to three
        decimals.
    """
    from checker.words.workbook import workbook as texts_only

    made = io.BytesIO()
    book = texts_only(made)
    bold = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
    wrapped = book.add_format({"text_wrap": True, "valign": "top"})
    speech = design.speech
    sheet = book.add_worksheet("quantities")
    sheet.write_string(0, 0, f"{design.name}: {design.verdict}. {sentence(design)}", wrapped)
    heads = ("group", "item", "", "amount", "unit", "taken from", "missing")
    for column, head in enumerate(heads):
        sheet.write_string(2, column, head, bold)
    row = 3
    for group, lines in found.groups.items():
        for line in lines:
            known = line.amount
            unit = "" if known is None or known.unit == "1" else speech.unit(known.unit)
            least = "at least" if line.at_least else ""
            for column, cell in enumerate((TITLES[group], line.item, least)):
                sheet.write_string(row, column, visible(cell), wrapped)
            if known is not None:
                value = speech.converted(known.magnitude or 0.0, known.unit)
                sheet.write_number(row, 3, round(value, 3))
            for column, cell in enumerate((unit, line.of, line.missing), 4):
                sheet.write_string(row, column, visible(cell), wrapped)
            row += 1
    for place, note in enumerate((NOTE, *cautions), row + 1):
        sheet.write_string(place, 1, note, wrapped)
    for column, width in enumerate((14, 44, 9, 10, 7, 48, 40)):
        sheet.set_column(column, column, width)
    sheet.freeze_panes(3, 2)
    if found.coils is not None:
        _coil_sheet(book, found.coils, speech, (bold, wrapped))
    book.close()
    return made.getvalue()


def _coil_sheet(book: Any, coils: Coils, speech: Speech, formats: tuple[Any, Any]) -> None:
    bold, wrapped = formats
    sheet = book.add_worksheet("coils")
    unit = speech.unit("m")
    heads = ("coil", "pipe", f"size [{unit}]", "cut in this order", f"left over [{unit}]")
    for column, head in enumerate(heads):
        sheet.write_string(0, column, head, bold)
    for row, cut in enumerate(coils.coils, 1):
        sheet.write_number(row, 0, row)
        sheet.write_string(row, 1, visible(cut.pipe), wrapped)
        sheet.write_number(row, 2, round(speech.converted(cut.size.magnitude or 0.0, "m"), 3))
        sheet.write_string(row, 3, visible(", ".join(cut.loops)), wrapped)
        sheet.write_number(row, 4, round(speech.converted(cut.left.magnitude or 0.0, "m"), 3))
    for row, note in enumerate(coil_notes(coils, speech), len(coils.coils) + 2):
        sheet.write_string(row, 3, visible(note), wrapped)
    for column, width in enumerate((6, 10, 10, 60, 12)):
        sheet.set_column(column, column, width)


def data(design: DesignReport, found: TakeOff, tool: Mapping[str, Any]) -> bytes:
    """The take-off as JSON.

    Args:
        design: the design's report.
        found: the take-off.
        tool: members that name the program and the rules.

    Returns:
        The JSON, in units of reports; without coils, and lengths of 0 m, where none are planned.
    """
    import msgspec

    coils = found.coils
    made: dict[str, Any] = {
        "quantities": QUANTITIES,
        **tool,
        "path": design.path,
        "name": design.name,
        "verdict": design.verdict,
        "coils": [] if coils is None else coils.coils,
        "too_long": [] if coils is None else coils.too_long,
        "unknown": [] if coils is None else coils.unknown,
        "bought": Measure(0, "m") if coils is None else coils.bought,
        "bound": Measure(0, "m") if coils is None else coils.bound,
        "groups": found.groups,
    }
    return msgspec.json.format(msgspec.json.encode(made), indent=1) + b"\n"
