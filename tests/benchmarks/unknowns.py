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
"""Designs; of those fewer where floors are solved in section, then one alone; runs; data."""


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


def stated(text: str, covering: str, resistance: str) -> str:
    """The design with another covering in every room, of this resistance, m²·K/W."""
    every = r"material: (tile|timber|carpet), resistance: [^}]*"
    return re.sub(every, f"material: {covering}, resistance: {resistance} m²·K/W", text)


def main() -> None:
    """Print the ratios: within the tables; where ranges reach beyond them; and beyond them
    anyway."""
    texts = [generate(number) for number in range(DESIGNS)]
    for words, whole in (
        ("within the tables", [stated(text, "tile", "0.02") for text in texts]),
        ("with ranges that reach beyond", [stated(text, "carpet", "0.1") for text in texts[:FEW]]),
        ("the same of one design alone", [stated(texts[0], "carpet", "0.1")]),
        ("where some rooms are beyond anyway", texts[:FEW]),
    ):
        with_all, without = seconds(whole), seconds([*map(patchy, whole)])
        print(f"{UNKNOWN} unknown data a design over none, {words}:", end=" ")
        print(f"{without / with_all:.1f} ({with_all / len(whole) * 1e3:.1f} ms a design with none)")


if __name__ == "__main__":
    main()
