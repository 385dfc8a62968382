"""Foresees the losses of a correction: it is fed to a copy of the engine, and the heaps are compared before and after.

Nothing of the rehearsal is kept. It takes as long as the correction itself, which works out the record of the heap again.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from monitor.engine import BatchRun, Engine, progress_now
from monitor.journal import Store
from monitor.model.events import Event, EventKind
from monitor.model.words import RuleState
from monitor.notices import Progress, clean


@dataclass(frozen=True, slots=True)
class _Heap:
    """A heap under its rule: its place, "" if it lies nowhere, and what counts so far."""

    place: str
    days: int
    turnings: int
    met: bool


def losses(engine: Engine, store: Store, payload: Mapping[str, Any], now: int) -> list[str]:
    """Return the losses of a correction, each a sentence: days or turnings of a rule, a rule that was met, a whole heap.

    Args:
        engine: The engine, brought up to date; it is left as it is.
        store: The record.
        payload: The correction.
        now: Now, UTC ms.
    """
    copy = Engine.restore(engine.snapshot())
    copy.feed(Event(max(now, engine.last + 1), EventKind.CORRECTION, dict(payload)), store)
    before, after = _heaps(engine), _heaps(copy)
    settings = engine.state.settings
    return [
        sentence
        for batch, old in before.items()
        for sentence in _lost(clean(settings.place_name(old.place), 40), old, after.get(batch))
        if old.place
    ]


def _lost(name: str, old: _Heap, new: _Heap | None) -> Iterator[str]:
    """Yield the losses of a heap.

    Args:
        name: The name of its place.
        old: The heap before the correction.
        new: The heap after it; None: it never was.
    """
    if new is None:
        counts = [_counted(what, n) for what, n in (("day", old.days), ("turning", old.turnings)) if n]
        if counts or old.met:
            yield f"The heap of {name} would never have been there, and its {' and '.join(counts) or 'rule'} would be lost."
        return
    if old.met and not new.met:
        yield f"{name} would no longer have met its rule."
    if new.days < old.days:
        yield f"{name} would have {_counted('day', new.days)} of its rule instead of {old.days}."
    if new.turnings < old.turnings:
        yield f"{name} would have {_counted('turning', new.turnings)} that count instead of {old.turnings}."


def _counted(what: str, count: int) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _heaps(engine: Engine) -> dict[str, _Heap]:
    lies = {batch: place for place, batch in engine.state.batches.lying.items()}
    return {batch: _heap(run, lies.get(batch, "")) for batch, run in engine.state.runs.items()}


def _heap(run: BatchRun, place: str) -> _Heap:
    progress = progress_now(run)
    counts = Progress() if progress is None else Progress.of(progress.values)
    met = progress is not None and progress.state is RuleState.MET
    return _Heap(place, counts.days or 0, counts.turnings or 0, met)
