"""SARIF 2.1.0 for hosts that show every result as an alert, whatever its kind or suppressions.

Fails only, without those that are waived, or known and no worse. One run, a place for every result,
the gravest first, and no more than such hosts keep; what is left out is counted in the run's log
and in its properties.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from msgspec.json import decode, encode

from checker.outcome.report import DesignReport
from checker.outcome.results import PASSING, SEVERITIES
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import ReportText, WholeReport
from checker.reports.addresses import Addresses
from checker.reports.sarif import (
    LEVELS,
    alert_identities,
    judged_on,
    log_head,
    run_end,
    sarif_result,
)

if TYPE_CHECKING:
    from checker.reports import FormatOptions

MOST = 5000
"""Results of a run that such hosts keep (GitHub documentation, limits of SARIF results)."""


Alert = tuple[int, str, str]
"""A result's rank, its rule, and the result as text."""


class Writer(WholeReport):
    """Writes fails only."""

    names_from_root = True
    needs_words = True

    def __init__(self, chosen: FormatOptions) -> None:
        self.addresses = Addresses(chosen)
        self.page_of = chosen.page_of

    def piece(self, design: DesignReport) -> bytes:
        """The fails of one design that count.

        Args:
            design: its report.

        Returns:
            A line of JSON for each fail that is neither waived nor known: its rank, its rule, and
            the result.
        """
        results = design.results
        fails = [
            one
            for one in results
            if one.kind == "fail" and not one.waived and one.state not in PASSING
        ]
        identities = alert_identities(design, results, fails)
        uri = self.addresses.uri(design.path)
        made = []
        for result in fails:
            one = sarif_result(uri, result, identities)
            one["level"] = LEVELS[result.severity]
            one["properties"] = judged_on(design)
            rank = SEVERITIES.index(result.severity)
            made.append(encode([rank, result.rule, encode(one).decode()]))
        return b"\n".join(made)

    def whole(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> ReportText:
        """The report: gravest first, then in the order of the designs.

        Args:
            run: what was judged by, with the words of the rules, of which those with a result are
                included.
            pieces: the fails of each design, with their ranks.
            totals: problems with waivers, and how many findings are waived.
            unreadable: notifications of the run.

        Returns:
            The log in one part; a line for the log of the call where findings are left out.
        """
        kept: list[Alert] = []
        count = 0
        for piece in pieces:
            own = [decode(line, type=Alert) for line in piece.split(b"\n") if line]
            count += len(own)
            kept += own
            if len(kept) > 2 * MOST:
                kept = _gravest(kept)
        kept, left_out = _gravest(kept), count - MOST
        log = []
        properties = {"leftOut": max(0, left_out), "waived": totals.waived}
        if left_out > 0:
            log.append(
                f"sarif-alerts: {left_out} of {count} findings are left out, the least "
                f"grave; hosts keep {MOST} at most. The other formats have them all."
            )
        used = {rule for _, rule, _ in kept}
        words = tuple(rule for rule in run.words if rule.id in used)
        text = log_head(run, words, properties, self.page_of) + b',"results":[\n'
        text += b",\n".join(one.encode() for _, _, one in kept)
        end = encode(run_end(run, totals, unreadable, self.addresses))
        text += b"\n]," + end[1:] + b"]}\n"
        return ReportText([text], tuple(log))


def _gravest(alerts: list[Alert]) -> list[Alert]:
    """As many as hosts keep."""
    # Sorting is stable: within a severity the order of the designs and their files stays.
    return sorted(alerts, key=lambda alert: alert[0])[:MOST]
