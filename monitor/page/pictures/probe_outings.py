"""Finds when probes lay outside their place: readings there belong to the air or a bench, and are not drawn as the place's.

A turning takes every probe of a heap out, `probe out` takes one; `probe in` puts it back. A core probe of temperature is
also back when the engine sees it so (`piles.outing`, the same function); the other probes come back with the last of those.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from typing import TYPE_CHECKING

from monitor.model.settings import AMBIENT
from monitor.model.thresholds import PileThresholds
from monitor.model.times import HOUR_MS
from monitor.model.turnings import FELT_WITHIN_MS, fall_begins
from monitor.model.units import Quantity
from monitor.model.work import WorkKind
from monitor.model.work_kinds import declared, is_turning
from monitor.page.pictures.plot_series import series_of
from monitor.page.pictures.time_outside import TimeOutside
from monitor.piles import OutingState, go_out, weigh

if TYPE_CHECKING:
    from monitor.page.places.place_view import PlaceView
    from monitor.page.ports import Look

_AIR_BEFORE_MS = 6 * HOUR_MS

Move = tuple[int, bool, str]
"""Work that takes probes out of a place or puts them in: when (UTC ms), whether out, which probe ("" for all)."""


def outings(look: Look, view: PlaceView, start: int, end: int) -> dict[str, tuple[TimeOutside, ...]]:
    """Return, by probe, the outings that touch a span, in order.

    Args:
        look: The look.
        view: The place.
        start: First instant, UTC ms.
        end: Last instant, UTC ms.
    """
    thresholds = None if view.is_bin else look.engine.state.settings.piles[view.place].thresholds
    settle_ms = thresholds.settle_ms if thresholds is not None else 0
    moves = _moves(look, view, end)
    by_probe: dict[str, list[TimeOutside]] = {}
    felt: dict[tuple[str, int], int] = {}
    if thresholds is not None:
        cores = [probe.probe for probe in view.probes if probe.core_heat]
        felt = _felt_by(look, cores, moves, start)
        by_probe = _of_cores(look, cores, moves, felt, (start, end), thresholds)
    for probe in (probe.probe for probe in view.probes if probe.probe not in by_probe):
        by_probe[probe] = _of_another(probe, by_probe, moves, felt, end, settle_ms)
    found: dict[str, tuple[TimeOutside, ...]] = {}
    for probe, times in by_probe.items():
        joined = _joined(times)
        _end_as_known(look, probe, joined, settle_ms)
        found[probe] = tuple(time for time in joined if time.end is None or time.end >= start)
    return found


def _joined(times: list[TimeOutside]) -> list[TimeOutside]:
    """Return the times outside, one that had not ended when the next began as a single time with that one."""
    joined: list[TimeOutside] = []
    for time in times:
        if joined and joined[-1].end is None:
            joined[-1] = replace(joined[-1], end=time.end, fit=time.fit)
        else:
            joined.append(time)
    return joined


def _felt_by(look: Look, cores: list[str], moves: list[Move], start: int) -> dict[tuple[str, int], int]:
    """Return when (UTC ms) core probes felt a turning before it was logged, by (probe, when it was logged)."""
    turned = {at for at, _, of in moves if not of and start - FELT_WITHIN_MS <= at}
    return {
        (probe, at): begun for probe in cores for at in turned if (begun := _felt(look, probe, at)) is not None
    }  # fmt: skip


def _of_cores(
    look: Look, cores: list[str], moves: list[Move], felt: dict[tuple[str, int], int], span: tuple[int, int],
    thresholds: PileThresholds,
) -> dict[str, list[TimeOutside]]:  # fmt: skip
    """Return when core probes lay outside: from feeling the turning until they read the heap's warmth again."""
    start, end = span
    air = _Air(look)
    by_probe: dict[str, list[TimeOutside]] = {probe: [] for probe in cores}
    for probe, times in by_probe.items():
        for out_at, in_at, until in _spans(moves, probe, end):
            back = in_at
            if (in_at or until) >= start:
                back = _back(look, probe, out_at, in_at or until, thresholds, air) or in_at
            fit = None if back is None else back + thresholds.settle_ms
            times.append(TimeOutside(felt.get((probe, out_at), out_at), back, fit, out_at))
    return by_probe


