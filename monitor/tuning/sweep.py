"""Runs many sets over one record and keeps a result for each; on as many workers as the caller hands in.

Rules:
1. Workers come through a `map`: the built-in one, or that of a `concurrent.futures.Executor`, which may spread over machines.
2. The result depends on the sets alone: neither on the number of workers nor on who is done first.
3. A worker gets the record once for each parcel of sets; parcels are as large as possible while every worker has some.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from monitor.model.effects import Effect
from monitor.tuning.vary import Set

R = TypeVar("R")
R_co = TypeVar("R_co", covariant=True)

_PARCELS_EACH = 4
"""Parcels for each worker: enough that a slow worker does not keep the others waiting long."""
_LARGEST = 64


class Run(Protocol):
    """Runs the record with one set in force; picklable, without memory of earlier calls."""

    def __call__(self, values: Set, /) -> Sequence[Effect]:
        """Return the effects of the run."""


class Judge(Protocol[R_co]):
    """Turns the effects of a run into the result to keep; picklable."""

    def __call__(self, effects: Sequence[Effect], /) -> R_co:
        """Return the result to keep."""


@dataclass(frozen=True, slots=True)
class _Parcel(Generic[R]):
    """A worker's task: some sets, with the run and the judge to use."""

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
    spread: Callable[..., Iterator[list[R]]],
    *,
    workers: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> list[R]:
    """Run every set.

    Args:
        run: Runs the record with one set.
        sets: The sets.
        judge: Makes the result to keep.
        spread: Does the work, as `map` does.
        workers: Number of workers side by side; only the size of the parcels depends on it.
        progress: Receives (sets done, sets in all) after each parcel.

    Returns:
        The results, in the order of the sets.
    """
    large = max(1, min(_LARGEST, len(sets) // (workers * _PARCELS_EACH)))
    parcels = [_Parcel(run, judge, tuple(sets[first : first + large])) for first in range(0, len(sets), large)]
    kept: list[R] = []
    for part in spread(work, parcels):
        kept += part
        if progress is not None:
            progress(len(kept), len(sets))
    return kept
