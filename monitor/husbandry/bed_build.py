"""The building up of a worm bed: when it needs another lift of bedding, when it can be harvested, how long food stays in it.

1. A bed begins with 6 in of bedding. The next lift of 6 in is due once its top is 12 in or more below the rim, and never if it
   would then be deeper than 24 in; a young bed waits until it is six weeks old.
2. A bed with a grate is harvested from 16 in on, 1 to 2 in at a time: a fortnight after the last harvest, or as often as its
   own harvests come. Other kinds have no such rule.
3. Where nobody measured, there is no day, and the reason says what is missing.

Source: common practice, no published source; that a young bed waits, and the fortnight, are ours.
"""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from monitor.model.times import DAY_MS
from monitor.model.words import BinKind

LIFT_MM, BELOW_RIM_MM = 152, 305
"""6 and 12 in; depths are whole millimetres, and so are these, lest a bed measured at 16 in count as less."""
KEEP_MM = (406, 610)
AT_A_TIME_MM = (25, 51)
YOUNG_MS, BETWEEN_MS, SOONEST_MS = 42 * DAY_MS, 14 * DAY_MS, 7 * DAY_MS
LAST = 5
"""How many of its own newest harvests say how often they come."""
_LIFTED = frozenset(BinKind) - {BinKind.TRAYS}
"""Kinds of bins in which lifts lie on one another."""


class Step(StrEnum):
    """Why a lift or a harvest is due, or why nobody can say when."""

    BEGIN = "begin"
    NO_KIND = "no kind"
    NO_RULE = "no rule"
    NO_DEPTH = "no depth"
    NO_RIM = "no rim"
    YOUNG = "young"
    SUNK = "sunk"
    SINKING = "sinking"
    HIGH = "high"
    DEEP = "deep"
    SHALLOW = "shallow"


@dataclass(frozen=True, slots=True, kw_only=True)
class BedBuild:
    """A bed as it is built; None where nobody knows.

    Attributes:
        kind: The kind of its bin.
        depth_mm: Its depth.
        rim_mm: The height of the rim, from where the depth is measured.
        begun: When it was begun, UTC ms.
        empty: Whether nothing lies in it by the log.
        harvests: Its harvests in order: when (UTC ms), and how thick a layer (mm; None if unknown).
    """

    kind: BinKind | None = None
    depth_mm: float | None = None
    rim_mm: float | None = None
    begun: int | None = None
    empty: bool = False
    harvests: Sequence[tuple[int, float | None]] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """The next lift or harvest of a bed.

    Attributes:
        step: Why.
        due: From when on it can be done, UTC ms; None: not yet, or nobody can say.
        by_mm: By how much the bed must sink for a lift, or grow for a harvest; None where that is not the reason.
    """

    step: Step
    due: int | None = None
    by_mm: float | None = None


def next_lift(bed: BedBuild, now: int) -> NextStep:
    """Return when a bed needs its next lift of bedding, `now` in UTC ms."""
    missing = _missing(bed, _LIFTED)
    if missing is not None or bed.depth_mm is None:
        return NextStep(step=missing or Step.NO_DEPTH)
    highest: float = KEEP_MM[1] - LIFT_MM
    if bed.kind is not BinKind.WINDROW:
        if bed.rim_mm is None:
            return NextStep(step=Step.NO_RIM)
        highest = min(highest, bed.rim_mm - BELOW_RIM_MM)
    to_go = bed.depth_mm - highest
    old_enough = None if bed.begun is None else bed.begun + YOUNG_MS
    if to_go <= 0:
        if old_enough is not None and old_enough > now:
            return NextStep(step=Step.YOUNG, due=old_enough)
        return NextStep(step=Step.SUNK, due=now)
    rate = sinking_mm_a_day(bed.harvests)
    if rate:
        due = now + round(to_go / rate * DAY_MS)
        return NextStep(step=Step.SINKING, due=max(due, old_enough or due), by_mm=to_go)
    return NextStep(step=Step.HIGH, by_mm=to_go)


def next_harvest(bed: BedBuild, now: int) -> NextStep:
    """Return when a bed can be harvested next, `now` in UTC ms."""
    missing = _missing(bed, frozenset({BinKind.FLOW}))
    if missing is not None or bed.depth_mm is None:
        return NextStep(step=missing or Step.NO_DEPTH)
    if bed.depth_mm < KEEP_MM[0]:
        return NextStep(step=Step.SHALLOW, by_mm=KEEP_MM[0] - bed.depth_mm)
    if not bed.harvests:
        return NextStep(step=Step.DEEP, due=now)
    return NextStep(step=Step.DEEP, due=bed.harvests[-1][0] + _interval(bed.harvests))


def sinking_mm_a_day(harvests: Sequence[tuple[int, float | None]]) -> float | None:
    """Return how fast harvests lower a bed, mm a day, from the first of them to the last; None if nobody can say.

    Args:
        harvests: In order: when (UTC ms), and how thick a layer (mm; None if unknown).
    """
    if len(harvests) < 2 or harvests[-1][0] <= harvests[0][0]:
        return None
    layers = [layer for _, layer in harvests[1:]]  # the first one only begins the time
    if None in layers:
        return None
    return sum(layer or 0.0 for layer in layers) * DAY_MS / (harvests[-1][0] - harvests[0][0])


def residence_days(bed: BedBuild) -> float | None:
    """Return how many days food stays in a bed: its depth over the rate at which it is harvested; None if unknown."""
    rate = sinking_mm_a_day(bed.harvests)
    return bed.depth_mm / rate if rate and bed.depth_mm else None


def _missing(bed: BedBuild, ruled: frozenset[BinKind]) -> Step | None:
    """Return why nothing can be said of a bed; None if it can, for the kinds that have the rule."""
    if bed.empty:
        return Step.BEGIN
    if bed.kind is None:
        return Step.NO_KIND
    if bed.kind not in ruled:
        return Step.NO_RULE
    return Step.NO_DEPTH if bed.depth_mm is None else None


def _interval(harvests: Sequence[tuple[int, float | None]]) -> int:
    """Return the usual time between harvests, ms: the median of the newest, or a fortnight."""
    times = [time for time, _ in harvests[-LAST:]]
    if len(times) < 3:
        return BETWEEN_MS
    return max(SOONEST_MS, round(statistics.median(after - before for before, after in pairwise(times))))
