"""Three small designs worked by hand, as a handbook would.

Nothing of the program is used: each line is a formula, and before it the number that it gives, so
that a reader with a pocket calculator can follow. EN 1264-2:2021 and EN 1264-3:2021 are cited as
EN; their formulas and tables are reported (read in works that cite the standard). Water is read
from the printed table below, straight between its lines, as a person reads a table.
"""

from __future__ import annotations

from math import exp, log, log10, pi

import pytest

# Water at 0.101325 MPa, IAPWS-95 and viscosity IAPWS R12-08, to five places:
# °C: (kg/m³, J/(kg·K), mPa·s).
WATER = {
    30: (995.65, 4179.8, 0.7972),
    35: (994.03, 4179.3, 0.7191),
    40: (992.22, 4179.4, 0.6527),
    45: (990.21, 4180.1, 0.5958),
}


def water(celsius: float) -> tuple[float, float, float]:
    """The table's two nearest lines, joined by a straight one."""
    line = int(celsius // 5 * 5)
    share = (celsius - line) / 5
    density, heat, viscosity = (
        a + share * (b - a) for a, b in zip(WATER[line], WATER[line + 5], strict=True)
    )
    return density, heat, viscosity


def noted(number: float, formula: float) -> float:
    """What the formula gives, which must be the number that stands beside it, but for its
    rounding to five digits."""
    assert formula == pytest.approx(number, rel=5e-5)
    return formula


def return_by_trial(
    supply: float,
    room: float,
    below: float,
    area: float,
    coefficient: float,
    up: float,
    down: float,
    mass_flow: float,
) -> float:
    """The return at which the water's loss is the floor's gain: guess, work out, guess again.

    EN 1264-3: Δθ_H = (θ_V − θ_R)/ln((θ_V − θ_i)/(θ_R − θ_i)), q = K_H·Δθ_H,
    q_u = (R_o·q + θ_i − θ_u)/R_u, and ṁ·c·(θ_V − θ_R) = A·(q + q_u).
    """
    back = supply - 5
    for _ in range(30):
        excess = (supply - back) / log((supply - room) / (back - room))
        heat = coefficient * excess
        loss = (up * heat + room - below) / down
        back = supply - area * (heat + loss) / (mass_flow * water((supply + back) / 2)[1])
    return back


def colebrook(reynolds: float, roughness: float) -> float:
    """1/√f = −2·log10(ε/3.7 + 2.51/(Re·√f)), put into itself until it stands."""
    inverse = 7.0
    for _ in range(40):
        inverse = -2 * log10(roughness / 3.7 + 2.51 * inverse / reynolds)
    return 1 / inverse**2


Values = dict[tuple[str, str], float]
"""Worked by hand: (subject, name of the computed value) to its value in the report's unit."""

KITCHEN = """\
design: 1
project: {name: By hand 1, stage: design, designed_on: 2026-03-12, region: GB-ENG}
plant: {source: heat pump, supply: 42 °C, drop: 7 K, fluid: {kind: water}}
pipes:
  p16: {material: PE-RT, outside: 16 mm, wall: 2 mm}
floors:
  slab: {construction: wet, screed: {material: cement, cover: 45 mm, conductivity: 1.2 W/(m·K)}, insulation: 2.5 m²·K/W, below: ground, below_temperature: 10 °C}
rooms:
  kitchen: {use: kitchen, temperature: 20 °C, area: 20 m², heat_load: 900 W, covering: {material: tile, resistance: 0.02 m²·K/W}}
headers:
  H1: {ports: 4, bore: 25 mm, own_loss: 8 kPa, pump: {curve: [[0 l/min, 60 kPa], [20 l/min, 45 kPa], [40 l/min, 10 kPa]]}}
loops:
  L1: {header: H1, port: 1, room: kitchen, floor: slab, pipe: p16, pattern: counterflow, zone: occupied, spacing: 150 mm, area: 12 m², length: 88 m, feeds: 8 m}
  L2: {header: H1, port: 2, room: kitchen, floor: slab, pipe: p16, pattern: counterflow, zone: occupied, spacing: 100 mm, area: 6 m², length: 66 m, feeds: 6 m}
"""


def kitchen() -> Values:
    """Two loops of one room share its load by what each gives; the water runs slowly in both."""
    # EN 1264-2, covering factor: (1/10.8 + 0.045/1)/(1/10.8 + 0.045/1.2 + 0.02)
    a_b = noted(0.91671, (1 / 10.8 + 0.045) / (1 / 10.8 + 0.045 / 1.2 + 0.02))
    # Tables A.1 to A.3 at 0.02 m²·K/W, 0.4 of the way from 0 to 0.05.
    a_t = noted(1.2132, 1.23 + 0.4 * (1.188 - 1.23))
    a_d_150 = noted(1.0376, 1.040 + 0.4 * (1.034 - 1.040))
    a_d_100 = noted(1.0274, 1.029 + 0.4 * (1.025 - 1.029))
    # m_T = 1 − T/0.075; m_u = 100·(0.045 − 0.045) = 0; m_D = 250·(0.016 − 0.020) = −1.
    # The pipe is the reference (2 mm, 0.35 W/(m·K)), so B = 6.7.
    k_1 = noted(4.8792, 6.7 * a_b * a_t ** (1 - 0.150 / 0.075) * a_d_150**-1)
    k_2 = noted(5.6052, 6.7 * a_b * a_t ** (1 - 0.100 / 0.075) * a_d_100**-1)

    # EN 1264-3: resistances up and down; nothing but the insulation counts over ground.
    r_o = noted(0.15009, 1 / 10.8 + 0.02 + 0.045 / 1.2)
    r_u = 2.5
    # Open, the water comes back at 42 − 7 °C: the most that the design can give.
    open_excess = noted(18.277, 7 / log((42 - 20) / (35 - 20)))
    most_1 = noted(89.178, k_1 * open_excess)
    most_2 = noted(102.45, k_2 * open_excess)
    most = noted(1684.8, 12 * most_1 + 6 * most_2)
    # EN 1264-3: at the common supply the room has a drop of its own. Of what they give open the
    # loops are asked for the same share, so for the same excess, and both come back alike.
    share = noted(0.53418, 900 / most)
    excess = noted(9.7633, share * open_excess)
    back = 30.0
    for _ in range(60):
        back = 20 + (42 - 20) * exp(-(42 - back) / excess)
    back = noted(23.211, back)
    density, heat, viscosity = water((42 + back) / 2)
    drop_heat = noted(4179.4, water(42 - 7 / 2)[1])
    drop_density = water(42 - 7 / 2)[0]

    values: Values = {}
    flow, heat_up, losses = 0.0, 0.0, []
    for loop, area, length, coefficient, most_of_loop in (
        ("L1", 12, 88, k_1, most_1),
        ("L2", 6, 66, k_2, most_2),
    ):
        output = noted({"L1": 47.637, "L2": 54.726}[loop], coefficient * excess)
        down = (r_o * output + 20 - 10) / r_u
        # ṁ = A·(q + q_u)/(c·σ), with the room's own drop, and with the plant's.
        mass = noted(
            {"L1": 0.0083277, "L2": 0.004738}[loop], area * (output + down) / (heat * (42 - back))
        )
        at_drop = area * (output + down) / (drop_heat * 7)
        volume = mass / density
        velocity = noted({"L1": 0.074017, "L2": 0.042111}[loop], volume / (pi / 4 * 0.012**2))
        reynolds = velocity * 0.012 * density / (viscosity * 1e-3)
        noted({"L1": 1168, "L2": 664.52}[loop], reynolds)
        # Both are laminar: f = 64/Re.
        loss = noted(
            {"L1": 1.095, "L2": 0.46724}[loop],
            64 / reynolds * length / 0.012 * density * velocity**2 / 2 / 1e3,
        )
        subject = f"loops.{loop}"
        values |= {
            (subject, "bore"): 12.0,
            (subject, "heat_coefficient"): coefficient,
            (subject, "flow"): volume * 6e4,
            (subject, "flow_at_drop"): at_drop / drop_density * 6e4,
            (subject, "velocity"): velocity,
            (subject, "reynolds"): reynolds,
            (subject, "pressure_drop"): loss,
            (subject, "supply_temperature"): 42.0,
            (subject, "return_temperature"): back,
            (subject, "drop"): 42 - back,
            (subject, "needed_supply"): 20 + 7 / (1 - exp(-7 / excess)),
            (subject, "excess"): excess,
            (subject, "output"): output,
            (subject, "largest_output"): most_of_loop,
            (subject, "down_loss"): down,
            # A valve may stand open: the surface is that of the open point.
            (subject, "surface_mean"): 20 + (most_of_loop / 8.92) ** (1 / 1.1),
            (subject, "content"): length * pi / 4 * 0.12**2 * 10,
        }
        flow, heat_up = flow + volume, heat_up + area * output
        losses.append(loss)

    # Tables A.4 and A.6 at 0.0375 m²·K/W: B_G and n_G, 150 and 100 mm.
    # Δθ_H,G = (B_G/K_H)^(1/(1 − n_G)) at φ = 1, and q_G = K_H·Δθ_H,G.
    for loop, coefficient, b_g, n_g, limit in (
        ("L1", k_1, 76.3, 0.076, 19.606),
        ("L2", k_2, 89.3, 0.033, 17.51),
    ):
        reach = noted(limit, (b_g / coefficient) ** (1 / (1 - n_g)))
        subject = f"loops.{loop}"
        values[subject, "output_limit"] = coefficient * reach
        values[subject, "surface_max"] = 20 + 9 * (open_excess / reach) ** (1 / 1.1)
    values["loops.L1", "expected_length"] = 12 / 0.150 + 8
    values["loops.L2", "expected_length"] = 6 / 0.100 + 6

    # The valve of L2 takes what L1 loses more; L1 is the index loop, and its own takes nothing.
    takes = losses[0] - losses[1]
    values["loops.L1", "valve_drop"] = 0.0
    values["loops.L2", "valve_drop"] = takes
    values["loops.L2", "valve_kv"] = values["loops.L2", "flow"] * 60 / 1e3 / (takes / 100) ** 0.5
    header = "headers.H1"
    values |= {
        (header, "loop_count"): 2.0,
        (header, "flow"): noted(0.78803, flow * 6e4),
        (header, "pressure_drop"): noted(9.095, max(losses) + 8),
        (header, "velocity"): flow / (pi / 4 * 0.025**2),
        # The pump's curve is straight from 60 kPa at rest to 45 kPa at 20 l/min.
        (header, "pump_head"): noted(59.409, 60 - 15 * flow * 6e4 / 20),
        (header, "content"): (88 + 66) * pi / 4 * 0.12**2 * 10,
        (header, "output"): heat_up,
        ("rooms.kitchen", "output"): noted(900.0, heat_up),
        ("rooms.kitchen", "coverage"): noted(187.2, 100 * most / 900),
        ("design", "pipe_length"): 88.0 + 66.0,
        ("design", "output"): heat_up,
    }
    return values


BATHROOM = """\
design: 1
project: {name: By hand 2, stage: design, designed_on: 2026-03-12, region: GB-ENG}
plant: {source: boiler, supply: 50 °C, drop: 5 K, fluid: {kind: water}}
pipes:
  c15: {material: copper, outside: 15 mm, wall: 1 mm}
floors:
  upper: {construction: wet, screed: {material: cement, cover: 65 mm, conductivity: 1.0 W/(m·K)}, insulation: 0.75 m²·K/W, below: heated}
rooms:
  bath: {use: bathroom, temperature: 24 °C, area: 8 m², heat_load: 500 W, covering: {material: bare, resistance: 0 m²·K/W}}
headers:
  H1: {ports: 2, supply: 40 °C, bore: 20 mm, own_loss: 5 kPa}
loops:
  L1: {header: H1, port: 1, room: bath, floor: upper, pipe: c15, pattern: counterflow, zone: perimeter, spacing: 120 mm, area: 7 m², length: 62 m, feeds: 4 m, flow: 3.6 l/min}
"""


def bathroom() -> Values:
    """Copper pipe, thicker screed of another conductivity, a stated flow that is turbulent."""
    a_b = noted(1.0, (1 / 10.8 + 0.045) / (1 / 10.8 + 0.045 / 1.0 + 0))
    # Tables A.2 and A.3 without covering at 120 mm, 0.4 of the way from 100 to 150 mm.
    a_u = noted(1.0606, 1.063 + 0.4 * (1.057 - 1.063))
    a_d = noted(1.0334, 1.029 + 0.4 * (1.040 - 1.029))
    # m_T = 1 − 0.120/0.075 = −0.6; m_u = 100·(0.045 − 0.065) = −2; m_D = 250·(0.015 − 0.020).
    powers = noted(0.75356, a_b * 1.23**-0.6 * a_u**-2 * a_d**-1.25)
    # 1/B = 1/6.7 + 1.1/π·Π·T·(ln(15/13)/(2·390) − ln(15/11)/(2·0.35))
    wall = noted(-0.44289, log(15 / 13) / (2 * 390) - log(15 / 11) / (2 * 0.35))
    b = noted(7.3948, 1 / (1 / 6.7 + 1.1 / pi * powers * 0.120 * wall))
    coefficient = noted(5.5724, b * powers)

    # Over a heated room its ceiling counts, 0.17 m²·K/W, and it is as warm there.
    r_o = noted(0.15759, 1 / 10.8 + 0 + 0.065 / 1.0)
    r_u = noted(0.92, 0.75 + 0.17)
    # 3.6 l/min at the mean temperature; a first guess of the return gives 38.66 °C for it.
    mass = noted(0.059562, 3.6 / 6e4 * water(38.66)[0])
    back = noted(37.317, return_by_trial(40, 24, 24, 7, coefficient, r_o, r_u, mass))
    excess = noted(14.618, (40 - back) / log((40 - 24) / (back - 24)))
    output = noted(81.455, coefficient * excess)
    load = noted(71.429, 500 / 7)
    asked = noted(585.65, 7 * (load + (r_o * load + 24 - 24) / r_u))
    at_drop = noted(0.028026, asked / (water(37.5)[1] * 5))
    density, _, viscosity = water((40 + back) / 2)
    velocity = noted(0.45204, 3.6 / 6e4 / (pi / 4 * 0.013**2))
    reynolds = noted(8700.2, velocity * 0.013 * density / (viscosity * 1e-3))
    factor = noted(0.032219, colebrook(reynolds, 0.0015 / 13))
    loss = noted(15.585, factor * 62 / 0.013 * density * velocity**2 / 2 / 1e3)

    # Tables A.4 and A.6 at 0.065 m²·K/W, 2.5/8.3 of the way from 0.0625 to 0.0708; 120 mm is 0.4 of
    # the way from 100 to 150 mm. A bathroom may be 9 K warmer than its air, so φ = 1.
    across = noted(0.30120, (0.065 - 0.0625) / (0.0708 - 0.0625))
    b_g = noted(97.118, 0.6 * 100 + 0.4 * (91.8 + across * (95.1 - 91.8)))
    n_g = noted(0.0083952, 0.6 * 0 + 0.4 * (0.024 + across * (0.014 - 0.024)))
    reach = noted(17.855, (b_g / coefficient) ** (1 / (1 - n_g)))
    subject, header = "loops.L1", "headers.H1"
    return {
        (subject, "bore"): 13.0,
        (subject, "heat_coefficient"): coefficient,
        (subject, "flow"): 3.6,
        (subject, "velocity"): velocity,
        (subject, "reynolds"): reynolds,
        (subject, "pressure_drop"): loss,
        (subject, "supply_temperature"): 40.0,
        (subject, "return_temperature"): back,
        (subject, "drop"): 40 - back,
        (subject, "valve_drop"): 0.0,
        (subject, "largest_output"): output,
        # 500 W over 7 m² carried at the plant's 5 K, by water of 37.5 °C.
        (subject, "flow_at_drop"): noted(1.6932, at_drop / water(37.5)[0] * 6e4),
        # 500 W over 7 m² at the plant's 5 K.
        (subject, "needed_supply"): noted(39.48, 24 + 5 / (1 - exp(-5 * coefficient * 7 / 500))),
        (subject, "excess"): excess,
        (subject, "output"): output,
        (subject, "output_limit"): noted(99.496, coefficient * reach),
        (subject, "down_loss"): noted(13.953, (r_o * output + 24 - 24) / r_u),
        (subject, "surface_mean"): noted(31.468, 24 + (output / 8.92) ** (1 / 1.1)),
        (subject, "surface_max"): noted(31.503, 24 + 9 * (excess / reach) ** (1 / 1.1)),
        (subject, "expected_length"): 7 / 0.120 + 4,
        (subject, "content"): noted(8.2294, 62 * pi / 4 * 0.13**2 * 10),
        (header, "flow"): 3.6,
        (header, "pressure_drop"): loss + 5,
        (header, "velocity"): noted(0.19099, 3.6 / 6e4 / (pi / 4 * 0.020**2)),
        ("rooms.bath", "output"): noted(570.18, 7 * output),
        ("rooms.bath", "coverage"): noted(114.04, 100 * 7 * output / 500),
    }


HALL = """\
design: 1
project: {name: By hand 3, stage: design, designed_on: 2026-03-12, region: GB-ENG}
plant: {source: heat pump, supply: 38 °C, drop: 5 K, fluid: {kind: water}}
pipes:
  p20: {material: PE-Xa, outside: 20 mm, wall: 2 mm, roughness: 0.007 mm}
  b16: {material: PB, outside: 16 mm, wall: 2 mm}
floors:
  tested: {construction: tested, heat_coefficient: 4.2 W/(m²·K), excess_limit: 21 K, screed: {material: calcium sulphate, cover: 30 mm, conductivity: 1.5 W/(m·K)}, insulation: 1.25 m²·K/W, below: unheated, below_temperature: 5 °C}
  thick: {construction: wet, screed: {material: cement, cover: 120 mm, conductivity: 1.2 W/(m·K)}, insulation: 2 m²·K/W, below: ground}
rooms:
  hall: {use: hall, temperature: 19 °C, area: 25 m², covering: {material: stone, resistance: 0.01 m²·K/W}}
  store: {use: store, temperature: 15 °C, area: 16 m², covering: {material: carpet, resistance: 0.10 m²·K/W}}
headers:
  H1: {ports: 3, bore: 25 mm, own_loss: 4 kPa}
loops:
  L1: {header: H1, port: 1, room: hall, floor: tested, pipe: p20, pattern: counterflow, zone: perimeter, spacing: 200 mm, area: 9 m², length: 60 m, feeds: 15 m}
  L2: {header: H1, port: 2, room: store, floor: thick, pipe: b16, pattern: counterflow, zone: occupied, spacing: 250 mm, area: 15 m², length: 70 m, feeds: 10 m}
"""


def hall() -> Values:
    """No loads, so the drop sets the flows; a tested floor and a very thick one."""
    values: Values = {}
    # No load: the flow is the one that comes back 5 K cooler. Mean water (38 + 33)/2 °C.
    density, heat, viscosity = water(35.5)
    noted(993.85, density)
    noted(4179.3, heat)
    noted(0.71246, viscosity)

    # L1, a tested floor: its report gives K_H and the limit.
    excess = noted(16.373, 5 / log((38 - 19) / (33 - 19)))
    output = noted(68.766, 4.2 * excess)
    r_o = noted(0.12259, 1 / 10.8 + 0.01 + 0.030 / 1.5)
    r_u = noted(1.42, 1.25 + 0.17)
    loss = noted(15.796, (r_o * output + 19 - 5) / r_u)
    mass = noted(0.03642, 9 * (output + loss) / (heat * 5))
    velocity = noted(0.18226, mass / density / (pi / 4 * 0.016**2))
    reynolds = noted(4067.9, velocity * 0.016 * density / (viscosity * 1e-3))
    factor = noted(0.040154, colebrook(reynolds, 0.007 / 16))
    drop = noted(2.4857, factor * 60 / 0.016 * density * velocity**2 / 2 / 1e3)
    # In the perimeter zone the floor may be 35 °C: φ = (16/9)^1.1.
    phi = noted(1.8831, ((35 - 19) / 9) ** 1.1)
    values |= _loop("loops.L1", 16.0, 4.2, mass / density, velocity, reynolds, drop, output)
    values |= {
        ("loops.L1", "excess"): excess,
        ("loops.L1", "output"): output,
        ("loops.L1", "output_limit"): noted(166.09, phi * 4.2 * 21),
        ("loops.L1", "down_loss"): loss,
        ("loops.L1", "surface_mean"): noted(25.403, 19 + (output / 8.92) ** (1 / 1.1)),
        ("loops.L1", "surface_max"): noted(26.178, 19 + 9 * (excess / 21) ** (1 / 1.1)),
    }

    # L2, 120 mm of cover: EN 1264-2 lets the product stand to max(100, 250/2) = 125 mm at 250 mm.
    a_b = noted(0.59799, (1 / 10.8 + 0.045) / (1 / 10.8 + 0.045 / 1.2 + 0.10))
    # A.1 to A.3 in the column 0.10; 250 mm is a third of the way from 225 to 300 mm.
    a_u = noted(1.0277, 1.0295 + (1.024 - 1.0295) / 3)
    a_d = noted(1.0400, 1.038 + (1.044 - 1.038) / 3)
    powers = noted(0.33409, a_b * 1.156 ** (1 - 0.250 / 0.075) * a_u**-7.5 * a_d**-1)
    # Polybutene, 0.22 W/(m·K) (Table A.13).
    wall = noted(0.24285, log(16 / 12) / 2 * (1 / 0.22 - 1 / 0.35))
    b = noted(6.3957, 1 / (1 / 6.7 + 1.1 / pi * powers * 0.250 * wall))
    coefficient = noted(2.1367, b * powers)
    excess = noted(20.398, 5 / log((38 - 15) / (33 - 15)))
    output = noted(43.585, coefficient * excess)
    r_o = noted(0.29259, 1 / 10.8 + 0.10 + 0.120 / 1.2)
    loss_2 = noted(8.8763, (r_o * output + 15 - 10) / 2)
    mass_2 = noted(0.037658, 15 * (output + loss_2) / (heat * 5))
    velocity = noted(0.33503, mass_2 / density / (pi / 4 * 0.012**2))
    reynolds = noted(5608.2, velocity * 0.012 * density / (viscosity * 1e-3))
    factor = noted(0.036334, colebrook(reynolds, 0.0015 / 12))
    drop_2 = noted(11.822, factor * 70 / 0.012 * density * velocity**2 / 2 / 1e3)
    # 120/1.2 = 0.1 m²·K/W is over 0.0792, so Tables A.5 and A.7 at 120/250 = 0.48, 0.6 of the way
    # from 0.45 to 0.50.
    b_g = noted(90.280, 88.3 + 0.6 * (91.6 - 88.3))
    n_g = noted(0.027, 0.033 + 0.6 * (0.023 - 0.033))
    reach = noted(46.877, (b_g / coefficient) ** (1 / (1 - n_g)))
    # q = 8.92·9^1.1 is the most; the limit curve passes it here, so the floor counts as even.
    most = noted(46.804, 8.92 * 9**1.1 / coefficient)
    reach = min(reach, most)
    # 29 °C in a room of 15 °C: φ = (14/9)^1.1.
    phi = noted(1.6258, ((29 - 15) / 9) ** 1.1)
    values |= _loop(
        "loops.L2", 12.0, coefficient, mass_2 / density, velocity, reynolds, drop_2, output
    )
    values |= {
        ("loops.L2", "excess"): excess,
        ("loops.L2", "output"): output,
        ("loops.L2", "output_limit"): phi * coefficient * reach,
        ("loops.L2", "down_loss"): loss_2,
        ("loops.L2", "surface_mean"): noted(19.23, 15 + (output / 8.92) ** (1 / 1.1)),
        ("loops.L2", "surface_max"): noted(19.23, 15 + 9 * (excess / reach) ** (1 / 1.1)),
        ("loops.L2", "expected_length"): 15 / 0.250 + 10,
        ("loops.L1", "valve_drop"): drop_2 - drop,
        ("loops.L1", "valve_kv"): mass / density * 3600 / ((drop_2 - drop) / 100) ** 0.5,
        ("loops.L2", "valve_drop"): 0.0,
        ("headers.H1", "flow"): noted(4.4722, (mass + mass_2) / density * 6e4),
        ("headers.H1", "pressure_drop"): drop_2 + 4,
        ("rooms.hall", "output"): noted(618.9, 9 * values["loops.L1", "output"]),
        ("rooms.store", "output"): noted(653.78, 15 * output),
    }
    return values


def _loop(
    subject: str,
    bore: float,
    coefficient: float,
    volume: float,
    velocity: float,
    reynolds: float,
    drop: float,
    output: float,
) -> Values:
    return {
        (subject, "bore"): bore,
        (subject, "heat_coefficient"): coefficient,
        (subject, "flow"): volume * 6e4,
        (subject, "velocity"): velocity,
        (subject, "reynolds"): reynolds,
        (subject, "pressure_drop"): drop,
        (subject, "return_temperature"): 33.0,
        # With no load known, all stands open.
        (subject, "drop"): 5.0,
        (subject, "flow_at_drop"): volume * 6e4,
        (subject, "largest_output"): output,
    }
