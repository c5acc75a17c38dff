"""The manual of the rules: written from the rule files, whole, and fresh."""

from __future__ import annotations

import json

import yaml
from jsonschema import Draft202012Validator

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute.graph import Names
from checker.reading.package_data import data_folder
from checker.rulebook import catalogue
from checker.rulebook.loading import load

BOOK = load(Names())
PAGE = "\n".join(catalogue.markdown(BOOK)) + "\n"


def test_the_manual_is_fresh() -> None:
    # Write it anew with: python -m checker rules --format markdown > rules/README.md
    assert (data_folder("rules") / "README.md").read_text("utf-8") == PAGE


def test_the_manual_tells_every_rule_whole() -> None:
    for rule in BOOK.rules:
        _, _, story = PAGE.partition(f"\n### {rule.id}\n")
        story = story.partition("\n### ")[0]
        for text in (rule.title, rule.why, rule.remedy, rule.caution):
            assert text in story
        for limit in rule.limits:
            assert limit.source.title in story
            assert f"{limit.source.standing}, {limit.source.seen}" in story
        assert story.count("\n| ") >= len(rule.limits) + len(rule.examples) + 2


def test_the_coverage_fits_its_schema() -> None:
    schema = json.loads((data_folder("schemas") / "coverage.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    coverage = yaml.safe_load((data_folder("rules") / "coverage.yaml").read_bytes())
    assert [*Draft202012Validator(schema).iter_errors(coverage)] == []


def test_the_coverage_names_every_rule_that_a_document_has_limits_in_and_no_other() -> None:
    known = {rule.id for rule in BOOK.rules}
    for document in catalogue.documents():
        named = {rule for clause in document["clauses"] for rule in clause.get("rules", ())}
        sources = {*document.get("sources", ())}
        cited = {
            rule.id
            for rule in BOOK.rules
            if any(limit.document.source.id in sources for limit in rule.limits)
        }
        assert named <= known
        assert sources <= set(BOOK.documents)
        assert named == cited, document["document"]


def test_every_table_has_the_same_cells_in_each_row() -> None:
    cells = 0
    for line in PAGE.splitlines():
        if not line.startswith("|"):
            cells = 0
            continue
        own = line.replace("\\|", "").count("|")
        assert cells in (0, own), line
        cells = own
