"""The designs of a file, as `prescreed intake` reads them."""

from __future__ import annotations

from checker.intake.maps import Map
from checker.intake.reading import Intake
from checker.run.sheets import designs_of


def take(path: str, plan: Map | None = None) -> list[Intake]:
    """By this map, or by what lies beside the file or is in it."""
    found = designs_of(path, plan)
    assert found is not None
    return found
