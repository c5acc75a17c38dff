"""Letters to those who sent designs, and the reviewer's overview."""

from __future__ import annotations

import re
from functools import cache
from html.parser import HTMLParser

import pytest
from msgspec import UNSET

from checker.intake.maps import load
from checker.reports.sentences import subject_words
from checker.revisions.comparing import compare
from checker.revisions.letters import letter_html, letter_markdown, overview_html, overview_markdown
from checker.revisions.reviewing import Letter, letters
from checker.revisions.revision import Revision, read
from checker.revisions.senders import Project, projects
from checker.revisions.tallies import Table, overview, tally
from tests.example import DESIGN, changed
from tests.intake.taken import take
from tests.intake.workbooks import FOLDER

SENT = changed(("region: GB-ENG", "region: GB-ENG, contractor: Invented Floors, revision: A"),
               ("length: 88 m", "length: 128 m"))  # fmt: skip


def reviewed(*texts: str, by: str = "contractor") -> list[Project]:
    files = [(f"{number}.yaml", text.encode()) for number, text in enumerate(texts)]
    revisions, unreadable = read(files)
    assert not unreadable
    return projects(revisions, by)


def letter(*texts: str) -> Letter:
    (one,) = letters(reviewed(*texts))
    return one


def table(tables: list[Table], title: str) -> Table:
    (one,) = [table for table in tables if table.title.startswith(title)]
    return one


def from_sheet(name: str) -> str:
    plan = load("m.map.yaml", (FOLDER / f"{name}.map.yaml").read_bytes())
    return take(str(FOLDER / f"{name}.xlsx"), plan)[0].text


def test_what_must_change_names_value_limit_source_and_place() -> None:
    (section,) = letter(SENT).sections
    (item,) = [i for i in section.must if i.title == "Loop longer than its pipe can feed"]
    assert (item.subject, item.value, item.limit) == ("loop L1", "128 m", "at most 100 m")
    line = next(n for n, text in enumerate(SENT.splitlines(), 1) if text.startswith("  L1:"))
    assert item.place == f"line {line}"
    assert item.source
    assert item.remedy
    assert item.before == ""


def test_a_finding_names_the_row_of_the_senders_own_sheet() -> None:
    text = from_sheet("haus-am-hang-4")
    (section,) = letter(text).sections
    assert section.file == "haus-am-hang-4.xlsx"
    (item,) = [i for i in section.must if i.subject == "loop HKV 2.2"]
    assert item.place == "Heizkreise K14"
    assert any("decimal" not in note and "row 7" in note for note in section.notes)
    markdown = letter_markdown(letter(text))
    plain = markdown.replace("\\", "")
    assert "Loop longer than its pipe can feed (major; wanted: at most 100 m)" in plain
    assert "- Loop HKV 2.2 (Heizkreise K14): 118 m" in plain


def test_missing_data_are_asked_for_once_with_all_who_lack_them() -> None:
    text = SENT.replace(", wall_gap: 100 mm", "").replace("    bore: 25 mm\n", "")
    (section,) = letter(text).sections
    asked = {one.datum: one for one in section.asked}
    assert asked["wall gap"].subjects == ("loop L1", "loop L2")
    assert asked["bore"].subjects == ("header H1",)


def test_what_was_accepted_is_counted() -> None:
    (section,) = letter(SENT).sections
    accepted = {one.title: (one.kept, one.of) for one in section.accepted}
    assert accepted["Loop longer than its pipe can feed"] == (1, 2)
    assert accepted["Two loops on one port"] == (2, 2)


def test_the_newest_revision_counts_and_what_was_told_already_is_said() -> None:
    second = SENT.replace("revision: A", "revision: B").replace("hold: 20 min", "hold: 1 min")
    first = SENT.replace("port: 2", "port: 1")
    for texts in ((first, second), (second, first)):
        (section,) = letter(*texts).sections
        assert (section.revision, section.previous) == ("B", "A")
        before = {item.title: item.before for item in section.must}
        assert before["Loop longer than its pipe can feed"] == "A"
        assert any("Two loops on one port" in text for text in section.mended)
        assert "Two loops on one port" not in before
    assert "already named in revision A" in letter_markdown(letter(first, second))


