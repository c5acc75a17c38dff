"""Properties of the heating water: plain, or with glycol against frost.

Water: IAPWS SR6-08(2011), Revised Supplementary Release on Properties of Liquid Water at 0.1 MPa.
At the 0.3 MPa of a heating system the density is 0.01 % higher, the viscosity and the specific
heat are up to 0.02 % lower.

Glycols: Å. Melinder, Properties of Secondary Working Fluids for Indirect Systems, International
Institute of Refrigeration, 2010; coefficients and range reported (three independent copies
agree), not read in the book.
"""

from collections.abc import Mapping, Sequence
from typing import TypeAlias

import numpy as np

from checker.arrays import Array
from checker.physics.arrays import Numbers, Range, elementwise, within

WATER = 0
PROPYLENE_GLYCOL = 1
ETHYLENE_GLYCOL = 2

ZERO_CELSIUS = 273.15  # K

# The liquid at atmospheric pressure; IAPWS SR6-08 itself covers -20 to 110 °C.
WATER_TEMPERATURE_RANGE: Range = (0.0, 100.0)  # °C

# Melinder 2010, reported; the lowest temperature is the freezing point of the mixture.
GLYCOL_MASS_FRACTION_RANGE: Range = (0.0, 0.6)
GLYCOL_TEMPERATURE_RANGE: Range = (-np.inf, 100.0)  # °C


@elementwise
def density(kind: Numbers, mass_fraction: Numbers, temperature: Numbers) -> Numbers:
    """Density of the heating water.

    Shapes broadcast.

    Args:
        kind: WATER, PROPYLENE_GLYCOL or ETHYLENE_GLYCOL.
        mass_fraction: of the glycol in the mixture, 0 to 0.6; ignored for water.
        temperature: °C: 0 to 100 for water, freezing point to 100 for a glycol.

    Returns:
        kg/m³; NaN outside these ranges.

    Source:
        IAPWS SR6-08(2011), equation for v; glycols: Melinder (2010).
    """
    water = 1 / _specific_volume(within(temperature, WATER_TEMPERATURE_RANGE))
    mixture = _mixture(_DENSITY, kind, mass_fraction, temperature)
    return np.where(kind == WATER, water, mixture)


@elementwise
def specific_heat(kind: Numbers, mass_fraction: Numbers, temperature: Numbers) -> Numbers:
    """Specific heat of the heating water at constant pressure.

    Shapes broadcast.

    Args:
        kind: WATER, PROPYLENE_GLYCOL or ETHYLENE_GLYCOL.
        mass_fraction: of the glycol in the mixture, 0 to 0.6; ignored for water.
        temperature: °C: 0 to 100 for water, freezing point to 100 for a glycol.

    Returns:
        J/(kg·K); NaN outside these ranges.

    Source:
        IAPWS SR6-08(2011), equation for c_p; glycols: Melinder (2010).
    """
    water = _water_specific_heat(within(temperature, WATER_TEMPERATURE_RANGE))
    mixture = _mixture(_SPECIFIC_HEAT, kind, mass_fraction, temperature)
    return np.where(kind == WATER, water, mixture)


@elementwise
def viscosity(kind: Numbers, mass_fraction: Numbers, temperature: Numbers) -> Numbers:
    """Dynamic viscosity of the heating water.

    Shapes broadcast.

    Args:
        kind: WATER, PROPYLENE_GLYCOL or ETHYLENE_GLYCOL.
        mass_fraction: of the glycol in the mixture, 0 to 0.6; ignored for water.
        temperature: °C: 0 to 100 for water, freezing point to 100 for a glycol.

    Returns:
        Pa·s; NaN outside these ranges.

    Source:
        IAPWS SR6-08(2011), equation 7; glycols: Melinder (2010).
    """
    water = _water_viscosity(within(temperature, WATER_TEMPERATURE_RANGE))
    mixture = 1e-3 * np.exp(_mixture(_LOGARITHM_OF_VISCOSITY, kind, mass_fraction, temperature))
    return np.where(kind == WATER, water, mixture)


