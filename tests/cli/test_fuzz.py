"""Spoilt files of every kind: refused in words or judged, never a failure of the program itself.

Bounded here; `PRESCREED_FUZZ=2000 python -m pytest -s tests/cli/test_fuzz.py` looks longer, at other
files each time, and prints what it saw.

Wrong acceptances are known in two ways that share nothing with the program. A house with a
critical fault stands beside a spoilt settings file, waiver, known finding, pack or the like: none
of these can make it pass, so status 0 is one. And a text that no quantity is (`nan`, `1_000 m`,
`m`) in the place of each quantity of a design in turn must be refused.

The longest look so far: 3,000 spoilt files of 23 kinds and 1,267 values, 0 tracebacks, 0 hangs over
10 s of processor time, 0 wrong acceptances.
"""

from __future__ import annotations

import io
import json
import os
import re
import signal
import sys
import time
from contextlib import chdir, redirect_stderr, redirect_stdout
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from checker.cli import main
from checker.design.tables import BadDesign, Tables
from tests.cli.test_pack_check import NEW, SOURCES
from tests.example import SOUND

EXAMPLES = int(os.environ.get("PRESCREED_FUZZ", "3"))
"""Spoilt files of each kind."""
PATIENCE = 10.0
"""Seconds of processor time after which a call hangs, so that a busy machine makes none."""
ALARM = 120
"""Seconds by the clock after which a call that waits for something is ended."""
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
    b"exclude: [drafts, '*-old.yaml']\ntrust: [own]\nrules: {edition: 'firm 7', paths: [pack]}\n"
    b"format: [json]\n"
)
LOOSE = b"fail-on: never\nexclude: ['*']\ntrust: [.]\nknown: k.json\ncodes: [EN-1264]\n"
PROJECT = b'[tool.prescreed]\nfail-on = "minor"\ncodes = ["EN-1264"]\nexclude = ["drafts"]\n'
MAP = (
    b"map: 1\ndesign:\n  pipes: {p16: {material: PE-RT, outside: 16 mm, wall: 2 mm}}\nevery:\n"
    b"  loops: {pipe: p16}\ndecimal: comma\nsheets:\n  - ids: {loops: '{Loop}', headers: '{Header}'}\n"
    b"    skip: [Total*]\n    columns:\n      - {heading: Length m, field: loops.length, unit: m}\n"
    b"      - {heading: Area m\xc2\xb2, field: loops.area, unit: m\xc2\xb2}\n"
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
    "policy beside a fault": ("prescreed.yaml", SETTINGS, ("check", "bad.yaml")),
    "project beside a fault": ("pyproject.toml", PROJECT, ("check", "bad.yaml")),
    "waiver of a fault": ("prescreed.waivers.yaml", WAIVERS, ("check", "bad.yaml")),
    "known beside a fault": ("k.json", KNOWN, ("check", "--known", "k.json", "bad.yaml")),
    "pack beside a fault": (
        "pack/loops/own.yaml",
        NEW.encode(),
        ("check", "--rules", "pack", "bad.yaml"),
    ),
    "settings further down": ("d/prescreed.yaml", LOOSE, ("check", "d/bad.yaml")),
    "review": ("in/house.yaml", SOUND.encode(), ("review", "in", "--output", "letters")),
    "compare": ("house.yaml", SOUND.encode(), ("compare", "bad.yaml", "house.yaml")),
    "workbook": ("l.xlsx", b"", ("intake", "l.xlsx", "--output", "out")),
}
BAD = SOUND.replace("pressure: 4 bar", "pressure: 2.5 bar").encode()
"""A house with a critical fault that no rule allows to be waived: its test is too low."""
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
    from checker.forms.whole import records_of, sized
    from checker.forms.writing import workbook

    made = io.BytesIO()
    records = records_of(Tables().add("house.yaml", SOUND.encode()).document)
    workbook(made, sized(records), records)
    return made.getvalue()


def lay(name: str, data: bytes) -> None:
    """The files of a call, one of them with this content."""
    for path, own in (
        ("house.yaml", SOUND.encode()), ("l.map.yaml", MAP), ("l.csv", SHEET),
        ("pack/sources.yaml", SOURCES.encode()), ("pack/loops/own.yaml", NEW.encode()),
        ("job/house.yaml", SOUND.encode()), ("bad.yaml", BAD), ("d/bad.yaml", BAD),
        ("HAUS-Ü.yaml", SOUND.encode()), (name, data),
    ):  # fmt: skip
        Path(path).parent.mkdir(parents=True, exist_ok=True)
        Path(path).write_bytes(own)


