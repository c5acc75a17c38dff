"""Reviews designs that others sent: the content of a letter to each, and of the overview.

Where a project was sent several times, a letter is about the newest revision; the earlier ones say
what was mended and what was already asked.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import NamedTuple

from markupsafe import Markup
from msgspec import UNSET

from checker.outcome.answers import NOT_ACCEPTED
from checker.outcome.proposals import Remedy
from checker.outcome.report import DesignReport
from checker.outcome.results import HOLDING, PASSING, SEVERITIES, Result
from checker.reading.cells import REFUSED
from checker.reports.floor_plan import floor_plan, plan_key
from checker.reports.remedies import would_do
from checker.reports.sentences import bounded, cautions, cited, subject_words, value_text
from checker.reports.verdicts import asked, sentence, to_look_at, turns
from checker.revisions.as_sent import AsSent
from checker.revisions.items import field_of
from checker.revisions.missing import PLAIN, Style
from checker.revisions.plainly import meaning, read_how
from checker.revisions.revision import Revision
from checker.revisions.senders import Project
from checker.revisions.since import SINCE, in_words, unsure_words, was_open
from checker.run import batch
from checker.words import listed

CLASH = "header-port-clash"


class Item(NamedTuple):
    """Something that must change: where, what, by how much, why and how.

    place: the row in the sender's own sheet, else the line in the design; value: as the program
    shows it, and as the sender wrote it where the unit differs; before: the revision before, empty
    where there is none; since: what became of it since then, a key of the words of letters;
    would_do: changes that were worked out to clear it, one sentence each.
    """

    severity: str
    subject: str
    place: str
    title: str
    message: str
    value: str
    limit: str
    source: str
    remedy: str
    before: str
    would_do: tuple[str, ...] = ()
    rule: str = ""
    since: str = "again"


class Advice(NamedTuple):
    """An improvement in several places: one rule, its limit, its subjects.

    before: the revision before, empty where there is none; since: for each subject what became of
    it since then, as in `Item`.
    """

    severity: str
    title: str
    limit: str
    subjects: tuple[str, ...]
    source: str
    remedy: str
    rule: str = ""
    before: str = ""
    since: tuple[str, ...] = ()


class Asked(NamedTuple):
    """A missing datum: who would know it, how grave it is, and what cannot be judged without it.

    about: the datum by its name in the design; turns: what it decides by itself (title, where it
    does not arise, who knows it); means: what the datum is.
    """

    datum: str
    subjects: tuple[str, ...]
    who: str
    severity: str
    rules: tuple[str, ...]
    about: str = ""
    turns: tuple[tuple[str, str, str], ...] = ()
    means: str = ""


class Accepted(NamedTuple):
    """A rule that passed, and for how many of the subjects that it was judged for."""

    title: str
    kept: int
    of: int


class AcceptedFinding(NamedTuple):
    """A finding that was accepted as it is: where, which, by whom, until which day."""

    subject: str
    title: str
    by: str
    until: str


class Section(NamedTuple):
    """The part of a letter about one design.

    gone, otherwise: findings whose subjects are gone, or that are not asked any more; unsure: what
    could be read in two ways; kept: what was given by a form; form: the file of a form for missing
    data; left: what it cannot ask; cleared: what was unknown before and passes now; rejudged:
    findings that only other limits made; taken: assumptions about what the sheet does not say;
    numbers: the permanent numbers of points in a register, by kind and rule or datum.
    """

    name: str
    revision: str
    file: str
    verdict: str
    judged: str
    judged_by: str
    must: tuple[Item, ...]
    should: tuple[Advice, ...]
    asked: tuple[Asked, ...]
    confirm: tuple[Advice, ...]
    accepted: tuple[Accepted, ...]
    conceded: tuple[AcceptedFinding, ...]
    known: tuple[str, ...]
    mended: tuple[str, ...]
    previous: str
    notes: tuple[str, ...]
    plan: Markup
    plan_says: str
    gone: tuple[str, ...] = ()
    otherwise: tuple[str, ...] = ()
    unsure: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    form: str = ""
    left: tuple[str, ...] = ()
    cleared: tuple[str, ...] = ()
    rejudged: tuple[str, ...] = ()
    taken: tuple[str, ...] = ()
    numbers: dict[tuple[str, str], int] = {}  # noqa: RUF012  # nobody writes into it


class Letter(NamedTuple):
    """A letter: to whom, about which designs, with which cautions."""

    to: str
    sections: tuple[Section, ...]
    cautions: tuple[str, ...]


TOLD = (REFUSED, "Look at", "Assumed")
"""What a letter says about how a sheet was read: everything but what was not used."""


Numbers = dict[tuple[str, str], int]
"""The permanent numbers of a design's points, by kind and rule or datum."""


