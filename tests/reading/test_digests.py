"""Digests as Python's own library makes them, wherever they are taken from."""

from __future__ import annotations

import hashlib

from hypothesis import given
from hypothesis import strategies as st

from checker.reading import digests


@given(st.binary(max_size=300))
def test_digests_are_those_of_the_standard_library(data: bytes) -> None:
    assert digests.sha256(data).hexdigest() == hashlib.sha256(data).hexdigest()
    for size in (8, 16):
        own, theirs = digests.blake2b(digest_size=size), hashlib.blake2b(data, digest_size=size)
        own.update(data)
        assert own.digest() == theirs.digest()
