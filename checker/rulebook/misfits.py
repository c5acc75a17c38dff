"""Compares rule files with their published schemas, and reports every mismatch with its place."""

from __future__ import annotations

import json
from collections.abc import Iterator
from collections.abc import Sequence as Sequenced
from functools import cache
from typing import Any, NamedTuple

from checker.reading.documents import Mapping, Problem, Sequence
from checker.reading.package_data import data_folder
from checker.words import choices


@cache
def _validator(name: str) -> Any:
    from jsonschema import Draft202012Validator

    schema = json.loads((data_folder("schemas") / f"{name}.schema.json").read_text("utf-8"))
    return Draft202012Validator(schema)


class Misfit(NamedTuple):
    """A mismatch with the schema.

    Attributes:
        path: the keys, and numbers from 0, that lead to it; empty at the top.
        problem: what is wrong, and where in the file.
    """

    path: tuple[str | int, ...]
    problem: Problem


def sound(misfits: list[Misfit], *path: str | int) -> bool:
    """Whether a part of a file fits its schema.

    Args:
        misfits: of the whole file, from `misfits_of`.
        *path: the keys and numbers that lead to the part.

    Returns:
        False where the part, something in it, or something that contains it misfits; what is wrong
        with the whole file does not count.
    """
    return not any(
        misfit.path and all(a == b for a, b in zip(misfit.path, path, strict=False))
        for misfit in misfits
    )


def misfits_of(name: str, mapping: Mapping, optional: Sequenced[str]) -> Iterator[Misfit]:
    """Compare a file with its published schema.

    Args:
        name: of the schema ('rule', 'sources').
        mapping: the whole file as typed.
        optional: keys that may be missing at the top though the schema demands them.

    Returns:
        The worst mismatch of each part of the file; every unknown key.
    """
    from jsonschema.exceptions import best_match

    parts: dict[tuple[str | int, ...], list[Any]] = {}
    for error in _validator(name).iter_errors(mapping):
        if error.validator == "required" and not error.absolute_path:
            missing = [key for key in error.validator_value if key not in mapping]
            if set(missing) <= set(optional):
                continue
        parts.setdefault(tuple(error.absolute_path), []).append(error)
    for errors in parts.values():
        # A mistyped key is also a missing one; the typo is what to tell.
        unknown = [error for error in errors if error.validator == "additionalProperties"]
        yield from _misfits_of(best_match(unknown) or best_match(errors), mapping, optional)


_KINDS = {
    "string": "a value",
    "array": "a list, '[one, other]'",
    "object": "a mapping, 'key: value'",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
    "null": "nothing",
}
"""What a rule file can hold, by its name in JSON Schema."""


def _misfits_of(error: Any, mapping: Mapping, optional: Sequenced[str]) -> Iterator[Misfit]:
    """The misfits that one mismatch comes to, in words for a person and with their places."""
    holder: Any = mapping
    place = mapping.place
    for step in error.absolute_path:
        found = holder.places[step]
        place = found[1] if isinstance(holder, Mapping) else found
        holder = holder[step]
    path = tuple(error.absolute_path)
    where = ".".join(str(step + 1) if isinstance(step, int) else step for step in path)
    lead = f"{where}: " if where else ""
    if error.validator == "additionalProperties":
        known = error.schema["properties"]
        for key in holder:
            if key not in known:
                words = f"{lead}the key '{key}' is not known here; {choices(key, known)}"
                yield Misfit(path, Problem(words, holder.places[key][0]))
        return
    words = error.message
    if error.validator == "required":
        missing = [key for key in error.validator_value if key not in holder]
        quoted = " and ".join(f"'{key}'" for key in missing if where or key not in optional)
        many = "s" * (" and " in quoted)
        words = f"the key{many} {quoted} {'are' if many else 'is'} missing here"
    elif error.validator == "enum":
        words = f"'{holder}' is not known here; {choices(str(holder), error.validator_value)}"
    elif holder is None:
        words = "there is no value here; write one, or leave the key out"
    elif error.validator == "type" and path[-1:] == ("source",):
        words = (
            "write the id of a source here, 'source: our-manual'; describe it in "
            "sources.yaml, under 'sources:'"
        )
    elif error.validator == "type":
        found = "a list" if isinstance(holder, Sequence) else "a mapping"
        found = f"'{holder}'" if isinstance(holder, str) else found
        kinds = error.validator_value
        named = [_KINDS[kind] for kind in ([kinds] if isinstance(kinds, str) else kinds)]
        words = f"this is {found}; write {' or '.join(named)}"
    yield Misfit(path, Problem(f"{lead}{words}", place))
