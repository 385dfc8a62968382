"""The heap of the autumn before the demo's weekend, as somebody read it: rounds with a thermometer until it was cool.

It lives by the same physics as the heaps with probes, under a sky of its own. Its seed is fixed: its rule is met in each
demo, whatever the seed of the weekend.
"""

from collections.abc import Iterator
from random import Random

from monitor.model.readings import HAND_PREFIX, Reading
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.units import to_micro
from monitor.simulate.hot_pile import Heap
from monitor.simulate.laws import TAP_C
from monitor.simulate.material import Mix
from monitor.simulate.season import BUILT, TURNED, WATER_L, instant
from monitor.simulate.season_yard import ROUND_DAYS, SPOTS_BY_HAND
from monitor.simulate.weather import Climate, Weather

_SEED = 2025
_BAY_M = 2.13
_STEP_MS = 10 * MINUTE_MS
_MIX = Mix(wet_kg=2_360.0, moisture=0.60, fast=0.30, celsius=22.0)
"""As much as went in by the log."""
_FIRST_MS = 7 * HOUR_MS
"""From its building to the first round; the others follow whole days later."""
_DEPTHS_M = (0.40, 0.50, 0.45, 0.60)
_SPREAD_F = (-2.0, 1.0, -1.0, 0.0)
_SLOW_MS = 2 * MINUTE_MS
"""The time that the thermometer needs at each spot."""


def rounds_by_hand() -> Iterator[Reading]:
    """Yield the readings of all rounds in the order of time, in whole degrees Fahrenheit."""
    start = instant(BUILT)
    weather = Weather(Climate(), Random(_SEED), start, ())
    heap, now = Heap(_MIX, _BAY_M, _BAY_M), start
    turned = [instant(one) for one in TURNED]
    for day in ROUND_DAYS:
        due = start + _FIRST_MS + day * DAY_MS
        while now < due:
            air = weather.at(now)
            heap.step(_STEP_MS / 1000, air)
            now += _STEP_MS
            if turned and turned[0] <= now:
                turned.pop(0)
                heap.turn(air)
                heap.water(WATER_L, TAP_C)
        for number, (spot, depth_m, off_f) in enumerate(zip(SPOTS_BY_HAND, _DEPTHS_M, _SPREAD_F, strict=True)):
            shown_f = round(heap.at_depth(depth_m, weather.at(now)) * 9 / 5 + 32 + off_f)
            yield Reading(due + number * _SLOW_MS, f"{HAND_PREFIX}p1:{spot}", to_micro(shown_f), "[degF]")
