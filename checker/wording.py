"""Words and numbers as a person reads them."""

from __future__ import annotations

from collections.abc import Iterable


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that looks most like this one, if any does."""
    from difflib import get_close_matches

    by_case = {str(k).lower(): str(k) for k in known}
    found = get_close_matches(word.lower(), by_case, n=1, cutoff=0.6)
    return by_case[found[0]] if found else None


def choices(word: str, known: Iterable[str]) -> str:
    """What to write instead of an unknown word: the nearest one, or all there are."""
    near = nearest(word, known)
    if near is not None:
        return f"did you mean '{near}'?"
    names = list(known)
    if not names:
        return "there is none."
    shown = ", ".join(f"'{name}'" for name in names[:12])
    return f"write one of {shown}" + (f" (and {len(names) - 12} more)." if names[12:] else ".")


def number(value: float) -> str:
    """A number with the digits that a site can use: 88, 1.83, 0.02, 12.4, 4190."""
    size = abs(value)
    if size >= 1000:
        text = f"{value:.0f}"
    elif size >= 10:
        text = f"{value:.1f}"
    elif size >= 1:
        text = f"{value:.2f}"
    else:
        text = f"{value:.3g}"
    if "." in text and "e" not in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def measure(value: float, unit: str) -> str:
    """A number with its unit; a plain number where the unit is 1."""
    return number(value) if unit == "1" else f"{number(value)} {unit}"


def apart(value: float, limit: float) -> tuple[str, str]:
    """Two numbers in as many digits as it takes to tell them apart."""
    first, second = number(value), number(limit)
    digits = 4
    while first == second and value != limit and digits < 12:
        digits += 1
        first, second = f"{value:.{digits}g}", f"{limit:.{digits}g}"
    return first, second
