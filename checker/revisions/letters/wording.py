"""The words of letters: `words/en.yaml`, and what a firm's own file replaces."""

from __future__ import annotations

import os
import string
from functools import cache
from typing import Any

from checker.intake.fields import fields
from checker.reading import bounded
from checker.revisions.items import lists
from checker.run.writer import Unwritable
from checker.words import choices

ENGLISH = os.path.join(os.path.dirname(__file__), "words", "en.yaml")


class Words:
    """The wording of one letter, called with a key of `words/en.yaml` and what fills its text in.

    Raises:
        KeyError: the key, or a placeholder of its text, does not exist.
    """

    def __init__(self, said: dict[str, Any]) -> None:
        self.said = said

    def __call__(self, key: str, **filled: object) -> str:
        return str(self.said[key]).format(**filled)

    def one(self, key: str, name: str) -> str:
        """The words for one name in a list of words.

        Args:
            key: the key of the list in `words/en.yaml`.
            name: the name in that list.

        Returns:
            Empty where the list does not have it.
        """
        return str(self.said[key].get(name, ""))

    def heads(self, key: str) -> tuple[str, ...]:
        """The headings of a table.

        Args:
            key: the table's key in `words/en.yaml`.

        Returns:
            A heading for each column.
        """
        return tuple(self.said[key])


@cache
def english() -> Words:
    """The words of letters where no file replaces them."""
    return Words(_read(ENGLISH))


def words(file: str | None) -> Words:
    """The English words, with what a firm's own file replaces.

    Args:
        file: the path of that file; without one the words are English.

    Returns:
        All words; a list of words is replaced name by name.

    Raises:
        Unwritable: the file cannot be read, or names a text that no letter has, or a placeholder
            that its text does not fill in.
    """
    if not file:
        return english()
    base = english().said
    try:
        own = _read(file)
    except OSError as error:
        raise Unwritable(f"--words: '{file}' cannot be read: {bounded.why(error)}") from None
    made = dict(base)
    for key, text in own.items():
        if key not in base:
            raise Unwritable(f"--words: '{file}': no letter says '{key}'; {choices(key, base)}")
        _like(file, key, text, base[key])
        if isinstance(text, dict):
            known = {*fields(), *lists()} if key == "form_fields" else base[key]
            for name, word in text.items():
                if name not in known:
                    near = choices(str(name), known)
                    raise Unwritable(f"--words: '{file}': {key} has no '{name}'; {near}")
                _like(file, f"{key}: {name}", word, base[key].get(name, ""))
            text = {**base[key], **text}
        made[key] = text
    return Words(made)


def _like(file: str, key: str, text: Any, base: Any) -> None:
    """Raise Unwritable for a text that cannot replace the one in the program's file."""
    if isinstance(text, list | dict) or isinstance(base, list | dict):
        same = isinstance(text, dict) if isinstance(base, dict) else (
            isinstance(base, list) and isinstance(text, list) and len(text) == len(base)
        )  # fmt: skip
        if not same:
            raise Unwritable(f"--words: '{file}': '{key}' is to be like {base!r}")
        return
    try:
        unknown = _filled(text) - _filled(base)
    except ValueError as error:
        raise Unwritable(f"--words: '{file}': '{key}': {error}") from None
    if unknown:
        known = ", ".join(sorted(_filled(base))) or "nothing"
        raise Unwritable(
            f"--words: '{file}': '{key}' cannot fill in {{{unknown.pop()}}}; it knows {known}"
        )


def _filled(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(str(text)) if name is not None}


def _read(file: str) -> dict[str, Any]:
    import yaml

    try:
        found = yaml.safe_load(bounded.content(file))
    except (yaml.YAMLError, UnicodeDecodeError) as error:
        raise Unwritable(f"--words: '{file}' cannot be read: {error}") from None
    if not isinstance(found, dict):
        raise Unwritable(f"--words: '{file}' is to be keys with words, as words/en.yaml is")
    return found
