"""The numbers of EN 1264-2:2021 and EN 1264-3:2021 that floors are worked with: ranges and tables.

All are reported (read in published works that cite the standard, checked for consistency), not read
in the standard itself.
"""

import numpy as np

from checker.arrays import Array
from checker.physics.arrays import Numbers, Range

# EN 1264-2 Annex A, reported; the upper end of spacing is ours: beyond 1 m no floor is heated.
SPACING_RANGE: Range = (0.050, 1.0)  # m
COVER_RANGE: Range = (0.010, np.inf)  # m, screed over the pipe crown
PIPE_OUTSIDE_RANGE: Range = (0.008, 0.030)  # m
COVERING_RANGE: Range = (0.0, 0.15)  # m²·K/W
# EN 1264-2 tables A.4 to A.7, reported: the limit curve is given from here on.
COVER_RESISTANCE_RANGE: Range = (0.01, np.inf)  # m²·K/W, cover over its conductivity
COVER_TO_SPACING_RANGE: Range = (0.173, np.inf)  # only where the cover's resistance exceeds 0.0792

# EN 1264-2 table A.13, reported, W/(m·K).
PIPE_CONDUCTIVITY = {
    "PB": 0.22,
    "PP": 0.22,
    "PE-X": 0.35,
    "PE-RT": 0.35,
    "steel": 52.0,
    "copper": 390.0,
}

# EN 1264-3, reported: heat resistance between a ceiling and the room below; none on ground.
CEILING_SURFACE_RESISTANCE = 0.17  # m²·K/W

# EN 1264-2, reported: total heat transfer from floor to room in the formulas for K_H and R_o.
SURFACE_COEFFICIENT = 10.8  # W/(m²·K)

# EN 1264-2 Annex A, reported: the pipe for which B_0 holds, and the cover for which a_B is written.
REFERENCE_FACTOR = 6.7  # W/(m²·K)
REFERENCE_CONDUCTIVITY = 0.35  # W/(m·K)
REFERENCE_WALL = 0.002  # m
REFERENCE_COVER = 0.045  # m
REFERENCE_COVER_CONDUCTIVITY = 1.0  # W/(m·K)

WIDEST_TABLED_SPACING = 0.375  # m
REFERENCE_SURFACE_EXCESS = 9.0  # K

COVERINGS = np.array([0.0, 0.05, 0.10, 0.15])  # m²·K/W, columns of tables A.1 to A.3
SPACINGS = np.array([0.05, 0.075, 0.1, 0.15, 0.2, 0.225, 0.3, 0.375])  # m, rows of A.2 to A.4

# EN 1264-2 table A.1, reported.
SPACING_FACTOR = np.array([1.23, 1.188, 1.156, 1.134])

# EN 1264-2 table A.2, reported.
COVER_FACTOR = np.array(
    [
        [1.069, 1.056, 1.043, 1.037],
        [1.066, 1.053, 1.041, 1.035],
        [1.063, 1.050, 1.039, 1.0335],
        [1.057, 1.046, 1.035, 1.0305],
        [1.051, 1.041, 1.0315, 1.0275],
        [1.048, 1.038, 1.0295, 1.026],
        [1.0395, 1.031, 1.024, 1.021],
        [1.030, 1.0221, 1.0181, 1.015],
    ]
)

# EN 1264-2 table A.3, reported.
DIAMETER_FACTOR = np.array(
    [
        [1.013, 1.013, 1.012, 1.011],
        [1.021, 1.019, 1.016, 1.014],
        [1.029, 1.025, 1.022, 1.018],
        [1.040, 1.034, 1.029, 1.024],
        [1.046, 1.040, 1.035, 1.030],
        [1.049, 1.043, 1.038, 1.033],
        [1.053, 1.049, 1.044, 1.039],
        [1.056, 1.051, 1.046, 1.042],
    ]
)

# Columns of tables A.4 and A.6: resistance of the cover, m²·K/W. Above the last, A.5 and A.7.
COVER_RESISTANCES = np.array([0.01, 0.0208, 0.0292, 0.0375, 0.0458, 0.0542, 0.0625, 0.0708, 0.0792])

