"""DEVELOPERS.md names only what there is, and every package and library."""

import ast
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from tests.example import DESIGN

Captured = pytest.CaptureFixture[bytes]

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "DEVELOPERS.md").read_text("utf-8")
BACKTICKED = re.findall(r"`([^`\n]+)`", re.sub(r"```.*?```", "", TEXT, flags=re.S))
CODE = "\n".join(re.findall(r"```\w*\n(.*?)```", TEXT, flags=re.S) + BACKTICKED)
PACKAGES = {one.parent.name: one.parent for one in ROOT.glob("checker/*/__init__.py")}
ROWS = {
    name: (what, modules)
    for name, what, modules in re.findall(r"^\| `checker/(\w+)/` \| (.+) \| (.+) \|$", TEXT, re.M)
}
DECLARED = {"cli", "quantities"}
"""Packages whose `__init__` lists its modules in code."""
PATHS = {
    one for one in BACKTICKED if re.fullmatch(r"[\w.-]+(/[\w.-]+)*(/|\.\w+)", one) and "/" in one
}
DOTTED = {
    one
    for one in [*BACKTICKED, *re.findall(r"\b(?:session|opened)\.\w+", CODE)]
    if re.fullmatch(r"[a-zA-Z_]\w*(\.[a-zA-Z_]\w*)+(\(.*)?", one)
    and one.rpartition(".")[2] not in ("py", "md", "yaml", "json", "toml")
}
"""Names such as `session.open_run`."""


def test_each_package_has_a_row_and_its_modules_exist() -> None:
    assert set(ROWS) == set(PACKAGES)
    for name, (_, modules) in ROWS.items():
        listed = re.findall(r"`(\w+)`", modules)
        assert listed, name
        missing = [one for one in listed if not _module(PACKAGES[name] / one)]
        assert missing == [], name


def _module(place: Path) -> bool:
    return place.with_suffix(".py").is_file() or place.is_dir()


def test_a_row_of_the_table_can_be_read_at_a_glance() -> None:
    assert {name: what for name, (what, _) in ROWS.items() if len(what) > 200} == {}


def test_what_a_package_says_of_the_order_of_its_modules_is_so() -> None:
    for name, folder in PACKAGES.items():
        said = ast.get_docstring(ast.parse((folder / "__init__.py").read_text("utf-8"))) or ""
        listed = re.findall(r"`([a-z_0-9]+)/?`", said)
        if len(listed) > 2:
            assert [one for one in listed if not _module(folder / one)] == [], name
        else:
            assert len([*folder.glob("*.py")]) <= 12 or name in DECLARED, name


def test_there_are_paths_and_names_to_look_for() -> None:
    assert len(PATHS) > 30
    assert len(DOTTED) > 15


def test_each_path_exists() -> None:
    missing = [
        path for path in PATHS if not any((top / path).exists() for top in (ROOT, ROOT / "checker"))
    ]
    assert missing == []


def test_each_dotted_name_is_defined() -> None:
    files = [*ROOT.glob("checker/**/*.py")]
    places = {one.stem for one in files} | set(PACKAGES)
    text = "\n".join(one.read_text("utf-8") for one in files)
    names = {part for one in DOTTED for part in one.partition("(")[0].split(".")} - places
    assert [one for one in names if not _is_defined(one, text)] == []


def _is_defined(name: str, text: str) -> bool:
    """Whether a line defines it: a function, a class, or a value."""
    for found in re.finditer(rf"{name}(?= *[:=(\[])", text):
        before = text[text.rfind("\n", 0, found.start()) + 1 : found.start()].strip()
        if before in ("", "def", "async def", "class", "self."):
            return True
    return False


def test_the_command_that_it_shows_works(tmp_path: Path, capfdbinary: Captured) -> None:
    shown: dict[str, Any] = {}
    exec(re.findall(r"```python\n(.*?)```", TEXT, flags=re.S)[0], shown)
    (tmp_path / "house.yaml").write_text(DESIGN, "utf-8")
    assert shown["run"]([str(tmp_path)]) == 0
    assert capfdbinary.readouterr().out == b"Test House: unproven\n"
    assert shown["run"]([str(tmp_path / "none.yaml")]) == 2


def test_each_script_exists() -> None:
    modules = [ROOT / one.replace(".", "/") for one in re.findall(r"-m (tests[\w.]*)", TEXT)]
    scripts = [place.with_suffix(".py") for place in modules]
    assert [
        one
        for one in scripts
        if not one.is_file() and not (one.with_suffix("") / "__main__.py").is_file()
    ] == []


def test_no_file_is_longer_than_it_says() -> None:
    (most,) = map(int, re.findall(r"is longer than (\d+) lines", TEXT))
    files = [*ROOT.glob("checker/**/*.py"), *ROOT.glob("tests/**/*.py")]
    long = {one.name for one in files if one.read_bytes().count(b"\n") > most}
    assert long == set()


def test_each_library_that_is_installed_has_its_reason() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"].values()
    wanted = {re.split(r"[\s<>=!\[;]", one)[0] for group in extras for one in group}
    wanted |= {re.split(r"[\s<>=!\[;]", one)[0] for one in project["dependencies"]}
    named = TEXT.split("## Libraries, and why")[1].lower()
    stubs = {one for one in wanted if one.startswith("types-") or one.endswith("-stubs")}
    assert {one for one in wanted - stubs if one.lower() not in named} == set()
