"""The pump of a header: its head at a flow.

The curves of many pumps, of any number of points each, lie end to end in three flat arrays:
flow, head and the position of the header they belong to. Points may stand in any order.
"""

import numpy as np

from checker.arrays import Array
from checker.physics.arrays import BORDER_TOLERANCE, Numbers, elementwise


@elementwise
def pump_head(
    flow: Numbers, curve_flow: Numbers, curve_head: Numbers, curve_header: Numbers
) -> Numbers:
    """Head of each header's pump at the given flow.

    Args:
        flow: m³/s, shape (headers,).
        curve_flow: m³/s, shape (points,).
        curve_head: Pa, shape (points,).
        curve_header: of each point, position of its header in `flow`, shape (points,).

    Returns:
        Pa, shape (headers,), on straight lines between the points; NaN outside the curve or where
        it has fewer than two points. Beyond a last head of zero the pump gives nothing, so there it
        stays zero.

    Source:
        The pump's curve.
    """
    wanted = np.atleast_1d(flow)
    head, _ = head_and_slope(wanted, curve_flow, curve_head, curve_header)
    last_flow, last_head = _end(wanted, curve_flow, curve_head, curve_header, last=True)
    beyond = (wanted > last_flow) & (last_head == 0)
    return np.where(beyond, 0.0, head).reshape(np.shape(flow))


@elementwise
def bounded_head(
    flow: Numbers,
    loss: Numbers,
    curve_flow: Numbers,
    curve_head: Numbers,
    curve_header: Numbers,
) -> Numbers:
    """Head to compare with a loss at a flow, also where one end of the curve settles it.

    A curve only falls. So beyond its last point the pump gives at most the head there, and that
    head is returned where it is under the loss; before its first point the pump gives at least the
    head there, and that head is returned where it is not under the loss.

    Args:
        flow: m³/s, shape (headers,).
        loss: Pa, shape (headers,).
        curve_flow: m³/s, shape (points,).
        curve_head: Pa, shape (points,).
        curve_header: of each point, position of its header in `flow`, shape (points,).

    Returns:
        Pa, shape (headers,); elsewhere outside the curve NaN.

    Source:
        The pump's curve.
    """
    wanted = np.atleast_1d(flow)
    head = pump_head(wanted, curve_flow, curve_head, curve_header)
    last_flow, last_head = _end(wanted, curve_flow, curve_head, curve_header, last=True)
    first_flow, first_head = _end(wanted, curve_flow, curve_head, curve_header, last=False)
    head = np.where((wanted > last_flow) & (last_head < loss), last_head, head)
    head = np.where((wanted < first_flow) & (first_head >= loss), first_head, head)
    return head.reshape(np.shape(flow))


@elementwise
def head_and_slope(
    flow: Numbers, curve_flow: Numbers, curve_head: Numbers, curve_header: Numbers
) -> tuple[Numbers, Numbers]:
    """Head of each header's pump at the given flow, and how it changes there.

    Args:
        flow: m³/s, shape (headers,).
        curve_flow: m³/s, shape (points,).
        curve_head: Pa, shape (points,).
        curve_header: of each point, position of its header in `flow`, shape (points,).

    Returns:
        Pa and Pa/(m³/s), each of shape (headers,); NaN outside the curve.

    Source:
        The pump's curve.
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
    width = curve_flow[left + 1] - curve_flow[left]
    share = (wanted[has_curve] - curve_flow[left]) / width
    on_curve = (share >= -BORDER_TOLERANCE) & (share <= 1 + BORDER_TOLERANCE)
    slope, head = np.full(len(wanted), np.nan), np.full(len(wanted), np.nan)
    rise = curve_head[left + 1] - curve_head[left]
    slope[has_curve] = np.where(on_curve, rise / width, np.nan)
    read = curve_head[left] * (1 - share) + curve_head[left + 1] * share
    head[has_curve] = np.where(on_curve, read, np.nan)
    return head, slope


def _end(
    flow: Array,
    curve_flow: Numbers,
    curve_head: Numbers,
    curve_header: Numbers,
    *,
    last: bool,
) -> tuple[Array, Array]:
    """Flow and head of the first or last point of each header's curve; NaN without a curve."""
    points, heads, header = _sorted_curves(curve_flow, curve_head, curve_header)
    order = slice(None) if last else slice(None, None, -1)
    found = np.full((2, len(flow)), np.nan)
    found[0, header[order]] = points[order]
    found[1, header[order]] = heads[order]
    found[:, np.bincount(header, minlength=len(flow)) < 2] = np.nan
    return found[0], found[1]


def _sorted_curves(
    curve_flow: Numbers, curve_head: Numbers, curve_header: Numbers
) -> tuple[Array, Array, np.ndarray[tuple[int], np.dtype[np.int64]]]:
    flow, head = np.atleast_1d(curve_flow), np.atleast_1d(curve_head)
    header = np.atleast_1d(curve_header).astype(np.int64)
    order = np.lexsort((flow, header))
    return flow[order], head[order], header[order]
