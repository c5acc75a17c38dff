"""A header with its loops and its pump against a general library for water networks.

Library wntr with the solver EPANET 2.2 (United States Environmental Protection Agency), set to
Darcy–Weisbach. Its friction factor is 64/Re below Re 2000 as ours is, from 4000 up the explicit
formula of Swamee and Jain (Journal of the Hydraulics Division, ASCE 102, 1976), which differs from
Colebrook by up to 3 %, and between a cubic of Dunlop where we join the two with a straight line
(L. A. Rossman and others, EPANET 2.2 User Manual, EPA/600/R-20/133, 2020, chapter 12; from memory).
Where the two differ, that is why: flow is neither laminar nor turbulent there.
"""

from __future__ import annotations

import warnings
from functools import cache
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import brentq

from checker.physics import fluid, friction, header, network
from tests.published.figures import Figure, relative

if TYPE_CHECKING:
    import wntr

Floats = NDArray[np.float64]

GRAVITY = 32.2 * 0.3048
"""m/s², as EPANET has it."""
WATER_AT_20 = 1.1e-5 * 0.3048**2
"""Kinematic viscosity that EPANET's are relative to, m²/s."""
TEMPERATURE = 38.0
DENSITY = float(fluid.density(fluid.WATER, np.nan, TEMPERATURE))
VISCOSITY = float(fluid.viscosity(fluid.WATER, np.nan, TEMPERATURE))

LENGTHS = np.array([62.0, 74.0, 81.0, 88.0, 95.0, 104.0])
BORES = np.array([0.012, 0.012, 0.012, 0.0135, 0.012, 0.016])
OWN_LOSS = 8e3 / (12e-3 / 60) ** 2
"""Pa/(m³/s)²: 8 kPa at 12 l/min."""
CURVES = {
    "small": ([0.0, 4.0, 7.0, 10.0], [9.0, 7.0, 4.5, 1.0]),
    "middle": ([0.0, 8.0, 14.0, 20.0], [32.0, 27.0, 17.0, 4.0]),
    "large": ([0.0, 15.0, 30.0, 45.0], [75.0, 68.0, 45.0, 8.0]),
}
"""l/min and kPa; straight between the points, in EPANET as well where there are four or more."""


def head(pascal: float) -> float:
    return pascal / (DENSITY * GRAVITY)


def empty() -> wntr.network.WaterNetworkModel:
    # Takes seconds to load, in every worker that only asks what tests there are.
    import wntr

    network = wntr.network.WaterNetworkModel()
    options = network.options.hydraulic
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of the roughness, which is given in metres
        options.headloss = "D-W"
    options.viscosity = VISCOSITY / DENSITY / WATER_AT_20
    options.accuracy = 1e-8
    options.trials = 200
    network.options.time.duration = 0
    return network


def solved(network: wntr.network.WaterNetworkModel) -> wntr.sim.SimulationResults:
    import wntr

    with TemporaryDirectory() as folder, warnings.catch_warnings():
        warnings.simplefilter("ignore")  # of units that the library writes by default
        return wntr.sim.EpanetSimulator(network).run_sim(file_prefix=f"{folder}/network")


def their_losses(flows: Floats) -> Floats:
    """Pa, of each loop at its flow, m³/s: a tank, the loop, and a tap at its end."""
    built = empty()
    built.add_reservoir("tank", base_head=100.0)
    for number, flow in enumerate(flows):
        built.add_junction(f"end{number}", base_demand=flow)
        built.add_pipe(
            f"loop{number}",
            "tank",
            f"end{number}",
            length=LENGTHS[number],
            diameter=BORES[number],
            roughness=friction.ROUGHNESS,
        )
    heads = solved(built).node["head"].iloc[0]
    left = np.array([heads[f"end{number}"] for number in range(len(flows))])
    return DENSITY * GRAVITY * (100.0 - left)


def our_losses(flows: Floats) -> Floats:
    velocity = flows / (np.pi / 4 * BORES**2)
    reynolds = friction.reynolds(velocity, BORES, DENSITY, VISCOSITY)
    factor = friction.friction_factor(reynolds, friction.ROUGHNESS / BORES)
    return friction.pressure_drop(LENGTHS, BORES, velocity, DENSITY, factor)


