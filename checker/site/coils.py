"""Plans which loop is cut from which coil, so that no joint is buried and least pipe is left over.

Coils of a few sizes are cut into loops. The fewest metres to buy are found by column generation (P.
C. Gilmore, R. E. Gomory, "A linear programming approach to the cutting-stock problem", Operations
Research 9, 1961): a linear program over the ways to cut a coil, to which the way that would save
most is added until none saves any more. Its value is a bound that no plan can beat. Filling one
coil after the other as full as possible gives a plan. Where it buys more than the bound, whole
numbers of those ways are tried, then choices of coils from the bound upwards, each as an integer
program that puts every loop into one of them. All in whole millimetres.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, islice
from math import ceil, gcd
from typing import TYPE_CHECKING

import numpy as np

from checker.arrays import Array, Mask

if TYPE_CHECKING:
    import highspy
    from numpy.typing import NDArray

ROUNDS = 300
"""Most ways to cut that are added to the linear program; stopping early still gives a valid
bound.
"""

PURCHASES = 100
"""Most choices of coils of one total length that are tried."""

PACKING_NODES = 2_000
"""Most branches that are looked at for one choice of coils."""

PACKING_COLUMNS = 800
"""Largest product of coils and lengths for which a choice is tried; beyond, it takes minutes."""

NODES = 20
"""Most branches that are looked at for whole numbers of ways. Counts, not times, so that the same
input gives the same plan on any machine.
"""

TOLERANCE = 1e-7

COIL = 1
"""The cost of a coil besides its length, in units of 1/`LENGTH`: of equally long plans the one with
fewest coils wins.
"""

LENGTH = 1_000


@dataclass(frozen=True, slots=True)
class Coil:
    """One coil and what is cut from it.

    Attributes:
        size: m.
        loops: the longest first.
        left: m, what remains when all is cut.
    """

    size: float
    loops: tuple[str, ...]
    left: float


@dataclass(frozen=True, slots=True)
class CoilPlan:
    """The coils to buy.

    bought, bound: m; no plan without a joint buys less than the bound.
    """

    coils: tuple[Coil, ...]
    too_long: tuple[str, ...]
    bought: float
    bound: float

    @property
    def proved(self) -> bool:
        """Whether no plan can buy less."""
        return self.bought <= self.bound * (1 + 1e-12)


def plan_coils(lengths: Mapping[str, float], sizes: Sequence[float]) -> CoilPlan:
    """Cut the loops from coils of these sizes, buying as few metres as can be found.

    Args:
        lengths: m by loop, what is cut for it, allowance included.
        sizes: m, any number of coils of each.

    Returns:
        The coils, and the loops that fit in none, in the order of `lengths`.

    Raises:
        ValueError: a length or size is not above zero, or there is no size.

    Source:
        Gilmore and Gomory (1961), see the module.
    """
    if (
        not sizes
        or not all(size > 0 for size in sizes)
        or not all(length > 0 for length in lengths.values())
    ):
        raise ValueError("every loop and every coil needs a length above zero")
    longest = max(sizes)
    too_long = tuple(loop for loop, length in lengths.items() if length > longest)
    fitting = {loop: length for loop, length in lengths.items() if length <= longest}
    if not fitting:
        return CoilPlan((), too_long, 0.0, 0.0)
    stock = _Stock.of(fitting, sizes)
    chosen, bound = _best(stock)
    coils = _coils(stock, chosen, fitting)
    return CoilPlan(
        coils,
        too_long,
        bought=sum(coil.size for coil in coils),
        bound=bound * stock.unit / 1_000,
    )


@dataclass(frozen=True, slots=True)
class _Stock:
    """The task in whole units, the largest that measures every length and size.

    pieces, wanted, sizes: shape (pieces,), (pieces,), (sizes,).
    """

    unit: int  # mm
    pieces: NDArray[np.int64]
    wanted: NDArray[np.int64]
    sizes: NDArray[np.int64]

    @classmethod
    def of(cls, lengths: Mapping[str, float], sizes: Sequence[float]) -> _Stock:
        """The task; a length is rounded up to whole millimetres, a coil down."""
        counted = Counter(_millimetres(length) for length in lengths.values())
        coils = sorted({int(size * 1_000 + 1e-6) for size in sizes})
        unit = gcd(*counted, *coils)
        pieces = sorted(counted, reverse=True)
        return cls(
            unit,
            np.array([piece // unit for piece in pieces]),
            np.array([counted[piece] for piece in pieces]),
            np.array([coil // unit for coil in coils]),
        )

    def cost(self, size: int) -> int:
        """The cost of a coil in the search."""
        return size * LENGTH + COIL


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to cut a coil: how many of each piece."""

    size: int
    counts: tuple[int, ...]