def letters(
    found: list[Project],
    plan: batch.Plan = batch.BY_THE_DESIGN,
    numbers: Callable[[Project], Numbers] = lambda project: {},
    style: Callable[[Project], Style] = lambda project: PLAIN,
) -> Iterator[Letter]:
    """A letter for each sender, made when it is asked for.

    Args:
        found: the designs, in the order of sender and name.
        plan: how designs are judged.
        numbers: gives the permanent numbers of a design's points; none without it.
        style: gives how the sender of a design writes; the format's own words without it.

    Returns:
        The letters in the order of the senders.
    """
    for sender, own in by_sender(found).items():
        yield Letter(
            sender,
            tuple(section(project, plan, numbers(project), style(project)) for project in own),
            tuple(dict.fromkeys(c for p in own for c in cautions(p.newest.report))),
        )


def by_sender(found: Iterable[Project]) -> dict[str, list[Project]]:
    """The designs of each sender.

    Args:
        found: the designs.

    Returns:
        By sender, in the order in which senders first occur, which is that of the letters.
    """
    by: dict[str, list[Project]] = defaultdict(list)
    for project in found:
        by[project.by].append(project)
    return by


def section(
    project: Project,
    plan: batch.Plan = batch.BY_THE_DESIGN,
    numbers: Numbers | None = None,
    style: Style = PLAIN,
) -> Section:
    """The part of a letter about the newest revision of a design.

    Args:
        project: the design with its revisions.
        plan: how designs are judged.
        numbers: the permanent numbers of its points; none without a register.
        style: how its sender writes.

    Returns:
        What the letter says, in plain text but for the drawing of the plan.
    """
    newest = project.newest
    report = newest.report
    sheet = report.sheet
    file = sheet or report.path.rsplit("/", 1)[-1]
    sent = AsSent(newest, bool(sheet), plan, style)
    move = project.moves[-1] if project.moves else None
    revision_before = project.revisions[-2].revision if move else ""
    mended = move.of("mended") if move else []
    before = (revision_before or "?") if move else ""
    since = {(c.rule, c.subject): SINCE.get(c.state, "new") for c in (move.changes if move else ())}
    results = report.results_of("fail", "open", "review")
    standing = [result for result in results if not result.waived]
    fails = [one for one in standing if one.kind == "fail" and one.state not in PASSING]
    must = [
        _item(
            result,
            sent,
            before,
            since.get(_key(result), "new"),
            report.remedies.get(_key(result)),
        )
        for severity in HOLDING
        for result in fails
        if result.severity == severity
    ]
    codes = ", ".join(report.codes) or "no code"
    taken, rest = read_how(
        line for title, lines in report.sheet_remarks if title in TOLD for line in lines
    )
    return Section(
        report.name,
        newest.revision,
        file,
        report.verdict,
        sentence(report),
        "; ".join(
            (
                f"{codes}, {report.judged_by or 'unknown day, so by the newest editions'}",
                *report.remarks,
            )
        ),
        tuple(_clashes(must, newest)),
        tuple(_advice([r for r in fails if r.severity not in HOLDING], sent, before, since)),
        tuple(asked_of(report, style, [one for one in results if one.kind == "open"])),
        tuple(_advice(to_look_at(standing), sent, before, since)),
        tuple(_accepted(report, sent.titles)),
        tuple(
            AcceptedFinding(subject_words(r.subject), r.title, r.waived.by, r.waived.until)
            for r in results
            if r.waived
        ),
        tuple(
            f"{subject_words(r.subject)[0].upper()}{subject_words(r.subject)[1:]}: {r.title} "
            f"({r.severity})"
            for r in standing
            if r.kind == "fail" and r.state in PASSING
        ),
        in_words([one for one in mended if not was_open(one)]),
        revision_before or ("the one before" if move else ""),
        (*rest, *project.notes),
        floor_plan(report),
        plan_key(report),
        in_words(move.of("gone") if move else ()),
        in_words(move.of("no longer asked") if move else ()),
        tuple(map(unsure_words, move.unsure if move else ())),
        tuple(
            f"{style.says(field)} ({listed(names)})" if any(names) else style.says(field)
            for field, names in project.kept
        ),
        cleared=in_words([one for one in mended if was_open(one)]),
        rejudged=in_words(move.of("judged otherwise") if move else ()),
        taken=taken,
        numbers=numbers or {},
    )


