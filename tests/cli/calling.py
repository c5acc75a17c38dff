"""The command called within the test's own process: for all but streams, signals and workers."""

from __future__ import annotations

import io
import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, chdir, contextmanager
from functools import cache
from pathlib import Path
from typing import IO, Any, NamedTuple
from unittest.mock import patch

import pytest

from checker.cli import main
from checker.reading.package_data import data_path
from checker.run import rules_in_force
from checker.run.standard_streams import install


class Done(NamedTuple):
    """What a call came to."""

    status: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        """Its report."""
        return json.loads(self.out)


Calling = Callable[..., Done]


@pytest.fixture(name="call")
def calling(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Calling:
    """Calls the command in the test's folder, which is its own root."""
    folder = tmp_path / "work"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setenv("GITHUB_ACTIONS", "")
    monkeypatch.setenv("NO_COLOR", "1")

    def call(*words: str) -> Done:
        done = prescreed(*words)
        return Done(done.returncode, done.stdout, done.stderr)

    return call


def prescreed(
    *words: str,
    stdin: str | bytes = b"",
    cwd: Path | None = None,
    code_page: str = "",
    **environment: str,
) -> subprocess.CompletedProcess[str]:
    """A call of the command as a process would come to, made in this one, which is quicker.

    With a code page, Python's streams have that, and the command replaces them by its own as it
    does when a process starts. A traceback is a mistake of the program whatever a test is about.
    """
    typed = stdin.encode() if isinstance(stdin, str) else stdin
    with ExitStack() as held:
        held.enter_context(chdir(cwd or Path.cwd()))
        held.enter_context(patch.dict(os.environ, environment))
        held.enter_context(patch.object(rules_in_force, "_key", _key))
        streams = [held.enter_context(tempfile.TemporaryFile()) for _ in range(3)]
        streams[0].write(typed)
        streams[0].seek(0)
        for number, name in enumerate(("stdin", "stdout", "stderr")):
            held.enter_context(_standing_for(number, name, streams[number], code_page or "utf-8"))
        if code_page:
            install()
        try:
            status = main([*words])
        except SystemExit as ended:
            status = int(ended.code or 0)
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        for made in streams[1:]:
            made.seek(0)
        out, err = (made.read().decode() for made in streams[1:])
    assert "Traceback" not in err, err
    return subprocess.CompletedProcess(words, status, out, err)


_key_of = rules_in_force._key
_own_key = cache(lambda place, program: _key_of(()))


def _key(rules: tuple[str, ...]) -> bytes:
    """The key of rules in force; that of the program's own is found once, since no test changes them.

    A process reads them again at each call; that is for the tests that start one.
    """
    return _key_of(rules) if rules else _own_key(data_path("rules"), rules_in_force.program())


@contextmanager
def _standing_for(
    number: int, name: str, stream: IO[bytes], encoding: str = "utf-8"
) -> Iterator[None]:
    """A file in place of a standard stream, for Python and for what asks the system."""
    kept = os.dup(number)
    os.dup2(stream.fileno(), number)
    mode = "rb" if number == 0 else "wb"
    own = io.TextIOWrapper(os.fdopen(os.dup(number), mode), encoding=encoding, write_through=True)
    try:
        with patch.object(sys, name, own):
            yield
    finally:
        own.close()
        os.dup2(kept, number)
        os.close(kept)


def put(path: str, text: str | bytes = "") -> Path:
    """A file under the test's folder."""
    file = Path(path)
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    return file


def needed(program: str) -> str:
    """A program of the machine; the test is skipped, with a word, where there is none."""
    if shutil.which(program) is None:
        pytest.skip(f"there is no {program} on this machine")
    return program


def git(*words: str) -> str:
    """What git answers in the test's folder."""
    own = ("-c", "user.name=Test", "-c", "user.email=test@example.invalid",
           "-c", "protocol.file.allow=always")  # fmt: skip
    return subprocess.run(
        [needed("git"), *own, *words], capture_output=True, text=True, check=True
    ).stdout
