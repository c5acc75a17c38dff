"""What a floor in section costs: new sections, over checking the same design without a second one.

`python -m tests.benchmarks.sections` prints, for one design of five loops at five spacings, in
screed and under dry boards with plates, the time with every section new over that without any, and
with all of them solved before; ms are only to give a size.
"""

from __future__ import annotations

from collections.abc import Iterator
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


CASES = {
    "with a second opinion, sections new": (WET, True, True),
    "with a second opinion, sections solved before": (WET, True, False),
    "given by layers, with plates, sections new": (DRY, False, True),
    "given by layers, with plates, sections solved before": (DRY, False, False),
    "": (WET, False, False),
}
"""Floors, whether with a second opinion, and whether all sections are new."""


def timed(floors: str, second_opinion: bool, new: bool) -> float:
    """One check, s of processor time."""
    if new:
        section.forget()
    plan = batch.Plan(second_opinion=second_opinion)
    content = design(floors)
    start = process_time()
    batch.check([("design.yaml", content)], plan)
    return process_time() - start


def main() -> None:
    """Print the ratios: cases in turn, the shortest of each."""
    for case in CASES.values():
        timed(*case)
    taken = {name: min(own) for name, own in zip(CASES, zip(*_rounds(), strict=True), strict=True)}
    plain = taken.pop("")
    print(f"five wet floors by the standard alone: {1000 * plain:.1f} ms")
    for name, own in taken.items():
        print(f"five floors {name}: {own / plain:.2f}, {1000 * (own - plain):+.1f} ms")


def _rounds() -> Iterator[list[float]]:
    for _ in range(RUNS):
        yield [timed(*case) for case in CASES.values()]


if __name__ == "__main__":
    main()
