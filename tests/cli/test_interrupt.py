"""An interrupt stops the command at once, leaves no child, and says what was done."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.design.designs import generate


def children(pid: int) -> list[int]:
    found = []
    for status in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = status.read_text().rsplit(")", 1)[1].split()
        except OSError:
            continue
        if int(fields[1]) == pid and fields[0] != "Z":
            found.append(int(status.parent.name))
    return found


def heard() -> None:
    """Whoever runs tests in the background has interrupts ignored, and so would the command."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupt_stops_the_workers_too(
    tmp_path: Path, tmp_path_factory: pytest.TempPathFactory, sent: signal.Signals
) -> None:
    between = tmp_path_factory.mktemp("between")
    for number in range(150):
        (tmp_path / f"h{number:03}.yaml").write_text(generate(number, loops=60), "utf-8")
    command = [sys.executable, "-m", "checker", "check", "--format", "json", "--no-cache"]
    with subprocess.Popen(
        [*command, "--jobs", "2", "--output", str(tmp_path / "r.json"), str(tmp_path)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2]), "TMPDIR": str(between)},
        preexec_fn=heard,
    ) as run:
        deadline = time.monotonic() + 20
        while len(children(run.pid)) < 2 and time.monotonic() < deadline:
            time.sleep(0.02)
        workers = children(run.pid)
        assert len(workers) >= 2
        time.sleep(0.3)
        run.send_signal(sent)
        _, said = run.communicate(
            timeout=60
        )  # past this it hangs; the status says if it ended itself
    assert run.returncode == 130
    assert "Stopped after" in said
    assert "Traceback" not in said
    assert not any(Path(f"/proc/{worker}").exists() for worker in workers)
    assert not (tmp_path / "r.json").exists()
    assert [path for path in tmp_path.iterdir() if path.suffix != ".yaml"] == []
    assert list(between.iterdir()) == []