@elementwise
def conductivity(kind: Numbers, mass_fraction: Numbers, temperature: Numbers) -> Numbers:
    """Thermal conductivity of the heating water.

    Shapes broadcast.

    Args:
        kind: WATER, PROPYLENE_GLYCOL or ETHYLENE_GLYCOL.
        mass_fraction: of the glycol in the mixture, 0 to 0.6; ignored for water.
        temperature: °C: 0 to 100 for water, freezing point to 100 for a glycol.

    Returns:
        W/(m·K); NaN outside these ranges.

    Source:
        IAPWS SR6-08(2011), equation 8; glycols: a polynomial in mass fraction and °C fitted to
        Melinder (2010) as the library CoolProp has it, within 0.5 % from 10 % of glycol on.
    """
    liquid = within(temperature, WATER_TEMPERATURE_RANGE)
    reduced = np.log((liquid + ZERO_CELSIUS) / 300)
    terms = zip(_CONDUCTIVITY_FACTORS, _CONDUCTIVITY_EXPONENTS, strict=True)
    value = np.asarray(sum(factor * np.exp(power * reduced) for factor, power in terms))
    value = np.where(kind == WATER, value, np.nan)
    if _all_water(kind):
        return np.array(np.broadcast_to(value, np.broadcast(value, mass_fraction).shape))
    fraction = within(mass_fraction, GLYCOL_MASS_FRACTION_RANGE)
    cold = temperature < freezing_point(kind, fraction)
    for code, rows in _CONDUCTIVITY.items():
        mixture = _polynomial([_polynomial(row, temperature) for row in rows], fraction)
        value = np.where((kind == code) & ~cold, mixture, value)
    return value


@elementwise
def freezing_point(kind: Numbers, mass_fraction: Numbers) -> Numbers:
    """Temperature at which a mixture of glycol and water starts to freeze.

    Shapes broadcast.

    Args:
        kind: PROPYLENE_GLYCOL or ETHYLENE_GLYCOL; any other gives NaN.
        mass_fraction: 0 to 0.6.

    Returns:
        °C.

    Source:
        Melinder (2010).
    """
    fraction = within(mass_fraction, GLYCOL_MASS_FRACTION_RANGE)
    point = np.full(np.broadcast(kind, fraction).shape, np.nan)
    for code, coefficients in _FREEZING_POINT.items():
        distance = 100 * fraction - _BASE[code][0]
        point = np.where(kind == code, _polynomial(coefficients, distance), point)
    return point


@elementwise
def expansion(temperature: Numbers) -> Numbers:
    """Volumetric thermal expansion of water at constant pressure, (∂v/∂T)/v.

    Args:
        temperature: °C, 0 to 100, any shape.

    Returns:
        1/K, below 0 under 4 °C.

    Source:
        IAPWS SR6-08(2011).
    """
    celsius = within(temperature, WATER_TEMPERATURE_RANGE)
    alpha, beta = _reduced(celsius)
    slope = alpha**2 * _polynomial(_derivative(_VOLUME_ALPHA), alpha)
    slope = slope - beta**2 * _polynomial(_derivative(_VOLUME_BETA), beta)
    return _GAS_CONSTANT / _PRESSURE * slope / _specific_volume(celsius)


@elementwise
def compressibility(temperature: Numbers) -> Numbers:
    """Isothermal compressibility of water, −(∂v/∂p)/v.

    Args:
        temperature: °C, 0 to 100, any shape.

    Returns:
        1/Pa.

    Source:
        IAPWS SR6-08(2011).
    """
    celsius = within(temperature, WATER_TEMPERATURE_RANGE)
    alpha, beta = _reduced(celsius)
    slope = _polynomial(_SQUEEZE_ALPHA, alpha) + _polynomial(_SQUEEZE_BETA, beta)
    scale = _GAS_CONSTANT * _REFERENCE_TEMPERATURE / _PRESSURE**2
    return -scale * slope / _specific_volume(celsius)


