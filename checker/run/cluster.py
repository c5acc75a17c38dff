"""Runs the same chunks on a Dask cluster."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from typing import Any

from checker.words.extras import needs

RETRIES = 3
"""A chunk is given up after killing this many workers."""
WAIT = "30s"
"""How long to wait for a scheduler to answer."""


class NoCluster(Exception):
    """A cluster cannot be reached; the message is for the user."""


@contextmanager
def cluster(address: str) -> Iterator[tuple[Executor, int]]:
    """An executor on a cluster, and the number of its workers.

    Args:
        address: of the cluster's scheduler, such as `tcp://scheduler:8786`.

    Returns:
        A context whose value are both; the connection is closed at its end. Each thread of a worker
        counts as one.

    Raises:
        NoCluster: the extra is not installed, or no scheduler answers within WAIT.
    """
    try:
        import distributed
    except ImportError:
        raise NoCluster(f"--cluster {needs('cluster')}") from None
    # The library has no types of its own.
    connect: Any = distributed.Client
    try:
        client = connect(address, timeout=WAIT)
    except (OSError, ValueError) as error:
        raise NoCluster(f"--cluster: no scheduler answers at '{address}': {error}") from None
    try:
        threads = sum(client.nthreads().values())
        yield client.get_executor(pure=False, retries=RETRIES), max(1, threads)
    finally:
        client.close()
