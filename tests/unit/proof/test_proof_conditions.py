"""Conditions of a rule: declared by name, measured, or not examined; and what that does to the verdict."""

from dataclasses import replace

import numpy as np
import pytest

from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.proof.rules import Condition, Duties, load_rule
from monitor.proof.temperature import Series
from monitor.proof.verdict import Evidence, ExaminedStatus, Outcome, Question, examine, prove

# 14 CCR 17868.3 (standards 1.4): daily, one per 150 ft or 200 cubic yards or fraction, 12 to 24 inches deep.
CALIFORNIA = load_rule("us-ca-17868-3-windrow")
DAILY = list(range(0, 16 * DAY_MS + 1, DAY_MS))


def duty(**known):
    options = {"length_milli_m": 45_720, "depths": {"a": 400}, "times": {"a": DAILY}, **known}
    return examine(CALIFORNIA, Evidence(**options))[-1]


def test_a_condition_is_declared_by_name_or_not_examined():
    rule = replace(
        CALIFORNIA, conditions=(Condition(key="curing", text="Cured"), Condition(key="ph", text="pH about 7"))
    )
    curing, ph = examine(rule, Evidence(declared={"curing": "R. Alder", "other": "nobody"}))
    assert (curing.status, curing.ok, curing.by, curing.words) == (
        ExaminedStatus.DECLARED,
        None,
        "R. Alder",
        "declared by R. Alder",
    )
    assert (ph.key, ph.text, ph.status, ph.ok, ph.by) == ("ph", "pH about 7", ExaminedStatus.NOT_EXAMINED, None, "")


def test_duties_that_are_kept():
    found = duty()
    assert (found.status, found.ok) == (ExaminedStatus.MEASURED, True)
    assert found.words == (
        "probe a went unread for 24 h at most, wanted every 24 h; depths a 400 mm, wanted 305 mm to 610 mm; "
        "1 probe counts, 1 wanted for this size"
    )


@pytest.mark.parametrize(
    ("known", "ok"),
    [
        ({"length_milli_m": 45_721}, False),  # a fraction more wants a second probe
        ({"length_milli_m": 45_721, "times": {"a": DAILY, "b": DAILY}, "depths": {"a": 400, "b": 400}}, True),
        ({"length_milli_m": None, "volume_milli_m3": 152_911}, True),
        ({"length_milli_m": None, "volume_milli_m3": 152_912}, False),
        ({"length_milli_m": 90_000, "volume_milli_m3": 152_911}, True),  # either way is enough
        ({"depths": {"a": 305}}, True),
        ({"depths": {"a": 304}}, False),
        ({"depths": {"a": 610}}, True),
        ({"depths": {"a": 611}}, False),
        # One at a wrong depth is not counted.
        ({"times": {"a": DAILY, "b": DAILY}, "depths": {"a": 400, "b": 900}}, True),
        ({"times": {"a": DAILY, "b": DAILY}, "depths": {"a": 400, "b": 900}, "length_milli_m": 50_000}, False),
        # A quarter more than a day may pass.
        ({"times": {"a": [0, 30 * HOUR_MS]}}, True),
        ({"times": {"a": [0, 30 * HOUR_MS + 1]}}, False),
        ({"times": {"a": np.array([0, DAY_MS, 40 * DAY_MS])}}, False),
        ({"times": {"a": DAILY}, "end": 20 * DAY_MS}, False),
        ({"times": {"a": DAILY, "b": []}, "depths": {"a": 400, "b": 400}}, False),
    ],
)
def test_each_thing_that_a_duty_states(known, ok):
    found = duty(**known)
    assert (found.status, found.ok) == (ExaminedStatus.MEASURED, ok)


def test_what_nobody_stated_leaves_it_not_examined():
    unknown = duty(depths={"a": None})
    assert (unknown.status, unknown.ok) == (ExaminedStatus.NOT_EXAMINED, None)
    assert "depth of a is not stated" in unknown.words
    assert duty(length_milli_m=None).status is ExaminedStatus.NOT_EXAMINED
    assert duty(times={}).status is ExaminedStatus.NOT_EXAMINED
    assert examine(CALIFORNIA, Evidence())[-1].status is ExaminedStatus.NOT_EXAMINED
    # A person may stand for it; but what was found wrong stays wrong.
    declared = duty(depths={"a": None}, declared={"monitoring": "R. Alder"})
    assert (declared.status, declared.ok, declared.by) == (ExaminedStatus.DECLARED, None, "R. Alder")
    wrong = duty(depths={"a": None}, length_milli_m=90_000, declared={"monitoring": "R. Alder"})
    assert (wrong.status, wrong.ok) == (ExaminedStatus.MEASURED, False)


def batch(evidence):
    times = np.arange(0, 15 * DAY_MS + 1, 10 * MINUTE_MS, dtype=np.int64)
    hot = Series(probe="a", times=times, milli_c=np.full(times.shape, 60_000, dtype=np.int64))
    turnings = [day * DAY_MS for day in (2, 5, 8, 11, 14)]
    return prove(Question(rule=CALIFORNIA, max_gap_ms=HOUR_MS, turnings=turnings, evidence=evidence), [hot])


def test_only_duties_that_were_examined_and_failed_change_the_verdict():
    assert batch(None).outcome is Outcome.MET
    assert batch(None).conditions == ()
    assert batch(Evidence()).outcome is Outcome.MET
    assert len(batch(Evidence()).conditions) == len(CALIFORNIA.conditions)
    times = {"a": DAILY[:16]}
    failed = batch(Evidence(length_milli_m=90_000, depths={"a": 400}, times=times))
    assert failed.outcome is Outcome.NOT_PROVEN
    assert failed.met_at == 15 * DAY_MS
    assert failed.reasons[-1].startswith(
        "the rule's monitoring duties were examined and not kept (Temperature read daily"
    )
    assert batch(Evidence(length_milli_m=40_000, depths={"a": 400}, times=times)).outcome is Outcome.MET


def test_a_failed_duty_makes_nothing_better():
    cold = Series(probe="a", times=np.array([0, HOUR_MS]), milli_c=np.array([20_000, 20_000]))
    found = prove(
        Question(rule=CALIFORNIA, max_gap_ms=HOUR_MS, evidence=Evidence(length_milli_m=90_000, times={"a": [0, 1]})),
        [cold],
    )
    assert found.outcome is Outcome.NOT_MET


def test_a_duty_that_states_nothing_to_measure_is_left_to_a_person():
    rule = replace(CALIFORNIA, conditions=(Duties(key="watch", text="Watch it"),))
    found = examine(rule, Evidence(times={"a": DAILY}))[0]
    assert (found.status, found.ok) == (ExaminedStatus.NOT_EXAMINED, None)


def test_a_duty_of_one_thing_asks_for_no_more():
    rule = replace(CALIFORNIA, conditions=(Duties(key="often", text="Read", every_ms=DAY_MS),))
    assert examine(rule, Evidence(times={"a": DAILY}))[0].ok is True
