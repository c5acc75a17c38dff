"""The rules for readers: a list, one rule in full, and the manual."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from checker.outcome.results import SEVERITIES, Source
from checker.outcome.runs import RuleWords
from checker.reading import yaml_reader
from checker.reading.package_data import data_folder
from checker.rulebook.book import Rulebook
from checker.rulebook.model import Example, Rule, RuleLimit
from checker.words import table_row

SEEN = ("text", "reported", "memory")
"""How reliably a limit is known, the most reliable first."""


def one(rule: Rule) -> dict[str, Any]:
    """Give a rule as plain data, for JSON.

    Args:
        rule: any rule of a rulebook.

    Returns:
        Everything that the rule's file says, by the names of the file where it has them; each
        limit's `source` is a `Source`, which msgspec encodes.
    """
    return {
        "id": rule.id,
        "title": rule.title,
        "topic": rule.topic,
        "subject": rule.subject,
        "value": rule.value,
        "severity": rule.severity,
        "stage": rule.stage,
        "applies": [condition.words for condition in rule.applies],
        "limits": [
            {
                "id": limit.id,
                "limit": limit.words,
                "when": [condition.words for condition in limit.when],
                "fallback": limit.fallback,
                "severity": limit.severity,
                "source": limit.source,
                "in_force": in_force(limit),
            }
            for limit in rule.limits
        ],
        "why": rule.why,
        "remedy": rule.remedy,
        "caution": rule.caution,
        "examples": [{**dict(e.values), "gives": e.gives} for e in rule.examples],
        "file": rule.path,
    }


def in_words(rule: Rule) -> RuleWords:
    """Give a rule as reports explain it.

    Args:
        rule: any rule of a rulebook.

    Returns:
        Its texts; each limit is one line with its conditions, source and code.
    """
    limits = []
    for limit in rule.limits:
        where = f", where {conditions(limit)}" if conditions(limit) else ""
        code = f" ({limit.document.code})" if limit.document.code else ""
        limits.append(f"{limit.words}{where}: {cited(limit.source)}{code}")
    return RuleWords(
        rule.id, rule.title, rule.topic, rule.severity, rule.why, rule.remedy, tuple(limits)
    )


def in_force(limit: RuleLimit) -> str:
    """Say when a limit was in force.

    Args:
        limit: a limit, with the document that it comes from.

    Returns:
        The first day of being in force and the first of no longer, as far as they are known:
        '2009-01-01 to 2021-08-01', 'from 2021-08-01'; empty where neither is.
    """
    start, end = limit.document.start, limit.document.end
    if start and end:
        return f"{start} to {end}"
    if start:
        return f"from {start}"
    return f"until {end}" if end else ""


def cited(source: Source) -> str:
    """Cite a source in one line.

    Args:
        source: of a limit, range or tolerance.

    Returns:
        Title, edition in brackets and clause, without those that it does not have.
    """
    title = f"{source.title} ({source.edition})" if source.edition else source.title
    return f"{title}, {source.clause}" if source.clause else title


def conditions(limit: RuleLimit) -> str:
    """Say where a limit counts, in words.

    Args:
        limit: a limit, with the document that it comes from.

    Returns:
        The conditions joined with 'and': the limit's own, the scope of its document, and 'no limit
        above speaks' for a fallback; empty where it counts everywhere.
    """
    words = [condition.words for condition in limit.when]
    words += [f"{condition.words} or not stated" for condition in limit.document.scope]
    words += ["no limit above applies"] * limit.fallback
    return " and ".join(words)


def example(case: Example) -> str:
    """Say an example in one line.

    Args:
        case: an example of a rule.

    Returns:
        The values, a colon, and the kind of result that they give.
    """
    return f"{given(case)}: {case.gives}"


def given(case: Example) -> str:
    """List the values of an example.

    Args:
        case: an example of a rule.

    Returns:
        'name value' pairs separated by commas, then the codes and the day by which it is judged,
        where it names any; 'nothing known' where it has no values.
    """
    values = ", ".join(f"{name} {text}" for name, text in case.values)
    under = f"; under {', '.join(case.codes)}" if case.codes else ""
    day = f"; on {case.on}" if case.on else ""
    return f"{values or 'nothing known'}{under}{day}"


def judges(rule: Rule) -> str:
    """Say what a rule compares, of which subject, where and when.

    Args:
        rule: any rule of a rulebook.

    Returns:
        A phrase that continues 'Judges …', without a full stop.
    """
    applies = f", where {' and '.join(c.words for c in rule.applies)}" if rule.applies else ""
    return f"{rule.value} of each {rule.subject}{applies}, from stage {rule.stage} on"


def markdown(book: Rulebook, rules: Sequence[Rule] | None = None) -> Iterator[str]:
    """Write the manual of rules in Markdown.

    Args:
        book: the rulebook, for the edition, the codes, and how surely limits are known.
        rules: only these; all where None. With fewer than all, the tables of how surely limits are
            known and of what documents ask for are left out.

    Returns:
        Line by line, without line ends; rules by topic, then id.
    """
    rules = book.rules if rules is None else rules
    yield "# The rules"
    yield ""
    yield (
        f"Edition {book.edition}, {len(rules)} rules. Written by `prescreed rules --format "
        "markdown` from the files beside this one: change those, not this."
    )
    yield ""
    yield (
        "Severity is the consequence; a source's standing is a separate matter. *Seen* says how "
        "surely a limit was read: in the document itself (`text`), in works that cite it "
        "(`reported`), or from memory (`memory`). Limits of one code are tried in order, and the "
        "first that can be worked out decides; limits of different codes all count."
    )
    yield from codes(book)
    if len(rules) == len(book.rules):
        yield from known(book)
        yield from coverage()
    topic = ""
    for rule in sorted(rules, key=lambda rule: (rule.topic, rule.id)):
        if rule.topic != topic:
            topic = rule.topic
            yield ""
            yield f"## {topic.capitalize()}"
        yield ""
        yield from story(rule)


def codes(book: Rulebook) -> Iterator[str]:
    """Write the table of codes and their regions in Markdown.

    Args:
        book: the rulebook.

    Returns:
        Line by line, without line ends, an empty line first.
    """
    yield ""
    yield "| code | what it is | regions |"
    yield "|---|---|---|"
    for code in book.codes.values():
        regions = ", ".join("any other" if r == "*" else r for r in code.regions)
        yield table_row(code.id, code.title, regions)


def index(book: Rulebook, link: Callable[[Rule], str]) -> Iterator[str]:
    """Write the page that lists all rules by topic, in Markdown.

    Args:
        book: the rulebook.
        link: gives the address of a rule's own page.

    Returns:
        Line by line, without line ends; within a topic the gravest severity first.
    """
    yield "# The rules"
    yield ""
    yield f"Edition {book.edition}, {len(book.rules)} rules."
    topic = ""
    for rule in sorted(book.rules, key=lambda one: (one.topic, SEVERITIES.index(one.severity))):
        if rule.topic != topic:
            topic = rule.topic
            yield from ("", f"## {topic.capitalize()}", "")
            yield "| rule | what is wrong where it fails | severity | judges | from stage | codes |"
            yield "|---|---|---|---|---|---|"
        codes = dict.fromkeys(limit.document.code or "general" for limit in rule.limits)
        name = f"[{rule.id}]({link(rule)})"
        yield table_row(name, rule.title, rule.severity, rule.subject, rule.stage, ", ".join(codes))


def known(book: Rulebook) -> Iterator[str]:
    """Write the table that counts limits by the standing of their source and by how surely they are
    known, in Markdown.

    Args:
        book: the rulebook.

    Returns:
        Line by line, without line ends, an empty line first.
    """
    counts = Counter(
        (limit.source.standing, limit.source.seen) for rule in book.rules for limit in rule.limits
    )
    yield ""
    yield "## How surely the limits are known"
    yield ""
    yield f"| limits from | {' | '.join(SEEN)} | all |"
    yield "|---|---|---|---|---|"
    for standing in dict.fromkeys(sorted(one for one, _ in counts)):
        own = [counts[standing, seen] for seen in SEEN]
        yield table_row(standing, *map(str, own), str(sum(own)))
    totals = [sum(counts[one] for one in counts if one[1] == seen) for seen in SEEN]
    yield table_row("all", *map(str, totals), str(sum(totals)))


def coverage() -> Iterator[str]:
    """What documents require, clause by clause: the rules that judge it, or why none does."""
    yield ""
    yield "## What the documents ask for"
    for document in documents():
        yield ""
        yield f"### {document['document']}"
        yield ""
        yield "| clause | rules |"
        yield "|---|---|"
        for clause in document["clauses"]:
            rules = ", ".join(clause.get("rules", ()))
            yield table_row(clause["clause"], rules or f"none: {clause['none']}")


def documents() -> list[dict[str, Any]]:
    """The documents of `rules/coverage.yaml`, each with its clauses."""
    data = (data_folder("rules") / "coverage.yaml").read_bytes()
    found: list[dict[str, Any]] = yaml_reader.read(data, first="coverage:")["documents"]
    return found


def story(rule: Rule) -> Iterator[str]:
    """Write one rule in full, in Markdown.

    Args:
        rule: any rule of a rulebook.

    Returns:
        Line by line, without line ends: heading, reason, remedy, cautions, limits, examples.
    """
    yield f"### {rule.id}"
    yield ""
    yield f"**{rule.title}** ({rule.severity}). Judges {judges(rule)}."
    yield ""
    yield f"{rule.why}"
    yield ""
    yield f"*Remedy:* {rule.remedy}"
    cautions = dict.fromkeys([rule.caution, *(limit.caution for limit in rule.limits)])
    for caution in filter(None, cautions):
        yield ""
        yield f"*Caution:* {caution}"
    yield ""
    yield "| limit | where | code | source | in force | standing, seen | severity |"
    yield "|---|---|---|---|---|---|---|"
    for limit in rule.limits:
        source = limit.source
        yield table_row(
            limit.words,
            conditions(limit),
            limit.document.code or "general",
            cited(source),
            in_force(limit),
            f"{source.standing}, {source.seen}",
            limit.severity,
        )
    yield ""
    yield "| example | gives |"
    yield "|---|---|"
    for case in rule.examples:
        yield table_row(given(case), case.gives)
