"""Every format of whole commands: time over that of the JSON command, and peak memory.

python -m tests.benchmarks.formats                  # 1,000 designs
python -m tests.benchmarks.formats 10000 csv junit  # memory, of some formats
"""

from __future__ import annotations

import os
import sys
import tempfile

from tests.benchmarks.measuring import Used, designs, used

COUNT = 1_000
ROUNDS = 3
JSON = ("--format", "json", "--output", "report")
PLAIN = """
import sys, yaml
from pathlib import Path
for path in sorted(Path(sys.argv[1]).iterdir()):
    yaml.load(path.read_bytes(), Loader=yaml.CSafeLoader)
"""
FORMATS = {
    "json": JSON,
    "text": ("--format", "text", "--output", "report"),
    "text, summary": ("--format", "text", "--summary", "--output", "report"),
    "csv": ("--format", "csv", "--output", "report"),
    "csv, computed": ("--format", "csv", "--table", "computed", "--output", "report"),
    "parquet": ("--format", "parquet", "--output", "report"),
    "sarif": ("--format", "sarif", "--output", "report"),
    "sarif-alerts": ("--format", "sarif-alerts", "--output", "report"),
    "junit": ("--format", "junit", "--output", "report"),
    "markdown": ("--format", "markdown", "--output", "report"),
    "code-quality": ("--format", "code-quality", "--output", "report"),
    "annotations": ("--format", "annotations", "--output", "report"),
    "job-summary": ("--format", "job-summary", "--output", "report"),
    "html, a folder": ("--format", "html", "--output", "pages/"),
}


def main() -> None:
    """Print the table."""
    count = int(sys.argv[1]) if sys.argv[1:] else COUNT
    rounds = ROUNDS if count <= COUNT else 1
    wanted = {"json", *sys.argv[2:]} if sys.argv[2:] else {*FORMATS}
    with designs(count) as paths, tempfile.TemporaryDirectory() as folder:
        source = os.path.dirname(paths[0])
        check = ["-m", "checker", "check", source, "--jobs", "1", "--no-cache"]
        commands = {name: [*check, *words] for name, words in FORMATS.items() if name in wanted}
        commands["plain yaml.load"] = ["-c", PLAIN, source]
        taken: dict[str, list[Used]] = {name: [] for name in commands}
        for _ in range(rounds):
            for name, words in commands.items():
                taken[name].append(used(words, folder))
    json = min(one.seconds for one in taken["json"])
    print(f"{count} designs of 8 loops, one process, no cache; json takes {json:.2f} s = 1.00")
    for name, runs in taken.items():
        shares = sorted(one.seconds / json for one in runs)
        peak = max(one.megabytes for one in runs)
        print(f"{name:<16} {shares[0]:6.2f} to {shares[-1]:.2f} {peak:7.0f} MB")
    plain = min(one.seconds for one in taken["plain yaml.load"])
    print(f"json over plain yaml.load {json / plain:.2f}")


if __name__ == "__main__":
    main()
