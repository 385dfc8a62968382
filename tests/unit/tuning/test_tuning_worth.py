"""Tuning beats badly set limits on weeks that it was not chosen on: made-up years with known troubles.

Whether it beats the defaults too is measured, not tested: see docs/performance.md (`python -m tests.bench.tuning_worth`).
"""

import statistics

import pytest

from tests.bench.tuning_worth import YARD, made_up, tuned, worth_of

RANGES = ("near_freezing=39..46 degF:1", "too_wet=83..88 %:1", "too_dry=56..66 %:2", "overheating=80..90 degF:2")
# As somebody may have set it who feared needless messages: too hot, too wet and freezing are told late.
BADLY_SET = YARD.replace(
    "[probes.b1-t]",
    """[bins.b1.thresholds]
overheating = "90 degF"
too_wet = "90 %"
too_dry = "50 %"
near_freezing = "39 degF"
freezing = "36 degF"
[probes.b1-t]""",
)
WORTH = 10
SEEDS = range(1, 7)


@pytest.fixture(scope="module")
def years():
    return [worth_of(tuned(made_up(seed, 3_600, 330, BADLY_SET), RANGES, 40, 1, WORTH)) for seed in SEEDS]


def test_the_chosen_settings_cost_less_where_they_were_not_chosen(years):
    costs = [one.cost(WORTH) for one in years]
    for seed, one, (now, then) in zip(SEEDS, years, costs, strict=True):
        print(f"seed {seed}: {one}: cost {now} -> {then}")
    gains = [1 - then / max(1, now) for now, then in costs]
    less = 1 - sum(then for _, then in costs) / sum(now for now, _ in costs)
    print(f"cost less by {less:.0%} in all, by {statistics.median(gains):.0%} in the median, {min(gains):.0%} at worst")
    assert less > 0.3
    assert min(gains) >= 0
    assert sum(gain > 0.1 for gain in gains) >= 4


def test_they_catch_more_troubles_and_none_fewer(years):
    assert all(one.caught >= one.caught_now for one in years)
    assert sum(one.caught - one.caught_now for one in years) >= 4
