"""What a run judges by, for its reports and its log."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from msgspec.json import encode

from checker.outcome.runs import PolicyHeld, RuleWords, Run
from checker.reading.digests import sha256
from checker.words import how_many, listed

if TYPE_CHECKING:
    from checker.reports import Writer
    from checker.run.opened import Session


def run_of(opened: Session, writers: Iterable[Writer]) -> Run:
    """What the run judges by, for its reports.

    Args:
        opened: the call.
        writers: those of its formats, of which some need the rules in words.

    Returns:
        The run as it is known before the first design.

    Raises:
        Unwritable: git cannot say how the policy was changed.
    """
    shown = opened.options.shown()
    others = {
        group.options.shown()["known"]: group.known.data
        for group in opened.groups
        if group.known is not None
    }
    waivers = opened.waivers
    if waivers:
        shown["waivers"] = [file.path for file in waivers]
    tried = opened.options.get("with")
    if tried:
        shown["with"] = tried
    digest = _digest(shown, *others.values(), *(repr(file).encode() for file in waivers))
    words: tuple[RuleWords, ...] = ()
    if any(getattr(made, "needs_words", False) for made in writers):
        from checker.rulebook.catalogue import in_words

        words = tuple(in_words(rule) for rule in opened.book.rules)
    return Run(
        opened.heads.edition,
        opened.heads.digest,
        shown,
        digest,
        opened.today.isoformat() if waivers else "",
        opened.options.values.category,
        words,
        PolicyHeld(
            opened.policy.name, opened.policy_digest, tuple(opened.notes), tuple(opened.altered)
        ),
    )


def by_what(opened: Session, run: Run) -> list[str]:
    """The same in lines, for --verbose.

    Args:
        opened: the call.
        run: from `run_of`.

    Returns:
        Lines without line ends.
    """
    far = [
        address for group in opened.groups if group.listing for address in group.listing.addresses
    ]
    lines = [
        f"rules {run.edition}, {run.digest}",
        f"policy {run.policy.origin}, {run.policy.digest}",
        *opened.notes,
        f"all designs under {listed(far)} to judge"
        if far
        else f"{how_many(len(opened.files), 'file')} to judge",
    ]
    newest = opened.plan().happened_by
    lines += [f"day of this check {opened.today}"]
    if newest is not None and newest != opened.today:
        lines[-1] += f"; records up to {newest} count as done, because the clock here runs on UTC"
    lines += [f"waivers {file.path}, judged by {run.today}" for file in opened.waivers]
    return lines


def _digest(settings: dict[str, Any], *contents: bytes) -> str:
    """A digest of settings, and of the files that they name."""
    made = sha256(encode(settings))
    for content in contents:
        made.update(b"\0" + content)
    return f"sha256:{made.hexdigest()}"
