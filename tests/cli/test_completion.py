"""Completion scripts: every shell can read its own, and knows every command."""

from __future__ import annotations

import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

from checker.cli import COMMANDS
from checker.reports import FORMATS
from checker.run import rules_in_force
from tests.cli.calling import needed

SOURCE = Path(__file__).parents[2]


@cache
def script(shell: str) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "checker", "completion", shell],
        cwd=SOURCE, capture_output=True, text=True, check=True,
    )  # fmt: skip
    return done.stdout


def completed(*words: str) -> list[str]:
    """What bash offers after these words."""
    typed = " ".join(f"'{word}'" for word in words)
    ask = (
        f"{script('bash')}\nCOMP_WORDS=({typed}); COMP_CWORD={len(words) - 1}; _prescreed; "
        'printf "%s\\n" "${COMPREPLY[@]}"'
    )
    done = subprocess.run([needed("bash"), "-c", ask], capture_output=True, text=True, check=True)
    assert done.stderr == ""
    return done.stdout.split()


def test_bash_completes_commands_options_and_values() -> None:
    assert set(completed("prescreed", "")) == {*COMMANDS, "--help", "--version"}
    assert completed("prescreed", "fre") == ["freeze"]
    assert completed("prescreed", "check", "--fail-on-") == ["--fail-on-open"]
    assert set(completed("prescreed", "check", "--format", "")) == set(FORMATS)
    assert completed("prescreed", "check", "designs/") == []


def test_bash_completes_the_ids_of_rules_and_codes_where_they_stand() -> None:
    heads = rules_in_force.heads(rules_in_force.compiled_rules((), None))
    rules = {rule.id for rule in heads.rules}
    assert set(completed("prescreed", "explain", "house.yaml", "")) == rules
    assert completed("prescreed", "explain", "house.yaml", "supply-ef") == ["supply-efficient"]
    assert completed("prescreed", "explain", "supply-ef") == []
    assert completed(
        "prescreed",
        "rules",
        "floor-sec",
    ) == ["floor-section"]
    assert completed("prescreed", "check", "--fail-on-open", "room-h") == ["room-heat"]
    assert set(completed("prescreed", "check", "--codes", "")) == set(heads.codes)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_shell_can_read_it(shell: str) -> None:
    text = script(shell)
    for command in COMMANDS:
        assert command in text
    if shutil.which(shell):
        done = subprocess.run(
            [shell, "-n"], input=text, capture_output=True, text=True, check=False
        )
        assert (done.returncode, done.stderr) == (0, "")


def test_hidden_options_stay_hidden() -> None:
    assert completed("prescreed", "check", "--tod") == []
    assert completed("prescreed", "check", "--as") == ["--as-of"]
