"""The manual of the rules: written from the rule files, whole, and fresh."""

from __future__ import annotations

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


def test_every_table_has_the_same_cells_in_each_row() -> None:
    cells = 0
    for line in PAGE.splitlines():
        if not line.startswith("|"):
            cells = 0
            continue
        own = line.replace("\\|", "").count("|")
        assert cells in (0, own), line
        cells = own
