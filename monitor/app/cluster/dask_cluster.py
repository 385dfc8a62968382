"""A Dask cluster as a standard executor: connected, its workers compared with this program, its faults turned into sentences.

Rules:
1. Nothing of Dask is imported before a cluster is asked for.
2. No work goes to a worker that runs another Heaptender; the whole cluster is refused, so that the answer is that of this
   computer alone.
3. What many pieces of work share is sent to each worker once (`Cluster.hold`).

Dask takes and runs whatever any client sends, so a scheduler belongs on a network of one's own, or behind TLS
(docs/scale.md).
"""

import asyncio
import logging
from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.util import find_spec
from typing import Any

from monitor.app.cluster.likeness import Likeness, likeness, unlike_words
from monitor.model.errors import MisuseError, UnavailableError

CONNECT_S = 5
NO_DASK = "Work on a cluster needs the extra `fleet`: pip install 'heaptender[fleet]'."
_SHAPE = "an address is that which `dask scheduler` prints, such as tcp://127.0.0.1:8786"


def lacks_cluster() -> str:
    """Return why no cluster can be used here, a sentence; "" if Dask is installed."""
    return "" if find_spec("distributed") is not None else NO_DASK


@dataclass(frozen=True, slots=True)
class Cluster:
    """A cluster that is connected.

    Attributes:
        executor: Does work on the cluster; its `map` is that of `concurrent.futures`.
        workers: How many pieces of work run side by side.
        hold: Sends a value to every worker and returns what stands for it as an argument of work.
    """

    executor: Executor
    workers: int
    hold: Callable[[Any], Any]


@contextmanager
def at_cluster(address: str) -> Iterator[Cluster]:
    """Connect to a cluster, and disconnect at the end; what is still being worked on is dropped then.

    Args:
        address: The address of its scheduler.

    Raises:
        MisuseError: Dask is not installed, the address is none, or a worker runs another Heaptender.
        UnavailableError: The scheduler cannot be reached, has no workers, or was lost meanwhile.
    """
    if said := lacks_cluster():
        raise MisuseError(said)
    from distributed import Client  # noqa: PLC0415 (an extra; half a second that only this asks for)
    from distributed.client import FutureCancelledError  # noqa: PLC0415
    from distributed.comm import CommClosedError  # noqa: PLC0415
    from distributed.scheduler import KilledWorker  # noqa: PLC0415

    logging.getLogger("distributed").setLevel(logging.CRITICAL)  # its remarks are no sentences for people
    count = _workers(address)
    try:
        with Client(address, timeout=CONNECT_S, set_as_default=False) as client:  # type: ignore[no-untyped-call]
            _refuse_unlike(client)
            hold = lambda value: client.scatter(value, broadcast=True, hash=False)  # noqa: E731 (a line says it all)
            yield Cluster(client.get_executor(pure=False), count, hold)
    except KilledWorker as fault:
        raise UnavailableError(
            f"A piece of the work ended one worker of {address} after another, the last of them "
            f"{fault.last_worker.address}; do they have memory enough?"
        ) from fault
    except (FutureCancelledError, CommClosedError) as fault:
        raise UnavailableError(f"The scheduler at {address} was lost before the work was done; start anew.") from fault


def _workers(address: str) -> int:
    """Return how many pieces of work a cluster does side by side.

    A client that fails to connect hangs at its end, so the scheduler is asked without one first.
    """
    try:
        told = asyncio.run(_asked_who(address))
    except (ValueError, TypeError) as fault:
        raise MisuseError(f"--cluster: {address!r} is no address of a scheduler; {_SHAPE}.") from fault
    except OSError as fault:
        raise UnavailableError(f"No scheduler answers at {address} within {CONNECT_S} s; {_SHAPE}.") from fault
    if told.get("type") != "Scheduler":
        raise MisuseError(f"--cluster: {address} is a worker; name the scheduler that it belongs to.")
    count = sum(int(one["nthreads"]) for one in told["workers"].values())
    if not count:
        raise UnavailableError(f"The scheduler at {address} has no workers; start some: `dask worker {address}`.")
    return count


async def _asked_who(address: str) -> dict[str, Any]:
    """Return the self-description of the server at an address, with all of its workers."""
    from distributed.core import rpc  # noqa: PLC0415 (as in `at_cluster`)

    async with rpc(address, timeout=CONNECT_S) as other:  # type: ignore[no-untyped-call]
        told: dict[str, Any] = await asyncio.wait_for(other.identity(n_workers=-1), CONNECT_S)
        return told


def _refuse_unlike(client: Any) -> None:
    """Refuse a cluster of which a worker does not run what this computer runs."""
    here = likeness()
    # Code that travels by its bytes needs the same Python on both sides, so that is asked first, and without code.
    told = client.get_versions(check=False)["workers"]
    pythons = {worker: ".".join(str(said["host"]["python"]).split(".")[:2]) for worker, said in told.items()}
    for worker, python in sorted(pythons.items()):
        if python != here.python:
            raise MisuseError(_refusal(worker, unlike_words(here, here._replace(python=python))))
    for worker, said in sorted(client.run(_asked()).items()):
        why = unlike_words(here, None if said is None else Likeness(*said))
        if why:
            raise MisuseError(_refusal(worker, why))


def _refusal(worker: str, why: str) -> str:
    return f"The worker {worker} {why}; every worker needs what this computer runs, or its answers would differ."


def _asked() -> Callable[[], tuple[str, ...] | None]:
    """Return a function that tells what a worker runs; it travels as a whole, so that it runs without Heaptender too."""

    def runs() -> tuple[str, ...] | None:
        try:
            from monitor.app.cluster.likeness import likeness as there  # noqa: PLC0415 (the worker's own)
        except ImportError:
            return None
        return tuple(there())

    return runs
