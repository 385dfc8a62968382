"""Runs one place's record with other thresholds, here and on worker processes: the one place that knows how.

Rules: what does not depend on thresholds is worked out once, before the workers start, and they have it from the beginning;
what goes to and fro are sets of numbers and scores.
"""

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, ParamSpec, TypeVar

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

P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class PlaceRun:
    """Runs the record of a place with a set of thresholds; picklable. Where nobody reads it is fast, and is worth as much."""

    prepared: Prepared
    varies: tuple[Vary, ...]
    until: int
    audience: Audience = NOBODY

    def __call__(self, values: Set, /) -> list[Effect]:
        """Return the effects with a set in force."""
        return run(self.prepared, applied(self.prepared.settings, self.varies, values), self.until, self.audience)


@dataclass(frozen=True, slots=True)
class PlaceJudge:
    """Holds a run against the truth of a place; picklable."""

    ground: Ground
    window: Window
    hints: tuple[Hint, ...]

    def __call__(self, effects: Sequence[Effect], /) -> tuple[Judged, Kept]:
        """Return what is kept of a run."""
        said = self.heard(effects)
        return judge(said, self.ground, self.window), kept(said.calls, self.hints)

    def heard(self, effects: Sequence[Effect]) -> Heard:
        """Return what a run said of the place."""
        return heard(effects, self.ground.place, self.ground.end)


def run_of(material: Material, varies: Sequence[Vary]) -> PlaceRun:
    """Prepare the record of a place for many runs."""
    return PlaceRun(prepare(material.pieces, material.settings), tuple(varies), material.end)


class _Here(Executor):
    """Does the work at once, on the thread that asks: for one worker, and for tests."""

    def submit(self, fn: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        """Do it now."""
        done: Future[T] = Future()
        try:
            done.set_result(fn(*args, **kwargs))
        except Exception as fault:  # noqa: BLE001 (the future's reader raises it)
            done.set_exception(fault)
        return done

    def map(
        self, fn: Callable[..., T], *iterables: Any, timeout: float | None = None, chunksize: int = 1
    ) -> Iterator[T]:
        """Do each when it is asked for, so that progress is true."""
        del timeout, chunksize
        return map(fn, *iterables)


@dataclass(frozen=True, slots=True)
class _Given:
    """Stands for the run that each worker process was given at its start, so that it is not sent with every parcel."""

    def __call__(self, values: Set, /) -> Sequence[Effect]:
        return _at_worker[0](values)


_at_worker: list[PlaceRun] = []
"""The run of a worker process; empty in the main one."""


def _take(run_: PlaceRun) -> None:
    _at_worker[:] = [run_]


@contextmanager
def workers(run_: PlaceRun, count: int) -> Iterator[tuple[Executor, Callable[[Set], Sequence[Effect]]]]:
    """Hand out an executor, and the run that its workers can call.

    Args:
        run_: What they are to run.
        count: How many worker processes; 1: none, the work is done here.
    """
    if count <= 1:
        yield _Here(), run_
        return
    with ProcessPoolExecutor(max_workers=count, initializer=_take, initargs=(run_,)) as pool:
        yield pool, _Given()


def cores() -> int:
    """Return how many processes can work side by side."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
