"""What is known of a batch under one alternative of a rule, and the answer to one part of it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from monitor.model.units import plain_number
from monitor.proof.intervals import Intervals, complement, cut, difference, instants, next_start, normal, union
from monitor.proof.kinds import Limits, Part, Turnings, turnings_of

if TYPE_CHECKING:
    from monitor.proof.course import Course

Numbers = dict[str, int | float]
"""Plain numbers for people and programs, by name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What is known of a batch since material last came in.

    Attributes:
        start, end: Between which instants, UTC ms.
        limits: The alternative's own limits.
        hold: When it was within them.
        proven: When its temperature was known.
        turnings: When it was turned, in order; entries that are one turning stand once, at the first of them.
        logged: Every entry of a turning, in order.
        holds: When it was within other limits that a window asks for.
        course: The temperatures themselves, where they are at hand.
        truth: Where this is a doubt (`hopeful`), the record itself.
    """

    start: int
    end: int
    limits: Limits
    hold: Intervals
    proven: Intervals
    turnings: tuple[int, ...]
    logged: tuple[int, ...] = ()
    holds: Mapping[Limits, Intervals] = field(default_factory=dict)
    course: Course | None = None
    truth: Record | None = None

    def until(self, end: int) -> Record:
        """Return what was known of the batch up to an earlier instant."""
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

    def recoveries(self, recovery_ms: int) -> Intervals:
        """Return the times of recovery after its turnings."""
        return recoveries((self.truth or self).hold, self.logged, recovery_ms)

    def hoped(self) -> Intervals:
        """Return the time that is taken to satisfy whatever is asked of it; none of it outside a doubt."""
        return () if self.truth is None else complement(self.truth.proven, self.start, self.end)

    def hopeful(self) -> Record:
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
class Judged:
    """What came of one part.

    Attributes:
        met_at: The exact instant at which it was fulfilled, or None.
        values: Plain numbers for people and programs, as of `met_at` where it is met, else of the record's end.
        turnings: Turnings counted by then.
        span: Start of the span in which they count, or None if there is none yet.
        words: Whatever else the kind has to say of what was there, or "".
    """

    met_at: int | None
    values: Numbers
    turnings: int = 0
    span: int | None = None
    words: str = ""


def hopeful(hold: Intervals, proven: Intervals, start: int, end: int) -> Intervals:
    """Return a hold with all unproven time added, save around single readings beyond the limits."""
    beyond = normal((at - 1, at + 1) for at in instants(difference(proven, hold)))
    return union(hold, difference(complement(proven, start, end), beyond))


def hours(duration_ms: int) -> int | float:
    """Return a duration in hours with at most 3 decimals, rounded down so that nothing looks fulfilled too early."""
    return plain_number(duration_ms // 3600)


def recoveries(hold: Intervals, turnings: Sequence[int], recovery_ms: int) -> Intervals:
    """Return the times of recovery: from each turning until a hold begins after it, at most `recovery_ms`."""
    windows = []
    for at in turnings:
        back = next_start(hold, at + 1)
        windows.append((at, at + recovery_ms if back is None else min(back, at + recovery_ms)))
    return normal(windows)


def counted_turnings(turnings: Sequence[int], wanted: Turnings | None, start: int, end: int) -> list[int]:
    """Return the turnings from `start` to `end` that count: each far enough after the one counted before it."""
    found: list[int] = []
    apart = wanted.apart_ms if wanted is not None else 0
    for at in turnings[bisect_left(turnings, start) : bisect_right(turnings, end)]:
        if not found or at - found[-1] >= apart:
            found.append(at)
    return found


def with_turnings(part: Part, counts: Numbers, turnings: int, logged: int) -> Numbers:
    """Return a part's numbers, with those of its turnings where it wants any: counted, wanted, and entries logged."""
    wanted = turnings_of(part)
    if wanted is None:
        return counts
    return {**counts, "turnings": turnings, "turnings_needed": wanted.count, "turnings_logged": logged}
