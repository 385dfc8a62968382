"""Judges a constant temperature: at or above some t for at least D(t), the hotter the shorter.

Rules this module keeps:

1. t is any whole thousandth of a degree Celsius from the alternative's lower limit up to 100 °C. For a varying record
   the interval counts at the least temperature in it: it is held at or above t from end to end.
2. D(t) = numerator / 10^(k * t) days is rounded up to the millisecond. It is worked out with 60 decimal digits; where it
   is not a whole number of days over a power of ten it is irrational, so rounding up cannot hit a tie.
3. The best t is found exactly. The higher t, the shorter every hold and the shorter D. So over a range of t the
   holds at its lowest and the D at its highest bound what any t between can do; ranges that cannot beat the
   best t found so far are dropped and the others halved, down to single thousandths.
4. Of all t the one by which the rule is met first is told. The sum of fractions of D over a varying temperature is
   another thing, and no part of this rule.

Source of the equation: 40 CFR 503.32(a)(3), read in 15A NCAC 02T .1106 (seen second hand; standards 1.2).
"""

from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Context, Decimal
from heapq import heappop, heappush

from monitor.model.times import DAY_MS, show_duration
from monitor.model.units import plain_number, show_temperature
from monitor.proof.counting import Numbers, hours
from monitor.proof.governing import Course
from monitor.proof.intervals import Intervals, cut, lasting, longest
from monitor.proof.judging.judged_record import Judged, Record, hopeful
from monitor.proof.rules import Constant

HIGHEST_MILLI_C = 100_000
"""The highest t that is tried, thousandths of a degree Celsius."""

_DIGITS = Context(prec=60)


def needed_ms(part: Constant, milli_c: int) -> int:
    """Return D(t), or the floor where that is longer, rounded up to the ms.

    Args:
        part: The equation.
        milli_c: t, thousandths of a degree Celsius.
    """
    return max(_equation_ms(part, milli_c), part.floor_ms)


def _equation_ms(part: Constant, milli_c: int) -> int:
    exponent = _DIGITS.divide(Decimal(part.per_degree_milli * milli_c), Decimal(1_000_000))
    duration = _DIGITS.divide(Decimal(part.numerator_days * DAY_MS), _DIGITS.power(Decimal(10), exponent))
    return int(duration.to_integral_value(rounding=ROUND_CEILING))


def lowest_milli_c(part: Constant, low_milli_c: int) -> int:
    """Return the lowest t that counts: the alternative's lower limit, or where D first falls below `below_ms`."""
    if part.below_ms is None or _equation_ms(part, low_milli_c) < part.below_ms:
        return low_milli_c
    fails, does = low_milli_c, HIGHEST_MILLI_C
    while does - fails > 1:
        middle = (fails + does) // 2
        fails, does = (fails, middle) if _equation_ms(part, middle) < part.below_ms else (middle, does)
    return does


def judge_constant(part: Constant, record: Record) -> Judged:
    """Return the result of a constant temperature.

    Raises:
        ValueError: The record has no temperatures (`course`).
    """
    if record.course is None:
        raise ValueError("a constant temperature cannot be judged without the readings themselves (`course`)")
    found = _first(part, record, record.course)
    if found is not None:
        milli_c, start, met_at = found
        words = f"at {_degrees(milli_c)} or above {show_duration(met_at - start)} are needed"
        return Judged(met_at=met_at, values=_numbers(part, milli_c, met_at - start), span=start, words=words)
    closest = _closest(part, record, record.course) if record.truth is None else None
    if closest is None:
        return Judged(met_at=None, values={}, words="never proven within these limits")
    milli_c, lasted = closest
    words = (
        f"closest at {_degrees(milli_c)}: longest proven run {show_duration(lasted)}, where "
        f"{show_duration(needed_ms(part, milli_c))} are needed"
    )
    return Judged(met_at=None, values=_numbers(part, milli_c, lasted), words=words)


