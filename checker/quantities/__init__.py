"""What can be computed of a design: each quantity one function, its inputs by parameter name.

One module a subject, the loop in several. The names, units and meanings of those that a report
shows are fixed; see DEVELOPERS.md for how to add one. All values are in SI, temperatures in °C,
one a row.
"""

from checker.quantities import (
    closed_pipes,
    design,
    drawing,
    floor,
    floor_layers,
    header,
    loop,
    loop_floors,
    loop_hydraulics,
    loop_means,
    loop_operation,
    loop_section,
    part,
    part_floor,
    part_operation,
    part_section,
    part_surface,
    pipe,
    room,
    test,
    test_length,
    tightness,
)

__all__ = [
    "closed_pipes",
    "design",
    "drawing",
    "floor",
    "floor_layers",
    "header",
    "loop",
    "loop_floors",
    "loop_hydraulics",
    "loop_means",
    "loop_operation",
    "loop_section",
    "part",
    "part_floor",
    "part_operation",
    "part_section",
    "part_surface",
    "pipe",
    "room",
    "test",
    "test_length",
    "tightness",
]
