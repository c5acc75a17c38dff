"""Guesses which field of a design each heading or label of an unknown sheet means."""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import SequenceMatcher
from functools import cache, lru_cache
from typing import Any
from unicodedata import combining, normalize

from checker import units
from checker.intake.fields import fields
from checker.intake.units_written import unit_in
from checker.reading import yaml_reader
from checker.reading.package_data import headings

LEAST_ALIKE = 0.82
"""Least similarity of a heading to a known word (1: equal); tuned on invented headings."""
LONGEST_HEADING = 80
"""Longest heading, in characters; a longer text is a remark."""


@dataclass(frozen=True)
class Guess:
    """What a text most likely means, and how certain that is (1: it is a known word).

    word: the known word that it resembles; empty where only its unit points to the target.
    """

    target: str
    alike: float
    word: str


def folded(text: str) -> str:
    """A text without its unit, accents, capitals and punctuation, for comparing."""
    text = re.sub(r"[\[(].*?[\])]", " ", text)
    text = normalize("NFKD", text.replace("ß", "ss"))
    text = "".join(sign for sign in text if not combining(sign)).casefold()
    return " ".join(re.sub(r"[^\w']+", " ", text.replace("_", " ")).split())


@cache
def vocabulary() -> Any:
    """The words that people use for the things in a design, from `words/headings.yaml`."""
    return yaml_reader.read(headings().read_bytes(), first="columns:")


@cache
def _known(kind: str) -> dict[str, str]:
    """Every known word of one kind (`columns` or `labels`), folded, with what it means."""
    known: dict[str, str] = {}
    for target, words in vocabulary()[kind].items():
        for word in (*words, target.rsplit(".", 1)[-1].replace("_", " ")):
            known.setdefault(folded(word), target)
    return known


@lru_cache(maxsize=4096)
def guess(heading: str, kind: str = "columns") -> Guess | None:
    """Guess what a heading means.

    Args:
        heading: the text as it was written.
        kind: `columns` for headings of tables, `labels` for texts beside a single cell.

    Returns:
        The likeliest field or section; None where no known word is similar.
    """
    known = _known(kind)
    text = folded(heading)
    # A unit behind the words without brackets: 'Spacing mm'; 'Tube length' ends in none.
    shorter = text.rsplit(" ", 1)[0] if _ends_in_unit(heading) else text
    square = re.sub(r" sq \w+$", "", text)
    for candidate in (text, shorter, square, re.sub(r" (nr|no|number|n°)$", "", text)):
        if candidate in known:
            return Guess(known[candidate], 1.0, candidate)
    if kind == "columns" and (named := _by_unit(heading)):
        return named
    if len(text) > LONGEST_HEADING:
        return None
    best = Guess("", 0.0, "")
    matcher = SequenceMatcher(b=text)
    for word, target in known.items():
        matcher.set_seq1(word)
        near = matcher.real_quick_ratio() >= LEAST_ALIKE and matcher.quick_ratio() >= LEAST_ALIKE
        ratio = matcher.ratio() if near else 0.0
        if len(word) > 3 and re.search(rf"\b{re.escape(word)}\b", text):
            ratio = max(ratio, LEAST_ALIKE + 0.1 * len(word) / len(text))
        if ratio > best.alike:
            best = Guess(target, ratio, word)
    return best if best.alike >= LEAST_ALIKE else None


_BY_UNIT = (
    ("volume_flow", "loops.flow"),
    ("area", "loops.area"),
    ("power", "rooms.heat_load"),
)
"""For a heading that consists of a unit only: the field that is meant, where just one is likely."""


def _by_unit(heading: str) -> Guess | None:
    bare = heading.strip().strip("[]()").strip()
    if bare.casefold() in ("m", "ft", "feet"):
        return Guess("loops.length", LEAST_ALIKE, "")
    if len(bare) < 2 or not re.fullmatch(r"\S+|(?i:sq) \S+", bare):
        return None
    for kind, target in _BY_UNIT:
        if unit_in(f"[{bare}]", kind):
            return Guess(target, LEAST_ALIKE, "")
    return None


def any_unit(text: str) -> bool:
    """Whether a heading names a unit of any kind, in brackets or as its last word."""
    kinds = {f.leaf.quantity for f in fields().values() if f.leaf.quantity}
    inside = re.findall(r"[\[(]([^\[\]()]+)[\])]", text)
    if inside:
        return any(unit_in(f"[{one}]", kind) for one in inside for kind in kinds)
    last = text.split()[-1] if text.split() else ""
    return len(text.split()) > 1 and any(units.in_table(last, kind) for kind in kinds)


def _ends_in_unit(text: str) -> bool:
    """Whether the last word outside brackets is a unit."""
    words = re.sub(r"[\[(].*?[\])]", " ", text).split()
    return len(words) > 1 and any_unit(" ".join(words[-2:]))


def names_both(heading: str) -> bool:
    """Whether a heading names both a header and a loop, such as 'Manifold / circuit'."""
    text = folded(heading)
    found = {
        target
        for word, target in _known("columns").items()
        if target in ("headers", "loops") and re.search(rf"\b{re.escape(word)}\b", text)
    }
    return len(found) == 2
