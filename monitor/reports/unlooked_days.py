"""The days on which nobody looked: no entry of work, no reading by hand, no answer to an alarm.

Only days that are over count, and only from the first day of the record on: before it nobody could write anything down. A day
without an entry need not be a day on which nobody came.
"""

from collections.abc import Iterable
from datetime import date

from monitor.notices import local
from monitor.reports.report_spans import Span


def unlooked_days(seen: Iterable[int], span: Span, first: int | None, now: int) -> tuple[list[date], int]:
    """Return the days of a span on which nobody looked, and how many of its days were counted at all.

    Args:
        seen: When somebody did or read something, UTC ms, in any order.
        span: The time.
        first: The beginning of the record, UTC ms; None: there is none.
        now: The present, UTC ms.
    """
    if first is None:
        return [], 0
    begun, today = local(first, span.zone).date(), local(now, span.zone).date()
    counted = [day for day in span.days() if begun <= day < today]
    looked = {local(at, span.zone).date() for at in seen if span.has(at)}
    return [day for day in counted if day not in looked], len(counted)
