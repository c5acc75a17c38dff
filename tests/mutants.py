"""Do the tests see it when the program is wrong? Mutants of the parts that decide a verdict.

python -m tests.mutants [--sample N] [--seed S] [NAME …]

Each mutant is a copy of the project with one operator, number or condition changed (by Cosmic Ray;
extra `mutants`). The tests named for its module are run on it: they should fail. Prints each mutant
that lived, and the share that was killed of each module. Whole, it takes hours; a sample, minutes.
The sample of a module depends on the seed and its name alone.
"""

from __future__ import annotations

import argparse
import ast
import difflib
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import redirect_stdout
from io import StringIO
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple

import pytest

ROOT = Path(__file__).parents[1]
COPIED = ("checker", "rules", "schemas", "tests", "example_designs", "pyproject.toml", "README.md")
LONGEST = 120
"""Seconds of processor time that a mutant may take, and ten times as many by the clock: some never
end, and on a busy machine the others take long."""
QUIET = ("-qqq", "--tb=no", "-p", "no:cacheprovider")
TESTS = {
    "checker/physics/arrays.py": ("tests/physics/test_arrays.py",),
    "checker/physics/balance.py": ("tests/physics/test_balance.py", "tests/published/test_one_house.py"),
    "checker/physics/build_up.py": ("tests/physics/test_section_in_parts.py", "tests/physics/test_section.py"),
    "checker/physics/carried.py": ("tests/physics/test_carried.py",),
    "checker/physics/conduction.py": ("tests/physics/test_section_in_parts.py", "tests/physics/test_section.py"),
    "checker/physics/en_1264.py": ("tests/physics/test_floor.py", "tests/published/test_en1264.py"),
    "checker/physics/film.py": ("tests/quantities/test_section.py", "tests/published/test_section.py"),
    "checker/physics/floor.py": ("tests/physics/test_floor.py", "tests/published/test_en1264.py"),
    "checker/physics/floor_coefficient.py": ("tests/physics/test_floor.py", "tests/published/test_en1264.py"),
    "checker/physics/floor_surface.py": ("tests/physics/test_floor.py", "tests/published/test_en1264.py"),
    "checker/physics/fluid.py": ("tests/physics/test_fluid.py", "tests/published/test_water.py", "tests/published/test_glycol.py"),
    "checker/physics/friction.py": ("tests/physics/test_friction.py", "tests/published/test_friction.py"),
    "checker/physics/header.py": ("tests/physics/test_header.py",),
    "checker/physics/instruments.py": ("tests/physics/test_tightness.py", "tests/quantities/test_tightness.py"),
    "checker/physics/leak.py": ("tests/physics/test_leak.py",),
    "checker/physics/leak_fit.py": ("tests/physics/test_tightness.py", "tests/quantities/test_tightness.py"),
    "checker/physics/mixed_section.py": ("tests/quantities/test_section.py", "tests/physics/test_carried.py"),
    "checker/physics/network.py": ("tests/physics/test_network.py", "tests/published/test_water_network.py"),
    "checker/physics/section.py": ("tests/physics/test_section_in_parts.py", "tests/physics/test_section.py", "tests/quantities/test_section.py"),
    "checker/physics/section_around_pipe.py": ("tests/physics/test_section_in_parts.py", "tests/physics/test_section.py"),
    "checker/physics/section_bounds.py": ("tests/physics/test_section.py",),
    "checker/physics/section_grid.py": ("tests/physics/test_section_in_parts.py", "tests/physics/test_section.py"),
    "checker/physics/section_in_parts.py": ("tests/physics/test_section_in_parts.py", "tests/physics/test_section.py"),
    "checker/physics/section_with_pipe.py": ("tests/physics/test_section_in_parts.py", "tests/physics/test_section.py"),
    "checker/physics/shares.py": ("tests/published/test_seven_rooms.py", "tests/quantities/test_house.py", "tests/published/test_one_house.py"),
    "checker/physics/shelf.py": ("tests/run/test_section_shelf.py",),
    "checker/physics/slackening.py": ("tests/physics/test_tightness.py",),
    "checker/physics/tightness.py": ("tests/physics/test_tightness.py", "tests/quantities/test_tightness.py"),
    "checker/compute/graph.py": ("tests/compute/test_graph.py", "tests/compute/test_members.py", "tests/compute/test_settling.py", "tests/outcome/test_findings.py"),
    "checker/compute/members.py": ("tests/compute/test_members.py", "tests/compute/test_graph.py", "tests/outcome/test_findings.py"),
    "checker/compute/reasons.py": ("tests/compute/test_graph.py", "tests/outcome/test_findings.py"),
    "checker/compute/settling.py": ("tests/compute/test_settling.py", "tests/quantities/test_section.py"),
    "checker/rulebook/evaluation.py": ("tests/rulebook/test_evaluation.py", "tests/rulebook/test_comparisons.py", "tests/rulebook/test_limits.py"),
    "checker/rulebook/outcomes.py": ("tests/rulebook/test_evaluation.py", "tests/rulebook/test_comparisons.py", "tests/rulebook/test_limits.py"),
    "checker/notes/waivers.py": ("tests/notes/test_waivers.py", "tests/cli/test_gate.py"),
    "checker/notes/baseline.py": ("tests/notes/test_baseline.py", "tests/cli/test_known.py"),
    "checker/run/cache.py": ("tests/run/test_cache_file.py", "tests/run/test_cache.py"),
    "checker/outcome/status.py": ("tests/outcome/test_status.py", "tests/outcome/test_verdict.py", "tests/cli/test_gate.py"),
}  # fmt: skip
"""The modules, and for each the tests that hold it, the quickest first."""


