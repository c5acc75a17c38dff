"""What one package takes from another says what it takes and gives, in which unit, and by what."""

import ast
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest

import checker

ROOT = Path(checker.__file__).parent
SECTION = "\n\n{}:\n"
DECLARED = {"quantities", "cli"}
"""Where what is taken and given stands in one place for all. A quantity's decorator has the unit,
the formula and the source, and each parameter is another quantity or a field of the format, by
name; a command takes the words after its name, which its parser describes, and gives the exit
status."""


class Public(NamedTuple):
    """A function without an underscore, or a method of such a class."""

    package: str
    place: str
    node: ast.FunctionDef | ast.AsyncFunctionDef

    @property
    def decorators(self) -> set[str]:
        return {ast.unparse(one) for one in self.node.decorator_list}

    @property
    def docstring(self) -> str:
        return ast.get_docstring(self.node) or ""

    @property
    def parameters(self) -> list[str]:
        given = self.node.args
        names = [one.arg for one in given.posonlyargs + given.args]
        rest = [f"*{given.vararg.arg}"] if given.vararg else []
        rest += [one.arg for one in given.kwonlyargs]
        rest += [f"**{given.kwarg.arg}"] if given.kwarg else []
        return [name for name in names if name not in ("self", "cls")] + rest

    @property
    def gives(self) -> bool:
        found = self.node.returns
        return found is not None and ast.unparse(found) not in ("None", "Never", "NoReturn")

    @property
    def raises(self) -> bool:
        """Whether it raises an exception itself, not counting functions within it."""
        return any(isinstance(one, ast.Raise) and one.exc for one in _statements(self.node))


def _statements(node: ast.AST) -> Iterator[ast.AST]:
    inner = (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda)
    for child in ast.iter_child_nodes(node):
        if not isinstance(child, inner):
            yield child
            yield from _statements(child)


def _functions(body: list[ast.stmt], package: str, place: str) -> Iterator[Public]:
    for node in body:
        name = getattr(node, "name", "_")
        if name.startswith("_"):
            continue
        if isinstance(node, ast.ClassDef):
            yield from _functions(node.body, package, f"{place}.{name}")
        elif isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            yield Public(package, f"{place}.{name}", node)


def _used(trees: dict[Path, ast.Module]) -> dict[str, set[str]]:
    """For each name the packages that import it or ask an object for it."""
    found: dict[str, set[str]] = defaultdict(set)
    for path, tree in trees.items():
        package = path.relative_to(ROOT).parts[0]
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom):
                for one in node.names:
                    found[one.name].add(package)
            elif isinstance(node, ast.Attribute):
                found[node.attr].add(package)
    return found


@cache  # it parses the whole program, so not when tests are collected
def public() -> list[Public]:
    """Every public function of the physics, and elsewhere those that another package uses."""
    trees = {path: ast.parse(path.read_text("utf-8")) for path in sorted(ROOT.rglob("*.py"))}
    used = _used(trees)
    return [
        one
        for path, tree in trees.items()
        for one in _functions(
            tree.body,
            path.relative_to(ROOT).parts[0],
            path.relative_to(ROOT).with_suffix("").as_posix().replace("/", "."),
        )
        if one.package not in DECLARED
        and "overload" not in one.decorators
        and (one.package == "physics" or used[one.node.name] - {one.package})
    ]


def section(text: str, title: str) -> str:
    """What stands under a title, to the next blank line; empty where there is none."""
    _, _, rest = text.partition(SECTION.format(title))
    return rest.split("\n\n")[0]


def lacking(one: Public) -> list[str]:
    """What its docstring does not say."""
    found = []
    if not one.docstring:
        found.append("a docstring")
    described = [
        line.strip().partition(":")[0]
        for line in section(one.docstring, "Args").splitlines()
        if line.startswith("    ") and not line.startswith("     ")
    ]
    found += [f"Args: {name}" for name in one.parameters if name not in described]
    found += [f"no parameter {name}" for name in described if name not in one.parameters]
    asked = one.parameters or (one.package == "physics" and "property" not in one.decorators)
    if asked and one.gives:
        found += (
            []
            if section(one.docstring, "Returns") or section(one.docstring, "Yields")
            else ["Returns"]
        )
    if one.raises and not section(one.docstring, "Raises"):
        found.append("Raises")
    if "elementwise" in one.decorators and not section(one.docstring, "Source"):
        found.append("Source")
    return found


PACKAGES = sorted({path.relative_to(ROOT).parts[0] for path in ROOT.rglob("*.py")} - DECLARED)


@pytest.mark.parametrize("package", PACKAGES)
def test_a_function_for_others_says_what_it_takes_and_gives(package: str) -> None:
    found = {one.place: lacking(one) for one in public() if one.package == package}
    assert {place: what for place, what in found.items() if what} == {}


def test_the_test_sees_what_is_lacking() -> None:
    assert len(public()) > 1_000
    (node,) = ast.parse(
        'def f(a: int, *, b: int) -> int:\n    """First.\n\n    Args:\n        a: m.\n    """\n    raise OSError'
    ).body
    assert isinstance(node, ast.FunctionDef)
    assert lacking(Public("run", "run.f", node)) == ["Args: b", "Returns", "Raises"]
