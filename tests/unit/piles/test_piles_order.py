"""What a walk says is a function of the set of readings and work: any order, any snapshot, any number of advances."""

import random
from dataclasses import replace
from itertools import pairwise

from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from piles_script import LIMITS, ORDER, T0, H, TotalTracker, feed, in_order, make_walk, random_streams
from pydantic import TypeAdapter

from monitor.model.words import Method
from monitor.piles import COLDEST, ChangeKind, Reason, WalkState

SHORT = replace(
    LIMITS,
    ready_age_ms=60 * H,
    ready_dwell_ms=12 * H,
    ready_pause_ms=5 * H,
    ready_ambient_span_ms=24 * H,
    cooling_dwell_ms=4 * H,
    gave_up_dwell_ms=6 * H,
    stalled_ms=20 * H,
    stalled_no_hold_ms=40 * H,
    stalled_cold_weather_ms=40 * H,
    recovery_ms=12 * H,
    turning_every_ms=10 * H,
    turning_cooled_ms=3 * H,
    cold_corner_dwell_ms=4 * H,
    unready_dwell_ms=3 * H,
    no_rule_hold_ms=10 * H,
    ready_after_turning_ms=10 * H,
)
STATE = TypeAdapter(WalkState)
TRACKER = TypeAdapter(TotalTracker)

VARIANTS = [
    {"method": Method.TURNED, "rule": (30 * H, 1)},
    {"method": Method.TURNED, "rule": None},
    {"method": Method.STATIC, "rule": (15 * H, 0)},
    # Gaps that the yard bridges and its rule does not.
    {"method": Method.TURNED, "rule": (20 * H, 1), "limits": replace(SHORT, max_gap_ms=4 * H)},
]
seeds = st.integers(0, 1 << 40)
quick = settings(deadline=None, phases=[Phase.explicit, Phase.generate], database=None)
"""No shrinking: a seed is small already."""


def begin(variant):
    tracker = TotalTracker(*variant["rule"]) if variant["rule"] else None
    return walk_of(variant, tracker), tracker


def walk_of(variant, tracker, state=None):
    limits = variant.get("limits", SHORT)
    return make_walk(state, method=variant["method"], tracker=tracker, thresholds=limits, upper=76_667)


def straight(items, variant, each=False):
    walk, _ = begin(variant)
    changes = []
    for item in in_order(items):
        feed(walk, [item])
        if each:
            changes += walk.advance()
    return changes + walk.advance(), meaning(walk.state)


def touches(walk, item):
    if item[0] == "r":
        return walk.touches_past(item[2], item[1])
    if item[0] == "round":
        return walk.touches_past(COLDEST, item[1])
    if item[0] == "u":
        return False
    if item[0] in ("in", "out"):
        return walk.service_touches_past(item[2], item[1])
    if item[0] == "air":
        return walk.ambient_touches_past(item[1])
    return walk.work_touches_past(item[1])


def meaning(state):
    """The state without how much is kept of the past, which hangs on when the record was looked at."""
    plain = STATE.dump_python(state)
    for line in plain["lines"].values():
        for name in ("times", "values", "lows", "moving_to"):
            del line[name]
    plain["lines"] = dict(sorted(plain["lines"].items()))
    # What was told of raw material before the record came to it hangs on when that was.
    del plain["gaps"], plain["air"], plain["void_told"], plain["unready_told"]
    return plain


def told(changes, other):
    """The changes that do not hang on when the record was looked at: raw material is told before the record comes to it."""
    if all(one.reason is not Reason.RAW_ADDED for one in (*changes, *other)):
        return changes
    return [one for one in changes if one.kind not in (ChangeKind.RULE, ChangeKind.PHASE)]


def any_order(seed):
    """Feed a random record in a random order, anew where the input rule says so; return got and expected."""
    rng = random.Random(seed)
    found, variant = random_streams(rng), rng.choice(VARIANTS)
    expected = straight([item for stream in found for item in stream], variant)
    walk, _ = begin(variant)
    queues = [list(stream) for stream in found]
    changes, fed = [], []
    while queues:
        ahead = rng.random() < 0.3
        queue = rng.choice(queues) if ahead else min(queues, key=lambda q: (q[0][1], ORDER[q[0][0]], str(q[0][2:])))
        for _ in range(rng.choice([1, 1, 8, 30]) if ahead else 1):
            item = queue.pop(0)
            touched = touches(walk, item)
            fed.append(item)
            if touched:
                walk, _ = begin(variant)
                changes = []
                feed(walk, in_order(fed))
            else:
                feed(walk, [item])
            if not queue:
                queues.remove(queue)
                break
        if rng.random() < 0.5:
            changes += walk.advance()
    return (changes + walk.advance(), meaning(walk.state)), expected


