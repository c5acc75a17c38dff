"""The worked calculation: how a rule's value came about, from the graph that computed it.

A value is followed back through the quantities it was computed from to what the design states.
Only inputs that the result depends on are shown; of many members (the loops of a header) one is
worked in full, the largest, or the first that is missing.
"""

from __future__ import annotations

import inspect
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from checker import units
from checker.compute import formulas
from checker.compute.graph import (
    EARLIER,
    MEMBERS,
    NO_REASON,
    OF_PARTS,
    REGISTRY,
    ROWS,
    TABLE_OF,
    Array,
    Graph,
    Names,
    Quantity,
    described,
    dotted,
    meaning,
    of_plan,
    subject_of,
)
from checker.compute.judging import judged, told_of
from checker.compute.settling import settled
from checker.design.parts import INHERITED
from checker.design.schema import DESIGNS, PARTS, Leaf, words
from checker.design.tables import Tables
from checker.outcome.findings import Basis, Judging, judge
from checker.outcome.floor_pictures import floor_picture
from checker.outcome.phrasing import NO_LIMIT, Shown, limit_words
from checker.outcome.results import KINDS, FloorPicture, Result, Source
from checker.quantities.symbols import SYMBOLS
from checker.reading.yaml_reader import line_of
from checker.rulebook import catalogue
from checker.rulebook.evaluation import ABSENT, FAIL, PASS, Held, Outcome, evaluate
from checker.rulebook.model import Described, Rule, Rulebook, RuleLimit
from checker.words import choices
from checker.words.speech import PLAIN, Speech

DAY = 86_400.0
FIGURES = 4
"""Significant digits of a number that goes on into the next step."""
BY_THE_PROGRAM = "by the program"
"""Instead of a formula that would not give the value."""
AGREES = 1e-6
"""A formula gives the value when it differs from it by no more than this share of it."""


OF_THE_TABLE = {PARTS: ("loop", "feed")}
"""For a table, fields that no design states."""


ALIKE = {"zone": "of every feed, which lies where people walk"}
"""For fields that the program fills in, why."""


PICTURED = ("section", "surface_max", "surface_mean")
"""Values of a part of a loop beside which its floor is drawn."""


class NotExplained(Exception):
    """A rule or a subject that there is not, in words for the person."""


class Stated(Struct, frozen=True):
    """A value that the design states: as typed, and in the unit it is worked in."""

    subject: str
    name: str
    symbol: str
    typed: str
    value: str
    line: int
    cell: str = ""

    @property
    def where(self) -> str:
        """Where it stands: `line 31`, or `Loops C7` of a sheet."""
        return self.cell or f"line {self.line}"


class Step(Struct, frozen=True):
    """One value worked out.

    formula: with symbols, from the equals sign on, or a sentence; numbers: the same with numbers,
    empty where it cannot be worked by hand alone. uses: symbol and value of each other input;
    members: of an input that is many values, those values by subject. missing: why there is no
    result.
    """

    number: int
    subject: str
    name: str
    title: str
    symbol: str
    formula: str
    numbers: str
    result: str
    source: str
    uses: tuple[str, ...] = ()
    members: tuple[str, ...] = ()
    missing: str = ""


class HeldAgainst(Struct, frozen=True):
    """One limit of the rule, whether or not it counts for this job.

    kind: as the value comes out against this limit alone, empty where its conditions do not hold;
    why_not: why it does not count, empty where it does.
    """

    id: str
    code: str
    limit: str
    kind: str
    verdict: str
    margin: str
    severity: str
    counts: bool
    governs: bool
    why_not: str
    source: Source
    in_force: str


class Pictured(Struct, frozen=True):
    """A floor in section: heading, what is to be seen, lines for a terminal, and as SVG."""

    title: str
    says: str
    text: tuple[str, ...]
    svg: str


