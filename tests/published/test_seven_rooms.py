"""A house of seven rooms with feeds through its hall, worked by hand.

Everything is plain arithmetic with a pocket calculator's functions, step by step; nothing of the
program is used. Sources: EN 1264-2:2021 for the heat coefficient and EN 1264-3:2021 for flows (both
as reported), Darcy and Weisbach for the loss, water by the library iapws (IAPWS SR6-08(2011)).

Six loops leave the header in the hall and run through its floor, supply beside return. Because no
feed passes through another room, each room is worked alone, and the hall last.
"""

from __future__ import annotations

from functools import cache
from math import exp, log, log10, pi, sqrt
from typing import NamedTuple

import pytest
from iapws._iapws import _Liquid
from scipy.optimize import brentq

from checker.outcome.report import DesignReport
from tests.example import computed, report

SUPPLY, DROP = 41.0, 6.0
"""°C and K."""
UP = 1 / 10.8 + 0.05 + 0.045 / 1.2
"""R_o: surface, covering of 0.05 m²·K/W, cover of 45 mm at 1.2 W/(m·K); 0.180093 m²·K/W."""
DOWN = 3.0
"""R_u: the insulation alone, over ground of 10 °C, m²·K/W."""


class Room(NamedTuple):
    """Temperature, °C; load, W; spacing, m; heated area, m²; feeds through the hall, m; length, m."""

    inside: float
    load: float
    spacing: float
    area: float
    feeds: float
    length: float


ROOMS = {
    "living": Room(20, 620, 0.150, 13.0, 6, 95),
    "dining": Room(20, 430, 0.150, 10.0, 10, 79),
    "kitchen": Room(20, 400, 0.150, 9.0, 4, 66),
    "study": Room(20, 380, 0.150, 8.0, 12, 68),
    "bedroom": Room(18, 300, 0.150, 9.5, 14, 80),
    "bath": Room(24, 310, 0.100, 7.0, 8, 80),
    "hall": Room(19, 520, 0.150, 8.0, 0, 56),
}
OWN_LOSS = 5e3
"""Pa, of the header."""
BORE, WALL_ROUGHNESS = 0.012, 1.5e-6

COEFFICIENTS = {0.150: 4.167, 0.100: 4.715, 0.075: 5.023}
"""K_H by spacing, W/(m²·K), as the test below works them out."""


def test_heat_coefficients_by_hand() -> None:
    """EN 1264-2: K_H = B · a_B · a_T^m_T · a_u^m_u · a_D^m_D, at table points of R = 0.05.

    B = 6.7 for a wall of 2 mm at 0.35 W/(m·K); m_u = 100 · (0.045 − 0.045) = 0;
    m_D = 250 · (0.016 − 0.020) = −1; a_T = 1.188; a_D = 1.034 (150 mm), 1.025 (100 mm),
    1.019 (75 mm).
    """
    a_b = (1 / 10.8 + 0.045 / 1.0) / (1 / 10.8 + 0.045 / 1.2 + 0.05)
    assert a_b == pytest.approx(0.76401, abs=1e-5)
    assert 6.7 * a_b / (1.188 * 1.034) == pytest.approx(coefficient(0.150), rel=1e-12)
    assert 6.7 * a_b / (1.188 ** (1 / 3) * 1.025) == pytest.approx(coefficient(0.100), rel=1e-12)
    assert 6.7 * a_b / 1.019 == pytest.approx(coefficient(0.075), rel=1e-12)
    for spacing, rounded in COEFFICIENTS.items():
        assert coefficient(spacing) == pytest.approx(rounded, abs=5e-4)


def coefficient(spacing: float) -> float:
    a_b = (1 / 10.8 + 0.045 / 1.0) / UP
    a_d = {0.150: 1.034, 0.100: 1.025, 0.075: 1.019}[spacing]
    return float(6.7 * a_b * 1.188 ** (1 - spacing / 0.075) / a_d)


def water(celsius: float) -> tuple[float, float, float]:
    """Density, kg/m³; specific heat, J/(kg·K); viscosity, Pa·s."""
    found = _Liquid(celsius + 273.15, 0.1)
    return float(found["rho"]), 1e3 * float(found["cp"]), float(found["mu"])


