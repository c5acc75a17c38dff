"""The worked calculation: how a rule's value was computed, from the graph that computed it.

A value is followed back through the quantities it was computed from to what the design states. Only
inputs that the result depends on are shown; of many members (the loops of a header) one is worked
in full, the largest, or the first that is missing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from msgspec.structs import replace

from checker.compute.judging import judged, result_subject
from checker.compute.meanings import of_plan
from checker.compute.naming import TABLE_OF
from checker.compute.settling import settled
from checker.design.schema import DESIGNS, PARTS
from checker.design.tables import Tables
from checker.explain.figures import subject_name
from checker.explain.limits import columns_of, compared_with
from checker.explain.records import Explained, NotExplained, Pictured
from checker.explain.steps import Working
from checker.outcome.applicable import ApplicableLimits, JudgingOptions
from checker.outcome.drawn_records import FloorPicture
from checker.outcome.findings import judge
from checker.outcome.floor_pictures import floor_picture
from checker.outcome.results import Result
from checker.rulebook.book import Rulebook
from checker.rulebook.model import Rule
from checker.words import choices
from checker.words.speech import Speech

PICTURED = ("section", "surface_max", "surface_mean")
"""Values of a part of a loop that are shown with a drawing of its floor."""


def explain(
    tables: Tables, rulebook: Rulebook, rule_id: str, subject: str, judging: JudgingOptions
) -> Explained:
    """How a rule judged a subject of the one design in the tables.

    Args:
        tables: the tables, which hold this design only.
        rulebook: the rules.
        rule_id: the rule.
        subject: as reports name it (`loops.L1`), its id alone, or empty where there is only one.
        judging: the options of judging.

    Returns:
        The calculation in the units of the design's reader, with every limit of the rule and the
        result as a check gives it.

    Raises:
        NotExplained: there is no such rule or subject, or the rule asks for a plan and the design
            has none.
    """
    rule = _rule(rulebook, rule_id)
    row = _row(tables, rule, subject)
    if of_plan(rule.subject, rule.value) and not tables.drawings:
        raise NotExplained(f"'{rule.id}' is asked only of a design with a plan.")
    graph = settled(tables, second_opinion=True, today=judging.day_number)
    basis = ApplicableLimits(tables, rulebook, judging)
    outcome, worst = judged(rule, graph, basis)
    whose = subject_name(tables, TABLE_OF[result_subject(rule)], row)
    row = row if worst is None else int(worst[row])

    working = Working(graph, basis.speech[0])
    value = working.term(rule.subject, rule.value, row)
    limits = [
        compared_with(rule, nth, outcome, graph, row, basis) for nth in range(len(rule.limits))
    ]
    for limit, shown in zip(rule.limits, limits, strict=True):
        if shown.counts:
            for name in columns_of(limit):
                working.term(rule.subject, name, row)

    # Together with the rule under which its finding may be listed.
    both = tuple(one for one in rulebook.rules if one.id in (rule.id, rule.under))
    (report,) = judge(tables, replace(rulebook, rules=both), judging)
    result = _result(report.results, rule.id, whose)
    return Explained(
        explain=1,
        path=report.path,
        design=report.name,
        judged_by=report.judged_by,
        codes=report.codes,
        rule=rule.id,
        title=rule.title,
        subject=whose,
        value=f"{value.symbol} = {value.text}",
        kind=result.kind,
        severity=result.severity,
        message=result.message,
        remedy=result.remedy,
        why=rule.why,
        caution=rule.caution,
        given=tuple(working.stated.values()),
        steps=tuple(working.steps.values()),
        limits=tuple(limits),
        sections=tuple(_sections(working)),
    )


def _sections(working: Working) -> Iterator[Pictured]:
    """The floors whose section or surface the calculation used, each once."""
    rows = [row for subject, name, row in working.steps if subject == "part" and name in PICTURED]
    for row in dict.fromkeys(rows):
        picture = floor_picture(working.graph, row, working.speech)
        if picture is not None:
            yield _pictured(picture, working.speech)


def _pictured(picture: FloorPicture, speech: Speech) -> Pictured:
    from checker.reports.charts import alone
    from checker.reports.drawn import floor_in_section
    from checker.reports.section_text import section_text

    made = floor_in_section(picture, speech)
    lines = tuple(section_text(picture, speech))
    return Pictured(made.title, made.says, lines, alone(made.svg, made.title, made.says))


def _rule(rulebook: Rulebook, rule_id: str) -> Rule:
    known = {rule.id: rule for rule in rulebook.rules}
    if rule_id not in known:
        raise NotExplained(f"There is no rule '{rule_id}'; {choices(rule_id, known)}")
    return known[rule_id]


def _row(tables: Tables, rule: Rule, subject: str) -> int:
    """The row of the subject; raises NotExplained with what to write instead."""
    table = TABLE_OF[result_subject(rule)]
    own = {subject_name(tables, table, row): row for row in range(len(tables[table]))}
    if not own:
        words = f"'{rule.id}' judges each {rule.subject}; the design has no section '{table}'."
        raise NotExplained(words)
    if not subject and len(own) == 1:
        return next(iter(own.values()))
    for name in (subject, f"{table}.{subject}"):
        if name in own:
            return own[name]
    section, _, short = subject.partition(".")
    others = {
        name: of
        for of, section in TABLE_OF.items()
        if section not in (DESIGNS, PARTS, table)
        for name in (f"{section}.{id_}" for id_ in tables[section].ids)
    }
    judges = f"'{rule.id}' judges each {rule.subject}"
    if not subject:
        raise NotExplained(f"{judges}; {choices('', own)}")
    for name, of in others.items():
        if subject in (name, name.partition(".")[2]):
            raise NotExplained(f"'{name}' is a {of}, and {judges}; {choices('', own)}")
    wanted = subject if section == table else f"{table}.{short or subject}"
    raise NotExplained(f"There is no '{subject}' in the design; {choices(wanted, own)}")


def _result(results: Iterable[Result], rule: str, subject: str) -> Result:
    return next(r for r in results if r.rule == rule and r.subject == subject)