class Explained(Struct, frozen=True):
    """The whole: what was given, the steps, the limits, the verdict, and floors in section."""

    explain: int
    path: str
    design: str
    judged_by: str
    codes: tuple[str, ...]
    rule: str
    title: str
    subject: str
    value: str
    kind: str
    severity: str
    message: str
    remedy: str
    why: str
    caution: str
    given: tuple[Stated, ...]
    steps: tuple[Step, ...]
    limits: tuple[HeldAgainst, ...]
    sections: tuple[Pictured, ...] = ()


def explain(
    tables: Tables, rulebook: Rulebook, rule_id: str, subject: str, judging: Judging
) -> Explained:
    """How the rule judged the subject of the one design in the tables.

    subject: as reports name it (`loops.L1`), its id alone, or empty where there is only one. Raises
    NotExplained where there is no such rule or subject.
    """
    rule = _rule(rulebook, rule_id)
    row = _row(tables, rule, subject)
    if of_plan(rule.subject, rule.value) and not tables.drawings:
        raise NotExplained(f"'{rule.id}' is asked only of a design with a plan.")
    graph = settled(tables, second_opinion=True)
    basis = Basis(tables, rulebook, judging)
    outcome, worst = judged(rule, graph, basis)
    whose = _name(tables, TABLE_OF[told_of(rule)], row)
    row = row if worst is None else int(worst[row])

    working = _Working(graph, basis.speech[0])
    value = working.term(rule.subject, rule.value, row)
    limits = [
        _held_against(rule, nth, outcome, graph, row, basis) for nth in range(len(rule.limits))
    ]
    for limit, shown in zip(rule.limits, limits, strict=True):
        if shown.counts:
            for name in _names(limit):
                working.term(rule.subject, name, row)

    # With the rule that it may be told under.
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


def _sections(working: _Working) -> Iterator[Pictured]:
    """The floors whose section or surface the working came by, each once."""
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


def _name(tables: Tables, table: str, row: int) -> str:
    return "design" if table == DESIGNS else f"{tables[table].section}.{tables[table].ids[row]}"


def _row(tables: Tables, rule: Rule, subject: str) -> int:
    """The row of the subject; raises NotExplained with what to write instead."""
    table = TABLE_OF[told_of(rule)]
    own = {_name(tables, table, row): row for row in range(len(tables[table]))}
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


# ---- the steps


class _Term(NamedTuple):
    """An input as a formula shows it: a value, or the values of members and whose each is."""

    symbol: str
    text: str | list[str]
    who: tuple[str, ...] = ()
    specified: str | list[str] = ""
    """The same in the units that reports are specified in, where a reader is told others."""


