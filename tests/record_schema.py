"""The JSON Schema of a record, the same whichever msgspec makes it."""

from __future__ import annotations

from inspect import cleandoc
from typing import Any

import msgspec


def record_schema(kind: type) -> dict[str, Any]:
    """The schema; its descriptions as docstrings are read, without the indent of the source.

    Up to 0.22 msgspec kept that indent, from 0.23 on it takes it away.
    """
    found: dict[str, Any] = _cleaned(msgspec.json.schema(kind))
    return found


def _cleaned(part: Any) -> Any:
    if isinstance(part, list):
        return [_cleaned(one) for one in part]
    if not isinstance(part, dict):
        return part
    return {
        key: cleandoc(own) if key == "description" and isinstance(own, str) else _cleaned(own)
        for key, own in part.items()
    }
