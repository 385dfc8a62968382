"""Sets, weeks, who beats whom, and what is suggested."""

from datetime import datetime
from itertools import pairwise
from random import Random
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.settings import Bin, Pile, Settings
from monitor.tuning import Score, Vary, applied, parts_of, sets_of, size, suggested, today, unbeaten, weeks_of
from monitor.tuning.choice import at_most, figures, one_of_each
from monitor.tuning.vary import drawn
from monitor.tuning.weeks import spread

HOUR = 3_600_000
DAY = 24 * HOUR
ZONE = ZoneInfo("America/New_York")


def vary(field="overheating_milli_c", values=range(27_000, 31_001, 500), section="bins", place="b1"):
    return Vary(section=section, place=place, field=field, values=tuple(values))


def made(missed, needless, warning):
    return Score(
        troubles=20, caught=20 - missed, median_ms=warning, worst_ms=warning, needless=needless, judged_ms=DAY,
        unjudged=0, messages=needless, alarm_ms=0, span_ms=DAY,
    )  # fmt: skip


def test_a_set_is_put_into_the_settings_and_nothing_else_moves():
    settings = Settings(bins={"b1": Bin(name="One"), "b2": Bin(name="Two")}, piles={"p1": Pile(name="Bay")})
    varies = (vary(), vary("overheating_dwell_ms", (0, 600_000)), vary("hot_milli_c", (70_000,), "piles", "p1"))
    after = applied(settings, varies, (28_000, 600_000, 70_000))
    assert today(after, varies) == (28_000, 600_000, 70_000)
    assert after.bins["b2"] == settings.bins["b2"]
    assert applied(after, varies, today(settings, varies)) == settings


def test_the_grid_is_taken_where_it_is_small_and_drawn_sets_else():
    varies = (vary(), vary("overheating_dwell_ms", range(0, 3_600_001, 300_000)))
    assert size(varies) == 9 * 13
    assert sets_of(varies, 117, 1) == [(a, b) for a in varies[0].values for b in varies[1].values]
    few = sets_of(varies, 40, 1)
    assert len(set(few)) == len(few) == 40
    assert few == sets_of(varies, 40, 1)
    assert few != sets_of(varies, 40, 2)


@pytest.mark.parametrize("seed", range(4))
def test_drawn_sets_fill_the_ranges_more_evenly_than_chance(seed):
    varies = (vary(values=range(1000)), vary(values=range(1000)), vary(values=range(1000)))
    points = np.array(drawn(varies, 256, seed))
    counts, _ = np.histogramdd(points, bins=(4, 4, 4), range=[(0, 1000)] * 3)
    # Chance alone scatters the count of a cell with a variance of n p (1 - p): 256 points, 64 cells.
    assert counts.var() < 0.5 * 256 / 64 * (1 - 1 / 64)
    for axis in range(3):
        assert np.histogram(points[:, axis], bins=8, range=(0, 1000))[0].min() >= 24


def test_values_must_rise():
    with pytest.raises(ValueError, match="rise"):
        vary(values=(3, 2))


scores = st.builds(
    made, st.integers(0, 4), st.integers(0, 6), st.one_of(st.none(), st.integers(-3, 5).map(lambda n: n * HOUR))
)


@given(st.lists(scores, min_size=1, max_size=40))
def test_unbeaten_sets_are_those_of_the_definition(some):
    def worth(score):
        return (-score.missed, -score.needless, score.median_ms if score.median_ms is not None else -(10**15))

    def is_beaten(score):
        mine = worth(score)
        return any(
            all(a >= b for a, b in zip(worth(other), mine, strict=True)) and worth(other) != mine for other in some
        )

    assert unbeaten(some) == [number for number, score in enumerate(some) if not is_beaten(score)]


def test_of_equal_sets_the_middle_one_stands_for_all():
    varies = (vary(values=range(11)),)
    sets = [(n,) for n in range(11)]
    some = [made(1, 2, HOUR) if 2 <= n <= 8 else made(2, 9, HOUR) for n in range(11)]
    assert one_of_each(unbeaten(some), some, sets, varies) == [5]


