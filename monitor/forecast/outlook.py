"""Tomorrow's air: by a forecast that somebody gave, else as today.

1. A forecast is for one day and counts for no other. The newest that stands is used, up to two days old: an older one is
   worth less than a look at the sky.
2. Without a forecast, tomorrow is as today (*persistence*). That serves for heat and not for frost (`serves`): in the
   simulator a bin's first night at its limit followed a night as cold too seldom (docs/evening.md).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from monitor.forecast.past_days import Reach, Trouble
from monitor.model.times import DAY_MS

FRESH_MS = 2 * DAY_MS
"""How long a forecast counts after it was given (ours)."""


class Whence(StrEnum):
    """Sources of a figure for tomorrow; stored, so never renamed."""

    TYPED = "typed"
    SENT = "sent"
    TODAY = "today"


@dataclass(frozen=True, slots=True, kw_only=True)
class Predicted:
    """One forecast for one day, as it was given.

    Attributes:
        day: The local date that it is for.
        low, high: The air's, thousandths of °C; None where it does not say.
        given: When it was given, UTC ms.
        whence: How it came in.
        by: Who typed it in, or the name of the file or source; "" if nobody said.
    """

    day: date
    low: int | None = None
    high: int | None = None
    given: int
    whence: Whence
    by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The air's low or high on one day, and where that figure comes from.

    Attributes:
        day: The local date.
        milli_c: Thousandths of °C.
        whence: Where it comes from.
        by: Who or what gave it, or "".
    """

    day: date
    milli_c: int
    whence: Whence
    by: str = ""


def outlook(given: Iterable[Predicted], trouble: Trouble, day: date, now: int) -> Outlook | None:
    """Return the air's high (heat) or low (frost) on a day by the newest forecast for that day, or None.

    Args:
        given: Forecasts, in any order; those for other days, given later than `now`, or too old then are left out.
        trouble: Heat asks for the high, frost for the low.
        day: The local date.
        now: The instant of the look, UTC ms.
    """
    newest: tuple[int, Outlook] | None = None
    for one in given:
        milli = one.high if trouble is Trouble.HEAT else one.low
        if one.day != day or milli is None or not one.given <= now < one.given + FRESH_MS:
            continue
        if newest is None or one.given >= newest[0]:
            newest = one.given, Outlook(day=day, milli_c=milli, whence=one.whence, by=one.by)
    return newest[1] if newest is not None else None


def persistence(air: Mapping[date, Reach], trouble: Trouble, day: date) -> Outlook | None:
    """Return the air on a day as it was the day before; None if that was not measured, or does not serve.

    Args:
        air: How far the air went, by local day.
        trouble: Heat asks for the high, frost for the low.
        day: The local date.
    """
    before = air.get(day - timedelta(days=1))
    if before is None or not before.whole or not serves(trouble):
        return None
    return Outlook(day=day, milli_c=trouble.sign * before.worst(trouble), whence=Whence.TODAY)


def serves(trouble: Trouble) -> bool:
    """Return whether tomorrow as today is worth telling of a trouble."""
    return trouble is Trouble.HEAT
