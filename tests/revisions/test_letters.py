"""Letters that can be sent as they are: each cause once, then where it stands."""

from __future__ import annotations

import io
from pathlib import Path

import docx
import pytest
from python_calamine import CalamineWorkbook

from checker.revisions.letters import written
from checker.revisions.letters.blocks import pages
from checker.revisions.letters.composing import PLACES, Composed, Head, composed
from checker.revisions.letters.phrases import in_runs
from checker.revisions.letters.wording import ENGLISH, english, words
from checker.revisions.letters.writing import annex, as_markdown
from checker.revisions.reviewing import letters
from checker.revisions.revision import read
from checker.revisions.senders import projects
from checker.run.writer import Unwritable
from tests.cli.calling import Calling, calling, put
from tests.example import DESIGN, changed
from tests.revisions.test_reviewing import SENT, letter

__all__ = ["calling"]

L1 = next(line for line in SENT.splitlines(keepends=True) if line.startswith("  L1:"))
MANY = SENT.replace(
    L1,
    L1
    + "".join(
        L1.replace("L1:", f"X{n}:")
        .replace("port: 1", f"port: {n + 5}")
        .replace("length: 128 m", f"length: {129 + n} m")
        for n in range(20)
    ),
).replace("ports: 4", "ports: 30")


def text_of(made: Composed) -> str:
    return " ".join(written(made.blocks, "t", "text").decode().split())


def test_a_cause_stands_once_with_its_first_places_and_the_annex_has_all() -> None:
    made = composed(letter(MANY), Head("2026-03-20", "R 7", "2026-04-03", "R. Viewer", "x.xlsx"))
    text = text_of(made)
    assert text.count("Loop longer than its pipe can feed (major; wanted: at most 100 m)") == 1
    assert f"and {21 - PLACES} more, each in the annex under number" in text
    for told in ("Date: 2026-03-20", "Reference: R 7", "Please answer by 2026-04-03", "R. Viewer",
                 "is in the annex, x.xlsx"):  # fmt: skip
        assert told in text
    book = CalamineWorkbook.from_filelike(io.BytesIO(annex(made, english())))
    rows = book.get_sheet_by_index(0).to_python()
    assert rows[0] == list(english().heads("annex_heads"))
    long = [row for row in rows if row[3] == "Loop longer than its pipe can feed"]
    assert len(long) == 21
    assert {row[7:9][0] for row in long} == {f"{128 + n} m" for n in range(21)}


def test_two_loops_on_one_port_are_one_point_that_names_both_and_the_port() -> None:
    made = composed(letter(SENT.replace("port: 2", "port: 1")))
    assert "Port 1 of header H1: loops L1 and L2 (line" in text_of(made)


@pytest.mark.parametrize("wanted", ["markdown", "html", "text", "docx"])
def test_every_format_says_the_same(wanted: str) -> None:
    made = composed(letter(SENT), Head("2026-03-20", annex="x"))
    data = written(made.blocks, "t", wanted)
    assert data == written(made.blocks, "t", wanted) or wanted == "docx"
    text = (
        "\n".join(p.text for p in docx.Document(io.BytesIO(data)).paragraphs)
        if wanted == "docx"
        else data.decode().replace("\\", "")
    )
    text = " ".join(text.split())
    for told in ("Loop longer than its pipe can feed (major; wanted: at most 100 m)", "128 m",
                 "Date: 2026-03-20", "What was accepted"):  # fmt: skip
        assert told in text


def test_a_firm_adds_its_own_words(tmp_path: Path) -> None:
    own = tmp_path / "de.yaml"
    own.write_text('must: "Was zu ändern ist"\nto: "An: {to}"\n', "utf-8")
    made = composed(letter(SENT), Head("2026-03-20"), words(str(own)))
    assert "Was zu ändern ist" in text_of(made)
    assert "An: Invented Floors" in text_of(made)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("mustt: x", "no letter says 'mustt'"),
        ('to: "An {whom}"', "cannot fill in {whom}; it knows to"),
        ("overview_heads: [a]", "is to be like"),
        ("- a", "is to be keys with words"),
        ("a: [", "cannot be read"),
        ('to: "An {to"', "'to'"),
    ],
)
def test_words_that_cannot_be_used_are_refused(tmp_path: Path, text: str, told: str) -> None:
    own = tmp_path / "own.yaml"
    own.write_text(text, "utf-8")
    with pytest.raises(Unwritable) as raised:
        words(str(own))
    assert told in str(raised.value)
    assert Path(ENGLISH).is_file()