@cache
def side(path: str, text: str) -> list[Revision]:
    """One revision, read once for all comparisons that have it."""
    return read([(path, text.encode())])[0]


WORDED = {"new": "new", "still": "again", "better": "better", "worse": "worse"}


@pytest.mark.parametrize(
    "edits",
    [
        [("edge_strip: 8 mm", "edge_strip: 3 mm"), ("hold: 20 min", "hold: 1 min")],
        [("heat_load: 700 W", "heat_load: 900 W"), ("wall_gap: 100 mm", "wall_gap: 20 mm")],
        [("L2:", "L3:"), ("bore: 25 mm", "bore: 8 mm"), ("supply: 42 °C", "supply: 50 °C")],
        [("GB-ENG", "US")],
    ],
)
@pytest.mark.parametrize("back", [False, True])
def test_a_letter_says_of_each_finding_what_a_comparison_says(
    edits: list[tuple[str, str]], *, back: bool
) -> None:
    """Whether new, told already, worse, better, mended, gone or judged otherwise."""
    other = changed(*edits, text=SENT.replace("length: 128 m", "length: 124 m"))
    first, second = (other, SENT) if back else (SENT, other)
    second = second.replace("revision: A", "revision: B")
    old, new = (side(f"{n}.yaml", text) for n, text in enumerate((first, second)))
    (sent,) = letters(projects([*old, *new], "contractor"))
    (section,) = sent.sections
    (found,) = compare(old, new, []).pairs
    told = {(item.rule, item.subject): item.since for item in section.must}
    for point in (*section.should, *section.confirm):
        for subject, since in zip(point.subjects, point.since, strict=True):
            told[point.rule, subject.partition(" (")[0]] = since
    standing = {
        (one.rule, subject_words(one.subject)): WORDED[one.state]
        for one in found.changes
        if one.state in WORDED and one.after is not UNSET and one.after.kind != "open"
    }
    assert told == standing
    assert len(told) > 3
    for states, lines in (
        ("mended", (*section.mended, *section.cleared)),
        ("gone", section.gone),
        ("no longer asked", section.otherwise),
        ("judged otherwise", section.rejudged),
    ):
        titles = {one.title for one in found.of(states)}
        assert {line.rpartition(" (")[0] for line in lines} == titles


@pytest.mark.parametrize(("older", "newer"), [("B", "C"), ("9", "10"), ("P2", "P10"), ("", "A")])
def test_revisions_are_in_their_order(older: str, newer: str) -> None:
    def sent(revision: str) -> str:
        return SENT.replace("revision: A", f"revision: '{revision}'")

    assert letter(sent(newer), sent(older)).sections[0].revision == newer


def test_a_day_goes_before_a_letter() -> None:
    late = SENT.replace("revision: A", "revision: A").replace("2026-03-12", "2026-03-13")
    early = SENT.replace("revision: A", "revision: Z")
    assert letter(late, early).sections[0].revision == "A"


def test_each_sender_gets_a_letter() -> None:
    other = SENT.replace("Invented Floors", "Other Floors").replace("Test House", "Other House")
    unnamed = DESIGN.replace("Test House", "Third House")
    assert [one.to for one in letters(reviewed(other, SENT, unnamed))] == [
        "Invented Floors", "Other Floors", "not named",
    ]  # fmt: skip
    assert len([*letters(reviewed(other, SENT, unnamed, by="project"))]) == 3


def test_the_overview_counts() -> None:
    second = SENT.replace("revision: A", "revision: B")
    found = reviewed(SENT, second, from_sheet("ridge-lane-12"))
    tables = overview([*map(tally, found)], "contractor")
    senders = table(tables, "By contractor")
    own = dict(zip(senders.heads, senders.rows[0], strict=True))
    assert (own["Contractor"], own["Projects"], own["Revisions"], own["Loops"]) == (
        "Invented Floors", "1", "2", "2",
    )  # fmt: skip
    fails = sum(int(own[s]) for s in ("Critical", "Major", "Minor", "Observation"))
    assert own["Fails a loop"] == f"{fails / 2:.2f}"
    rules = table(tables, "Contractors by rules")
    assert rules.heads == ("Rule", "Invented Floors", "Invented Ridge Radiant")
    (row,) = [row for row in rules.rows if row[0] == "Loop longer than its pipe can feed"]
    assert row[1:] == ("1", "1")
    assert sum(int(row[1]) for row in rules.rows if row[1]) == fails
    moves = table(tables, "Over the revisions")
    assert [row[1] for row in moves.rows] == ["A", "B"]
    repeated = table(tables, "Mistakes that repeat")
    assert ("Invented Floors", "Loop longer than its pipe can feed", "1", "2", "1") in repeated.rows
    assert not any("Ridge" in row[0] for row in repeated.rows)


