"""Changes values within the text of a file: every other character stays as it was typed.

A library that reads and writes YAML keeps comments and order, but lays its values out again. Here
only the characters of a value that changes are replaced, at the marks that libyaml gives them; the
caller reads the text again and compares it with what it should say.
"""

from __future__ import annotations

import codecs
import json
import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Any, NamedTuple

from checker.reading.documents import Mapping, Sequence

Step = str | int
"""A key of a mapping, or a position in a list, from zero."""


class NotEdited(Exception):
    """A change cannot be made in a text; the message is for the user."""


class Edit(NamedTuple):
    """Characters of a text, and what replaces them.

    Attributes:
        start: index of the first.
        end: index after the last; `start` where something is put in.
        text: in their place.
    """

    start: int
    end: int
    text: str


def edited(data: bytes, changes: Iterable[tuple[tuple[Step, ...], Any]], *, is_json: bool) -> bytes:
    """The file with values changed, each at the end of its steps.

    Args:
        data: the file's bytes, UTF-8, that can be read as YAML.
        changes: the steps to each value, and the value: a text, or a mapping or list of such, or
            None, which removes what is there.
        is_json: whether the file is JSON.

    Returns:
        The file's bytes; a byte-order mark stays.

    Raises:
        NotEdited: a change cannot be made in the text.
    """
    mark = codecs.BOM_UTF8 if data.startswith(codecs.BOM_UTF8) else b""
    text = data[len(mark) :].decode("utf-8")
    for one in reversed(edits(data, changes, is_json=is_json)):
        text = text[: one.start] + one.text + text[one.end :]
    return mark + text.encode("utf-8")


def edits(
    data: bytes, changes: Iterable[tuple[tuple[Step, ...], Any]], *, is_json: bool
) -> list[Edit]:
    """The same as replacements.

    Args:
        data: as for `edited`.
        changes: as for `edited`.
        is_json: as for `edited`.

    Returns:
        In the order of the text, as places in it without a byte-order mark.

    Raises:
        NotEdited: a change cannot be made in the text.
    """
    text = data.removeprefix(codecs.BOM_UTF8).decode("utf-8")
    root = _composed(text.replace("\t", " ") if is_json else text)
    editor = _Editor(text, is_json)
    made = [editor.edit(root, steps, value) for steps, value in changes]
    return sorted(made, key=lambda own: own.start)


@lru_cache(maxsize=2)
def _composed(text: str) -> Any:
    """The text's nodes, cached because one design is often changed in several ways in turn."""
    import yaml

    loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    try:
        return yaml.compose(text, Loader=loader)
    except yaml.YAMLError as error:
        raise NotEdited(f"the file cannot be read: {error}") from None


