"""What a review of many designs of many senders costs, over the JSON check of the same designs.

python -m tests.benchmarks.review            # 600 designs of 40 contractors; at most 3, and 300 MB

The second review keeps a register, so that a form for what is missing goes out for each design.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.benchmarks.measuring import used
from tests.design.designs import generate

DESIGNS, CONTRACTORS = 600, 40


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
        check = used(
            ["-m", "checker", "check", str(sent), "--format", "json", "--output", report, *once]
        )
        call = ["-m", "checker", "review", str(sent), "--output"]
        review = used([*call, letters])
        written = len([*Path(letters).glob("*.md")]) - 1
        kept = Path(folder) / "with-register"
        register = used([*call, str(kept), "--register", str(Path(folder) / "register.json")])
        forms = len([*kept.glob("*-missing.xlsx")])
        print(f"check as JSON: {check.seconds:.1f} s processor time, {check.megabytes:.0f} MB")
        print(f"review: {review.seconds:.1f} s, {review.megabytes:.0f} MB, {written} letters")
        print(f"ratio {review.seconds / check.seconds:.2f}")
        print(
            f"with a register: {register.seconds:.1f} s, {register.megabytes:.0f} MB, {forms} forms"
        )
        print(f"ratio {register.seconds / check.seconds:.2f}")


if __name__ == "__main__":
    main()
