"""A second, slow judge that starts from readings: cells of one unit of time, of several probes, on any basis.

Shares no code with monitor.proof. Whoever uses it sees to it that all lines bend and cross at whole units and that
between two of them every temperature is straight; so a cell is known by its two ends, and its mean is their mean.
All values at whole units are multiples of 250, so that floating point holds them exactly.
Readings, service, spans and durations are in units (which are the evaluator's milliseconds), values in thousandths.
"""

import itertools
import math
from dataclasses import dataclass, field

import proof_grid

FAR = 10**9


@dataclass
class Thing:
    """Something wanted in a window: run, total or mean, at or above (strict: above) a temperature, for so long."""

    kind: str
    low: int
    strict: bool = False
    long: int = 0


@dataclass
class Wish:
    kind: str  # window, before, constant, grid (run, total or days, by the other judge)
    low: int
    strict: bool = False
    span: int = 0
    things: list = field(default_factory=list)
    long: int = 0
    count: int = 0
    numerator: int = 0
    floor: int = 0
    below: int | None = None
    want: proof_grid.Want | None = None
    together: int = 6


def cells_of(probes, max_gap, length, basis):
    """The governing temperature at both ends of each cell, or None where it is not proven."""
    cells: list[tuple | None] = []
    own_of = [
        [(pair, [(t, v) for t, v in readings if pair[0] <= t < pair[1]]) for pair in service]
        for readings, service in probes
    ]
    for k in range(length):
        ends, known, there = [[], []], True, 0
        for stretches in own_of:
            own = next((some for (a, b), some in stretches if a <= k and k + 1 <= b), None)
            if own is None:
                continue
            there += 1
            line = next(
                (two for two in itertools.pairwise(own) if two[0][0] <= k < two[1][0] <= two[0][0] + max_gap), None
            )
            if line is None:
                known = False
                continue
            (t0, v0), (t1, v1) = line
            for n in (0, 1):
                ends[n].append(v0 + (v1 - v0) * (k + n - t0) / (t1 - t0))
        if not known or not there:
            cells.append(None)
        elif basis == "mean":
            cells.append(tuple(sum(one) / len(one) for one in ends))
        else:
            cells.append(tuple(min(one) for one in ends))
    return cells


def inside(cell, low, strict, hoped):
    if cell is None:
        return hoped
    return all(one > low if strict else one >= low for one in cell)


def longest_run(cells, first, last, low, strict, hoped):
    best = now = 0
    for k in range(first, last):
        now = now + 1 if inside(cells[k], low, strict, hoped) else 0
        best = max(best, now)
    return best


def thing_there(thing, cells, start, end, since, hoped):
    first = max(start, since)
    if thing.kind == "run":
        return longest_run(cells, first, end, thing.low, thing.strict, hoped) >= thing.long
    if thing.kind == "total":
        return sum(inside(cells[k], thing.low, thing.strict, hoped) for k in range(first, end)) >= thing.long
    if start < since or (not hoped and any(cells[k] is None for k in range(start, end))):
        return False
    excess = sum((cells[k][0] + cells[k][1]) / 2 - thing.low for k in range(start, end) if cells[k] is not None)
    lucky = any(cells[k] is None for k in range(start, end))
    return excess > 0 or (excess == 0 and (lucky or not thing.strict))


def first_met(wish, cells, turnings, since, length, hoped):
    """The first instant at which the wish is fulfilled, or None."""
    if wish.kind == "before":
        return before_met(wish, cells, turnings, since, length, hoped)
    if wish.kind == "constant":
        return constant_met(wish, cells, since, length, hoped)
    for end in range(since, length + 1):
        if all(thing_there(one, cells, end - wish.span, end, since, hoped) for one in wish.things):
            return end
    return None


def before_met(wish, cells, turnings, since, length, hoped):
    count, last = 0, since
    own = set(proof_grid.one_by_one(turnings, wish.together))
    for at in sorted(turnings):
        if since <= at <= length:
            count += at in own and longest_run(cells, last, at, wish.low, wish.strict, hoped) >= wish.long
            if count == wish.count:
                return at
            last = at
    return None


def duration(wish, milli):
    return math.ceil(wish.numerator * 86_400_000 / 10 ** (0.14 * milli / 1000) - 1e-9)


def constant_met(wish, cells, since, length, hoped):
    best = None
    for start in range(since, length):
        lowest = FAR
        for end in range(start + 1, length + 1):
            cell = cells[end - 1]
            if cell is None and not hoped:
                break
            if cell is not None:
                lowest = min(lowest, *cell)
            t = min(math.floor(lowest), 100_000)
            if t < wish.low:
                break
            wanted = duration(wish, t)
            if (wish.below is None or wanted < wish.below) and end - start >= max(wanted, wish.floor):
                best = end if best is None else min(best, end)
                break
    return best


def verdict(wish, cells, turnings, since, length):
    at = first_met(wish, cells, turnings, since, length, hoped=False)
    if at is not None:
        return "met", at
    hoped = first_met(wish, cells, turnings, since, length, hoped=True)
    return ("not met" if hoped is None else "not proven"), None


def intervals(flags):
    """The cells that are set, as closed intervals."""
    found = []
    for k, flag in enumerate(flags):
        if flag and found and found[-1][1] == k:
            found[-1] = (found[-1][0], k + 1)
        elif flag:
            found.append((k, k + 1))
    return found


def begun_by_falls(probes, turnings):
    """Where the falls began that belong to turnings: all readings here lie within two hours, and within half an hour."""
    begun = {}
    for readings, service in probes:
        for start, end in service:
            own = [(t, v) for t, v in readings if start <= t < end]
            for logged in turnings:
                for j in range(len(own)):
                    higher = [i for i in range(j) if own[i][1] >= own[j][1] + 5000]
                    if not higher:
                        continue
                    i = higher[-1]
                    while i and own[i - 1][1] > own[i][1]:
                        i -= 1
                    if own[i][0] < logged:
                        begun[logged] = min(begun.get(logged, logged), own[i][0])
    return begun


def grid_verdict(wish, cells, turnings, since, length, begun):
    proven = intervals([cell is not None for cell in cells])
    hold = intervals([inside(cell, wish.low, wish.strict, False) for cell in cells])
    known, held = (proof_grid.cells_of(one, length) for one in (proven, hold))
    return proof_grid.ruling(wish.want, known, held, turnings, length, since, begun)


ORDER = ["met", "not proven", "not met"]


def verdict_of(wish, probes, turnings, since, length, max_gap, basis):
    """The verdict and when it was met, on any basis."""
    groups = [[one] for one in probes] if basis == "each" else [probes]
    cells = [cells_of(group, max_gap, length, basis) for group in groups]
    if wish.kind == "grid":
        begun = begun_by_falls(probes, turnings)
        found = [grid_verdict(wish, one, turnings, since, length, begun) for one in cells]
    else:
        found = [verdict(wish, one, turnings, since, length) for one in cells]
    return max(found, key=lambda one: (ORDER.index(one[0]), one[1] or 0))
