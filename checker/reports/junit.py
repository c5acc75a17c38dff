"""Test-report XML as CI servers read it: a suite for each design, a case for each rule and subject.

Only what every reader accepts: `testsuites`, `testsuite` with its `properties` first (the program,
its rules and settings, and what the design is judged by), `testcase`, and in a case at most one
`failure`, `error` or `skipped`, its text in the body. Readers identify a case by `classname` and
`name` and drop a second one with the same names, so both together are unique.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import chain
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape, quoteattr

from msgspec import UNSET

from checker import __version__
from checker.outcome.report import DesignReport
from checker.outcome.results import PASSING, Result
from checker.outcome.runs import Run, Totals
from checker.reading.mistakes import Unreadable
from checker.reports import ReportText, WholeReport
from checker.reports.addresses import Addresses
from checker.reports.sentences import STATES, Amiss, amiss, cited, not_judged
from checker.reports.verdicts import answered
from checker.words import visible

if TYPE_CHECKING:
    from checker.reports import FormatOptions

MOST_CASES = 100_000
"""With more cases than this, passes are left out: some readers refuse 250,000 XML objects, and a
case with its text is two (gitlab-org/gitlab #507482).
"""

_KEPT = "\t\n\r\u00a0"
"""Non-printable characters that XML 1.0 (W3C, fifth edition, production 2, Char) allows and a text
may need.
"""


class Writer(WholeReport):
    """Writes test-report XML."""

    names_from_root = True

    def __init__(self, chosen: FormatOptions) -> None:
        self.addresses = Addresses(chosen)

    def piece(self, design: DesignReport) -> bytes:
        """The suite of one design, a case a line.

        Args:
            design: its report.

        Returns:
            XML, without what the whole run judged by, which a worker does not know.
        """
        where = self.addresses.of(design.path)
        judged = [result for result in design.results if result.kind != "notApplicable"]
        inside = [(result, _inside(result, where)) for result in judged]
        counts = {
            name: sum(one.startswith(f"<{name}") for _, one in inside)
            for name in ("failure", "skipped")
        }
        lines = [
            f'<testsuite name={_attribute(f"{design.name} ({where})")} tests="{len(judged)}" '
            f'failures="{counts["failure"]}" errors="0" skipped="{counts["skipped"]}" time="0">'
        ]
        codes = ", ".join(design.codes) or "no code"
        properties = {"judged-by": design.judged_by, "codes": codes}
        if design.remarks:
            properties["remarks"] = "; ".join(design.remarks)
        lines.append(_properties(properties))
        class_name = _class_name(where)
        lines += [_case(class_name, f"{r.rule} {r.subject}", one) for r, one in inside]
        return "\n".join([*lines, "</testsuite>"]).encode()

    def whole(
        self, run: Run, pieces: Sequence[bytes], totals: Totals, unreadable: list[Unreadable]
    ) -> ReportText:
        """All suites; where there are too many cases for readers, without those that pass.

        Args:
            run: goes into the properties of each suite.
            pieces: the suites; they are read twice, first to count their cases.
            totals: problems with waivers, in a suite of their own.
            unreadable: with what the program failed on, in a suite of their own.

        Returns:
            The XML, part by part; a line for the log where passes are left out.
        """
        log = []
        cases, passes = 0, 0
        for piece in pieces:
            cases += piece.count(b"<testcase ")
            passes += piece.count(_PASSED)
        suites: Iterable[bytes] = pieces
        if cases > MOST_CASES:
            suites = map(_without_passes, pieces)
            log.append(
                f"junit: {passes} cases that pass are left out, since readers refuse more than "
                f"about {MOST_CASES} cases; the suites' counts have them."
            )
        # A worker knows the design, but not by what the whole run judges.
        start = _properties(_provenance(run)).removesuffix("</properties>").encode()
        whole = (
            suite.replace(b"<properties>", start, 1) + b"\n"
            for suite in chain(
                suites,
                _unreadable(not_judged(run, unreadable), self.addresses),
                _amiss(amiss(totals), self.addresses),
            )
        )
        return ReportText(chain([_START], whole, [b"</testsuites>\n"]), tuple(log))


_START = b'<?xml version="1.0" encoding="UTF-8"?>\n<testsuites name="prescreed">\n'
_PASSED = b'time="0"/>'


def _without_passes(suite: bytes) -> bytes:
    return b"\n".join(line for line in suite.split(b"\n") if not line.endswith(_PASSED))


def _provenance(run: Run) -> dict[str, str]:
    return {
        "program": f"prescreed {__version__}",
        "rules-edition": run.edition,
        "rules-digest": run.digest,
        "settings-digest": run.settings_digest,
        "waivers-judged-on": run.today,
        "policy": run.policy.origin if run.policy.digest else "",
        "policy-digest": run.policy.digest,
        "answer": run.answer,
    }


def _properties(named: dict[str, str]) -> str:
    """Properties on one line; unknown ones are left out."""
    each = [
        f"<property name={_attribute(name)} value={_attribute(value)}/>"
        for name, value in named.items()
        if value
    ]
    return f"<properties>{''.join(each)}</properties>"


def _case(class_name: str, name: str, inside: str) -> str:
    start = f'<testcase classname={_attribute(class_name)} name={_attribute(name)} time="0"'
    return f"{start}>{inside}</testcase>" if inside else f"{start}/>"


def _inside(result: Result, where: str) -> str:
    if result.waived:
        waived = result.waived
        return _skipped(f"Waived until {waived.until} by {waived.by}: {waived.reason}", result)
    if result.state in PASSING:
        return _skipped(STATES[result.state].capitalize(), result)
    if result.kind == "open":
        return _skipped("Open", result)
    if result.kind == "review":
        wanted = f" from stage {result.due} on" if result.due else ""
        looked = answered(result)
        return _skipped("Reviewed" if looked else f"For review{wanted}", result)
    if result.kind == "fail":
        source = "" if result.source is UNSET else f"\n{cited(result.source)}"
        state = "" if result.state is UNSET else f"\n{STATES[result.state]}"
        place = f"{where}:{result.line}:{result.column}"
        text = f"{result.message}\n{result.remedy}{source}{state}\n{place}"
        return (
            f"<failure type={_attribute(result.severity)} message={_attribute(result.title)}>"
            f"{_text(text)}</failure>"
        )
    return ""


def _skipped(why: str, result: Result) -> str:
    return f"<skipped message={_attribute(f'{why}: {result.message}')}/>"


def _unreadable(unreadable: list[Unreadable], addresses: Addresses) -> list[bytes]:
    """For each file that cannot be read a suite with one case in error."""
    mistakes: dict[str, list[str]] = {}
    for problem in unreadable:
        said = f"{problem.place}: {problem.message}"
        mistakes.setdefault(problem.path, []).append(said)
    suites = []
    for path, all_said in mistakes.items():
        where = addresses.of(path)
        error = (
            f'<error type="unreadable" message="It cannot be read">{_text(chr(10).join(all_said))}'
        )
        suites.append(
            f'<testsuite name={_attribute(where)} tests="1" failures="0" errors="1" '
            f'skipped="0" time="0">\n{_properties({})}\n'
            f"{_case(_class_name(where), 'readable', error + '</error>')}\n</testsuite>".encode()
        )
    return suites


def _amiss(problems: list[Amiss], addresses: Addresses) -> list[bytes]:
    """A suite for waivers with problems, a skipped case for each: by themselves they fail
    nothing.
    """
    if not problems:
        return []
    cases = [
        _case(
            _class_name(addresses.of(one.path)),
            f"waiver in line {one.line}, {number}",
            f"<skipped message={_attribute(one.message)}/>",
        )
        for number, one in enumerate(problems, 1)
    ]
    head = (
        f'<testsuite name="waivers" tests="{len(cases)}" failures="0" errors="0" '
        f'skipped="{len(cases)}" time="0">'
    )
    return ["\n".join([head, _properties({}), *cases, "</testsuite>"]).encode()]


def _class_name(where: str) -> str:
    """The file as a dotted name: readers take everything before the last dot for a package."""
    return where.replace(".", "·").replace("/", ".")


def _attribute(text: str) -> str:
    return quoteattr(visible(" ".join(text.split())))


def _text(text: str) -> str:
    # One line a case, so that cases can be separated without parsing the XML again.
    return escape(visible(text, _KEPT)).replace("\n", "&#10;").replace("\r", "&#13;")
