"""The peak memory of one process over many designs against few: it should be flat.

python -m tests.benchmarks.memory            # 2,000 and 50,000 designs, the JSON report to a file
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from tests.benchmarks.measuring import used
from tests.design.designs import generate

FEW, MANY = 2_000, 50_000
DIFFERENT = 500
"""Designs that differ in content; the others are copies under other names."""


def peak(folder: str, report: str) -> float:
    """Peak resident memory, in megabytes, of checking a folder."""
    how = ["--format", "json", "--output", report, "--jobs", "1", "--no-cache"]
    return used(["-m", "checker", "check", *how, folder]).megabytes


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
        print(f"{count:>6} designs: peak {peaks[count]:.0f} MB")
    print(f"ratio {peaks[MANY] / peaks[FEW]:.2f}")


if __name__ == "__main__":
    main()
