"""Keeps what tests cache out of the user's own folder."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True, scope="session")
def _cache_of_the_tests(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    os.environ["PRESCREED_CACHE"] = str(tmp_path_factory.mktemp("cache"))
    yield
    del os.environ["PRESCREED_CACHE"]
