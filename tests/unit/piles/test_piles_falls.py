"""When the probes felt the air before a turning was logged; and what of their readings shows it."""

import pytest
from piles_script import T0, H, make_walk

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
