"""Every public function of the physics says what it takes and gives, in which unit, and by what."""

import ast
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

import checker.physics

FOLDER = Path(checker.physics.__file__).parent
SECTION = "\n\n{}:\n"


class Public(NamedTuple):
    """A public function, or method of a public class."""

    place: str
    node: ast.FunctionDef


def functions(body: list[ast.stmt], place: str) -> Iterator[Public]:
    """Those in this body, in order."""
    for node in body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            yield from functions(node.body, f"{place}.{node.name}")
        elif isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield Public(f"{place}.{node.name}", node)


def decorators(node: ast.FunctionDef) -> set[str]:
    return {ast.unparse(one) for one in node.decorator_list}


PUBLIC = [
    one
    for path in sorted(FOLDER.glob("*.py"))
    for one in functions(ast.parse(path.read_text("utf-8")).body, path.stem)
    if "overload" not in decorators(one.node)
]


def section(text: str, title: str) -> str:
    """What stands under a title, to the next blank line; empty where there is none."""
    _, _, rest = text.partition(SECTION.format(title))
    return rest.split("\n\n")[0]


@pytest.mark.parametrize("public", PUBLIC, ids=lambda one: one.place)
def test_a_public_function_says_what_it_takes_and_gives(public: Public) -> None:
    node = public.node
    text = ast.get_docstring(node) or ""
    assert text, "no docstring"
    taken = node.args.posonlyargs + node.args.args + node.args.kwonlyargs
    names = [one.arg for one in taken if one.arg not in ("self", "cls")]
    told = [
        line.strip().partition(":")[0]
        for line in section(text, "Args").splitlines()
        if line.startswith("    ") and not line.startswith("     ")
    ]
    assert told == names
    gives = node.returns is not None and ast.unparse(node.returns) != "None"
    if gives and "property" not in decorators(node):
        assert section(text, "Returns")
    if any(isinstance(one, ast.Raise) for one in ast.walk(node)):
        assert section(text, "Raises")


@pytest.mark.parametrize(
    "public",
    [one for one in PUBLIC if "elementwise" in decorators(one.node)],
    ids=lambda one: one.place,
)
def test_a_formula_names_its_source(public: Public) -> None:
    assert section(ast.get_docstring(public.node) or "", "Source")


def test_the_test_sees_the_physics() -> None:
    assert len(PUBLIC) > 120
    assert section("First.\n\nArgs:\n    a: m.\n\nReturns:\n    m.", "Args") == "    a: m."
