"""Invented designs without end, for tests and benchmarks that need many."""

import random

PIPES = (("PE-RT", 16), ("PE-Xa", 17), ("multilayer", 16), ("PE-Xc", 20))
"""Material and outside diameter in mm; every wall is 2 mm."""
USES = ("living", "bedroom", "kitchen", "office", "hall", "bathroom", "utility")
COVERINGS = (("tile", 0.01, 0.03), ("timber", 0.05, 0.09), ("carpet", 0.08, 0.18))
"""Material with its least and greatest resistance in m²·K/W."""
MOST_PORTS = 12


def generate(number: int, loops: int = 8, seed: int = 0) -> str:
    """The YAML of one plausible design with this many loops; the same text for the same call.

    About one loop in twenty is much too long, some coverings are too thick and some pressure
    tests too low, so that rules find something. Eight loops make some 3.6 kB.
    """
    chance = random.Random(seed + number)
    material, outside = chance.choice(PIPES)
    supply = f"{chance.randrange(360, 460) / 10} °C"
    headers = max(chance.choice((1, 1, 2)), -(-loops // MOST_PORTS))
    ports = -(-loops // headers)
    revision, source = chance.choice("ABCD"), chance.choice(("heat pump", "boiler"))
    lines = [
        "# An invented design.",
        "design: 1",
        f"project: {{name: Invented Street {number}, revision: {revision}, stage: design, "
        f"designed_on: 2026-03-{chance.randrange(1, 29):02}, region: GB-ENG}}",
        f"plant: {{source: {source}, supply: {supply}, drop: {chance.choice((5, 6, 7))} K, "
        "fluid: {kind: water}, outside: -3 °C}",
        "pipes:",
        f"  p{outside}: {{material: {material}, outside: {outside} mm, wall: 2 mm, "
        "conductivity: 0.4 W/(m·K), oxygen_barrier: true, service_class: 4}",
        "floors:",
        f"  slab: {_slab(chance)}",
        "rooms:",
    ]
    runs = ["loops:"]
    for place in range(loops):
        name = f"{chance.choice(USES)} {place + 1}"
        area, run = _loop(chance, name)
        lines.append(f"  {name}: {_room(chance, name.split(' ')[0], area)}")
        runs.append(
            f"  L{place + 1}: {{header: H{place % headers + 1}, port: {place // headers + 1}, "
            f"room: {name}, floor: slab, pipe: p{outside}, {run}}}"
        )
    lines.append("headers:")
    lines += [f"  H{header + 1}: {_header(chance, ports)}" for header in range(headers)]
    lines += [*runs, "pressure_tests:"]
    lines += [f"  test {header + 1}: {_test(chance, header)}" for header in range(headers)]
    lines += [
        f"heat_up: {{started_on: 2026-05-{chance.randrange(8, 29):02}, "
        f"steps: [{{supply: 25 °C, hold: 3 day}}, {{supply: {supply}, hold: 4 day}}]}}"
    ]
    return "\n".join(lines) + "\n"


def _slab(chance: random.Random) -> str:
    return (
        f"{{construction: wet, screed: {{material: cement, cover: {chance.randrange(35, 66)} mm, "
        f"conductivity: {chance.uniform(1.0, 1.4):.2f} W/(m·K), "
        f"field_area: {chance.randrange(20, 40)} m², field_length: {chance.uniform(5, 8):.1f} m, "
        f"laid_on: 2026-04-{chance.randrange(10, 17):02}}}, "
        f"insulation: {chance.uniform(1.25, 5):.2f} m²·K/W, below: ground, "
        "below_temperature: 10 °C, edge_strip: 8 mm}"
    )


def _loop(chance: random.Random, room: str) -> tuple[float, str]:
    spacing = 100 if room.startswith("bathroom") else chance.choice((100, 150, 150, 200))
    area = chance.randrange(600, 1500) / 100 * spacing / 150
    feeds = chance.randrange(20, 160) / 10
    length = area * 1000 / spacing + feeds
    if chance.random() < 0.05:
        length *= 1.6
    pattern = chance.choice(("counterflow", "serpentine"))
    return area, (
        f"pattern: {pattern}, zone: occupied, spacing: {spacing} mm, area: {area:.2f} m², "
        f"length: {length:.1f} m, feeds: {feeds:.1f} m"
    )


def _room(chance: random.Random, use: str, area: float) -> str:
    temperature = 24 if use == "bathroom" else chance.choice((18, 20, 21))
    covering, least, most = chance.choice(COVERINGS)
    return (
        f"{{use: {use}, temperature: {temperature} °C, area: {area * 1.1:.1f} m², "
        f"heat_load: {area * chance.uniform(30, 65):.0f} W, covering: {{material: {covering}, "
        f"resistance: {chance.uniform(least, most):.3f} m²·K/W}}}}"
    )


def _header(chance: random.Random, ports: int) -> str:
    return (
        f"{{ports: {ports}, bore: 25 mm, height: {chance.choice((0.4, 0.5, 0.6))} m, "
        f"isolation_valves: {chance.choice(('true', 'yes'))}, "
        "flow_setters: {least: 0.5 l/min, most: 5 l/min}, "
        f"own_loss: {chance.randrange(40, 100) / 10} kPa, pump: {{curve: [[0 l/min, 60 kPa], "
        f"[{2.5 * ports:.1f} l/min, 45 kPa], [{5 * ports} l/min, 10 kPa]]}}}}"
    )


def _test(chance: random.Random, header: int) -> str:
    return (
        f"{{header: H{header + 1}, medium: water, "
        f"pressure: {chance.choice((4, 4, 4.5, 5, 2.5))} bar, "
        f"hold: {chance.choice((15, 20, 30))} min, "
        f"tested_on: 2026-04-{chance.randrange(1, 10):02}, kept_during_screed: true, "
        "operating_pressure: 1.5 bar}"
    )
