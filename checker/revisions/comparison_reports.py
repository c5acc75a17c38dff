"""Writes a comparison of revisions for people (text, Markdown, HTML) and as JSON."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial

import msgspec
from msgspec import UNSET
from msgspec.structs import replace

from checker import __version__
from checker.outcome.results import SEVERITIES, Measure, Result
from checker.outcome.runs import RuleSet
from checker.outcome.status import Answer
from checker.reports.markdown import plain
from checker.reports.sentences import cited, subject_words
from checker.reports.terminal import WIDEST, Page
from checker.revisions.comparison import (
    STATES,
    VERSION,
    Change,
    Comparison,
    Figure,
    Input,
    Pair,
    Single,
    Unsure,
)
from checker.revisions.fates import FINDINGS
from checker.revisions.since import first_few
from checker.words import how_many
from checker.words.speech import Speech
from checker.words.templates import templates

TITLES = {
    "new": "New",
    "worse": "Worse",
    "asked": "Could be read two ways",
    "better": "Better, but still there",
    "mended": "Mended",
    "gone": "Gone with its subject",
    "judged otherwise": "Judged otherwise: other limits are in force",
    "no longer asked": "No longer asked of the design as it is now",
    "still": "Still there",
}
SETTLED = ("mended", "gone", "judged otherwise", "no longer asked")
"""Words for findings that are no longer findings."""
ALWAYS_COUNTED = ("new", "worse", "better", "mended", "still")
COUNTED = {"asked": "that could be read two ways", "still": "still there"}
"""How the last line counts a state, where not by its name."""
FIGURES_SHOWN = 12
"""At most this many computed values are shown, those that changed most; JSON has all."""


def as_json(comparison: Comparison, rules: RuleSet) -> Iterator[bytes]:
    """The comparison in the shape of `schemas/comparison.schema.json`.

    Args:
        comparison: what to write.
        rules: which rules were in force.

    Returns:
        The text in parts, a pair or design at a time, so that it need not be in memory at once.
    """
    lists: dict[str, Sequence[Pair] | Sequence[Single]] = {
        "pairs": comparison.pairs,
        "only_before": comparison.only_before,
        "only_after": comparison.only_after,
    }
    whole = {
        "comparison": VERSION,
        "tool": {"name": "prescreed", "version": __version__},
        "rules": {"edition": rules.edition, "digest": rules.digest},
        **dict.fromkeys(lists, ()),
        "unreadable": comparison.unreadable,
        "totals": comparison.totals(),
    }
    rest = msgspec.json.format(msgspec.json.encode(whole), indent=1) + b"\n"
    for name, members in lists.items():
        before, empty, rest = rest.partition(b'"%s": []' % name.encode())
        yield before + empty[:-1]
        for number, one in enumerate(members):
            members = msgspec.to_builtins(one)
            members.pop("speech", None)
            text = msgspec.json.format(msgspec.json.encode(members), indent=1)
            yield (b",\n  " if number else b"\n  ") + text.replace(b"\n", b"\n  ")
        yield b"\n ]" if members else b"]"
    yield rest


def as_text(comparison: Comparison, width: int, answer: Answer) -> bytes:
    """The comparison for a terminal; the answer is its first and its last line.

    Args:
        comparison: what to write.
        width: columns of the terminal; below 50 the text is 50 wide.
        answer: the exit status with its reason.

    Returns:
        Text without colours, UTF-8.
    """
    page = _Page(max(50, min(width, WIDEST)), colour=False)
    page.sentence(answer.line)
    page.gap()
    for pair in comparison.pairs:
        _pair_text(page, pair)
    for title, singles in _singles(comparison):
        for single in singles:
            page.sentence(f"{single.name}: {title} ({single.side.path})")
            for result in single.findings:
                page.item(f"{_grade(result)} {subject_words(result.subject)}: {result.message}")
            page.gap()
    for problem in comparison.unreadable:
        page.sentence(f"UNREADABLE {problem.place}: {problem.message}")
    page.sentence(counted(comparison))
    page.sentence(answer.line)
    return page.bytes()


def counted(comparison: Comparison) -> str:
    """How many designs were compared, and what became of their findings, in one sentence.

    Args:
        comparison: what it is about.

    Returns:
        The sentence; states without a finding are left out, but for `ALWAYS_COUNTED`.
    """
    totals = comparison.totals()
    counted_states = [state for state in STATES if totals[state] or state in ALWAYS_COUNTED]
    states = ", ".join(f"{totals[state]} {COUNTED.get(state, state)}" for state in counted_states)
    only = [f"{len(singles)} {title}" for title, singles in _singles(comparison) if singles] + (
        [f"{len(comparison.unreadable)} unreadable"] if comparison.unreadable else []
    )
    more = f"; {', '.join(only)}" if only else ""
    return f"{how_many(len(comparison.pairs), 'design')} compared: {states}{more}."


def _singles(comparison: Comparison) -> list[tuple[str, Sequence[Single]]]:
    return [
        ("only in the new designs", comparison.only_after),
        ("only in the old designs", comparison.only_before),
    ]


def _pair_text(page: _Page, pair: Pair) -> None:
    page.sentence(f"{pair.name}{_revisions(pair)}: {_verdicts(pair)}")
    page.sentence(f"{pair.before.path} → {pair.after.path}")
    if _basis(pair):
        page.sentence(_basis(pair))
    page.gap()
    for title, items in _parts(pair):
        page.line(title)
        for first, *more in items:
            page.item(first)
            for line in more:
                page.inner(line)
        page.gap()


def _parts(pair: Pair) -> Iterator[tuple[str, list[list[str]]]]:
    """Titles, each with its items: what changed, and what became of findings; an item has several
    lines.
    """
    for title, lines in _what_changed(pair):
        yield title, [[line] for line in lines]
    for state in STATES:
        changes = pair.of(state)
        if changes:
            still = state == "still"
            items = [[line] for line in _by_rule(changes)] if still else [*_finding_lines(changes)]
            yield f"{TITLES[state]} ({len(changes)})", items


def _revisions(pair: Pair) -> str:
    before, after = pair.before.revision, pair.after.revision
    return f", revision {before or '?'} → {after or '?'}" if before or after else ""


def _verdicts(pair: Pair) -> str:
    before, after = pair.before.verdict.upper(), pair.after.verdict.upper()
    return f"still {after}" if before == after else f"{before} → {after}"


def _basis(pair: Pair) -> str:
    """By which codes and day the two were judged, where that differs."""
    before, after = (
        f"{', '.join(side.codes) or 'no code'}, {side.judged_by or 'unknown day'}"
        for side in (pair.before, pair.after)
    )
    return "" if before == after else f"judged by {before} → {after}"


def _what_changed(pair: Pair) -> Iterable[tuple[str, list[str]]]:
    """The design's own changes, as lines under titles."""
    joined = [one for one in pair.matched if not (is_one(one.before) and is_one(one.after))]
    if joined:
        yield (
            "Split or merged",
            [f"{_ids(one.before)} → {_ids(one.after)}" for one in joined],
        )
    if pair.unsure:
        yield "Could be read two ways", [_unsure(one) for one in pair.unsure]
    if pair.renamed:
        yield "Renamed", [f"{one.before} → {one.after}" for one in pair.renamed]
    if pair.added:
        yield "Added", [", ".join(pair.added)]
    if pair.removed:
        yield "Removed", [", ".join(pair.removed)]
    if pair.inputs:
        yield "Changed in the design", [*_input_lines(pair.inputs)]
    else:
        yield "Changed in the design", ["no value"]
    shown = partial(_measured, speech=pair.speech)
    figures = [one for one in pair.figures if shown(one.before) != shown(one.after)]
    if figures:
        yield _figures_title(len(figures)), [*_figure_lines(figures, shown)]