# IAPWS SR6-08(2011). The release gives g, v and ∂v/∂p as sums of powers of
# α = 10 K/(593 K − T) and β = 10 K/(T − 232 K); the coefficient at index n belongs to power n.
_GAS_CONSTANT = 461.51805  # J/(kg·K)
_REFERENCE_TEMPERATURE = 10.0  # K
_PRESSURE = 1e5  # Pa
_HEAT_CONSTANT = -8.983025854
_GIBBS_ALPHA = (0, 0, 0, 0, -1.661470539e5, 2.708781640e6, 0, -1.557191544e8)
_GIBBS_BETA = (0, 0, -8.237426256e-1, 1.908956353, -2.017597384, 8.546361348e-1)
_VOLUME_ALPHA = (
    *(1.93763157e-2, 0, 0, 0, 6.74458446e3, -2.22521604e5, 0),
    *(1.00231247e8, -1.63552118e9, 8.32299658e9),
)
_VOLUME_BETA = (
    *(0, 5.78545292e-3, -1.53195665e-2, 3.11337859e-2),
    *(-4.23546241e-2, 3.38713507e-2, -1.19946761e-2),
)
_SQUEEZE_ALPHA = (
    *(0, -7.5245878e-6, 0, -1.3767418e-2, 0, 1.0627293e1),
    *(-2.0457795e2, 1.2037414e3),
)
_SQUEEZE_BETA = (
    *(0, -3.1091470e-6, 0, 2.8964919e-5, -1.3112763e-4),
    *(3.0410453e-4, -3.9034594e-4, 2.3403117e-4, 0, -4.8510101e-5),
)
# IAPWS SR6-08(2011), equation 7: µPa·s, powers of T/300 K.
_VISCOSITY_FACTORS = (280.68, 511.45, 61.131, 0.45903)
_VISCOSITY_EXPONENTS = (-1.9, -7.7, -19.6, -40.0)
# IAPWS SR6-08(2011), equation 8: W/(m·K), powers of T/300 K; from memory.
_CONDUCTIVITY_FACTORS = (1.6630, -1.7781, 1.1567, -0.432115)
_CONDUCTIVITY_EXPONENTS = (-1.15, -3.4, -6.0, -7.6)


def _polynomial(coefficients: Sequence[Numbers], variable: Numbers) -> Numbers:
    """Horner's scheme; the coefficient at index n belongs to power n."""
    value = coefficients[-1]
    for coefficient in reversed(coefficients[:-1]):
        value = value * variable + coefficient
    return value


def _derivative(coefficients: Sequence[float]) -> Sequence[float]:
    return [power * coefficient for power, coefficient in enumerate(coefficients)][1:]


def _reduced(celsius: Numbers) -> tuple[Numbers, Numbers]:
    kelvin = celsius + ZERO_CELSIUS
    return _REFERENCE_TEMPERATURE / (593 - kelvin), _REFERENCE_TEMPERATURE / (kelvin - 232)


def _specific_volume(celsius: Numbers) -> Numbers:
    alpha, beta = _reduced(celsius)
    series = _polynomial(_VOLUME_ALPHA, alpha) + _polynomial(_VOLUME_BETA, beta)
    return _GAS_CONSTANT * _REFERENCE_TEMPERATURE / _PRESSURE * series


def _water_specific_heat(celsius: Array) -> Numbers:
    # c_p = −T·∂²g/∂T². With dα/dT = α²/10 K the second derivative of a series A(α) is
    # α³·(α·A″ + 2·A′)/(10 K)²; with dβ/dT = −β²/10 K the same holds for β.
    curvature: Numbers = 0.0
    for variable, series in zip(_reduced(celsius), (_GIBBS_ALPHA, _GIBBS_BETA), strict=True):
        first = _derivative(series)
        curvature = curvature + variable**3 * (
            variable * _polynomial(_derivative(first), variable) + 2 * _polynomial(first, variable)
        )
    reduced_temperature = (celsius + ZERO_CELSIUS) / _REFERENCE_TEMPERATURE
    return -_GAS_CONSTANT * (_HEAT_CONSTANT + reduced_temperature * curvature)


def _water_viscosity(celsius: Array) -> Array:
    logarithm = np.log((celsius + ZERO_CELSIUS) / 300)
    terms = zip(_VISCOSITY_FACTORS, _VISCOSITY_EXPONENTS, strict=True)
    return np.asarray(1e-6 * sum(factor * np.exp(power * logarithm) for factor, power in terms))


def _all_water(kind: Numbers) -> bool:
    return not np.count_nonzero(kind != WATER)


_Table: TypeAlias = tuple[tuple[float, ...], ...]


def _mixture(
    tables: Mapping[int, _Table], kind: Numbers, mass_fraction: Numbers, temperature: Numbers
) -> Array:
    """A property of the glycol mixtures; NaN for water, and for what is frozen."""
    if _all_water(kind):
        return np.full(np.broadcast(kind, mass_fraction, temperature).shape, np.nan)
    fraction = within(mass_fraction, GLYCOL_MASS_FRACTION_RANGE)
    liquid = within(temperature, GLYCOL_TEMPERATURE_RANGE)
    liquid = np.where(liquid >= freezing_point(kind, fraction), liquid, np.nan)
    value = np.full(np.broadcast(kind, fraction, liquid).shape, np.nan)
    for code, table in tables.items():
        chosen = kind == code
        if np.any(chosen):
            base_fraction, base_temperature = _BASE[code]
            rows = [_polynomial(row, liquid - base_temperature) for row in table]
            value = np.where(chosen, _polynomial(rows, 100 * fraction - base_fraction), value)
    return value


