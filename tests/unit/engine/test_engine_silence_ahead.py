"""When a probe falls silent: what a run says beforehand is what stands once its rows have been taken one by one."""

from copy import deepcopy
from types import SimpleNamespace

import numpy as np
import pytest
from engine_yard import T0, Drive, yard
from hypothesis import given
from hypothesis import strategies as st

from monitor.engine.context.probe_watch import Dues, ProbeWatch
from monitor.engine.probes.silence_alarms import dues_of, minimum
from monitor.engine.stretch.lane import Lane
from monitor.model.thresholds import PileThresholds, ProbeThresholds
from monitor.model.times import HOUR_MS, MINUTE_MS

NOW = 1_800_000_000_000
LATE = 5 * MINUTE_MS
HOT = 70_000
LIMITS, PILE = ProbeThresholds(), PileThresholds()

# Minutes since the row before, how late it came, thousandths of a degree (None: not accepted).
rows = st.lists(
    st.tuples(st.integers(1, 90), st.sampled_from([0, 0, 0, 7]), st.sampled_from([None, 20_000, HOT, HOT + 1])),
    min_size=1,
    max_size=50,
)


def dues(watch):
    lost = watch.lost_due(LIMITS, PILE, 0)
    return watch.silent_due(LIMITS, HOUR_MS), watch.broken_due(LIMITS, HOUR_MS), lost


def lane_of(watch, found):
    at = np.array([one[0] for one in found], np.int64)
    own = np.array([one[1] for one in found], np.int64)
    accepted = [n for n, one in enumerate(found) if one[2] is not None]
    series = SimpleNamespace(
        name="a", kept={}, rows=np.arange(len(found)), time=own, key=2 * np.array(accepted, np.int64) + 1,
        accepted_time=own[accepted], accepted_milli=np.array([found[n][2] for n in accepted], np.int64),
        episodes=[1], said=[],
    )  # fmt: skip
    course = SimpleNamespace(at=at, first=np.arange(len(found) + 1))
    return Lane(SimpleNamespace(comparable_from=0, danger=1, hot_milli=HOT, watch=watch), series, course, LATE)


@given(rows, rows, st.integers(0, 50))
def test_a_watch_as_it_will_stand_has_the_deadlines_that_it_then_has(before, drawn, skipped):
    watch, now = ProbeWatch(heard_from=NOW), NOW

    def step(known, row):
        at, time, milli = row
        known.arrive(at, time < at - LATE)
        known.newest = time
        if milli is not None:
            known.accept(at, time, milli, time < at - LATE, HOT)

    found = []
    for minutes, late, milli in [(1, 0, 20_000), *before, *drawn]:
        now += minutes * MINUTE_MS
        own = max(found[-1][1] + 1 if found else 0, now - late * MINUTE_MS)
        found.append((now, own, milli))
    for row in found[: len(before) + 1]:
        step(watch, row)
    found = found[len(before) + 1 :]
    stepped, lane = deepcopy(watch), lane_of(watch, found)
    for number, row in enumerate(found):
        if number == skipped:
            lane.skip(2 * number)
        assert dues(lane.as_of(row[0])) == dues(stepped)
        step(stepped, row)
    assert dues(lane.as_of(now + 1)) == dues(stepped)
    lane.skip(2 * len(found))
    assert watch == stepped


def test_a_probe_is_waited_for_by_what_it_does_not_count_as_yet():
    drive = Drive(yard())
    drive.hold(T0, T0 + HOUR_MS, p1_a=75, b1_t=75)
    core = drive.engine.core
    hot, warm = core.watch("p1-a"), core.watch("b1-t")
    # Three spacings of ten minutes; a batch that runs for its rule is waited for less long than calm material.
    lost = T0 + HOUR_MS + 30 * MINUTE_MS
    least = minimum(core, "p1")
    both = T0 + HOUR_MS + max(least, 30 * MINUTE_MS)
    assert dues_of(core, "p1-a", hot) == Dues(both, both, lost)
    hot.broken = True
    assert dues_of(core, "p1-a", hot) == Dues(both, None, lost)
    hot.broken, hot.silent = False, True
    assert dues_of(core, "p1-a", hot) == Dues(None, None, lost), "a silent probe is not told as broken, too"
    hot.lost = True
    assert dues_of(core, "p1-a", hot) == Dues(None, None, None)
    warm.hot_time = warm.accepted_time
    assert dues_of(core, "b1-t", warm).lost is None, "only heaps burn"


@pytest.mark.parametrize(
    ("found", "due"),
    [
        (Dues(30, 20, 25), 20), (Dues(30, None, 25), 25), (Dues(30, None, 10), 30), (Dues(30, None, 9), 30),
        (Dues(None, None, 11), 11), (Dues(None, None, 10), None), (Dues(None, None, None), None),
        (Dues(5, 6, None), 5),
    ],
)  # fmt: skip
def test_what_is_lost_already_is_waited_for_no_longer(found, due):
    """Silence that is due is told at once; a lost probe whose link is down is not told, and not looked for at each instant."""
    assert found.soonest(10) == due
