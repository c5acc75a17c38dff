"""Code-quality JSON, the subset of the Code Climate format that CI servers show in changes.

Every member is required: readers silently drop an entry that lacks one, or that has the same
fingerprint as another (GitLab documentation, Code Quality report format). The format cannot express
a waived finding, so it is written as `info`, and says so.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from itertools import chain
from typing import TYPE_CHECKING

from msgspec.json import encode

from checker.outcome.report import DesignReport
from checker.outcome.results import Result
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import ReportText, WholeReport, between
from checker.reports.addresses import Addresses
from checker.reports.sentences import STATES, amiss, not_judged

if TYPE_CHECKING:
    from checker.reports import FormatOptions

SEVERITY = {
    "critical": "critical",
    "major": "major",
    "minor": "minor",
    "observation": "info",
}
"""The severity of the format for each of ours."""


class Writer(WholeReport):
    """Writes code-quality JSON."""

    names_from_root = True

    def __init__(self, chosen: FormatOptions) -> None:
        self.addresses = Addresses(chosen)

    def piece(self, design: DesignReport) -> bytes:
        """The fails of one design.

        Args:
            design: its report.

        Returns:
            Entries of the array, waived and known ones too; empty without a fail.
        """
        where = self.addresses.of(design.path)
        return b",\n".join(_entry(where, result) for result in design.results_of("fail"))

    def whole(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> ReportText:
        """One array.

        Args:
            run: adds what the program failed on.
            pieces: the entries of each design; an empty one adds nothing.
            totals: adds problems with waivers, as `info`.
            unreadable: entries of severity `blocker`.

        Returns:
            The JSON, part by part.
        """
        broken = []
        for number, problem in enumerate(not_judged(run, unreadable)):
            where = self.addresses.of(problem.path)
            broken.append(
                _object(
                    problem.message,
                    "unreadable",
                    _digest(where, str(number), problem.message),
                    "blocker",
                    where,
                    problem.line,
                )
            )
        for number, one in enumerate(amiss(totals)):
            where = self.addresses.of(one.path)
            digest = _digest(where, f"waiver {number}", one.message)
            broken.append(_object(one.message, "waiver", digest, "info", where, one.line))
        entries = chain((piece for piece in pieces if piece), broken)
        return ReportText(chain([b"[\n"], between(entries, b",\n"), [b"\n]\n"]))


def _entry(where: str, result: Result) -> bytes:
    said = f"{result.subject}: {result.message} {result.remedy}".rstrip()
    severity = SEVERITY[result.severity]
    if result.waived:
        said = f"Waived until {result.waived.until} ({result.waived.reason}). {said}"
        severity = "info"
    elif result.state:
        said = f"{STATES[result.state].capitalize()}. {said}"
    # The fingerprint of a result knows no file, and two files may hold designs of one name.
    digest = _digest(where, result.fingerprint)
    return _object(said, result.rule, digest, severity, where, result.line)


def _object(
    description: str, rule: str, fingerprint: str, severity: str, path: str, line: int
) -> bytes:
    return encode(
        {
            "description": description,
            "check_name": f"prescreed/{rule}",
            "fingerprint": fingerprint,
            "severity": severity,
            "location": {"path": path, "lines": {"begin": line}},
        }
    )


def _digest(*parts: str) -> str:
    text = "\0".join(parts).encode("utf-8", "surrogatepass")
    return hashlib.blake2b(text, digest_size=16).hexdigest()