class Mutant(NamedTuple):
    """A module with one thing in it changed; name: of the change."""

    module: str
    name: str
    text: str

    def difference(self) -> str:
        """What is changed, line by line."""
        before = (ROOT / self.module).read_text("utf-8").splitlines()
        lines = difflib.unified_diff(before, self.text.splitlines(), lineterm="", n=0)
        return "\n".join(line for line in lines if not line.startswith(("---", "+++")))


NOT_TRIED = (
    "RemoveDecorator", "VariableInserter", "VariableReplacer", "BitAnd_Mul", "BitOr_Add",
)  # fmt: skip
"""A quantity without its decorator is not registered, so that the import fails; the next two name
the variables that they change; of arrays of truths, * is & and + is |."""


def mutants(module: str, chance: random.Random) -> Iterator[Mutant]:
    """All of a module, mixed, but for those that change only what Python never evaluates."""
    from cosmic_ray.ast import get_ast
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator, operator_names

    text = (ROOT / module).read_text("utf-8")
    own, nodes = evaluated(text), [*_nodes(get_ast(text))]
    places = []
    for name in sorted(operator_names()):
        if not any(one in name for one in NOT_TRIED):
            made: Any = get_operator(name)()
            count = sum(1 for node in nodes for _ in made.mutation_positions(node))
            places += [(name, made, number) for number in range(count)]
    chance.shuffle(places)
    for name, made, number in places:
        changed = mutate_code(text, made, number)
        if changed is not None and evaluated(changed) not in ("", own):
            yield Mutant(module, name.removeprefix("core/"), changed)


def _nodes(tree: Any) -> Iterator[Any]:
    yield tree
    for child in getattr(tree, "children", ()):
        yield from _nodes(child)


def evaluated(text: str) -> str:
    """The code without annotations and docstrings; empty where it is none."""
    try:
        tree = ast.parse(text)
    except SyntaxError:
        return ""
    for node in ast.walk(tree):
        for name in ("annotation", "returns"):
            if getattr(node, name, None) is not None:
                setattr(node, name, None if name == "returns" else ast.Constant(0))
    return ast.dump(tree)


def passes(module: str, folder: Path) -> bool:
    """Whether the tests of a module pass in this copy of the project.

    Tried in a process forked from this one, which has all libraries; it imports the project anew.
    """
    child = os.fork()
    if not child:
        status = 1
        try:
            status = _tested(module, folder)
        finally:
            os._exit(status)
    return os.waitpid(child, 0)[1] == 0


def _tested(module: str, folder: Path) -> int:
    """0 where every test passes; in a forked process alone, since it forgets the project."""
    resource.setrlimit(resource.RLIMIT_CPU, (LONGEST, LONGEST))
    signal.alarm(10 * LONGEST)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    os.chdir(folder)
    for name in [one for one in sys.modules if one.split(".")[0] in ("checker", "tests")]:
        del sys.modules[name]
    sys.path.insert(0, str(folder))
    sys.dont_write_bytecode = True
    os.environ |= {"PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
    return int(any(pytest.main([*QUIET, "-x", name]) for name in TESTS[module]))


def main(words: list[str]) -> int:
    """Print the mutants that lived; the status is 1 where more than a tenth did."""
    made = argparse.ArgumentParser(description=__doc__)
    made.add_argument("--sample", type=int, default=0, help="so many of each module; 0: all")
    made.add_argument("--seed", type=int, default=0)
    made.add_argument("names", nargs="*", help="only modules whose path has one of these in it")
    given = made.parse_args(words)
    killed: Counter[str] = Counter()
    tried: Counter[str] = Counter()
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for name in COPIED:
            copied = shutil.copytree if (ROOT / name).is_dir() else shutil.copy
            copied(ROOT / name, folder / name)
        for module in TESTS:
            if given.names and not any(name in module for name in given.names):
                continue
            with redirect_stdout(StringIO()):  # for the libraries
                pytest.main([*QUIET, "--collect-only", *TESTS[module]])
            if not passes(module, folder):
                sys.exit(f"{module}: its tests fail without any change.")
            chance = random.Random(f"{given.seed} {module}")
            for mutant in islice(mutants(module, chance), given.sample or None):
                tried[module] += 1
                (folder / module).write_text(mutant.text, "utf-8")
                if passes(module, folder):
                    print(f"{module} {mutant.name}\n{mutant.difference()}\n", flush=True)
                else:
                    killed[module] += 1
            shutil.copy(ROOT / module, folder / module)
            print(f"{module}: {killed[module]} of {tried[module]} killed", flush=True)
    print(f"all: {killed.total()} of {tried.total()} killed")
    return int(killed.total() < 0.9 * tried.total())


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