def with_snapshots(seed):
    rng = random.Random(seed)
    found, variant = random_streams(rng), rng.choice(VARIANTS)
    items = in_order([item for stream in found for item in stream])
    expected = straight(items, variant)
    walk, tracker = begin(variant)
    changes = []
    for item, following in pairwise([*items, ("r", 1 << 50)]):
        feed(walk, [item])
        # What is of one instant is fed before the record is examined (`work_touches_past`).
        if rng.random() < 0.3 and following[1] > item[1]:
            changes += walk.advance()
        if rng.random() < 0.2:
            state = STATE.validate_json(STATE.dump_json(walk.state))
            assert STATE.dump_json(state) == STATE.dump_json(walk.state)
            if tracker is not None:
                tracker = TRACKER.validate_json(TRACKER.dump_json(tracker))
            walk = walk_of(variant, tracker, state)
    return (changes + walk.advance(), meaning(walk.state)), expected


@settings(quick, max_examples=80)
@given(seeds)
def test_any_order_with_the_input_rule_says_the_same(seed):
    got, expected = any_order(seed)
    assert told(got[0], expected[0]) == told(expected[0], got[0])
    assert got[1] == expected[1]


@settings(quick, max_examples=60)
@given(seeds)
def test_a_snapshot_at_any_moment_changes_nothing(seed):
    got, expected = with_snapshots(seed)
    assert told(got[0], expected[0]) == told(expected[0], got[0])
    assert got[1] == expected[1]


@settings(quick, max_examples=60)
@given(seeds)
def test_readings_in_order_never_touch_the_past(seed):
    rng = random.Random(seed)
    found, variant = random_streams(rng), rng.choice(VARIANTS)
    walk, _ = begin(variant)
    for item in in_order([item for stream in found for item in stream]):
        # A probe that was given up and comes back at the very instant another's reading was just examined is looked at again.
        back = item[0] == "r" and walk.state.lines[item[2]].absent
        assert item[0] not in ("r", "round", "air") or back or not touches(walk, item)
        feed(walk, [item])
        if item[0] == "r":
            walk.advance()


@settings(quick, max_examples=30)
@given(seeds)
def test_the_quick_way_says_what_the_slow_way_says(seed):
    rng = random.Random(seed)
    # Readings a few minutes apart, many of them exactly on a limit or a thousandth beside it.
    limits = [40_000, 40_500, 54_500, 55_000, 26_667, 27_167, 28_167, 71_111, 76_667]
    items, start = [], T0
    for probe in "ab":
        at, base = start, rng.choice(limits)
        items.append(("in", at, probe))
        for _ in range(300):
            at += rng.choice([60_000, 300_000, 300_000, 1_200_000, 3_600_000, 7_200_000, 7_200_001])
            base = rng.choice(limits) if rng.random() < 0.01 else base
            items.append(("r", at, probe, base + rng.choice([-1, 0, 0, 1, 150, -150, 2_000, -700])))
    both = []
    for slow in (False, True):
        walk, _ = begin(VARIANTS[seed % len(VARIANTS)])
        changes = []
        for item in in_order(items):
            if slow and item[0] == "r":
                walk.parts[0].undraw(item[2])
            feed(walk, [item])
            changes += walk.advance()
        both.append((changes, meaning(walk.state)))
    assert both[0] == both[1]


def test_the_same_instant_again_is_ignored():
    walk, _ = begin(VARIANTS[0])
    walk.probe_in("a", T0)
    for step in (0, 60_000, 60_000, 30_000):
        walk.reading("a", T0 + step, 50_000)
    assert walk.state.lines["a"].times == [T0, T0 + 60_000]


def test_a_probe_comes_in_once_and_goes_out_once():
    once, twice = make_walk(), make_walk()
    for walk, times in ((once, 1), (twice, 2)):
        for _ in range(times):
            walk.probe_in("a", T0)
        walk.reading("a", T0 + H, 60_000)
        for later in range(times):
            walk.probe_out("a", T0 + (2 + later) * H)
        walk.probe_out("nobody", T0 + 4 * H)
        walk.unread("nobody", T0 + 4 * H)
        walk.reading("nobody", T0 + 4 * H, 60_000)
        walk.advance()
    assert STATE.dump_python(once.state) == STATE.dump_python(twice.state)


@settings(quick, max_examples=25)
@given(seeds)
def test_what_is_remembered_does_not_show_how_often_it_was_looked_at(seed):
    rng = random.Random(seed)
    found, variant = random_streams(rng), rng.choice(VARIANTS)
    states = []
    for often in (True, False):
        walk, _ = begin(variant)
        items = in_order([item for stream in found for item in stream])
        for item, following in pairwise([*items, ("r", 1 << 50)]):
            feed(walk, [item])
            if often and following[1] > item[1]:
                walk.advance()
        walk.advance()
        walk.forget()
        plain = STATE.dump_python(walk.state)
        del plain["air"], plain["void_told"], plain["unready_told"]
        for line in plain["lines"].values():
            del line["moving_to"]
        states.append(plain)
    assert states[0] == states[1]