def _of_another(
    probe: str, by_probe: dict[str, list[TimeOutside]], moves: list[Move], felt: dict[tuple[str, int], int], end: int,
    settle_ms: int,
) -> list[TimeOutside]:  # fmt: skip
    """Return when a probe that cannot tell by itself lay outside: as long as the core probes that went out with it."""
    times = []
    for out_at, in_at, until in _spans(moves, probe, end):
        begun = min((begun for (_, at), begun in felt.items() if at == out_at), default=out_at)
        back = in_at or _with_the_others(by_probe, out_at, until)
        times.append(TimeOutside(begun, back, None if back is None else back + settle_ms, out_at))
    return times


def _end_as_known(look: Look, probe: str, times: list[TimeOutside], settle_ms: int) -> None:
    """End the last time outside if the engine, which has seen more than this look, knows that the probe is in."""
    outing = look.engine.state.outings.get(probe)
    if not times or times[-1].end is not None or outing is None or outing.out is not None:
        return
    if outing.returned is not None and outing.returned >= times[-1].start:
        times[-1] = replace(times[-1], end=outing.returned, fit=outing.returned + settle_ms)


def _moves(look: Look, view: PlaceView, end: int) -> list[Move]:
    """Return the work that took probes out of a place or put them in, in order."""
    since = view.built - 1 if view.built is not None else 0
    moves: list[Move] = []
    for entry in look.works(view.place, since):
        work = entry.work
        if work.time > end:
            continue
        if declared(work.kind).probe:
            moves.append((work.time, work.kind is WorkKind.PROBE_OUT, work.probe))
        elif is_turning(work) and not view.is_bin:
            moves.append((work.time, True, ""))
    return moves


def _spans(moves: list[Move], probe: str, end: int) -> list[tuple[int, int | None, int]]:
    """Return a probe's outings as logged: (out, back or None, until when to look for its return)."""
    spans: list[tuple[int, int | None, int]] = []
    out_at: int | None = None
    for at, out, of in moves:
        if of not in ("", probe):
            continue
        if not out:
            if out_at is not None:
                spans.append((out_at, at, at))
            out_at = None
        else:
            if out_at is not None and not of:
                spans.append((out_at, None, at))
                out_at = at
            out_at = at if out_at is None else out_at
    if out_at is not None:
        spans.append((out_at, None, end))
    return spans


def _felt(look: Look, probe: str, at: int) -> int | None:
    """Return when a probe felt a turning before it was logged, by the rule's own function, or None."""
    read = series_of(look, probe, at - FELT_WITHIN_MS, at)
    begun = fall_begins(read.time.tolist(), read.milli.tolist(), at)
    # The reading before the fall still belongs to the heap.
    return None if begun is None else begun + 1


def _back(look: Look, probe: str, out_at: int, until: int, thresholds: PileThresholds, air: _Air) -> int | None:
    """Return when a core probe was back by its readings before `until`, or None."""
    state = OutingState()
    go_out(state, out_at)
    start, step = out_at, 6 * HOUR_MS
    while start <= until:
        stop = min(start + step - 1, until)
        read = series_of(look, probe, start, stop)
        for time, milli in zip(read.time.tolist(), read.milli.tolist(), strict=True):
            back = weigh(state, time, milli, air.at(time), thresholds).returned_at
            if back is not None:
                return back
        start, step = stop + 1, step * 4
    return None


def _with_the_others(by_probe: dict[str, list[TimeOutside]], out_at: int, until: int) -> int | None:
    """Return when the last of the core probes that went out at the same time was back, or None."""
    ends = [time.end for times in by_probe.values() for time in times if time.logged == out_at]
    back = [end for end in ends if end is not None and end <= until]
    return max(back) if back and len(back) == len(ends) else None


class _Air:
    """The air's newest reading at an instant."""

    def __init__(self, look: Look) -> None:
        self._look = look
        probes = look.engine.state.settings.probes.items()
        self._probe = next(
            (
                p
                for p, configured in probes
                if configured.place == AMBIENT and configured.quantity is Quantity.TEMPERATURE
            ),
            "",
        )
        self._from = self._to = 0
        self._times: list[int] = []
        self._values: list[int] = []

    def at(self, time: int) -> int | None:
        if not self._probe:
            return None
        if not self._from <= time <= self._to:
            self._from, self._to = time, time + _AIR_BEFORE_MS
            read = series_of(self._look, self._probe, time - _AIR_BEFORE_MS, self._to)
            self._times, self._values = read.time.tolist(), read.milli.tolist()
        place = bisect_left(self._times, time)
        return self._values[place - 1] if place else None
