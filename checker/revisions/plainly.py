"""Replaces the program's own terms (ids, rules, paths) by words that a letter's reader knows."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from checker.forms.declaring import described
from checker.reports.sentences import subject_words
from checker.revisions.contents import Content, dotted

_FOR_SOME = re.compile(
    r"(\w+)\.([\w.]+) is '(.*)' for (\d+) of (\d+): the map says so in line \d+\."
)
_STATED = re.compile(r"Not in the sheets, stated by the map: (.+)\.")
_IN_UNIT = re.compile(r", in [^,]+$")


def meaning(name: str) -> str:
    """What a datum is, in a few words.

    Args:
        name: its name in the design format, such as `loops.spacing`.

    Returns:
        The beginning of the format's description, without its unit; empty where there is none.
    """
    text = described().get(name, "")
    first = _IN_UNIT.sub("", text.partition(". ")[0].rstrip("."))
    return first[:1].lower() + first[1:]


def way_out(text: str, content: Content, titles: Mapping[str, str]) -> str:
    """A proposed change in words that a letter's reader knows.

    Args:
        text: the proposal, with paths, ids and names of rules.
        content: the design that it is about.
        titles: the title of each rule, by its id.

    Returns:
        The text with records in words, and rules by their titles.
    """
    keys = sorted((dotted(key) for key in content if key[1]), key=len, reverse=True)
    if keys:
        pattern = rf"\b({'|'.join(map(re.escape, keys))})(?:\.([a-z_]+))?"
        text = re.sub(pattern, _subject, text)
    rules = "|".join(map(re.escape, sorted(titles, key=len, reverse=True)))
    text = re.sub(rf"(?<![\w-])({rules})(?= \()", lambda one: f"'{titles[one[1]]}'", text)
    return text.replace("review, ", "to confirm, ")


def _subject(found: re.Match[str]) -> str:
    words = subject_words(found[1])
    return f"the {found[2].replace('_', ' ')} of {words}" if found[2] else words


def read_how(lines: Iterable[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Sort remarks on how a sheet was read: what was assumed that it does not say, and the rest."""
    taken: list[str] = []
    rest: list[str] = []
    for line in lines:
        stated, for_some = _STATED.fullmatch(line), _FOR_SOME.fullmatch(line)
        if stated:
            taken.append(stated[1])
        elif for_some:
            section, field, text, count, of = for_some.groups()
            which = "all" if count == of else f"{count} of {of}"
            name = field.replace("_", " ").replace(".", " ")
            taken.append(f"{name} '{text}' of {which} {section}")
        else:
            rest.append(line)
    return tuple(taken), tuple(rest)
