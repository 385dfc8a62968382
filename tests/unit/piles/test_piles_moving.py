"""The limits that move with ambient and with a heap's own past, to the millisecond at which its line passes them."""

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import ceil

import pytest
from piles_script import LIMITS, T0, H, make_walk

from monitor.piles import ChangeKind, Reason

MIN = H // 60
QUICK = replace(LIMITS, ready_age_ms=H, ready_dwell_ms=12 * H, cooling_dwell_ms=4 * H, no_rule_hold_ms=5 * H)


def walked(knots, every, *, air=17_500):
    """The changes of a heap read every so many minutes along knots (hour, degC) in level air; and its readings."""
    walk = make_walk(thresholds=QUICK)
    walk.probe_in("a", T0)
    for hour in range(-200, round(knots[-1][0]) + 1):
        walk.ambient(T0 + hour * H, air)
    readings, changes = [], []
    for minute in range(0, round(knots[-1][0] * 60), every):
        (start, low), (end, high) = next(two for two in pairwise(knots) if two[0][0] * 60 <= minute < two[1][0] * 60)
        readings.append((T0 + minute * MIN, round(1000 * (low + (high - low) * (minute / 60 - start) / (end - start)))))
        walk.reading("a", *readings[-1])
        changes += walk.advance()
    return changes, readings


def passed(readings, limit, *, down):
    """The first ms at which the line is at or below a limit (or at or above it) when it passes it for the last time."""
    for (t0, v0), (t1, v1) in reversed(list(pairwise(readings))):
        if (v0 > limit >= v1) if down else (v0 < limit <= v1):
            return ceil(t0 + Fraction((limit - v0) * (t1 - t0), v1 - v0))
    raise AssertionError("it never passes")


ENDS = [14 + 0.37 * n for n in range(12)]


@pytest.mark.parametrize("every", [20, 70, 119])
@pytest.mark.parametrize("end_h", ENDS)
def test_cool_enough_counts_from_the_very_instant_at_which_the_line_passes_the_limit(end_h, every):
    # Ambient 17.5 degC: the limit is 8 degC above it.
    changes, readings = walked([(0, 60), (10, 60), (end_h, 20), (60, 20)], every)
    (ready,) = [one.since for one in changes if one.reason is Reason.COOL_ENOUGH]
    assert ready == passed(readings, 25_500, down=True) + 12 * H


@pytest.mark.parametrize("every", [20, 70, 119])
@pytest.mark.parametrize("end_h", ENDS)
def test_reheating_is_told_at_the_very_instant_at_which_the_line_reaches_its_limit(end_h, every):
    # Cools to 44 degC and comes up again: 5 degC above the lowest hour.
    changes, readings = walked([(0, 60), (10, 60), (13, 44), (end_h + 14, 44), (end_h + 24, 52), (52, 52)], every)
    (told,) = [one.since for one in changes if one.kind is ChangeKind.REHEATING]
    assert told == passed(readings, 49_000, down=False)


def test_a_probe_that_fell_silent_for_good_has_no_say_in_the_lowest_hour():
    # Both cool to 48 degC; b falls silent at 20 h and is absent 6 h later; a cools on to 43 degC and comes up again.
    walk = make_walk(thresholds=QUICK)
    for probe in "ab":
        walk.probe_in(probe, T0)
    changes = []
    knots = [(0, 60), (10, 60), (13, 48), (22, 48), (30, 43), (44, 43), (54, 53), (60, 53)]
    for minute in range(0, 60 * 60, 20):
        (start, low), (end, high) = next(two for two in pairwise(knots) if two[0][0] * 60 <= minute < two[1][0] * 60)
        milli = round(1000 * (low + (high - low) * (minute / 60 - start) / (end - start)))
        for probe in "ab" if minute <= 20 * 60 else "a":
            walk.reading(probe, T0 + minute * MIN, milli)
        changes += walk.advance()
    (told,) = [one.since for one in changes if one.kind is ChangeKind.REHEATING]
    assert told == T0 + 49 * H  # 48 degC: 5 above the lowest hour of a