def _numbers(part: Constant, milli_c: int, lasted: int) -> Numbers:
    return {"longest_run_h": hours(lasted), "needed_h": hours(needed_ms(part, milli_c)), "at_c": plain_number(milli_c)}


def _degrees(milli_c: int) -> str:
    return f"{plain_number(milli_c)} °C ({show_temperature(milli_c, 'degF')})"


def _hold(record: Record, course: Course, milli_c: int, start: int, end: int) -> Intervals:
    """Return the hold at or above one t between two instants."""
    limits = replace(record.limits, low_milli_c=milli_c)
    hold = () if limits.hopeless else cut(course.hold(limits), start, end)
    # The proven set is not cut here: a cut could turn an interval into a single instant, which stands for a single reading.
    return hold if record.truth is None else hopeful(hold, record.truth.proven, start, end)


@dataclass(frozen=True, slots=True)
class _Range:
    """All t from `low` to `high`.

    Attributes:
        low, high: Thousandths of a degree Celsius.
        runs: The holds at `low` that are long enough for `high`; one at least.
        course: The course, as far as these holds reach.
        bound: Instant before which none of these t is met.
    """

    low: int
    high: int
    runs: Intervals
    course: Course
    bound: int


def _range(part: Constant, hold: Intervals, course: Course, low: int, high: int) -> list[_Range]:
    """Return a range of t as far as its holds are long enough for any of them; nothing where none is."""
    least = needed_ms(part, high)
    runs = lasting(hold, least)
    if not runs:
        return []
    # A hold at a higher t lies within one of these.
    return [_Range(low, high, runs, course.between(runs[0][0], runs[-1][1]), runs[0][0] + least)]


def _halves(part: Constant, record: Record, one: _Range) -> list[_Range]:
    if one.low == one.high:
        return []
    middle = (one.low + one.high) // 2
    upper = _hold(record, one.course, middle + 1, one.runs[0][0], one.runs[-1][1])
    return [
        *_range(part, one.runs, one.course, one.low, middle),
        *_range(part, upper, one.course, middle + 1, one.high),
    ]


def _first(part: Constant, record: Record, course: Course) -> tuple[int, int, int] | None:
    """Return (t, start of the run, when it is met) for the t that is met first, or None."""
    best: tuple[int, int, int] | None = None
    low = lowest_milli_c(part, record.limits.low_milli_c)
    waiting: list[tuple[int, int, _Range]] = []
    todo = _range(part, _hold(record, course, low, record.start, record.end), course, low, HIGHEST_MILLI_C)
    while True:
        for one in todo:
            if best is None or one.bound < best[2]:
                heappush(waiting, (one.bound, one.low, one))
        if not waiting or (best is not None and waiting[0][0] >= best[2]):
            return best
        _, _, one = heappop(waiting)
        need = needed_ms(part, one.low)
        enough = lasting(one.runs, need)
        if enough and (best is None or enough[0][0] + need < best[2]):
            best = (one.low, enough[0][0], enough[0][0] + need)
        todo = _halves(part, record, one)


def _closest(part: Constant, record: Record, course: Course) -> tuple[int, int] | None:
    """Return about the t whose longest run comes closest to the run that is needed, and its length, ms; for words."""
    low = lowest_milli_c(part, record.limits.low_milli_c)
    best: tuple[int, int] | None = None
    tried = range(low, HIGHEST_MILLI_C + 1, 1000)
    for step in (1000, 100):
        for milli_c in tried:
            run = longest(_hold(record, course, milli_c, record.start, record.end))
            if run is None:
                break
            lasted = run[1] - run[0]
            if best is None or lasted * needed_ms(part, best[0]) > best[1] * needed_ms(part, milli_c):
                best = (milli_c, lasted)
        if best is None:
            return None
        tried = range(max(low, best[0] - step + 100), best[0] + step, 100)
    return best
