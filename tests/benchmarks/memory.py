"""The peak memory of one process over many designs against few: it should be flat.

python -m tests.benchmarks.memory            # 2,000 and 50,000 designs, the JSON report to a file
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.design.designs import generate

FEW, MANY = 2_000, 50_000
DIFFERENT = 500
"""Designs that differ in content; the others are copies under other names."""


def peak(folder: str, report: str) -> int:
    """Peak resident memory, in kilobytes, of checking a folder."""
    code = (
        "import resource, sys; from checker.cli import main; main(sys.argv[1:]); "
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, file=sys.stderr)"
    )
    words = ["check", "--format", "json", "--output", report, "--jobs", "1", "--no-cache", folder]
    done = subprocess.run(
        [sys.executable, "-c", code, *words],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    return int(done.stderr.split()[-1])


def main() -> None:
    """Print the ratio."""
    texts = [generate(number) for number in range(DIFFERENT)]
    peaks = {}
    for count in (FEW, MANY):
        with tempfile.TemporaryDirectory() as folder:
            for number in range(count):
                path = Path(folder) / f"house-{number:06}.yaml"
                path.write_text(texts[number % DIFFERENT], "utf-8")
            peaks[count] = peak(folder, os.path.join(folder, "report.out"))
        print(f"{count:>6} designs: peak {peaks[count] / 1024:.0f} MB")
    print(f"ratio {peaks[MANY] / peaks[FEW]:.2f}")


if __name__ == "__main__":
    main()
