"""Things that fall due in words: by day, with what to do, why, and how much slack there is."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from monitor.diary.due import Due, What
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.notices import instant, local, say_date

FRIDAY, SATURDAY = 5, 6
"""ISO weekdays on which people leave for the weekend."""
_DO: dict[What, str] = {
    What.KEEP_OFF: "keep off",
    What.TURN: "turn it",
    What.READ: "read it by hand",
    What.WATER: "water it",
    What.BEDDING: "add dry bedding",
    What.SHADE: "shade it before the sun is on it",
    What.WRAP: "wrap it before dark",
    What.FEED: "feed it",
    What.LIFT: "add a lift of bedding",
    What.HARVEST: "harvest it",
    What.SCREEN: "screen it",
    What.BACK: "put it back into a bed",
    What.MIX: "mix, feed or cover what rots",
    What.TEST_LOT: "test a lot",
    What.TEST: "test it with worms",
    What.CERTIFY: "make its certificate",
    What.CALIBRATE: "check a thermometer",
    What.EMPTY: "empty it",
    What.EXPECT: "expect",
}


def title(one: Due) -> str:
    """Return the words for a thing to do, or to expect: `turn it`."""
    return one.why.partition(":")[0].partition(" (")[0] if one.expected else _DO[one.what]


def reason(one: Due) -> str:
    """Return why a thing is due, as a sentence."""
    return f"{one.why[:1].upper()}{one.why[1:]}."


def span_words(span_ms: int) -> str:
    """Return a span (ms, 0 or more) as coarsely as people plan, rounded down: `40 min`, `5 h`, `1 day`, `3 days`."""
    if span_ms < HOUR_MS:
        return f"{span_ms // MINUTE_MS} min"
    if span_ms < DAY_MS:
        return f"{span_ms // HOUR_MS} h"
    days = span_ms // DAY_MS
    return "1 day" if days == 1 else f"{days} days"


def slack_words(one: Due, now: int) -> str:
    """Return how long a thing can wait: `1 day of slack`, `no slack`, `due 2 h ago, 1 day of slack left`, `2 h overdue`.

    Args:
        one: The thing.
        now: When the words are read, UTC ms.

    Returns:
        The words; "" for what is only expected, and where there is a heap to keep off.
    """
    if one.expected or one.forbids:
        return ""
    slack, late = one.slack_ms(now), now - one.due_ms
    if slack <= -MINUTE_MS:
        return f"{span_words(late)} overdue"
    left = f"{span_words(slack)} of slack" if slack >= MINUTE_MS else "no slack"
    if late < 0:
        return left
    return (
        f"due now, {left}"
        if late < MINUTE_MS
        else f"due {span_words(late)} ago, {left}{' left' if slack >= MINUTE_MS else ''}"
    )


def short_words(one: Due, now: int) -> str:
    """Return a thing in the fewest words, for a line of another text: `turn it, 1 day of slack`.

    Args:
        one: The thing.
        now: When the words are read, UTC ms.
    """
    slack = slack_words(one, now)
    alarm = f" ({one.why.partition(':')[0]})" if one.forbids else ""
    return f"{title(one)}{alarm}{f', {slack}' if slack else ''}"


@dataclass(frozen=True, slots=True)
class Day:
    """The things of one local day; today has what was due before, too."""

    heading: str
    dues: tuple[Due, ...]


def by_day(found: Iterable[Due], now: int, zone: ZoneInfo) -> Iterator[Day]:
    """Yield the days on which something falls due, today first.

    Args:
        found: The things in order.
        now: When the words are read, UTC ms.
        zone: The yard's time zone.
    """
    today = local(now, zone).date()
    days: dict[date, list[Due]] = {}
    for one in found:
        days.setdefault(max(today, local(one.due_ms, zone).date()), []).append(one)
    for day, dues in sorted(days.items()):
        yield Day(_heading(day, today, say_date(max(now, dues[0].due_ms), zone)), tuple(dues))


def clock_words(one: Due, now: int, zone: ZoneInfo) -> str:
    """Return when on its day a thing falls due: `14:05`; `now` if it was due before.

    Args:
        one: The thing.
        now: When the words are read, UTC ms.
        zone: The yard's time zone.
    """
    return "now" if one.due_ms <= now else f"{local(one.due_ms, zone):%H:%M}"


def _heading(day: date, today: date, said: str) -> str:
    if day == today:
        return f"Today, {said}"
    return f"Tomorrow, {said}" if day == today + timedelta(days=1) else said


def until_back(now: int, zone: ZoneInfo) -> tuple[int, str]:
    """Return until when (UTC ms) people who leave now may be away, and the words for that.

    Args:
        now: When they leave, UTC ms.
        zone: The yard's time zone.
    """
    day = local(now, zone).date()
    if day.isoweekday() in (FRIDAY, SATURDAY):
        return instant(day + timedelta(days=8 - day.isoweekday()), 0, zone), "before Monday"
    return instant(day + timedelta(days=2), 0, zone), "until tomorrow night"


def today(now: int, zone: ZoneInfo) -> tuple[int, str]:
    """Return the end of the local day (UTC ms) and the words for that; on Fridays and Saturdays the weekend's.

    Args:
        now: When a digest is read, UTC ms.
        zone: The yard's time zone.
    """
    day = local(now, zone).date()
    if day.isoweekday() in (FRIDAY, SATURDAY):
        return until_back(now, zone)
    return instant(day + timedelta(days=1), 0, zone), "today"
