"""Runs one place's record with other thresholds, in this process and on workers; no other module does.

Rules: everything that does not depend on thresholds is worked out once, before the work begins, and given to each worker
once: to a process of this computer at its start, to a worker of a cluster over the network. Afterwards only sets of numbers
and scores travel.
"""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

from monitor.app.cluster import Cluster
from monitor.app.tuning_run.tuning_record import Material
from monitor.engine import NOBODY, Audience
from monitor.engine.stretch import Prepared, prepare, run
from monitor.model.effects import Effect
from monitor.tuning import (
    Ground,
    Heard,
    Hint,
    Judged,
    Kept,
    Set,
    Vary,
    Window,
    applied,
    heard,
    judge,
    kept,
)


@dataclass(frozen=True, slots=True)
class PlaceRun:
    """Runs the record of a place with a set of thresholds; picklable. With nobody to read, a run is fast and finds the same."""

    prepared: Prepared
    varies: tuple[Vary, ...]
    until: int
    audience: Audience = NOBODY

    def __call__(self, values: Set, /) -> list[Effect]:
        """Return the effects with a set in force."""
        return run(self.prepared, applied(self.prepared.settings, self.varies, values), self.until, self.audience)


@dataclass(frozen=True, slots=True)
class PlaceJudge:
    """Compares a run with the truth of a place; picklable."""

    ground: Ground
    window: Window
    hints: tuple[Hint, ...]

    def __call__(self, effects: Sequence[Effect], /) -> tuple[Judged, Kept]:
        """Return a run's score, and which hints it kept."""
        said = self.heard(effects)
        return judge(said, self.ground, self.window), kept(said.calls, self.hints)

    def heard(self, effects: Sequence[Effect]) -> Heard:
        """Return a run's messages about the place."""
        return heard(effects, self.ground.place, self.ground.end)


def run_of(material: Material, varies: Sequence[Vary]) -> PlaceRun:
    """Prepare the record of a place for many runs."""
    return PlaceRun(prepare(material.pieces, material.settings), tuple(varies), material.end)


@dataclass(frozen=True, slots=True)
class _Given:
    """Stands for the run that each worker got once, so that it is not sent with every parcel."""

    def __call__(self, values: Set, /) -> Sequence[Effect]:
        return _at_worker[0](values)


_at_worker: list[PlaceRun] = []
"""The run of a worker process; empty in the main one."""


def _take(run_: PlaceRun) -> None:
    _at_worker[:] = [run_]


@dataclass(frozen=True, slots=True)
class Hands:
    """Those who do the work.

    Attributes:
        spread: Does it, as `map` does.
        run: The run that they can call.
        count: How many pieces they do side by side.
    """

    spread: Callable[..., Any]
    run: Callable[[Set], Sequence[Effect]]
    count: int


@contextmanager
def workers(run_: PlaceRun, count: int) -> Iterator[Hands]:
    """Yield worker processes of this computer.

    Args:
        run_: The run.
        count: How many; 1: none, this process does the work.
    """
    if count <= 1:
        yield Hands(map, run_, 1)
        return
    with ProcessPoolExecutor(max_workers=count, initializer=_take, initargs=(run_,)) as pool:
        yield Hands(pool.map, _Given(), count)


@contextmanager
def workers_of(cluster: Cluster, run_: PlaceRun) -> Iterator[Hands]:
    """Yield the workers of a cluster.

    Args:
        cluster: The cluster.
        run_: The run.
    """
    held = cluster.hold(run_)

    def spread(work: Callable[..., Any], parcels: Sequence[Any]) -> Iterator[Any]:
        every = len(parcels)  # Dask asks how many there are, so no endless `repeat`
        return cluster.executor.map(_done, [work] * every, parcels, [held] * every)

    yield Hands(spread, _Given(), cluster.workers)


def _done(work: Callable[..., Any], parcel: Any, run_: PlaceRun) -> Any:
    """Do a parcel at a worker of a cluster, with the run that it holds; several tunings may use one worker."""
    return work(replace(parcel, run=run_))
