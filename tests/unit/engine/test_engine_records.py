"""Phases and rules: late data, rebuilds, corrections, calibrations, imports; and agreement with the certificate's proof."""

from dataclasses import replace
from random import Random

import numpy as np
import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, core, yard

from monitor.model.settings import Calibration, Pile
from monitor.model.thresholds import PileThresholds, ProbeThresholds
from monitor.model.words import Method
from monitor.proof.rules import find_rule
from monitor.proof.temperature import Series
from monitor.proof.verdict import Question, prove

CALM = ProbeThresholds(spike_step_milli_k=200_000)


def heap(rule="us-112-54-turned", method=Method.TURNED, built=T0, probes=("p1-a", "p1-b"), **more):
    pile = Pile(name="Bay 1", rule=rule, method=method, built=built)
    known = {"air": air(), **{p: core("p1") for p in probes}}
    return Drive(yard(piles={"p1": pile}, bins={}, probes=known, probe_thresholds=CALM, **more))


def test_holding_counts_from_the_exact_crossing():
    drive = heap()
    drive.read(T0 + HOUR, p1_a=54, p1_b=60)
    drive.read(T0 + 2 * HOUR, p1_a=56, p1_b=60)
    drive.read(T0 + 2 * HOUR + 29 * MIN, p1_a=56, p1_b=60)
    assert drive.run().walk.phase.value == "heating"
    drive.read(T0 + 2 * HOUR + 31 * MIN, p1_a=56, p1_b=60)
    assert drive.phases()[-1][1:] == ("holding", T0 + 2 * HOUR + 30 * MIN, "held")


def test_no_phase_comes_from_a_deadline():
    drive = heap()
    drive.hold(T0, T0 + 50 * MIN, p1_a=58, p1_b=58)
    drive.advance(T0 + DAY)
    assert drive.run().walk.phase.value == "heating"


def test_a_probe_six_hours_behind_does_not_hold_the_record_back():
    drive = heap()
    drive.hold(T0, T0 + HOUR, p1_a=58, p1_b=58)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 7 * HOUR, p1_a=58)
    assert drive.run().walk.now == T0 + HOUR
    drive.read(T0 + 7 * HOUR + MIN, p1_a=58)
    assert drive.run().walk.now == T0 + 7 * HOUR + MIN


def test_data_that_come_always_a_little_out_of_order_swallow_no_notice():
    orderly, other = heap(), heap()
    for n, at in enumerate(range(T0, T0 + 5 * HOUR, 10 * MIN)):
        orderly.read(at, p1_a=58, p1_b=58)
        if n % 2:
            other.read(at, received=at + 1, p1_a=58, p1_b=58)
            other.read(at - 10 * MIN, received=at + 2, p1_a=58, p1_b=58)
    assert [p[1:] for p in other.phases()] == [p[1:] for p in orderly.phases()]
    told = orderly.digest_lines("at temperature throughout")
    assert len(other.digest_lines("at temperature throughout")) == len(told) == 1


def test_what_touches_an_earlier_instant_makes_at_most_one_change_with_its_true_instant():
    drive = heap()
    drive.hold(T0, T0 + 5 * HOUR, p1_a=58, p1_b=54)
    before = len(drive.phases())
    cold = Calibration(points=((54_000, 56_000),), start=T0)
    probes = {**drive.settings.probes, "p1-b": core("p1", calibrations=(cold,))}
    drive.settle(T0 + 5 * HOUR + MIN, replace(drive.settings, probes=probes))
    assert drive.phases()[before:] == [(T0 + 5 * HOUR + MIN, "holding", T0 + HOUR, "record changed")]
    assert drive.digest_lines("at temperature throughout") == []


def test_a_calibration_applies_from_its_start_only():
    drive = heap()
    drive.hold(T0, T0 + 5 * HOUR, p1_a=58, p1_b=54)
    late = Calibration(points=((54_000, 56_000),), start=T0 + 3 * HOUR)
    probes = {**drive.settings.probes, "p1-b": core("p1", calibrations=(late,))}
    drive.settle(T0 + 5 * HOUR + MIN, replace(drive.settings, probes=probes))
    [last] = drive.phases()[1:]
    assert last[1] == "holding"
    assert T0 + 3 * HOUR - 10 * MIN + HOUR < last[2] <= T0 + 4 * HOUR


