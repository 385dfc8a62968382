"""The reach of bins on each day of some months, out of the record; months are kept, since little changes one that is over."""

import threading
from dataclasses import dataclass
from datetime import date

from monitor.app.evening.daily_reach import DaySpan, place_reach
from monitor.app.yard.yard_view import YardView
from monitor.model.events import EventKind
from monitor.model.times import MINUTE_MS
from monitor.model.units import Quantity
from monitor.model.words import Role
from monitor.reports import DayReach, Span, beside

_READ_ANEW = (EventKind.CORRECTION, EventKind.SETTINGS, EventKind.SEALED)
"""Kinds of events after which a probe may have another calibration, or a reading be taken back."""


_KEPT_MS = 10 * MINUTE_MS
"""The greatest age of the days of the present month."""


@dataclass(frozen=True, slots=True)
class _Kept:
    """The days of a month as they were read: when (UTC ms), at which end of the record, and where probes were by then."""

    until: int
    read: int
    marks: tuple[object, ...]
    days: DayReach


class BinDays:
    """Tells how far bins went, and keeps the months that are over; any thread may use it."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: dict[tuple[str, Quantity, date], _Kept] = {}

    def of(self, view: YardView, place: str, quantity: Quantity, span: Span, now: int) -> DayReach:
        """Return the lowest and the highest reading of each day, of those days that have any.

        Args:
            view: The record.
            place: The bin.
            quantity: Temperature or moisture.
            span: The months, from the first day of one to the last of another.
            now: The present, UTC ms.
        """
        found: dict[date, tuple[int, int]] = {}
        months = (span.last.year - span.first.year) * 12 + span.last.month - span.first.month + 1
        for number in range(months):
            month = beside(span, number)
            if month.start > now:
                break
            found.update(self._month(view, place, quantity, month, now))
        return found

    def _month(self, view: YardView, place: str, quantity: Quantity, month: Span, now: int) -> DayReach:
        key = (place, quantity, month.first)
        carried = tuple((one.time, one.probe, one.place) for one in view.engine.state.carried)
        marks = (*(view.store.last_of(kind) for kind in _READ_ANEW), carried)
        with self._lock:
            kept = self._kept.get(key)
        if kept is not None and kept.marks == marks:
            lately = month.end > now and kept.read <= now < kept.read + _KEPT_MS
            if lately or not view.store.arrived_after(kept.until, month.start, month.end - 1):
                return kept.days
        until = view.store.mark().latest() or 0
        days = DaySpan(month.first, month.last, month.zone, min(now, month.end))
        reach = place_reach(view.engine, view.store, place, Role.BEDDING, days, quantity)
        read = {day: (one.low, one.high) for day, one in reach.items()}
        with self._lock:
            self._kept[key] = _Kept(until, now, marks, read)
        return read
