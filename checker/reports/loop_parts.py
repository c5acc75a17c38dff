"""What a loop names: the rooms, floors and so on of the whole loop, or of each of its parts."""

from __future__ import annotations

from collections.abc import Mapping

from checker.outcome.results import Given


def named(loop: Mapping[str, Given], field: str) -> list[str]:
    """The rooms, floors and so on that a loop or its parts name.

    Args:
        loop: what the design states of it, by field.
        field: `room`, `floor`, `header` or `pipe`.

    Returns:
        Ids in the order of the parts, each once.
    """
    names = each_named(loop, field)
    return [*dict.fromkeys(name for name in names if isinstance(name, str) and name)]


def each_named(loop: Mapping[str, Given], field: str) -> list[Given]:
    """What the loop, or each of its parts, names in a field.

    Args:
        loop: what the design states of it, by field.
        field: `room`, `floor`, `header` or `pipe`.

    Returns:
        A name for each part, or the loop's own alone; empty where it names nothing.
    """
    parts = loop.get("loop_parts")
    if isinstance(parts, tuple) and any(field in part for part in parts):
        return [part.get(field, "") for part in parts]
    return [loop.get(field) or ""]
