"""The count of one part of a rule as time passes: the sums that a tracker keeps and moves on a step at a time.

A step never reaches beyond the next `boundary` of any part, so every part is met at the very end of a step or at the
instant of a change, and that instant is exact. Within a step everything is as it was at its start.

Days: a day is decided when its 24 h are over. If it then fails, the next began long ago, with the first hold instant after
the last bad one; so that instant is kept beside it. `days` says what the rules of days mean.

Windows and constant temperatures ask for more than one set of limits, or for values. They are not followed: such a
part never counts as met here, and its numbers say `not_followed`.
"""

from monitor.proof.counting import DayKind, Numbers, counted_turnings, days_chosen, hours, with_turnings
from monitor.proof.following.part_state import DroppedDay, OpenDay, PartState, Situation
from monitor.proof.rules import Days, Followed, Part, Run, RunBeforeTurnings, Total, turnings_of


def _time(now: Situation) -> int:
    assert now.now is not None
    return now.now


def _run_ms(now: Situation) -> int:
    """Return how long the hold at the present instant has lasted; 0 where there is none."""
    if now.last_hold != now.now:
        return 0
    assert now.run_start is not None
    return _time(now) - now.run_start


def begin(part: Part, own: PartState, now: Situation) -> None:
    """Take in that a hold begins at the present instant.

    Args:
        part: What is wanted.
        own: What it has come to; changed in place.
        now: The present.
    """
    if isinstance(part, Days) and (not own.open or (own.open[0].bad and len(own.open) == 1)):
        own.open.append(_day(now))


def _day(now: Situation) -> OpenDay:
    """Return a day that begins at the present instant."""
    return OpenDay(start=_time(now), hold_before_ms=now.total_ms, dark_before_ms=now.dark_ms)


def boundary(part: Part, own: PartState, now: Situation) -> int | None:
    """Return the next instant at which mere passing of time fulfils or decides something.

    Args:
        part: What is wanted.
        own: What it has come to.
        now: The present.

    Returns:
        The instant, UTC ms (one that is past has had its effect), or None where time alone changes nothing.
    """
    if isinstance(part, Days):
        return own.open[0].start + part.day_ms if own.open else None
    if not isinstance(part, Run | Total):
        # A run before a turning is met by a turning, never by mere passing of time.
        return None
    if not now.holding:
        return None
    assert now.run_start is not None
    return now.run_start + part.duration_ms if isinstance(part, Run) else _time(now) + part.duration_ms - now.total_ms


def advance(part: Part, own: PartState, now: Situation, bad: bool, stretch_ms: int) -> None:
    """Take in that time has passed up to the present instant.

    Args:
        part: What is wanted.
        own: What it has come to.
        now: The present, its sums brought up to date.
        bad: Whether any of that time was proven, outside recovery and not in the hold.
        stretch_ms: Longest unproven stretch that a day may touch, ms.
    """
    if isinstance(part, RunBeforeTurnings) and now.holding:
        assert now.run_start is not None
        since = now.run_start if now.turned is None else max(now.run_start, now.turned)
        own.ready = own.ready or _time(now) - since >= part.duration_ms
    if not isinstance(part, Days):
        return
    _take_back(part, own, now, stretch_ms)
    if not own.open:
        return
    if bad:
        own.open[0].bad, own.open[1:] = True, []
        _lose(part, own)
    _darken(part, own, now, stretch_ms)
    if own.open[0].start + part.day_ms <= _time(now):
        _decide(part, own, now)


def _take_back(part: Days, own: PartState, now: Situation, stretch_ms: int) -> None:
    """Take back that a day failed, where the unproven stretch in which it ended has become too long: it is unproven.

    The next day then begins as it was over, and not with the first hold instant after the last bad one.
    """
    if now.dark_since is None or _time(now) - now.dark_since <= stretch_ms:
        return
    failed = [day.start for day in own.dropped if day.kind == DayKind.FAILED.value]
    if not failed or now.dark_since >= failed[-1] + part.day_ms:
        return
    over = failed[-1] + part.day_ms
    own.dropped, own.pending = [], None
    # Since then nothing was held, and all of it was unproven.
    own.open = [OpenDay(over, now.total_ms, now.dark_ms - (_time(now) - over))]


def _lose(part: Days, own: PartState) -> None:
    """Take in that a day cannot count any more."""
    # The day beside a failed one follows on it: that one has ended the series already.
    if part.consecutive:
        own.days, own.first_day, own.recovery = 0, None, []


def _darken(part: Days, own: PartState, now: Situation, stretch_ms: int) -> None:
    """Take in how much is unproven by now."""
    too_long = now.dark_since is not None and _time(now) - now.dark_since > stretch_ms
    if too_long:
        # A day that ended in this stretch is lost; so is the one after it, which ends the series where there is one.
        own.pending = None
    for day in own.open:
        if too_long or now.dark_ms - day.dark_before_ms > part.dark_ms:
            day.dark = True
            _lose(part, own)


