"""The JSON Schema of a record, the same whichever msgspec makes it."""

from __future__ import annotations

from inspect import cleandoc
from typing import Any

import msgspec


def record_schema(kind: type) -> dict[str, Any]:
    """The schema; its descriptions as docstrings are read, without the indent of the source.

    Up to 0.22 msgspec kept that indent, from 0.23 on it takes it away. What a docstring says of an
    attribute is the description of that property.
    """
    found: dict[str, Any] = _cleaned(msgspec.json.schema(kind))
    for record in found.get("$defs", {}).values():
        _describe(record)
    return found


def _describe(record: dict[str, Any]) -> None:
    """Move the section of attributes from a record's description to its properties."""
    about, found, section = record.get("description", "").partition("\n\nAttributes:\n")
    if not found:
        return
    words: dict[str, str] = {}
    name = ""
    for line in section.splitlines():
        if line.startswith(" " * 8):
            words[name] += f" {line.strip()}"
        else:
            name, _, text = line.strip().partition(": ")
            words[name] = text
    record["description"] = about
    for name, text in words.items():
        if name in record["properties"]:
            described = record["properties"][name]
            described["description"] = text[:1].upper() + text[1:]


def _cleaned(part: Any) -> Any:
    if isinstance(part, list):
        return [_cleaned(one) for one in part]
    if not isinstance(part, dict):
        return part
    return {
        key: cleandoc(own) if key == "description" and isinstance(own, str) else _cleaned(own)
        for key, own in part.items()
    }
