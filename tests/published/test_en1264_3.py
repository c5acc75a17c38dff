"""EN 1264-3's chain from the design room to the flow of every other room, in its own closed forms.

EN 1264-3:2021 (as reported): Δθ_V,des = Δθ_H + σ/2 + σ²/(12·Δθ_H) for the room that needs most;
at that common supply each other room has σ_j = 3·Δθ_H,j·(√(1 + 4·(Δθ_V,des − Δθ_H,j)/(3·Δθ_H,j)) − 1)
where σ_j/Δθ_H,j is over 0.5, else 2·(Δθ_V,des − Δθ_H,j), and the flow
m = A·q/(σ·c) · (1 + R_o/R_u + (θ_i − θ_u)/(q·R_u)). The two forms for σ are series of the logarithmic
mean: they are good to 1.7 % (the simple one at 0.5) and 0.4 % (the other up to 1.5) of Δθ_V.
"""

from __future__ import annotations

from math import sqrt

import pytest

from tests.example import computed, report

COEFFICIENT, INSIDE, GROUND, DESIGN_DROP = 4.5, 20.0, 10.0, 5.0
UP, DOWN = 1 / 10.8 + 0.10 + 0.045 / 1.2, 2.0
AREA, SPECIFIC_HEAT = 12.0, 4180.0
"""m², and J/(kg·K) of water at 30 to 40 °C to 0.1 % (IAPWS)."""

MOST = 70.0
"""W/m² of the design room."""


def design_supply() -> float:
    """θ_V,des, °C."""
    over = MOST / COEFFICIENT
    return INSIDE + over + DESIGN_DROP / 2 + DESIGN_DROP**2 / (12 * over)


def room_drop(flux: float) -> tuple[float, float]:
    """σ_j, K, and how far off its form is, as a share of Δθ_V."""
    over, supply = flux / COEFFICIENT, design_supply() - INSIDE
    simple = 2 * (supply - over)
    if simple / over <= 0.5:
        return simple, 0.017
    return 3 * over * (sqrt(1 + 4 * (supply - over) / (3 * over)) - 1), 0.004


def house(flux: float) -> str:
    rooms = {"most": MOST, "other": flux}
    return "\n".join(
        [
            "design: 1",
            f"plant: {{supply: {design_supply()} °C, drop: {DESIGN_DROP} K, fluid: {{kind: water}}}}",
            "pipes: {p: {material: PE-RT, outside: 16 mm, wall: 2 mm}}",
            "floors: {slab: {construction: tested, "
            f"heat_coefficient: {COEFFICIENT} W/(m²·K), screed: {{cover: 45 mm, conductivity: "
            f"1.2 W/(m·K)}}, insulation: {DOWN} m²·K/W, below: ground, "
            f"below_temperature: {GROUND} °C}}}}",
            "rooms:",
            *(
                f"  {name}: {{use: living, temperature: {INSIDE} °C, heat_load: {AREA * q} W, "
                "covering: {material: carpet, resistance: 0.10 m²·K/W}}"
                for name, q in rooms.items()
            ),
            "loops:",
            *(
                f"  {name}: {{room: {name}, floor: slab, pipe: p, pattern: counterflow, "
                f"zone: occupied, area: {AREA} m², length: 85 m}}"
                for name in rooms
            ),
        ]
    )


@pytest.mark.parametrize("flux", [68.0, 64.0, 60.0, 55.0, 50.0, 45.0])
def test_the_chain_from_the_design_room_to_another_rooms_flow(flux: float) -> None:
    found = report(house(flux))
    # The design room gets its load at its own drop, to what the series is good for.
    assert computed(found, "loops.most", "needed_supply") == pytest.approx(
        design_supply(), rel=3e-4
    )
    drop, off = room_drop(flux)
    assert drop / (flux / COEFFICIENT) < 1.5
    allowed = 2 * off * (design_supply() - INSIDE)  # σ/2 stands beside Δθ_V
    assert computed(found, "loops.other", "drop") == pytest.approx(drop, abs=allowed)
    own_drop = computed(found, "loops.other", "drop")
    mass_flow = AREA * flux / (own_drop * SPECIFIC_HEAT)
    mass_flow *= 1 + UP / DOWN + (INSIDE - GROUND) / (flux * DOWN)
    # A litre weighs 0.994 kg to half a per cent at these temperatures.
    assert computed(found, "loops.other", "flow") == pytest.approx(mass_flow / 0.994 * 60, rel=6e-3)


def test_less_load_means_more_drop_and_less_flow_than_in_proportion() -> None:
    """At three quarters of the design room's load: twice its drop and more, a third of its flow."""
    found = report(house(0.75 * MOST))
    drops = [computed(found, f"loops.{name}", "drop") for name in ("most", "other")]
    flows = [computed(found, f"loops.{name}", "flow") for name in ("most", "other")]
    assert drops[1] > 2 * drops[0]
    assert flows[1] < flows[0] / 2.5
