"""Conditioning's memory of one probe: plain JSON-able state, and its temperatures by the hour.

Other probes of the place use only the hours. They hold every reading that did not fail, by whole UTC
hours of the readings' own time; a value that was held back as a possible power-up value never enters them.
"""

from dataclasses import dataclass, field
from typing import NamedTuple

from monitor.conditioning.calibration import NEVER
from monitor.model.flags import Flag, FlagReason
from monitor.model.times import HOUR_MS

HOURS_KEPT = 75
"""48 h of a flat line's look back, its lag of one to two hours, and a day by which probes may be apart."""

RUN_IN_MS = 78 * HOUR_MS
"""Run-in of a record that is fed again from the middle: 51 h until a flat line is known to have
failed, 27 h more until none of its readings is evidence any longer. The run-in cannot recover the smallest step of a probe
whose resolution is not configured, nor a last accepted reading that is older still."""


@dataclass(slots=True)
class Pending:
    """A reading whose flag waits for the next one.

    Attributes:
        time: Its own time, UTC ms.
        milli: Its calibrated value.
        base: The last accepted value before it, from which the step is measured.
        until: Last instant, UTC ms, at which a next reading still answers.
        flag, reason: Its verdict if it passes.
        power_up: Held as a possible power-up value, not as a spike.
    """

    time: int
    milli: int
    base: int
    until: int
    flag: Flag
    reason: FlagReason
    power_up: bool


@dataclass(slots=True)
class ProbeRecord:
    """State of one probe between two readings.

    Attributes:
        time: Own time of the newest reading, whatever its flag.
        accepted_time, accepted_milli: The newest reading with flag 1 or 2 (NEVER: none yet).
        pending: The reading that waits.
        expired: A reading earlier than this comes too late: a waiting one was settled without it.
        unit: Unit of the raw values below.
        micro: Raw value of the newest believable reading, or None.
        raw_time: Its time.
        still_since, still_ms: Since when and for how long the raw value has not changed at all.
        step_micro: Smallest change of the raw value seen, 0 before the first.
        moved_hour, moved: The last hour asked whether others moved, and the answer.
        follows_hour, follows: The same for *follows ambient*.
        hour, low, high, total, count: The hour being filled (hours since 1970; NEVER: none yet).
        hours: The hours before it: (hour, low, high, total, count).
    """

    time: int = NEVER
    accepted_time: int = NEVER
    accepted_milli: int = 0
    pending: Pending | None = None
    expired: int = NEVER
    unit: str = ""
    micro: int | None = None
    raw_time: int = NEVER
    still_since: int = NEVER
    still_ms: int = 0
    step_micro: int = 0
    moved_hour: int = NEVER
    moved: bool = False
    follows_hour: int = NEVER
    follows: bool = False
    hour: int = NEVER
    low: int = 0
    high: int = 0
    total: int = 0
    count: int = 0
    hours: list[tuple[int, int, int, int, int]] = field(default_factory=list)

    def span(self, first: int, end: int) -> "Span | None":
        """Return the sum of the hours `first <= hour < end` (hours since 1970), or None if they hold no reading."""
        inside = [entry for entry in self.hours if first <= entry[0] < end]
        if self.count and first <= self.hour < end:
            inside.append((self.hour, self.low, self.high, self.total, self.count))
        if not inside:
            return None
        _, lows, highs, totals, counts = zip(*inside, strict=True)
        return Span(min(lows), max(highs), sum(totals), sum(counts), len(inside))


class Span(NamedTuple):
    """A probe's readings over some hours: extremes and sum in thousandths, number of readings, number of hours with any."""

    low: int
    high: int
    total: int
    number: int
    hours: int


def note(record: ProbeRecord, time: int, milli: int) -> None:
    """Enter a value into the hours.

    Args:
        record: The probe's state; changed in place.
        time: The reading's own time, UTC ms; never falls.
        milli: Calibrated value, thousandths.
    """
    hour = time // HOUR_MS
    if hour == record.hour:
        record.total += milli
        record.count += 1
        if milli < record.low:
            record.low = milli
        elif milli > record.high:
            record.high = milli
        return
    if record.count:
        record.hours.append((record.hour, record.low, record.high, record.total, record.count))
        while record.hours[0][0] < hour - HOURS_KEPT:
            del record.hours[0]
            if not record.hours:
                break
    record.hour = hour
    record.low = record.high = record.total = milli
    record.count = 1
