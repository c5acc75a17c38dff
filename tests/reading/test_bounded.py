"""Reading never more than a plausible size, and never less than there is."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import IO, cast

import pytest

from checker.reading.bounded import USUAL_FILE, bounded


class Dripping(io.BytesIO):
    """A stream from far away, which gives what has arrived."""

    def read(self, size: int | None = -1, /) -> bytes:
        return super().read(min(size or 0, 1000))


def buffered(whole: bytes) -> io.BufferedReader:
    return io.BufferedReader(cast(io.RawIOBase, Dripping(whole)))


@pytest.mark.parametrize("kind", [io.BytesIO, Dripping, buffered])
@pytest.mark.parametrize("size", [0, 1, 1000, USUAL_FILE, USUAL_FILE + 1, 5 * USUAL_FILE])
@pytest.mark.parametrize("most", [0, 999, USUAL_FILE - 1, USUAL_FILE, 4 * USUAL_FILE, 10**6])
def test_all_is_read_up_to_one_byte_more_than_it_may_have(
    kind: Callable[[bytes], IO[bytes]], size: int, most: int
) -> None:
    whole = bytes(number % 251 for number in range(size))
    assert bounded(kind(whole), most) == whole[: most + 1]
