"""Spreads work that can be done side by side: over this process, processes of this computer, or the workers of a cluster."""

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any

from monitor.app.cluster.dask_cluster import at_cluster


@contextmanager
def spread_over(address: str | None, workers: int) -> Iterator[Callable[..., Iterator[Any]]]:
    """Yield the `map` that does the work; it takes lists, and gives the results in their order.

    Args:
        address: The address of a Dask scheduler, or None for this computer.
        workers: Processes of this computer; 1: this one.

    Raises:
        MisuseError, UnavailableError: As `at_cluster`.
    """
    if address is not None:
        with at_cluster(address) as cluster:
            yield cluster.executor.map
    elif workers <= 1:
        yield map
    else:
        with ProcessPoolExecutor(max_workers=workers) as pool:
            yield pool.map


def cores() -> int:
    """Return how many processes can work side by side."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
