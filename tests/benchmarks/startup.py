"""Starting the program over a bare interpreter.

python -m tests.benchmarks.startup
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Callable

from tests.benchmarks.measuring import designs, in_turn

RUNS = 20


def main() -> None:
    """Print the ratios."""

    # An installed program has its bytecode; where this is set, a checkout would compile anew.
    kept = {key: own for key, own in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}

    def call(*words: str) -> Callable[[], object]:
        command = [sys.executable, *words]
        return lambda: subprocess.run(command, capture_output=True, check=False, env=kept)

    with designs(1) as paths, tempfile.TemporaryDirectory() as folder:
        kept["PRESCREED_CACHE"] = folder
        check = ("-m", "checker", "check", paths[0])
        taken = in_turn(
            {
                "bare": call("-c", "pass"),
                "prescreed --version": call("-m", "checker", "--version"),
                "check, one unchanged design, json": call(*check, "--format", "json"),
                "check, one unchanged design, text": call(*check),
                "import numpy, for comparison": call("-c", "import numpy"),
                "check, one design, no cache, json": call(*check, "--format", "json", "--no-cache"),
            },
            RUNS,
        )
    bare = taken.pop("bare")
    print(f"bare interpreter: {bare * 1e3:.1f} ms = 1.0")
    for name, own in taken.items():
        print(f"{name:<34} {own / bare:5.1f}")


if __name__ == "__main__":
    main()
