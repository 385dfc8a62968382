"""Moves of the dates of a batch's phases with thresholds.

Rules:
1. The date of a phase is when it first became true in a batch (`since`), not when it was noticed.
2. Each threshold is moved alone, over its range, with the others at today's values.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.model.effects import Effect, EffectKind
from monitor.model.words import Phase
from monitor.tuning.vary import Set, Vary

SHOWN = (Phase.HOLDING, Phase.COOLING, Phase.READY)
"""The phases whose dates are shown; a batch begins in heating."""

_STEPS = 5
"""Most values shown of one threshold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchDates:
    """The dates of one batch's phases, UTC ms; None for a phase that did not come in the record."""

    batch: str
    dates: tuple[int | None, ...]


def phase_dates(effects: Iterable[Effect], place: str) -> tuple[BatchDates, ...]:
    """Return the dates of `SHOWN` for each batch that was on a pile, in the order of the batches."""
    found: dict[str, dict[str, int]] = {}
    for effect in effects:
        draft = effect.draft
        if draft.kind is not EffectKind.PHASE or draft.place != place or draft.after is None:
            continue
        dates = found.setdefault(str(draft.values.get("batch", "")), {})
        dates[draft.after] = min(dates.get(draft.after, draft.since), draft.since)
    return tuple(
        BatchDates(batch=batch, dates=tuple(dates.get(phase) for phase in SHOWN)) for batch, dates in found.items()
    )


def one_at_a_time(varies: Sequence[Vary], now: Set) -> list[Set]:
    """Return the sets that move each threshold alone: its range in at most five steps, without today's own value."""
    sets: list[Set] = []
    for axis, vary in enumerate(varies):
        last = len(vary.values) - 1
        steps = sorted({round(step * last / (_STEPS - 1)) for step in range(_STEPS)})
        sets += [(*now[:axis], vary.values[step], *now[axis + 1 :]) for step in steps if vary.values[step] != now[axis]]
    return list(dict.fromkeys(sets))
