"""Flags the quality of one probe's readings in time order: the step, and the settling of readings that wait.

Rules (the flag scheme is QARTOD's):

1. A `Verdict` is final when it is given. Accepted ones (flags 1 and 2) come in time order; a reading that
   fails by its own value gets its verdict at once and may overtake a reading that waits.
2. A failed reading settles nothing: an error code between two readings neither confirms nor denies the first.
3. A sensor that has just powered up sends exactly 85.0, more than 10 °C from the last accepted reading (or with none before
   it). Such a value waits for the next believable reading with another value, at most 2 h, the longest gap across which
   the evaluator draws a line. If it is more than 10 °C from that one too, it fails; else it passes.
4. A second 85.0 in a row proves nothing: the earlier one is suspect, the later one waits, however many come
   in a row. An 85.0 without an answer is suspect too. Suspect ones are not accepted, and no known code ever raises a fire.
5. A flat line counts time between readings at most 2 h apart; a longer gap begins the count anew, so that a gap never
   fails a reading. A probe that reports less often is not checked for it.
6. Values that fail the gross range or are error codes leave the flat line as it was.
"""

from monitor.conditioning.calibration import NEVER
from monitor.conditioning.checks import Checks
from monitor.conditioning.company import Evidence
from monitor.conditioning.record import Pending, ProbeRecord, note
from monitor.model.flags import Flag, FlagReason, Verdict
from monitor.model.times import HOUR_MS

GAP_MS = 2 * HOUR_MS
"""A longer silence is a gap: the default of the evaluator's `max_gap`."""

_SUSPECT, _FAIL, _NOT_EVALUATED = Flag.SUSPECT, Flag.FAIL, Flag.NOT_EVALUATED


def step(
    record: ProbeRecord, checks: Checks, time: int, milli: int, micro: int, company: Evidence
) -> tuple[Verdict, ...]:
    """Take one reading.

    Args:
        record: The probe's state; changed in place.
        checks: Its limits, for the unit of `micro`.
        time: The reading's own time, UTC ms, later than all before.
        milli: Calibrated value, thousandths.
        micro: Raw value, millionths of the unit.
        company: What the probes show with which it is compared.

    Returns:
        The verdicts that are now final, in order of time: usually its own, none while it waits, two if another waited.
    """
    settled: tuple[Verdict, ...] = ()
    agreed = False
    pending = record.pending
    if pending is not None and time > pending.until:
        settled = (_unanswered(record, checks, pending),)
        pending = None
    if checks.refuses(milli, micro):
        return (*settled, _refused(record, checks, time, milli, micro))
    if pending is not None:
        verdict, agreed = _answered(record, checks, pending, milli, micro)
        settled = (verdict,)
    flag, reason = checks.flag, checks.reason
    if checks.watched:
        if _stands_still(record, checks, time, micro) and _is_stuck(record, checks, time, company):
            flag = _FAIL if record.still_ms >= checks.flat_fail else _SUSPECT
            reason = FlagReason.FLAT_LINE
        elif checks.core and _is_air(record, time, company):
            flag, reason = _SUSPECT, FlagReason.FOLLOWS_AMBIENT
    if not agreed and flag != _FAIL:
        held = _held(record, checks, time, milli, micro)
        if held:
            record.pending = Pending(time, milli, record.accepted_milli, time + held, flag, reason, held == GAP_MS)
            record.time = time
            return settled
    record.time = time
    verdict = _passed(record, checks, time, milli, flag, reason)
    return (*settled, verdict) if settled else (verdict,)


def pending_due(record: ProbeRecord) -> int | None:
    """Return the instant, UTC ms, from which no answer for the waiting reading can come any more, or None."""
    return None if record.pending is None else record.pending.until + 1


def expire(record: ProbeRecord, checks: Checks, now: int) -> tuple[Verdict, ...]:
    """Settle a waiting reading that has had no answer.

    Readings of this probe heard later with a time up to then come too late for it: `record.expired`.

    Args:
        record: The probe's state; changed in place.
        checks: Its limits.
        now: The present, UTC ms.

    Returns:
        Its verdict, or nothing while an answer may still come.
    """
    pending = record.pending
    if pending is None or now <= pending.until:
        return ()
    record.expired = pending.until + 1
    return (_unanswered(record, checks, pending),)


