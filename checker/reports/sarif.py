"""SARIF 2.1.0 (OASIS, with errata 01): the whole report, every kind of result.

Clauses: 3.27.9 kind, 3.27.10 level (`none` for everything but fails), 3.27.17 partial fingerprints,
3.27.23 suppressions, 3.27.24 baseline state, 3.14.14 base ids of addresses. `sarif-alerts` is the
profile for hosts that show every result as an alert.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from msgspec import UNSET
from msgspec.json import encode

from checker import __version__
from checker.outcome.proposals import Remedy
from checker.outcome.report import DesignReport
from checker.outcome.results import Result
from checker.outcome.runs import RuleWords, Run, Totals
from checker.reading.addresses import is_remote
from checker.reading.mistakes import Unreadable
from checker.reports.addresses import Addresses
from checker.reports.line_hash import line_hashes
from checker.reports.remedies import in_sentences as worded
from checker.reports.sentences import amiss, not_judged

if TYPE_CHECKING:
    from checker.reports import FormatOptions

SCHEMA = (
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
)
LEVELS = {"critical": "error", "major": "error", "minor": "warning", "observation": "note"}
"""The level of each severity."""
BASELINE = {
    "new": "new",
    "worse": "updated",
    "judged otherwise": "unchanged",
    "unchanged": "unchanged",
}
"""The baseline state for each state of a finding."""
ROOT = "%SRCROOT%"
"""The name by which hosts know the root of the repository."""
LONGEST = 1024
"""Characters of a rule's description that hosts accept (GitHub documentation, SARIF support)."""


class Writer:
    """Writes the whole report."""

    names_from_root = True
    needs_words = True
    separator = b",\n"

    def __init__(self, chosen: FormatOptions) -> None:
        self.addresses = Addresses(chosen)
        self.remedies = chosen.remedies
        self.page_of = chosen.page_of

    def head(self, run: Run) -> bytes:
        """The log up to its first result: the program, the rules, and what they judged by.

        Args:
            run: what the run judges by, with the rules' own words.

        Returns:
            The JSON up to the first result.
        """
        return log_head(run, run.words, {}, self.page_of) + b',"results":[\n'

    def piece(self, design: DesignReport) -> bytes:
        """The results of one design, of every kind.

        Args:
            design: its report; with known findings also those that are gone.

        Returns:
            Results as JSON, with commas between them.
        """
        results = design.results
        uri = self.addresses.uri(design.path)
        identities = alert_identities(design, results, results)
        mended = {(one.rule, one.subject) for one in design.mended or ()}
        made = []
        for result in results:
            one = sarif_result(uri, result, identities)
            one["kind"] = result.kind
            one["level"] = LEVELS[result.severity] if result.kind == "fail" else "none"
            one["locations"][0]["logicalLocations"] = [{"fullyQualifiedName": result.subject}]
            one["suppressions"] = _suppressions(result)
            if design.mended is not None:
                identity = (result.rule, result.subject)
                one["baselineState"] = "updated" if identity in mended else _state(result)
                mended.discard(identity)
            one["properties"] = {**judged_on(design), **_properties(result)}
            if self.remedies and (result.rule, result.subject) in design.remedies:
                fixes = _fixes(uri, design.remedies[result.rule, result.subject])
                if fixes:
                    one["fixes"] = fixes
            made.append(one)
        made += [
            {**_absent(uri, rule, subject), "properties": judged_on(design)}
            for rule, subject in sorted(mended)
        ]
        return b",\n".join(encode(one) for one in made)

    def tail(self, run: Run, totals: Totals, unreadable: list[Unreadable]) -> bytes:
        """What could not be read or judged, and problems with waivers.

        Args:
            run: adds what the program failed on.
            totals: adds problems with waivers.
            unreadable: notifications of the run.

        Returns:
            The JSON from the last result on.
        """
        end = encode(run_end(run, totals, unreadable, self.addresses))
        return b"\n]," + end[1:] + b"]}\n"


