"""When the probes felt the air before a turning was logged; and what of their readings shows it."""

import pytest
from piles_script import T0, H, make_walk

from monitor.piles import ChangeKind

MIN = H // 60


def walk_of(*items):
    """Items in order: ("in" or "out", minute, probe), or (minute, probe, degC)."""
    walk = make_walk()
    for one in items:
        if one[0] in ("in", "out"):
            (walk.probe_in if one[0] == "in" else walk.probe_out)(one[2], T0 + one[1] * MIN)
        else:
            walk.reading(one[1], T0 + one[0] * MIN, round(one[2] * 1000))
    return walk


def level(probe, celsius, until, since=0, every=10):
    return [("in", since, probe), *((minute, probe, celsius) for minute in range(since, until + 1, every))]


@pytest.mark.parametrize(
    ("items", "logged", "felt"),
    [
        # model.turnings: 5 degC within 30 min, its beginning at most 2 h before the entry.
        ([*level("a", 60, 200), (205, "a", 54)], 240, 200),
        ([*level("a", 60, 200), (205, "a", 55.1)], 240, None),
        ([*level("a", 60, 200), (205, "a", 58), (215, "a", 54)], 240, 200),
        ([*level("a", 60, 100), (110, "a", 40)], 220, 100),
        ([*level("a", 60, 100), (110, "a", 40)], 221, None),
        # Of several probes the one that felt it first.
        ([*level("a", 60, 200), *level("b", 60, 180), (190, "b", 40), (210, "a", 40)], 240, 180),
        # The air outside looks like no fall, nor does what was before the probe came in.
        ([*level("a", 60, 200), ("out", 203, "a"), ("in", 206, "a"), (210, "a", 30)], 240, None),
        ([*level("a", 60, 200), (205, "a", 40), ("out", 206, "a")], 240, 200),
        ([*level("a", 60, 200), (205, "a", 40), ("out", 206, "a"), ("in", 208, "a"), (210, "a", 20)], 240, 200),
        ([*level("a", 60, 200)], 240, None),
        ([], 240, None),
    ],
)
def test_a_fall_before_a_turning_is_its_beginning(items, logged, felt):
    found = walk_of(*items).felt_before(T0 + logged * MIN)
    assert found == (None if felt is None else T0 + felt * MIN)


def suggested(*items, logged=None):
    walk = make_walk()
    changes = []
    for one in sorted(items, key=lambda item: item[0] if item[0] not in ("in", "out") else item[1]):
        if one[0] in ("in", "out"):
            (walk.probe_in if one[0] == "in" else walk.probe_out)(one[2], T0 + one[1] * MIN)
        else:
            walk.reading(one[1], T0 + one[0] * MIN, round(one[2] * 1000))
        if logged is not None and one[0] not in ("in", "out") and one[0] >= logged:
            walk.turned(T0 + logged * MIN)
            logged = None
        changes += walk.advance()
    return [((one.since - T0) / MIN, (one.fell_at - T0) / MIN) for one in changes if one.kind is ChangeKind.SUGGESTED]


def dips(probe, low, fell, rose, by=2.0, every=10):
    """At 60 degC, then lower from a minute on, and warmer again from another on."""
    hot = [(minute, probe, 60) for minute in range(0, fell, every)]
    cold = [(minute, probe, low) for minute in range(fell, rose, every)]
    return [("in", 0, probe), *hot, *cold, *((minute, probe, low + by) for minute in range(rose, rose + 210, every))]


@pytest.mark.parametrize(
    ("items", "found"),
    [
        # 10 degC within an hour, from 40 degC or more, and 2 degC up again within a day.
        (dips("a", 50, 100, 200), [(200, 100)]),
        (dips("a", 50.001, 100, 200), []),
        (dips("a", 50, 100, 200, by=1.999), []),
        (dips("a", 50, 100, 100 + 24 * 60), [(100 + 24 * 60, 100)]),
        (dips("a", 50, 100, 101 + 24 * 60), []),
        # All probes, within an hour of one another; the last to rise tells it.
        ([*dips("a", 50, 100, 200), *dips("b", 45, 160, 300)], [(300, 100)]),
        ([*dips("a", 50, 100, 200), *dips("b", 45, 161, 300)], []),
        ([*dips("a", 50, 100, 200), *level("b", 60, 400)], []),
        # The air outside is no fall, and what came before the probe was put back is none of its own.
        ([*level("a", 60, 100), ("out", 103, "a"), ("in", 106, "a"), (110, "a", 45), (130, "a", 48), (140, "a", 48)], []),
        ([*level("a", 60, 100), ("out", 103, "a"), ("in", 106, "a"), (110, "a", 60), (120, "a", 45), (130, "a", 48),
          (140, "a", 48)], [(130, 120)]),
    ],
)  # fmt: skip
def test_a_turning_that_nobody_logged_is_suggested(items, found):
    assert suggested(*items) == found


@pytest.mark.parametrize(("logged", "found"), [(90, []), (460, []), (461, [(500, 100)])])
def test_a_turning_logged_near_it_is_not_suggested_again(logged, found):
    assert suggested(*dips("a", 50, 100, 500), logged=logged) == found
