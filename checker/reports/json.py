"""JSON for other programs, in the shape of `schemas/report.schema.json`.

The only format that knows columns: it writes a batch at once, because it alone needs every result
of every design (`json_results`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec
from msgspec.json import encode

from checker import __version__
from checker.outcome.report import DesignReport
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable

if TYPE_CHECKING:
    from checker.reports import FormatOptions

REPORT_VERSION = 2
"""Version of the format."""


def _sheet(design: DesignReport) -> dict[str, Any]:
    """The sheet file that a design was read from, and remarks on its reading."""
    remarks = dict(design.sheet_remarks)
    return {"file": design.sheet, **{key: remarks.get(title, ()) for key, title in SHEET.items()}}


SHEET = {
    "not_read": "Not read, so not known", "look_at": "Look at", "assumed": "Assumed",
    "not_used": "Not used",
}  # fmt: skip
"""The remarks on a sheet, by the report's keys."""


class Writer:
    """Writes the JSON report."""

    separator = b",\n"

    def __init__(self, chosen: FormatOptions) -> None:
        self._encode = msgspec.json.Encoder().encode
        self.remedies = chosen.remedies

    def head(self, run: Run) -> bytes:
        """The report's version, the program, the rules, and the options of the call.

        Args:
            run: what the run judges by.

        Returns:
            The JSON up to the first design.
        """
        before = {
            "report": REPORT_VERSION,
            "tool": {"name": "prescreed", "version": __version__},
            "rules": {"edition": run.edition, "digest": run.digest},
            "run": {
                "settings": run.settings,
                "settings_digest": run.settings_digest,
                **({"today": run.today} if run.today else {}),
            },
            "policy": run.policy,
        }
        return self._encode(before)[:-1] + b',"designs":[\n'

    def piece(self, design: DesignReport) -> bytes:
        """One design as a JSON object.

        Args:
            design: its report; what it has none of, such as remarks, is left out.

        Returns:
            The object, in units of reports.
        """
        from checker.reports.json_results import written

        before = encode(
            {
                "path": design.path,
                "name": design.name,
                "verdict": design.verdict,
                "judged_by": design.judged_by,
                "codes": design.codes,
                **({"remarks": design.remarks} if design.remarks else {}),
                "counts": design.counts,
                "stage": design.stage,
                "judged": design.judged,
                "questions": design.questions,
                **({"asides": design.asides} if design.asides else {}),
                **({"sheet": _sheet(design)} if design.sheet else {}),
                **({"remedies": self._remedies(design)} if self.remedies else {}),
            }
        )
        results, computed = written(design)
        after = b'],\n"computed":{\n%b}' % b",\n".join(computed)
        if design.mended is not None:
            after += b',"mended":' + encode(design.mended)
        # Put together once, for it is large.
        parts = results or [b""]
        parts[0] = before[:-1] + b',"results":[\n' + parts[0]
        parts[-1] += after + b"}"
        return b",\n".join(parts)

    @staticmethod
    def _remedies(design: DesignReport) -> list[dict[str, Any]]:
        """What would clear each grave finding."""
        from checker.reports.remedies import plain

        return [plain(one) for one in design.remedies.values()]

    def tail(self, run: Run, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """What became of the files, and the counts.

        Args:
            run: adds what became of each file, what the program failed on, and the answer.
            totals: the counts.
            unreadable: each with its place.

        Returns:
            The JSON from the last design on.
        """
        after = self._encode(
            {
                "unreadable": unreadable,
                "crashed": [{"path": one.path, "message": one.message} for one in run.crashed],
                "files": run.files,
                "answer": run.answer,
                "totals": totals,
            }
        )
        return b"\n]," + after[1:] + b"\n"