def test_the_overview_of_nothing_and_of_sound_designs() -> None:
    assert [one.rows for one in overview([], "contractor")] == [()] * 5
    assert overview_markdown(overview([], "contractor"), [], []).startswith("# Review")


class Tags(HTMLParser):
    """Every tag of a page, and its text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data


HOSTILE = "<script>x</script><img src=http://x.invalid>"


def test_a_design_cannot_put_markup_into_a_letter() -> None:
    text = SENT.replace("Invented Floors", f"'{HOSTILE}'").replace("L1:", f"'{HOSTILE}':")
    found = reviewed(text)
    (one,) = letters(found)
    tables = overview([*map(tally, found)], "contractor")
    for page in (letter_html(one), overview_html(tables, [(one.to, "x")], [])):
        read_page = Tags(page)
        assert not {"script", "img", "iframe", "link"} & {tag for tag, _ in read_page.tags}
        assert HOSTILE in read_page.text
    for markdown in (letter_markdown(one), overview_markdown(tables, [(one.to, "x")], [])):
        assert "<script" not in markdown
        assert "<img" not in markdown


def test_a_page_needs_nothing_from_elsewhere() -> None:
    page = Tags(letter_html(letter(SENT)))
    for tag, attributes in page.tags:
        assert "src" not in attributes, tag
        assert tag not in ("link", "script")
    policy = [a.get("content") for t, a in page.tags if t == "meta" and "http-equiv" in a]
    assert policy == ["default-src 'none'; style-src 'unsafe-inline'"]


def test_markdown_and_html_say_the_same() -> None:
    one = letter(from_sheet("haus-am-hang-4"))
    page = " ".join(Tags(letter_html(one)).text.split())
    for section in one.sections:
        for item in section.must:
            assert item.title in page
            assert item.value in page
            assert item.source in page
        for asked in section.asked:
            assert asked.datum in page
        for note in section.notes:
            assert note in page
    for caution in one.cautions:
        assert caution in page


def test_a_value_is_quoted_as_the_sender_wrote_it() -> None:
    """372 ft are 113.4 m: the foot is 0.3048 m (NIST SP 811, 2008, appendix B.8)."""
    in_feet = SENT.replace("length: 128 m", "length: 372 ft")
    items = {i.title: i for i in letter(in_feet).sections[0].must}
    assert items["Loop longer than its pipe can feed"].value == "113.4 m (372 ft in your design)"
    assert ": 113.4 m (372 ft in your design)" in letter_markdown(letter(in_feet)).replace("\\", "")


def test_a_letter_speaks_the_units_of_what_was_sent() -> None:
    (section,) = letter(from_sheet("ridge-lane-12")).sections
    items = [i for i in section.must if i.title == "Loop longer than its pipe can feed"]
    assert items
    for item in items:
        assert re.fullmatch(r"[0-9]+ ft", item.value)
        assert re.search(r"can feed at most [0-9]+ ft\.", item.message)
        assert re.fullmatch(r"at most [0-9]+ ft", item.limit)


def test_a_value_in_our_own_unit_is_told_once() -> None:
    items = {i.title: i for i in letter(SENT).sections[0].must}
    assert items["Loop longer than its pipe can feed"].value == "128 m"


def test_a_sender_is_one_however_he_is_capitalised() -> None:
    texts = [
        SENT.replace("Invented Floors", name).replace("Test House", f"House {number}")
        for number, name in enumerate(("acme floors", "Acme Floors", "Acme  Floors"))
    ]
    (one,) = letters(reviewed(*texts))
    assert (one.to, len(one.sections)) == ("Acme Floors", 3)
