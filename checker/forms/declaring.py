"""Reads descriptions of forms from YAML files, and completes them from the design format."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from checker.design.leaves import FALSE, TRUE, Leaf
from checker.design.schema import path
from checker.forms.model import UNITS, Block, Check, Form, Page, Question, Record
from checker.intake.fields import fields
from checker.reading import yaml_reader

HERE = Path(__file__).parent


@cache
def house() -> Form:
    """The form for a house, which `prescreed new` writes."""
    return load(HERE / "house.yaml")


@cache
def forms() -> dict[str, Form]:
    """Every form of the design format, by name."""
    from checker.forms.whole import whole

    return {form.name: form for form in (house(), whole())}


def load(file: Path) -> Form:
    """Read a form's description from one of the program's YAML files.

    Args:
        file: its path; the file is ours, so a fault in it is not put in words for a user.

    Returns:
        The form, its questions completed from the design format.
    """
    node = yaml_reader.read(file.read_bytes(), first="form:")
    example = {
        block: tuple(Record(name, dict(values)) for name, values in records.items())
        for block, records in node.get("example", {}).items()
    }
    pages = tuple(
        Page(
            page["name"],
            page.get("title", page["name"]),
            tuple(_block(name, block) for name, block in page["blocks"].items()),
            page.get("note", ""),
        )
        for page in node["pages"]
    )
    return Form(node["form"], node["title"], pages, int(node["version"]), example)


def _block(name: str, node: Mapping[str, Any]) -> Block:
    return Block(
        name,
        node["title"],
        tuple(
            question(to, **(asked if isinstance(asked, dict) else {"title": asked or ""}))
            for to, asked in node["asks"].items()
        ),
        node.get("key", ""),
        node.get("across", "yes") in TRUE,
        int(node.get("places", 1)),
        node.get("names", ""),
        node.get("note", ""),
        tuple(
            Check(one["says"], tuple(one.get("twice", ())), one.get("about", ""),
                  tuple(one.get("of", ())))
            for one in node.get("checks", ())
        ),
    )  # fmt: skip


def question(to: str, title: str = "", note: str = "", decides: str = "no", names: str = "",
             example: str = "", unit: str = "") -> Question:  # fmt: skip
    """A question about a field of the design format.

    Args:
        to: the field's dotted name, such as `loops.spacing`.
        title: what it is called; the field's name where empty.
        note: an explanation; the format's description where empty.
        decides: `yes` where much depends on the answer.
        names: the block whose records' names are the choices; where empty, the section that the
            field refers to.
        example: a value that shows how to answer; the format's example where empty.
        unit: the unit that is offered first; that of the example where empty.

    Returns:
        The question with the field's kind, bounds and choices, and the units to choose from.
    """
    leaf = leaf_of(to)
    example = example or leaf.example
    usual = unit or (example.partition(" ")[2] if leaf.kind == "quantity" else "")
    return Question(
        to,
        title or to.rpartition(".")[2].replace("_", " ").capitalize(),
        leaf,
        note or described().get(_plain(to), ""),
        UNITS.get(usual, (usual,) if usual else ()),
        example,
        names or leaf.refers_to,
        decides in TRUE,
    )


def leaf_of(to: str) -> Leaf:
    """The kind, bounds and choices of a field of the design format.

    Args:
        to: the field's dotted name; of a default, such as `defaults.loops.zone`, the field itself
            counts.

    Returns:
        What the format's schema says of it.
    """
    return fields()[_plain(to)].leaf


def _plain(to: str) -> str:
    return to.removeprefix("defaults.")


@cache
def described() -> dict[str, str]:
    """The description of each field in the format's schema, by dotted name without ids."""
    found: dict[str, str] = {}

    def take(node: Mapping[str, Any], name: str) -> None:
        if "description" in node:
            found[name] = node["description"]
        inner = node.get("properties") or node.get("items", {}).get("properties", {})
        for one in node.get("oneOf", ()):
            inner = inner or one.get("items", {}).get("properties", {})
        if isinstance(node.get("additionalProperties"), dict):
            inner = node["additionalProperties"].get("properties", {})
        for key, member in inner.items():
            take(member, f"{name}.{key}" if name else key)

    take(json.loads(Path(path()).read_text("utf-8")), "")
    return found


def truth(text: str) -> str:
    """A truth value as a form shows it: yes or no."""
    return "yes" if text.lower() in TRUE else "no" if text.lower() in FALSE else text