# EN 1264-2 table A.4, reported, W/m².
LIMIT_FACTOR = np.array(
    [
        [85.0, 91.5, 96.8, 100, 100, 100, 100, 100, 100],
        [75.3, 83.5, 89.9, 96.3, 99.5, 100, 100, 100, 100],
        [66.0, 75.4, 82.9, 89.3, 95.5, 98.8, 100, 100, 100],
        [51.0, 61.1, 69.2, 76.3, 82.7, 87.5, 91.8, 95.1, 97.8],
        [38.5, 48.2, 56.2, 63.1, 69.1, 74.5, 81.3, 86.4, 90.0],
        [33.0, 42.5, 49.5, 56.5, 62.0, 67.5, 75.3, 81.6, 86.1],
        [20.5, 26.8, 31.6, 36.4, 41.5, 47.5, 57.5, 65.3, 72.4],
        [11.5, 13.7, 15.5, 18.2, 21.5, 27.5, 40.0, 49.1, 58.3],
    ]
)

# EN 1264-2 table A.6, reported; it has two rows more than A.4.
EXPONENT_SPACINGS = np.array([0.05, 0.075, 0.1, 0.15, 0.2, 0.225, 0.2625, 0.3, 0.3375, 0.375])
LIMIT_EXPONENT = np.array(
    [
        [0.008, 0.005, 0.002, 0, 0, 0, 0, 0, 0],
        [0.024, 0.021, 0.018, 0.011, 0.002, 0, 0, 0, 0],
        [0.046, 0.043, 0.041, 0.033, 0.014, 0.005, 0, 0, 0],
        [0.088, 0.085, 0.082, 0.076, 0.055, 0.038, 0.024, 0.014, 0.006],
        [0.131, 0.130, 0.129, 0.123, 0.105, 0.083, 0.057, 0.040, 0.028],
        [0.155, 0.154, 0.153, 0.146, 0.130, 0.110, 0.077, 0.056, 0.041],
        [0.197, 0.196, 0.196, 0.190, 0.173, 0.150, 0.110, 0.083, 0.062],
        [0.254, 0.253, 0.253, 0.245, 0.228, 0.195, 0.145, 0.114, 0.086],
        [0.322, 0.321, 0.321, 0.310, 0.293, 0.260, 0.187, 0.148, 0.115],
        [0.422, 0.421, 0.421, 0.405, 0.385, 0.325, 0.230, 0.183, 0.142],
    ]
)

# EN 1264-2 tables A.5 and A.7, reported; they hold their last value beyond a ratio of 0.75.
COVER_TO_SPACING = np.array(
    [0.173, 0.20, 0.25, 0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65, 0.70, 0.75]
)
THICK_LIMIT_FACTOR = np.array(
    [27.5, 40.0, 57.5, 69.5, 78.2, 84.4, 88.3, 91.6, 94.0, 96.3, 98.6, 99.8, 100]
)
THICK_LIMIT_EXPONENT = np.array(
    [0.320, 0.230, 0.145, 0.097, 0.067, 0.048, 0.033, 0.023, 0.015, 0.009, 0.005, 0.002, 0]
)


def read_table(rows: Array, columns: Array, table: Array, row: Numbers, column: Numbers) -> Array:
    """A table read at a row and a column, with linear interpolation between its cells.

    Shapes broadcast. Both must lie within the borders of the table, or be NaN.

    Args:
        rows: values at which the table has a row, rising, shape (rows,).
        columns: likewise of the columns, shape (columns,).
        table: shape (rows, columns).
        row: where to read, in the unit of `rows`.
        column: where to read, in the unit of `columns`.

    Returns:
        In the unit of the table; NaN where row or column is.
    """
    i = np.clip(np.searchsorted(rows, row) - 1, 0, len(rows) - 2)
    j = np.clip(np.searchsorted(columns, column) - 1, 0, len(columns) - 2)
    down = (row - rows[i]) / (rows[i + 1] - rows[i])
    across = (column - columns[j]) / (columns[j + 1] - columns[j])
    upper = table[i, j] * (1 - across) + table[i, j + 1] * across
    lower = table[i + 1, j] * (1 - across) + table[i + 1, j + 1] * across
    return np.asarray(upper * (1 - down) + lower * down)
