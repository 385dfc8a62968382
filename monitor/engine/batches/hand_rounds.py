"""Rounds by hand in a batch's record: which readings belong to it, when they prove, and how they reach its walk.

1. Of a batch are the readings of the piles where it lay, while it lay there; those of one hour are one round, wherever.
2. They prove while no core probe is in: from the building where none is, else from a `probe out` to the next `probe in`.
   A turning takes probes out for a while only, so it does not count here. Where a round comes more than `lag` after the last
   reading of every probe that is in, these have failed: rounds prove from that reading to the next (`Heap.fail`).
3. A round that is newer than all before goes straight to the walk; what belongs to an earlier one, or to one still running,
   makes the batch be worked out again.
"""

from collections.abc import Iterable, Sequence

from monitor.conditioning import flag_by_hand
from monitor.engine.batches.clashing_values import rivals_of
from monitor.engine.context.batch_deeds import Action, Deed
from monitor.engine.context.batch_runs import BatchRun, has_upper_limit
from monitor.engine.context.core import Core
from monitor.engine.context.places import FOREVER
from monitor.model.flags import ACCEPTED
from monitor.piles import ROUND_MS, RoundPoint, rounds

HandReading = tuple[int, str, int]
"""(time, series, thousandths of a degree Celsius)."""


def readings_by_hand(core: Core, run: BatchRun) -> tuple[list[HandReading], list[int]]:
    """Return the readings by hand that belong to a batch and were not taken back, and where none of several values counts.

    Args:
        core: Its record is looked at.
        run: The batch.

    Returns:
        The readings and those instants (UTC ms), each in order of time.
    """
    if core.history is None or not core.state.hands:
        return [], []
    found: list[HandReading] = []
    unread: list[int] = []
    limits, upper = core.settings.probe_thresholds, has_upper_limit(run)
    for pile, start, end in core.spans_of(run):
        series = [name for name, one in core.state.hands.items() if one.place == pile]
        gone = {(name, time) for name in series for time in core.state.withdrawn.get(name, ())}
        first, last = max(start, run.built), min(end - 1, FOREVER)
        rivals = rivals_of(core, series, first, last, {}) if series else {}
        for reading in core.history.readings(series, first, last) if series else ():
            if (reading.probe, reading.time) in gone:
                continue
            verdict = flag_by_hand(reading, limits)
            milli, accepted = verdict.milli, verdict.flag in ACCEPTED
            rival = rivals.get((reading.time, reading.probe))
            counted, broken = (
                (milli if accepted else None, False)
                if rival is None
                else rival.counted(milli, accepted=accepted, upper=upper)
            )
            if counted is not None:
                found.append((reading.time, reading.probe, counted))
            elif broken:
                unread.append(reading.time)
    return sorted(found), sorted(unread)


def rounds_of(core: Core, run: BatchRun) -> tuple[list[RoundPoint], list[int]]:
    """Return the rounds of a batch, and remember which is the newest; and the instants across which no line is drawn."""
    readings, unread = readings_by_hand(core, run)
    found = rounds(readings)
    run.round_first, run.round_last = (found[-1].first, found[-1].time) if found else (None, None)
    return found, unread


def proving_spans(actions: Iterable[Action], built: int) -> list[tuple[int, int]]:
    """Return when rounds prove: (from, to), the end not included; `FOREVER` where it is open.

    Args:
        actions: What happened to the batch, in order (`rework.actions_of`).
        built: When it was built, UTC ms.
    """
    inside: set[str] = set()
    edges: dict[int, bool] = {built: True}
    for at, _, what, probe in actions:
        if what in (Deed.ENTER, Deed.CAME_IN):
            inside.add(probe)
        elif what in (Deed.LEAVE, Deed.WENT_OUT):
            inside.discard(probe)
        else:
            continue
        edges[max(at, built)] = not inside
    found: list[tuple[int, int]] = []
    for at, alone in sorted(edges.items()):
        if alone and (not found or found[-1][1] != FOREVER):
            found.append((at, FOREVER))
        elif not alone and found and found[-1][1] == FOREVER:
            found[-1] = (found[-1][0], at)
    return found


def with_rounds(actions: list[Action], built: int, points: Sequence[RoundPoint], unread: Sequence[int]) -> list[Action]:
    """Return the actions of a batch with its rounds, and with the instants at which rounds begin and cease to prove.

    Args:
        actions: What happened to the batch, in order.
        built: When it was built, UTC ms.
        points: Its rounds.
        unread: Instants across which no line between rounds is drawn, UTC ms.

    Returns:
        All of them, in order.
    """
    found = list(actions)
    for start, end in proving_spans(actions, built):
        found.append((start, 4, Deed.ROUNDS_BEGIN, ""))
        if end != FOREVER:
            found.append((end, 4, Deed.ROUNDS_END, ""))
    # Before and after a round of that very instant: neither line to it is drawn.
    found += [(at, order, Deed.UNREAD, "") for at in unread for order in (5, 7)]
    return sorted(found + [(point.time, 6, Deed.ROUND, "") for point in points])


def newer_than_all(run: BatchRun, times: Sequence[int]) -> bool:
    """Return whether readings by hand begin a round later than all that the batch had."""
    if run.round_first is None or run.round_last is None:
        return True
    return min(times) > max(run.round_first + ROUND_MS, run.round_last)