def test_who_is_late_is_chased(call: Calling) -> None:
    late = DESIGN.replace("region: GB-ENG", "region: GB-ENG, contractor: Late Floors, revision: A")
    put("in/a.yaml", late)
    base = ("review", "in", "--register", "r.json", "--output", "out", "--letter-format", "text")
    assert call(*base, "--today", "2026-03-20").status == 0
    put("in/a.yaml", late.replace("Late Floors", "Other Floors").replace("Test House", "House 2"))
    assert call(*base, "--today", "2026-04-03").status == 0
    assert not Path("out/chasing-late-floors.txt").exists()
    assert call(*base, "--today", "2026-04-04").status == 0
    text = " ".join(Path("out/chasing-late-floors.txt").read_text("utf-8").split())
    assert "to be answered by 2026-04-03" in text
    assert "asked on 2026-03-20" in text


def test_a_letter_says_where_one_datum_decides() -> None:
    """A carpet of which the resistance is not known: covering-resistance turns at 0.15 m²·K/W."""
    sent = SENT.replace("tile, resistance: 0.02 m²·K/W}}\n  bath", "carpet}}\n  bath")
    text = text_of(composed(letter(sent)))
    told = "“Covering that keeps the heat in the floor” does not arise up to 0.15 m²·K/W (room"
    assert told in text


def test_rows_that_follow_one_another_and_say_the_same_are_one_place() -> None:
    told = [("loop A", "Loops J8", "30 °C"), ("loop B", "Loops J9", "30 °C"),
            ("loop C", "Loops J10", "31 °C"), ("loop D", "Loops J12", "31 °C"),
            ("loop E", "", "31 °C"), ("loop F", "", "31 °C")]  # fmt: skip
    assert in_runs(told) == [
        (2, "loop A", "Loops J8", "30 °C", "loop B", "Loops J9"),
        (1, "loop C", "Loops J10", "31 °C", "loop C", "Loops J10"),
        (1, "loop D", "Loops J12", "31 °C", "loop D", "Loops J12"),
        (1, "loop E", "", "31 °C", "loop E", ""),
        (1, "loop F", "", "31 °C", "loop F", ""),
    ]
    assert sum(count for count, *_ in in_runs(told)) == len(told)


def test_many_designs_are_told_cause_by_cause_on_few_pages() -> None:
    """A page of print: 46 lines of 95 signs; A4 with 20 mm beside it and 10 pt, our own choice."""
    texts = [
        (f"flat{n:03}.yaml", changed(("Test House", f"Tower flat {n}"), ("length: 88 m", "length: 128 m"),
                                     ("    edge_strip: 8 mm\n", "" if n % 2 else "    edge_strip: 8 mm\n")).encode())
        for n in range(40)
    ]  # fmt: skip
    found, bad = read(texts)
    assert not bad
    (one,) = letters(projects(found, "contractor"))
    made = composed(one, Head(annex="x.xlsx"))
    assert pages(made.blocks) < 5
    text = as_markdown(made.blocks)
    assert text.count("Loop longer than its pipe can feed (major") == 1
    assert "Tower flat 0, Tower flat 1, Tower flat 10, and 37 more" in text.replace("\\", "")
    # Nothing is lost: the annex has each place with its own number, and each design.
    long = [row for row in made.rows if row.title == "Loop longer than its pipe can feed"]
    assert len({row.number for row in long}) == len({row.design for row in long}) == 40
    assert len(made.designs) == 40
    assert {row.design for row in made.rows if row.title.startswith("edge strip")} == {
        f"Tower flat {n}" for n in range(1, 40, 2)
    }


def test_a_long_letter_names_fewer_places_and_says_where_the_others_are(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("checker.revisions.letters.composing.LONGEST", 0.1)
    made = composed(letter(MANY), Head(annex="x.xlsx"))
    assert not made.whole
    assert "and 20 more, each in the annex under number" in as_markdown(made.blocks)
