"""The steps from what the design states to a value, each with its formula filled in."""

from __future__ import annotations

import inspect
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from checker import units
from checker.arrays import Array
from checker.compute import formulas
from checker.compute.graph import Graph
from checker.compute.meanings import Names, described, meaning
from checker.compute.naming import EARLIER, MEMBERS, OF_PARTS, ROWS, TABLE_OF, dotted, subject_of
from checker.compute.registry import REGISTRY, Quantity
from checker.design.leaves import Leaf, words
from checker.design.parts import INHERITED
from checker.design.schema import PARTS
from checker.explain.figures import figures, subject_name, symbol_of, written
from checker.explain.inputs import Inputs, has_members
from checker.explain.records import Stated, Step
from checker.quantities.symbols import SYMBOLS
from checker.reading.documents import line_of
from checker.rulebook.model import Described
from checker.words.speech import PLAIN, Speech

BY_THE_PROGRAM = "by the program"
"""Shown instead of a formula that would not give the value."""

AGREES = 1e-6
"""Largest difference, as a share of the value, between a formula's result and the value."""

OF_THE_TABLE = {PARTS: ("loop", "feed")}
"""By table, the fields that no design states."""

ALIKE = {"zone": "of every feed, which lies where people walk"}
"""Why the program fills in these fields."""


class _Term(NamedTuple):
    """An input as a formula shows it: one value, or the values of members with their subjects."""

    symbol: str
    text: str | list[str]
    who: tuple[str, ...] = ()
    specified: str | list[str] = ""
    """The same in the units of reports, where the reader sees other units."""