def test_a_threshold_changed_in_the_settings_holds_for_the_whole_record():
    drive = heap(rule="none")
    drive.hold(T0, T0 + 5 * HOUR, p1_a=52, p1_b=52)
    pile = replace(drive.settings.piles["p1"], thresholds=PileThresholds(hold_milli_c=50_000))
    drive.settle(T0 + 5 * HOUR + MIN, replace(drive.settings, piles={"p1": pile}))
    assert drive.run().walk.phase.value == "holding"
    drive.hold(T0 + 5 * HOUR + 10 * MIN, T0 + 20 * HOUR, p1_a=40, p1_b=40)
    assert drive.run().walk.phase.value == "cooling"


def test_a_correction_replaces_or_withdraws_a_turning():
    drive = heap()
    drive.hold(T0, T0 + 5 * HOUR, p1_a=58, p1_b=58)
    drive.work(T0 + 5 * HOUR + MIN, "p1", "turned")
    of = drive.engine.last
    assert drive.run().walk.recovering or not drive.run().walk.lines["p1-a"].serving
    drive.feed(T0 + 5 * HOUR + 2 * MIN, "correction", {"of": of, "work": None, "by": "Ann"})
    assert drive.run().walk.turned_at is None
    assert drive.engine.state.outings == {}


def test_a_correction_of_when_it_was_built():
    drive = heap(built=None)
    drive.work(T0 + 3 * HOUR, "p1", "built")
    of = drive.engine.last
    drive.hold(T0 + 4 * HOUR, T0 + 9 * HOUR, p1_a=58, p1_b=58)
    drive.feed(T0 + 9 * HOUR + 1, "correction", {"of": of, "work": {"time": T0 + HOUR, "place": "p1", "kind": "built"}})
    assert drive.run().built == drive.run().walk.built == T0 + HOUR


def test_without_built_a_batch_begins_with_its_first_accepted_reading_in_whatever_order():
    drive = heap(built=None)
    drive.read(T0 + 3 * HOUR, p1_a=30, p1_b=30)
    drive.read(T0 + HOUR, received=T0 + 3 * HOUR + 1, p1_a=30)
    drive.read(T0 + 10 * MIN, received=T0 + 3 * HOUR + 2, p1_a=-127)
    assert drive.run().built == T0 + HOUR


def test_imports_enter_the_record_and_start_no_alarm_or_notice():
    drive = heap()
    rows = [
        [at, p, v, "Cel"]
        for at in range(T0, T0 + 90 * HOUR, HOUR)
        for p, v in (("p1-a", 83_000_000), ("p1-b", 30_000_000))
    ]
    drive.feed(T0 + 90 * HOUR, "imported", {"rows": rows})
    assert drive.run().walk.now == T0 + 89 * HOUR
    assert "cold-corner" in drive.run().walk.alarms
    assert [e for e in drive.effects if e.at == T0 + 90 * HOUR and e.draft.kind.value in ("alarm", "notice")] == []
    drive.read(T0 + 90 * HOUR + MIN, p1_a=60, p1_b=30)
    assert drive.rings("cold-corner") == [T0 + 90 * HOUR + MIN], "a live reading shows that it still is so"


def test_an_alarm_that_is_too_old_to_tell_rings_once_the_record_comes_up_to_now():
    drive = heap()
    now = T0 + 100 * HOUR
    rows = [[at, p, 30_000_000, "Cel"] for at in range(T0, now - 4 * HOUR, HOUR) for p in ("p1-a", "p1-b")]
    drive.feed(now, "readings", {"rows": rows, "ahead": []})
    assert drive.rings("stalled") == []
    drive.read(now + MIN, p1_a=30, p1_b=30)
    assert drive.rings("stalled") == [now + MIN]
    [rang] = [e.draft for e in drive.effects if e.draft.axis == "stalled"]
    assert rang.since == T0 + 72 * HOUR


