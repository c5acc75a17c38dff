"""Recognises what a file is that cannot be read as a design.

A file in which anything looks like a design is never taken for something else.
"""

from __future__ import annotations

import re

from msgspec import DecodeError
from msgspec.json import decode

SECTIONS = frozenset(
    ("project", "plant", "pipes", "floors", "rooms", "headers", "loops", "pressure_tests")
)
"""Sections by which a design is recognised that lacks its first key, or whose text is broken."""
_KEY = rb"""(?m)^[ \t]*["']?([A-Za-z_$][\w-]*)["']?[ \t]*:"""
_TOP = rb"""(?m)^["']?([A-Za-z_$][\w-]*)["']?[ \t]*:"""
_WITHIN = rb"""["']?([A-Za-z_$][\w-]*)["']?[ \t]*:"""
"""Keys of YAML at the beginning of a line, those without an indent, and keys within brackets."""
_BEGINNING = rb"\A(?:\s+|#[^\n]*|%[^\n]*|---(?=\s))+"
"""What may come before the first key: remarks, directives, the sign that a document begins."""
_OWN = (
    ({"report", "tool"}, "own report"),
    ({"known", "findings"}, "known findings"),
    ({"runs", "version"}, "own report"),
    ({"comparison"}, "own report"),
    ({"register", "submissions"}, "register"),
    ({"overview", "tool"}, "own report"),
    ({"audit"}, "own report"),
    ({"quantities"}, "own report"),
    ({"hand_over"}, "own report"),
    ({"waivers"}, "waivers"),
    ({"readings"}, "readings"),
    ({"drawing", "layers"}, "a map of a drawing"),
    ({"answers", "seen"}, "answers"),
    ({"answers"}, "answers"),
    ({"limits", "title"}, "rules"),
    ({"limits"}, "rules"),
    ({"sources"}, "rules"),
)
"""Files of this program that are not designs, by their top-level keys."""


def what_else(data: bytes) -> str:
    """What a file is that could not be read as a design.

    A design that lacks its first key, or that cannot be read, must not be taken for something else:
    a file is only something else where nothing in it looks like a section of a design.

    Args:
        data: the file's bytes.

    Returns:
        In words, as reports say why it was passed over; empty where it may well be a design.
    """
    text = data.removeprefix(b"\xef\xbb\xbf").strip()
    if not text or b"\0" in text or not _is_text(text):
        return ""
    text = re.sub(_BEGINNING, b"", text)
    top = _top_keys(text)
    if top >= {"map", "sheets"}:
        return "a map of a sheet"  # which may state parts of a design
    if "design" in top:
        return ""
    for keys, words in _OWN:
        if keys <= top:
            return words
    if b'"prescreed/' in text and text.startswith(b"["):
        return "own report"
    pattern = _WITHIN if text[:1] in b"{[" else _KEY
    found = {key.decode() for key in re.findall(pattern, text)}
    return "" if found & (SECTIONS | {"design"}) else "no design"


def _is_text(data: bytes) -> bool:
    try:
        data.decode()
    except UnicodeDecodeError:
        return False
    return True


def _top_keys(text: bytes) -> set[str]:
    if text[:1] not in b"{[":
        return {key.decode() for key in re.findall(_TOP, text)}
    try:
        found = decode(text)
    except (DecodeError, UnicodeDecodeError, RecursionError):
        return set()
    return set(found) if isinstance(found, dict) else set()
