"""Recognises ids that may mean several loops: 1-3, 4 & 5, L1/L2, 2x."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable
from typing import NamedTuple

LONGEST = 64
"""Longest id, in characters."""
_NUMBER = r"(?:[^\W\d_]{1,12}[ .]{0,2}|[ .]{1,2}|#)?\d+(?:\.\d+)*"
_NAME = rf"(?:{_NUMBER}[a-z]?|[a-z])"
_WORDS = r"and|to|thru|through|und|u\.?|bis|et|à|en|tot|t/m|y|a|al|e"
_JOINED = re.compile(
    rf"{_NAME}(?:\s*(?:[&+;~÷…\n]|,\s|\.\.+)\s*{_NAME}|\s+(?:{_WORDS})\s+{_NAME})+"
    r"|(\d+)[a-z]\s*[-–—/,]\s*\1?[a-z]",
    re.IGNORECASE,
)
"""Lists of loops, or the first and last of a range, with words of six languages."""
_COUNT = r"0*(?:[2-9]|[1-9]\d)"
_COUNTED = re.compile(
    rf"(?:.*[\s(])?{_COUNT}\s*(?:[x×]|-?fach\b|(?:stk|stck|st|stück|pcs?|pieces|off|nos?|loops|"
    r"circuits|kreise|heizkreise|pièces|boucles|stuks|groepen|uds?|circuitos|pz|pezzi|circuiti)"
    rf"\b\.?)\)?|.+[\s(][x×]\s*{_COUNT}\)?|{_COUNT}\s*[x×]\s*[^\W\d].*",
    re.IGNORECASE,
)
"""A count of loops or pieces, with words of six languages; ordinary words."""
_CHAIN = re.compile(rf"{_NUMBER}(?:\s*([-–—/,])\s*{_NUMBER})+")
_PART = re.compile(r"([^\W\d_]*)[ .]?(\d+(?:\.\d+)*)")


class Several(NamedTuple):
    """The ids that may mean several loops, and an example of one that only looks so."""

    names: frozenset[str]
    one: str = ""


def several(ids: Iterable[str]) -> Several:
    """Find the ids of a table that mean, or may mean, several loops.

    An id such as 1-3 is loop 3 of header 1, or loops 1 to 3. It counts as one loop only where every
    id with a number has that form and they cannot all be ranges of loops: one does not rise (1-1),
    or begins before the one before has ended (2-3, 2-4).

    Args:
        ids: the ids in the order of their rows.

    Returns:
        These ids, as written; and, where ids only look like ranges, the first of them.
    """
    texts = {text: text.strip("() ").rstrip(".") for text in ids if len(text) <= LONGEST}
    sure = {
        text for text, bare in texts.items()
        if _JOINED.fullmatch(bare) or _COUNTED.fullmatch(text.strip())
    }  # fmt: skip
    chains = {
        text: _numbers(bare) for text, bare in texts.items()
        if text not in sure and _CHAIN.fullmatch(bare)
    }  # fmt: skip
    alike = {text for text, (prefixes, _) in chains.items() if prefixes == "same"}
    other = {text for text, (prefixes, _) in chains.items() if prefixes == "other"}
    doubtful = {t: n for t, (_, n) in chains.items() if t not in alike | other}
    rest = [text for text in texts if any(map(str.isdigit, text)) and text not in doubtful]
    if not doubtful or (not rest and _not_runs(list(doubtful.values()))):
        return Several(frozenset(sure | alike), next(iter(doubtful), ""))
    rising = {text for text, numbers in doubtful.items() if _rises(numbers)}
    return Several(frozenset(sure | alike | rising))


def _numbers(text: str) -> tuple[str, list[int]]:
    """What is before the numbers of a text, and the last number of each.

    `same` where the same letters or digits are before each (L1/L2, 1.1-1.3), `other` where the
    letters differ, so that it is one id (M1-L2); empty for 1-3 and M1-3.
    """
    parts = [_PART.fullmatch(part.strip()) for part in re.split(r"[-–—/,]", text)]
    heads = [(part[1].casefold(), part[2].rpartition(".")[0]) for part in parts if part is not None]
    numbers = [int(part[2].rpartition(".")[2]) for part in parts if part is not None]
    if sum(head != ("", "") for head in heads) < 2:
        return "", numbers
    return ("same" if _led_alike(heads) and _rises(numbers) else "other"), numbers


def _led_alike(heads: list[tuple[str, str]]) -> bool:
    """Whether the same letters are before each number; only the first may have letters (Bad
    1.1/1.2).
    """
    letters = {letter for letter, _ in heads[1:]}
    return len({figures for _, figures in heads}) == 1 and letters <= {"", heads[0][0]}


def _rises(numbers: list[int]) -> bool:
    return all(a < b for a, b in itertools.pairwise(numbers))


def _not_runs(chains: list[list[int]]) -> bool:
    """Whether these cannot all be ranges, which go on from one another or restart at each
    header.
    """
    ends = [0, *(chain[-1] for chain in chains)]
    return any(
        not _rises(chain) or (chain[0] <= end and chain[0] != 1)
        for chain, end in zip(chains, ends, strict=False)
    )
