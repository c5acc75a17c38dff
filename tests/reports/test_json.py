"""The JSON report: what stands in it, and what does not."""

from __future__ import annotations

from tests.cli.calling import Calling, calling, put
from tests.example import DESIGN

__all__ = ["calling"]


def test_a_value_that_is_not_determined_is_absent(call: Calling) -> None:
    put("house.yaml", DESIGN.replace("spacing: 150 mm, ", ""))
    (design,) = call("check", "house.yaml", "--format", "json").json["designs"]
    first, second = design["computed"]["loops.L1"], design["computed"]["loops.L2"]
    assert "heat_coefficient" not in first
    assert "heat_coefficient" in second
    assert "section_coefficient" not in second, "nobody asked for a second opinion"
    values = [one for subject in design["computed"].values() for one in subject.values()]
    assert all(isinstance(one["magnitude"], float | int) for one in values)
