"""The command called within the test's own process: for all but streams, signals and workers."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

from checker.cli import main


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
def calling(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfdbinary: pytest.CaptureFixture[bytes]
) -> Calling:
    """Calls the command in the test's folder, which is its own root."""
    folder = tmp_path / "work"
    folder.mkdir()
    monkeypatch.chdir(folder)
    monkeypatch.setenv("GITHUB_ACTIONS", "")
    monkeypatch.setenv("NO_COLOR", "1")

    def call(*words: str) -> Done:
        capfdbinary.readouterr()
        try:
            status = main([*words])
        except SystemExit as ended:
            status = int(ended.code or 0)
        out, err = capfdbinary.readouterr()
        assert b"Traceback" not in err, err.decode()
        return Done(status, out.decode(), err.decode())

    return call


def put(path: str, text: str | bytes = "") -> Path:
    """A file under the test's folder."""
    file = Path(path)
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_bytes(text.encode() if isinstance(text, str) else text)
    return file


def git(*words: str) -> str:
    """What git answers in the test's folder."""
    own = ("-c", "user.name=Test", "-c", "user.email=test@example.invalid",
           "-c", "protocol.file.allow=always")  # fmt: skip
    return subprocess.run(["git", *own, *words], capture_output=True, text=True, check=True).stdout