def log_head(
    run: Run,
    words: tuple[RuleWords, ...],
    properties: dict[str, Any],
    page_of: Callable[[str], str],
) -> bytes:
    """The log and its one run, up to `results`.

    Args:
        run: what the run judges by.
        words: the rules to include, which results refer to by their ids.
        properties: further properties of the run.
        page_of: returns the address of a rule's page; empty for none.

    Returns:
        JSON that the caller continues.
    """
    provenance: dict[str, Any] = {
        "rules": {"edition": run.edition, "digest": run.digest},
        "settings": run.settings,
        "settingsDigest": run.settings_digest,
        "policy": {"from": run.policy.origin, "digest": run.policy.digest},
        **properties,
    }
    if run.today:
        provenance["today"] = run.today
    one = {
        "tool": {
            "driver": {
                "name": "prescreed",
                "version": __version__,
                "semanticVersion": __version__,
                "rules": [_rule(rule, page_of(rule.id)) for rule in words],
            }
        },
        # One run for each invocation; hosts refuse several of one category.
        "automationDetails": {"id": f"{run.category}/"},
        "columnKind": "unicodeCodePoints",
        "originalUriBaseIds": {ROOT: {"description": {"text": "The root of the repository."}}},
        "properties": provenance,
    }
    log = {"$schema": SCHEMA, "version": "2.1.0"}
    return encode(log)[:-1] + b',"runs":[' + encode(one)[:-1]


def run_end(
    run: Run, totals: Totals, unreadable: list[Unreadable], addresses: Addresses
) -> dict[str, Any]:
    """The last members of a run: what could not be read or judged, and problems with waivers.

    Args:
        run: adds what the program failed on.
        totals: adds problems with waivers.
        unreadable: each becomes a notification.
        addresses: how files are named.

    Returns:
        The members.
    """
    # A design that cannot be read is a notification of the run: were the run called unsuccessful,
    # hosts would drop all its results.
    notifications = [
        {
            "level": "error",
            "message": {"text": problem.message},
            "locations": [_location(addresses.uri(problem.path), problem.line, problem.column)],
        }
        for problem in not_judged(run, unreadable)
    ] + [
        {
            "level": "warning",
            "message": {"text": one.message},
            "locations": [_location(addresses.uri(one.path), one.line, 1)],
        }
        for one in amiss(totals)
    ]
    return {
        "invocations": [{"executionSuccessful": True, "toolExecutionNotifications": notifications}]
    }


def alert_identities(
    design: DesignReport, results: list[Result], wanted: Iterable[Result]
) -> dict[tuple[str, int], str]:
    """The hash by which hosts identify an alert, for each rule and line of the wanted results.

    A host identifies an alert by file, rule and line hash alone. Where one line holds several
    subjects of a rule (JSON without line ends, for example) there is no hash here, and the
    finding's own fingerprint is used.

    Args:
        design: the design's report.
        results: all its results.
        wanted: the results that need an identity.

    Returns:
        Hashes by rule and line; empty where the design's text is not available.
    """
    if not design.content:
        return {}
    text = design.content.decode("utf-8", "replace")
    hashes = line_hashes(text, {result.line for result in wanted})
    alike = Counter((result.rule, result.line) for result in results)
    return {key: hashes[key[1]] for key, count in alike.items() if count == 1 and key[1] in hashes}


def judged_on(design: DesignReport) -> dict[str, Any]:
    """The day whose editions counted, and what a reader must know about it, as properties.

    They are with each result, because a run may have several designs.

    Args:
        design: the design's report.

    Returns:
        The properties; empty where there is nothing to say.
    """
    found: dict[str, Any] = {"judgedBy": design.judged_by} if design.judged_by else {}
    return found | ({"remarks": [*design.remarks]} if design.remarks else {})