def _clashes(items: list[Item], one: Revision) -> Iterator[Item]:
    """Join the items about loops on one port into one that names the loops and the port."""
    by_words = {subject_words(f"loops.{name}"): name for section, name in one.content
                if section == "loops"}  # fmt: skip
    together: dict[tuple[str, str], list[Item]] = {}
    for item in items:
        name = by_words.get(item.subject)
        values = {} if name is None else one.content["loops", name]
        port = values.get("header", ""), values.get("port", "")
        if item.rule != CLASH or not all(port):
            yield item
            continue
        together.setdefault(port, []).append(item)
    for (header, number), own in together.items():
        loops = [item.subject.removeprefix("loop ") for item in own]
        words = f"port {number} of header {header}: loops {listed(loops)}"
        place = ", ".join(item.place for item in own if item.place)
        yield own[0]._replace(subject=words, place=place, value="", limit="", message="")


def _key(result: Result) -> tuple[str, str]:
    return result.rule, result.subject


def _item(result: Result, sent: AsSent, before: str, since: str, remedy: Remedy | None) -> Item:
    value, written = value_text(result.value, sent.speech), sent.written(result)
    return Item(
        result.severity,
        subject_words(result.subject),
        sent.place(result),
        result.title,
        result.message,
        f"{value} ({written})" if written else value,
        "" if result.limit is UNSET else bounded(result.limit, sent.speech),
        "" if result.source is UNSET else cited(result.source),
        result.remedy,
        before,
        () if remedy is None else tuple(map(sent.way_out, would_do(remedy))),
        result.rule,
        since,
    )


def _advice(
    results: list[Result], sent: AsSent, before: str, since: dict[tuple[str, str], str]
) -> Iterator[Advice]:
    """Results under the same rule and limit, joined."""
    together: dict[tuple[str, str, str], list[Result]] = defaultdict(list)
    for result in results:
        limit = "" if result.limit is UNSET else bounded(result.limit, sent.speech)
        together[result.severity, result.rule, limit].append(result)
    ordered = sorted(together.items(), key=lambda one: SEVERITIES.index(one[0][0]))
    for (severity, rule, limit), own in ordered:
        first = own[0]
        source = "" if first.source is UNSET else cited(first.source)
        subjects = tuple(_with_value(result, sent) for result in own)
        came = tuple(since.get(_key(result), "new") for result in own)
        yield Advice(
            severity, first.title, limit, subjects, source, first.remedy, rule, before, came
        )


def _with_value(result: Result, sent: AsSent) -> str:
    every = [sent.place(result), value_text(result.value, sent.speech), sent.written(result)]
    if result.answer is not UNSET and result.answer.again is not UNSET:
        own = result.answer
        why = "not accepted yet" if own.again == NOT_ACCEPTED else own.again
        every.append(f"answered by {own.by}, {own.on}: {own.result}; {why}")
    beside = [text for text in every if text]
    return subject_words(result.subject) + (f" ({', '.join(beside)})" if beside else "")


def asked_of(
    report: DesignReport, style: Style = PLAIN, unjudged: list[Result] | None = None
) -> Iterator[Asked]:
    """Everything that is missing in a design, in the order of how much it decides.

    Args:
        report: the design's report.
        style: how its sender writes.
        unjudged: its open results; taken from the report where None.

    Returns:
        The data, each once with all its subjects.
    """
    unjudged = report.results_of("open") if unjudged is None else unjudged
    titles = {result.rule: result.title for result in unjudged}
    decided: dict[str, dict[tuple[str, str], None]] = {}
    for turn in turns(unjudged):
        decided.setdefault(turn.field, {})[turn.title, turn.words] = None
    for one in asked(report.questions):
        rules = dict.fromkeys(titles.get(rule, rule) for rule in one.rules)
        subject = one.subjects[0] if one.subjects else ""
        name = field_of(subject, one.datum)
        datum = one.datum if " " in one.datum else style.says(name)
        subjects = tuple(map(subject_words, one.subjects))
        own = [
            (title, words, subject_words(name))
            for name in one.subjects
            for title, words in decided.get(f"{name}.{one.datum}", ())
        ]
        # Whoever calls a field in words of his own, or in another language, needs none of ours.
        means = "" if name in style.called and name not in style.titles else meaning(name)
        yield Asked(
            datum, subjects, one.who, one.severity, tuple(rules), one.datum, tuple(own), means
        )


def _accepted(report: DesignReport, titles: Mapping[str, str]) -> Iterator[Accepted]:
    """Each rule that passed somewhere, by its title; how often it passed, of how often judged."""
    kept: dict[str, int] = {}
    judged: Counter[str] = Counter()
    for pattern in report.found.patterns:  # most are kept, and no result of them is needed
        if pattern.kind in ("pass", "fail"):
            kept[pattern.rule] = kept.get(pattern.rule, 0) + (pattern.kind == "pass")
            judged[pattern.rule] += 1
    for rule, count in kept.items():
        if count:
            yield Accepted(titles[rule], count, judged[rule])