def is_one(ids: str | tuple[str, ...]) -> bool:
    """Whether a record is matched with exactly one."""
    return isinstance(ids, str)


def _ids(ids: str | tuple[str, ...]) -> str:
    return ids if isinstance(ids, str) else ", ".join(ids)


def _unsure(one: Unsure) -> str:
    """The question to the sender: which of the old records is which of the new."""
    after = " or ".join(one.after) or "nothing"
    return f"{' or '.join(one.before) or 'nothing'} may have become {after}: please say which"


def _input_lines(inputs: Iterable[Input], own: str = "") -> Iterable[str]:
    """Changes of the design, one line each; equal changes of several records are joined.

    Args:
        inputs: the changes.
        own: the subject that the text is already about, which is then not named.

    Returns:
        For example `loops.L2: length 88 m → 92 m`.
    """
    together: dict[tuple[str, str | None, str | None], list[str]] = defaultdict(list)
    for one in inputs:
        together[one.field, one.before, one.after].append(one.subject)
    for (field, before, after), subjects in together.items():
        where = "" if subjects == [own] else f"{first_few(subjects)}: "
        yield f"{where}{field} {before or 'not given'} → {after or 'not given'}"


def _figures_title(count: int) -> str:
    shown = f", the {FIGURES_SHOWN} that changed most" if count > FIGURES_SHOWN else ""
    return f"Computed values that differ ({count}{shown})"