def test_alarms_of_a_batch_end_with_it():
    drive = heap()
    drive.hold(T0, T0 + 80 * HOUR, step=HOUR, p1_a=30, p1_b=30)
    drive.work(T0 + 80 * HOUR + 1, "p1", "emptied")
    assert drive.state_of("p1/stalled") == "returned unacknowledged"
    drive.hold(T0 + 81 * HOUR, T0 + 300 * HOUR, step=HOUR, p1_a=20, p1_b=20)
    assert len(drive.rings("stalled")) == 1


def test_what_is_remembered_stays_small():
    drive = heap()
    sizes = []
    at = T0
    for _ in range(9):
        for n in range(20):
            at += 6 * HOUR
            drive.read(at, p1_a=58 + n % 3, p1_b=58)
            drive.work(at + 1, "p1", "note")
            drive.work(at + 2, "p1", "turned")
            drive.work(at + 3, "p1", "probe in", probe="p1-a")
            drive.work(at + 4, "ambient", "probe in", probe="p1-b")
            drive.work(at + 5, "p1", "probe in", probe="p1-b")
        drive.work(at + 10, "p1", "built")
        sizes.append(len(drive.engine.state.works) + len(drive.engine.state.carried) + len(drive.engine.state.outings))
    # A batch that ended is kept for 14 days, so that its end can be taken back: here three of them at once.
    assert max(sizes) <= 4 * 121 + 8, sizes
    assert max(sizes[4:]) <= max(sizes[:4]), sizes
    assert len(drive.engine.state.alarms) < 30


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize(("rule", "method"), [("us-112-54-turned", Method.TURNED), ("us-112-54-static", Method.STATIC)])
def test_live_progress_agrees_with_the_proof_of_the_same_readings(rule, method, late):
    """Both by the same accepted readings and services; to the millisecond."""
    drive = heap(rule=rule, method=method)
    rng = Random(7)
    met = False
    turnings = []
    at, last_turn = T0, T0
    while at < T0 + 32 * DAY and not met:
        at += 20 * MIN + rng.randrange(60_000)
        cold = 54.5 if rng.random() < (0.004 if rule.endswith("turned") else 0.002) else 57.0
        if late and rng.random() < 0.02:
            continue
        drive.read(
            at - (3 * HOUR if late and rng.random() < 0.02 else 0),
            received=at,
            p1_a=cold + rng.random(),
            p1_b=60,
            air=8,
        )
        if method is Method.TURNED and at > last_turn + 3 * DAY + 5 * HOUR:
            last_turn = at + MIN
            turnings.append(last_turn)
            drive.work(last_turn, "p1", "turned")
            drive.read(last_turn + MIN, p1_a=12, p1_b=12, air=8)
            drive.work(last_turn + 5 * MIN, "p1", "probe in", probe="p1-a")
            drive.work(last_turn + 5 * MIN + 1, "p1", "probe in", probe="p1-b")
        met = drive.run().walk.progress.state.value == "met"
    walk = drive.run().walk
    accepted = {v.probe: {} for v in drive.verdicts}
    for verdict in drive.verdicts:
        if verdict.flag <= 2 and verdict.reason.value != "out of order":
            accepted[verdict.probe][verdict.time] = verdict.milli
    series = []
    for probe in ("p1-a", "p1-b"):
        service, start = [], T0
        settle = []
        for turn in turnings:
            back = turn + 4 * MIN + (MIN if probe == "p1-a" else MIN + 1)
            service.append((start, turn - 1))
            start = back
            settle.append((turn, back + HOUR))
        service.append((start, at + DAY))
        times = [t for t in sorted(accepted[probe]) if not any(a <= t < b for a, b in settle) and t <= walk.now]
        series.append(
            Series(
                probe=probe,
                times=np.array(times, dtype=np.int64),
                milli_c=np.array([accepted[probe][t] for t in times], dtype=np.int64),
                service=tuple(service),
            )
        )
    finding = prove(
        Question(rule=find_rule(rule), max_gap_ms=2 * HOUR, start=T0, end=walk.now, turnings=turnings), series
    )
    assert walk.progress.state.value == "met"
    assert finding.outcome.value == "met"
    assert finding.met_at == walk.progress.since
    assert dict(finding.values) == dict(walk.progress.values)
