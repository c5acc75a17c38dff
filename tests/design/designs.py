"""Invented designs without end, for tests and benchmarks that need many."""

import random

PIPES = (("PE-RT", 16, 2.0), ("PE-Xa", 17, 2.0), ("multilayer", 16, 2.0), ("PE-Xc", 20, 2.0))
ROOMS = ("living", "bedroom", "kitchen", "office", "hall", "bathroom", "utility")
COVERINGS = (("tile", 0.01, 0.03), ("timber", 0.05, 0.09), ("carpet", 0.08, 0.18))
LOOPS_ON_A_HEADER = 12


def generate(number: int, loops: int = 8, seed: int = 0) -> str:
    """The YAML of one plausible design with this many loops; the same text for the same call.

    About one loop in twenty is much too long, and now and then a pressure test is too low, so
    that rules find something. Eight loops make some 3 kB.
    """
    chance = random.Random(seed + number)
    material, outside, wall = chance.choice(PIPES)
    supply = chance.randrange(360, 460) / 10
    headers = max(chance.choice((1, 1, 2)), -(-loops // LOOPS_ON_A_HEADER))
    rooms: list[str] = []
    runs: list[str] = []
    for place in range(loops):
        use = chance.choice(ROOMS)
        spacing = 100 if use == "bathroom" else chance.choice((100, 150, 150, 200))
        heated = chance.randrange(600, 1500) / 100 * spacing / 150
        feeds = chance.randrange(20, 160) / 10
        length = heated * 1000 / spacing + feeds
        if chance.random() < 0.05:
            length *= 1.6
        load = heated * chance.uniform(30, 65)
        covering, least, most = chance.choice(COVERINGS)
        temperature = 24 if use == "bathroom" else chance.choice((18, 20, 21))
        header, port = place % headers + 1, place // headers + 1
        rooms.append(
            f"  {use} {place + 1}: {{use: {use}, temperature: {temperature} °C, "
            f"area: {heated * 1.1:.1f} m², heat_load: {load:.0f} W, covering: "
            f"{{material: {covering}, resistance: {chance.uniform(least, most):.3f} m²·K/W}}}}"
        )
        runs.append(
            f"  L{place + 1}: {{header: H{header}, port: {port}, room: {use} {place + 1}, "
            f"floor: slab, pipe: p{outside}, pattern: {chance.choice(('counterflow', 'serpentine'))}, "
            f"zone: occupied, spacing: {spacing} mm, area: {heated:.2f} m², "
            f"length: {length:.1f} m, feeds: {feeds:.1f} m}}"
        )
    ports = -(-loops // headers)
    bars = [
        f"  H{header + 1}: {{ports: {ports}, bore: 25 mm, height: {chance.choice((0.4, 0.5, 0.6))} m, "
        f"isolation_valves: {chance.choice(('true', 'yes'))}, "
        "flow_setters: {least: 0.5 l/min, most: 5 l/min}, "
        f"own_loss: {chance.randrange(40, 100) / 10} kPa, pump: {{curve: [[0 l/min, 60 kPa], "
        f"[{2.5 * ports:.1f} l/min, 45 kPa], [{5 * ports} l/min, 10 kPa]]}}}}"
        for header in range(headers)
    ]
    tests = [
        f"  test {header + 1}: {{header: H{header + 1}, medium: water, "
        f"pressure: {chance.choice((4, 4, 4.5, 5, 2.5))} bar, hold: {chance.choice((15, 20, 30))} min, "
        f"tested_on: 2026-04-{chance.randrange(1, 10):02}, kept_during_screed: true, "
        "operating_pressure: 1.5 bar}"
        for header in range(headers)
    ]
    start = f"2026-05-{chance.randrange(8, 29):02}"
    lines = [
        "# An invented design.",
        "design: 1",
        f"project: {{name: Invented Street {number}, revision: {chance.choice('ABCD')}, stage: design, "
        f"designed_on: 2026-03-{chance.randrange(1, 29):02}, region: GB-ENG}}",
        f"plant: {{source: {chance.choice(('heat pump', 'boiler'))}, supply: {supply} °C, "
        f"drop: {chance.choice((5, 6, 7))} K, fluid: {{kind: water}}, outside: -3 °C}}",
        "pipes:",
        f"  p{outside}: {{material: {material}, outside: {outside} mm, wall: {wall} mm, "
        "conductivity: 0.4 W/(m·K), oxygen_barrier: true, service_class: 4}",
        "floors:",
        "  slab: {construction: wet, screed: {material: cement, "
        f"cover: {chance.randrange(35, 66)} mm, conductivity: {chance.uniform(1.0, 1.4):.2f} W/(m·K), "
        f"field_area: {chance.randrange(20, 40)} m², field_length: {chance.uniform(5, 8):.1f} m, "
        f"laid_on: 2026-04-{chance.randrange(10, 17):02}}}, "
        f"insulation: {chance.uniform(1.25, 5):.2f} m²·K/W, "
        "below: ground, below_temperature: 10 °C, edge_strip: 8 mm}",
        "rooms:",
        *rooms,
        "headers:",
        *bars,
        "loops:",
        *runs,
        "pressure_tests:",
        *tests,
        f"heat_up: {{started_on: {start}, steps: [{{supply: 25 °C, hold: 3 day}}, "
        f"{{supply: {supply} °C, hold: 4 day}}]}}",
    ]
    return "\n".join(lines) + "\n"
