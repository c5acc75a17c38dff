"""The pump of a header: what it lifts at a flow, and where it meets its loops.

The curves of many pumps, of any number of points each, lie end to end in three flat arrays:
flow, head and the position of the header they belong to. Points may stand in any order.
"""

import numpy as np

from checker.physics.arrays import BORDER_TOLERANCE, Floats, Numbers, elementwise, positive


@elementwise
def pump_head(
    flow: Numbers, curve_flow: Numbers, curve_head: Numbers, curve_header: Numbers
) -> Numbers:
    """Head of each header's pump at the given flow.

    flow: m³/s, shape (headers,); curve_flow: m³/s, curve_head: Pa, curve_header: position in
    flow, each of shape (points,). Returns Pa, shape (headers,), on straight lines between the
    points; NaN outside the curve or where it has fewer than two points.
    """
    wanted = np.atleast_1d(flow)
    curve_flow, curve_head, header = _sorted_curves(curve_flow, curve_head, curve_header)
    count = np.bincount(header, minlength=len(wanted))
    first = np.cumsum(count) - count

    # Merging the wanted flows into the sorted points tells how many points each one follows.
    owner = np.concatenate((header, np.arange(len(wanted))))
    is_wanted = np.repeat((False, True), (len(header), len(wanted)))
    order = np.lexsort((is_wanted, np.concatenate((curve_flow, wanted)), owner))
    followed = np.empty(len(wanted), dtype=int)
    followed[owner[order][is_wanted[order]]] = np.cumsum(~is_wanted[order])[is_wanted[order]]

    has_curve = count >= 2
    left = np.clip(followed - 1, first, first + count - 2)[has_curve]
    share = (wanted[has_curve] - curve_flow[left]) / (curve_flow[left + 1] - curve_flow[left])
    head = curve_head[left] * (1 - share) + curve_head[left + 1] * share
    on_curve = (share >= -BORDER_TOLERANCE) & (share <= 1 + BORDER_TOLERANCE)
    result = np.full(len(wanted), np.nan)
    result[has_curve] = np.where(on_curve, head, np.nan)
    return result.reshape(np.shape(flow))


@elementwise
def met_point(
    design_flow: Numbers,
    design_loss: Numbers,
    curve_flow: Numbers,
    curve_head: Numbers,
    curve_header: Numbers,
) -> tuple[Numbers, Numbers]:
    """Where each header's pump curve meets the loss of its loops, Δp = k·Q².

    design_flow: m³/s and design_loss: Pa, of shape (headers,), fix k; the curves as for
    pump_head. Returns flow, m³/s, and head, Pa, each of shape (headers,): the first crossing from
    zero flow up; NaN where they do not meet within the curve.
    """
    flow = np.atleast_1d(design_flow)
    resistance = positive(design_loss) / positive(flow) ** 2
    curve_flow, curve_head, header = _sorted_curves(curve_flow, curve_head, curve_header)

    surplus = curve_head - resistance[header] * curve_flow**2
    crosses = (surplus[:-1] >= 0) & (surplus[1:] <= 0) & (header[:-1] == header[1:])
    # Backwards, so that of several crossings of a header the first is written last and stays.
    left = np.flatnonzero(crosses)[::-1]
    owner = header[left]
    slope = (curve_head[left + 1] - curve_head[left]) / (curve_flow[left + 1] - curve_flow[left])
    offset = curve_head[left] - slope * curve_flow[left]
    # k·Q² − slope·Q − offset = 0, in the form that loses no digits for either sign of the slope.
    root = np.sqrt(slope**2 + 4 * resistance[owner] * offset)
    met = np.full(len(flow), np.nan)
    met[owner] = np.where(
        slope > 0, (slope + root) / (2 * resistance[owner]), 2 * offset / (root - slope)
    )
    shape = np.shape(design_flow)
    return met.reshape(shape), (resistance * met**2).reshape(shape)


def _sorted_curves(
    curve_flow: Numbers, curve_head: Numbers, curve_header: Numbers
) -> tuple[Floats, Floats, np.ndarray[tuple[int], np.dtype[np.int64]]]:
    flow, head = np.atleast_1d(curve_flow), np.atleast_1d(curve_head)
    header = np.atleast_1d(curve_header).astype(np.int64)
    order = np.lexsort((flow, header))
    return flow[order], head[order], header[order]
