"""Remedies in words, for reports and commands."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from msgspec import UNSET

from checker.outcome.proposals import Brought, Proposal, Remedy
from checker.outcome.report import DesignReport
from checker.outcome.results import SEVERITIES
from checker.reports.joining import named
from checker.reports.terminal import INDENT, Page

CONFIRM = (
    "Each proposal was checked by judging the changed design again by the same rules. That does "
    "not make it safe: have it confirmed as it says before anything is ordered, laid or set, under "
    "the local code."
)
"""The sentence under every list of proposals."""


class InSentences(NamedTuple):
    """One proposal in sentences: the changes, their effect, what is to be confirmed."""

    number: int
    what: str
    effect: str
    confirm: str


def in_sentences(remedy: Remedy) -> list[InSentences]:
    """The proposals of a finding in sentences.

    Args:
        remedy: what would clear the finding.

    Returns:
        One for each proposal, in the same order; empty where nothing is proposed.
    """
    return [
        InSentences(
            one.number, one.what, _effect(one), f"Have it confirmed: {'; '.join(one.confirm)}."
        )
        for one in remedy.proposals
    ]


def _effect(one: Proposal) -> str:
    parts = [f"then {one.then}"] if one.then else ["then it is cleared"]
    if one.clears:
        parts.append(f"also clears {_listed(one.clears)}")
    parts.append(f"causes {_listed(one.adds)}" if one.adds else "causes no other finding")
    return "; ".join(parts)


KINDS = {"open": "an open result: ", "review": "a review: "}
"""Words for results that are not fails."""


def _listed(some: Sequence[Brought]) -> str:
    """Findings by rule, the gravest first: 'minor water-speed-low (loops.L1, L2)'."""
    groups: dict[tuple[int, str, str], list[str]] = {}
    for own in some:
        rank = len(SEVERITIES) if own.severity is UNSET else SEVERITIES.index(own.severity)
        kind = "" if own.kind is UNSET else KINDS.get(own.kind, f"{own.kind} ")
        groups.setdefault((rank, kind, own.rule), []).append(own.subject)
    return ", ".join(
        f"{kind}{(*SEVERITIES, '')[rank]} {rule} ({named(subjects)})".strip()
        for (rank, kind, rule), subjects in sorted(groups.items())
    )


MOST_IN_LETTERS = 3
"""Proposals of a finding that a letter has, at most."""


def would_do(remedy: Remedy) -> tuple[str, ...]:
    """The first few proposals of a finding, for a letter.

    Args:
        remedy: what would clear the finding.

    Returns:
        At most three paragraphs, one for each proposal; empty where nothing is proposed.
    """
    return tuple(
        f"What would clear it: {one.what}; {one.effect}. {one.confirm}"
        for one in in_sentences(remedy)[:MOST_IN_LETTERS]
    )


def remedies_of(design: DesignReport, rule: str, subjects: Sequence[str]) -> Iterator[Remedy]:
    """The remedies of a rule's joined findings.

    Args:
        design: the report, in which remedies are worked out.
        rule: its id.
        subjects: as reports name them.

    Returns:
        One for each subject that has one, in the same order.
    """
    for subject in subjects:
        found = design.remedies.get((rule, subject))
        if found is not None:
            yield found


def remedy_lines(out: Page, remedy: Remedy) -> None:
    """Write what would clear a finding, line by line on a terminal.

    Args:
        out: the page, to which the lines are added.
        remedy: the proposals, or what it says where there is none.
    """
    for one in in_sentences(remedy):
        out.wrapped(f"{one.what}:", first=f"{one.number:>{INDENT - 2}}  ", style="green")
        out.wrapped(f"{one.effect}.")
        out.wrapped(one.confirm, style="dim")
    if remedy.says:
        out.wrapped(remedy.says, style="yellow")


def plain(remedy: Remedy) -> dict[str, Any]:
    """A remedy, for machine formats.

    Args:
        remedy: what would clear one finding.

    Returns:
        Members as the formats have them; `says` only where there is something to say.
    """
    return {
        "rule": remedy.rule,
        "subject": remedy.subject,
        "severity": remedy.severity,
        "proposals": [
            {
                "number": one.number,
                "changes": one.changes,
                "what": one.what,
                "then": one.then,
                "adds": one.adds,
                "clears": one.clears,
                "confirm": one.confirm,
            }
            for one in remedy.proposals
        ],
        "against": remedy.against,
        **({"says": remedy.says} if remedy.says else {}),
    }