class Waits(BaseException):
    """A call did not end."""


def _alarm(*_: object) -> None:
    raise Waits


@pytest.mark.parametrize("kind", KINDS)
def test_before_it_is_spoilt_a_file_is_taken(kind: str) -> None:
    name, seed, words = KINDS[kind]
    with TemporaryDirectory() as folder, chdir(folder):
        lay(name, seed or _workbook())
        status, out, err = called(words)
    assert status in ((1,) if words[-1].endswith("bad.yaml") else (0, 1)), out.decode() + err


@pytest.mark.parametrize("kind", KINDS)
def test_a_spoilt_file_is_refused_or_judged(kind: str) -> None:
    name, seed, words = KINDS[kind]
    seed = seed or _workbook()
    seen = {"inputs": 0, "tracebacks": 0, "hangs": 0, "wrong acceptances": 0}
    slowest = 0.0

    @settings(
        max_examples=EXAMPLES, deadline=None, database=None, derandomize="PRESCREED_FUZZ" not in os.environ,
        suppress_health_check=[HealthCheck.too_slow],
    )  # fmt: skip
    @given(edits)
    def hold(changes: list[tuple[float, int, bytes]]) -> None:
        nonlocal slowest
        with TemporaryDirectory() as folder, chdir(folder):
            lay(name, spoilt(seed, changes))
            started = time.process_time()
            signal.signal(signal.SIGALRM, _alarm)
            signal.alarm(ALARM)
            try:
                status, out, err = called(words)
            except Waits:
                pytest.fail(f"{words} does not end: {spoilt(seed, changes)!r}")
            finally:
                signal.alarm(0)
            took = time.process_time() - started
            slowest = max(slowest, took)
            seen["inputs"] += 1
            seen["tracebacks"] += "Traceback" in err or status not in (0, 1, 2)
            seen["hangs"] += took > PATIENCE
            seen["wrong acceptances"] += words[-1].endswith("bad.yaml") and status == 0
            assert [*seen.values()][1:] == [0, 0, 0], (status, err)
            if status == 2 and not out:
                assert err.strip()
            if "json" in words and out:
                json.loads(out, parse_constant=_refuse)
            assert not list(Path().rglob(".prescreed-*"))

    hold()
    told = ", ".join(f"{count} {what}" for what, count in seen.items())
    sys.stdout.write(f"{kind}: {told}, slowest {slowest:.1f} s\n")


QUANTITY = re.compile(
    r"(?<=[:\[ ])(\d+(?:\.\d+)?) "
    r"(°C|K|mm|m²·K/W|m²|m|W/\(m·K\)|W|kPa|l/min|bar|min|h|day|%)(?=[,}\]\n])"
)
NONE_AT_ALL = [
    "nan", "inf", "-inf", "1e300 {u}", "1e308 {u}", "-1e12 {u}", "１０ {u}", "٣ {u}", "∞ {u}", "0x10 {u}",
    "1_000 {u}", "1,5,0 {u}", "{u}", "{u} {u}", "88 {u} {u}", "88", "1e {u}", "true", "- 1", "88 parsec²",
]  # fmt: skip
"""What stands for a quantity and is none, or is beyond what physics allows."""
NEXT_TO_NOTHING = ["5e-324 {u}", "1e-300 {u}", "1e-12 {u}"]


def taken(text: str) -> bool:
    """Whether a design can be read."""
    try:
        Tables().add("house.yaml", text.encode())
    except BadDesign:
        return False
    return True


def test_what_no_quantity_is_stands_for_none() -> None:
    count, wrong = 0, []
    assert taken(SOUND)
    for found in QUANTITY.finditer(SOUND):
        start, end, unit = SOUND[: found.start()], SOUND[found.end() :], found[2]
        may_be_nothing = taken(f"{start}'0 {unit}'{end}")
        for text in NONE_AT_ALL + ([] if may_be_nothing else NEXT_TO_NOTHING):
            count += 1
            if taken(f"{start}'{text.format(u=unit)}'{end}"):
                wrong.append((found[0], text))
    assert wrong == []
    assert count > 1000
    sys.stdout.write(f"values: {count} inputs, {len(wrong)} wrong acceptances\n")


def _refuse(word: str) -> None:
    raise AssertionError(f"{word} is no number of JSON")