class _Editor:
    """A text that is being changed."""

    def __init__(self, text: str, is_json: bool) -> None:
        self.text = text
        self.is_json = is_json
        line = re.search("\r\n|\n|\r", text)
        self.line_end = line[0] if line else "\n"

    def edit(self, node: Any, steps: tuple[Step, ...], value: Any) -> Edit:
        """The characters to replace, and by what."""
        for nth, step in enumerate(steps):
            if node.id not in ("mapping", "sequence"):
                raise NotEdited(f"'{step}' has no place here: what is around it has no keys")
            at = _at(node, step)
            if at is None:
                for name in reversed(steps[nth + 1 :]):
                    value = _within(name, value)
                return self._added(node, step, value)
            if nth == len(steps) - 1 and value is None:
                return self._taken_away(node, at)
            node = node.value[at][1] if node.id == "mapping" else node.value[at]
        return self._replaced(node, value)

    def _replaced(self, node: Any, value: Any) -> Edit:
        start, end = node.start_mark.index, self._end(node)
        quote = getattr(node, "style", None) if node.id == "scalar" else None
        if isinstance(value, str) and quote in ("'", '"') and not self.is_json:
            written = quoted(value) if quote == "'" else json.dumps(value, ensure_ascii=False)
            return Edit(start, end, written)
        return Edit(start, end, self._written(value))

    def _written(self, value: Any) -> str:
        return _as_json(value) if self.is_json else flow(value)

    def _end(self, node: Any) -> int:
        """Where a value's own characters end: for a block, where its last value does."""
        if node.id != "scalar" and not node.flow_style and node.value:
            last = node.value[-1]
            return self._end(last[1] if node.id == "mapping" else last)
        start: int = node.start_mark.index
        return start + len(self.text[start : node.end_mark.index].rstrip())

    def _added(self, node: Any, step: Step, value: Any) -> Edit:
        if value is None:
            raise NotEdited(f"there is no '{step}' to take away")
        entry = self._written(value)
        if node.id == "mapping":
            key = json.dumps(step, ensure_ascii=False) if self.is_json else scalar(str(step))
            entry = f"{key}: {entry}"
        items = node.value
        if node.flow_style or not items:
            if not items:
                at = node.start_mark.index + 1
                if self.text[at - 1] not in "{[":
                    raise NotEdited(f"'{step}' has no place here: what is around it has no keys")
                return Edit(at, at, entry)
            at = self._end(items[-1][1] if node.id == "mapping" else items[-1])
            return Edit(at, at, f", {entry}")
        first = items[0][0] if node.id == "mapping" else items[0]
        at = self._end(node)
        line = re.compile("\r\n|\n|\r").search(self.text, at)
        at = line.start() if line else len(self.text)
        indent = " " * first.start_mark.column
        if node.id == "sequence":
            indent, entry = " " * node.start_mark.column, f"- {entry}"
        return Edit(at, at, f"{self.line_end}{indent}{entry}")

    def _taken_away(self, node: Any, at: int) -> Edit:
        items = node.value
        pairs = node.id == "mapping"

        def start(nth: int) -> int:
            mark: int = (items[nth][0] if pairs else items[nth]).start_mark.index
            return mark

        end = self._end(items[at][1] if pairs else items[at])
        if node.flow_style:
            if at + 1 < len(items):
                return Edit(start(at), start(at + 1), "")
            before = self._end(items[at - 1][1] if pairs else items[at - 1]) if at else start(at)
            return Edit(before, end, "")
        if len(items) == 1 or not pairs:
            raise NotEdited("what is alone in its lines cannot be removed here")
        first = self.text.rfind("\n", 0, start(at)) + 1
        if self.text[first : start(at)].strip():
            raise NotEdited("what follows other characters in its line cannot be removed here")
        line = re.compile("\r\n|\n|\r").search(self.text, end)
        return Edit(first, line.end() if line else len(self.text), "")


def _at(node: Any, step: Step) -> int | None:
    if node.id == "mapping":
        keys = [key.value for key, _ in node.value]
        return keys.index(step) if step in keys else None
    return step if isinstance(step, int) and step < len(node.value) else None


def _within(step: Step, value: Any) -> Any:
    if isinstance(step, int):
        items = Sequence(0)
        items.append(value)
        return items
    made = Mapping(0)
    made[step] = value
    return made


def flow(value: Any) -> str:
    """A value as YAML in one line: a flow mapping or list, or a scalar.

    Args:
        value: a text, None, or a dict or list of such.

    Returns:
        In quotes where necessary; None as `~`.
    """
    if isinstance(value, dict):
        return f"{{{', '.join(f'{scalar(k)}: {flow(v)}' for k, v in value.items())}}}"
    if isinstance(value, list):
        return f"[{', '.join(map(flow, value))}]"
    return scalar(value)


_PLAIN = re.compile(r"[^\s\-?:,\[\]{}#&*!|>'\"%@`](?:[^\[\]{},:#]|:(?=\S)(?![,\[\]{}?]))*")
"""Texts that mean themselves within a flow mapping, without quotes."""


def scalar(text: str | None) -> str:
    """A text as YAML accepts it within a flow mapping: plain where possible, else in quotes.

    Args:
        text: None for a value left empty.

    Returns:
        None as `~`.
    """
    if text is None:
        return "~"
    negative = re.fullmatch(r"-[0-9][^\[\]{},:#]*", text)
    plain = negative or _PLAIN.fullmatch(text)
    if plain and text == text.strip() and text not in ("~", "null", "Null", "NULL"):
        return text
    return quoted(text)


def quoted(text: str) -> str:
    """A text in single quotes, as YAML writes it.

    Args:
        text: in one line.

    Returns:
        Every single quote in it is doubled.
    """
    return "'" + text.replace("'", "''") + "'"


def _as_json(value: Any) -> str:
    if isinstance(value, dict):
        own = (f"{json.dumps(k, ensure_ascii=False)}: {_as_json(v)}" for k, v in value.items())
        return f"{{{', '.join(own)}}}"
    if isinstance(value, list):
        return f"[{', '.join(map(_as_json, value))}]"
    if value is None:
        return "null"
    if value in ("true", "false") or re.fullmatch("-?(0|[1-9][0-9]*)", value):
        return str(value)
    return json.dumps(value, ensure_ascii=False)
