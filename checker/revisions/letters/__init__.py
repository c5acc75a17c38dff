"""Letters and the reviewer's overview as Markdown and as HTML pages that need no network.

Everything that comes from a design or a sheet is text and nothing but text.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import TYPE_CHECKING

from checker.reports.markdown import plain
from checker.words.templates import templates

if TYPE_CHECKING:
    from jinja2 import Environment

    from checker.reading.mistakes import Unreadable
    from checker.revisions.reviewing import (
        Accepted,
        Advice,
        Asked,
        Conceded,
        Item,
        Letter,
        Section,
        Table,
    )

INTRODUCTION = (
    "We have gone through what you sent. Below stands, for each design, the question that its "
    "stage asks, what must change before the answer can be yes, what we ask you for, and what was "
    "accepted."
)
ASKING = "Without these data the points named cannot be judged; the one that decides most is first."
CLOSING = (
    "Please send a new revision that answers each point, or tell us why a point should stand. "
    "This review takes nothing from your own responsibility for the design."
)


def letter_markdown(letter: Letter) -> str:
    """A letter as Markdown."""
    lines = [f"# Review of heating loop designs: {plain(letter.to)}", "", INTRODUCTION, ""]
    if len(letter.sections) > 1:
        lines += ["| Design | Revision | Must change | Asked for |", "|---|---|---:|---:|"]
        lines += [
            f"| {plain(one.name)} | {plain(one.revision) or '–'} | {len(one.must)} "
            f"| {len(one.asked)} |"
            for one in letter.sections
        ]
        lines.append("")
    for one in letter.sections:
        lines += _section(one)
    if letter.cautions:
        lines += ["## Cautions", "", *(f"- {plain(text)}" for text in letter.cautions), ""]
    return "\n".join((*lines, CLOSING, ""))


def _section(one: Section) -> Iterable[str]:
    revision = f", revision {plain(one.revision)}" if one.revision else ""
    yield f"## {plain(one.name)}{revision}"
    yield ""
    yield f"Read from {plain(one.file)}; judged by {plain(one.judged_by)}. {verdict_words(one)}"
    yield ""
    if one.previous:
        yield (
            f"**Mended since revision {plain(one.previous)}:** "
            + ("; ".join(plain(text) for text in one.mended) or "nothing")
            + "."
        )
        yield ""
    yield "### What must change"
    yield ""
    for number, item in enumerate(one.must, 1):
        yield from _item(number, item)
    if not one.must:
        yield "Nothing."
    yield ""
    for title, advice in (("What should be better", one.should), ("Please confirm", one.confirm)):
        if advice:
            yield f"### {title}"
            yield ""
            for point in advice:
                yield from _advice(point)
            yield ""
    yield "### What we ask you for"
    yield ""
    if one.asked:
        yield ASKING
        yield ""
        yield from (_asked(asked) for asked in one.asked)
    else:
        yield "Nothing."
    yield ""
    yield "### What was accepted"
    yield ""
    yield plain(accepted_words(one.accepted))
    if one.conceded:
        yield ""
        yield conceded_words(one.conceded)
        yield ""
        yield from (f"- {plain(conceded_line(own))}" for own in one.conceded)
    if one.known:
        yield ""
        yield KNOWN_WORDS
        yield ""
        yield from (f"- {plain(own)}" for own in one.known)
    yield ""
    if one.notes:
        yield "### How your sheet was read"
        yield ""
        yield from (f"- {plain(note)}" for note in one.notes)
        yield ""


def verdict_words(one: Section) -> str:
    """What the verdict means for the sender."""
    if one.verdict == "hold":
        return f"{one.judged} It is on hold until that changes."
    if one.verdict == "unproven":
        return f"{one.judged} It stays unproven until what is asked for is known."
    return f"{one.judged} Nothing that was judged keeps it from being released."


def place_words(item: Item) -> str:
    """Of what and where: 'Loop L1 (Loops, row 8)'."""
    return _start(item.subject + (f" ({item.place})" if item.place else ""))


def found_words(item: Item) -> str:
    """Value and limit in a sentence; empty where the item has neither."""
    limit = f"wanted: {item.limit}" if item.limit else ""
    parts = [part for part in (f"found: {item.value}" if item.value else "", limit) if part]
    return _start("; ".join(parts)) + "." if parts else ""


def _start(text: str) -> str:
    """A text as a sentence starts."""
    return text[:1].upper() + text[1:]


def accepted_words(accepted: Iterable[Accepted]) -> str:
    """What was kept everywhere, by what the rule guards against, and what only in part."""
    accepted = [*accepted]
    whole = [one for one in accepted if one.kept == one.of]
    part = [one for one in accepted if one.kept < one.of]
    words = [f"{one.title} ({one.kept})" for one in whole]
    text = "Looked for and not found, with the number of places: " + "; ".join(words) + "."
    if not whole:
        text = "No point was accepted everywhere."
    if part:
        partly = "; ".join(f"{one.title} ({one.kept} of {one.of})" for one in part)
        text += f" In some places only: {partly}."
    return text


KNOWN_WORDS = "These points are on record already and no worse; they stand, with no date set here:"


def conceded_words(conceded: tuple[Conceded, ...]) -> str:
    """How many points were accepted as they are, to stand over them."""
    if len(conceded) == 1:
        return "1 more point was looked at and is accepted as it is:"
    return f"{len(conceded)} more points were looked at and are accepted as they are:"


def conceded_line(one: Conceded) -> str:
    """Which point, by whom, and until when."""
    return f"{_start(one.subject)}: {one.title}; accepted by {one.by} until {one.until}."


def _item(number: int, item: Item) -> Iterable[str]:
    again = f"; told already in revision {item.before}" if item.before else ""
    yield f"{number}. **{plain(place_words(item))}: {plain(item.title)}** ({item.severity})  "
    yield f"   {plain(item.message)}  "
    if found_words(item):
        yield f"   {plain(found_words(item))}  "
    yield f"   → {plain(item.remedy)}  "
    for words in item.would_do:
        yield f"   - {plain(words)}"
    yield f"   Source: {plain(item.source + again)}."


def _advice(point: Advice) -> Iterable[str]:
    limit = f", {point.limit}" if point.limit else ""
    yield (
        f"- **{plain(point.title)}** ({point.severity}{plain(limit)}): "
        + ("; ".join(plain(subject) for subject in point.subjects))
        + ".  "
    )
    yield f"  → {plain(point.remedy)}" + (
        f" Source: {plain(point.source)}." if point.source else ""
    )


def _asked(asked: Asked) -> str:
    of = f": {plain(some(asked.subjects))}" if asked.subjects else ""
    rules = plain("; ".join(asked.rules))
    return f"- **{plain(asked.datum)}**{of} ({asked.who}; for: {rules})"


def some(subjects: tuple[str, ...], most: int = 12) -> str:
    """Subjects in a line, the rest counted."""
    more = f" and {len(subjects) - most} more" if len(subjects) > most else ""
    return ", ".join(subjects[:most]) + more


def overview_markdown(
    tables: list[Table], letters: list[tuple[str, str]], unreadable: list[Unreadable]
) -> str:
    """The overview as Markdown; letters: to whom, and in which file."""
    lines = ["# Review", ""]
    for problem in unreadable:
        where = problem.place
        lines.append(f"- **Could not be read:** {plain(where)}: {plain(problem.message)}")
    lines += ["", "## Letters", ""]
    lines += [f"- {plain(to)}: [{name}.md]({name}.md), [{name}.html]({name}.html)"
              for to, name in letters]  # fmt: skip
    for table in tables:
        lines += ["", f"## {table.title}", ""]
        if not table.rows:
            lines.append(table.empty)
            continue
        lines.append("| " + " | ".join(plain(head) for head in table.heads) + " |")
        lines.append("|---" * len(table.heads) + "|")
        lines += ["| " + " | ".join(plain(cell) for cell in row) + " |" for row in table.rows]
    return "\n".join(lines) + "\n"


def letter_html(letter: Letter) -> str:
    """A letter as a page to print or send."""
    return (
        _environment()
        .get_template("letter.html")
        .render(letter=letter, introduction=INTRODUCTION, asking=ASKING, closing=CLOSING)
    )


def overview_html(
    tables: list[Table], letters: list[tuple[str, str]], unreadable: list[Unreadable]
) -> str:
    """The overview as a page."""
    return (
        _environment()
        .get_template("overview.html")
        .render(tables=tables, letters=letters, unreadable=unreadable)
    )


@cache
def _environment() -> Environment:
    """The templates; everything that comes from a design is escaped."""
    made = templates("checker.revisions.letters", ".")
    made.filters.update(
        place_words=place_words,
        found_words=found_words,
        accepted_words=accepted_words,
        conceded_words=conceded_words,
        known_words=lambda known: KNOWN_WORDS,
        conceded_line=conceded_line,
        verdict_words=verdict_words,
        some=some,
    )
    return made
