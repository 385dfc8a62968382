"""The state that a tracker keeps of a batch and of each part of its rule: plain values that can be written as JSON."""

from dataclasses import dataclass, field

from monitor.proof.counting import Numbers


@dataclass(slots=True)
class Situation:
    """The present situation of a batch, and the sums that all parts share; instants are UTC ms.

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
        recoveries: (turning, last instant) of each recovery that goes on; the turning may still be to come.
        announced: Turnings still to come whose recovery has begun, and those of the present instant.
        turnings: Turnings that may still count, in order, each by the first entry of its group.
        point: Instant at which the temperature became known while not within the limits, until time passes.
        total_ms: Time in the hold.
        dark_since: Start of the unproven stretch outside recovery that goes on, or None.
        dark_ms: Time unproven outside recovery.
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
    recoveries: list[tuple[int, int]] = field(default_factory=list)
    announced: list[int] = field(default_factory=list)
    turnings: list[int] = field(default_factory=list)
    point: int | None = None
    total_ms: int = 0
    dark_since: int | None = None
    dark_ms: int = 0


@dataclass(slots=True)
class OpenDay:
    """A day that is not decided.

    Attributes:
        start: Its first instant, UTC ms.
        hold_before_ms, dark_before_ms: `Situation.total_ms` and `dark_ms` at its start.
        bad: Whether an instant in it was proven, outside recovery and not in the hold.
        dark: Whether too much of it is unproven.
    """

    start: int
    hold_before_ms: int = 0
    dark_before_ms: int = 0
    bad: bool = False
    dark: bool = False


@dataclass(slots=True)
class DroppedDay:
    """A day that was decided and does not count: its start, UTC ms, and what came of it."""

    start: int
    kind: str


@dataclass(slots=True)
class PartState:
    """The progress of one part.

    Attributes:
        met_at: When it was met, UTC ms, or None.
        final: Its numbers as of then.
        span: Start of the span in which its turnings count, or None.
        turnings: Turnings that count.
        longest_ms: Longest hold.
        days: Days that count.
        recovery: Of each day that could count, how much of it was recovery, ms (`recovery_share`).
        first_day: Start of the first of them.
        open: The day that is not decided; and, if it fails, the one that then takes its place.
        pending: A day that is over, and could count if the unproven stretch in which it ended is not too long; or None.
        pending_recovery_ms: How much of that day was recovery.
        dropped: The last day that failed, unless it was taken back (in older states also days before it, and unproven ones).
        before: Turnings with a long enough run before them.
        ready: Whether there was such a run since the last turning.
    """

    met_at: int | None = None
    final: Numbers = field(default_factory=dict)
    span: int | None = None
    turnings: int = 0
    longest_ms: int = 0
    days: int = 0
    recovery: list[int] = field(default_factory=list)
    first_day: int | None = None
    open: list[OpenDay] = field(default_factory=list)
    pending: int | None = None
    pending_recovery_ms: int = 0
    dropped: list[DroppedDay] = field(default_factory=list)
    before: int = 0
    ready: bool = False
