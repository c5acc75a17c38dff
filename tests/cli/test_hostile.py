"""Names that would steer a terminal, or give a CI host commands, in everything that is written."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator
from pathlib import Path
from zipfile import ZipFile

import pytest

import checker
from checker.reports import FORMATS
from tests.cli.calling import Calling, Done, calling, put
from tests.cli.test_fuzz import MAP
from tests.example import sound_but

__all__ = ["calling"]

NAME = "::error title=p::a ##[error]b ##vso[task.x]c ##[add-mask]d"
"""What hosts obey at a line's start or within it; ids, of 64 printable signs, hold it too."""
EVIL = f"x\n{NAME}\n  ::warning::f\r::add-mask::g\x1b[31mh\u202e"
"""The same after line ends and blanks, and what a terminal obeys."""
TYPED = json.dumps(EVIL)
PATH = f"d/{EVIL}.yaml"

HOSTILE = sound_but(
    ("name: Test House", f"name: {TYPED}, contractor: {TYPED}, designer: {TYPED}"),
    ("  L1: {header", f"  '{NAME}': {{header"),
    ("balance: {L1:", f"balance: {{'{NAME}':"),
    ("by: A. Fitter", f"by: {TYPED}, what: {TYPED}"),
    ("length: 88 m", "length: 138 m"),
    ("pressure: 4 bar", "pressure: 2.5 bar"),
)
WAIVERS = f"""\
waivers:
  - {{rule: test-pressure, subject: pressure_tests.first, reason: {TYPED}, accepted_by: {TYPED},
     accepted_on: 2026-01-01, expires: 2026-12-31}}
  - {{rule: loop-length, subject: '{NAME}', reason: {TYPED}, accepted_by: {TYPED},
     accepted_on: 2026-01-01, expires: 2026-12-31}}
"""
DAY = ("--today", "2026-06-01")

_COMMAND = re.compile(r"##(\[|[A-Za-z]+\[)")
"""Hosts find these anywhere in a line; those with colons only where nothing but blanks is before
(the agents' own parsers, open source, from memory)."""


def obeyed(text: str) -> Iterator[str]:
    """The lines that some host would take for a command."""
    for line in re.split(r"[\n\r]", text):
        if _COMMAND.search(line) or re.match(r"\s*::.*::", line):
            yield line


def hold(done: Done, *, own: bool = False) -> None:
    """Nothing in what a call said is a command or steers the terminal; own: its own commands are."""
    for text in (done.out, done.err):
        assert "Traceback" not in text
        found = [line for line in obeyed(text) if not (own and _OWN.fullmatch(line))]
        assert found == []
        signs = {sign for sign in text if not (sign.isprintable() or sign in "\n\t\u00a0\ufeff")}
        # Data for programs keep what was typed, but for what JSON writes as an escape anyway.
        assert signs <= ({"\u202e"} if text[:1] in ("{", "[") else set())


_OWN = re.compile(r"::(error|warning|notice)( file=[^:]*)?::[^\x00-\x1f]*")


@pytest.fixture(name="evil")
def _evil(call: Calling) -> Calling:
    put(PATH, HOSTILE)
    put(f"d/::error title=x::y{EVIL}.yaml", 'design: 1\n"' + "##[error]" + '": 2\n')
    put("prescreed.waivers.yaml", WAIVERS)
    put(f"d/{EVIL}/prescreed.yaml", "fail-on: never\n")
    put(f"d/{EVIL}/.hidden.yaml", "fail-on: never\n")
    put(f"d/{EVIL}/two.yaml", HOSTILE)
    return call


@pytest.mark.parametrize("name", [one for one in FORMATS if one != "parquet"])
def test_no_format_gives_a_host_a_command(evil: Calling, name: str) -> None:
    done = evil("check", "--verbose", *DAY, "--format", name, "d")
    assert done.status == 2
    assert done.out
    hold(done, own=name == "annotations")


def test_the_designs_here_are_judged(evil: Calling) -> None:
    report = evil("check", "--format", "json", *DAY, "d").json
    assert {one["path"] for one in report["designs"]} == {PATH, f"d/{EVIL}/two.yaml"}
    assert any(f"loops.{NAME}" == r["subject"] for r in report["designs"][0]["results"])
    assert report["designs"][0]["name"] == EVIL