def _millimetres(length: float) -> int:
    return ceil(length * 1_000 - 1e-6)


def _best(stock: _Stock) -> tuple[list[_Way], int]:
    """The best plan found, and a bound, both in units; methods are tried one after the other until
    one is proved best.

    No single method solves every task: whole numbers of the ways to cut settle most, choices of
    coils the rest.
    """
    best = _filled(stock)
    ways, cost = _generated(stock, best)
    bound = length = _reachable(stock, cost)
    if _bought(best) > bound:
        best = min(best, _whole(stock, ways, bound) or best, key=_bought)
    settled = True
    while length < _bought(best):
        plan, sure = _by_purchase(stock, length)
        if plan:
            best = plan
            break
        settled &= sure
        length = _next_sum(stock, length + 1)
        bound = length if settled else bound
    return _merged(stock, best), min(bound, _bought(best))


def _merged(stock: _Stock, plan: Sequence[_Way]) -> list[_Way]:
    """The plan with fewer coils, where one coil that is no longer than two can replace them."""
    coils = sorted(plan, key=lambda way: way.size)
    for one, other in combinations(coils, 2):
        counts = tuple(a + b for a, b in zip(one.counts, other.counts, strict=True))
        if int(np.array(counts) @ stock.pieces) <= stock.sizes[-1]:
            both = _smallest(stock, _Way(0, counts))
            if both.size <= one.size + other.size:
                coils.remove(one)
                coils.remove(other)
                return _merged(stock, [*coils, both])
    return coils


def _bought(plan: Sequence[_Way]) -> int:
    return sum(way.size for way in plan)


def _by_purchase(stock: _Stock, length: int) -> tuple[list[_Way], bool]:
    """A plan that buys exactly this length, and whether finding none proves that there is none."""
    purchases = sorted(islice(_purchases(stock, length), PURCHASES + 1), key=len)
    settled = len(purchases) <= PURCHASES
    for purchase in purchases[:PURCHASES]:
        plan, sure = _packed(stock, purchase)
        if plan:
            return plan, True
        settled &= sure
    return [], settled


def _purchases(stock: _Stock, length: int) -> Iterator[tuple[int, ...]]:
    """Every choice of coils that adds up to the length, largest first."""
    waiting: list[tuple[tuple[int, ...], int, int]] = [((), length, len(stock.sizes))]
    while waiting:
        chosen, left, kinds = waiting.pop()
        if left == 0:
            yield chosen
        for kind in range(kinds):
            size = int(stock.sizes[kind])
            if size <= left:
                waiting.append(((*chosen, size), left - size, kind + 1))


