"""Which fields a rule depends on: never one too few, or a result would stay open that is certain."""

import numpy as np

import checker.quantities  # noqa: F401  # registers the quantities
from checker.arrays import Array
from checker.compute.dependencies import fields_of, fields_of_rule
from checker.compute.graph import Graph
from checker.compute.judging import judged
from checker.compute.naming import TABLE_OF
from checker.design.tables import Tables
from checker.outcome.applicable import ApplicableLimits, JudgingOptions
from checker.rulebook.book import Rulebook
from checker.run.rules_in_force import rulebook
from tests.design.designs import generate


def test_a_column_hangs_on_the_fields_behind_its_inputs() -> None:
    assert "own_loss" in fields_of("header", ("pressure_drop",))
    assert "covering.resistance" in fields_of("room", ("coverage",))
    assert fields_of("loop", ("given.length",)) == {"length"}
    assert "own_loss" not in fields_of("loop", ("surface_max",))


def test_what_a_range_changes_hangs_on_its_field() -> None:
    """Each datum with a range is changed; a rule that comes out otherwise names its field."""
    book = rulebook()
    tables = Tables(book.codes)
    for number in range(6):
        tables.add(f"{number}.yaml", generate(number).encode())
    force = ApplicableLimits(tables, book, JudgingOptions())
    before = _values(tables, force, book)
    changed = 0
    for one in book.ranges:
        table = TABLE_OF[one.subject]
        copy = tables.repeated(np.arange(6))
        slot = next(leaf.slot for leaf in copy[table].shape.columns if leaf.name == one.field)
        if len(copy[table]):
            copy[table].fill(slot, slice(None), np.full(len(copy[table]), one.most))
        for rule, value, other in zip(book.rules, before, _values(copy, force, book), strict=True):
            if not np.array_equal(value, other, equal_nan=True):
                changed += 1
                assert one.field in fields_of_rule(rule), (rule.id, one.field)
    assert changed > 20


def _values(tables: Tables, force: ApplicableLimits, book: Rulebook) -> list[Array]:
    graph = Graph(tables)
    return [
        np.concatenate((outcome.values, outcome.kinds.astype(float)))
        for rule in book.rules
        for outcome, _ in [judged(rule, graph, force)]
    ]