def sarif_result(
    uri: str, result: Result, identities: dict[tuple[str, int], str]
) -> dict[str, Any]:
    """What both profiles say about a result; the caller adds its level.

    Args:
        uri: of the design's file.
        result: of any kind.
        identities: what `alert_identities` returned; where it is empty, no line's hash is given.

    Returns:
        The members of the result, of level `none`.
    """
    text = f"{result.subject}: {result.message or result.title}"
    if result.remedy:
        text += f" {result.remedy}"
    fingerprints = {"prescreedFinding/v1": result.fingerprint}
    if identities:
        own = f"{result.fingerprint[:16]}:1"
        fingerprints["primaryLocationLineHash"] = identities.get((result.rule, result.line), own)
    return {
        "ruleId": result.rule,
        "level": "none",
        "message": {"text": text},
        "locations": [_location(uri, result.line, result.column)],
        "partialFingerprints": fingerprints,
    }


def _file(uri: str) -> dict[str, Any]:
    # An absolute address has no base.
    return {"uri": uri} if is_remote(uri) else {"uri": uri, "uriBaseId": ROOT}


def _location(uri: str, line: int, column: int) -> dict[str, Any]:
    return {
        "physicalLocation": {
            "artifactLocation": _file(uri),
            "region": {"startLine": line, "startColumn": column},
        }
    }


def _fixes(uri: str, remedy: Remedy) -> list[dict[str, Any]]:
    """The proposals of a finding as changes to the text of its file."""
    return [
        {
            "description": {"text": f"{one.what}. {sentences.effect}. {sentences.confirm}"},
            "artifactChanges": [
                {
                    "artifactLocation": _file(uri),
                    "replacements": [
                        {
                            "deletedRegion": {
                                "startLine": edit.start[0],
                                "startColumn": edit.start[1],
                                "endLine": edit.end[0],
                                "endColumn": edit.end[1],
                            },
                            "insertedContent": {"text": edit.text},
                        }
                        for edit in one.edits
                    ],
                }
            ],
        }
        for one, sentences in zip(remedy.proposals, worded(remedy), strict=True)
        if one.edits
    ]


def _suppressions(result: Result) -> list[dict[str, Any]]:
    """An empty list says that a result is not suppressed; no list would leave it open."""
    if not result.waived:
        return []
    waived = result.waived
    why = f"{waived.reason} (accepted by {waived.by}, until {waived.until})"
    return [{"kind": "external", "status": "accepted", "justification": why}]


def _state(result: Result) -> str:
    """The baseline state; every result of a run has one, or none has. Results that are not findings
    have "none".
    """
    return "unchanged" if result.state is UNSET else BASELINE[result.state]


def _absent(uri: str, rule: str, subject: str) -> dict[str, Any]:
    return {
        "ruleId": rule,
        "kind": "pass",
        "level": "none",
        "message": {"text": f"{subject}: was a known finding, and is no more."},
        "locations": [_location(uri, 1, 1)],
        "suppressions": [],
        "baselineState": "absent",
    }


def _properties(result: Result) -> dict[str, Any]:
    members = ("severity", "value", "limit", "margin", "source", "missing", "also", "state")
    found = {name: getattr(result, name) for name in members}
    return {"subject": result.subject, **{n: v for n, v in found.items() if v is not UNSET}}


def _rule(rule: RuleWords, page: str) -> dict[str, Any]:
    limits = "\n".join(f"- {limit}" for limit in rule.limits)
    plain = f"{rule.why} {rule.remedy}"
    return {
        "id": rule.id,
        "shortDescription": {"text": _short(rule.title)},
        "fullDescription": {"text": _short(rule.why)},
        **({"helpUri": page} if page else {}),
        "help": {
            "text": plain,
            "markdown": f"**{rule.title}**\n\n{rule.why}\n\n**What to do:** {rule.remedy}\n\n"
            f"**Compared with:**\n\n{limits}\n",
        },
        "defaultConfiguration": {"level": LEVELS[rule.severity]},
        "properties": {"tags": [rule.topic, rule.severity], "severity": rule.severity},
    }


def _short(text: str) -> str:
    return text if len(text) <= LONGEST else text[: LONGEST - 1] + "…"
