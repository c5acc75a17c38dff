"""A scratch git repository with a faulty design in it, and the command called there."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from checker.reading.package_data import data_folder
from tests.cli.calling import needed, prescreed
from tests.example import sound_but

SOURCE = Path(__file__).parents[2]
LONG = (
    ("150 mm, area: 12 m²", "100 mm, area: 12 m²"),
    ("length: 88 m", "length: 128 m"),
    ("  supply: 42 °C\n", "  supply: 40 °C\n"),
)
"""Changes that give one major fail: loop-length of loops.L1."""
DIRTY = sound_but(*LONG)
WAIVER = """\
waivers:
  - rule: loop-length
    subject: loops.L1
    reason: The maker allows 130 m.
    accepted_by: A. Designer
    accepted_on: 2026-03-12
    expires: 2026-12-31
"""
QUIET_HOST = {"GITHUB_ACTIONS": "", "NO_COLOR": "1"}
"""The environment of no CI host, and of a terminal without colours."""


class Repository:
    """A scratch git repository, and the command called in it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "designs").mkdir(parents=True)
        self.git("init", "--quiet", "--initial-branch=main")

    def git(self, *words: str) -> str:
        done = subprocess.run(
            [needed("git"), "-c", "user.name=Test", "-c", "user.email=test@example.invalid", *words],
            cwd=self.folder, capture_output=True, text=True, check=True,
        )  # fmt: skip
        return done.stdout

    def commit(self) -> None:
        self.git("add", "--all")
        self.git("commit", "--quiet", "--message", "a step")

    def put(self, name: str, text: str) -> None:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")

    def run(
        self, *words: str, stdin: bytes = b"", **environment: str
    ) -> subprocess.CompletedProcess[str]:
        return prescreed(*words, stdin=stdin, cwd=self.folder, **QUIET_HOST | environment)

    def status(self, *words: str) -> int:
        return self.run("check", *words).returncode

    def json(self, *words: str, stdin: bytes = b"") -> Any:
        done = self.run("check", "--format", "json", *words, stdin=stdin)
        report = json.loads(done.stdout)
        schema = json.loads((data_folder("schemas") / "report.schema.json").read_text("utf-8"))
        Draft202012Validator(schema).validate(report)
        return report


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    """With one faulty design, committed."""
    made = Repository(tmp_path / "work")
    made.put("designs/house.yaml", DIRTY)
    made.commit()
    return made


def of(report: Any, rule: str, subject: str, design: int = 0) -> Any:
    """The one result of a rule for a subject in a JSON report."""
    (found,) = [
        r
        for r in report["designs"][design]["results"]
        if (r["rule"], r["subject"]) == (rule, subject)
    ]
    return found
