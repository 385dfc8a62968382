"""Judges days: blocks of 24 h from a hold instant on.

The rules are those of the design's rule evaluation; where its words leave something open, this module decides:

1. A day is decided when its 24 h are over; an instant at its very end belongs to the next. Too much of it unproven: it
   neither counts nor breaks, and the next begins at once. Else an instant in it that was proven, outside recovery and not
   in the hold fails it, and the next begins with the first hold instant after the last such one. Else less than 12 h of
   hold (the rest was recovery): as with too much unproven. Else it could count, and the next begins at once; it does as long
   as not too much of the days that count was recovery (`recovery_share`).
2. Too much is more than 2 h outside recovery, or any part of an unproven stretch that lasts longer than 2 h or than the
   longest gap across which a line is drawn, wherever its other part lies. So leaving out readings never helps: a stretch
   without them is always too long. A day that ends within an unproven stretch is decided when that is over.
3. Where days must follow one another, what cannot count ends the series at once: the first instant that fails a day, and
   unproven time as soon as it is too much (the doubt then gives it back: `evaluate`); too little hold as the day is over.
4. The span in which turnings count begins with the first day that could count, and ends with the last hold instant.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from monitor.proof.counting import DayKind, Numbers, counted_turnings, days_chosen, with_turnings
from monitor.proof.intervals import Measure, as_spans, contains, cut, difference, next_start, union
from monitor.proof.judging.durations import enough_turnings
from monitor.proof.judging.judged_record import Day, Judged, Record
from monitor.proof.rules import Days


@dataclass(slots=True)
class _Series:
    """Days that could count, where they must follow one another without one between them that could not.

    Attributes:
        days: (start, when that is known, how much was recovery) of each.
        open_at: Start of the day that is not decided at the end of the record, or None.
        ended: When it was over, UTC ms, or None while it goes on.
    """

    days: list[tuple[int, int, int]] = field(default_factory=list)
    open_at: int | None = None
    ended: int | None = None

    def chosen(self, part: Days, first: int | None = None) -> list[int]:
        """Return the places of the days that count, of all or of the first so many."""
        return days_chosen(part, [recovery_ms for _, _, recovery_ms in self.days[:first]])

    def fulfilled(self, part: Days) -> int | None:
        """Return when as many days counted as are asked for, or None."""
        for number in range(part.count, len(self.days) + 1):
            if len(self.chosen(part, number)) >= part.count:
                return self.days[number - 1][1]
        return None


def judge_days(part: Days, record: Record) -> Judged:
    """Return the result of days."""
    marks = _Marks(part, record)
    blocks = tuple(_blocks(part, record, marks))
    met_at = None
    series = _Series()
    passed, met_by = set[int](), None
    for series in _series(part, blocks):
        chosen = series.chosen(part)
        passed |= {day[0] for place, day in enumerate(series.days) if place not in chosen}
        if met_at is None and (fulfilled := series.fulfilled(part)) is not None:
            turned = _days_turnings(part, record, series)
            met_at = enough_turnings(part.turnings, turned, record.hold, fulfilled)
            if met_at is not None and (series.ended is None or met_at <= series.ended):
                met_by = series
            else:
                met_at = None
    series = series if met_by is None else met_by
    turned = _days_turnings(part, record, series)
    counts: Numbers = {"days": len(series.chosen(part)), "days_needed": part.count}
    return Judged(
        met_at=met_at,
        values=with_turnings(part, counts, len(turned), len(record.logged)),
        turnings=len(turned),
        span=_days_span(series),
        days=tuple(_passed_over(block.day, passed) for block in blocks),
    )


def _passed_over(day: Day, passed: set[int]) -> Day:
    """Return a day as it counts: one that was passed over, since too much was recovery in all, does not."""
    return replace(day, kind=DayKind.RECOVERY) if day.start in passed else day


def _days_span(series: _Series) -> int | None:
    return series.days[0][0] if series.days else series.open_at


def _days_turnings(part: Days, record: Record, series: _Series) -> list[int]:
    span = _days_span(series)
    if span is None or not record.hold:
        return []
    return counted_turnings(record.turnings, part.turnings, span, record.hold[-1][1])


@dataclass(frozen=True, slots=True)
class _Block:
    """A day, when it is known to count (if it does), and when it was first known that it cannot (if it cannot)."""

    day: Day
    known_at: int | None = None
    lost_at: int | None = None


def _series(part: Days, blocks: tuple[_Block, ...]) -> Iterator[_Series]:
    """Go through the days; yield each series that ended, and at last the one that is going on."""
    series = _Series()
    for block in blocks:
        if block.known_at is not None:
            recovery_ms = part.day_ms - block.day.hold_ms - block.day.unproven_ms
            series.days.append((block.day.start, block.known_at, recovery_ms))
        elif block.lost_at is not None and part.consecutive:
            series.ended = block.lost_at
            yield series
            series = _Series()
        if block.day.kind is DayKind.OPEN and block.day.start is not None and series.open_at is None:
            series.open_at = block.day.start
    yield series


class _Marks:
    """The times of a record that fail days, and its unproven times outside recovery."""

    def __init__(self, part: Days, record: Record) -> None:
        recovery = record.recoveries(part.recovery_ms, part.onset_ms)
        # An instant proven at the record's very end has no time yet in which to matter.
        bad = difference(difference(record.proven, record.hold), recovery)
        self.bad = bad[:-1] if bad and bad[-1] == (record.end, record.end) else bad
        start = record.hold[0][0] if record.hold else record.end
        known = union(record.proven, recovery)
        self._known = known
        # A single known instant parts two stretches.
        edges = [start, *(at for pair in cut(known, start, record.end) for at in pair), record.end]
        self.dark = as_spans(
            [(begin, finish) for begin, finish in zip(edges[::2], edges[1::2], strict=True) if begin < finish]
        )
        self._measure = Measure(self.dark)
        self._stretch_ms = min(part.dark_ms, record.gap_ms)
        self._most_ms = part.dark_ms

    def dark_between(self, start: int, end: int) -> int:
        """Return how much is unproven outside recovery, ms."""
        return self._measure.between(start, end)

    def too_dark_at(self, start: int, end: int) -> int | None:
        """Return when it is first known that a day has too much unproven time (rule 2), or None if it has not."""
        found: list[int] = []
        place, behind = (
            int(self.dark.ends.searchsorted(start, "right")),
            int(self.dark.starts.searchsorted(end, "left")),
        )
        spent = 0
        for first, last in self.dark[place:behind]:
            if last - first > self._stretch_ms:
                found.append(max(start, first + self._stretch_ms))
            inside = min(last, end) - max(first, start)
            if spent + inside > self._most_ms:
                found.append(max(first, start) + self._most_ms - spent)
            spent += inside
            if found:
                return min(found)
        return None

    def lit_after(self, at: int) -> int | None:
        """Return when the unproven stretch that an instant lies in is over (the instant itself without any), or None."""
        place = int(self.dark.ends.searchsorted(at, "right"))
        pair = self.dark[place] if place < len(self.dark) else None
        over = at if pair is None or pair[0] >= at else pair[1]
        # A stretch that reaches the end of the record is over only if the temperature is known there.
        return over if contains(self._known, over) else None

    def wrong(self, start: int, end: int) -> tuple[tuple[int, int], tuple[int, int]] | None:
        """Return the first and the last bad interval of a day; the day's start belongs to it, its end does not."""
        place = int(self.bad.ends.searchsorted(start, "left"))
        if place < len(self.bad) and self.bad[place][0] < self.bad[place][1] == start:
            place += 1
        last = int(self.bad.starts.searchsorted(end, "left")) - 1
        return (self.bad[place], self.bad[last]) if place <= last else None


