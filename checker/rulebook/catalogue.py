"""The rules as a reader wants them: a list, one rule's whole story, and the manual."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from checker.results import Source
from checker.rulebook.model import Example, Rule, Rulebook, RuleLimit


def one(rule: Rule) -> dict[str, Any]:
    """A rule as plain data, for a machine."""
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


def in_force(limit: RuleLimit) -> str:
    """The days a limit's source was in force, in words; empty where none are known."""
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
    return " and ".join(words)


def example(case: Example) -> str:
    """An example in a line."""
    values = ", ".join(f"{name} {text}" for name, text in case.values)
    under = f"; under {', '.join(case.codes)}" if case.codes else ""
    day = f"; on {case.on}" if case.on else ""
    return f"{values or 'nothing known'}{under}{day}: {case.gives}"


def markdown(book: Rulebook) -> Iterator[str]:
    """The manual of all rules, line by line."""
    yield "# The rules"
    yield ""
    yield (
        f"Edition {book.edition}, {len(book.rules)} rules. Written by `prescreed rules --format "
        "markdown` from the files beside this one: change those, not this."
    )
    yield ""
    yield "Severity is the consequence; a source's standing is a separate matter. *Seen* says how "
    yield "surely a limit was read: in the document itself (`text`), in works that cite it "
    yield "(`reported`), or from memory (`memory`)."
    yield ""
    yield "| code | what it is | regions |"
    yield "|---|---|---|"
    for code in book.codes.values():
        regions = ", ".join("any other" if r == "*" else r for r in code.regions)
        yield f"| {code.id} | {code.title} | {regions} |"
    topic = ""
    for rule in sorted(book.rules, key=lambda rule: (rule.topic, rule.id)):
        if rule.topic != topic:
            topic = rule.topic
            yield ""
            yield f"## {topic.capitalize()}"
        yield ""
        yield from _rule(rule)


def _rule(rule: Rule) -> Iterator[str]:
    yield f"### {rule.id}"
    yield ""
    stage = ", at stage installed" if rule.stage == "installed" else ""
    applies = f", where {' and '.join(c.words for c in rule.applies)}" if rule.applies else ""
    judges = f"Judges `{rule.value}` of each {rule.subject}{applies}{stage}."
    yield f"**{rule.title}** ({rule.severity}). {judges}"
    yield ""
    yield f"{rule.why}"
    yield ""
    yield f"*Remedy:* {rule.remedy}"
    if rule.caution:
        yield ""
        yield f"*Caution:* {rule.caution}"
    yield ""
    yield "| limit | where | code | source | in force | standing, seen | severity |"
    yield "|---|---|---|---|---|---|---|"
    for limit in rule.limits:
        source = limit.source
        cells = (
            limit.words,
            conditions(limit),
            limit.document.code or "general",
            cited(source),
            in_force(limit),
            f"{source.standing}, {source.seen}",
            limit.severity,
        )
        yield f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |"
    yield ""
    yield "Examples: " + "; ".join(f"({example(case)})" for case in rule.examples) + "."