class _Working:
    """The steps to one value, each once, in the order in which they can be worked."""

    def __init__(self, graph: Graph, speech: Speech) -> None:
        self.graph = graph
        self.speech = speech
        self.tables = graph.tables
        self.names = Names()
        self.stated: dict[tuple[str, str], Stated] = {}
        self.steps: dict[tuple[str, str, int], Step] = {}
        self._terms: dict[tuple[str, str, int], _Term] = {}

    def term(self, subject: str, name: str, row: int) -> _Term:
        """The value of that name as a formula takes it, after the steps that lead to it."""
        meant = meaning(subject, name)
        assert meant is not None, name
        if meant.kind == "computed":
            key = (subject, name, row)
            if key not in self._terms:
                self._terms[key] = self._worked(REGISTRY[(subject, name)], row)
            return self._terms[key]
        far = self.graph.row_of(subject, meant, row)
        table = TABLE_OF[subject]
        if meant.kind == "field":
            if table == PARTS and meant.leaf.name in INHERITED:
                return self._field("loops", meant.leaf, self.tables[PARTS].parents[row])
            return self._field(table, meant.leaf, row)
        if meant.kind == "measured":
            if far is None:
                words = "not recorded under balance"
                return self._state(table, f"balance.{meant.leaf.name}", "", words, words, row)
            return self._field("balance", meant.leaf, far)
        if far is None:
            self._field(table, meant.leaf, row)
            return _Term("", "missing")
        return self.term(meant.subject, meant.name, far)

    # ---- what is stated

    def _field(self, table: str, leaf: Leaf, row: int) -> _Term:
        symbol = SYMBOLS.get(table, {}).get(leaf.name, "")
        number = float(self.tables[table].column(leaf.slot)[row])
        if leaf.name in OF_THE_TABLE.get(table, ()):
            return _Term("", "")
        if np.isnan(number):
            return self._state(table, leaf.name, symbol, "not given", "not given", row)
        taken = any((table, row, leaf.name) in one.taken for one in self.tables.drawings.values())
        source = self.tables[table].sources[row]
        typed = "left to the plan" if taken else str(_typed(source, leaf.name, row))
        if leaf.kind == "reference":
            text = self.tables[leaf.refers_to].ids[int(number)]
        else:
            text = _written(number, described(leaf), self.speech)
            return self._state(
                table, leaf.name, symbol, typed, text, row, _written(number, described(leaf))
            )
        return self._state(table, leaf.name, symbol, typed, text, row)

    def _state(
        self,
        table: str,
        name: str,
        symbol: str,
        typed: str,
        text: str,
        row: int,
        specified: str = "",
    ) -> _Term:
        subject = self._whose(table, row)
        place = int(self.tables[table].places_at(name)[row])
        self.stated[(subject, name)] = Stated(
            subject, name, symbol, typed, text, line_of(place), self._cell(table, row, place)
        )
        return _Term(symbol or name, text, (), specified or text)

    def _cell(self, table: str, row: int, place: int) -> str:
        """The cell of a place in the sheet that its design was read from, if it was."""
        cells = self.tables.designs[self.tables.design_of(table)[row]].cells
        spot = cells.of(place) if cells is not None else None
        return str(spot or "")

    def _whose(self, table: str, row: int) -> str:
        if table == "balance":
            of = self.tables["balance"].shape.columns[-1]
            loop = int(self.tables["balance"].column(of.slot)[row])
            return f"balance.{self.tables['loops'].ids[loop]}"
        return _name(self.tables, table, row)

    # ---- what is computed

    def _worked(self, known: Quantity, row: int) -> _Term:
        column = self.graph.column(known.subject, known.name)
        value = float(column.values[row])
        parameters = dict(
            zip(inspect.signature(known.function).parameters, known.inputs, strict=True)
        )
        for own in ROWS:
            parameters.pop(own, None)
        parameters = {
            parameter: name
            for parameter, name in parameters.items()
            if not name.startswith(f"{EARLIER}.")
        }
        missing = ""
        if np.isnan(value):
            assert column.reasons is not None
            reason = int(column.reasons[row])
            (missing,) = self.graph.sentences(column.reasons[row : row + 1])
            about, colon, why = missing.rpartition(": ")
            missing = f"{about}{colon}{self.speech.words(why)}"
            shown = self._where_it_breaks(known, parameters, row, reason)
            formula = known.formula[0] if known.formula else BY_THE_PROGRAM
        else:
            shown = {
                parameter: name
                for parameter, name in parameters.items()
                if (_is_part(name) and known.told is None)
                or (not _is_part(name) and self._depends_on(known, name, row))
            }
            formula = self._fitting(known, parameters, set(shown), row)
            named = formulas.names(formula) if formulas.is_arithmetic(formula) else ()
            shown = {p: name for p, name in parameters.items() if p in shown or p in named}
        terms = {
            parameter: (self._part if _is_part(name) else self.term)(known.subject, name, row)
            for parameter, name in shown.items()
        }
        for parameter, term in terms.items():
            # Of one member the sum and the largest are its own value.
            alone = isinstance(term.text, list) and len(term.text) == 1
            same = (
                (f"Σ{{{parameter}}}", f"max({{{parameter}}})") if alone else (f"{{{parameter}}}",)
            )
            handed_on = formula in same or (missing and len(terms) == 1)
            if handed_on and term.symbol == known.symbol:
                if isinstance(term.text, str):
                    return term
                return _Term(term.symbol, term.text[0], (), term.specified[0])
        broken = [step.number for step in self.steps.values() if step.missing == missing]
        if missing and broken:
            missing = f"step {broken[0]} has no result"
        return self._step(known, row, terms, formula, value, missing)

    def _fitting(
        self, known: Quantity, parameters: Mapping[str, str], counting: set[str], row: int
    ) -> str:
        """The formula that gives the value: first from inputs that count, then from any.

        Words fit where none gives it.
        """
        value = self.graph.column(known.subject, known.name).values[row]
        numbers = {
            parameter: number
            for parameter, name in parameters.items()
            if (number := self._number(known.subject, name, row)) is not None
        }
        arithmetic = [formula for formula in known.formula if formulas.is_arithmetic(formula)]
        for allowed in (counting, set(numbers)):
            for formula in arithmetic:
                if set(formulas.names(formula)) <= allowed & set(numbers):
                    difference = formulas.worked(formula, numbers) - value
                    if abs(difference) <= AGREES * max(1e-12, abs(value)):
                        return formula
        words = [formula for formula in known.formula if formula not in arithmetic]
        return [*words, BY_THE_PROGRAM][0]

    def _number(self, subject: str, name: str, row: int) -> float | list[float] | None:
        """A value as a formula is worked with it: SI, days in seconds; None where it is a word."""
        part, _, field = name.partition(".")
        if part in OF_PARTS:
            of, (table, rows) = OF_PARTS[part], self.graph.members_of(subject, name, row)
            shown = self.names.describe(of, field)
            values = self.graph.column(of, field).values[rows]
        elif part in MEMBERS:
            table, rows = self.graph.members_of(subject, name, row)
            leaf = self.tables.format.leaf(table, field)
            shown, values = described(leaf), self.tables[table].column(leaf.slot)[rows]
        else:
            shown = self.names.describe(subject, name)
            values = self.graph.column(subject, name).values[row : row + 1]
        if shown is None or shown.kind not in ("quantity", "integer", "date"):
            return None
        numbers: list[float] = (values * (DAY if shown.kind == "date" else 1.0)).tolist()
        return numbers if _is_part(name) else numbers[0]

    def _step(
        self,
        known: Quantity,
        row: int,
        terms: Mapping[str, _Term],
        formula: str,
        value: float,
        missing: str,
    ) -> _Term:
        unit = Described("quantity", known.unit, units.kind_of(known.unit))
        text = "missing" if missing else _written(value, unit, self.speech)
        specified = "missing" if missing else _written(value, unit)
        result = text
        if known.told and not missing:
            result = text = specified = "as told here"
        named = formulas.names(formula)
        numbers = ""
        if not missing and formulas.is_arithmetic(formula) and named:
            numbers, fits = self._filled(known, row, terms, formula)
            result = text if fits or text == specified else f"{specified} = {text}"
            numbers = "" if numbers == text else numbers
        if formulas.is_words(formula):
            formula = self.speech.words(formula)
        symbols = {name: _symbol(terms, known, name) for name in named}
        self.steps[(known.subject, known.name, row)] = Step(
            number=len(self.steps) + 1,
            subject=self._whose(TABLE_OF[known.subject], row),
            name=known.name,
            title=known.title,
            symbol=known.symbol,
            formula=_led(formula) + formulas.written(formula, symbols),
            numbers=numbers and f"= {numbers}",
            result=result,
            source=known.source,
            uses=tuple(
                f"{term.symbol} = {term.text}"
                for name, term in terms.items()
                if not isinstance(term.text, list)
                and term.symbol
                and not (numbers and name in named)
            ),
            members=tuple(
                f"{who}: {one}" if one else who
                for term in terms.values()
                if isinstance(term.text, list)
                for who, one in zip(term.who, term.text, strict=True)
            )
            + (
                tuple(map(self.speech.words, known.told(self.graph.things, value)))
                if known.told and not missing
                else ()
            ),
            missing=missing,
        )
        return _Term(known.symbol, text, (), specified)

    def _filled(
        self, known: Quantity, row: int, terms: Mapping[str, _Term], formula: str
    ) -> tuple[str, bool]:
        """The formula with numbers, and whether they are in the reader's units.

        A formula that was fitted in the units that reports are specified in keeps those.
        """
        named = formulas.names(formula)
        told = {name: terms[name].text for name in named}
        specified = {name: terms[name].specified or terms[name].text for name in named}
        if told == specified:
            told |= {one: self._constant(one) for one in formulas.constants(formula)}
            return formulas.filled(formula, told), True
        inputs = dict(zip(inspect.signature(known.function).parameters, known.inputs, strict=True))
        numbers = {name: self._number(known.subject, inputs[name], row) for name in named}
        kinds = {name: self._kind(known.subject, inputs[name]) for name in named}
        fits = all(number is not None for number in numbers.values()) and (
            formulas.holds_in_any_units(
                formula,
                {name: number for name, number in numbers.items() if number is not None},
                kinds,
                units.kind_of(known.unit),
            )
        )
        if not fits:
            return formulas.filled(formula, specified), False
        told |= {one: self._constant(one) for one in formulas.constants(formula)}
        return formulas.filled(formula, told), True

    def _constant(self, text: str) -> str:
        """A constant of a formula in the reader's units."""
        if self.speech == PLAIN:
            return text
        value, _, unit = text.partition(" ")
        told = figures(self.speech.converted(float(value), unit))
        return f"{self.speech.marked(told)} {self.speech.unit(unit)}"

    def _kind(self, subject: str, name: str) -> str:
        """The kind of quantity that an input is."""
        part, _, field = name.partition(".")
        if part in OF_PARTS:
            shown = self.names.describe(OF_PARTS[part], field)
        elif part in MEMBERS:
            table, _ = self.graph.members_of(subject, name, 0)
            shown = described(self.tables.format.leaf(table, field))
        else:
            shown = self.names.describe(subject, name)
        if shown is None or shown.kind != "quantity":
            return "duration" if shown is not None and shown.kind == "date" else "ratio"
        return shown.measure

    def _depends_on(self, known: Quantity, name: str, row: int) -> bool:
        """Whether the result would be another if this input were missing."""
        arguments: list[Any] = []
        for own in known.inputs:
            if own in ROWS:
                arguments.append(self.graph.rows(known.subject, own))
            elif _is_part(own):
                arguments.append(self.graph.members(known.subject, own))
            else:
                values = self.graph.column(known.subject, own).values
                if own == name:
                    values = values.copy()
                    values[row] = np.nan
                arguments.append(values)
        with np.errstate(all="ignore"):
            without = np.asarray(known.function(*arguments), dtype=np.float64)
        without = np.broadcast_to(without, (self.graph.size(known.subject),))
        return bool(without[row] != self.graph.column(known.subject, known.name).values[row])

    def _where_it_breaks(
        self, known: Quantity, parameters: Mapping[str, str], row: int, reason: int
    ) -> dict[str, str]:
        """The first input that is missing for the same reason; all where it breaks here."""
        for parameter, name in parameters.items():
            if _is_part(name):
                table, rows = self.graph.members_of(known.subject, name, row)
                if table not in TABLE_OF.values():
                    continue
                own = self.graph.column(subject_of(table), name.partition(".")[2]).reasons
                if own is not None and reason in own[rows]:
                    return {parameter: name}
                continue
            reasons = self.graph.column(known.subject, name).reasons
            if reasons is not None and reasons[row] == reason != NO_REASON:
                return {parameter: name}
        return {
            parameter: name
            for parameter, name in parameters.items()
            if _is_part(name) or not np.isnan(self.graph.column(known.subject, name).values[row])
        }

    def _part(self, subject: str, name: str, row: int) -> _Term:
        """The values of a part's members; one of them worked in full."""
        table, rows = self.graph.members_of(subject, name, row)
        field = name.partition(".")[2]
        if table not in TABLE_OF.values():
            return self._rows(table, field, rows)
        of = subject_of(table)
        # A member without a say in an extreme, such as a feed, is not shown.
        counting = self.graph.column(of, field).values[rows] != -np.inf
        rows = [row for row, counts in zip(rows, counting.tolist(), strict=True) if counts]
        who = tuple(_name(self.tables, table, one) for one in rows)
        if field == "number":
            return _Term("n", [""] * len(rows), who)
        shown = self.names.describe(of, field)
        assert shown is not None
        values: Array = self.graph.column(of, field).values[rows]
        symbol = field
        if len(rows):
            chosen = int(np.argmax(np.where(np.isnan(values), np.inf, values)))
            symbol = self.term(of, field, rows[chosen]).symbol
        texts, specified = (
            ["missing" if np.isnan(v) else _written(float(v), shown, speech) for v in values]
            for speech in (self.speech, PLAIN)
        )
        return _Term(symbol, texts, who, specified)

    def _stated_as(self, table: str, parent: int) -> str:
        """Under which key a record states a list."""
        if table != "pump_curve":
            return table
        setting = self.tables["headers"].column(
            self.tables.format.leaf("headers", "pump.setting").slot
        )[parent]
        return "pump.curve" if np.isnan(setting) else f"pump.curves.{words.text(float(setting))}"

    def _rows(self, table: str, field: str, rows: list[int]) -> _Term:
        """The values of a list in the design: readings, points of a curve, steps."""
        leaf = self.tables.format.leaf(table, field)
        symbol = SYMBOLS[table][field]
        values = self.tables[table].column(leaf.slot)[rows]
        texts = [
            "not given" if np.isnan(v) else _written(float(v), described(leaf), self.speech)
            for v in values
        ]
        if rows:
            owner = self.tables[table].shape.parent
            parent = self.tables[table].parents[rows[0]]
            subject = _name(self.tables, owner, parent)
            place = self.tables[table].places[rows[0]]
            cell = self._cell(table, rows[0], place)
            joined = ", ".join(texts)
            name = f"{self._stated_as(table, parent)}.{field}"
            self.stated[(subject, name)] = Stated(
                subject, name, symbol, joined, joined, line_of(place), cell
            )
        return _Term(symbol, ", ".join(texts))


