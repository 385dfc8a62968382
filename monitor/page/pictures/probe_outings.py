"""When probes of a place lay outside it: what they read there is the air's or a bench's, and not drawn as the place's.

A turning takes every probe of a heap out, `probe out` takes one; `probe in` puts it back. A core probe of temperature comes
back by itself as the engine sees it (`piles.outing`, the same function); the others come back with the last of those.
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


def outings(look: Look, view: PlaceView, start: int, end: int) -> dict[str, tuple[TimeOutside, ...]]:
    """Return, by probe, the outings that touch [start, end] (UTC ms), in order."""
    state = look.engine.state
    thresholds = None if view.is_bin else state.settings.piles[view.place].thresholds
    settle_ms = thresholds.settle_ms if thresholds is not None else 0
    moves = _moves(look, view, end)
    air = _Air(look)
    found: dict[str, list[TimeOutside]] = {}
    heat = [one for one in view.probes if one.core_heat and thresholds is not None]
    rest = [one for one in view.probes if one not in heat]
    turned = {at for at, _, of in moves if not of and start - FELT_WITHIN_MS <= at}
    felt: dict[tuple[str, int], int] = {
        (one.probe, at): begun for one in heat for at in turned if (begun := _felt(look, one.probe, at)) is not None
    }
    earliest = {at: min(begun for (_, when), begun in felt.items() if when == at) for _, at in felt}
    for one in heat:
        assert thresholds is not None
        found[one.probe] = []
        for out_at, in_at, until in _spans(moves, one.probe, end):
            back = in_at
            if (in_at or until) >= start:
                back = _back(look, one.probe, out_at, in_at or until, thresholds, air) or in_at
            begun = felt.get((one.probe, out_at), out_at)
            found[one.probe].append(TimeOutside(begun, back, None if back is None else back + settle_ms, out_at))
    for one in rest:
        found[one.probe] = [
            TimeOutside(earliest.get(out_at, out_at), back, None if back is None else back + settle_ms, out_at)
            for out_at, in_at, until in _spans(moves, one.probe, end)
            for back in [in_at or _with_the_others(found, out_at, until)]
        ]
    for one in view.probes:
        outing = state.outings.get(one.probe)
        known = found[one.probe]
        if known and known[-1].end is None and (outing is None or outing.out is None):
            # The engine knows that it is in, by what this look does not see; so it lay outside no longer than that.
            returned = outing.returned if outing is not None else None
            if returned is not None and returned >= known[-1].start:
                known[-1] = replace(known[-1], end=returned, fit=returned + settle_ms)
    return {
        probe: tuple(one for one in some if one.start <= end and (one.end is None or one.end >= start))
        for probe, some in found.items()
    }


def _moves(look: Look, view: PlaceView, end: int) -> list[tuple[int, bool, str]]:
    """Return what took probes out of a place or put them in: (when, whether out, probe or "" for all), in order."""
    since = view.built - 1 if view.built is not None else 0
    found: list[tuple[int, bool, str]] = []
    for entry in look.works(view.place, since):
        work = entry.work
        if work.time > end:
            continue
        if declared(work.kind).probe:
            found.append((work.time, work.kind is WorkKind.PROBE_OUT, work.probe))
        elif is_turning(work) and not view.is_bin:
            found.append((work.time, True, ""))
    return found


def _spans(moves: list[tuple[int, bool, str]], probe: str, end: int) -> list[tuple[int, int | None, int]]:
    """Return a probe's outings as people logged them: (out, back or None, until when to look for it)."""
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
    """Return from when on a probe felt a turning before it was logged (the same function that the rule goes by), or None."""
    read = series_of(look, probe, at - FELT_WITHIN_MS, at)
    begun = fall_begins(read.time.tolist(), read.milli.tolist(), at)
    # The reading before the fall is the heap's still.
    return None if begun is None else begun + 1


def _back(look: Look, probe: str, out_at: int, until: int, thresholds: PileThresholds, air: _Air) -> int | None:
    """Return when a core probe was back by itself before `until`, or None."""
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


def _with_the_others(found: dict[str, list[TimeOutside]], out_at: int, until: int) -> int | None:
    """Return when the core probes that went out at the same time were all back, or None."""
    ends = [one.end for some in found.values() for one in some if one.logged == out_at]
    known = [end for end in ends if end is not None and end <= until]
    return max(known) if known and len(known) == len(ends) else None


class _Air:
    """The air's newest reading at an instant."""

    def __init__(self, look: Look) -> None:
        self._look = look
        probes = look.engine.state.settings.probes.items()
        self._probe = next(
            (p for p, one in probes if one.place == AMBIENT and one.quantity is Quantity.TEMPERATURE), ""
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
