"""Spoilt files of every kind: refused in words or judged, never a failure of the program itself.

Bounded here; `PRESCREED_FUZZ=2000 python -m pytest tests/cli/test_fuzz.py` looks longer.
"""

from __future__ import annotations

import io
import json
import os
import sys
import time
from contextlib import chdir, redirect_stderr, redirect_stdout
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from checker.cli import main
from tests.cli.test_pack_check import NEW, SOURCES
from tests.example import SOUND

EXAMPLES = int(os.environ.get("PRESCREED_FUZZ", "3"))
"""Spoilt files of each kind."""
PATIENCE = 60.0
"""Seconds after which a call hangs, on a machine that does much else; no speed is held by this."""
FOLDER = Path(__file__).parents[2] / "example_designs"

KNOWN = (
    b'{"known":2,"tool":"0.1.0","rules":{"edition":"2026-11","digest":"sha256:0"},"designs":[\n'
    b'{"path":"house.yaml","name":"Test House","digest":"0","judged":["insulation"],'
    b'"subjects":["floors.slab"]}\n],"findings":[\n{"design":"house.yaml","rule":"loop-length",'
    b'"subject":"loops.L1","kind":"fail","severity":"major","margin":{"magnitude":-3,"unit":"m"}}'
    b"\n]}\n"
)
WAIVERS = (
    b"waivers:\n  - rule: loop-length\n    subject: loops.L1\n    design: house.yaml\n"
    b"    reason: So it is.\n    accepted_by: A\n    accepted_on: 2026-01-01\n"
    b"    expires: 2026-12-31\n    up_to: 130 m\n"
)
SETTINGS = (
    b"fail-on: minor\nfail-on-open: [room-heat]\ncodes: [EN-1264]\nas-of: 2026-01-01\n"
    b"exclude: [drafts, '*-old.yaml']\ntrust: [own]\nrules: {edition: '2026-11', paths: [pack]}\n"
    b"format: [json]\n"
)
PROJECT = b'[tool.prescreed]\nfail-on = "minor"\ncodes = ["EN-1264"]\nexclude = ["drafts"]\n'
MAP = (
    b"map: 1\nsheets:\n  - sheet: '*'\n    section: loops\n    columns:\n"
    b"      - {heading: Loop, field: loops.id}\n      - {heading: Length, field: loops.length, unit: m}\n"
)
SHEET = 'Loop,Header,Length m,Area m²\nL1,H1,88,12\nL2,H1,"80,5",7\n'.encode()
READINGS = next(FOLDER.rglob("*.readings.yaml")).read_bytes()

KINDS: dict[str, tuple[str, bytes, tuple[str, ...]]] = {
    "design": ("house.yaml", SOUND.encode(), ("check", "--format", "json", "house.yaml")),
    "design in text": ("house.yaml", SOUND.encode(), ("check", "house.yaml")),
    "settings": ("prescreed.yaml", SETTINGS, ("check", "--format", "json", "house.yaml")),
    "project": ("pyproject.toml", PROJECT, ("check", "--format", "json", "house.yaml")),
    "waivers": ("prescreed.waivers.yaml", WAIVERS, ("check", "--format", "json", "house.yaml")),
    "known": ("k.json", KNOWN, ("check", "--format", "json", "--known", "k.json", "house.yaml")),
    "list": ("list", b'house.yaml\n"HAUS-\\303\\234.yaml"\n', ("check", "--files-from", "list")),
    "map": ("l.map.yaml", MAP, ("intake", "l.csv", "--map", "l.map.yaml", "--output", "out")),
    "sheet": ("l.csv", SHEET, ("intake", "l.csv", "--map", "l.map.yaml", "--output", "out")),
    "headings": ("l.csv", SHEET, ("intake", "--suggest", "l.csv")),
    "readings": ("job/site.readings.yaml", READINGS, ("audit", "job")),
    "rule": ("pack/loops/own.yaml", NEW.encode(), ("check", "--rules", "pack", "house.yaml")),
    "pack": ("pack/loops/own.yaml", NEW.encode(), ("pack-check", "pack")),
    "sources": ("pack/sources.yaml", SOURCES.encode(), ("pack-check", "pack")),
    "workbook": ("l.xlsx", b"", ("intake", "l.xlsx", "--output", "out")),
}
HOSTILE = [
    b"", b"-", b"0", b"-1", b"1e-300", b"5e-324", b"1e308", b"nan", b"inf", b"1_000", "１０".encode(),
    b"null", b"~", b"[]", b"{}", b"[[1]]", b"{a: b}", b"true", b"'", b'"', b":", b"#", b"&a", b"*a",
    b"<<: *a", b"!!python/object", b"%", b"\t", b"\r", b"\n", b"\0", b"\xff", b"\xed\xa0\x80",
    "\u202e".encode(), b"\x1b[31m", b"::error::", b"../../x", b"/dev/zero", b"9999-12-31",
    b"0001-01-01", b"2026-02-30", b"88", b"88 ft2", b"88 m m", b"x" * 3000, b"- " * 50,
]  # fmt: skip
"""What stands where a value was."""

