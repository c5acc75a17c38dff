"""A design of twelve loops with its plan, over the same design without.

python -m tests.benchmarks.drawing
"""

from __future__ import annotations

from checker.design import plans
from checker.run.batch import check
from tests.benchmarks.measuring import in_turn
from tests.geometry.drawings import as_text, design, house

RUNS = 15


def main() -> None:
    """Print the ratios."""
    drawn = house()
    whole = design(drawn)
    plain = whole.replace(as_text(drawn), "")

    def anew() -> None:
        plans._KEPT.clear()
        check([("house.yaml", whole.encode())])

    taken = in_turn(
        {
            "without": lambda: check([("house.yaml", plain.encode())]),
            "with its plan": anew,
            "again, with other data": lambda: check([("house.yaml", whole.encode())]),
        },
        RUNS,
    )
    base = taken.pop("without")
    pipe = sum(one.length for one in drawn.routes.values())
    print(f"without its plan: {base * 1e3:.1f} ms = 1.0 ({len(drawn.routes)} loops, {pipe:.0f} m)")
    for name, own in taken.items():
        print(f"{name:<26} {own / base:5.1f} ({own * 1e3:.0f} ms)")


if __name__ == "__main__":
    main()
