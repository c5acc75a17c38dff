"""The manual of the rules: written from the rule files, whole, and fresh."""

from __future__ import annotations

import json
import re
from pathlib import Path

import yaml
from jsonschema import Draft202012Validator

import checker.quantities  # noqa: F401  # registers the quantities
from checker import __version__
from checker.compute.meanings import Names
from checker.reading.package_data import data_folder
from checker.rulebook import catalogue
from checker.rulebook.loading import load
from tests.rulebook import edition_changes, rules_index

PAGES = Path(catalogue.__file__).parents[1] / "manual/pages"
BOOK = load(Names())
PAGE = "\n".join(catalogue.markdown(BOOK)) + "\n"


def test_the_index_is_fresh_and_each_of_its_links_leads_to_a_file() -> None:
    # Write it again with: python -m tests.rulebook.rules_index > rules/README.md
    folder = data_folder("rules")
    text = (folder / "README.md").read_text("utf-8")
    assert text == "\n".join(rules_index.lines(BOOK)) + "\n"
    links = re.findall(r"\]\(([^)]+)\)", text)
    assert len(links) == len(BOOK.rules) + 3
    assert all((folder / link).is_file() for link in links)


def test_the_list_of_changes_begins_with_this_edition_and_version_and_names_rules_that_there_are() -> (
    None
):
    changes = (data_folder("rules") / "CHANGES.md").read_text("utf-8")
    assert re.findall(r"^## (.+)$", changes, re.M)[0] == BOOK.edition
    ids = {rule.id for rule in BOOK.rules}
    named = {*re.findall(r"`([a-z]+(?:-[a-z]+)+)`", changes)}
    assert named
    assert named <= ids
    program = (PAGES / "changes.md").read_text("utf-8")
    assert re.findall(r"^## (.+)$", program, re.M)[0] == __version__


def test_what_changed_between_two_states_of_the_rules_is_told() -> None:
    old: edition_changes.Rules = {
        "a": {"title": "A", "severity": "minor", "limits": [{"at_most": "1 m", "source": "s"}]}
    }
    new: edition_changes.Rules = {
        "a": {"title": "A", "severity": "major", "limits": [{"at_most": "2 m", "source": "s"}]},
        "b": {"title": "B", "severity": "minor"},
    }
    assert [*edition_changes.changes(old, new)] == [
        "- new: `b` (minor): B",
        "- `a`: severity minor → major; no longer at_most 1 m (s); now at_most 2 m (s)",
    ]
    assert next(iter(edition_changes.changes(new, old))) == "- gone: `b`: B"
    assert [*edition_changes.changes(edition_changes.now(), edition_changes.now())] == []


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