edits = st.lists(
    st.tuples(
        st.floats(0, 1), st.integers(0, 24), st.sampled_from(HOSTILE) | st.binary(max_size=4)
    ),
    min_size=1,
    max_size=4,
)


def spoilt(data: bytes, changes: list[tuple[float, int, bytes]]) -> bytes:
    """The data with some of it cut out and something else put there."""
    for where, length, instead in changes:
        at = int(where * len(data))
        data = data[:at] + instead + data[at + length :]
    return data


def called(words: tuple[str, ...]) -> tuple[int, bytes, str]:
    """Status, standard output and standard error of a call in this process."""
    out = io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True)
    err = io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            status = main([*words])
        except SystemExit as ended:
            status = int(ended.code or 0)
    raw = out.buffer
    assert isinstance(raw, io.BytesIO)
    return status, raw.getvalue(), err.getvalue()


def _workbook() -> bytes:
    from checker.design.tables import Tables
    from checker.intake.schedules import write

    made = io.BytesIO()
    write(made, Tables().add("house.yaml", SOUND.encode()).document)
    return made.getvalue()


@pytest.mark.parametrize("kind", KINDS)
def test_a_spoilt_file_is_refused_or_judged(kind: str) -> None:
    name, seed, words = KINDS[kind]
    seed = seed or _workbook()
    slowest = 0.0

    @settings(
        max_examples=EXAMPLES, deadline=None, database=None, derandomize="PRESCREED_FUZZ" not in os.environ,
        suppress_health_check=[HealthCheck.too_slow],
    )  # fmt: skip
    @given(edits)
    def hold(changes: list[tuple[float, int, bytes]]) -> None:
        nonlocal slowest
        with TemporaryDirectory() as folder, chdir(folder):
            for path, data in (
                ("house.yaml", SOUND.encode()), ("l.map.yaml", MAP), ("l.csv", SHEET),
                ("pack/sources.yaml", SOURCES.encode()), ("pack/loops/own.yaml", NEW.encode()),
                ("job/house.yaml", SOUND.encode()), (name, spoilt(seed, changes)),
            ):  # fmt: skip
                Path(path).parent.mkdir(parents=True, exist_ok=True)
                Path(path).write_bytes(data)
            started = time.monotonic()
            status, out, err = called(words)
            slowest = max(slowest, time.monotonic() - started)
            assert "Traceback" not in err
            assert status in (0, 1, 2), err
            if status == 2 and not out:
                assert err.strip()
            if "json" in words and out:
                json.loads(out, parse_constant=_refuse)
            assert not list(Path().rglob(".prescreed-*"))

    hold()
    assert slowest < PATIENCE
    sys.stdout.write(f"{kind}: {EXAMPLES} spoilt files, slowest {slowest:.1f} s\n")


def _refuse(word: str) -> None:
    raise AssertionError(f"{word} is no number of JSON")