def _figure_lines(figures: list[Figure], shown: Callable[[Measure], str]) -> Iterable[str]:
    ordered = sorted(figures, key=_part_changed, reverse=True)[:FIGURES_SHOWN]
    for one in ordered:
        name = one.name.replace("_", " ")
        yield f"{one.subject}: {name} {shown(one.before)} → {shown(one.after)}"


def _part_changed(figure: Figure) -> float:
    before, after = figure.before.magnitude, figure.after.magnitude
    if before is None or after is None:
        return float("inf")
    return abs(after - before) / max(abs(before), abs(after))


def _measured(one: Measure, speech: Speech) -> str:
    return "no value" if one.magnitude is None else speech.measure(one.magnitude, one.unit)


def _grade(result: Result) -> str:
    return result.severity if result.kind == "fail" else result.kind


def _finding_lines(changes: list[Change]) -> Iterator[list[str]]:
    """What became of each finding; the open ones of a rule are joined."""
    together: dict[tuple[str, str], list[Change]] = defaultdict(list)
    for number, change in enumerate(changes):
        opened = _grade(_graded(change)) == "open"
        together[change.rule, "" if opened else str(number)].append(change)
    for own in together.values():
        yield _change_lines(own[0]) if len(own) == 1 else _open_lines(own)


def _open_lines(changes: list[Change]) -> list[str]:
    """Open findings of one rule: their subjects, the reason, and which changes caused them."""
    first = changes[0]
    lines = [f"open {first_few([c.subject for c in changes])}: {first.title}"]
    reasons = (_graded(change).missing or "" for change in changes)
    different = dict.fromkeys(reason.rpartition(": ")[2] for reason in reasons if reason)
    before = "Before: " if first.after is UNSET or first.after.kind != "open" else ""
    if different:
        lines.append(f"{before}{'; '.join(different)}.")
    if first.before is not UNSET and first.before.kind in FINDINGS and not before:
        grades = Counter(_grade(c.before) for c in changes if c.before is not UNSET)
        counts = ", ".join(f"{count} {grade}" for grade, count in grades.items())
        lines.append(f"Before: {counts}.")
    inputs = tuple(dict.fromkeys(one for change in changes for one in change.inputs))
    causes = {change.because for change in changes}
    if len(causes) == 1 and first.because:
        lines.append(_because(replace(first, subject="", inputs=inputs)))
    return [*lines, _source(_graded(first))]


def _graded(change: Change) -> Result:
    """The result that a finding is named by: the one before where it is gone."""
    gone = change.state in SETTLED or change.after is UNSET
    shown = change.before if gone and change.before is not UNSET else change.after
    assert shown is not UNSET
    return shown


def _change_lines(change: Change) -> list[str]:
    """One finding: what it is, what it was, and which changes caused it."""
    shown = change.after if change.after is not UNSET else change.before
    assert shown is not UNSET
    lines = [f"{_grade(_graded(change))} {subject_words(change.subject)}: {change.title}"]
    if change.after is not UNSET:
        lines.append(change.after.message)
    else:
        lines.append("It is not in the design any more.")
    if change.before is not UNSET and change.before.message:
        lines.append(f"Before ({_grade(change.before)}): {change.before.message}")
    if change.because:
        lines.append(_because(change))
    lines.append(_source(shown))
    return lines


