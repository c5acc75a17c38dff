"""A section in words, for the worked calculation: its layers, its grid, its error, its bounds."""

from __future__ import annotations

from checker.compute.numbered import Numbered
from checker.physics.mixed_section import solved


def described(things: Numbered, number: float) -> tuple[str, ...]:
    """A section in words, a line each.

    Its layers with their resistances, the grid and its error, the balance of heat for one kelvin,
    and the bounds that it must lie between.

    Args:
        things: keeps the sections by number.
        number: of the section.

    Returns:
        The lines.
    """
    from checker.physics.section_bounds import bounds  # only a worked calculation needs them

    mixed = things.thing(number)
    (floors,) = solved([mixed])  # type: ignore[list-item]  # it is a section
    lines: list[str] = []
    for solution, share in floors:
        one = solution.section
        if len(floors) > 1:
            lines.append(f"{100 * share:.0f} % of the floor, {_with_joist(one.joist)}:")
        lines.append(f"covering {_measured(one.covering, 'm²·K/W')}, and 1/10.8 to the room")
        for place, layer in enumerate(one.layers):
            timber = f" ({layer.joist:.3g} in the joist)" if one.joist and layer.joist else ""
            line = (
                f"{1000 * layer.thickness:.4g} mm of {layer.conductivity:.3g} W/(m·K){timber}: "
                f"{_measured(layer.thickness / layer.conductivity, 'm²·K/W')}"
            )
            if place == one.pipe_layer:
                line += f"; pipe's axis {1000 * one.axis:.4g} mm under its top"
            lines.append(line)
        if one.plate:
            lines.append(
                f"plate {1000 * one.plate.thickness:.3g} × {1000 * one.plate.width:.4g} mm of "
                f"{one.plate.conductivity:.3g} W/(m·K)"
            )
        lines.append(f"under the layers {_measured(one.below, 'm²·K/W')}")
        values, (least, most) = solution.values(), bounds(one)
        rows, columns = solution.fine.mesh.materials.shape
        lines.append(
            f"on {rows} × {columns} cells, and on half as many each way; error by refinement "
            f"{100 * values.coefficient_error / values.coefficient:.2f} % of the coefficient"
        )
        up, down = values.coefficient, values.downward_coefficient
        lines.append(
            f"1 K of excess over both sides: {up:.3f} up + {down:.3f} down = {up + down:.3f} W/m² "
            f"from the water; by hand between {least:.2f} (straight from the bore alone) and "
            f"{most:.2f} (the whole plane as warm as the pipe)"
        )
    return tuple(lines)


def _with_joist(joist: float) -> str:
    return (
        f"with a joist of {1000 * joist:.0f} mm between two pipes" if joist else "without a joist"
    )


def _measured(value: float, unit: str) -> str:
    return f"{value:.3g} {unit}"
