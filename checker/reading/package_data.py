"""Where the program's own data lie."""

from __future__ import annotations

from pathlib import Path


def rule_files(folder: Path) -> list[Path]:
    """The files of a folder of rules, or the one file that is named instead."""
    return sorted(folder.rglob("*.yaml")) if folder.is_dir() else [folder]


def data_folder(name: str) -> Path:
    """The folder `rules` or `schemas`: inside the installed package, else beside it."""
    package = Path(__file__).parents[1]
    packaged = package / "data" / name
    return packaged if packaged.is_dir() else package.parent / name
