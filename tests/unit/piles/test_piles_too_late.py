"""What comes too late for a walk, so that its record is worked out anew: at the very instant, and just after it."""

import pytest
from piles_script import T0, H, make_walk


def walked(*items):
    """A walk fed ("in" or "out", hour, probe) and (hour, probe) for a reading of 50 degC, and examined."""
    walk = make_walk()
    for one in items:
        if one[0] == "in":
            walk.probe_in(one[2], T0 + one[1] * H)
        elif one[0] == "out":
            walk.probe_out(one[2], T0 + one[1] * H)
        else:
            walk.reading(one[1], T0 + one[0] * H, 50_000)
    assert walk.advance() is not None
    return walk


def both(*last):
    """Two probes read each hour up to 3 h, and then as said."""
    return walked(("in", 0, "a"), ("in", 0, "b"), *((hour, name) for hour in (1, 2, 3) for name in "ab"), *last)


@pytest.mark.parametrize(
    ("items", "probe", "too_late_until_h"),
    [
        # The record is examined up to the oldest newest reading.
        ([], "a", 3),
        ([], "unknown", 3),
        ([(3.2, "a")], "b", 3),
        # A probe's own newest reading, which may be ahead of it.
        ([(3.2, "a")], "a", 3.2),
        ([("out", 3.1, "a"), ("in", 3.2, "a")], "b", 3),
    ],
)
def test_a_reading_comes_too_late_up_to_an_instant(items, probe, too_late_until_h):
    walk, at = both(*items), T0 + round(too_late_until_h * H)
    assert walk.touches_past(probe, at)
    assert not walk.touches_past(probe, at + 1)


def test_the_very_instant_of_coming_in_may_still_be_read():
    walk = both(("out", 3.1, "a"), ("in", 3.2, "a"))
    assert walk.touches_past("a", T0 + round(3.2 * H) - 1)
    assert not walk.touches_past("a", T0 + round(3.2 * H))


@pytest.mark.parametrize("at", [T0 - H, T0, T0 + 3 * H])
def test_work_comes_too_late_up_to_what_was_examined(at):
    walk = both((3.5, "a"))
    assert walk.work_touches_past(at)
    assert not walk.work_touches_past(T0 + 3 * H + 1)


@pytest.mark.parametrize(
    ("items", "probe", "too_late_until_h"),
    [
        ([], "a", 3),
        ([], "unknown", 3),
        # Readings already taken in would be cut off.
        ([(3.2, "a")], "a", 3.2),
        ([(3.2, "a")], "b", 3),
    ],
)
def test_a_probe_comes_in_or_goes_out_too_late_up_to_an_instant(items, probe, too_late_until_h):
    walk, at = both(*items), T0 + round(too_late_until_h * H)
    assert walk.service_touches_past(probe, at)
    assert not walk.service_touches_past(probe, at + 1)


def test_a_probe_that_is_out_comes_back_at_the_instant_at_which_it_went_out_at_the_earliest():
    walk = both(("out", 3.2, "a"))
    assert walk.service_touches_past("a", T0 + round(3.2 * H) - 1)
    assert not walk.service_touches_past("a", T0 + round(3.2 * H))
    back = both(("out", 3.2, "a"), ("in", 3.3, "a"))
    assert back.service_touches_past("a", T0 + round(3.3 * H) - 1)
    assert not back.service_touches_past("a", T0 + round(3.3 * H))


def test_ambient_comes_too_late_once_its_hour_was_asked_for():
    walk = make_walk()
    walk.probe_in("a", T0)
    for hour in range(80):
        walk.ambient(T0 + hour * H, 10_000)
        walk.reading("a", T0 + hour * H, 30_000)
        walk.advance()
    # *Stalled* asked at 72 h for the hours that had ended an hour before.
    assert walk.ambient_touches_past(T0 + 70 * H)
    assert walk.ambient_touches_past(T0 + 71 * H - 1)
    assert not walk.ambient_touches_past(T0 + 71 * H)
