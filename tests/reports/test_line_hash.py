"""The hash of a line against the vectors published with the scheme.

Vectors: github/codeql-action, src/fingerprints.test.ts, test 'hash'.
"""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from checker.reports.line_hash import line_hashes

GREETINGS = [
    "e9496ae3ebfced30:1",
    "fb7c023a8b9ccb3f:1",
    "ce8ba1a563dcdaca:1",
    "e20e36e16fcb0cc8:1",
    "b3edc88f2938467e:1",
    "c8e28b0b4002a3a0:1",
    "c129715d7a2bc9a3:1",
]
VECTORS = [
    ("", ["c129715d7a2bc9a3:1"]),
    (
        " a\nb\n  \t\tc\n d",
        ["271789c17abda88f:1", "54703d4cd895b18:1", "180aee12dab6264:1", "a23a3dc5e078b07b:1"],
    ),
    (
        " hello; \t\nworld!!!\n\n\n  \t\tGreetings\n End",
        [
            "8b7cf3e952e7aeb2:1",
            "b1ae1287ec4718d9:1",
            "bff680108adb0fcc:1",
            "c6805c5e1288b612:1",
            "b86d3392aea1be30:1",
            "e6ceba753e1a442:1",
        ],
    ),
    (" hello; \t\nworld!!!\n\n\n  \t\tGreetings\n End\n", GREETINGS),
    (" hello; \t\nworld!!!\r\r\r  \t\tGreetings\r End\r", GREETINGS),
    (" hello; \t\r\nworld!!!\r\n\r\n\r\n  \t\tGreetings\r\n End\r\n", GREETINGS),
    (" hello; \t\nworld!!!\r\n\n\r  \t\tGreetings\r End\r\n", GREETINGS),
    (
        "Lorem ipsum dolor sit amet.\n" * 10,
        [
            *(f"a7f2ff13bc495cf2:{number}" for number in range(1, 7)),
            "a7f2ff1481e87703:1",
            "a9cf91f7bbf1862b:1",
            "55ec222b86bcae53:1",
            "cc97dc7b1d7d8f7b:1",
            "c129715d7a2bc9a3:1",
        ],
    ),
]


def hashes(text: str) -> list[str]:
    lines = len(re.split(r"\r\n|\r|\n", text))
    found = line_hashes(text, set(range(1, lines + 1)))
    return [found[number] for number in range(1, lines + 1)]


@pytest.mark.parametrize(("text", "wanted"), VECTORS)
def test_published_vectors(text: str, wanted: list[str]) -> None:
    assert hashes(text) == wanted


def rolled(text: str) -> list[str]:
    """The scheme as its description puts it, one sign after the other: slow, and plain."""
    units = list(text.encode("utf-16-le", "surrogatepass"))
    signs = [low + 256 * high for low, high in zip(units[::2], units[1::2], strict=True)]
    plain: list[int] = []
    starts: list[int] = []
    after_return, line_start = False, True
    for sign in [*signs, 65535]:
        if sign in (32, 9) or (after_return and sign == 10):
            after_return = False
            continue
        after_return = sign == 13
        if line_start:
            starts.append(len(plain))
        line_start = sign in (10, 13)
        plain.append(10 if sign == 13 else sign)
    plain += [0] * 100
    counts: dict[int, int] = {}
    found = []
    for start in starts:
        value = 0
        for sign in plain[start : start + 100]:
            value = (value * 37 + sign) % 2**64
        counts[value] = counts.get(value, 0) + 1
        found.append(f"{value:x}:{counts[value]}")
    return found


@given(st.text(st.sampled_from("ab \t\n\rä😀Ċ"), max_size=300))
def test_any_text_hashes_as_the_description_says(text: str) -> None:
    known = line_hashes(text, set(range(1, 1000)))
    slow = rolled(text)
    assert [known[number] for number in range(1, len(slow) + 1)] == slow
