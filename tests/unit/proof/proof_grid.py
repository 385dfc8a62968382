"""A second, slow judge for the tests: a one-second grid of instants and of the open seconds between them.

Shares no code with monitor.proof. Cell 2k is the instant of second k, cell 2k+1 the open second after it; whoever
uses it sees to it that everything changes at whole seconds only.
"""

import itertools
from dataclasses import dataclass
from fractions import Fraction


@dataclass
class Want:
    kind: str  # run, total, days
    amount: int  # seconds or days
    turnings: int = 0
    apart: int = 0
    consecutive: bool = False
    day: int = 24
    least: int = 12
    recovery: int = 24
    together: int = 6


def cells_of(intervals, seconds):
    cells = [False] * (2 * seconds + 1)
    for start, end in intervals:
        for g in range(max(0, 2 * start), min(2 * seconds, 2 * end) + 1):
            cells[g] = True
    return cells


def greedy(turnings, first, last, apart):
    found = []
    for at in sorted(turnings):
        if first <= at <= last and (not found or at - found[-1] >= apart):
            found.append(at)
    return len(found)


def one_by_one(entries, together):
    """Of logged entries, those that are a turning of their own: the others come less than `together` after such a one."""
    own = []
    for at in sorted(entries):
        if all(at < first or at >= first + together for first in own):
            own.append(at)
    return own


def recovery_cells(hold, turnings, recovery):
    cells = [False] * len(hold)
    for at in turnings:
        for g in range(2 * at, min(len(hold) - 1, 2 * (at + recovery)) + 1):
            if g > 2 * at and hold[g] and not hold[g - 1]:
                break
            cells[g] = True
    return cells


def instants(cells, upto):
    return [g // 2 for g in range(0, 2 * upto + 1, 2) if cells[g]]


def met_by(want, proven, hold, turnings, recover, t, since=0):
    """Whether the record known up to second t fulfils what is wanted."""
    turnings = [at for at in one_by_one(turnings, want.together) if since <= at <= t]
    held = [at for at in instants(hold, t) if at >= since]
    if want.kind == "run":
        return run_met(want, hold, turnings, t, since)
    if want.kind == "total":
        lasted = sum(1 for k in range(since, t) if hold[2 * k + 1])
        count = greedy(turnings, held[0], held[-1], want.apart) if held else 0
        return lasted >= want.amount and count >= want.turnings
    bad = [p and not h and not r for p, h, r in zip(proven, hold, recover, strict=True)]
    days, begin = days_counted(want, hold, bad, held, t)
    count = greedy(turnings, begin, held[-1], want.apart) if begin is not None and held else 0
    return days >= want.amount and count >= want.turnings


def run_met(want, hold, turnings, t, since):
    start = None
    for k in range(since, t + 1):
        if not hold[2 * k]:
            start = None
            continue
        if start is None or not hold[2 * k - 1]:
            start = k
        if k - start >= want.amount and greedy(turnings, start, k, want.apart) >= want.turnings:
            return True
    return False


def days_counted(want, hold, bad, held, t):
    """How many days count, and where the span begins in which turnings count."""
    days, first = 0, None
    at = held[0] if held else None
    while at is not None:
        over = at + want.day
        span = range(2 * at, min(2 * over, 2 * t))
        known = sum(1 for g in span if g % 2 and (hold[g] or bad[g]))
        wrong = [g for g in span if bad[g]]
        if known < want.least:
            if over > t:
                break
            at = over
        elif wrong:
            if want.consecutive:
                days, first = 0, None
            # the first hold instant after the wrong one
            at = next((k for k in held if 2 * k > wrong[0]), None)
        elif over > t:
            break
        else:
            days += 1
            first = at if first is None else first
            at = over
    return days, first if first is not None else at


def ruling(want, proven, hold, turnings, seconds, since=0):
    """The verdict and the first second at which it was met."""
    at = first_met(want, proven, hold, turnings, recovery_from(want, hold, turnings, since), seconds, since)
    if at is not None:
        return "met", at
    hoped, all_proven = benefit(proven, hold, seconds, since)
    recover = recovery_from(want, hold, turnings, since)
    if first_met(want, all_proven, hoped, turnings, recover, seconds, since) is not None:
        return "not proven", None
    return "not met", None


def recovery_from(want, hold, turnings, since):
    own = [h and g >= 2 * since for g, h in enumerate(hold)]
    return recovery_cells(own, [at for at in turnings if at >= since], want.recovery)


def first_met(want, proven, hold, turnings, recover, seconds, since):
    for t in range(since, seconds + 1):
        if met_by(want, proven, hold, turnings, recover, t, since):
            return t
    return None


def benefit(proven, hold, seconds, since):
    hoped = list(hold)
    for g in range(2 * since, 2 * seconds + 1):
        if not proven[g]:
            hoped[g] = True
    for k in range(since, seconds + 1):
        around = [g for g in (2 * k - 1, 2 * k + 1) if 2 * since <= g <= 2 * seconds]
        if proven[2 * k] and not hold[2 * k] and not any(proven[g] for g in around):
            # one cold reading by itself: nothing may run through it, and hopes end a grid step away
            for g in around:
                hoped[g] = False
            hoped[2 * k] = False
    closed = list(hoped)
    for g in range(2 * since + 1, 2 * seconds, 2):
        if hoped[g]:
            closed[g - 1] = closed[g + 1] = True
    return closed, [True] * len(proven)


def sets_of(probes, low, high, max_gap, seconds):
    """(proven, hold) cells of several probes by the coldest and the hottest; a probe is (readings, service)."""
    proven, hold = [], []
    for g in range(2 * seconds + 1):
        at = Fraction(g, 2)
        values, known, any_in = [], True, False
        for readings, service in probes:
            if not any(start <= at < end for start, end in service):
                continue
            any_in = True
            value = value_at(readings, service, at, max_gap)
            if value is None:
                known = False
            else:
                values.append(value)
        known = known and any_in
        proven.append(known)
        hold.append(known and min(values) >= low and (high is None or max(values) <= high))
    return proven, hold


def value_at(readings, service, at, max_gap):
    for start, end in service:
        if not start <= at <= end:
            continue
        # What is read at the very instant of going out is not of the heap.
        own = [(t, v) for t, v in readings if start <= t < end]
        for t, v in own:
            if t == at:
                return Fraction(v)
        for (t0, v0), (t1, v1) in itertools.pairwise(own):
            if t0 < at < t1 and t1 - t0 <= max_gap:
                return v0 + (v1 - v0) * (at - t0) / (t1 - t0)
    return None
