"""Runs many sets over one record and keeps what each is worth; on as many workers as it is handed.

Rules:
1. Workers come through the standard `concurrent.futures.Executor`, so that one spread over machines can take its place.
2. The result depends on the sets alone: not on how many workers there are, nor on who is done first.
3. A worker gets the record once for each parcel of sets; parcels are as large as they can be while everybody has work.
"""

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from monitor.model.effects import Effect
from monitor.tuning.vary import Set

R = TypeVar("R")
R_co = TypeVar("R_co", covariant=True)

_PARCELS_EACH = 4
"""Parcels for each worker: enough that a slow one does not keep the others waiting long."""
_LARGEST = 64


class Run(Protocol):
    """Runs the record with one set in force; picklable, without memory of earlier calls."""

    def __call__(self, values: Set, /) -> Sequence[Effect]:
        """Return the effects of the run."""


class Judge(Protocol[R_co]):
    """Makes what is kept of a run out of its effects; picklable."""

    def __call__(self, effects: Sequence[Effect], /) -> R_co:
        """Return what is kept."""


@dataclass(frozen=True, slots=True)
class _Parcel(Generic[R]):
    """Some sets and what to do with them: what a worker is sent."""

    run: Run
    judge: Judge[R]
    sets: tuple[Set, ...]


def work(parcel: "_Parcel[R]") -> list[R]:
    """Do one parcel; module level, so that a worker process finds it."""
    return [parcel.judge(parcel.run(values)) for values in parcel.sets]


def sweep(
    run: Run,
    sets: Sequence[Set],
    judge: Judge[R],
    executor: Executor,
    *,
    workers: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> list[R]:
    """Run every set and return what is kept of each, in the order of the sets.

    Args:
        run: Runs the record with one set.
        sets: The sets.
        judge: Makes what is kept.
        executor: Who does the work.
        workers: How many work side by side; only the size of the parcels depends on it.
        progress: Told (sets done, sets in all) after each parcel.
    """
    large = max(1, min(_LARGEST, len(sets) // (workers * _PARCELS_EACH)))
    parcels = [_Parcel(run, judge, tuple(sets[first : first + large])) for first in range(0, len(sets), large)]
    kept: list[R] = []
    results: Iterator[list[R]] = executor.map(work, parcels)
    for part in results:
        kept += part
        if progress is not None:
            progress(len(kept), len(sets))
    return kept
