"""What a run asks of its rules without reading them all; which program this is."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from checker.run import rules_in_force
from checker.run.rules_in_force import compiled_rules, heads, program, rulebook
from tests.design.designs import generate

WITHIN_TABLES = Path(__file__).parents[2] / "example_designs/orchard-row-4-installed.yaml"


def test_the_heads_of_rules_say_what_the_rules_do() -> None:
    whole, short = rulebook(), heads(compiled_rules((), None))
    assert (short.edition, short.digest) == (whole.edition, whole.digest)
    assert [*short.codes] == [*whole.codes]
    assert [rule.id for rule in short.rules] == [rule.id for rule in whole.rules]


@pytest.mark.parametrize(
    "name", ["checker/a.py", "checker/reports/templates/t.html", "schemas/s.json"]
)
def test_a_checkout_is_another_program_with_any_file_changed(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for one in ("checker/run/rules_in_force.py", "checker/a.py", name, "schemas/other.json"):
        file = tmp_path / one
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text("before")
    monkeypatch.setattr(rules_in_force, "PACKAGE", str(tmp_path / "checker"))
    monkeypatch.setattr(rules_in_force, "data_path", lambda own: str(tmp_path / own))

    def now() -> bytes:
        program.cache_clear()
        return program()

    try:
        before = now()
        kept = tmp_path / "checker/__pycache__"
        kept.mkdir()
        (kept / "a.pyc").write_bytes(b"bytecode")
        assert now() == before
        (tmp_path / name).write_text("after")
        changed = now()
        (tmp_path / name).rename(tmp_path / f"{name}.py")
        assert len({before, changed, now()}) == 3
    finally:
        program.cache_clear()


@pytest.mark.parametrize("name", ["json", "text"])
def test_a_run_over_an_unchanged_design_loads_no_more_than_it_needs(
    tmp_path: Path, name: str
) -> None:
    design = tmp_path / "house.yaml"
    design.write_text("design: 1\nloops: {}\n")
    script = (
        "import sys; from checker.cli import main\n"
        f"main(['check', {str(design)!r}, '--format', {name!r}])\n"
        "unwanted = {'_hashlib', 'numpy', 'yaml', 'dataclasses', 'shutil', 'unicodedata',\n"
        "            'tempfile', 'pathlib', 'inspect', 'typing_extensions',\n"
        "            'checker.rulebook.book', 'checker.rulebook.model', 'checker.reading.cells'}\n"
        "print(sorted(unwanted & {*sys.modules}), file=sys.stderr)"
    )
    environment = {"PRESCREED_CACHE": str(tmp_path / "cache"), "PATH": ""}
    for _ in range(2):
        run = subprocess.run(
            [sys.executable, "-c", script],
            capture_output=True,
            text=True,
            check=False,
            env=environment,
            cwd=Path(__file__).parents[2],
        )
    assert run.stderr.splitlines()[-1] == "[]"


@pytest.mark.parametrize(
    ("design", "more"),
    [
        (generate(0), set()),  # a room of it lies beyond the tables of EN 1264-2
        (
            WITHIN_TABLES.read_text("utf-8"),
            {"checker.physics.section", "checker.physics.conduction"},
        ),
    ],
)
def test_a_check_of_one_design_without_cache_loads_no_more_than_it_needs(
    design: str, more: set[str], tmp_path: Path
) -> None:
    (tmp_path / "house.yaml").write_text(design, "utf-8")
    script = (
        "import sys; from checker.cli import main\n"
        "sys.argv = ['prescreed', 'check', 'house.yaml', '--format', 'json', '--no-cache']\n"
        "main()\n"
        "unwanted = {'_hashlib', 'dataclasses', 'pathlib', 'numpy.ma', 'numpy.random', 'numpy.fft',\n"
        "            'numpy.polynomial', 'jsonschema', 'pint', 'pandas', 'rich', 'shapely',\n"
        "            'checker.physics.carried', 'checker.design.changes', 'string'}\n"
        f"unwanted |= {{*{sorted(more)}}}\n"
        "print(sorted(unwanted & {*sys.modules}), file=sys.stderr)"
    )
    environment = {"PYTHONPATH": str(Path(__file__).parents[2]), "PATH": ""}
    command = [sys.executable, "-c", script]
    run = subprocess.run(
        command, capture_output=True, text=True, check=False, env=environment, cwd=tmp_path
    )
    assert run.stdout.startswith('{"report"')
    assert run.stderr.splitlines()[-1] == "[]"
