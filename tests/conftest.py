"""Keeps what tests cache out of the user's own folder, and the collector off what stays anyway."""

from __future__ import annotations

import gc
import os
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

# How quickly examples are made says how busy the machine is, and nothing of the program.
settings.register_profile("tests", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("tests")


# Thousands of tests stay in hand to the end: looking through them for garbage took a tenth.
gc.set_threshold(50_000, 20, 100)


def pytest_collection_finish() -> None:
    gc.collect()
    gc.freeze()


@pytest.fixture(autouse=True, scope="session")
def _cache_of_the_tests(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    os.environ["PRESCREED_CACHE"] = str(tmp_path_factory.mktemp("cache"))
    yield
    del os.environ["PRESCREED_CACHE"]
