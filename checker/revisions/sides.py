"""A revision as records that can be compared with those of another."""

from __future__ import annotations

import re
from collections import defaultdict

from checker.intake.fields import value_of
from checker.revisions.contents import Content, Key, leaf_of

SECTIONS = ("rooms", "headers", "floors", "pipes", "loops", "pressure_tests")
REFERRED_TO = ("rooms", "headers", "floors", "pipes")
NUMBERED = re.compile(r"(parts|feeds)\[\d+\]\.")


class Side:
    """One revision: its records by section, and the properties of each loop."""

    def __init__(self, content: Content) -> None:
        self.content = content
        self.keys: dict[str, list[Key]] = {section: [] for section in SECTIONS}
        for key in content:
            if key[0] in self.keys:
                self.keys[key[0]].append(key)
        self.loops = {key: Loop(content[key]) for key in self.keys["loops"]}
        self.on: dict[Key, list[Key]] = defaultdict(list)
        """The loops that refer to a record."""
        for key, loop in self.loops.items():
            for section, names in loop.refers.items():
                for name in names:
                    self.on[section, name].append(key)


class Loop:
    """The properties that distinguish a loop; of several parts their sum, or all their values."""

    def __init__(self, values: dict[str, str]) -> None:
        self.sizes: dict[str, float] = {}
        self.refers: dict[str, frozenset[str]] = {}
        self.words: dict[str, object] = {}
        several: dict[str, list[str]] = defaultdict(list)
        for field, text in values.items():
            if field.startswith("feeds["):
                if field.endswith(".length"):
                    self.sizes["feeds"] = self.sizes.get("feeds", 0.0) + number_of(
                        "loops", field, text
                    )
                continue
            several[NUMBERED.sub("", field)].append(text)
        for section, field in (("rooms", "room"), ("floors", "floor"), ("pipes", "pipe"),
                               ("headers", "header")):  # fmt: skip
            if field in several:
                self.refers[section] = frozenset(several[field])
        for field in ("area", "length", "feeds"):
            if field in several:
                self.sizes[field] = sum(number_of("loops", field, text) for text in several[field])
        for field in ("spacing", "port"):
            if field in several:
                sizes = {round(number_of("loops", field, text), 9) for text in several[field]}
                self.words[field] = tuple(sorted(sizes))
        for field in ("pattern", "zone"):
            if field in several:
                self.words[field] = tuple(sorted(set(several[field])))

    @property
    def itself(self) -> tuple[object, ...]:
        """All its properties except its id and its port."""
        words = {field: word for field, word in self.words.items() if field != "port"}
        return (
            tuple(sorted(self.sizes.items())),
            tuple(
                sorted((section, tuple(sorted(names))) for section, names in self.refers.items())
            ),
            tuple(sorted(words.items())),
        )


def number_of(section: str, field: str, text: str) -> float:
    """A field's text as a number in SI.

    Args:
        section: the section of the record.
        field: the field as in `Content`.
        text: the value as a design writes it, which fits the field.

    Returns:
        0 for a reference, words, or a field that is not a value.
    """
    leaf = leaf_of(section, field)
    return 0.0 if leaf is None else value_of(leaf, text)
