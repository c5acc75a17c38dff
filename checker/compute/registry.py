"""What can be computed: each quantity is a function, registered with its description."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial, wraps
from typing import Any, NamedTuple

from msgspec import Struct
from msgspec.structs import force_setattr

from checker.compute.naming import MEMBERS, ROWS, dotted
from checker.compute.numbered import Numbered


class Quantity(Struct, frozen=True):
    """A quantity: a function of columns, and its description for readers.

    What is not listed here is as it was given to `quantity`.

    Attributes:
        name: of the function, or of the output.
        formula: as many as were given.
        function: takes the inputs in their order and returns values of shape (n,).
        inputs: names with dots, in the order of the function's parameters.
        optional: names with dots.
        needed_when: by name with dots, the column, and its values where the input is needed.
        within: by name with dots.
    """

    subject: str
    name: str
    unit: str
    title: str
    symbol: str
    formula: tuple[str, ...]
    source: str
    function: Callable[..., Any]
    inputs: tuple[str, ...]
    optional: frozenset[str]
    needed_when: dict[str, tuple[str, tuple[float, ...]]]
    within: dict[str, tuple[float | None, float | None, str]]
    missing_because: str
    shown: bool
    places: str
    described_by: Callable[[Numbered, float], tuple[str, ...]] | None
    whole: Callable[..., Any] | None = None
    """Where it is computed together with others: that computation; the quantity is its result at
    `place`.
    """
    place: int = 0
    leaps: bool = False
    kinds: tuple[str, ...] = ()
    """For each input: `row` for one of ROWS, `members` for those of a part, else `column`."""

    def __post_init__(self) -> None:
        """Work out once what each input is."""
        force_setattr(self, "kinds", tuple(map(_kind_of, self.inputs)))

    @property
    def of_plan(self) -> bool:
        """Whether it is taken from a plan, and so means nothing for a design without one."""
        return "plan" in self.inputs


def _kind_of(name: str) -> str:
    if name in ROWS:
        return "row"
    return "members" if name.partition(".")[0] in MEMBERS else "column"


class Output(NamedTuple):
    """One of several results of one computation; for each attribute see `quantity`."""

    name: str
    unit: str
    title: str
    symbol: str = ""
    formula: str | tuple[str, ...] = ()
    missing_because: str = ""
    shown: bool = True


REGISTRY: dict[tuple[str, str], Quantity] = {}


def quantity(
    subject: str,
    *,
    unit: str = "",
    title: str = "",
    source: str,
    symbol: str = "",
    formula: str | tuple[str, ...] = (),
    optional: tuple[str, ...] = (),
    needed_when: dict[str, tuple[str, tuple[float, ...]]] | None = None,
    within: dict[str, tuple[float | None, float | None, str]] | None = None,
    missing_because: str = "it cannot be computed from what is given",
    shown: bool = True,
    places: str = "",
    described_by: Callable[[Numbered, float], tuple[str, ...]] | None = None,
    outputs: tuple[Output, ...] = (),
    leaps: bool = False,
) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Register a function as a quantity; its name and its parameters' names make the graph.

    A parameter `room_temperature` is the column `room.temperature`: the first underscore after the
    name of a record, section or part is read as a dot.

    Args:
        subject: what it is a quantity of, a key of `naming.TABLE_OF`.
        unit: the unit of reports; the function computes in SI and °C. Empty for a pure number.
        title: its name for readers.
        source: where the method was published.
        symbol: as it is written by hand.
        formula: how it is computed by hand (`compute.formulas`), with `{parameter}` for each input;
            of several, one that gives the value is shown.
        optional: inputs that the result can do without.
        needed_when: inputs that it needs only where another column has one of some values.
        within: for an input, the range in SI in which the method is valid, and the words for the
            range; outside it the result is missing.
        missing_because: why the result may be missing though all inputs are there.
        shown: whether it is among the computed values of a report.
        places: the column of a plan that says where the value was found (`Drawn.words`), for the
            words of a finding.
        described_by: for a value that is a number of an object, lines that describe that object.
        outputs: where the function returns several columns, what each is; they are computed once.
        leaps: whether it jumps where an input crosses a border, so that its values on either side
            say nothing about it.

    Returns:
        A decorator that registers the function and returns it unchanged.
    """

    def record(function: Callable[..., Any]) -> Callable[..., Any]:
        own = Output(function.__name__, unit, title, symbol, formula, missing_because, shown)
        for place, output in enumerate(outputs or (own,)):
            recorded(function, output, place)
        return function

    def recorded(function: Callable[..., Any], own: Output, place: int) -> None:
        code = _unwrapped(function).__code__
        parameters = code.co_varnames[: code.co_argcount]
        REGISTRY[(subject, own.name)] = Quantity(
            subject,
            own.name,
            own.unit,
            own.title,
            own.symbol,
            (own.formula,) if isinstance(own.formula, str) else own.formula,
            source,
            _one_of(function, place) if outputs else function,
            tuple(dotted(subject, name) for name in parameters),
            frozenset(dotted(subject, name) for name in optional),
            {
                dotted(subject, name): (dotted(subject, column), values)
                for name, (column, values) in (needed_when or {}).items()
            },
            {dotted(subject, name): limits for name, limits in (within or {}).items()},
            own.missing_because or missing_because,
            own.shown,
            places,
            described_by,
            function if outputs else None,
            place,
            leaps,
        )

    return record


def _unwrapped(function: Callable[..., Any]) -> Callable[..., Any]:
    """The function under its decorators; like `inspect.unwrap`, whose import would slow the
    start.
    """
    while (under := getattr(function, "__wrapped__", None)) is not None:
        function = under
    return function


def _one_of(function: Callable[..., Any], place: int) -> Callable[..., Any]:
    """One of several columns as a function of its own."""

    @wraps(function)
    def one(*arguments: Any) -> Any:
        return function(*arguments)[place]

    return one


def quantities_of(
    subject: str,
) -> Callable[..., Callable[[Callable[..., Any]], Callable[..., Any]]]:
    """The decorator `quantity` for one subject.

    Args:
        subject: a key of `naming.TABLE_OF`.

    Returns:
        `quantity`, to be called with all its other arguments.
    """
    return partial(quantity, subject)
