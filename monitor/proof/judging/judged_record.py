"""The record of a batch under one alternative of a rule, and the result of one part of it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from monitor.proof.counting import DayKind, Numbers
from monitor.proof.governing import Course
from monitor.proof.intervals import (
    Intervals,
    as_spans,
    complement,
    cut,
    difference,
    instants,
    next_start,
    normal,
    union,
)
from monitor.proof.rules import Limits


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """The record of a batch since material last came in.

    Attributes:
        start, end: Between which instants, UTC ms.
        limits: The alternative's own limits.
        hold: When it was within them.
        proven: When its temperature was known.
        turnings: When it was turned, in order; entries that are one turning stand once, at the first of them.
        logged: Every entry of a turning, in order.
        holds: When it was within other limits that a window asks for.
        course: The temperatures themselves, where they are at hand.
        falls: (logged, begun) of entries of turnings before which the probes had felt the air already; also of later ones.
        gap_ms: Longest gap across which a line is drawn.
        truth: Where this is a doubt (`hopeful`), the record itself.
    """

    start: int
    end: int
    limits: Limits
    hold: Intervals
    proven: Intervals
    gap_ms: int
    turnings: tuple[int, ...]
    logged: tuple[int, ...] = ()
    holds: Mapping[Limits, Intervals] = field(default_factory=dict)
    course: Course | None = None
    falls: tuple[tuple[int, int], ...] = ()
    truth: "Record | None" = None

    def until(self, end: int) -> "Record":
        """Return the record as it was known up to an earlier instant, UTC ms."""
        return replace(
            self,
            end=end,
            hold=cut(self.hold, self.start, end),
            proven=cut(self.proven, self.start, end),
            turnings=tuple(at for at in self.turnings if at <= end),
            logged=tuple(at for at in self.logged if at <= end),
            holds={limits: cut(hold, self.start, end) for limits, hold in self.holds.items()},
            truth=None if self.truth is None else self.truth.until(end),
        )

    def hold_at(self, limits: Limits | None) -> Intervals:
        """Return when it was within limits that the alternative states; None stands for its own."""
        return self.hold if limits is None or limits == self.limits else self.holds[limits]

    def recoveries(self, recovery_ms: int, onset_ms: int) -> Intervals:
        """Return the times of recovery of its turnings."""
        fallen = dict(self.falls)
        turnings: list[tuple[int, int | None]] = [(at, None) for at in self.logged if at not in fallen]
        turnings += [(at, since) for at, since in self.falls if since <= self.end]
        return recoveries((self.truth or self).hold, turnings, recovery_ms, onset_ms)

    def hoped(self) -> Intervals:
        """Return the time that is taken to satisfy whatever is asked of it; none of it outside a doubt."""
        return () if self.truth is None else complement(self.truth.proven, self.start, self.end)

    def hopeful(self) -> "Record":
        """Return the same record with all unproven time given the benefit of the doubt.

        A single reading beyond the limits, with gaps on both sides, stays what it was: no hold may run through it.
        Recoveries stay those of the record itself, so time that is hoped for never ends one.
        """
        return replace(
            self,
            hold=hopeful(self.hold, self.proven, self.start, self.end),
            proven=((self.start, self.end),),
            holds={limits: hopeful(hold, self.proven, self.start, self.end) for limits, hold in self.holds.items()},
            truth=self,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """A block of 24 h, and what came of it (`days`).

    Attributes:
        start, end: Its first instant, and its end or that of the record, UTC ms.
        kind: What came of it.
        failed_from, failed_until: From the first instant that fails it to the end of the last time that does, or None.
        hold_ms: How much of it was in the hold.
        unproven_ms: How much of it was unproven outside recovery; of a whole day, what is left was recovery after a turning.
        why: Why it does not count, in words, or "".
    """

    start: int
    end: int
    kind: DayKind
    failed_from: int | None
    failed_until: int | None
    hold_ms: int
    unproven_ms: int
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The result of one part of a rule.

    Attributes:
        met_at: The exact instant at which it was fulfilled, or None.
        values: Plain numbers for people and programs, as of `met_at` where it is met, else of the record's end.
        turnings: Turnings counted by then.
        span: Start of the span in which they count, or None if there is none yet.
        words: More words of this kind about the record, or "".
        days: Each day, where the part counts days.
    """

    met_at: int | None
    values: Numbers
    turnings: int = 0
    span: int | None = None
    words: str = ""
    days: tuple[Day, ...] = ()


def hopeful(hold: Intervals, proven: Intervals, start: int, end: int) -> Intervals:
    """Return a hold with all unproven time added, save around single readings beyond the limits.

    Args:
        hold: When the batch was within the limits.
        proven: When its temperature was known.
        start: Where the record begins, UTC ms.
        end: Where it ends, UTC ms.

    Returns:
        The hold as it would be if all unproven time satisfied the limits.
    """
    beyond = normal((at - 1, at + 1) for at in instants(difference(proven, hold)))
    return union(hold, difference(complement(proven, start, end), beyond))


def recoveries(
    hold: Intervals, turnings: Iterable[tuple[int, int | None]], recovery_ms: int, onset_ms: int
) -> Intervals:
    """Return the times of recovery.

    Each lasts from a turning (or from the fall before it) until a hold begins after the turning, at most `recovery_ms`
    from its beginning. Where the hold runs on through the turning for `onset_ms` the turning has not cooled the heap: then
    there is nothing to recover from any more.

    Args:
        hold: When the batch was within the limits.
        turnings: (logged, begin of the fall that belongs to it or None) for each entry.
        recovery_ms: As above.
        onset_ms: As above.

    Returns:
        The times of recovery as one set.
    """
    windows = []
    for at, since in turnings:
        begin = at if since is None else since
        ends = [begin + recovery_ms]
        back = next_start(hold, at + 1)
        if back is not None:
            ends.append(back)
        if lasts_through(hold, at, at + onset_ms):
            ends.append(at + onset_ms)
        windows.append((begin, max(begin, min(ends))))
    return normal(windows)


def lasts_through(one: Intervals, start: int, end: int) -> bool:
    """Return whether one interval of a set reaches from an instant to another.

    Args:
        one: The set.
        start: UTC ms.
        end: UTC ms.

    Returns:
        Whether both instants and all between them are in the set.
    """
    one = as_spans(one)
    place = int(one.ends.searchsorted(end, "left"))
    return place < len(one) and one[place][0] <= start