def returned(share_flux: float, inside: float, spacing: float) -> float:
    """°C: where K_H · Δθ_H gives the flux, W/m²."""
    wanted = share_flux / coefficient(spacing)

    def lacking(back: float) -> float:
        return (SUPPLY - back) / log((SUPPLY - inside) / (back - inside)) - wanted

    return float(brentq(lacking, inside + 1e-6, SUPPLY - 1e-6, xtol=1e-13))


class Worked(NamedTuple):
    """Of a loop: °C, W (its feeds' heat up), kg/s, m³/s, m/s, 1, Pa."""

    back: float
    fed: float
    mass_flow: float
    flow: float
    speed: float
    reynolds: float
    loss: float


def loop(room: Room, load: float) -> Worked:
    """One loop at its set point; load: what is asked of it, W."""
    # 1. The return at which its floor gives the load.
    flux = load / room.area
    back = returned(flux, room.inside, room.spacing)
    # 2. What the water gives up and down: floor, and feeds in the hall of 19 °C at 75 mm.
    below = (UP * flux + room.inside - 10) / DOWN
    given = room.area * (flux + below)
    strip = room.feeds * 0.075
    feed_flux = coefficient(0.075) * ((SUPPLY + back) / 2 - 19)
    feed_below = (UP * feed_flux + 19 - 10) / DOWN
    given += strip * (feed_flux + feed_below)
    # 3. The flow that carries it at this loop's own drop.
    density, heat, viscosity = water((SUPPLY + back) / 2)
    mass_flow = given / (heat * (SUPPLY - back))
    flow = mass_flow / density
    # 4. Speed, Reynolds number, loss.
    speed = flow / (pi / 4 * BORE**2)
    reynolds = speed * BORE * density / viscosity
    loss = friction(reynolds) * room.length / BORE * density * speed**2 / 2
    return Worked(back, strip * feed_flux, mass_flow, flow, speed, reynolds, loss)


def friction(reynolds: float) -> float:
    """64/Re to 2300, Colebrook from 4000, a line between the two values."""
    if reynolds <= 2300:
        return 64 / reynolds
    factor = 0.04
    for _ in range(60):
        inner = WALL_ROUGHNESS / BORE / 3.7 + 2.51 / (max(reynolds, 4000) * sqrt(factor))
        factor = 1 / (2 * log10(inner)) ** 2
    if reynolds >= 4000:
        return factor
    share = (reynolds - 2300) / (4000 - 2300)
    return 64 / 2300 * (1 - share) + factor * share


@cache
def worked() -> dict[str, Worked]:
    """All loops; the hall's last, for what the feeds leave of its load."""
    found = {name: loop(room, room.load) for name, room in ROOMS.items() if name != "hall"}
    passing = sum(one.fed for one in found.values())
    found["hall"] = loop(ROOMS["hall"], ROOMS["hall"].load - passing)
    return found


def design() -> str:
    covering = "covering: {material: timber, resistance: 0.05 m²·K/W}"
    rooms = [
        f"  {name}: {{use: living, temperature: {one.inside} °C, area: {one.area + 2} m², "
        f"heat_load: {one.load} W, {covering}}}"
        for name, one in ROOMS.items()
    ]
    loops = [
        f"  {name}: {{header: H, room: {name}, floor: slab, pipe: p, pattern: counterflow, "
        f"zone: occupied, spacing: {one.spacing * 1000} mm, area: {one.area} m², "
        f"length: {one.length} m"
        + (
            f", feeds: [{{room: hall, floor: slab, length: {one.feeds} m, spacing: 75 mm}}]}}"
            if one.feeds
            else "}"
        )
        for name, one in ROOMS.items()
    ]
    return "\n".join(
        [
            "design: 1",
            f"plant: {{supply: {SUPPLY} °C, drop: {DROP} K, fluid: {{kind: water}}}}",
            "pipes: {p: {material: PE-RT, outside: 16 mm, wall: 2 mm}}",
            "floors: {slab: {construction: wet, screed: {material: cement, cover: 45 mm, "
            "conductivity: 1.2 W/(m·K)}, insulation: 3 m²·K/W, below: ground, "
            "below_temperature: 10 °C}}",
            "rooms:",
            *rooms,
            "headers: {H: {own_loss: 5 kPa, pump: {curve: [[0 l/min, 30 kPa], [10 l/min, 10 kPa]]}}}",
            "loops:",
            *loops,
        ]
    )