def reynolds(flows: Floats) -> Floats:
    return friction.reynolds(flows / (np.pi / 4 * BORES**2), BORES, DENSITY, VISCOSITY)


@cache
def losses() -> tuple[Floats, Floats, Floats]:
    """Reynolds numbers, our losses and theirs, of many flows in every loop."""
    cases = [np.full(6, flow) / 6e4 for flow in (0.4, 0.7, 1.0, 1.3, 1.6, 2.0, 2.6, 3.2, 4.0, 5.0)]
    parts = [(reynolds(flows), our_losses(flows), their_losses(flows)) for flows in cases]
    numbers, ours, theirs = (np.concatenate(part) for part in zip(*parts, strict=True))
    return numbers, ours, theirs


ONE_HEADER = (np.zeros(6, dtype=np.intp), np.array([OWN_LOSS]))
TWO_HEADERS = (np.array([0, 0, 0, 0, 1, 1]), np.array([OWN_LOSS, 2.5 * OWN_LOSS]))
"""The header of each loop, and what each header itself loses, Pa/(m³/s)²; all on one pump."""


def their_flows(
    curve: str,
    valves: Floats | None = None,
    headers: tuple[NDArray[np.intp], Floats] = ONE_HEADER,
) -> Floats:
    """m³/s through each loop of headers behind a pump and each header's own loss.

    valves: of each loop's valve, Pa/(m³/s)²; none where the headers are open.
    """
    of, own = headers
    flow, pressure = CURVES[curve]
    built = empty()
    built.add_reservoir("return", base_head=0.0)
    built.add_junction("pump_out")
    points = [(q / 6e4, head(p * 1e3)) for q, p in zip(flow, pressure, strict=True)]
    built.add_curve("lift", "HEAD", points)
    built.add_pump("pump", "return", "pump_out", "HEAD", "lift")
    # Δh = K·v²/(2g) with v in a bore of 25 mm.
    area = np.pi / 4 * 0.025**2
    for nth, loss in enumerate(own):
        built.add_junction(f"bar{nth}")
        built.add_valve(
            f"own{nth}", "pump_out", f"bar{nth}", 0.025, "TCV", 0.0, loss * 2 * area**2 / DENSITY
        )
    for number in range(6):
        bar = start = f"bar{of[number]}"
        if valves is not None and valves[number] > 0:
            start = f"valve_end{number}"
            built.add_junction(start)
            bore = BORES[number]
            loss = valves[number] * 2 * (np.pi / 4 * bore**2) ** 2 / DENSITY
            built.add_valve(f"valve{number}", bar, start, bore, "TCV", 0.0, loss)
        built.add_pipe(
            f"loop{number}",
            start,
            "return",
            length=LENGTHS[number],
            diameter=BORES[number],
            roughness=friction.ROUGHNESS,
        )
    flows = solved(built).link["flowrate"].iloc[0]
    return np.array([flows[f"loop{number}"] for number in range(6)])


def our_flows(curve: str) -> Floats:
    """The same by our own friction and pump curve: the pressure over the loops at which they
    take together what the pump then gives."""
    flow, pressure = CURVES[curve]
    curve_flow, curve_head = np.array(flow) / 6e4, np.array(pressure) * 1e3
    none = np.zeros(len(flow))

    def through(across: float) -> Floats:
        return np.array(
            [
                brentq(lambda q, i=i: our_losses(np.full(6, q))[i] - across, 1e-9, 1e-3, xtol=1e-14)
                for i in range(6)
            ]
        )

    def surplus(across: float) -> float:
        total = np.array([through(across).sum()])
        lift = header.pump_head(total, curve_flow, curve_head, none)[0]
        return float(lift - across - OWN_LOSS * total[0] ** 2)

    # As far as the pump's curve goes.
    most = brentq(lambda p: through(p).sum() - curve_flow[-1] * 0.999, 1.0, 3e5)
    return through(brentq(surplus, 10.0, min(most, curve_head[0]), xtol=1e-6))


