"""The counting of turnings, days and hours, and the plain numbers that report it."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from enum import StrEnum

from monitor.model.units import plain_number
from monitor.proof.rules import Part, Turnings, turnings_of

Numbers = dict[str, int | float]
"""Plain numbers for people and programs, by name."""


class DayKind(StrEnum):
    """The result of one day of a rule of days; stored and shown, so never renamed."""

    COUNTED = "counted"
    FAILED = "failed"
    UNPROVEN = "too much unproven"
    SHORT = "too little of it in the hold"
    RECOVERY = "too much recovery in all"
    OPEN = "not decided"


def hours(duration_ms: int) -> int | float:
    """Return a duration in hours with at most 3 decimals, rounded down so that nothing looks fulfilled too early."""
    return plain_number(duration_ms // 3600)


def counted_turnings(turnings: Sequence[int], wanted: Turnings | None, start: int, end: int) -> list[int]:
    """Return the turnings of a span that count: each far enough after the one counted before it.

    Args:
        turnings: Instants of turnings, UTC ms, in order.
        wanted: What a part asks of its turnings, or None where it asks for none; then all of them count.
        start: First instant of the span, UTC ms, included.
        end: Last instant of the span, UTC ms, included.

    Returns:
        Those that count, UTC ms, in order.
    """
    found: list[int] = []
    apart = wanted.apart_ms if wanted is not None else 0
    for at in turnings[bisect_left(turnings, start) : bisect_right(turnings, end)]:
        if not found or at - found[-1] >= apart:
            found.append(at)
    return found


def with_turnings(part: Part, counts: Numbers, turnings: int, logged: int) -> Numbers:
    """Return a part's numbers, and those of its turnings where it wants any.

    Args:
        part: What is wanted.
        counts: The part's own numbers.
        turnings: How many turnings count.
        logged: How many entries of turnings were logged.

    Returns:
        The numbers by name; turnings add `turnings`, `turnings_needed` and `turnings_logged`.
    """
    wanted = turnings_of(part)
    if wanted is None:
        return counts
    return {**counts, "turnings": turnings, "turnings_needed": wanted.count, "turnings_logged": logged}