def test_the_suggestion_weighs_missed_troubles_against_needless_messages():
    varies, sets = (vary(values=range(0, 50, 10)),), [(0,), (10,), (20,), (30,), (40,)]
    some = [made(1, 8, HOUR), made(2, 0, HOUR), made(0, 30, HOUR), made(2, 0, HOUR), made(1, 8, HOUR)]
    assert suggested(range(5), some, sets, varies, (39,), worth=10) == 4  # 18 beats 20 and 30; of equals the nearer
    assert suggested(range(5), some, sets, varies, (1,), worth=10) == 0
    assert suggested(range(5), some, sets, varies, (1,), worth=100) == 2
    assert suggested(range(5), some, sets, varies, (1,), worth=1) == 1


def test_a_lone_good_set_among_bad_ones_is_not_trusted():
    varies, sets = (vary(values=range(40)),), [(n,) for n in range(40)]
    some = [made(0, 1, HOUR) if n == 5 else made(0, 2, HOUR) if 20 <= n <= 35 else made(2, 9, HOUR) for n in range(40)]
    chosen = suggested(range(40), some, sets, varies, (39,))
    assert 23 <= chosen <= 32
    assert suggested([5, 6], some, sets, varies, (39,)) == 5  # but of what is asked for, the best


def test_at_most_keeps_what_must_stay_and_spreads_the_rest():
    assert at_most(range(100), 10, lambda n: n in (3, 97)) == [0, 3, 15, 29, 43, 56, 70, 84, 97, 99]
    assert at_most(range(5), 10, lambda _: False) == [0, 1, 2, 3, 4]


def test_figures_put_less_before_more_and_never_caught_last():
    assert figures(made(0, 1, HOUR)) < figures(made(0, 1, 0)) < figures(made(0, 1, None)) < figures(made(1, 0, HOUR))


def test_weeks_begin_on_monday_by_the_yards_calendar():
    start = round(datetime(2026, 3, 4, 12, tzinfo=ZONE).timestamp() * 1000)
    weeks = weeks_of(start, start + 20 * DAY, ZONE)
    assert weeks[0][0] == start
    assert weeks[-1][1] == start + 20 * DAY
    for (_, last), (first, _) in pairwise(weeks):
        moment = datetime.fromtimestamp(first / 1000, ZONE)
        assert (moment.weekday(), moment.hour, moment.minute) == (0, 0, 0)
        assert first == last + 1
    # The clocks go forward on 8 March: that week lacks an hour.
    assert weeks[1][0] - weeks[0][0] < 5 * DAY
    assert weeks[2][0] - weeks[1][0] == 7 * DAY


@given(st.integers(0, 60), st.lists(st.integers(0, 60 * 7 - 1), max_size=30))
def test_parts_are_whole_blocks_of_weeks_and_share_the_troubles(days, troubles):
    weeks = weeks_of(0, (days + 1) * 7 * DAY, ZONE)
    starts = [day * DAY for day in troubles if day * DAY <= (days + 1) * 7 * DAY]
    parts = parts_of(weeks, starts)
    assert sorted((*parts.choosing, *parts.reporting)) == list(weeks)
    block = max(1, min(4, len(weeks) // 4))
    for first in range(0, len(weeks), block):
        some = weeks[first : first + block]
        assert len({week in parts.choosing for week in some}) == 1


def test_troubles_come_to_both_parts():
    weeks = weeks_of(0, 52 * 7 * DAY, ZONE)
    summer = [DAY * day for day in range(150, 240, 9)]
    parts = parts_of(weeks, summer)
    counts = [sum(a <= at <= b for at in summer for a, b in side) for side in (parts.choosing, parts.reporting)]
    assert sum(counts) == len(summer)
    assert min(counts) >= 3


def test_the_spread_is_that_of_the_textbook():
    rng = Random(4)
    weekly = [rng.gauss(10, 2) for _ in range(40)]
    low, high = spread(40, lambda draw: sum(weekly[n] for n in draw) / len(draw), seed=1, draws=4_000)
    sigma = np.std(weekly) / 40**0.5  # of the mean
    assert low == pytest.approx(np.mean(weekly) - 1.2816 * sigma, abs=0.15 * sigma)
    assert high == pytest.approx(np.mean(weekly) + 1.2816 * sigma, abs=0.15 * sigma)
    assert spread(3, lambda _: None, seed=1) is None