def _packed(stock: _Stock, coils: Sequence[int]) -> tuple[list[_Way], bool]:
    """All pieces cut from exactly these coils, if that is possible; and whether the answer is
    certain.
    """
    import highspy

    pieces = stock.pieces.tolist()
    columns = len(coils) * len(pieces)
    if columns > PACKING_COLUMNS:
        return [], False
    solver = _solver()
    solver.setOptionValue("mip_max_nodes", PACKING_NODES)
    for size in coils:
        solver.addRow(0.0, float(size), 0, np.array([]), np.array([]))
    for wanted in stock.wanted.tolist():
        solver.addRow(float(wanted), float(wanted), 0, np.array([]), np.array([]))
    for coil, size in enumerate(coils):
        for at, piece in enumerate(pieces):
            most = min(int(stock.wanted[at]), size // piece)
            rows = np.array([coil, len(coils) + at], dtype=np.int32)
            # Long pieces into the coils named first: of plans that only swap coils, one is enough.
            solver.addCol(float(coil * piece), 0.0, float(most), 2, rows, np.array([piece, 1.0]))
    _in_whole_numbers(solver, columns)
    solver.setOptionValue("mip_max_improving_sols", 1)
    solver.run()
    if solver.getInfo().primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible:
        counts = np.rint(np.array(solver.getSolution().col_value)).astype(int)
        cut = counts.reshape(len(coils), len(pieces))
        return [_Way(size, tuple(row.tolist())) for size, row in zip(coils, cut, strict=True)], True
    return [], solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible


def _reachable(stock: _Stock, least: float) -> int:
    """The least length of coils that a bound on the cost allows, in units."""
    most_coils = int(stock.wanted.sum())
    bound = (least - most_coils * COIL) / LENGTH
    return _next_sum(stock, ceil(max(bound, float(stock.pieces @ stock.wanted)) - 1e-6))


def _next_sum(stock: _Stock, length: int) -> int:
    """The least length at or above this one that coils add up to, in units."""
    step = gcd(*map(int, stock.sizes))
    first = -(-length // step)
    sums = np.zeros(first + int(stock.sizes[-1]) // step + 1, dtype=bool)
    sums[0] = True
    for size in (stock.sizes // step).tolist():
        for at in range(size, len(sums)):
            sums[at] |= sums[at - size]
    return (first + int(np.argmax(sums[first:]))) * step


def _coils(stock: _Stock, chosen: Sequence[_Way], lengths: Mapping[str, float]) -> tuple[Coil, ...]:
    """Ways with loops in place of pieces; pieces that were cut once too often are left out."""
    waiting: dict[int, list[str]] = {}
    for loop, length in lengths.items():
        waiting.setdefault(_millimetres(length) // stock.unit, []).append(loop)
    coils = []
    for way in sorted(chosen, key=lambda way: (-way.size, [-count for count in way.counts])):
        cut: list[str] = []
        for piece, count in zip(stock.pieces.tolist(), way.counts, strict=True):
            left = waiting.get(piece, [])
            cut += left[:count]
            del left[:count]
        if cut:
            size = way.size * stock.unit / 1_000
            coils.append(Coil(size, tuple(cut), size - sum(lengths[loop] for loop in cut)))
    return tuple(coils)


def _filled(stock: _Stock) -> list[_Way]:
    """One coil after the other, each filled as full as possible, in the size that wastes least."""
    left = stock.wanted.copy()
    plan = []
    while left.any():
        fills = _fullest(stock, left, stock.pieces.astype(float))
        # The longest piece left must fit, so that small coils do not leave it until last.
        longest = stock.pieces[np.flatnonzero(left)[0]]
        size, counts = max(
            ((size, counts) for size, counts in fills if size >= longest),
            key=lambda fill: (fill[1] @ stock.pieces / fill[0], fill[0]),
        )
        plan.append(_Way(size, tuple(counts.tolist())))
        left -= counts
    return [_smallest(stock, way) for way in plan]


def _smallest(stock: _Stock, way: _Way) -> _Way:
    """The way in the smallest coil that holds it."""
    needed = int(np.array(way.counts) @ stock.pieces)
    return _Way(int(stock.sizes[np.searchsorted(stock.sizes, needed)]), way.counts)


def _fullest(
    stock: _Stock, available: NDArray[np.int64], worth: Array
) -> list[tuple[int, NDArray[np.int64]]]:
    """For each size, the pieces that fit and are worth most: a knapsack, by dynamic programming.

    available: pieces left, shape (pieces,). worth: of one piece, shape (pieces,).
    """
    room = int(stock.sizes[-1])
    best = np.zeros(room + 1)
    taken: list[tuple[int, Mask]] = []
    for at, (piece, count) in enumerate(
        zip(stock.pieces.tolist(), available.tolist(), strict=True)
    ):
        if worth[at] <= 0:
            continue
        for _ in range(min(count, room // piece)):
            with_it = best[: room + 1 - piece] + worth[at]
            better = np.zeros(room + 1, dtype=bool)
            better[piece:] = with_it > best[piece:] + 1e-12
            best[better] = with_it[better[piece:]]
            taken.append((at, better))
    fills = []
    for size in stock.sizes.tolist():
        counts = np.zeros(len(stock.pieces), dtype=np.int64)
        here = size
        for at, better in reversed(taken):
            if better[here]:
                counts[at] += 1
                here -= int(stock.pieces[at])
        fills.append((size, counts))
    return fills


def _generated(stock: _Stock, start: Sequence[_Way]) -> tuple[list[_Way], float]:
    """Promising ways to cut, and a lower bound on the cost of any plan: the linear program.

    Before its last round the bound is that of A. A. Farley ("A note on bounding a class of linear
    programming problems", Operations Research 38, 1990).
    """
    ways = dict.fromkeys(start)
    program = _Program(stock, ways)
    bound = 0.0
    for _ in range(ROUNDS):
        value, prices = program.solved()
        fills = _fullest(stock, stock.wanted, prices)
        gains = [float(counts @ prices) / stock.cost(size) for size, counts in fills]
        bound = max(bound, value / max(1.0, *gains))
        if max(gains) <= 1 + TOLERANCE:
            break
        for (size, counts), gain in zip(fills, gains, strict=True):
            way = _Way(size, tuple(counts.tolist()))
            if gain > 1 + TOLERANCE and way not in ways:
                ways[way] = None
                program.add(way)
    return [*ways], bound


class _Program:
    """The linear program over ways to cut: every piece as often as it is needed, at least cost."""

    def __init__(self, stock: _Stock, ways: Iterable[_Way]) -> None:
        self.stock = stock
        self.solver = _solver()
        for wanted in stock.wanted.tolist():
            self.solver.addRow(float(wanted), self.solver.inf, 0, np.array([]), np.array([]))
        for way in ways:
            self.add(way)

    def add(self, way: _Way) -> None:
        """Add a way to the program."""
        counts = np.array(way.counts, dtype=float)
        rows = np.flatnonzero(counts).astype(np.int32)
        cost = float(self.stock.cost(way.size))
        self.solver.addCol(cost, 0.0, self.solver.inf, len(rows), rows, counts[rows])

    def solved(self) -> tuple[float, Array]:
        """The least cost, and what one more of each piece would cost."""
        self.solver.run()
        solution = self.solver.getSolution()
        return float(self.solver.getInfo().objective_function_value), np.array(solution.row_dual)


def _whole(stock: _Stock, ways: Sequence[_Way], bound: int) -> list[_Way]:
    """Whole numbers of ways, until one buys no more than the bound; empty where none is found."""
    import highspy

    solver = _Program(stock, ways).solver
    _in_whole_numbers(solver, len(ways))
    solver.setOptionValue("mip_max_nodes", NODES)
    most_coils = int(stock.wanted.sum())
    solver.setOptionValue("objective_target", float(bound * LENGTH + most_coils * COIL))
    solver.run()
    if solver.getInfo().primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return []
    times = np.rint(np.array(solver.getSolution().col_value)).astype(int)
    return [way for way, often in zip(ways, times.tolist(), strict=True) for _ in range(often)]


def _in_whole_numbers(solver: highspy.Highs, columns: int) -> None:
    import highspy

    whole = np.array([highspy.HighsVarType.kInteger] * columns)
    solver.changeColsIntegrality(columns, np.arange(columns, dtype=np.int32), whole)


def _solver() -> highspy.Highs:
    """A silent solver on one thread, so that the same input gives the same plan."""
    import highspy

    solver = highspy.Highs()  # type: ignore[no-untyped-call]
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("random_seed", 0)
    return solver
