"""A batch day by day, for the certificate: how warm it was, how long within the limits, how much of it is proven.

Rules this module keeps:

1. A day is a day of the site's own calendar, from midnight to midnight there; where clocks change it has 23 or 25 hours.
   The first and the last day are cut where the record begins and ends.
2. Least, mean and greatest are those of the governing line, over the proven time alone. The mean is the integral of the
   line divided by the proven time, rounded once, half-even; a day of single proven instants has their plain mean.
3. Durations are whole milliseconds, as the sets have them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from fractions import Fraction

import numpy as np

from monitor.proof.governing import LinePiece, clip, extremes
from monitor.proof.intervals import Intervals, cut, total


@dataclass(frozen=True, slots=True, kw_only=True)
class DayRow:
    """One day of a batch.

    Attributes:
        day: The date at the site, `2026-03-08`; of a week its first and last.
        start, end: What of the day lies within the record, UTC ms.
        min_milli_c, mean_milli_c, max_milli_c: Of the governing line, thousandths of a degree Celsius; None where
            nothing is proven.
        hold_ms: Time within the limits.
        proven_ms: Time proven.
    """

    day: str
    start: int
    end: int
    min_milli_c: int | None
    mean_milli_c: int | None
    max_milli_c: int | None
    hold_ms: int
    proven_ms: int

    @property
    def length_ms(self) -> int:
        """The length of the day within the record, ms."""
        return self.end - self.start

    @property
    def coverage_milli(self) -> int:
        """The proven share of it, thousandths, rounded down so that nothing looks complete that is not."""
        return self.proven_ms * 1000 // self.length_ms if self.length_ms else 0


def day_table(
    pieces: Sequence[LinePiece], hold: Intervals, proven: Intervals, *, start: int, end: int, zone: tzinfo
) -> tuple[DayRow, ...]:
    """Return the days of a record.

    Args:
        pieces: The governing line.
        hold: When the batch was within the limits.
        proven: When its temperature was known.
        start: Where the record begins, UTC ms.
        end: Where it ends.
        zone: The site's time zone.

    Returns:
        One row for each day of the site's calendar, in order.
    """
    rows = []
    first = 0
    for day, begin, finish in local_days(start, end, zone):
        while first < len(pieces) and int(pieces[first].times[-1]) < begin:
            first += 1
        last = first
        while last < len(pieces) and int(pieces[last].times[0]) <= finish:
            last += 1
        here = clip(pieces[first:last], begin, finish)
        bounds = extremes(here)
        rows.append(
            DayRow(
                day=day.isoformat(),
                start=begin,
                end=finish,
                min_milli_c=bounds[0] if bounds else None,
                mean_milli_c=mean_of(pieces[first:last], begin, finish),
                max_milli_c=bounds[1] if bounds else None,
                hold_ms=total(cut(hold, begin, finish)),
                proven_ms=total(cut(proven, begin, finish)),
            )
        )
    return tuple(rows)


WEEK = 7


def by_week_after(table: Sequence[DayRow], after: int | None, pieces: Sequence[LinePiece]) -> tuple[DayRow, ...]:
    """Return the days up to an instant as they are, and those after it by weeks of seven days.

    Args:
        table: The days, in order.
        after: The instant, UTC ms; None leaves all of them as they are.
        pieces: The governing line, for the mean of each week.

    Returns:
        Days and weeks, in order.
    """
    days = [one for one in table if after is None or one.start <= after]
    rest = table[len(days) :]
    weeks = [rest[place : place + WEEK] for place in range(0, len(rest), WEEK)]
    return (*days, *(_week(some, pieces) for some in weeks))


def _week(days: Sequence[DayRow], pieces: Sequence[LinePiece]) -> DayRow:
    start, end = days[0].start, days[-1].end
    return DayRow(
        day=days[0].day if len(days) == 1 else f"{days[0].day} to {days[-1].day}",
        start=start,
        end=end,
        min_milli_c=min((one.min_milli_c for one in days if one.min_milli_c is not None), default=None),
        mean_milli_c=mean_of(pieces, start, end),
        max_milli_c=max((one.max_milli_c for one in days if one.max_milli_c is not None), default=None),
        hold_ms=sum(one.hold_ms for one in days),
        proven_ms=sum(one.proven_ms for one in days),
    )


def local_days(start: int, end: int, zone: tzinfo) -> Iterator[tuple[date, int, int]]:
    """Yield each day of a site's calendar that lies within two instants.

    Args:
        start: UTC ms.
        end: UTC ms.
        zone: The site's time zone.

    Yields:
        (date, start, end) of each day, in order; the ends are UTC ms and cut at the two instants.
    """
    day, begin = datetime.fromtimestamp(start // 1000, zone).date(), start
    while True:
        finish = min(_midnight(day + timedelta(days=1), zone), end)
        # Where a zone leaves a whole day out, that day has no time and no row.
        if finish > begin or start == end:
            yield day, begin, finish
        begin = max(begin, finish)
        if begin >= end:
            return
        day += timedelta(days=1)


def _midnight(day: date, zone: tzinfo) -> int:
    """Return the first instant of a day, UTC ms; where clocks go forward at midnight that is the first that exists."""
    return round(datetime(day.year, day.month, day.day, tzinfo=zone).timestamp()) * 1000


def mean_of(pieces: Sequence[LinePiece], start: int, end: int) -> int | None:
    """Return the mean of a line between two instants.

    Args:
        pieces: The line.
        start: UTC ms.
        end: UTC ms.

    Returns:
        Thousandths of a degree Celsius, rounded half-even once, or None where there is no line. Where the line has single
        instants only, their plain mean.
    """
    twice, lasted, single = Fraction(0), 0, []
    for piece in pieces:
        first, last = max(start, int(piece.times[0])), min(end, int(piece.times[-1]))
        if first < last:
            twice += _twice_integral(piece, first, last)
            lasted += last - first
        elif first == last:
            single.append(_value(piece, first))
    if lasted:
        return round(twice / (2 * lasted))
    return round(sum(single, Fraction(0)) / len(single)) if single else None


def _value(piece: LinePiece, at: int) -> Fraction:
    place = int(np.searchsorted(piece.times, at, "right")) - 1
    value = int(piece.milli_c[place])
    if at == int(piece.times[place]):
        return Fraction(value)
    rise, length = int(piece.milli_c[place + 1]) - value, int(piece.times[place + 1] - piece.times[place])
    return value + Fraction(rise * (at - int(piece.times[place])), length)


def _twice_integral(piece: LinePiece, start: int, end: int) -> Fraction:
    """Return twice the integral of a piece between two instants of it, exactly."""
    begin = int(np.searchsorted(piece.times, start, "right"))
    finish = int(np.searchsorted(piece.times, end, "left"))
    first, last = _value(piece, start), _value(piece, end)
    if begin >= finish:
        return (first + last) * (end - start)
    times, values = piece.times[begin:finish], piece.milli_c[begin:finish]
    pairs, lengths = values[1:] + values[:-1], times[1:] - times[:-1]
    highest = int(np.max(np.abs(pairs), initial=0)) + 1
    whole: int
    if highest * (end - start + 1) >= 2**62:
        whole = sum(pair * length for pair, length in zip(pairs.tolist(), lengths.tolist(), strict=True))
    else:
        whole = int(np.dot(pairs, lengths))
    ahead = (first + int(values[0])) * (int(times[0]) - start)
    return ahead + whole + (int(values[-1]) + last) * (end - int(times[-1]))
