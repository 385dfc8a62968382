"""What ended the best hold: which probe, how, and for how long."""

import numpy as np

from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.proof.holdset import HoldBasis
from monitor.proof.rules import load_rule
from monitor.proof.temperature import Series
from monitor.proof.verdict import Question, prove

M, H = MINUTE_MS, HOUR_MS


def series(probe, *pairs, service=None):
    """Readings at (minutes, degrees)."""
    times = np.array([round(at * M) for at, _ in pairs], dtype=np.int64)
    values = np.array([round(degrees * 1000) for _, degrees in pairs], dtype=np.int64)
    if service is None:
        return Series(probe=probe, times=times, milli_c=values)
    return Series(probe=probe, times=times, milli_c=values, service=tuple((a * M, b * M) for a, b in service))


def level(probe, degrees, hours, service=None, start=0):
    return series(probe, *((at, degrees) for at in range(start, hours * 60 + 1, 10)), service=service)


def reason(*probes, rule="us-112-54-static", **options):
    finding = prove(Question(rule=load_rule(rule), max_gap_ms=2 * H, **options), probes)
    return finding.reasons[0]


def dip(probe="b", degrees=54, back=4):
    """61 h 20 min at 60, then below 55 within a minute, back after `back` minutes; 5 h more."""
    first = 61 * 60 + 20
    hot = [(at, 60) for at in range(0, first, 10)]
    low = [(first, 55), (first + 1, degrees), (first + back - 1, degrees), (first + back, 55)]
    return series(probe, *hot, *low, *((at, 60) for at in range(first + 10, first + 300, 10)))


def test_a_dip_of_one_of_two_probes():
    assert reason(level("a", 60, 66), dip()) == (
        "needs 72 h unbroken at 131 °F (55 °C) or above; longest proven run 61 h 20 min, from 1970-01-01T00:00:00.000Z "
        "to 1970-01-03T13:20:00.000Z, ended when probe b fell below 131 °F for 4 min"
    )


def test_one_that_did_not_come_back():
    cold = series("a", *((at, 60) for at in range(0, 601, 10)), (700, 20), (800, 20))
    assert reason(cold).endswith("ended when probe a fell below 131 °F and did not come back")


def test_a_rise_above_the_upper_limit():
    hot = series("a", *((at, 60) for at in range(0, 601, 10)), (610, 80), (640, 80), (650, 60), (700, 60))
    text = reason(hot, rule="us-205-203-static")
    assert "ended when probe a rose above 170 °F for 3" in text
    assert "at most 170 °F (76.7 °C)" in text
    assert "fell below 131 °F" in reason(dip(), rule="us-205-203-static")


def test_a_gap():
    first = [(at, 60) for at in range(0, 3001, 10)]
    later = [(at, 60) for at in range(3180, 3300, 10)]
    text = reason(series("a", *first, *later), level("b", 60, 55))
    assert text.endswith("ended when the readings of probe a stopped for 3 h")  # 55 h in all are too few for a doubt
    assert reason(series("a", *first), level("b", 60, 80)).endswith(
        "ended when the readings of probe a stopped and did not come back; "
        "would be met if the unproven time (30 h in all) satisfied it"
    )


def test_the_last_probe_taken_out():
    out = level("a", 60, 50, service=[(0, 1200), (1260, 3000)])
    assert "ended when the last probe was taken out for 1 h" in reason(
        level("a", 60, 50, service=[(0, 2000), (2060, 3000)])
    )
    assert "1260" not in reason(out)


def test_a_probe_put_in_that_says_nothing_yet():
    late = level("b", 60, 60, service=[(2400, 3600)], start=2460)
    assert "ended when probe b was put in and its first reading came 1 h later" in reason(level("a", 60, 60), late)


def test_the_mean_of_the_probes():
    other = series("c", *((at, 54) for at in range(0, 3001, 10)), (3010, 10), (3600, 10))
    text = reason(level("a", 60, 60), other, basis=HoldBasis.MEAN)
    assert "ended when the mean of the probes fell below 131 °F and did not come back" in text


def test_each_probe_by_itself():
    text = reason(level("a", 60, 70), dip(), basis=HoldBasis.EACH)
    assert "ended when probe b fell below 131 °F for 4 min" in text


def test_material_that_came_in():
    text = reason(level("a", 60, 100), restarts=[0, 60 * H])
    assert text.endswith(
        "longest proven run 40 h, from 1970-01-03T12:00:00.000Z to 1970-01-05T04:00:00.000Z; "
        "the hold of 60 h before that ended when material was added"
    )


def test_a_hold_that_is_still_going_on_did_not_end():
    assert reason(level("a", 60, 60)).endswith("to 1970-01-03T12:00:00.000Z")


def test_strict_limits_and_very_short_dips():
    dipped = series("a", *((at, 60) for at in range(0, 601, 10)), (610, 55), (620, 60), (700, 60))
    text = reason(dipped, rule="au-food-safety-vessel")
    assert "ended when probe a fell to or below 55 °C for less than a second" in text


def test_what_came_of_each_part_is_told():
    finding = prove(Question(rule=load_rule("us-112-54-turned"), max_gap_ms=2 * H), [level("a", 60, 60)])
    assert [(one.kind, one.needs, one.outcome.value, one.met_at) for one in finding.parts] == [
        ("Days", "needs 15 days at 131 °F (55 °C) or above", "not met", None)
    ]
    assert finding.parts[0].reason == finding.reasons[0]
    assert "ended when" not in finding.reasons[0]
