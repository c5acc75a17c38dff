"""A form is made as a workbook, filled in, and read back with every answer's sheet and cell."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from typing import Any

import pytest

from checker.design.leaves import Leaf
from checker.forms import posted
from checker.forms.declaring import house, question
from checker.forms.model import Answer, Block, Cell, Form, Page, Question, Record
from checker.forms.places import cells_of
from checker.forms.reading import Answers, answers, form_of
from checker.forms.writing import Finding, workbook
from checker.intake import workbooks
from checker.intake.sheets import Book

SMALL = Form(
    "small",
    "A small form",
    (
        Page(
            "Job",
            "The job",
            (
                Block("job", "JOB", (question("project.name"), question("plant.supply"))),
                Block("pipes", "PIPES", (question("pipes.outside"),), key="Pipe", places=3),
            ),
        ),
        Page(
            "Loops",
            "The loops",
            (
                Block(
                    "loops",
                    "",
                    (
                        question("loops.length"),
                        question("loops.pattern"),
                        question("loops.pipe"),
                        question("loops.sleeved"),
                        question("project.designed_on"),
                    ),
                    key="Loop",
                    across=False,
                    places=5,
                    names="L{}",
                ),
            ),
        ),
    ),
)
FILLED = {
    "job": (Record("", {"project.name": "Mill Row 1", "plant.supply": "113 °F"}),),
    "pipes": (Record("p16", {"pipes.outside": "16 mm"}),),
    "loops": (
        Record("L1", {"loops.length": "88 m", "loops.pattern": "counterflow", "loops.pipe": "p16",
                      "loops.sleeved": "true", "project.designed_on": "2026-03-12"}),
        Record("L7", {"loops.length": "290 ft"}),
    ),
}  # fmt: skip


NONE = Answer("", Cell("", 0, 0, ""))


def made(form: Form, records: Any = None, **how: Any) -> Book:
    """The workbook of a form, as it is read again."""
    file = io.BytesIO()
    workbook(file, form, records, **how)
    return workbooks.read("form.xlsx", file.getvalue())


def texts(found: Answers, block: str) -> dict[str, dict[str, str]]:
    """The answers of a block by record and question."""
    return {
        record.name: {to: one.text for to, one in record.values.items()}
        for record in found.records.get(block, ())
    }


def edited(form: Form, records: Any, edit: Callable[[Book], None]) -> Answers:
    """What a form says after somebody changed its cells."""
    book = made(form, records)
    edit(book)
    return answers(book, form)


def put(book: Book, sheet: str, row: int, column: int, value: Any) -> None:
    own = next(one for one in book.sheets if one.name == sheet)
    while len(own.rows) <= row:
        own.rows.append([])
    own.rows[row].extend([""] * (column + 1 - len(own.rows[row])))
    own.rows[row][column] = value


def test_what_is_filled_in_comes_back_with_its_cell() -> None:
    found = answers(made(SMALL, FILLED), SMALL)
    assert found.refused == []
    assert found.unused == []
    assert texts(found, "job") == {"": {"project.name": "Mill Row 1", "plant.supply": "113 °F"}}
    assert texts(found, "pipes") == {"p16": {"pipes.outside": "16 mm"}}
    assert texts(found, "loops") == {
        "L1": {"loops.length": "88 m", "loops.pattern": "counterflow", "loops.pipe": "p16",
               "loops.sleeved": "yes", "project.designed_on": "2026-03-12"},
        "L7": {"loops.length": "290 ft"},
    }  # fmt: skip
    where = cells_of(SMALL, FILLED)
    for block, records in found.records.items():
        for record in records:
            for to, answer in record.values.items():
                assert answer.at == where[block, record.name, to]


def test_the_example_of_the_house_form_is_read_as_it_is_declared() -> None:
    form = house()
    found = answers(made(form, form.example), form)
    assert (found.refused, found.unused) == ([], [])
    for block, records in form.example.items():
        own = {r.name: {to: {"true": "yes"}.get(v, v) for to, v in r.values.items()}
               for r in records}  # fmt: skip
        assert texts(found, block) == own


def test_an_empty_form_says_nothing_and_is_known_for_what_it_is() -> None:
    book = made(house())
    assert form_of(book, {"house": house()}) is house()
    found = answers(book, house())
    assert (found.records, found.refused, found.unused) == ({}, [], [])
    assert form_of(made(SMALL), {"house": house()}) is None


def test_a_form_is_read_by_its_titles_wherever_they_stand() -> None:
    def shuffled(book: Book) -> None:
        job, loops = book.sheets[0], book.sheets[1]
        job.rows.insert(5, ["our own remark", "", "call the owner"])
        for row in loops.rows:
            row.insert(1, "")

    found = edited(SMALL, FILLED, shuffled)
    assert texts(found, "loops")["L7"] == {"loops.length": "290 ft"}
    assert texts(found, "job")[""]["plant.supply"] == "113 °F"
    assert found.unused == ["Sheet 'Job', C6: 'call the owner'."]


def test_the_unit_that_is_chosen_counts_and_a_cell_may_have_its_own() -> None:
    def feet(book: Book) -> None:
        put(book, "Loops", 4, 1, "ft")
        put(book, "Loops", 5, 1, 290.0)
        put(book, "Loops", 6, 1, "88,5 m")

    found = texts(edited(SMALL, FILLED, feet), "loops")
    assert found["L1"]["loops.length"] == "290 ft"
    assert found["L7"]["loops.length"] == "88.5 m"


@pytest.mark.parametrize(
    ("row", "column", "value", "words"),
    [
        (5, 1, "88x", "'88x' 'x' is not a unit"),
        (5, 1, "1,234", "can be 1.234 m or 1234 m; write one of the two"),
        (5, 1, -4.0, "negative"),
        (5, 2, "snake", "'snake' is not allowed here"),
        (5, 0, "", "has no name, but 'Length' is '88'"),
        (6, 0, "L1", "'L1' is in A6 already"),
        (4, 1, "mK", "'mK' is not a unit of 'Length'"),
    ],
)
def test_a_cell_that_cannot_be_taken_is_refused_alone(
    row: int, column: int, value: Any, words: str
) -> None:
    found = edited(SMALL, FILLED, lambda book: put(book, "Loops", row, column, value))
    assert any(words in str(one) for one in found.refused), found.refused
    assert all(one.sheet == "Loops" for one in found.refused)
    assert texts(found, "pipes") == {"p16": {"pipes.outside": "16 mm"}}
    if column and row == 5:
        assert "loops.length" in texts(found, "loops")["L7"]


def test_what_somebody_struck_through_is_no_answer() -> None:
    book = made(SMALL, FILLED)
    loops, job = book.sheets[1], book.sheets[0]
    cells = cells_of(SMALL, FILLED)
    for sheet, key in (
        (loops, ("loops", "L1", "loops.length")),
        (loops, ("loops", "L7", "")),
        (job, ("job", "", "project.name")),
    ):
        at = cells[key]
        sheet.struck.add((at.row, at.column))
    found = answers(book, SMALL)
    assert "project.name" not in found.only("job")
    assert found.only("job")["plant.supply"].text == "113 °F"
    assert [record.name for record in found.records["loops"]] == ["L1"]
    assert "loops.length" not in texts(found, "loops")["L1"]
    assert texts(found, "loops")["L1"]["loops.pattern"] == "counterflow"
    said = [(one.row, one.words) for one in found.refused]
    row = cells["loops", "L1", ""].row + 1
    assert (row, "'88' is struck through, so it is not read.") in said
    assert (row + 1, "'L7' is struck through, so nothing of it is read.") in said
    assert len(said) == 3


def test_a_unit_that_is_struck_through_is_none() -> None:
    book = made(SMALL, {"loops": (Record("L1", {"loops.length": "88 m"}),)})
    at = cells_of(SMALL, {"loops": (Record("L1", {}),)})["loops", "L1", "loops.length"]
    book.sheets[1].struck.add((at.row - 1, at.column))
    found = answers(book, SMALL)
    assert texts(found, "loops")["L1"] == {}
    assert [one.words.partition(";")[0] for one in found.refused] == [
        "the unit 'm' is struck through",
        "'88' has no unit",
    ]


def typed_in(to: str, raw: str) -> Answers:
    """What is read of a text that somebody types into the cell of a question."""
    form = Form("f", "F", (Page("P", "P", (Block("b", "B", (question(to),)),)),))
    book = made(form, {"b": (Record("", {to: "850 nothing"}),)})
    at = cells_of(form, {"b": (Record("", {}),)})["b", "", to]
    book.sheets[0].rows[at.row][at.column] = raw
    sheet = answers(book, form)
    page = posted.answers(form, {}, {f"b/0/{to}": raw})
    assert sheet.only("b").get(to, NONE).text == page.only("b").get(to, NONE).text
    assert bool(sheet.refused) == bool(page.refused)
    return page


@pytest.mark.parametrize(
    ("to", "raw", "text"),
    [
        ("rooms.heat_load", "1,5 kW", "1.5 kW"),
        ("rooms.heat_load", "2,15", "2.15 W"),
        ("rooms.heat_load", "0,850 kW", "0.850 kW"),
        ("rooms.heat_load", "1.1250 kW", "1.1250 kW"),
        # No length is 1180 m, no load 1125 kW and no pressure 4013 bar, so the point is decimal.
        ("loops.length", "1.180 m", "1.180 m"),
        ("rooms.heat_load", "1.125 kW", "1.125 kW"),
        ("pressure_tests.pressure", "4.013", "4.013 bar"),
    ],
)
def test_a_number_with_one_possible_reading_is_taken(to: str, raw: str, text: str) -> None:
    assert typed_in(to, raw).only("b")[to].text == text


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        ("2,150", "can be 2.15 W or 2150 W; write one of the two"),
        ("2.150", "can be 2.15 W or 2150 W; write one of the two"),
        ("2.150 W", "can be 2.15 W or 2150 W; write one of the two"),
        ("850,125", "can be 850.125 W or 850125 W; write one of the two"),
        ("2 150", "write it without marks between thousands"),
        ("1.180,5", "write it without marks between thousands"),
    ],
)
def test_a_number_that_can_be_read_in_two_ways_is_asked_again(raw: str, words: str) -> None:
    found = typed_in("rooms.heat_load", raw)
    assert not found.only("b")
    (refused,) = found.refused
    assert words in refused.message
    assert "map" not in refused.message


@pytest.mark.parametrize(
    ("to", "stated", "shown"),
    [
        ("rooms.heat_load", "12.125 Btu/h", "12.1250 Btu/h"),
        ("rooms.heat_load", "1.125 kW", "1.125 kW"),
        ("rooms.area", "12.125 ft²", "12.1250 ft²"),
        ("pressure_tests.pressure", "58.125 psi", "58.125 psi"),
    ],
)
def test_a_value_with_three_decimals_comes_back(to: str, stated: str, shown: str) -> None:
    form = Form("f", "F", (Page("P", "P", (Block("b", "B", (question(to),)),)),))
    known = {"b": (Record("", {to: stated}),)}
    assert answers(made(form, known), form).only("b")[to].text == shown
    (fields,) = posted.fields(form.block("b"), known["b"])
    assert fields.fields[0].value == shown


def test_a_row_of_totals_or_means_is_no_loop() -> None:
    """A total of 322 m under the loops was judged as a loop too long for its pipe."""
    rows = {"L1": "88 m", "Total": "322 m", "Ø": "80 m"}
    records = tuple(Record(name, {"loops.length": length}) for name, length in rows.items())
    found = answers(made(SMALL, {"loops": records}), SMALL)
    assert [*texts(found, "loops")] == ["L1"]
    assert [re.findall("'[^' ]+' is read as a [a-z]+", str(one)) for one in found.refused] == [
        ["'Total' is read as a total"], ["'Ø' is read as a mean"],
    ]  # fmt: skip


def test_what_is_gone_from_a_form_is_told() -> None:
    def without(book: Book) -> None:
        book.sheets[0].rows = [row for row in book.sheets[0].rows if row[:1] != ["PIPES"]]
        del book.sheets[1]

    words = " ".join(str(one) for one in edited(SMALL, FILLED, without).refused)
    assert "the part 'PIPES' is gone" in words
    assert "the form's sheet 'Loops' is gone" in words


def test_what_is_only_told_is_not_read() -> None:
    told = Question("point", "Point", Leaf("point", "text"), fixed=True)
    said = Question("answer", "Your answer", Leaf("answer", "text"))
    block = Block("points", "", (told, said), key="No", across=False, places=1)
    form = Form("letter", "Letter", (Page("Points", "Points", (block,)),))
    known = {"points": (Record("1", {"point": "Loop L1 is too long"}),)}
    assert answers(made(form, known), form).records == {}
    found = edited(form, known, lambda book: put(book, "Points", 5, 2, "We split it."))
    assert texts(found, "points") == {"1": {"answer": "We split it."}}


def test_a_marked_copy_says_what_was_found_and_is_still_the_form() -> None:
    at = cells_of(SMALL, FILLED)["loops", "L1", "loops.length"]
    assert at == Cell("Loops", 5, 1, "B6")
    file = io.BytesIO()
    workbook(file, SMALL, FILLED, findings={at: Finding("The loop is too long.", "major")})
    import zipfile

    with zipfile.ZipFile(file) as archive:
        comments = [archive.read(n).decode() for n in archive.namelist() if "comments" in n]
        styles = archive.read("xl/styles.xml").decode()
    assert any('ref="B6"' in one and "The loop is too long." in one for one in comments)
    assert "F4C7B8" in styles
    found = answers(workbooks.read("form.xlsx", file.getvalue()), SMALL)
    assert texts(found, "loops")["L1"]["loops.length"] == "88 m"


def test_the_same_form_gives_the_same_bytes() -> None:
    first, second = io.BytesIO(), io.BytesIO()
    workbook(first, SMALL, FILLED)
    workbook(second, SMALL, FILLED)
    assert first.getvalue() == second.getvalue()


def test_a_text_never_becomes_a_formula() -> None:
    records = {"job": (Record("", {"project.name": '=HYPERLINK("http://invented.example")'}),)}
    book = made(SMALL, records)
    assert answers(book, SMALL).only("job")["project.name"].text.startswith("=HYPERLINK")


def test_the_workbook_has_lists_notes_and_checks_of_its_own() -> None:
    file = io.BytesIO()
    workbook(file, house())
    import zipfile

    with zipfile.ZipFile(file) as archive:
        sheet = archive.read("xl/worksheets/sheet2.xml").decode()
        notes = "".join(archive.read(n).decode() for n in archive.namelist() if "comments" in n)
    held = re.findall(r'<dataValidation [^>]*sqref="([A-Z]+)(\d+)(?::[A-Z]+(\d+))?"', sheet)
    assert sum(int(last or first) - int(first) + 1 for _, first, last in held) > 500
    assert "counterflow,serpentine" in sheet
    assert "'House'!$C$" in sheet.replace("&apos;", "'")  # the names of pipes, floors and headers
    assert "For example: 150 mm" in notes
    assert "the port is taken twice" in sheet


def test_words_of_the_trade_are_taken_and_told() -> None:
    def spoken(book: Book) -> None:
        put(book, "Loops", 5, 2, "Schnecke")

    found = edited(SMALL, FILLED, spoken)
    assert texts(found, "loops")["L1"]["loops.pattern"] == "counterflow"
    assert found.notes == ["Loops C6: 'Schnecke' is read as 'counterflow'."]
