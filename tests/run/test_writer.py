"""The one way onto the disk: whole or not at all, never onto an input, nothing left behind."""

from __future__ import annotations

import os
import random
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from checker.run import writer
from checker.run.writer import PREFIX, Staged, Unwritable, put, put_all, staged
from tests.cli.calling import Calling, calling, prescreed
from tests.cli.calling import put as put_file
from tests.design.designs import generate
from tests.example import DESIGN

__all__ = ["calling"]
SOURCE = str(Path(__file__).parents[2])


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_file_appears_whole_and_keeps_its_rights(tmp_path: Path) -> None:
    target = tmp_path / "r.txt"
    put(b"one", str(target))
    assert target.stat().st_mode & 0o777 == 0o666 & ~_mask()
    target.chmod(0o640)
    made = Staged(str(target))
    made.write(b"two")
    made.flush()
    assert target.read_bytes() == b"one"
    made.place()
    assert (target.read_bytes(), target.stat().st_mode & 0o777) == (b"two", 0o640)
    assert names(tmp_path) == ["r.txt"]


def _mask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def test_what_fails_leaves_the_old_and_nothing_else(tmp_path: Path) -> None:
    put(b"old", str(tmp_path / "r.txt"))
    put_all(str(tmp_path / "f"), [("a", [b"old"]), ("b", [b"o", b"ld"])])

    def files() -> object:
        yield "a", [b"new"]
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        put_all(str(tmp_path / "f"), files())  # type: ignore[arg-type]
    assert (tmp_path / "f" / "a").read_bytes() == b"old"
    with pytest.raises(ZeroDivisionError), staged(str(tmp_path / "r.txt")) as path:
        _half(path)
    assert (tmp_path / "r.txt").read_bytes() == b"old"
    assert names(tmp_path) == ["f", "r.txt"]
    assert names(tmp_path / "f") == ["a", "b"]


def _half(path: str) -> None:
    Path(path).write_bytes(b"half")
    raise ZeroDivisionError


def test_what_a_killed_run_left_is_cleared_and_what_is_being_written_is_not(
    tmp_path: Path,
) -> None:
    code = (
        "import os, signal, sys\nfrom checker.run import writer\n"
        f"os.chdir({str(tmp_path)!r})\n"
        "if sys.argv[1] == 'one':\n"
        "    made = writer.Staged('r.txt'); made.write(b'half'); made.flush()\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
        "def files():\n"
        "    yield 'a', [b'half']\n"
        "    os.kill(os.getpid(), signal.SIGKILL)\n"
        "writer.put_all('.', files())\n"
    )
    for what in ("one", "many"):
        subprocess.run([sys.executable, "-c", code, what], check=False, cwd=SOURCE)
        # The second has cleared what the first left.
        (left,) = names(tmp_path)
        assert left.startswith(PREFIX)
        assert (tmp_path / left).is_dir() is (what == "many")
    busy = Staged(str(tmp_path / "other.txt"))
    put(b"new", str(tmp_path / "r.txt"))
    assert names(tmp_path) == sorted([Path(busy.path).name, "r.txt"])
    busy.write(b"whole")
    busy.place()
    assert names(tmp_path) == ["other.txt", "r.txt"]


def test_a_device_takes_the_bytes(tmp_path: Path) -> None:
    put(b"x", "/dev/null")
    with pytest.raises(Unwritable, match="No space left on device"):
        put(b"x", "/dev/full")
    assert names(tmp_path) == []


COMMANDS = {
    "check": ("check", "--format", "json", "--output", "{}", "d"),
    "check text": ("check", "--output", "{}", "d/a.yaml"),
    "freeze": ("freeze", "--output", "{}", "d"),
    "compare": ("compare", "d/a.yaml", "d/b.yaml", "--format", "html", "--output", "{}"),
    "site-sheet": ("site-sheet", "--output", "{}", "d/a.yaml"),
    "audit": ("audit", "d/a.yaml", "--format", "html", "--output", "{}"),
}


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("target", ["d/a.yaml", "d/b.json", "prescreed.yaml", "link.json"])
def test_no_output_goes_over_a_design_or_a_policy(call: Calling, command: str, target: str) -> None:
    put_file("d/a.yaml", DESIGN)
    put_file("d/b.yaml", DESIGN)
    put_file("d/b.json", '{"design": 1}')
    put_file("prescreed.yaml", "fail-on: major\n")
    os.symlink("d/b.json", "link.json")
    before = Path(target).read_bytes()
    done = call(*(word.format(target) for word in COMMANDS[command]))
    assert done.status == 2, done
    assert "name another output" in done.err
    assert Path(target).read_bytes() == before
    assert not list(Path().rglob(f"{PREFIX}*"))


def test_a_pattern_of_the_shell_writes_over_no_design(call: Calling) -> None:
    for name in ("a", "b", "c"):
        put_file(f"d/{name}.yaml", DESIGN)
    done = call("check", "--format", "json", "--output", "d/a.yaml", "d/b.yaml", "d/c.yaml")
    assert done.status == 2
    assert Path("d/a.yaml").read_text() == DESIGN


