"""What a review of many designs of many senders costs, over the JSON check of the same designs.

python -m tests.benchmarks.review            # 600 designs of 40 contractors; at most 3, and 300 MB
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.design.designs import generate

DESIGNS, CONTRACTORS = 600, 40
_CODE = (
    "import resource, sys; from checker.cli import main; main(sys.argv[1:]); "
    "used = resource.getrusage(resource.RUSAGE_SELF); "
    "print(used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, file=sys.stderr)"
)


def used(words: list[str]) -> tuple[float, float]:
    """Processor seconds and peak megabytes of a call in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", _CODE, *words],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    seconds, megabytes = done.stderr.split()[-2:]
    return float(seconds), float(megabytes)


def main() -> None:
    """Print both, and the ratio."""
    with tempfile.TemporaryDirectory() as folder:
        sent = Path(folder) / "sent"
        sent.mkdir()
        for number in range(DESIGNS):
            text = generate(number).replace(
                "project: {", f"project: {{contractor: Contractor {number % CONTRACTORS}, ", 1
            )
            (sent / f"{number:03}.yaml").write_text(text, "utf-8")
        report, letters = str(Path(folder) / "report.json"), str(Path(folder) / "letters")
        once = ["--jobs", "1", "--no-cache"]
        check = used(["check", str(sent), "--format", "json", "--output", report, *once])
        review = used(["review", str(sent), "--output", letters])
        written = len([*Path(letters).glob("*.md")]) - 1
        print(f"check as JSON: {check[0]:.1f} s processor time, {check[1]:.0f} MB")
        print(f"review: {review[0]:.1f} s, {review[1]:.0f} MB, {written} letters")
        print(f"ratio {review[0] / check[0]:.2f}")


if __name__ == "__main__":
    main()
