"""Writes a design file to complete: the form's example as comments, with the form's
explanations.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from textwrap import wrap
from typing import Any

from checker import units
from checker.design.schema import Collection, Record, design_format
from checker.forms.declaring import described
from checker.forms.model import Form
from checker.intake.fields import fields
from checker.intake.sheets import figure
from checker.intake.values import typed
from checker.intake.writing import scalar

HEAD = """\
# yaml-language-server: $schema=./design.schema.json
# A design to fill in; 'prescreed schema design --output design.schema.json' writes the file that
# the line above names, and an editor then completes and explains every key.
# The lines that begin with # show an example: take the # away and write your own values.
# Every quantity has its unit. What is left out is asked for, never guessed.
design: 1
"""
US_UNITS = {"m": "ft", "mm": "in", "m²": "ft²", "W": "Btu/h", "°C": "°F", "K": "°F"}
"""For each unit of the example the one that is written instead."""


def starter(form: Form, known: Mapping[str, str], *, us: bool = False) -> str:
    """Write the file.

    Args:
        form: the form whose example and explanations are used.
        known: values to fill in, by field.
        us: whether to write feet, inches and °F.

    Returns:
        The text of a design file, all examples commented out.
    """
    tree: dict[str, Any] = {}
    for block in form.blocks:
        for record in form.example.get(block.name, ()):
            values = {to: _in_us(to, text) if us else text for to, text in record.values.items()}
            _put(tree, block.key, record.name, values)
    lines = [HEAD]
    top = design_format().top
    for section, member in top.members.items():
        if section not in tree or not isinstance(member, Record | Collection):
            continue
        lines += _section(section, member, tree[section], known)
    return "\n".join(lines) + "\n"


def _put(tree: dict[str, Any], key: str, name: str, values: Mapping[str, str]) -> None:
    """Put a record of the example into the tree of a design."""
    room = values.get("loops.room", "")
    for to, text in values.items():
        section, _, rest = to.partition(".")
        holder = tree.setdefault(section, {})
        if section == "rooms" and room:
            holder = holder.setdefault(room, {})
        elif key:
            holder = holder.setdefault(name, {})
        *way, last = rest.split(".")
        for step in way:
            holder = holder.setdefault(step, {})
        holder[last] = typed(fields()[to.removeprefix("defaults.")].leaf, text)


def _section(name: str, member: Any, value: Any, known: Mapping[str, str]) -> Iterator[str]:
    """The lines of a section: what it is about, what is known of it, the example as a comment."""
    yield ""
    about = described().get(name, "")
    yield from wrap(about, 99, initial_indent="# ", subsequent_indent="# ")
    given = {to.partition(".")[2]: text for to, text in known.items() if to.startswith(f"{name}.")}
    if isinstance(member, Collection) or name == "defaults":
        yield f"# {name}:"
        for key, record in value.items():
            yield f"#   {scalar(key)}: {_flow(record)}"
        return
    if given:
        yield f"{name}: {_flow(given)}"
    left = {key: inner for key, inner in value.items() if key not in given}
    yield f"# {name}: {_flow({**given, **left})}"


def _flow(value: Any) -> str:
    """A value as YAML in one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {_flow(inner)}" for key, inner in value.items()) + "}"
    return scalar(value)


def _in_us(to: str, text: str) -> str:
    """A value of the example in feet, inches or °F, to three digits."""
    leaf = fields()[to.removeprefix("defaults.")].leaf
    unit = text.partition(" ")[2]
    if leaf.kind != "quantity" or unit not in US_UNITS:
        return text
    own = US_UNITS[unit]
    value = units.from_si(units.parse(text, leaf.quantity), own, leaf.quantity)
    return f"{figure(float(f'{value:.3g}'))} {own}"