@pytest.fixture(scope="module")
def found() -> DesignReport:
    return report(design())


@pytest.mark.parametrize("name", ROOMS)
def test_each_loop_is_as_by_hand(name: str, found: DesignReport) -> None:
    hand = worked()[name]
    for value, own in (
        ("return_temperature", hand.back),
        ("flow", hand.flow * 6e4),
        ("velocity", hand.speed),
        ("reynolds", hand.reynolds),
        ("pressure_drop", hand.loss / 1e3),
    ):
        # Viscosity and density by two programs of one release; returns by two solvers.
        assert computed(found, f"loops.{name}", value) == pytest.approx(own, rel=2e-6), value


def test_the_hall_by_hand(found: DesignReport) -> None:
    """What passes is taken off its own loop's load, so that it gets what it needs."""
    passing = sum(one.fed for name, one in worked().items() if name != "hall")
    assert 200 < passing < 468
    assert computed(found, "rooms.hall", "passing_heat") == pytest.approx(passing, rel=1e-7)
    assert computed(found, "rooms.hall", "output") == pytest.approx(520, rel=1e-9)
    own = computed(found, "loops.hall", "output") * 8
    assert own == pytest.approx(520 - passing, rel=1e-6)


def test_needed_supply_and_coverage_of_the_bath_by_hand(found: DesignReport) -> None:
    """310 W on 7 m²: Δθ_H at the plant's drop, and what is given open."""
    flux = 310 / 7
    over = DROP / (1 - exp(-DROP * coefficient(0.100) / flux))
    assert computed(found, "loops.bath", "needed_supply") == pytest.approx(24 + over, rel=1e-9)
    most = coefficient(0.100) * DROP / log((SUPPLY - 24) / (SUPPLY - DROP - 24))
    assert computed(found, "loops.bath", "largest_output") == pytest.approx(most, rel=1e-9)
    assert computed(found, "rooms.bath", "coverage") == pytest.approx(100 * most / flux, rel=1e-9)


def test_the_header_and_its_valves_by_hand(found: DesignReport) -> None:
    hand = worked()
    flow = sum(one.flow for one in hand.values()) * 6e4
    worst = max(one.loss for one in hand.values())
    assert computed(found, "headers.H", "flow") == pytest.approx(flow, rel=1e-6)
    loss = (worst + OWN_LOSS) / 1e3
    assert computed(found, "headers.H", "pressure_drop") == pytest.approx(loss, rel=2e-6)
    assert computed(found, "headers.H", "pump_head") == pytest.approx(30 - 2 * flow, rel=1e-6)
    for name, one in hand.items():
        takes = worst - one.loss
        assert computed(found, f"loops.{name}", "valve_drop") == pytest.approx(
            takes / 1e3, abs=1e-5
        )
        if takes > 0:
            kv = one.flow * 3600 / sqrt(takes / 1e5)
            assert computed(found, f"loops.{name}", "valve_kv") == pytest.approx(kv, rel=1e-4)


def test_where_the_pump_settles_every_way_closes(found: DesignReport) -> None:
    """By hand again: pipe and valve of each loop at its settled flow lose what the pump leaves."""
    hand = worked()
    total = sum(one.flow for one in hand.values())
    worst = max(one.loss for one in hand.values())

    def lost(name: str, flow: float) -> float:
        one, room = hand[name], ROOMS[name]
        density, _, viscosity = water((SUPPLY + one.back) / 2)
        speed = flow / (pi / 4 * BORE**2)
        number = speed * BORE * density / viscosity
        pipe = friction(number) * room.length / BORE * density * speed**2 / 2
        return pipe + (worst - one.loss) * (flow / one.flow) ** 2

    def through(name: str, across: float) -> float:
        return float(brentq(lambda q: lost(name, q) - across, 1e-9, 1e-3, xtol=1e-16))

    def surplus(across: float) -> float:
        met = sum(through(name, across) for name in ROOMS)
        return 30e3 - 2e3 * met * 6e4 - across - OWN_LOSS * (met / total) ** 2

    across = float(brentq(surplus, 10.0, 30e3, xtol=1e-7))
    met = sum(through(name, across) for name in ROOMS) * 6e4
    assert computed(found, "headers.H", "met_flow") == pytest.approx(met, rel=1e-6)
