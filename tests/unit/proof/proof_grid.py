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
    dark: int = 2
    gap: int = 99
    recovery: int = 24
    onset: int = 2
    together: int = 6
    share: int = 4


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


def recovery_cells(hold, entries, recovery, onset):
    """From each entry (logged, begun) on, until a hold begins after it or has run on through it, at most so long."""
    cells = [False] * len(hold)
    for logged, begun in entries:
        through = range(2 * logged, 2 * (logged + onset) + 1)
        runs_on = through[-1] < len(hold) and all(hold[g] for g in through)
        for g in range(2 * begun, min(len(hold) - 1, 2 * (begun + recovery)) + 1):
            if g > 2 * logged and hold[g] and not hold[g - 1]:
                break
            if runs_on and g > through[-1]:
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
    days, begin = days_counted(want, proven, hold, recover, held, t)
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


def days_counted(want, proven, hold, recover, held, t):
    """How many days count by second t (in a row, where they must follow one another), and where turnings begin to count."""
    wrong = [p and not h and not r for p, h, r in zip(proven, hold, recover, strict=True)]
    dark = [not p and not r for p, r in zip(proven, recover, strict=True)]
    # The length of the unproven stretch to which each open second belongs, as far as it is known; and whether it goes on.
    stretch, g = {}, 2 * held[0] + 1 if held else len(dark)
    while g < 2 * t:
        run = [g] if dark[g] else []
        while run and run[-1] + 2 < 2 * t and dark[run[-1] + 1] and dark[run[-1] + 2]:
            run.append(run[-1] + 2)
        goes_on = bool(run) and run[-1] == 2 * t - 1 and dark[2 * t]
        for cell in run:
            stretch[cell] = (len(run), goes_on)
        g = run[-1] + 2 if run else g + 2
    could, first = [], None
    at = held[0] if held else None
    while at is not None:
        over = at + want.day
        span = range(2 * at, min(2 * over, 2 * t))
        unproven = [g for g in span if g % 2 and dark[g]]
        too_dark = len(unproven) > want.dark or any(stretch[g][0] > min(want.dark, want.gap) for g in unproven)
        failed_at = [g for g in span if wrong[g]]
        if failed_at[:1] == [2 * at] and at and wrong[2 * at - 1] and not wrong[2 * at + 1]:
            # The mere end of a stretch in the day before is no instant of this one.
            del failed_at[0]
        if want.consecutive and (too_dark or failed_at):
            # Left out, an unproven day would make it met where the days beside it do: then it is not proven.
            could, first = [], None
        if over > t:
            break
        if too_dark:
            at = over
        elif failed_at:
            at = next((k for k in held if 2 * k > failed_at[-1]), None)
        elif sum(1 for g in span if g % 2 and hold[g]) < want.least:
            at = over
            if want.consecutive:
                could, first = [], None
        elif dark[2 * over - 1] and dark[2 * over] and stretch[2 * over - 1][1]:
            # It ends in a stretch of which nobody knows yet how long it will be.
            break
        else:
            could.append(sum(1 for g in span if g % 2 and not hold[g] and not dark[g]))
            first = at if first is None else first
            at = over
    return most_days(want, could), first if first is not None else at


def most_days(want, recovery):
    """The most of some days (in a row, where they must be) of which not too much is recovery: every choice is tried."""
    allowed = want.amount * want.day // want.share
    if want.consecutive:
        rows = [(i, j) for i in range(len(recovery)) for j in range(i + 1, len(recovery) + 1)]
        return max((j - i for i, j in rows if sum(recovery[i:j]) <= allowed), default=0)
    sizes = (size for size in range(len(recovery), 0, -1))
    return next((n for n in sizes if any(sum(some) <= allowed for some in itertools.combinations(recovery, n))), 0)


def ruling(want, proven, hold, turnings, seconds, since=0, begun=None):
    """The verdict and the first second at which it was met; `begun` says where the fall of a turning began before it."""
    recover = recovery_from(want, hold, turnings, since, begun or {})
    at = first_met(want, proven, hold, turnings, recover, seconds, since)
    if at is not None:
        return "met", at
    hoped, all_proven = benefit(proven, hold, seconds, since)
    if first_met(want, all_proven, hoped, turnings, recover, seconds, since) is not None:
        return "not proven", None
    return "not met", None


def recovery_from(want, hold, turnings, since, begun):
    own = [h and g >= 2 * since for g, h in enumerate(hold)]
    entries = [(at, begun.get(at, at)) for at in turnings if at >= since]
    return recovery_cells(own, entries, want.recovery, want.onset)


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
        known, held = together(probes, low, high, max_gap, at, entering=True)
        if g and not (known and held):
            # What the others hold up to the instant at which a probe comes in, not read yet, lasts up to that instant.
            before = together(probes, low, high, max_gap, at, entering=False)
            known, held = known or (before[0] and proven[-1]), held or (before[1] and hold[-1])
        proven.append(known)
        hold.append(held)
    return proven, hold


def together(probes, low, high, max_gap, at, entering):
    values, any_in = [], False
    for readings, service in probes:
        if not any(start <= at < end and (entering or start < at) for start, end in service):
            continue
        any_in = True
        values.append(value_at(readings, service, at, max_gap))
    known = any_in and None not in values
    return known, known and min(values) >= low and (high is None or max(values) <= high)


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