# Melinder 2010, reported. A property is a polynomial in the distances from a base mass fraction,
# %, and a base temperature, °C: row i, column j of a table belongs to fraction^i·temperature^j.
_BASE = {
    PROPYLENE_GLYCOL: (30.7031, 32.7083),
    ETHYLENE_GLYCOL: (30.8462, 31.728),
}

# °C. The book's freezing point has terms in temperature too, worth less than 0.02 K; left out.
_FREEZING_POINT = {
    PROPYLENE_GLYCOL: (-13.25, -0.6631, -0.01094, -2.283e-4, -3.409e-6, 1.465e-8),
    ETHYLENE_GLYCOL: (-15.25, -0.808, -0.01334, -7.293e-5, 1.006e-6, 1.140e-9),
}

# kg/m³.
_DENSITY = {
    PROPYLENE_GLYCOL: (
        (1018.0, -0.5406, -2.666e-3, 1.347e-5),
        (0.7604, -9.450e-3, 5.541e-5, -1.343e-7),
        (-2.498e-3, 2.700e-5, -4.018e-7, 3.376e-9),
        (-1.550e-4, 2.829e-6, -7.175e-9),
        (-1.131e-6, -2.221e-8),
        (2.342e-8,),
    ),
    ETHYLENE_GLYCOL: (
        (1034.0, -0.4781, -2.692e-3, 4.725e-6),
        (1.311, -6.876e-3, 4.805e-5, 1.690e-8),
        (7.490e-5, 7.855e-5, -3.995e-7, 4.982e-9),
        (-1.062e-4, 1.229e-6, -1.153e-8),
        (-9.623e-7, -7.211e-8),
        (4.891e-8,),
    ),
}

# J/(kg·K).
_SPECIFIC_HEAT = {
    PROPYLENE_GLYCOL: (
        (3882.0, 2.699, -1.659e-3, -1.032e-5),
        (-13.04, 5.070e-2, -4.752e-5, 1.522e-6),
        (-0.1598, 9.534e-5, 1.167e-5, -4.870e-8),
        (3.539e-4, 3.102e-5, -2.950e-7),
        (5.000e-5, -7.135e-7),
        (-4.959e-7,),
    ),
    ETHYLENE_GLYCOL: (
        (3737.0, 2.930, -4.675e-3, -1.389e-5),
        (-17.99, 0.1046, -4.147e-4, 1.847e-7),
        (-9.933e-2, 3.516e-4, 5.109e-6, -7.138e-8),
        (2.610e-3, -1.189e-6, -1.643e-7),
        (1.537e-5, -4.272e-7),
        (-1.618e-6,),
    ),
}

# Natural logarithm of the viscosity in mPa·s.
_LOGARITHM_OF_VISCOSITY = {
    PROPYLENE_GLYCOL: (
        (0.6837, -3.045e-2, 2.525e-4, -1.399e-6),
        (3.328e-2, -3.984e-4, 4.332e-6, -1.860e-8),
        (5.453e-5, -8.600e-8, -1.593e-8, -4.465e-11),
        (-3.900e-6, 1.054e-7, -1.589e-9),
        (-1.587e-8, 4.475e-10),
        (3.564e-9,),
    ),
    ETHYLENE_GLYCOL: (
        (0.4705, -2.550e-2, 1.782e-4, -7.669e-7),
        (2.471e-2, -1.171e-4, 1.052e-6, -1.634e-8),
        (3.328e-6, 1.086e-6, 1.051e-8, -6.475e-10),
        (1.659e-6, 3.157e-9, 4.063e-10),
        (3.089e-8, 1.831e-10),
        (-1.865e-9,),
    ),
}

# W/(m·K): powers of the mass fraction, each a polynomial in °C.
_CONDUCTIVITY = {
    PROPYLENE_GLYCOL: (
        (0.56668, 1.6336e-3, -3.7288e-6),
        (-0.51151, -2.6318e-3, 8.7617e-6),
        (0.15649, 5.4532e-4),
    ),
    ETHYLENE_GLYCOL: (
        (0.56984, 1.6866e-3, -4.7914e-6),
        (-0.46232, -2.1753e-3, 9.3437e-6),
        (0.15345, 8.2225e-5),
    ),
}
