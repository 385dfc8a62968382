"""What is plain is worked out at once: however many readings there are, a run takes no more steps for it."""

import numpy as np
import pytest

from monitor.conditioning import Conditioned, Conditioner, ConditioningState, Course
from monitor.model.readings import Reading
from monitor.model.settings import AMBIENT, Pile, Probe, Settings
from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.model.words import Role
from tests.worlds.effort import calls_of

T0 = 1_793_577_600_000
SETTINGS = Settings(
    piles={"p1": Pile(name="Bay 1")},
    probes={
        "a": Probe(place="p1", role=Role.CORE, address="", resolution_micro=62_500),
        "air": Probe(place=AMBIENT, role=Role.AMBIENT, address=""),
        "b": Probe(place="p1", role=Role.CORE, address=""),
    },
)
NAMES = tuple(SETTINGS.probes)


def begun(firsts, last_c=None):
    """A conditioner that has heard each probe twice; the last reading may be one that is refused."""
    live = Conditioner(ConditioningState(), SETTINGS)
    for name, first in zip(NAMES, firsts, strict=True):
        for minute, celsius in ((20, first), (10, first + 0.0625 if last_c is None else last_c)):
            live.step(Reading(T0 - minute * MINUTE_MS, name, round(celsius * 10**6), "Cel"))
    return live


def run(live, columns, step_min=10):
    """The run of three probes' values (degC), each commit with one reading of each."""
    count = len(columns[0])
    at = T0 + np.arange(count) * step_min * MINUTE_MS
    course = Course(at, np.arange(count + 1) * 3, np.repeat(at, 3))
    micro = [np.round(one * 10**6).astype(np.int64) for one in columns]
    return Conditioned(live, course, {name: (np.arange(count) * 3 + n, micro[n]) for n, name in enumerate(NAMES)})


def effort(a, *, air=None, b=None, last_c=None, step_min=10):
    """The steps that a run takes; of `a` all is asked, the others are quiet unless they are given."""
    columns = [quiet(len(a)) if one is None else np.asarray(one, float) for one in (a, air, b)]
    live = begun([50 if last_c is None and one[0] == 70 else one[0] for one in columns], last_c)
    return calls_of(lambda: run(live, columns, step_min))


def up_and_down(low, high, count, every=1):
    return np.where(np.arange(count) // every % 2, high, low)


def quiet(count):
    return 50 + np.arange(count) % 7 / 16


def test_twice_as_many_quiet_readings_take_as_many_steps():
    assert effort(quiet(300)) == effort(quiet(600)) == effort(quiet(2_400))


LIMITS = SETTINGS.probe_thresholds
STEP, LOW, HIGH = (
    one / 1_000 for one in (LIMITS.spike_step_milli_k, LIMITS.gross_low_milli_c, LIMITS.gross_high_milli_c)
)


@pytest.mark.parametrize(
    ("values", "more"),
    [
        (up_and_down(20, 20 + STEP, 600), {}),
        (up_and_down(HIGH - 1, HIGH, 600), {}),
        (up_and_down(LOW, LOW + 1, 600), {}),
        (up_and_down(84, 84.9375, 600), {}),
        (up_and_down(20, 60, 600), {"step_min": LIMITS.spike_span_ms // MINUTE_MS + 1}),
        (up_and_down(57, 57.0625, 600, every=144), {}),
        (up_and_down(57, 57, 600), {"step_min": 121}),
        (quiet(600), {"last_c": -127}),
        (quiet(600), {"last_c": 130}),
    ],
    ids=["steps", "high", "low", "near a code", "apart", "a day", "gaps", "after a code", "after a refused one"],
)
def test_what_lies_at_a_limit_and_not_beyond_is_as_plain_as_any(values, more):
    assert effort(values, **more) <= effort(quiet(600))


@pytest.mark.parametrize("odd", [{100: 70}, {100: -127}, {100: 85}, {100: 130, 101: 70}, {0: 70}])
def test_an_odd_reading_is_looked_at_once_and_what_follows_is_plain_again(odd):
    def spoiled(count):
        values = quiet(count)
        for place, value in odd.items():
            values[place] = value
        return values

    few, many = (effort(spoiled(count)) for count in (300, 2_400))
    assert few == many
    assert effort(quiet(300)) < few < effort(quiet(300)) + 200


def test_what_swings_like_the_air_beside_no_warmer_core_is_not_compared_with_it_hour_by_hour():
    hours = np.arange(1_440) / 6
    air = 12 + 5 * np.sin(hours / 24 * 2 * np.pi)
    calm = effort(quiet(1_440), air=air)
    assert effort(air + 0.25, air=air, b=quiet(1_440) - 48) <= calm + 10, "none was ever warmer"
    assert effort(15 + (air - 12) / 2, air=air) <= calm + 10, "it swings too little"
    assert effort(air + 0.25, air=air) > calm + 200, "it looks like the air, and so is compared"


def test_at_the_end_of_a_quiet_day_no_record_is_worked_out_to_tell_that_nothing_stands_still():
    def told(days):
        one, now = run(begun([50] * 3), [quiet(144 * days)] * 3), T0 + days * 24 * HOUR_MS
        return calls_of(lambda: one.still(begun([50] * 3), 144 * days * 3, now))

    assert told(3) == told(9) < told(1)
