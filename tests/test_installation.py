"""What the program imports is what its installation brings, and nothing heavy for little."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
NAMES = {"pyyaml": "yaml", "python-docx": "docx"}
"""Distributions that are imported by another name."""


def stated(requirements: list[str]) -> set[str]:
    """What requirements are imported as."""
    names = (re.split(r"[<>=!~\[; ]", one)[0].lower() for one in requirements)
    return {NAMES.get(name, name).replace("-", "_") for name in names}


def imported() -> dict[str, set[str]]:
    """For each package that is not Python's own nor ours, the modules that import it."""
    found = defaultdict(set)
    for file in sorted((ROOT / "checker").rglob("*.py")):
        for node in ast.walk(ast.parse(file.read_text("utf-8"))):
            modules = (
                [name.name for name in node.names]
                if isinstance(node, ast.Import)
                else [node.module or ""]
                if isinstance(node, ast.ImportFrom) and not node.level
                else []
            )
            for module in modules:
                found[module.partition(".")[0]].add(str(file.relative_to(ROOT / "checker")))
    return {name: files for name, files in found.items() if name not in OWN}


OWN = {"checker", "_sha2", *sys.stdlib_module_names}
"""`_sha2` is Python's own from 3.12 on."""


def test_every_import_is_of_a_stated_package_and_every_package_is_imported() -> None:
    needed = stated(PROJECT["dependencies"])
    extras = PROJECT["optional-dependencies"]
    more = stated([one for name in extras if name != "dev" for one in extras[name]])
    found = {*imported()}
    assert found - more == needed
    assert found <= needed | more


def test_nothing_heavy_is_installed_for_little() -> None:
    assert not {"matplotlib", "scipy"} & stated(PROJECT["dependencies"])


def test_data_frames_are_made_only_where_they_are_asked_for() -> None:
    assert imported()["pandas"] == {"library.py", "reports/parquet.py"}