def _decide(part: Days, own: PartState, now: Situation) -> None:
    """Decide the day that is over at the present instant."""
    day = own.open[0]
    if day.bad and not day.dark:
        own.dropped = [DroppedDay(day.start, DayKind.FAILED.value)]
        own.open = own.open[1:]
        return
    if not day.dark:
        held_ms, dark_ms = now.total_ms - day.hold_before_ms, now.dark_ms - day.dark_before_ms
        recovery_ms = part.day_ms - held_ms - dark_ms
        if held_ms < part.least_ms:
            _lose(part, own)
        elif now.dark_since is not None:
            own.pending, own.pending_recovery_ms = day.start, recovery_ms
        else:
            _count(part, own, day.start, recovery_ms)
    own.open = [_day(now)]


def _count(part: Days, own: PartState, start: int, recovery_ms: int) -> None:
    """Take in a day that could count."""
    own.recovery.append(recovery_ms)
    own.days = len(days_chosen(part, own.recovery))
    own.first_day = start if own.first_day is None else own.first_day


def light(part: Days, own: PartState) -> None:
    """Take in that the unproven stretch that went on is over: a day that ended in it could count."""
    if own.pending is not None:
        _count(part, own, own.pending, own.pending_recovery_ms)
        own.pending = None


def turn(part: Part, own: PartState, first: bool) -> None:
    """Take in that a turning was logged at the present instant.

    Args:
        part: What is wanted.
        own: What it has come to; changed in place.
        first: Whether the entry is a turning of its own, and not one with an entry before it.
    """
    if isinstance(part, RunBeforeTurnings):
        own.before += own.ready and first
        own.ready = False


def settle(part: Part, own: PartState, now: Situation) -> None:
    """Bring the span and its turnings up to date, and see whether the part is met at the present instant.

    Args:
        part: What is wanted.
        own: What it has come to; changed in place.
        now: The present.
    """
    if isinstance(part, Run):
        run_ms = _run_ms(now)
        own.longest_ms = max(own.longest_ms, run_ms)
        own.span = now.run_start if now.last_hold == now.now else None
        fulfilled = run_ms >= part.duration_ms
    elif isinstance(part, Total):
        own.span = now.first_hold
        fulfilled = now.total_ms >= part.duration_ms
    elif isinstance(part, RunBeforeTurnings):
        own.turnings = own.before
        if own.before >= part.count:
            own.final = _numbers(part, own, now)
            own.met_at = _time(now)
        return
    elif not isinstance(part, Days):
        return
    else:
        first_open = own.open[0].start if own.open else None
        waiting = first_open if own.pending is None else own.pending
        own.span = waiting if own.first_day is None else own.first_day
        fulfilled = own.days >= part.count
    own.turnings = 0
    if own.span is not None:
        assert now.last_hold is not None
        own.turnings = len(counted_turnings(now.turnings, turnings_of(part), own.span, now.last_hold))
    if fulfilled and _enough_turnings(part, own):
        own.final = _numbers(part, own, now)
        own.met_at = _time(now)


def _enough_turnings(part: Part, own: PartState) -> bool:
    wanted = turnings_of(part)
    return wanted is None or own.turnings >= wanted.count


def numbers(part: Part, own: PartState, now: Situation) -> Numbers:
    """Return the part's plain numbers, those of `Judged.values`.

    Args:
        part: What is wanted.
        own: What it has come to.
        now: The present.

    Returns:
        The numbers by name; of a part that was met, as of then.
    """
    if not isinstance(part, Followed):
        return {"not_followed": 1}
    return own.final if own.met_at is not None else _numbers(part, own, now)


def _numbers(part: Followed, own: PartState, now: Situation) -> Numbers:
    counts: Numbers
    if isinstance(part, Run):
        counts = {
            "run_h": hours(_run_ms(now)),
            "longest_run_h": hours(own.longest_ms),
            "needed_h": hours(part.duration_ms),
        }
    elif isinstance(part, Total):
        counts = {"total_h": hours(now.total_ms), "needed_h": hours(part.duration_ms)}
    elif isinstance(part, RunBeforeTurnings):
        return {
            "needed_h": hours(part.duration_ms),
            "turnings": own.before,
            "turnings_needed": part.count,
            "turnings_logged": now.logged,
        }
    else:
        counts = {"days": own.days, "days_needed": part.count}
    return with_turnings(part, counts, own.turnings, now.logged)


def look_again(part: Part, own: PartState, now: Situation) -> int | None:
    """Return an instant before which the part cannot be met if nothing but time passes.

    Args:
        part: What is wanted.
        own: What it has come to.
        now: The present.

    Returns:
        The instant, UTC ms, or None where time alone cannot fulfil the part.
    """
    if not _enough_turnings(part, own) or not isinstance(part, Run | Total | Days):
        return None
    if not isinstance(part, Days):
        return boundary(part, own, now)
    if not own.open or own.days >= part.count:
        return None
    day, left = own.open[0], part.count - own.days
    over = day.start + part.day_ms
    if now.holding:
        # A day that is bad or too little known will not count; then this is earlier than need be, never too late.
        return over + (left - 1) * part.day_ms
    enough_held = now.total_ms - day.hold_before_ms >= part.least_ms
    excused = any(last >= over for _, last in now.recoveries)
    return over if left == 1 and enough_held and not day.bad and not day.dark and excused else None
