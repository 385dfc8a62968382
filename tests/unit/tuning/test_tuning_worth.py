"""Tuning beats the defaults on weeks that it was not chosen on: made-up years with known troubles.

The few seeds here keep CI quick; many stand in docs/performance.md (`python -m tests.bench tuning`).
"""

import statistics
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))

from tests.bench.tuning_worth import made_up, tuned, worth_of

RANGES = ("freezing=39..44 degF:5", "too_wet=83..85 %:2")
WORTH = 10


@pytest.fixture(scope="module")
def years():
    return [worth_of(tuned(made_up(seed, 3_600, 330), RANGES, 4, 2, WORTH)) for seed in (1, 2)]


def test_the_chosen_settings_cost_less_where_they_were_not_chosen(years):
    gains = [1 - one.cost(WORTH)[1] / one.cost(WORTH)[0] for one in years]
    for one, gain in zip(years, gains, strict=True):
        print(f"{one}: cost less by {gain:.0%}")
    print(f"in the median: {statistics.median(gains):.0%}")
    assert statistics.median(gains) > 0.25
    assert min(gains) >= 0


def test_they_catch_more_troubles_and_none_fewer(years):
    assert all(one.caught >= one.caught_now for one in years)
    assert sum(one.caught - one.caught_now for one in years) >= 3
