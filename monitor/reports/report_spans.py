"""The time that a report covers: a month, a year, or some days, always whole days of the yard's own time zone.

Rules: a month begins at its first local midnight and ends at that of the next month, so the month in which clocks go back is
an hour longer than its days times 24. A season is a calendar year (our choice).
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from monitor.notices import instant, local

_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
_MONTH = re.compile(r"(\d{4})-(\d{1,2})", re.ASCII)
_YEAR = re.compile(r"\d{4}", re.ASCII)
FIRST_YEAR, LAST_YEAR = 1970, 9998


@dataclass(frozen=True, slots=True)
class Span:
    """Some whole days.

    Attributes:
        first: The first day.
        last: The last day, which belongs to it.
        zone: The yard's time zone.
    """

    first: date
    last: date
    zone: ZoneInfo

    @property
    def start(self) -> int:
        """Its first instant, UTC ms."""
        return instant(self.first, 0, self.zone)

    @property
    def end(self) -> int:
        """The first instant after it, UTC ms."""
        return instant(self.last + timedelta(days=1), 0, self.zone)

    def has(self, at: int) -> bool:
        """Return whether an instant (UTC ms) lies in it."""
        return self.start <= at < self.end

    def month_of(self, at: int) -> str:
        """Return the yard's own month of an instant (UTC ms): `2026-10`."""
        return f"{local(at, self.zone):%Y-%m}"

    @property
    def months(self) -> list[str]:
        """The months that it touches, in order."""
        return list(dict.fromkeys(f"{day:%Y-%m}" for day in self.days()))

    def days(self) -> Iterator[date]:
        """Yield its days in order."""
        for more in range((self.last - self.first).days + 1):
            yield self.first + timedelta(days=more)

    @property
    def name(self) -> str:
        """Its name for people: `October 2026`, `2026`, or its first and last day."""
        if self == _year(self.first.year, self.zone):
            return f"{self.first.year:04d}"
        if self == _month(self.first.year, self.first.month, self.zone):
            return f"{_MONTHS[self.first.month - 1]} {self.first.year:04d}"
        if self.first == self.last:
            return _day(self.first)
        same = self.first.year == self.last.year
        first = f"{self.first.day} {_MONTHS[self.first.month - 1]}" if same else _day(self.first)
        return f"{first} to {_day(self.last)}"


def month_named(text: str, zone: ZoneInfo) -> Span:
    """Return the month that a text names: `2026-10`.

    Raises:
        ValueError: It names none; the message says what would be right.
    """
    found = _MONTH.fullmatch(text.strip())
    if found is None or not 1 <= int(found[2]) <= len(_MONTHS) or not FIRST_YEAR <= int(found[1]) <= LAST_YEAR:
        raise ValueError(f'"{text[:20]}" is no month; write the year and the month, such as 2026-10')
    return _month(int(found[1]), int(found[2]), zone)


def season_named(text: str, zone: ZoneInfo) -> Span:
    """Return the season that a text names: the year `2026`.

    Raises:
        ValueError: It names none; the message says what would be right.
    """
    if _YEAR.fullmatch(text.strip()) is None or not FIRST_YEAR <= int(text) <= LAST_YEAR:
        raise ValueError(f'"{text[:20]}" is no season; write a year, such as 2026')
    return _year(int(text), zone)


def last_whole_month(now: int, zone: ZoneInfo) -> Span:
    """Return the month before the present one.

    Args:
        now: The present, UTC ms.
        zone: The yard's time zone.
    """
    before = local(now, zone).date().replace(day=1) - timedelta(days=1)
    return _month(before.year, before.month, zone)


def beside(span: Span, months: int) -> Span:
    """Return the month so many after a span's first one (below 0: before it)."""
    count = span.first.year * 12 + span.first.month - 1 + months
    return _month(count // 12, count % 12 + 1, span.zone)


def _month(year: int, month: int, zone: ZoneInfo) -> Span:
    following = date(year + month // 12, month % 12 + 1, 1)
    return Span(date(year, month, 1), following - timedelta(days=1), zone)


def _year(year: int, zone: ZoneInfo) -> Span:
    return Span(date(year, 1, 1), date(year, 12, 31), zone)


def _day(day: date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year:04d}"