def _because(change: Change) -> str:
    other = "other limits are in force by its day and codes"
    if change.before is UNSET:
        return "It was not in the design before."
    inputs = [*_input_lines(change.inputs, change.subject)]
    more = f"; and {len(inputs) - 4} more" if len(inputs) > 4 else ""
    design = "the design changed" + (f" ({'; '.join(inputs[:4])}{more})" if inputs else "")
    return {
        "design": f"Because {design}.",
        "limit": f"Not the design: {other}.",
        "both": f"Because {design}, and {other}.",
    }[change.because]


def _source(result: Result) -> str:
    return f"{result.rule}" + ("" if result.source is UNSET else f" · {cited(result.source)}")


def _by_rule(changes: list[Change]) -> Iterable[str]:
    """Unchanged findings, one line for each rule."""
    together: dict[tuple[str, str], list[str]] = defaultdict(list)
    for change in changes:
        assert change.after is not UNSET
        together[change.rule, _grade(change.after)].append(change.subject)
    grades = (*SEVERITIES, "open", "review")
    for (rule, grade), subjects in sorted(
        together.items(), key=lambda one: (grades.index(one[0][1]), one[0][0])
    ):
        yield f"{grade} {rule}: {first_few(subjects)}"


def as_markdown(comparison: Comparison) -> bytes:
    """The comparison for a merge request or an e-mail; text from a design never becomes markup.

    Args:
        comparison: what to write.

    Returns:
        Markdown, UTF-8.
    """
    lines = [f"**{plain(counted(comparison))}**", ""]
    for pair in comparison.pairs:
        lines += [f"## {plain(pair.name)}{plain(_revisions(pair))}: {_verdicts(pair)}", ""]
        lines += [f"{plain(pair.before.path)} → {plain(pair.after.path)}", ""]
        if _basis(pair):
            lines += [plain(_basis(pair)), ""]
        for title, items in _parts(pair):
            lines += [f"### {title}", ""]
            for first, *more in items:
                lines.append(f"- **{plain(first)}**  " if more else f"- {plain(first)}")
                lines += [f"  {plain(line)}  " for line in more]
            lines.append("")
    for title, singles in _singles(comparison):
        for single in singles:
            lines += [f"## {plain(single.name)}: {title}", ""]
            for result in single.findings:
                words = f"{subject_words(result.subject)}: {result.message}"
                lines.append(f"- {_grade(result)} {plain(words)}")
            lines.append("")
    for problem in comparison.unreadable:
        where = problem.place
        lines.append(f"- **Could not be read:** {plain(where)}: {plain(problem.message)}")
    return ("\n".join(lines).rstrip() + "\n").encode()


def as_html(comparison: Comparison) -> bytes:
    """The comparison as a page that needs no network; text from a design never becomes markup.

    Args:
        comparison: what to write.

    Returns:
        The whole page, UTF-8.
    """
    made = templates("checker.revisions.letters", ".")
    pairs = [
        (
            f"{pair.name}{_revisions(pair)}: {_verdicts(pair)}",
            f"{pair.before.path} → {pair.after.path}",
            _basis(pair),
            [*_parts(pair)],
        )
        for pair in comparison.pairs
    ]
    singles = [
        (
            f"{single.name}: {title}",
            [f"{_grade(r)} {subject_words(r.subject)}: {r.message}" for r in single.findings],
        )
        for title, several in _singles(comparison)
        for single in several
    ]
    page = made.get_template("comparison.html").render(
        counted=counted(comparison), pairs=pairs, singles=singles, unreadable=comparison.unreadable
    )
    return page.encode()


class _Page(Page):
    """A page of sentences and lists."""

    def sentence(self, text: str) -> None:
        self.wrapped(text, first="", more="    ")

    def item(self, text: str) -> None:
        self.wrapped(text, first="  - ")

    def inner(self, text: str) -> None:
        self.wrapped(text, first="    ", more="  ")
