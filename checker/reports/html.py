"""The HTML report: one file that needs no network, or a folder with a page for each design.

A piece is a design's section of the page and a brief of it for the overview; the overview, which
comes first, is made when every design is known.
"""

from __future__ import annotations

import base64
import hashlib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache, partial
from itertools import chain
from sys import intern
from typing import TYPE_CHECKING, Any

import msgspec
from jinja2 import Environment
from markupsafe import Markup
from msgspec import Struct

from checker import __version__
from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING, Result
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import ReportText, WholeReport
from checker.reports.came_out import gauge, passed_rules, required
from checker.reports.chart_parts import STYLE
from checker.reports.facts import Facts
from checker.reports.floor_plan import floor_plan, plan_key
from checker.reports.header_drawing import HEADER_KEY, header_drawing
from checker.reports.joining import Joined, joined, lacking
from checker.reports.loop_table import loop_columns
from checker.reports.remedies import InSentences, remedies_of
from checker.reports.remedies import in_sentences as proposal_sentences
from checker.reports.sentences import (
    cautions,
    cited,
    counted,
    held_to,
    judged_by,
    passed_over,
    second_opinions,
    stand_ins,
    subject_words,
    troubles,
    wanted_data,
    worst_first,
)
from checker.reports.verdicts import (
    answered,
    asked,
    later,
    looked_at,
    sentence,
    to_look_at,
    turning,
)
from checker.words.templates import templates

if TYPE_CHECKING:
    from checker.reports import FormatOptions

MARKS = ("critical", "major", "minor", "observation", "open", "review", "waived", "pass")
"""The results of a rule for a design, the gravest of its subjects first."""
LETTERS = dict(zip(MARKS, "CMmo?RW·", strict=True))
"""Their signs in the overview."""

CELLS = 1000
"""Parts of the overview that are written at once."""


class Brief(Struct):
    """What the overview shows of a design.

    Attributes:
        anchor: the id of its section, and the name of its page.
        path: of its file, as it was named.
        name: of the project.
        verdict: `hold`, `unproven` or `release`.
        counts: how many results have each of MARKS.
        marks: by rule, the gravest mark of its subjects.
        titles: of these rules, by id.
    """

    anchor: str
    path: str
    name: str
    verdict: str
    counts: dict[str, int]
    marks: dict[str, str]
    titles: dict[str, str]


class Piece(Struct):
    """A design's brief, and its section of the page."""

    brief: Brief
    section: str