def test_known_findings_are_only_frozen_over(call: Calling) -> None:
    put_file("d/a.yaml", DESIGN)
    assert call("freeze", "d").status == 0
    assert call("freeze", "d").status == 0
    done = call("check", "--format", "json", "--output", "prescreed.known.json", "d")
    assert (done.status, "holds known findings" in done.err) == (2, True)


@pytest.fixture
def _full_disk() -> Iterator[None]:
    """No file grows beyond 600 bytes, as on a full disk."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (600, before[1]))
    yield
    resource.setrlimit(resource.RLIMIT_FSIZE, before)


@pytest.mark.parametrize(
    "words",
    [
        ("check", "--format", "json", "--output", "out.json", "a.yaml"),
        ("check", "--format", "html", "--output", "pages/", "a.yaml"),
        ("freeze", "--output", "out.json", "a.yaml"),
        ("compare", "a.yaml", "b.yaml", "--format", "html", "--output", "out.html"),
        ("site-sheet", "--output", "out.html", "a.yaml"),
        ("schedule", "a.yaml", "--output", "out.xlsx"),
        ("review", "a.yaml", "--output", "pages"),
        ("audit", "a.yaml", "--format", "html", "--output", "out.html"),
    ],
)
def test_a_full_disk_keeps_what_was_there(
    tmp_path: Path, words: tuple[str, ...], request: pytest.FixtureRequest
) -> None:
    # The many opens make the known findings longer than the limit.
    (tmp_path / "a.yaml").write_text("design: 1\n" if words[0] == "freeze" else DESIGN, "utf-8")
    (tmp_path / "b.yaml").write_text(DESIGN.replace("88 m", "90 m"), "utf-8")
    (tmp_path / "pages").mkdir()
    old = ("out.json", "out.html", "out.xlsx", "pages/index.html", "pages/overview.md")
    for name in old:
        (tmp_path / name).write_text("[]", "utf-8")
    request.getfixturevalue("_full_disk")
    done = prescreed(*words, cwd=tmp_path, PRESCREED_CACHE="/dev/null/no-cache")
    assert done.returncode == 2, done
    assert "cannot be written: File too large" in done.stderr
    assert [(tmp_path / name).read_text("utf-8") for name in old] == ["[]"] * len(old)
    assert not list(tmp_path.rglob(f"{PREFIX}*"))


ENDED = {
    "check": (
        "check", "--format", "html", "--output", "{}/pages.html", "--format", "json",
        "--output", "{}/r.json", "--jobs", "1", "--no-cache", "designs",
    ),
    "freeze": ("freeze", "--jobs", "1", "--output", "{}/k.json", "designs"),
    "review": ("review", "--jobs", "1", "--output", "{}", "designs"),
    "compare": ("compare", "--format", "html", "--output", "{}/c.html", "designs", "designs"),
    "site-sheet": ("site-sheet", "--despite-findings", "--output", "{}/s.html", "designs"),
}  # fmt: skip


@pytest.mark.long
@pytest.mark.parametrize("sent", [signal.SIGKILL, signal.SIGTERM])
@pytest.mark.parametrize("command", ENDED)
def test_a_run_that_is_ended_at_any_moment_leaves_the_old_or_the_new(
    tmp_path: Path, command: str, sent: signal.Signals
) -> None:
    designs, out = tmp_path / "designs", tmp_path / "out"
    designs.mkdir()
    out.mkdir()
    for number in range(20 if command == "check" else 6):
        (designs / f"h{number:02}.yaml").write_text(generate(number, loops=2), "utf-8")
    call = [sys.executable, "-m", "checker", *(word.format(out) for word in ENDED[command])]
    environment = {**os.environ, "PYTHONPATH": SOURCE, "PRESCREED_CACHE": "/dev/null/none"}
    start = time.monotonic()
    subprocess.run(call, capture_output=True, check=False, env=environment, cwd=tmp_path)
    whole = time.monotonic() - start
    sound = {path.name: path.read_bytes() for path in out.iterdir()}
    assert sound
    moments = random.Random(f"{command} {sent}")
    for _ in range(MOMENTS):
        for name in sound:
            (out / name).write_bytes(b"[]")
        with subprocess.Popen(
            call,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env=environment,
            cwd=tmp_path,
        ) as run:
            time.sleep(moments.random() * whole)
            run.send_signal(sent)
        for name, content in sound.items():
            assert (out / name).read_bytes() in (b"[]", content)
        left = [name for name in names(out) if name.startswith(PREFIX)]
        assert sent == signal.SIGKILL or not left
    writer.clear(str(out))
    assert names(out) == sorted(sound)


MOMENTS = int(os.environ.get("PRESCREED_TEST_MOMENTS", "2"))
"""How often a run is ended; more by hand."""
