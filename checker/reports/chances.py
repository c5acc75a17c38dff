"""Chances under the tolerances of a site, for a terminal or as JSON."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from checker.outcome.results import Measure
from checker.reports.sentences import cited
from checker.reports.terminal import INDENT, Page
from checker.reports.text import STYLES
from checker.words import how_many

if TYPE_CHECKING:
    from checker.remedies.chances import Chance, Chances
    from checker.words.speech import Speech

MOST_SHARES = 3
"""Tolerances that are named as deciding a limit, at most."""
LEAST_SHARE = 0.05
"""Share of the variance below which a tolerance is not named."""


def text(found: Sequence[Chances], width: int, colour: bool, *, every: bool = False) -> bytes:
    """The chances of each design for a terminal.

    Args:
        found: the chances, a design each.
        width: columns of the terminal.
        colour: whether it shows colours.
        every: whether to include limits that were kept in every draw.

    Returns:
        The page, as UTF-8.
    """
    out = Page(width, colour)
    for one in found:
        out.line(one.name, style="bold")
        out.wrapped(f"{one.path} · {one.draws} draws, seed {one.seed}", first="", style="dim")
        for words in _verdict(one):
            out.wrapped(words, first="", style="bold")
        out.line("")
        shown = [limit for limit in one.limits if every or limit.chance < 1]
        for limit in shown:
            _limit(out, limit, one.speech)
        if not shown:
            out.line(f"  {_nothing_shown(one)}")
            out.line("")
        for tolerance in one.tolerances:
            spread = (
                one.speech.number(100 * tolerance.share) + " %"
                if tolerance.share == tolerance.share
                else _within(tolerance.field, tolerance.within)
            )
            words = f"{tolerance.title} ± {spread} in 19 of 20 · {cited(tolerance.source)}"
            out.wrapped(words, first=f"{'DRAWN':<{INDENT}}", style="dim")
        if one.not_drawn:
            words = f"not stated, so not drawn: {', '.join(one.not_drawn)}"
            out.wrapped(words, first=f"{'LEFT OUT':<{INDENT}}", style="dim")
        if one.carried.solved:
            off = one.speech.number(float(f"{100 * one.carried.error:.1g}"))
            words = (
                f"floors in section, solved at {one.carried.solved} places and interpolated "
                f"between them: off by {off} % at most, where it was checked"
            )
            out.wrapped(words, first=f"{'BETWEEN':<{INDENT}}", style="dim")
        out.line("")
    return out.bytes()


def _verdict(one: Chances) -> Iterator[str]:
    """What the draws say of the whole design, and of what they say nothing."""
    if not one.judged:
        yield "Nothing could be judged in any draw, so nothing is proven."
        return
    of_what = " that can be judged" if one.open else ""
    yield f"In {_percent(one.sound)} of the draws nothing critical or major{of_what} breaks."
    if one.open:
        yield f"Not judged in every draw, because data are missing: {how_many(one.open, 'limit')}."


def _nothing_shown(one: Chances) -> str:
    if one.limits:
        return "No draw breaks a limit that the draws move."
    return "No limit that can be judged moves with what was drawn."


def _within(field: str, within: float) -> str:
    return f"{within:g} K" if field == "supply" else f"{within * 1000:g} mm"


def _limit(out: Page, limit: Chance, speech: Speech) -> None:
    label = f"{limit.severity.upper():<{INDENT}}"
    out.parts((label, STYLES[limit.severity]), (f"{limit.subject}  ", "bold"), (limit.title, ""))
    error = f" ± {speech.number(100 * limit.error)}" if limit.error else ""
    out.wrapped(
        f"Holds in {_percent(limit.chance, error)} of the draws. As stated "
        f"{_value_text(limit.value, speech)}, "
        f"{_value_text(limit.margin, speech, signed=True)} to the limit; "
        f"to hold in 19 of 20, aim for a margin of {_value_text(limit.aim, speech)}."
    )
    deciding = [
        f"{own.title} {round(100 * min(own.total, 1.0))} %"  # an estimate may lie beyond 1
        for own in limit.shares[:MOST_SHARES]
        if own.total >= LEAST_SHARE
    ]
    if deciding:
        out.wrapped(f"Decided by {', '.join(deciding)} (shares of its variance).")
    out.wrapped(limit.rule, style="dim")
    out.line("")


def _percent(share: float, error: str = "") -> str:
    """A chance, never rounded up: 100 % only where it is certain."""
    text = f"{math.floor(1000 * share + 1e-9) / 10:.1f}".removesuffix(".0")
    return f"{text}{error} %"


def _value_text(value: Measure, speech: Speech, *, signed: bool = False) -> str:
    if value.magnitude is None:
        return "–"
    shown = speech.measure(value.magnitude, value.unit)
    return f"{shown} left" if signed and value.magnitude >= 0 else shown


def plain(one: Chances) -> dict[str, Any]:
    """The chances of a design, for JSON.

    Args:
        one: the chances.

    Returns:
        Members as the format of the command has them, in units of reports; None where a tolerance
        has no half-width in a unit, or no share, and for the chance where nothing was judged.
    """
    return {
        "path": one.path,
        "name": one.name,
        "draws": one.draws,
        "seed": one.seed,
        "sound": one.sound if one.judged else None,
        "judged": one.judged,
        "open": one.open,
        "limits": one.limits,
        "tolerances": [
            {
                "name": own.name,
                "title": own.title,
                "within": own.within if own.within == own.within else None,
                "share": own.share if own.share == own.share else None,
                "source": own.source,
            }
            for own in one.tolerances
        ],
        "held": one.not_drawn,
        "carried": one.carried,
    }
