"""How one part of a rule is counted as time goes by: the sums that a tracker keeps, moved on a step at a time.

A step never reaches beyond the next `boundary` of any part, so every part is met at the very end of a step or at the
instant of a change, and that instant is exact. Within a step everything is as it was at its start.

Days: whether a day fails may be open for some time (it must first be known for 12 h), and if it fails the next day
began long ago, with the first hold instant after the bad one. So the possible days are kept in a row, each beginning
where the one before it may have failed; they are settled from the first on. `days` says what they mean.

Windows and constant temperatures ask for more than one set of limits, or for values. They are not followed: such a
part never counts as met here, and its numbers say `not_followed`.
"""

from dataclasses import dataclass, field

from monitor.proof.kinds import Days, Followed, Part, Run, RunBeforeTurnings, Total
from monitor.proof.kinds import turnings_of as wanted_turnings
from monitor.proof.record import Numbers, counted_turnings, hours, with_turnings


@dataclass(slots=True)
class Situation:
    """What is so at present, and the sums that all parts share; instants are UTC ms.

    Attributes:
        now: How far the record is known.
        proven, inside: As told.
        holding: Whether both are so.
        first_hold: First hold instant since material last came in.
        run_start: Start of the hold that is going on or was the last.
        last_hold: Last hold instant.
        turned: The last turning, as logged.
        group: The first entry of the group to which that one belongs, also where material came in between.
        logged: Entries of turnings since material last came in.
        logged_now: How many of them are at `turned`.
        recovering: Whether no hold has begun after it.
        turnings: Turnings that may still count, in order, each by the first entry of its group.
        point: Instant at which the temperature became known while not within the limits, until time passes.
        total_ms: Time in the hold.
        known_ms: Time in the hold, or proven and outside recovery.
    """

    now: int | None = None
    proven: bool = False
    inside: bool = False
    holding: bool = False
    first_hold: int | None = None
    run_start: int | None = None
    last_hold: int | None = None
    turned: int | None = None
    group: int | None = None
    logged: int = 0
    logged_now: int = 0
    recovering: bool = False
    turnings: list[int] = field(default_factory=list)
    point: int | None = None
    total_ms: int = 0
    known_ms: int = 0


@dataclass(slots=True)
class OpenDay:
    """A day that is not decided.

    Attributes:
        start: Its first instant, UTC ms.
        known_before_ms: `Situation.known_ms` at its start.
        bad: Whether an instant in it was proven, outside recovery and not in the hold.
    """

    start: int
    known_before_ms: int
    bad: bool = False


@dataclass(slots=True)
class PartState:
    """What one part has come to.

    Attributes:
        met_at: When it was met, UTC ms, or None.
        final: Its numbers as of then.
        span: Start of the span in which its turnings count, or None.
        turnings: Turnings that count.
        longest_ms: Longest hold.
        days: Days that count.
        first_day: Start of the first of them.
        open: Days that are not decided, each beginning where the one before it may have failed.
        before: Turnings with a long enough run before them.
        ready: Whether there was such a run since the last turning.
    """

    met_at: int | None = None
    final: Numbers = field(default_factory=dict)
    span: int | None = None
    turnings: int = 0
    longest_ms: int = 0
    days: int = 0
    first_day: int | None = None
    open: list[OpenDay] = field(default_factory=list)
    before: int = 0
    ready: bool = False


def _time(now: Situation) -> int:
    assert now.now is not None
    return now.now


def _run_ms(now: Situation) -> int:
    """Return how long the hold at the present instant has lasted; 0 where there is none."""
    if now.run_start is None or now.last_hold != now.now:
        return 0
    return _time(now) - now.run_start


def begin(part: Part, own: PartState, now: Situation) -> None:
    """Take in that a hold begins at the present instant."""
    if isinstance(part, Days) and (not own.open or own.open[-1].bad):
        own.open.append(OpenDay(start=_time(now), known_before_ms=now.known_ms))