def _blocks(part: Days, record: Record, marks: _Marks) -> Iterator[_Block]:
    """Walk through the record a day at a time."""
    held = Measure(record.hold)
    at = record.hold[0][0] if record.hold else None
    while at is not None:
        over = at + part.day_ms
        reach = min(over, record.end)
        wrong = marks.wrong(at, reach)
        dark_at = marks.too_dark_at(at, reach)
        lost_at = min(
            (one for one in (dark_at, max(wrong[0][0], at) if wrong else None) if one is not None), default=None
        )
        known_at, following = None, over
        if over > record.end:
            kind = DayKind.OPEN
        elif dark_at is not None:
            kind = DayKind.UNPROVEN
        elif wrong is not None:
            kind = DayKind.FAILED
        elif held.between(at, over) < part.least_ms:
            kind, lost_at = DayKind.SHORT, over - 1  # at its very end the series is over already
        elif (known_at := marks.lit_after(over)) is None:
            kind = DayKind.OPEN
        else:
            kind = DayKind.COUNTED
        yield _Block(
            Day(
                start=at,
                end=reach,
                kind=kind,
                failed_from=max(wrong[0][0], at) if wrong else None,
                failed_until=min(wrong[1][1], reach) if wrong else None,
                hold_ms=held.between(at, reach),
                unproven_ms=marks.dark_between(at, reach),
            ),
            known_at,
            lost_at,
        )
        if over > record.end:
            return
        if kind is DayKind.FAILED:
            assert wrong is not None
            later = next_start(record.hold, min(wrong[1][1], over))
            if later is None:
                return
            following = later
        at = following
