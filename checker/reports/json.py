"""The JSON report: `schemas/report.schema.json`, one design a line, streamed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from checker import __version__
from checker.outcome.results import DesignReport, Run, Totals
from checker.reading.mistakes import Unreadable

if TYPE_CHECKING:
    from checker.reports import Chosen

REPORT_VERSION = 1


class Writer:
    """Writes the JSON report."""

    separator = b",\n"

    def __init__(self, chosen: Chosen) -> None:
        self._encode = msgspec.json.Encoder().encode

    def head(self, run: Run) -> bytes:
        """The report's number, the program, the rules it judged by, and how the call was set."""
        before = {
            "report": REPORT_VERSION,
            "tool": {"name": "prescreed", "version": __version__},
            "rules": {"edition": run.edition, "digest": run.digest},
            "run": {
                "settings": run.settings,
                "settings_digest": run.settings_digest,
                **({"today": run.today} if run.today else {}),
            },
        }
        return self._encode(before)[:-1] + b',"designs":[\n'

    def piece(self, design: DesignReport) -> bytes:
        """One design as a JSON object."""
        return design.json()

    def tail(self, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """The files that could not be read, and the counts."""
        after = self._encode({"unreadable": unreadable, "totals": totals})
        return b"\n]," + after[1:] + b"\n"
