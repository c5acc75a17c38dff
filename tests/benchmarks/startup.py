"""Starting the program over a bare interpreter.

python -m tests.benchmarks.startup
"""

from __future__ import annotations

import subprocess
import sys

from tests.benchmarks.measuring import designs, seconds

RUNS = 20


def main() -> None:
    """Print the ratios."""

    def call(*words: str) -> float:
        return seconds(
            lambda: subprocess.run([sys.executable, *words], capture_output=True, check=False), RUNS
        )

    with designs(1) as paths:
        bare = call("-c", "pass")
        version = call("-m", "checker", "--version")
        numpy = call("-c", "import numpy")
        check = call("-m", "checker", "check", "--format", "json", paths[0])
        text = call("-m", "checker", "check", paths[0])
    print(f"bare interpreter: {bare * 1e3:.1f} ms = 1.0")
    print(f"prescreed --version               {version / bare:5.1f}")
    print(f"import numpy, for comparison      {numpy / bare:5.1f}")
    print(f"prescreed check, one design, json {check / bare:5.1f}")
    print(f"prescreed check, one design, text {text / bare:5.1f}")


if __name__ == "__main__":
    main()
