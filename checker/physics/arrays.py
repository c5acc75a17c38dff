"""How the functions of this package take numbers: as arrays, quietly, with NaN for "missing"."""

from collections.abc import Callable
from functools import wraps
from typing import Any, ParamSpec, TypeAlias, overload

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
Numbers: TypeAlias = float | Floats
Range: TypeAlias = tuple[float, float]

# Numbers arrive through unit conversions (1.5 cm is 0.015 m only to the last bit), so a border
# counts as inside within this relative distance.
BORDER_TOLERANCE = 1e-9

P = ParamSpec("P")


@overload
def elementwise(
    function: Callable[P, tuple[Numbers, Numbers]],
) -> Callable[P, tuple[Floats, Floats]]: ...
@overload
def elementwise(function: Callable[P, Numbers]) -> Callable[P, Floats]: ...
def elementwise(function: Callable[..., Any]) -> Callable[..., Any]:
    """Let a function written for arrays take any numbers, and keep NumPy's warnings quiet.

    Division by zero and the like give inf or NaN without a warning.

    Args:
        function: takes and returns arrays; its arguments may have any shapes that broadcast.

    Returns:
        The function for numbers and arrays alike: each of its results is an array of the broadcast
        shape.
    """

    @wraps(function)
    def quiet(*arguments: Any, **named: Any) -> Any:
        with np.errstate(all="ignore"):
            result = function(
                *(np.asarray(argument, dtype=float) for argument in arguments),
                **{name: np.asarray(argument, dtype=float) for name, argument in named.items()},
            )
        if isinstance(result, tuple):
            return tuple(np.asarray(part, dtype=float) for part in result)
        return np.asarray(result, dtype=float)

    return quiet


def within(value: Numbers, limits: Range) -> Floats:
    """The value where it is finite and within the limits, borders included; NaN elsewhere.

    Args:
        value: any unit, any shape.
        limits: lowest and highest, in the same unit; infinite where there is none.

    Returns:
        Shape and unit of `value`.
    """
    low, high = limits
    slack = BORDER_TOLERANCE * np.abs(value)
    inside = np.isfinite(value) & (value >= low - slack) & (value <= high + slack)
    return np.where(inside, np.clip(value, low, high), np.nan)


def positive(value: Numbers) -> Floats:
    """The value where it is above zero and finite; NaN elsewhere.

    Args:
        value: any unit, any shape.

    Returns:
        Shape and unit of `value`.
    """
    return np.where((value > 0) & (value < np.inf), value, np.nan)