def _is_part(name: str) -> bool:
    return name.partition(".")[0] in MEMBERS


def _symbol(terms: Mapping[str, _Term], known: Quantity, name: str) -> str:
    """The symbol of an input, also of one that was not followed."""
    if name in terms:
        return terms[name].symbol
    column = dotted(known.subject, name)
    part, _, rest = column.partition(".")
    if part in OF_PARTS:
        return symbol_of(OF_PARTS[part], rest)
    return SYMBOLS[part].get(rest, rest) if part in MEMBERS else symbol_of(known.subject, column)


def symbol_of(subject: str, name: str) -> str:
    """The symbol of a field or quantity; its name where it has none."""
    meant = meaning(subject, name)
    if meant is None:
        return name
    if meant.kind == "computed":
        return REGISTRY[(subject, name)].symbol or name.replace("_", " ")
    if meant.kind in ("field", "measured"):
        table = "balance" if meant.kind == "measured" else TABLE_OF[subject]
        return SYMBOLS.get(table, {}).get(meant.leaf.name, meant.leaf.name)
    return symbol_of(meant.subject, meant.name)


def _led(formula: str) -> str:
    return "" if formulas.is_words(formula) else "= "


def _typed(source: Any, name: str, row: int) -> Any:
    """What was typed for a field, from the record it stands in."""
    if name == "of":
        return ""
    for step in name.split("."):
        if step not in source:  # what is the same for all rows of its kind
            return ALIKE[name]
        source = source[step]
    return source


