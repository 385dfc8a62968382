"""Holding and cooling against a slow second opinion: a grid of whole minutes, no code shared with the walk.

Readings lie on whole minutes, so that a crossing that the grid cannot see is at most a minute away.
"""

import random
from dataclasses import replace
from itertools import pairwise

import pytest
from piles_script import LIMITS, T0, TotalTracker, make_walk

from monitor.model.words import Phase
from monitor.piles import ChangeKind

MIN = 60_000
HOLD, UNDER, WARM = 55_000, 54_500, 40_000
QUICK = replace(LIMITS, cooling_dwell_ms=240 * MIN, gave_up_dwell_ms=300 * MIN, no_rule_hold_ms=600 * MIN)


def random_record(rng):
    record = {}
    for name in "ab"[: rng.randint(1, 2)]:
        minute, value, readings = 0, rng.choice([30, 53, 57]), []
        aim = value
        while minute < 3000:
            readings.append((minute, value * 1000 + rng.choice([-250, 250])))
            if rng.random() < 0.08:
                aim = rng.choice([35, 45, 53, 57, 62])
            minute += rng.choice([20, 30, 60]) if rng.random() < 0.985 else rng.choice([121, 200])
            value += (aim > value) * rng.randint(0, 6) - (aim < value) * rng.randint(0, 6)
        record[name] = readings
    return record


def grid(readings, minutes):
    """Temperature at each whole minute, None where unproven."""
    line = [None] * minutes
    for (start, low), (end, high) in pairwise(readings):
        if end - start <= 120:
            for minute in range(start, min(end + 1, minutes)):
                line[minute] = low + (high - low) * (minute - start) / (end - start)
        else:
            line[start] = low
            if end < minutes:
                line[end] = high
    return line


def slow_opinion(record, slack=0):
    """(phase, minute) of each change, by stepping through whole minutes, dwells longer by `slack` minutes."""
    minutes = min(readings[-1][0] for readings in record.values()) + 1
    lines = [grid(readings, minutes) for readings in record.values()]
    phase, found = "heating", []
    run = dict.fromkeys(("at", "hot", "apart", "under", "cold"), 0)
    held = peaked = False
    for minute in range(minutes):
        values = [line[minute] for line in lines]
        known = [value for value in values if value is not None]
        whole = len(known) == len(values)
        so = {
            "at": whole and min(known) >= HOLD,
            "hot": bool(known) and max(known) >= HOLD,
            "apart": bool(known) and min(known) < UNDER <= max(known),
            "under": whole and max(known) < UNDER,
            "cold": whole and max(known) < WARM,
        }
        peaked = peaked or (bool(known) and max(known) >= WARM)
        run = {key: run[key] + 1 if value else 0 for key, value in so.items()}
        after = phase
        if phase != "holding" and run["at"] > 60 + slack:
            after = "holding"
        elif (phase == "cooling" and run["hot"] > 60 + slack) or (phase == "holding" and run["apart"] > 60 + slack):
            after = "heating"
        elif (phase != "cooling" and held and run["under"] > 240 + slack) or (
            phase == "heating" and not held and peaked and run["cold"] > 300 + slack
        ):
            after = "cooling"
        if after != phase:
            phase = after
            held = held or phase == "holding"
            found.append((phase, minute))
    return found


@pytest.mark.parametrize("seed", range(80))
def test_the_walk_agrees_with_a_slow_opinion(seed):
    record = random_record(random.Random(seed))
    expected = slow_opinion(record)
    near = [slow_opinion(record, slack) for slack in (-2, 2)]
    # A dwell that is complete or broken within the grid's own minute is not for a grid to judge. (Nor is one that is
    # handed from probe to probe within a minute, as in seed 563: the seeds are fixed so that none does that.)
    if any([phase for phase, _ in other] != [phase for phase, _ in expected] for other in near):
        return
    if any(later - sooner > 4 for (_, sooner), (_, later) in zip(*near, strict=True)):
        return
    walk = make_walk(tracker=TotalTracker(), thresholds=QUICK)
    for probe in record:
        walk.probe_in(probe, T0)
    changes = []
    for minute, name, value in sorted((m, probe, v) for probe in record for m, v in record[probe]):
        walk.reading(name, T0 + minute * MIN, value)
        changes += walk.advance()
    got = [(str(c.after), (c.since - T0) / MIN) for c in changes if c.kind is ChangeKind.PHASE and c.before is not None]
    assert [phase for phase, _ in got] == [phase for phase, _ in expected]
    for (_, exact), (_, minute) in zip(got, expected, strict=True):
        # The grid counts whole minutes: it sees a dwell begin up to a minute late.
        assert minute - 1 <= exact <= minute + 1
    assert walk.state.phase in set(Phase)