class Working:
    """The steps to one value, each once, in the order in which they can be computed."""

    def __init__(self, graph: Graph, speech: Speech) -> None:
        self.graph = graph
        self.speech = speech
        self.tables = graph.tables
        self.names = Names()
        self.inputs = Inputs(graph, self.names)
        self.stated: dict[tuple[str, str], Stated] = {}
        self.steps: dict[tuple[str, str, int], Step] = {}
        self._terms: dict[tuple[str, str, int], _Term] = {}

    def term(self, subject: str, name: str, row: int) -> _Term:
        """The value of a name as a formula uses it, after the steps that lead to it.

        Args:
            subject: whose it is, such as `loop`.
            name: of a field or quantity.
            row: the subject's row.

        Returns:
            Symbol and text; `stated` and `steps` have what it was computed from.
        """
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
            text = written(number, described(leaf), self.speech)
            return self._state(
                table, leaf.name, symbol, typed, text, row, written(number, described(leaf))
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
        """The cell of a place in the sheet that its design was read from, if any."""
        cells = self.tables.designs[self.tables.design_of(table)[row]].cells
        spot = cells.of(place) if cells is not None else None
        return str(spot or "")

    def _whose(self, table: str, row: int) -> str:
        if table == "balance":
            of = self.tables["balance"].shape.columns[-1]
            loop = int(self.tables["balance"].column(of.slot)[row])
            return f"balance.{self.tables['loops'].ids[loop]}"
        return subject_name(self.tables, table, row)

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
            shown = self.inputs.inputs_to_follow(known, parameters, row, reason)
            formula = known.formula[0] if known.formula else BY_THE_PROGRAM
        else:
            shown = {
                parameter: name
                for parameter, name in parameters.items()
                if (has_members(name) and known.described_by is None)
                or (not has_members(name) and self.inputs.depends_on(known, name, row))
            }
            formula = self._fitting(known, parameters, set(shown), row)
            named = formulas.names(formula) if formulas.is_arithmetic(formula) else ()
            shown = {p: name for p, name in parameters.items() if p in shown or p in named}
        terms = {
            parameter: (self._part if has_members(name) else self.term)(known.subject, name, row)
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

        Words are shown where no formula gives it.
        """
        value = self.graph.column(known.subject, known.name).values[row]
        numbers = {
            parameter: number
            for parameter, name in parameters.items()
            if (number := self.inputs.number(known.subject, name, row)) is not None
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
        text = "missing" if missing else written(value, unit, self.speech)
        specified = "missing" if missing else written(value, unit)
        result = text
        if known.described_by and not missing:
            result = text = specified = "as given here"
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
                tuple(map(self.speech.words, known.described_by(self.graph.things, value)))
                if known.described_by and not missing
                else ()
            ),
            missing=missing,
        )
        return _Term(known.symbol, text, (), specified)

    def _filled(
        self, known: Quantity, row: int, terms: Mapping[str, _Term], formula: str
    ) -> tuple[str, bool]:
        """The formula with numbers, and whether these are in the reader's units.

        A formula with constants for the units of reports keeps those units.
        """
        named = formulas.names(formula)
        texts = {name: terms[name].text for name in named}
        specified = {name: terms[name].specified or terms[name].text for name in named}
        if texts == specified:
            texts |= {one: self._constant(one) for one in formulas.constants(formula)}
            return formulas.filled(formula, texts), True
        inputs = dict(zip(inspect.signature(known.function).parameters, known.inputs, strict=True))
        numbers = {name: self.inputs.number(known.subject, inputs[name], row) for name in named}
        kinds = {name: self.inputs.kind(known.subject, inputs[name]) for name in named}
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
        texts |= {one: self._constant(one) for one in formulas.constants(formula)}
        return formulas.filled(formula, texts), True

    def _constant(self, text: str) -> str:
        """A constant of a formula in the reader's units."""
        if self.speech == PLAIN:
            return text
        value, _, unit = text.partition(" ")
        texts = figures(self.speech.converted(float(value), unit))
        return f"{self.speech.marked(texts)} {self.speech.unit(unit)}"

    def _part(self, subject: str, name: str, row: int) -> _Term:
        """The values of a part's members; one of them is worked in full."""
        table, rows = self.graph.members.rows_of(subject, name, row)
        field = name.partition(".")[2]
        if table not in TABLE_OF.values():
            return self._rows(table, field, rows)
        of = subject_of(table)
        # A member without a say in an extreme, such as a feed, is not shown.
        counting = self.graph.column(of, field).values[rows] != -np.inf
        rows = [row for row, counts in zip(rows, counting.tolist(), strict=True) if counts]
        who = tuple(subject_name(self.tables, table, one) for one in rows)
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
            ["missing" if np.isnan(v) else written(float(v), shown, speech) for v in values]
            for speech in (self.speech, PLAIN)
        )
        return _Term(symbol, texts, who, specified)

    def _stated_as(self, table: str, parent: int) -> str:
        """The key under which a record states a list."""
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
            "not given" if np.isnan(v) else written(float(v), described(leaf), self.speech)
            for v in values
        ]
        if rows:
            owner = self.tables[table].shape.parent
            parent = self.tables[table].parents[rows[0]]
            subject = subject_name(self.tables, owner, parent)
            place = self.tables[table].places[rows[0]]
            cell = self._cell(table, rows[0], place)
            joined = ", ".join(texts)
            name = f"{self._stated_as(table, parent)}.{field}"
            self.stated[(subject, name)] = Stated(
                subject, name, symbol, joined, joined, line_of(place), cell
            )
        return _Term(symbol, ", ".join(texts))


def _symbol(terms: Mapping[str, _Term], known: Quantity, name: str) -> str:
    """The symbol of an input, also of one that was not followed."""
    if name in terms:
        return terms[name].symbol
    column = dotted(known.subject, name)
    part, _, rest = column.partition(".")
    if part in OF_PARTS:
        return symbol_of(OF_PARTS[part], rest)
    return SYMBOLS[part].get(rest, rest) if part in MEMBERS else symbol_of(known.subject, column)


def _led(formula: str) -> str:
    return "" if formulas.is_words(formula) else "= "


def _typed(source: Any, name: str, row: int) -> Any:
    """What was typed for a field, from the record that it is in."""
    if name == "of":
        return ""
    for step in name.split("."):
        if step not in source:  # what is the same for all rows of its kind
            return ALIKE[name]
        source = source[step]
    return source
