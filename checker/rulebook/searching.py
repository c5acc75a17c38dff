"""Searches rules by words: those of their own text, or words of the trade that mean the same."""

from __future__ import annotations

from functools import cache

from checker.reading import yaml_reader
from checker.reading.package_data import data_folder
from checker.rulebook.book import Rulebook
from checker.rulebook.model import Rule

FILE = "words.yaml"


@cache
def synonyms() -> dict[str, tuple[str, ...]]:
    """Words of the trade, each with the words of the rules that mean it."""
    data = (data_folder("rules") / FILE).read_bytes()
    found = yaml_reader.read(data, first="words:")["synonyms"]
    return {word: tuple(others) for word, others in found.items()}


def search(book: Rulebook, words: str) -> list[Rule]:
    """Find the rules that contain all of these words, in any order.

    Capitals do not matter, and singular and plural in s match. A word or phrase of `synonyms` also
    finds the words that mean the same in the rules.

    Args:
        book: the rules to search.
        words: what a person typed, separated by spaces; an empty text finds every rule.

    Returns:
        Those with all words in id or title first, each group in the order of ids; empty where no
        rule fits.
    """
    wanted = _terms(words)
    found = [rule for rule in book.rules if _speaks(_text(rule), wanted)]
    return sorted(found, key=lambda rule: (not _speaks(_heading(rule), wanted), rule.id))


def _terms(words: str) -> list[tuple[str, ...]]:
    """For each word or known phrase, the spellings of which one must be in a rule."""
    left, terms = f" {_singular(words)} ", []
    for phrase in sorted(synonyms(), key=len, reverse=True):
        if f" {_singular(phrase)} " in left:
            left = left.replace(f" {_singular(phrase)} ", " ")
            terms.append((phrase, *synonyms()[phrase]))
    return terms + [(word,) for word in left.split()]


def _singular(words: str) -> str:
    """Words in small letters, those in s without it, so that singular and plural match."""
    return " ".join(word.removesuffix("s") or word for word in words.lower().split())


def _speaks(text: str, wanted: list[tuple[str, ...]]) -> bool:
    return all(any(spelling in text for spelling in term) for term in wanted)


def _heading(rule: Rule) -> str:
    return f"{rule.id} {rule.id.replace('-', ' ')} {rule.title}".lower()


def _text(rule: Rule) -> str:
    """All texts of a rule, in small letters."""
    limits = (f"{limit.words} {limit.source.title} {limit.source.clause}" for limit in rule.limits)
    parts = (_heading(rule), rule.value, rule.found, rule.why, rule.remedy, *limits)
    return " ".join(parts).lower()