@cache
def flows() -> tuple[Floats, Floats]:
    """Ours and theirs, of every loop behind every pump."""
    return (
        np.concatenate([our_flows(curve) for curve in CURVES]),
        np.concatenate([their_flows(curve) for curve in CURVES]),
    )


SET_FLOWS = (
    np.array([2.2, 2.4, 2.0, 2.9, 2.6, 3.6]) / 6e4,
    np.array([0.5, 0.9, 1.8, 2.6, 2.5, 3.4]) / 6e4,
)
"""m³/s, of each loop: all turbulent, and some that run slowly behind much of a valve."""


@cache
def met(*, shared: bool = False) -> tuple[Floats, Floats]:
    """Ours and theirs, m³/s: what each loop gets behind its valve, for every pump.

    shared: with the loops on two headers, and the valves set so that every way from the pump loses
    the same.
    """
    of, coefficients = TWO_HEADERS if shared else ONE_HEADER
    count = len(coefficients)
    ours, theirs = [], []
    for curve, (flow, pressure) in CURVES.items():
        for set_flow in SET_FLOWS:
            losses = our_losses(set_flow)
            total = np.bincount(of, set_flow, count).astype(np.float64)
            own = coefficients * total**2
            valves = (losses + own[of]).max() - own[of] - losses
            loops = network.Loops(
                set_flow,
                valves,
                LENGTHS,
                BORES,
                np.full(6, friction.ROUGHNESS),
                np.full(6, DENSITY),
                np.full(6, VISCOSITY),
            )
            across = network.settled_pressure(
                loops,
                of,
                total,
                own,
                np.zeros(count, dtype=np.intp),
                np.array(flow) / 6e4,
                np.array(pressure) * 1e3,
                np.zeros(len(flow), dtype=np.intp),
            )
            ours.append(loops.flow_at(across[of]))
            theirs.append(their_flows(curve, valves / set_flow**2, (of, coefficients)))
    return np.concatenate(ours), np.concatenate(theirs)


@cache
def figures() -> tuple[Figure, ...]:
    numbers, ours, theirs = losses()
    laminar, turbulent = numbers < 2000, numbers > 4000
    between = ~laminar & ~turbulent
    epanet = "water network library wntr, solver EPANET 2.2"
    return (
        relative(
            "pressure loss of a loop, Re under 2000",
            epanet,
            ours[laminar],
            theirs[laminar],
            0.05,
            "both 64/Re; single precision in the solver's results",
            noise=0.05,
        ),
        relative(
            "the same, Re over 4000",
            epanet,
            ours[turbulent],
            theirs[turbulent],
            3.0,
            "Swamee–Jain is good to 3 % of Colebrook",
        ),
        relative(
            "the same, Re 2000 to 4000",
            epanet,
            ours[between],
            theirs[between],
            7.0,
            "two conventions for a flow that is neither: laminar to 2300 and a straight line, "
            "against a cubic from 2000",
        ),
        relative(
            "flow of each of six loops on an open header behind three pumps",
            epanet,
            *flows(),
            3.5,
            "half of what the pressure loss differs by, and a little for the share of the others",
        ),
        relative(
            "flow of each of six loops behind its own valve, for three pumps",
            epanet,
            *met(),
            1.5,
            "half of what the pressure loss differs by, and less where the valve takes the most",
        ),
        relative(
            "the same, the loops on two headers of one pump",
            epanet,
            *met(shared=True),
            1.5,
            "as before",
        ),
    )


def test_the_cases_reach_all_three_regimes() -> None:
    numbers, *_ = losses()
    for low, high in ((0, 2000), (2000, 4000), (4000, 1e5)):
        assert ((numbers > low) & (numbers < high)).sum() >= 10


@pytest.mark.parametrize("curve", CURVES)
def test_our_network_closes(curve: str) -> None:
    """Every loop has the same loss, and the pump gives it with the header's own."""
    found = our_flows(curve)
    across = our_losses(found)
    np.testing.assert_allclose(across, across[0], rtol=1e-6)
    flow, pressure = CURVES[curve]
    lift = np.interp(found.sum() * 6e4, flow, pressure) * 1e3
    np.testing.assert_allclose(lift, across[0] + OWN_LOSS * found.sum() ** 2, rtol=1e-5)
