"""What unknown data cost: designs with ten that lie in a range over the same designs without any.

`python -m tests.benchmarks.unknowns`
"""

from __future__ import annotations

import re
import time

from checker.physics.section import forget
from checker.run.batch import check
from tests.design.designs import generate

DESIGNS, FEW, RUNS, UNKNOWN = 100, 5, 3, 10
"""Designs; of those fewer where floors are solved in section; runs; data."""


def patchy(text: str) -> str:
    """The design without its first ten data that have a range."""
    text = re.sub(r"(?<=mm, )conductivity: [^,]*, (?=field)", "", text)
    text = re.sub(r"own_loss: [^,]*, ", "", text, count=1)
    return re.sub(r"(?<=material: )(tile|timber|carpet), resistance: [^}]*", r"\1", text, count=8)


def seconds(texts: list[str]) -> float:
    """Processor time, the shortest of some runs, each without sections that one before solved."""
    best = float("inf")
    for _ in range(RUNS):
        forget()
        start = time.process_time()
        check((f"{number}.yaml", text.encode()) for number, text in enumerate(texts))
        best = min(best, time.process_time() - start)
    return best


def main() -> None:
    """Print the ratios: within the tables, and where ranges reach beyond them."""
    beyond = [generate(number) for number in range(DESIGNS)]
    within = [re.sub("material: (timber|carpet)", "material: tile", text) for text in beyond]
    for words, texts in (("within the tables", within), ("also beyond", beyond[:FEW])):
        whole, struck = seconds(texts), seconds([*map(patchy, texts)])
        print(f"{UNKNOWN} unknown data a design over none, {words}:", end=" ")
        print(f"{struck / whole:.1f} ({whole / len(texts) * 1e3:.1f} ms a design with none)")


if __name__ == "__main__":
    main()
