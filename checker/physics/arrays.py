"""How the functions of this package handle numbers: as arrays, without warnings, NaN for
"missing".
"""

from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from contextvars import ContextVar
from functools import wraps
from typing import Any, ParamSpec, TypeAlias, overload

import numpy as np

from checker.arrays import Array

Numbers: TypeAlias = float | Array
Range: TypeAlias = tuple[float, float]

# Numbers arrive through unit conversions (1.5 cm is 0.015 m only to the last bit), so a border
# counts as inside within this relative distance.
BORDER_TOLERANCE = 1e-9

P = ParamSpec("P")


@overload
def elementwise(
    function: Callable[P, tuple[Numbers, Numbers]],
) -> Callable[P, tuple[Array, Array]]: ...
@overload
def elementwise(function: Callable[P, Numbers]) -> Callable[P, Array]: ...
def elementwise(function: Callable[..., Any]) -> Callable[..., Any]:
    """Make a function written for arrays accept any numbers, and silence NumPy's warnings in it.

    Division by zero and the like give inf or NaN without a warning.

    Args:
        function: takes and returns arrays; its arguments may have any shapes that broadcast.

    Returns:
        The function for numbers and arrays alike: each of its results is an array of the broadcast
        shape.
    """

    @wraps(function)
    def quiet(*arguments: Any, **named: Any) -> Any:
        given = [np.asarray(argument, dtype=float) for argument in arguments]
        by_name = {name: np.asarray(argument, dtype=float) for name, argument in named.items()}
        with quietly():
            result = function(*given, **by_name)
        if isinstance(result, tuple):
            return tuple([np.asarray(part, dtype=float) for part in result])
        return np.asarray(result, dtype=float)

    return quiet


_QUIET: ContextVar[bool] = ContextVar("quiet", default=False)


class _Quietly:
    """Keeps NumPy's warnings quiet until it is left."""

    def __enter__(self) -> None:
        self._token = _QUIET.set(True)
        self._state = np.errstate(all="ignore")
        self._state.__enter__()

    def __exit__(self, *failure: object) -> None:
        self._state.__exit__(None, None, None)
        _QUIET.reset(self._token)


def quietly() -> AbstractContextManager[None]:
    """Where division by zero and the like give inf or NaN without a warning.

    Within another it does nothing: to change NumPy's state takes longer than a sum over a design.

    Returns:
        What to enter with `with`.
    """
    return _ALREADY if _QUIET.get() else _Quietly()


_ALREADY: AbstractContextManager[None] = nullcontext()


def within(value: Numbers, limits: Range) -> Array:
    """The value where it is finite and within the limits, borders included; NaN elsewhere.

    Args:
        value: any unit, any shape.
        limits: lowest and highest, in the same unit; infinite where there is none.

    Returns:
        Shape and unit of `value`.
    """
    low, high = limits
    if high - low < np.inf and not np.count_nonzero((value < low) | (value > high)):
        return np.asarray(value, dtype=float)
    slack = BORDER_TOLERANCE * np.abs(value)
    inside = np.isfinite(value) & (value >= low - slack) & (value <= high + slack)
    return np.where(inside, np.clip(value, low, high), np.nan)


def positive(value: Numbers) -> Array:
    """The value where it is above zero and finite; NaN elsewhere.

    Args:
        value: any unit, any shape.

    Returns:
        Shape and unit of `value`.
    """
    outside = (value <= 0) | (value == np.inf)
    if not np.count_nonzero(outside):
        return np.asarray(value, dtype=float)
    return np.where(outside, np.nan, value)