CALLS = {
    "settings": ("settings", "d"),
    "freeze": ("freeze", "--output", "-", PATH),
    "compare": ("compare", PATH, f"d/{EVIL}/two.yaml"),
    "compare json": ("compare", PATH, f"d/{EVIL}/two.yaml", "--format", "json"),
    "compare markdown": ("compare", PATH, f"d/{EVIL}/two.yaml", "--format", "markdown"),
    "compare html": ("compare", PATH, f"d/{EVIL}/two.yaml", "--format", "html"),
    "review": ("review", "d", "--output", EVIL),
    "site-sheet": ("site-sheet", "d"),
    "site-sheet html": ("site-sheet", "--despite-findings", "d"),
    "site-sheet csv": ("site-sheet", "--despite-findings", "--format", "csv", "d"),
    "explain": ("explain", PATH, "loop-length", f"loops.{NAME}"),
    "explain json": ("explain", PATH, "loop-length", f"loops.{NAME}", "--format", "json"),
    "explain markdown": ("explain", PATH, "loop-length", f"loops.{NAME}", "--format", "markdown"),
    "explain none": ("explain", PATH, "loop-length", EVIL),
    "rules": ("rules", EVIL),
    "rules code": ("rules", "--code", EVIL),
    "audit": ("audit", f"d/{EVIL}"),
    "audit json": ("audit", f"d/{EVIL}", "--format", "json"),
    "audit html": ("audit", f"d/{EVIL}", "--format", "html"),
    "audit word": ("audit", f"d/{EVIL}", "--complaint", EVIL),
    "archive": ("archive", "d", "--output", f"{EVIL}.parquet"),
    "schedule": ("schedule", PATH, "--output", f"{EVIL}.xlsx"),
    "schedule none": ("schedule", EVIL, "--output", f"{EVIL}.xlsx"),
    "remedy": ("remedy", PATH),
    "remedy json": ("remedy", PATH, "--format", "json"),
    "quantities": ("quantities", PATH),
    "hand-over": ("hand-over", PATH),
    "pack-check": ("pack-check", EVIL),
    "pack": ("pack-check", "pack"),
    "intake": ("intake", "s.csv", "--map", "s.map.yaml", "--output", "out"),
    "intake none": ("intake", EVIL, "--map", EVIL, "--output", EVIL),
    "suggest": ("intake", "--suggest", "s.csv"),
    "no command": (EVIL,),
    "no option": ("check", f"--{EVIL}", "d"),
    "no format": ("check", "--format", EVIL, "d"),
    "no path": ("check", EVIL),
    "no policy": ("check", "--policy", EVIL, "d"),
    "no commit": ("check", "--changed", EVIL, "d"),
    "output": ("check", "--output", f"{EVIL}/{EVIL}", "d"),
    "codes": ("check", "--codes", EVIL, "d"),
}


@pytest.mark.parametrize("name", CALLS)
def test_no_command_gives_a_host_a_command(evil: Calling, name: str) -> None:
    put("s.csv", f"Loop,Length m,{NAME}\nL1,88,{NAME}\n{NAME},x,9\n")
    put("s.map.yaml", MAP)
    put(f"pack/loops/{EVIL}.yaml", f"title: {TYPED}\n'{NAME}': 1\n")
    done = evil(*CALLS[name])
    assert done.status != 3, done
    assert done.out + done.err
    hold(done)


def test_letters_hold_no_command_either(evil: Calling) -> None:
    assert evil("review", "d", "--output", "letters").status == 2
    names = os.listdir("letters")
    assert len(names) == 5
    for name in names:
        path = Path("letters", name)
        if path.suffix == ".xlsx":
            book = ZipFile(path)
            sheets = [one for one in book.namelist() if one.startswith("xl/worksheets/")]
            # No host reads a workbook for commands; what a sheet would carry out is a formula.
            assert sheets
            assert not any(b"<f>" in book.read(one) for one in sheets)
        else:
            hold(Done(0, path.read_text("utf-8"), ""))


def test_all_that_is_said_goes_through_one_place() -> None:
    for path in Path(checker.__file__).parent.rglob("*.py"):
        text = path.read_text("utf-8")
        if path.name != "telling.py":
            assert "file=sys.stderr" not in text, path
            assert "ArgumentParser(" not in text, path
