"""A line's hash as code-scanning hosts compute it, by which an alert keeps its identity.

The published scheme: starting at the first character of a line, 100 UTF-16 units (spaces and tabs
left out, every line end read as one line feed, one unit of 65535 after the last, then zeros) are
the digits of a number to the base 37, modulo 2^64; then the number of the hash among equal ones in
the file. Edits elsewhere in the file do not change it.
"""

from __future__ import annotations

from collections import Counter
from operator import mul
from struct import Struct

WINDOW = 100
BASE = 37
END = 65535


def line_hashes(text: str, lines: set[int]) -> dict[int, str]:
    """The hashes of lines, by which code-scanning hosts identify an alert.

    Args:
        text: the whole file.
        lines: the lines that are wanted, from 1.

    Returns:
        For each of them that the file has, its hash.
    """
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    plain = plain.translate({ord(" "): None, ord("\t"): None})
    units = plain.encode("utf-16-le", "surrogatepass") + END.to_bytes(2, "little")
    feed = "\n".encode("utf-16-le")
    starts = [0]
    found = units.find(feed)
    while found >= 0:
        if found % 2 == 0:
            starts.append(found + 2)
        found = units.find(feed, found + 1)
    seen: Counter[bytes] = Counter()
    hashes = {}
    for number, start in enumerate(starts, 1):
        # Windows that are equal hash alike, so only those that are asked for are worked out.
        window = units[start : start + 2 * WINDOW].ljust(2 * WINDOW, b"\0")
        seen[window] += 1
        if number in lines:
            hashes[number] = f"{_hash(window):x}:{seen[window]}"
    return hashes


_DIGITS = Struct(f"<{WINDOW}H")
_POWERS = [BASE**power & (1 << 64) - 1 for power in reversed(range(WINDOW))]


def _hash(window: bytes) -> int:
    value: int = sum(map(mul, _DIGITS.unpack(window), _POWERS))
    return value & (1 << 64) - 1
