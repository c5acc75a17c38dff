"""The rules for readers: a list, one rule in full, and the manual."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from checker.outcome.results import SEVERITIES, Source
from checker.outcome.runs import RuleWords
from checker.reading import yaml_reader
from checker.reading.package_data import data_folder
from checker.rulebook.model import Example, Rule, Rulebook, RuleLimit
from checker.words import table_row

SEEN = ("text", "reported", "memory")
"""How reliably a limit is known, the most reliable first."""


def one(rule: Rule) -> dict[str, Any]:
    """A rule as plain data, for JSON."""
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
    """A rule as a report explains it."""
    limits = []
    for limit in rule.limits:
        where = f", where {conditions(limit)}" if conditions(limit) else ""
        code = f" ({limit.document.code})" if limit.document.code else ""
        limits.append(f"{limit.words}{where}: {cited(limit.source)}{code}")
    return RuleWords(
        rule.id, rule.title, rule.topic, rule.severity, rule.why, rule.remedy, tuple(limits)
    )


def in_force(limit: RuleLimit) -> str:
    """The dates between which a limit's source was in force, in words; empty where none are
    known.
    """
    start, end = limit.document.start, limit.document.end
    if start and end:
        return f"{start} to {end}"
    if start:
        return f"from {start}"
    return f"until {end}" if end else ""


def cited(source: Source) -> str:
    """A source in a line."""
    title = f"{source.title} ({source.edition})" if source.edition else source.title
    return f"{title}, {source.clause}" if source.clause else title


def conditions(limit: RuleLimit) -> str:
    """Where a limit counts, in words."""
    words = [condition.words for condition in limit.when]
    words += [f"{condition.words} or not stated" for condition in limit.document.scope]
    words += ["no limit above speaks"] * limit.fallback
    return " and ".join(words)


def example(case: Example) -> str:
    """An example in a line."""
    return f"{given(case)}: {case.gives}"


def given(case: Example) -> str:
    """The values in an example."""
    values = ", ".join(f"{name} {text}" for name, text in case.values)
    under = f"; under {', '.join(case.codes)}" if case.codes else ""
    day = f"; on {case.on}" if case.on else ""
    return f"{values or 'nothing known'}{under}{day}"


def judges(rule: Rule) -> str:
    """What the rule compares, of which subject, where and when, in words."""
    applies = f", where {' and '.join(c.words for c in rule.applies)}" if rule.applies else ""
    return f"{rule.value} of each {rule.subject}{applies}, from stage {rule.stage} on"


def markdown(book: Rulebook, rules: Sequence[Rule] | None = None) -> Iterator[str]:
    """The manual of all rules, or of some, line by line."""
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
        "first that can be worked out settles it; limits of different codes all count."
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
    """The codes, and the regions of each."""
    yield ""
    yield "| code | what it is | regions |"
    yield "|---|---|---|"
    for code in book.codes.values():
        regions = ", ".join("any other" if r == "*" else r for r in code.regions)
        yield table_row(code.id, code.title, regions)


def index(book: Rulebook, link: Callable[[Rule], str]) -> Iterator[str]:
    """The rules by topic, each with its severity, the codes that limit it, and a link."""
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
    """How many limits there are of each reliability of their source."""
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
    """One rule in full, line by line."""
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
