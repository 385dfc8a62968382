"""The reach of a series on each local day, out of the record: accepted readings, calibrated, in numpy."""

from collections.abc import Sequence
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from monitor.conditioning import calibrate
from monitor.engine import Engine
from monitor.forecast import Reach
from monitor.journal import Store
from monitor.model.flags import ACCEPTED
from monitor.model.readings import hand_spot, is_hand
from monitor.model.settings import Probe
from monitor.model.times import HOUR_MS
from monitor.model.units import Quantity, to_milli
from monitor.model.words import Role
from monitor.notices import instant

WHOLE_HOURS = 18
"""A day counts as measured if so many of its hours have a reading (ours)."""

Ints = NDArray[np.int64]


class DaySpan:
    """Local days in a row, with the instants at which they begin."""

    def __init__(self, first: date, last: date, zone: ZoneInfo, now: int) -> None:
        """Take the days from `first` to `last`, which is not over yet at `now` (UTC ms)."""
        self.days = [first + timedelta(days=number) for number in range((last - first).days + 1)]
        starts = [instant(day, 0, zone) for day in (*self.days, last + timedelta(days=1))]
        self.starts: Ints = np.array(starts, np.int64)
        gone = max(0, now - starts[-2]) // HOUR_MS
        self.hours = [WHOLE_HOURS] * (len(self.days) - 1) + [min(WHOLE_HOURS, max(1, WHOLE_HOURS * gone // 24))]
        """How many hours of each day must have a reading."""

    @property
    def start(self) -> int:
        """The first instant, UTC ms."""
        return int(self.starts[0])

    @property
    def end(self) -> int:
        """The last instant, UTC ms."""
        return int(self.starts[-1]) - 1


def place_reach(
    engine: Engine,
    store: Store,
    place: str,
    role: Role,
    span: DaySpan,
    quantity: Quantity = Quantity.TEMPERATURE,
) -> dict[date, Reach]:
    """Return how far a place went on each day, by its probes of one role and by what was read there by hand.

    A day counts as measured whole if each probe that was heard on it or on the day before was heard for most of it; a
    reading by hand only ever tells of itself.

    Args:
        engine: An engine at the end of the record, which knows where each probe was.
        store: The journal.
        place: The place; `ambient` for the air.
        role: The role of the probes that count.
        span: The days.
        quantity: What they measure; by hand people read temperatures alone.
    """
    core = engine.core
    probes = {name: one for name, one in core.all_probes().items() if one.quantity is quantity and one.role is role}
    found: dict[date, Reach] = {}
    heard: dict[date, dict[str, bool]] = {}
    for name, probe in sorted(probes.items()):
        moved = any(one.probe == name for one in core.state.carried)
        if not moved and probe.place != place:
            continue
        for day, reach in _reach(store, name, probe, span, _there(engine, name, place) if moved else None).items():
            found[day] = found[day].joined(reach) if day in found else reach
            heard.setdefault(day, {})[name] = reach.whole
    whole = {day: _whole(heard, day) for day in found}
    for series in store.probes() if quantity is Quantity.TEMPERATURE else ():
        spot = hand_spot(series, (place,)) if is_hand(series) else None
        if spot is not None:
            for day, reach in _reach(store, series, None, span, None).items():
                found[day] = found[day].joined(reach) if day in found else reach
    return {day: Reach(one.low, one.high, whole.get(day, False)) for day, one in found.items()}


def _whole(heard: dict[date, dict[str, bool]], day: date) -> bool:
    today, before = heard.get(day, {}), heard.get(day - timedelta(days=1), {})
    return all(today.get(name, False) for name in {**before, **today})


def _there(engine: Engine, probe: str, place: str) -> list[tuple[int, int]]:
    """Return the spans (from, to; UTC ms, the end excluded) in which a probe that was carried about was at a place."""
    core = engine.core
    edges = sorted({0, *(one.time for one in core.state.carried if one.probe == probe)})
    ends = [*edges[1:], 1 << 62]
    return [(start, end) for start, end in zip(edges, ends, strict=True) if core.place_at(probe, start) == place]


def _reach(
    store: Store, series: str, probe: Probe | None, span: DaySpan, there: Sequence[tuple[int, int]] | None
) -> dict[date, Reach]:
    """Return how far a series went on each day on which it has an accepted reading.

    Args:
        store: The journal.
        series: Its id.
        probe: The probe, for its calibration; None for a series read by hand.
        span: The days.
        there: The spans in which it counts; None: always.
    """
    bad = np.array(
        [kept.time for kept in store.flags(series, span.start, span.end) if kept.flag not in ACCEPTED], np.int64
    )
    found: dict[date, Reach] = {}
    for column in store.columns(series, span.start, span.end):
        good = ~np.isin(column.time, bad)
        if there is not None:
            good &= np.logical_or.reduce(
                [(column.time >= start) & (column.time < end) for start, end in there]
                or [np.zeros(len(good), np.bool_)]
            )
        time, micro = column.time[good], column.micro[good]
        if len(time) == 0:
            continue
        milli = _milli(micro, time, column.unit, probe)
        which = np.searchsorted(span.starts, time, side="right") - 1
        first = np.flatnonzero(np.r_[True, which[1:] != which[:-1]])
        lows, highs = np.minimum.reduceat(milli, first), np.maximum.reduceat(milli, first)
        hours = np.bincount(which[np.flatnonzero(np.r_[True, np.diff(time // HOUR_MS) != 0])], minlength=len(span.days))
        for index, low, high in zip(which[first].tolist(), lows.tolist(), highs.tolist(), strict=True):
            reach = Reach(low, high, int(hours[index]) >= span.hours[index])
            day = span.days[index]
            found[day] = found[day].joined(reach) if day in found else reach
    return found


def _milli(micro: Ints, time: Ints, unit: str, probe: Probe | None) -> Ints:
    """Return values as sent in thousandths of °C or of a percent; those of one unit and calibration together."""
    if probe is None or not probe.calibrations:
        values, inverse = np.unique(micro, return_inverse=True)
        plain = [to_milli(one, unit) for one in values.tolist()]
        return np.array(plain, np.int64)[inverse]
    pairs = zip(micro.tolist(), time.tolist(), strict=True)
    return np.array([calibrate(value, unit, probe, at) or 0 for value, at in pairs], np.int64)
