"""What can be computed of a design: each quantity one function, its inputs by parameter name.

One module a subject; loops, their parts and plans have several. The names, units and meanings of
those that a report shows are fixed; see DEVELOPERS.md for how to add one. All values are in SI,
temperatures in °C, one a row.

Reports list values in the order in which these modules are imported.
"""

# isort: off
from checker.quantities import (
    test_conditions,
    closed_pipes,
    design,
    plan,
    plan_against_design,
    plan_conflicts,
    floor,
    floor_layers,
    header,
    loop,
    loop_floors,
    loop_return,
    loop_operation,
    loop_hydraulics,
    loop_means,
    loop_section,
    part,
    part_floor,
    part_load,
    part_open_point,
    part_operation,
    part_section,
    part_by_section,
    part_surface,
    perimeter,
    pipe,
    room,
    room_plausible,
    test,
    test_length,
    tightness,
)

# isort: on

__all__ = [
    "closed_pipes",
    "design",
    "floor",
    "floor_layers",
    "header",
    "loop",
    "loop_floors",
    "loop_hydraulics",
    "loop_means",
    "loop_operation",
    "loop_return",
    "loop_section",
    "part",
    "part_by_section",
    "part_floor",
    "part_load",
    "part_open_point",
    "part_operation",
    "part_section",
    "part_surface",
    "perimeter",
    "pipe",
    "plan",
    "plan_against_design",
    "plan_conflicts",
    "room",
    "room_plausible",
    "test",
    "test_conditions",
    "test_length",
    "tightness",
]