class Writer(WholeReport):
    """Writes the HTML report."""

    needs_given = True
    needs_second_opinion = True

    def __init__(self, chosen: FormatOptions) -> None:
        self._page_of = chosen.page_of
        self._encode = msgspec.json.Encoder().encode
        self._decode = msgspec.json.Decoder(Piece).decode

    def piece(self, design: DesignReport) -> bytes:
        """One design's section, and what the overview shows of it.

        Args:
            design: its report, with what it states, its floors in section and further opinions.

        Returns:
            A `Piece` as JSON.
        """
        from checker.reports.drawn import drawn

        facts = Facts(design)
        brief = _brief(design, facts.results)
        results, speech = facts.results, facts.speech
        fails = joined(worst_first(r for r in results if r.kind == "fail" and not r.waived), speech)
        anchors = _anchors(brief, facts, fails)
        section = environment().get_template("design.html").render(
            brief=brief,
            design=design,
            page_of=self._page_of,
            facts=facts,
            judged=judged_by(design),
            fails=fails,
            floor_plan=floor_plan(design, _of_loops(anchors)) if design.sketch else "",
            header_drawing=partial(header_drawing, facts, links=anchors),
            header_key=HEADER_KEY,
            loop_columns=loop_columns,
            floor_plan_says=plan_key(design),
            waived=joined((r for r in results if r.kind in ("fail", "open") and r.waived), speech),
            mended=design.mended or (),
            reviews=joined(to_look_at(results), speech),
            seen=joined(looked_at(results), speech),
            later=later(facts.results),
            sentence=sentence(design),
            asked=asked(design.questions),
            turning=turning(facts.results),
            wanted=lacking(wanted_data(design)),
            cautions=cautions(design),
            kept=passed_rules(facts.results),
            amiss=required(facts.results),
            pictures=[*drawn(facts)],
        )  # fmt: skip
        return self._encode(Piece(brief, section))

    def whole(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> ReportText:
        """The report as one file: an overview where there are several designs, then each design.

        Args:
            run: adds the answer and what was judged by.
            pieces: the sections; they are read twice, first for the overview.
            totals: shown in the overview and at the end.
            unreadable: listed in the overview.

        Returns:
            The page, part by part; it needs no network.
        """
        briefs = self._briefs(pieces)
        title = briefs[0].name if len(briefs) == 1 else f"{len(briefs)} designs"
        start = _start(title, answer=run.answer)
        overview: Iterator[bytes] = iter(())
        if len(briefs) != 1 or unreadable:
            overview = _overview(briefs, totals, unreadable, lambda brief: f"#{brief.anchor}")
        sections = (self._decode(piece).section.encode() for piece in pieces)
        return ReportText(chain([start], overview, sections, [_end(run, totals)]))

    def pages(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> Iterator[tuple[str, Iterable[bytes]]]:
        """The report as a folder's files: an overview, and a page for each design.

        Args:
            run: adds the answer and what was judged by, on every page.
            pieces: the sections; they are read twice, first for the overview.
            totals: shown in the overview, and at the end of every page.
            unreadable: listed in the overview.

        Returns:
            `index.html`, then a page for each design, each with its content part by part.
        """
        briefs = self._briefs(pieces)
        end = _end(run, totals)
        overview = _overview(briefs, totals, unreadable, lambda brief: f"{brief.anchor}.html")
        start = _start(f"{len(briefs)} designs", answer=run.answer)
        yield "index.html", chain([start], overview, [end])
        del briefs, overview
        for piece in pieces:
            made = self._decode(piece)
            start = _start(made.brief.name, "index.html", run.answer)
            yield f"{made.brief.anchor}.html", [start, made.section.encode(), end]

    def _briefs(self, pieces: Sequence[bytes]) -> list[Brief]:
        """The briefs of all designs; what they share is kept once."""
        briefs = []
        titles: dict[str, str] = {}
        for piece in pieces:
            brief = self._decode(piece).brief
            brief.marks = {intern(rule): intern(mark) for rule, mark in brief.marks.items()}
            titles |= brief.titles
            brief.titles = titles
            briefs.append(brief)
        return briefs


def _brief(design: DesignReport, results: Iterable[Result]) -> Brief:
    marks: dict[str, int] = {}
    counts: Counter[str] = Counter()
    titles = {}
    for result in results:
        mark = _mark(result)
        if mark is None:
            continue
        counts[mark] += 1
        marks[result.rule] = min(MARKS.index(mark), marks.get(result.rule, len(MARKS)))
        titles[result.rule] = result.title
    return Brief(
        _anchor(design.path),
        design.path,
        design.name,
        design.verdict,
        dict(counts),
        {rule: MARKS[mark] for rule, mark in marks.items()},
        titles,
    )


def _mark(result: Result) -> str | None:
    if result.waived:
        return "waived"
    if result.kind == "fail":
        return result.severity
    if result.kind == "review" and (result.due or answered(result)):
        return None
    return result.kind if result.kind in MARKS else None


def _anchor(path: str) -> str:
    """An id for a design's section, of plain letters and digits only."""
    stem = path.rsplit("/", 1)[-1].rsplit(".", 1)[0].lower()
    plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in stem)[:40]
    digest = hashlib.blake2b(path.encode("utf-8", "surrogatepass"), digest_size=4).hexdigest()
    return f"{plain}-{digest}".lstrip("-")


def _anchors(brief: Brief, facts: Facts, fails: list[Joined]) -> dict[str, str]:
    """For each subject the id of its gravest finding on the page; for other loops that of their row
    in the table.
    """
    found = {
        f"loops.{name}": f"{brief.anchor}-loop{number}"
        for number, name in enumerate(facts.names("loops"))
    }
    numbers: Counter[bool] = Counter()
    subjects: set[str] = set()
    for fail in fails:
        grave = fail.severity in HOLDING
        numbers[grave] += 1
        below = [subject for one in fail.under for subject in one.subjects]
        for subject in (*fail.subjects, *below):
            if subject not in subjects:
                subjects.add(subject)
                found[subject] = f"{brief.anchor}-{'' if grave else 'm'}{numbers[grave]}"
    return found


def _of_loops(anchors: dict[str, str]) -> dict[str, str]:
    """Those of loops, by id."""
    prefix = "loops."
    return {
        subject.removeprefix(prefix): anchor
        for subject, anchor in anchors.items()
        if subject.startswith(prefix)
    }


class Column(Struct):
    """A rule in the overview."""

    rule: str
    title: str


def _overview(
    briefs: list[Brief],
    totals: Totals,
    unreadable: list[Unreadable],
    link: Callable[[Brief], str],
) -> Iterator[bytes]:
    titles = briefs[0].titles if briefs else {}
    marks: dict[str, Counter[str]] = {}
    for brief in briefs:
        for rule, mark in brief.marks.items():
            marks.setdefault(rule, Counter())[mark] += 1
    kept = sorted(rule for rule, counts in marks.items() if {*counts} == {"pass"})
    # The gravest first, and of those the commonest.
    shown = sorted(marks.keys() - kept, key=lambda r: ([-marks[r][m] for m in MARKS[:-1]], r))
    page = (
        environment()
        .get_template("overview.html")
        .stream(
            briefs=briefs,
            totals=totals,
            unreadable=unreadable,
            columns=[Column(rule, titles[rule]) for rule in shown],
            kept=kept,
            link=link,
        )
    )
    page.enable_buffering(CELLS)
    for part in page:
        yield part.encode()


def _would_do(found: Joined, design: DesignReport) -> list[tuple[str, list[InSentences], str]]:
    """What would clear joined findings: for each its subject, the proposals, and why there is none.

    The subject is empty where there is only one.
    """
    own = [*remedies_of(design, found.result.rule, found.subjects)]
    return [(one.subject if len(own) > 1 else "", proposal_sentences(one), one.says) for one in own]


def _start(title: str, back: str = "", answer: str = "") -> bytes:
    script = style("page.js")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    start = environment().get_template("start.html")
    page = start.render(
        title=title,
        back=back,
        answer=answer,
        style=style("page.css") + STYLE,
        script=script,
        digest=digest,
    )
    return page.encode()


def _end(run: Run, totals: Totals) -> bytes:
    end = environment().get_template("end.html")
    beside = [one for one in (held_to(run), passed_over(run)) if one]
    page = end.render(
        rules=run,
        version=__version__,
        own=[*stand_ins(totals), *troubles(run, totals)],
        beside=beside,
    )
    return page.encode()


def style(name: str) -> Markup:
    """A style sheet or script of the program, unchanged.

    Args:
        name: its file among the templates of reports, such as `page.css`.

    Returns:
        The text, which a template does not escape.
    """
    loader = environment().loader
    assert loader is not None
    return Markup(loader.get_source(environment(), name)[0])


@cache
def environment() -> Environment:
    """The templates; all text from a design is escaped."""
    made = templates("checker.reports")
    words: dict[str, Any] = {
        "cited": cited,
        "opinions": second_opinions,
        "gauge": gauge,
        "counted": counted,
        "readable": subject_words,
        "floor_plan": floor_plan,
        "floor_plan_says": plan_key,
        "would_do": _would_do,
    }
    made.filters.update(words)
    made.globals["LETTERS"] = LETTERS
    made.globals["MARKS"] = MARKS
    return made
