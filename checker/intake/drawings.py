"""Turns a DXF drawing into the `plan:` of a design, and proposes a first map for a drawing."""

from __future__ import annotations

import os
import re
from collections import Counter

from checker.design.drawings import FIRST, BadMap, DrawingMap, load, read
from checker.geometry.dxf import UNITS, Unread, read_drawing
from checker.geometry.writing import as_text
from checker.words import visible

ENDINGS = (".dxf",)
WORDS = {
    "routes": ("ufh", "loop", "circuit", "pipe", "heiz", "kreis", "rohr", "boucle", "heat"),
    "rooms": ("room", "raum", "space", "zone", "pièce", "piece"),
    "joints": ("joint", "fuge", "expansion"),
    "fixed": ("fixed", "furni", "unit", "bath", "sanit", "kitchen", "möbel"),
    "keep_clear": ("chimney", "shaft", "flue", "kamin", "schacht", "clear"),
    "outer_walls": ("outer", "external", "exterior", "aussen", "außen"),
    "headers": ("header", "manifold", "collector", "verteiler"),
}
"""For each part of a plan, the words by which a layer's name suggests it."""

__all__ = ["ENDINGS", "BadMap", "DrawingMap", "Unread", "load", "plan_text", "suggest"]


def plan_text(name: str, drawing: bytes, how: DrawingMap) -> tuple[str, list[str]]:
    """Write the plan of a drawing as a design file.

    Args:
        name: the drawing's name, for comments.
        drawing: the bytes of the DXF file.
        how: the map, which says what each layer holds.

    Returns:
        The text of the design file, and the remarks to review.

    Raises:
        Unread: the drawing cannot be read.
    """
    made, unit, metre = read(drawing, how)
    plan = made.plan
    pipe = sum(path.length for path in plan.routes.values())
    said = [
        f"# The plan in {name}: {len(plan.rooms)} rooms, {len(plan.routes)} routes, "
        f"{pipe:.1f} m of pipe.",
        *(f"# Look at: {one}." for one in plan.remarks),
        *(f"# {one}." for one in made.notes),
        *(f"# Layer not used: {layer} ({count})." for layer, count in made.unused.items()),
    ]
    text = "\n".join(map(visible, said)) + f"\ndesign: 1\n{as_text(plan, unit, metre)}"
    return text, [*map(visible, plan.remarks)]


def suggest(name: str, drawing: bytes) -> str:
    """Propose a map for a drawing from the names of its layers; someone should read it before use.

    Args:
        name: the drawing's name, for comments.
        drawing: the bytes of the DXF file.

    Returns:
        The text of a map file, with comments on what to look at and on the layers left out.

    Raises:
        Unread: the drawing cannot be read.
    """
    found = read_drawing(drawing, lambda layer: True, 1.0)
    parts: dict[str, list[str]] = {part: [] for part in WORDS}
    others: list[str] = []
    for layer in sorted(found.layers):
        part = next((p for p, words in WORDS.items() if _says(layer, words)), "")
        (parts[part] if part else others).append(layer)
    drawn: Counter[str] = Counter(line.layer for line in found.lines)
    written = {label.layer for label in found.labels}
    labels: list[str] = []
    for part, layers in parts.items():
        # A layer of nothing but texts holds the names of what lies on others.
        labels += [layer for layer in layers if layer in written and not drawn[layer]]
        parts[part] = [layer for layer in layers if layer not in labels]
    routes = [layer for layer in parts["routes"] if drawn[layer]]
    named_by = "layer" if len(routes) > 1 else "text"
    said = [
        f"# How to read {os.path.basename(name)}: proposed from the names of its layers. Read it "
        "through and correct it.",
        FIRST,
    ]
    if found.unit:
        said.append(f"unit: {found.unit}    # as the drawing says; rooms' areas will tell")
    else:
        words = ", ".join(word for word, _ in UNITS.values() if word != "dm")
        said.append(f"unit:    # the drawing names none: write one of {words}")
    said += [
        "gap: 10 mm      # line ends no farther apart are one",
        "# bend: 75 mm   # radius, where corners are drawn sharp",
        f"named_by: {named_by}  # a pipe's name: layer (what '*' stands for), or the text nearest",
        f"{_labels(labels)}  # layers whose texts name rooms, pipes or headers, besides their own",
        "layers:",
    ]
    for part, layers in parts.items():
        own = routes if part == "routes" else layers
        patterns = _pattern(own) if part == "routes" and named_by == "layer" else own
        if patterns:
            said.append(f"  {part}: [{', '.join(map(_quoted, patterns))}]")
        else:
            said.append(f"  # {part}: [NAME]")
    if others:
        said.append("# Layers that no word speaks of, with their lines and texts:")
        said += [f"#   {layer}: {found.layers[layer]}" for layer in others]
    said += [f"# Look at: {one}." for one in found.remarks]
    return "\n".join(map(visible, said)) + "\n"


def _labels(layers: list[str]) -> str:
    return f"labels: [{', '.join(map(_quoted, layers))}]" if layers else "# labels: TAGS"


def _says(layer: str, words: tuple[str, ...]) -> bool:
    return any(word in layer.casefold() for word in words)


def _pattern(layers: list[str]) -> list[str]:
    """One pattern for layers whose names begin alike, else each layer's name."""
    first, last = min(layers, default=""), max(layers, default="")
    start = next(
        (first[:place] for place in range(len(first), 0, -1) if last.startswith(first[:place])), ""
    )
    start = re.sub(r"[A-Za-z]*\d*$", "", start)
    return [f"{start}*"] if len(start) >= 2 else layers


def _quoted(name: str) -> str:
    return "'" + name.replace("'", "''") + "'"
