"""Rules by a word of theirs or of the trade."""

from __future__ import annotations

import json

import pytest
import yaml
from jsonschema import Draft202012Validator

import checker.quantities  # noqa: F401  # registers the quantities
from checker.compute.meanings import Names
from checker.reading.package_data import data_folder
from checker.rulebook.loading import load
from checker.rulebook.searching import FILE, search, synonyms

BOOK = load(Names())


def test_the_words_fit_their_schema() -> None:
    schema = json.loads((data_folder("schemas") / "words.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    words = yaml.safe_load((data_folder("rules") / FILE).read_bytes())
    assert [*Draft202012Validator(schema).iter_errors(words)] == []


@pytest.mark.parametrize("word", synonyms())
def test_every_word_of_the_trade_finds_a_rule_and_not_all(word: str) -> None:
    assert 0 < len(search(BOOK, word)) < len(BOOK.rules)


def test_every_rule_is_found_by_its_title() -> None:
    for rule in BOOK.rules:
        assert rule in search(BOOK, rule.title), rule.id


def test_all_words_must_be_spoken_of() -> None:
    both = {rule.id for rule in search(BOOK, "manifold valve")}
    assert both <= {rule.id for rule in search(BOOK, "manifold")}
    assert both <= {rule.id for rule in search(BOOK, "valve")}
    assert search(BOOK, "manifold zeppelin") == []
