"""Ticks of a time axis at round local times, from minutes to decades, right across a change of the clocks.

Rules this module keeps:
1. A tick stands at a real instant. A local time that is skipped when clocks go forward has no tick, except midnight,
   whose tick then is the first instant of its day; a time that comes twice has two, each naming its zone.
2. Two rows of words: the tick's own (time, day, month or year), and below it, at each change, the day or year above those.

Source: PEP 495 (the `fold` of repeated and missing local times).
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from monitor.drawing.lettering import width_of
from monitor.model.times import DAY_MS, MINUTE_MS

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_FIRST_MS = -62_132_832_000_000  # 0001-02-02, so that any zone's local dates about it exist
_LAST_MS = 253_401_955_200_000  # 9999-12-29
_MINUTES = (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720)
_DAYS = (1, 2, 7, 14)
_MONTH_STEPS = (1, 2, 3, 6)
_YEAR_STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)
_MONTH_MS = 30 * DAY_MS
_YEAR_MS = 365 * DAY_MS


@dataclass(frozen=True, slots=True)
class Tick:
    """One tick of a time axis.

    Attributes:
        at: Its instant, UTC ms.
        words: Its own words.
        belongs: The day or year it belongs to; "" if that is the same as before.
        until: The end of what its words name, UTC ms, if they name a day; 0: they name its instant.
        midnight: Whether a day begins here.
    """

    at: int
    words: str
    belongs: str = ""
    until: int = 0
    midnight: bool = False


def local(at: int, zone: ZoneInfo) -> datetime:
    """Return an instant (UTC ms) as local time; instants outside the calendar are moved to its ends."""
    return (_EPOCH + timedelta(milliseconds=min(max(at, _FIRST_MS), _LAST_MS))).astimezone(zone)


def say_date(at: int, zone: ZoneInfo) -> str:
    """Return the local date of an instant: `4 Mar 2026`."""
    moment = local(at, zone)
    return f"{moment.day} {_MONTHS[moment.month - 1]} {moment.year}"


def say_moment(at: int, zone: ZoneInfo) -> str:
    """Return a local time with its date: `4 Mar 2026 14:05`; a time that comes twice names its zone."""
    return f"{say_date(at, zone)} {_clock(local(at, zone))}"


def _clock(moment: datetime) -> str:
    twice = moment.replace(fold=0).utcoffset() != moment.replace(fold=1).utcoffset()
    return f"{moment.hour:02d}:{moment.minute:02d}" + (f" {moment.tzname()}" if twice else "")


def _instant(moment: datetime) -> int:
    return (moment.astimezone(UTC) - _EPOCH) // timedelta(milliseconds=1)


def time_ticks(start: int, end: int, zone: ZoneInfo, width: float) -> list[Tick]:
    """Choose the ticks of a time axis.

    Args:
        start: Beginning of the axis, UTC ms.
        end: End of the axis, UTC ms; not later than `start`: there are no ticks.
        zone: The yard's time zone.
        width: Length of the axis, units.

    Returns:
        Ticks at round local times within start..end, in order, far enough apart for their words.
    """
    start, end = max(start, _FIRST_MS), min(end, _LAST_MS)
    if end <= start:
        return []
    least = (end - start) * 46 / max(width, 46)  # ms that a label needs
    for minutes in _MINUTES:
        if minutes * MINUTE_MS >= least * (0.9 if minutes < 60 else 1):
            return _with_belongs(_by_clock(start, end, zone, minutes), zone, _day_of)
    for days in _DAYS:
        if days * DAY_MS >= least:
            return _with_belongs(_by_days(start, end, zone, days), zone, _year_of)
    for months in _MONTH_STEPS:
        if months * _MONTH_MS >= least * 0.75:  # a month's name is short
            return _with_belongs(_by_months(start, end, zone, months), zone, _year_of)
    years = next((step for step in _YEAR_STEPS if step * _YEAR_MS >= least), _YEAR_STEPS[-1])
    return list(_by_months(start, end, zone, 12 * years))


def _day_of(moment: datetime) -> str:
    return f"{_WEEKDAYS[moment.weekday()]} {moment.day} {_MONTHS[moment.month - 1]}"


def _year_of(moment: datetime) -> str:
    return str(moment.year)


def _with_belongs(found: Iterator[Tick], zone: ZoneInfo, name: Callable[[datetime], str]) -> list[Tick]:
    marked: list[Tick] = []
    before = ""
    for tick in found:
        now = name(local(tick.at, zone))
        marked.append(replace(tick, belongs=now if now != before else ""))
        before = now
    return marked


def _dates(start: int, end: int, zone: ZoneInfo) -> Iterator[date]:
    day, last = local(start, zone).date() - timedelta(days=1), local(end, zone).date()
    while day <= last:
        yield day
        day += timedelta(days=1)


def _by_clock(start: int, end: int, zone: ZoneInfo, step: int) -> Iterator[Tick]:
    for day in _dates(start, end, zone):
        moments: dict[int, str] = {}
        for minute in range(0, 1440, step):
            for fold in (0, 1):
                wall = datetime.combine(day, time(minute // 60, minute % 60, fold=fold), tzinfo=zone)
                at = _instant(wall)
                real = local(at, zone)
                exists = real.replace(tzinfo=None, fold=0) == wall.replace(tzinfo=None, fold=0)
                if start <= at <= end and (exists or (minute == 0 and fold == 0)):
                    moments[at] = _clock(real)
        for at in sorted(moments):
            first = local(at, zone)
            yield Tick(at, moments[at], midnight=first.hour == first.minute == 0)


def _by_days(start: int, end: int, zone: ZoneInfo, step: int) -> Iterator[Tick]:
    for day in _dates(start, end, zone):
        at = _instant(datetime.combine(day, time(), tzinfo=zone))
        wanted = day.toordinal() % step == (1 % step if step >= 7 else 0)  # weeks begin on Monday (ordinal 1)
        if wanted and start <= at <= end:
            after = _instant(datetime.combine(day + timedelta(days=1), time(), tzinfo=zone))
            yield Tick(at, f"{day.day} {_MONTHS[day.month - 1]}", until=after, midnight=True)


def _by_months(start: int, end: int, zone: ZoneInfo, step: int) -> Iterator[Tick]:
    first = local(start, zone)
    count = (first.year * 12 + first.month - 1) // step * step
    while count // 12 <= 9999:
        year, month = divmod(count, 12)
        count += step
        if (year, month) < (1, 1):
            continue
        at = _instant(datetime(year, month + 1, 1, tzinfo=zone))
        if at > end:
            return
        if at >= start:
            yield Tick(at, str(year) if step >= 12 else _MONTHS[month])


def fitting(ticks: Sequence[Tick], place: Sequence[float], size: float, gap: float = 6) -> list[str]:
    """Choose which ticks show their words, so that none run into each other.

    Args:
        ticks: In order.
        place: The x of each tick, units.
        size: Font size, units.
        gap: Least distance between two words, units.

    Returns:
        The words of each tick, or "". A time that names its zone is shortened to the bare time if only that fits.
    """
    shown: list[str] = []
    free = float("-inf")
    for tick, x in zip(ticks, place, strict=True):
        for words in (tick.words, tick.words.split(" ")[0] if ":" in tick.words else ""):
            half = width_of(words, size) / 2
            if words and x - half >= free:
                free = x + half + gap
                shown.append(words)
                break
        else:
            shown.append("")
    return shown
