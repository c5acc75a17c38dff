"""What a floor in section costs: new sections, over checking the same design without a second one.

`python -m tests.benchmarks.sections` prints, for one design of five loops at five spacings, in
screed and under dry boards with plates, the time with every section new over that without any, and
with all of them solved before; ms are only to give a size.
"""

from __future__ import annotations

from time import process_time

from checker.physics import section
from checker.run import batch

RUNS = 9
HEAD = """\
design: 1
project: {stage: design, designed_on: 2026-03-12, region: GB-ENG}
plant: {supply: 42 °C, drop: 7 K, fluid: {kind: water}}
pipes: {p16: {material: PE-RT, outside: 16 mm, wall: 2 mm}}
rooms:
  a: {use: living, temperature: 20 °C, area: 60 m², heat_load: 3 kW, covering: {material: tile, resistance: 0.02 m²·K/W}}
headers: {H1: {ports: 5}}
"""
WET = """\
floors:
  f: {construction: wet, screed: {material: cement, cover: 45 mm, conductivity: 1.2 W/(m·K)}, insulation: 2.5 m²·K/W, below: heated}
"""
DRY = """\
floors:
  f:
    construction: layered
    layers:
      - {material: OSB, thickness: 20 mm}
      - {material: foam, thickness: 30 mm, conductivity: 0.035 W/(m·K), pipe_axis: 8 mm, plate: {thickness: 0.5 mm, width: 90 mm, conductivity: 200 W/(m·K)}}
    below: heated
"""


def design(floors: str) -> bytes:
    """One design of five loops, each at a spacing of its own."""
    loops = "".join(
        f"  L{place}: {{header: H1, port: {place}, room: a, floor: f, pipe: p16, "
        f"pattern: counterflow, zone: occupied, spacing: {100 + 25 * place} mm, area: 12 m², "
        "length: 80 m, feeds: 8 m}\n"
        for place in range(1, 6)
    )
    return (HEAD + floors + "loops:\n" + loops).encode()


def timed(content: bytes, *, second_opinion: bool, new: bool) -> float:
    """The shortest of several checks, s of processor time."""
    plan = batch.Plan(second_opinion=second_opinion)
    taken = []
    for _ in range(RUNS):
        if new:
            section.forget()
        start = process_time()
        batch.check([("design.yaml", content)], plan)
        taken.append(process_time() - start)
    return min(taken)


def main() -> None:
    """Print the ratios."""
    batch.check([("design.yaml", design(WET))])  # the rules are read once
    plain = timed(design(WET), second_opinion=False, new=False)
    print(f"five wet floors by the standard alone: {1000 * plain:.1f} ms")
    for words, floors, second in (
        ("with a second opinion", WET, True),
        ("given by layers, with plates", DRY, False),
    ):
        for state, new in (("new", True), ("solved before", False)):
            taken = timed(design(floors), second_opinion=second, new=new)
            print(
                f"five floors {words}, sections {state}: {taken / plain:.2f}, "
                f"{1000 * (taken - plain):+.1f} ms"
            )


if __name__ == "__main__":
    main()