def _written(number: float, shown: Described, speech: Speech = PLAIN) -> str:
    """A value in its reader's unit, with the digits that the next step wants."""
    how = Shown(shown, speech)
    (value,) = how.numbers(np.array([number]))
    if not how.plain:
        return how.words(value)
    told = speech.marked(figures(speech.converted(value, how.unit)))
    return f"{told} {speech.unit(how.unit)}".removesuffix(" 1")


def figures(value: float) -> str:
    """A number with its significant digits: 88, 1.834, 0.02, 41900, 2.1·10⁻⁹."""
    if value != 0 and not 1e-4 <= abs(value) < 1e9:
        mantissa, _, exponent = f"{value:.{FIGURES - 1}e}".partition("e")
        power = str(int(exponent)).translate(str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹"))
        return f"{mantissa.rstrip('0').rstrip('.')}·10{power}".replace("-", "−")
    text = f"{value:.0f}" if abs(value) >= 10**FIGURES else f"{value:.{FIGURES}g}"
    return text.replace("-", "−")


# ---- the limits


def _names(limit: RuleLimit) -> list[str]:
    """The columns that a limit is taken from."""
    found = [bound.name for bound in limit.bounds if bound.name is not None]
    return found + [bound.table.by for bound in limit.bounds if bound.table is not None]


def _held_against(
    rule: Rule, nth: int, outcome: Outcome, graph: Graph, row: int, basis: Basis
) -> HeldAgainst:
    """The value against one limit alone, and whether that limit counts for the job."""
    limit = rule.limits[nth]
    size = graph.size(rule.subject)
    everywhere = np.ones((1, size), dtype=bool)
    alone = evaluate(rule.with_limits((limit,)), graph, everywhere, everywhere[0]).held[0]
    bare = replace(rule, applies=(), limits=(replace(limit, when=()),))
    bounds = evaluate(bare, graph, everywhere, everywhere[0]).held[0].bounds
    kind = int(alone.kinds[row])
    counts = int(outcome.held[nth].kinds[row]) != ABSENT
    document = limit.document
    design = int(graph.tables.design_of(TABLE_OF[rule.subject])[row])
    in_force = catalogue.in_force(limit)
    if counts:
        why_not = ""
    elif document.code and document.code not in basis.codes[design]:
        why_not = f"the job is not under {document.code}"
    elif not basis.counts(rule)[nth, design]:
        why_not = f"not in force on {basis.days[design] or 'an unknown day'} ({in_force})"
    elif kind != ABSENT and limit.fallback:
        why_not = "a limit before it speaks"
    elif kind == ABSENT:
        why_not = "only where " + " and ".join(c.words for c in (*rule.applies, *limit.when))
    else:
        why_not = "another limit of the same code settles it"
    return HeldAgainst(
        id=limit.id,
        code=document.code,
        limit=_limit_words(rule, limit, bounds, row, basis.speech[design]),
        kind="" if kind == ABSENT else KINDS[kind],
        verdict=_VERDICTS.get(kind, "cannot be judged" if kind != ABSENT else "does not apply"),
        margin=_margin(rule, alone, row, basis.speech[design]) if kind in (PASS, FAIL) else "",
        severity=limit.severity,
        counts=counts,
        governs=int(outcome.governing[row]) == nth,
        why_not=why_not,
        source=limit.source,
        in_force=in_force,
    )


_VERDICTS = {PASS: "kept", FAIL: "not kept", KINDS.index("review"): "for review"}


def _limit_words(
    rule: Rule, limit: RuleLimit, bounds: tuple[Array, ...], row: int, speech: Speech
) -> str:
    """The limit with its value for this subject, and the symbol of what that comes from."""
    shown = Shown(rule.described, speech)
    numbers = tuple(
        NO_LIMIT if np.isnan(bound[row]) else shown.numbers(bound[row : row + 1])[0]
        for bound in bounds
    )
    symbols = {name: symbol_of(rule.subject, name) for name in _names(limit)}
    if not bounds or all(number == NO_LIMIT for number in numbers):
        words = speech.words(limit.words)
        for name, symbol in symbols.items():
            words = words.replace(name, symbol)
        return words
    words = limit_words(limit.comparison, numbers, shown)
    return f"{words} (by {', '.join(symbols.values())})" if symbols else words


def _margin(rule: Rule, alone: Held, row: int, speech: Speech) -> str:
    """What is left to the limit, or how far the value is beyond it."""
    shown = Shown(rule.described)
    (margin,) = shown.differences(alone.margins[row : row + 1])
    if np.isnan(margin):
        return ""
    told = speech.measure(abs(margin), shown.difference_unit)
    return f"{told} {'beyond' if margin < 0 else 'to spare'}"
