"""What changed in the rules since a commit, as Markdown to write `rules/CHANGES.md` from.

python -m tests.rulebook.edition_changes COMMIT
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).parents[2]
Rules = Mapping[str, dict[str, Any]]


def now() -> Rules:
    """The rules as they stand, by id."""
    return _rules({str(file): file.read_bytes() for file in (ROOT / "rules").glob("*/*.yaml")})


def at(commit: str) -> Rules:
    """The rules as they stood in a commit, by id."""
    names = _git("ls-tree", "-r", "--name-only", commit, "rules").decode().splitlines()
    return _rules(
        {name: _git("show", f"{commit}:{name}") for name in names if Path(name).match("*/*/*.yaml")}
    )


def changes(old: Rules, new: Rules) -> Iterator[str]:
    """Line by line: rules that came or went, severities, stages and limits that differ."""
    for rule in sorted(new.keys() - old.keys()):
        yield f"- new: `{rule}` ({new[rule]['severity']}): {new[rule]['title']}"
    for rule in sorted(old.keys() - new.keys()):
        yield f"- gone: `{rule}`: {old[rule]['title']}"
    for rule in sorted(old.keys() & new.keys()):
        told = [
            f"{key} {old[rule].get(key, 'none')} → {new[rule].get(key, 'none')}"
            for key in ("severity", "from", "value", "applies", "uncertainty")
            if old[rule].get(key) != new[rule].get(key)
        ]
        before, after = _limits(old[rule]), _limits(new[rule])
        told += [f"no longer {limit}" for limit in before if limit not in after]
        told += [f"now {limit}" for limit in after if limit not in before]
        if told:
            yield f"- `{rule}`: {'; '.join(told)}"


def _limits(rule: Mapping[str, Any]) -> list[str]:
    """Each limit in a line: its source, and what it asks where."""
    kept = ("at_most", "at_least", "between", "equals", "one_of", "is", "when", "fallback")
    return [
        f"{', '.join(f'{key} {one[key]}' for key in kept if key in one)} ({one.get('source')})"
        for one in rule.get("limits", ())
    ]


def _rules(files: Mapping[str, bytes]) -> Rules:
    return {Path(name).stem: yaml.safe_load(data) for name, data in files.items()}


def _git(*words: str) -> bytes:
    return subprocess.run(["git", *words], cwd=ROOT, capture_output=True, check=True).stdout


if __name__ == "__main__":
    print("\n".join(changes(at(sys.argv[1]), now())))
