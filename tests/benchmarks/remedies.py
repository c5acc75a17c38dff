"""How long remedies and chances take: `python -m tests.benchmarks.remedies [designs]`.

Processor time, so that a busy machine tells nearly the same: of a check with remedies less one
without, over the findings; and of a thousand draws of a house of ten loops. No section is in hand
from a round before.
"""

from __future__ import annotations

import sys
import time

from checker.physics.section import forget
from checker.remedies.chances import chances
from checker.run import batch
from checker.run.batch import Plan, check
from tests.design.designs import generate
from tests.remedies.faulty import faulty

AT_ONCE = 25
ROUNDS = 2


def a_finding(designs: int) -> tuple[float, int]:
    """Milliseconds a finding, and how many findings there are."""
    files = [(f"house {n}.yaml", faulty(n).encode()) for n in range(designs)]
    best, findings = float("inf"), 0
    for _ in range(ROUNDS):
        spent, findings = 0.0, 0
        for start in range(0, designs, AT_ONCE):
            some = files[start : start + AT_ONCE]
            forget()
            begun = time.process_time()
            check(some)
            plain = time.process_time()
            reports, _ = check(some, Plan(remedies=True))
            spent += time.process_time() - plain - (plain - begun)
            findings += sum(len(report.remedies) for report in reports)
        best = min(best, spent)
    return best * 1e3 / max(1, findings), findings


def draws(count: int = 1000) -> float:
    """Seconds for so many draws of a house of ten loops."""
    data = generate(3, loops=10).encode()
    read = batch.read([("house.yaml", data)], Plan())
    best = float("inf")
    for _ in range(ROUNDS):
        forget()
        begun = time.process_time()
        chances("house.yaml", data, read.book, read.judging, count)
        best = min(best, time.process_time() - begun)
    return best


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    each, found = a_finding(number)
    print(f"remedies: {each:.0f} ms a finding, {found} findings of {number} designs (aim: 50)")
    print(f"tolerance: 1,000 draws of 10 loops in {draws():.2f} s (aim: 2)")