def boundary(part: Part, own: PartState, now: Situation) -> int | None:
    """Return the next instant at which something is fulfilled or decided by mere passing of time, or None."""
    if isinstance(part, Days):
        return own.open[0].start + part.day_ms if own.open else None
    if not isinstance(part, Run | Total):
        # A run before a turning is met by a turning, never by mere passing of time.
        return None
    if not now.holding or now.run_start is None:
        return None
    if isinstance(part, Run):
        end = now.run_start + part.duration_ms
        return end if end > _time(now) else None
    left = part.duration_ms - now.total_ms
    return _time(now) + left if left > 0 else None


def advance(part: Part, own: PartState, now: Situation, bad: bool) -> None:
    """Take in that time has passed up to the present instant.

    Args:
        part: What is wanted.
        own: What it has come to.
        now: The present, its sums brought up to date.
        bad: Whether an instant of that time was proven, outside recovery and not in the hold.
    """
    if isinstance(part, RunBeforeTurnings):
        since = now.run_start if now.turned is None else max(now.run_start or 0, now.turned)
        own.ready = own.ready or (
            now.holding and since is not None and now.run_start is not None and _time(now) - since >= part.duration_ms
        )
    if not isinstance(part, Days):
        return
    if bad and own.open:
        # Earlier ones in the row have theirs: each of the others began after it.
        own.open[-1].bad = True
    while own.open:
        day = own.open[0]
        enough_known = now.known_ms - day.known_before_ms >= part.least_ms
        over = day.start + part.day_ms
        if day.bad and enough_known:
            own.open.pop(0)
            if part.consecutive:
                own.days, own.first_day = 0, None
        elif over <= _time(now):
            if enough_known:
                own.days += 1
                own.first_day = day.start if own.first_day is None else own.first_day
            own.open = [OpenDay(start=over, known_before_ms=now.known_ms)]
        else:
            break


def turn(part: Part, own: PartState, first: bool) -> None:
    """Take in that a turning was logged at the present instant; `first` tells whether it is one of its own."""
    if isinstance(part, RunBeforeTurnings):
        own.before += own.ready and first
        own.ready = False


def settle(part: Part, own: PartState, now: Situation) -> None:
    """Bring the span and its turnings up to date, and see whether the part is met at the present instant."""
    if isinstance(part, Run):
        run_ms = _run_ms(now)
        own.longest_ms = max(own.longest_ms, run_ms)
        own.span = now.run_start if now.last_hold == now.now else None
        fulfilled = own.span is not None and run_ms >= part.duration_ms
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
        own.span = first_open if own.first_day is None else own.first_day
        fulfilled = own.days >= part.count
    own.turnings = 0
    if own.span is not None and now.last_hold is not None:
        own.turnings = len(counted_turnings(now.turnings, wanted_turnings(part), own.span, now.last_hold))
    if fulfilled and _enough_turnings(part, own):
        own.final = _numbers(part, own, now)
        own.met_at = _time(now)


def _enough_turnings(part: Part, own: PartState) -> bool:
    wanted = wanted_turnings(part)
    return wanted is None or own.turnings >= wanted.count


def needed_turnings(part: Part) -> int:
    """Return how many turnings a part asks for."""
    if isinstance(part, RunBeforeTurnings):
        return part.count
    wanted = wanted_turnings(part)
    return 0 if wanted is None else wanted.count


def turnings_apart(part: Part) -> int:
    """Return how long after one turning a part counts the next, ms; 0 where it does not say."""
    if isinstance(part, RunBeforeTurnings):
        return part.duration_ms
    wanted = wanted_turnings(part)
    return 0 if wanted is None else wanted.apart_ms


def numbers(part: Part, own: PartState, now: Situation) -> Numbers:
    """Return the part's plain numbers, those of `Judged.values`."""
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


def look_again(part: Part, own: PartState, now: Situation, recovery_ms: int) -> int | None:
    """Return an instant before which the part cannot be met if nothing but time passes; None if it cannot at all."""
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
    enough_known = now.known_ms - day.known_before_ms >= part.least_ms
    excused = not now.proven or (now.recovering and now.turned is not None and over <= now.turned + recovery_ms)
    return over if left == 1 and enough_known and not day.bad and excused else None
