"""How long a pressure test must be held to tell whether the loops are tight. SI."""

from __future__ import annotations

import numpy as np

from checker.arrays import Array
from checker.compute.columns import Grouped
from checker.compute.registry import quantities_of
from checker.physics import instruments, tightness

quantity = quantities_of("test")

FINE_STEP = 0.1
"""Step of the finer thermometer that may be recommended, K."""


def _hold(
    steps: tuple[Array, Array],
    warming: Array,
    count: Array,
    settles: Array,
    leaks: Array,
    allowed: Array,
    give: Array,
) -> Array:
    """steps: of gauge and thermometer; leaks, allowed: a share of the volume in a second, 1/s."""
    gauge, thermometer = steps
    return tightness.deciding_hold(
        instruments.reading_uncertainty(gauge, thermometer, warming),
        instruments.hidden_drift(thermometer, warming),
        count,
        settles,
        leaks / give,
        allowed / give,
    )


@quantity(
    unit="h",
    title="Length of test that would tell, the temperature steady",
    symbol="t_d",
    formula="the shortest, of half an hour to three days, after which tight loops show as tight",
    source="spread of a straight line's slope, twice the standard uncertainty",
    missing_because="no test of up to three days would tell with such readings",
    shown=False,
)
def deciding_hold(
    readings_at: Grouped,
    gauge_step: Array,
    thermometer_step: Array,
    warming: Array,
    settling: Array,
    first_pressure: Array,
    unsettled_leak_rate: Array,
    header_content: Array,
    most_give: Array,
    allowed_leak_rate: Array,
) -> Array:
    """Length of a test read like this one, s."""
    return _hold(
        (gauge_step, thermometer_step),
        warming,
        readings_at.count(),
        settling * first_pressure,
        unsettled_leak_rate / header_content,
        allowed_leak_rate / header_content,
        most_give,
    )


@quantity(
    unit="h",
    title="Length of test that would tell, the temperature steady and read to 0.1 K",
    symbol="t_f",
    formula="as {deciding_hold}, with a step of 0.1 K",
    source="spread of a straight line's slope, twice the standard uncertainty",
    missing_because="no test of up to three days would tell with such readings",
    shown=False,
)
def fine_deciding_hold(
    readings_at: Grouped,
    gauge_step: Array,
    thermometer_step: Array,
    warming: Array,
    settling: Array,
    first_pressure: Array,
    unsettled_leak_rate: Array,
    header_content: Array,
    most_give: Array,
    allowed_leak_rate: Array,
) -> Array:
    """Length of a test with this gauge and a thermometer read to 0.1 K, s."""
    return _hold(
        (gauge_step, np.minimum(thermometer_step, FINE_STEP)),
        warming,
        readings_at.count(),
        settling * first_pressure,
        unsettled_leak_rate / header_content,
        allowed_leak_rate / header_content,
        most_give,
    )