def _refused(record: ProbeRecord, checks: Checks, time: int, milli: int, micro: int) -> Verdict:
    lost = micro == checks.disconnected
    record.time = time
    return Verdict(time, checks.probe, milli, _FAIL, FlagReason.ERROR_CODE if lost else FlagReason.GROSS_RANGE)


def _passed(record: ProbeRecord, checks: Checks, time: int, milli: int, flag: Flag, reason: FlagReason) -> Verdict:
    """Give a flag that no neighbour can change any more, and remember the value."""
    if flag <= _NOT_EVALUATED:
        record.accepted_time = time
        record.accepted_milli = milli
    if checks.watched and flag != _FAIL:
        note(record, time, milli)
    return Verdict(time, checks.probe, milli, flag, reason)


def _unanswered(record: ProbeRecord, checks: Checks, pending: Pending) -> Verdict:
    """Settle a waiting reading without a next one: a spike passes, a power-up value is suspect."""
    record.pending = None
    if pending.power_up:
        return Verdict(pending.time, checks.probe, pending.milli, _SUSPECT, FlagReason.POWER_UP)
    return _passed(record, checks, pending.time, pending.milli, pending.flag, pending.reason)


def _answered(record: ProbeRecord, checks: Checks, pending: Pending, milli: int, micro: int) -> tuple[Verdict, bool]:
    """Settle a waiting reading by the next one; also tell whether that one passes with it."""
    record.pending = None
    if pending.power_up and micro == checks.power_up:
        return _unanswered(record, checks, pending), False
    apart = abs(milli - pending.milli)
    if pending.power_up:
        if apart > checks.apart:
            return Verdict(pending.time, checks.probe, pending.milli, _FAIL, FlagReason.POWER_UP), False
        if pending.flag <= _NOT_EVALUATED:
            record.accepted_time, record.accepted_milli = pending.time, pending.milli
        return Verdict(pending.time, checks.probe, pending.milli, pending.flag, pending.reason), False
    if 2 * apart > abs(pending.milli - pending.base):
        return Verdict(pending.time, checks.probe, pending.milli, _FAIL, FlagReason.SPIKE), False
    return _passed(record, checks, pending.time, pending.milli, pending.flag, pending.reason), True


def _held(record: ProbeRecord, checks: Checks, time: int, milli: int, micro: int) -> int:
    """Return the time (ms) for which the reading waits for the next one: GAP_MS for a power-up value, 0: it does not wait."""
    change = milli - record.accepted_milli
    if micro == checks.power_up and (record.accepted_time == NEVER or abs(change) > checks.apart):
        return GAP_MS
    if checks.watched and checks.jumps(change, time - record.accepted_time):
        return checks.span
    return 0


def _stands_still(record: ProbeRecord, checks: Checks, time: int, micro: int) -> bool:
    """Count the time for which the raw value has not changed, and tell whether it is long enough to ask the other probes."""
    before = record.micro
    if micro == before and time - record.raw_time <= GAP_MS:
        record.still_ms += time - record.raw_time
        record.raw_time = time
        return record.still_ms >= checks.flat_suspect
    if before is not None and micro != before:
        change = micro - before if micro > before else before - micro
        if change < record.step_micro or not record.step_micro:
            record.step_micro = change
    record.micro = micro
    record.raw_time = record.still_since = time
    record.still_ms = 0
    record.moved_hour = NEVER
    return False


def is_fine(record: ProbeRecord, checks: Checks) -> bool:
    """Return whether the probe's raw value is known to step finely enough for a flat line to mean something."""
    return checks.fine is True or (checks.fine is None and 0 < record.step_micro <= checks.fine_micro)


def _is_stuck(record: ProbeRecord, checks: Checks, time: int, company: Evidence) -> bool:
    if not is_fine(record, checks):
        return False
    hour = time // HOUR_MS
    if hour != record.moved_hour:
        record.moved_hour = hour
        record.moved = company.moved(record.still_since, hour)
    return record.moved


def _is_air(record: ProbeRecord, time: int, company: Evidence) -> bool:
    hour = time // HOUR_MS
    if hour != record.follows_hour:
        record.follows_hour = hour
        record.follows = company.follows(record, hour)
    return record.follows
