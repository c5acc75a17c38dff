"""The kinds of arrays that values of many things are kept in."""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Array: TypeAlias = NDArray[np.float64]
"""Numbers, NaN where one is missing."""

Index: TypeAlias = NDArray[np.intp]
"""Rows of a table."""

Mask: TypeAlias = NDArray[np.bool_]
"""Whether something holds, a row each."""
