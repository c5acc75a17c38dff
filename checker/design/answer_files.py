"""Answers in a file beside their design: `house.answers.yaml` belongs to `house.yaml`.

`schemas/answers.schema.json` states the format: that of `seen` in a design. Every mistake is
reported with its line and column.
"""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from checker.design.tables import BadDesign, Tables
from checker.design.taking import Walk
from checker.reading import bounded, yaml_reader
from checker.reading.design_files import answers_to, content_of_answers
from checker.reading.documents import Mapping, Problem, Sequence, shown
from checker.words import choices

FIRST = "answers: 1"
"""How every such file starts."""
KEYS = ("answers", "seen")


class AnswerFile(Struct, frozen=True):
    """Answers beside a design.

    Attributes:
        path: of their file.
        seen: each answer as it was typed.
    """

    path: str
    seen: Sequence


def beside(design: str) -> AnswerFile | None:
    """Read the answers in the file beside a design.

    Args:
        design: the path of the design, as the call named it.

    Returns:
        The answers with the path of their file; None where there is no such file.

    Raises:
        BadDesign: the file cannot be read, or has mistakes; each names the file, line and column.
    """
    path = answers_to(design)
    try:
        data = content_of_answers(design)
    except OSError as error:
        words = f"{path}: the answers cannot be read: {bounded.why(error)}."
        raise BadDesign([Problem(words)]) from None
    if data is None:
        return None
    try:
        return AnswerFile(path, read(data))
    except BadDesign as bad:
        lines = [f"{path}:{one.line}:{one.column}: {one.message}" for one in bad.problems]
        raise BadDesign([*map(Problem, lines)]) from None


def read(data: bytes) -> Sequence:
    """Read a file of answers.

    Args:
        data: its bytes.

    Returns:
        The answers as they were typed; empty where the file has none.

    Raises:
        BadDesign: with every mistake found, in the order of the file.
    """
    try:
        document = yaml_reader.read(data, first=FIRST)
    except Problem as problem:
        raise BadDesign([problem]) from None
    problems = [*_unknown_keys(document)]
    if document.get("answers") != "1":
        problems.append(Problem(f"The file starts with '{FIRST}'."))
    design = Mapping(document.place)
    design.update({"design": "1"})
    design.places["design"] = (document.place, document.place)
    if "seen" in document:
        design["seen"], design.places["seen"] = document["seen"], document.places["seen"]
    # Read as a design reads its own, so that both take and refuse the same.
    tables = Tables(keep=False)
    problems += Walk(tables, dict.fromkeys(tables.tables, 0), "").take(design, FIRST, data)
    if problems:
        raise BadDesign(sorted(problems, key=lambda one: (one.line, one.column)))
    seen = document.get("seen")
    return seen if isinstance(seen, Sequence) else Sequence(document.place)


def _unknown_keys(document: Mapping) -> Iterator[Problem]:
    for key in document:
        if key not in KEYS:
            words = f"The key '{shown(key)}' is not known here; {choices(shown(key), KEYS)}"
            yield Problem(words if words.endswith("?") else f"{words}.", document.places[key][0])
