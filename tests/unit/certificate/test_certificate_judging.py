from dataclasses import replace

import certificate_scenes as scenes
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.certificate import judge_case
from monitor.certificate.judged.judging import accepted, member
from monitor.conditioning import calibrate
from monitor.model.errors import MisuseError
from monitor.model.settings import Calibration, Probe
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.words import Method, Role
from monitor.proof.verdict import Outcome

POINTS = st.lists(st.tuples(st.integers(-300_000, 300_000), st.integers(-300_000, 300_000)), min_size=1, max_size=2)


@given(
    st.lists(st.tuples(st.integers(-(10**17), 10**17), st.integers(0, 2), st.integers(1, 4)), min_size=1, max_size=30),
    st.lists(st.tuples(POINTS, st.one_of(st.none(), st.integers(0, 40))), max_size=3),
)
def test_a_whole_column_is_calibrated_as_each_reading_is(readings, lines):
    calibrations = tuple(
        Calibration(points=tuple(points), start=None if start is None else scenes.START + start * HOUR_MS)
        for points, start in lines
    )
    units = ("Cel", "[degF]", "K")
    one = replace(
        scenes.probe("a", np.zeros(len(readings), dtype=np.int64), every_ms=HOUR_MS),
        micro=np.array([micro for micro, _, _ in readings], dtype=np.int64),
        units=np.array([unit for _, unit, _ in readings], dtype=np.int8),
        unit_names=units,
        quality=np.array([quality for _, _, quality in readings], dtype=np.int8),
        calibrations=calibrations,
    )
    probe = Probe(place="", role=Role.CORE, address="a", calibrations=calibrations)
    wanted = [
        calibrate(micro, units[unit], probe, scenes.START + place * HOUR_MS)
        for place, (micro, unit, quality) in enumerate(readings)
        if quality <= 2
    ]
    if any(abs(value) >= 2**63 for value in wanted):
        with pytest.raises(OverflowError):
            accepted(one)
        return
    assert accepted(one).milli_c.tolist() == wanted


def test_half_a_thousandth_goes_to_the_even_one():
    one = replace(scenes.probe("a", np.zeros(6, dtype=np.int64)), micro=np.array([500, 1500, 2500, 2501, -500, -1500]))
    assert accepted(one).milli_c.tolist() == [0, 2, 2, 3, 0, -2]


@given(
    st.lists(st.integers(0, 60), max_size=20),
    st.lists(st.tuples(st.integers(0, 60), st.integers(0, 9)), max_size=4),
)
def test_membership_of_intervals(times, spans):
    from monitor.proof.intervals import normal

    within = normal((start, start + size) for start, size in spans)
    found = member(np.array(times, dtype=np.int64), within)
    assert found.tolist() == [any(start <= at < end for start, end in within) for at in times]


def test_the_record_runs_from_the_first_reading_that_counts_to_the_last():
    one = scenes.case()
    late, early = scenes.START + DAY_MS, scenes.START + 20 * DAY_MS
    # What is read at the very end of its service counts no more.
    served = tuple(replace(probe, service=((late, early + 1),)) for probe in one.probes)
    judgement = judge_case(replace(one, probes=served))
    assert (judgement.start, judgement.end) == (late, early)
    asked = judge_case(replace(one, start=scenes.START + 5 * DAY_MS, end=scenes.START + 6 * DAY_MS))
    assert asked.finding.outcome is Outcome.NOT_MET
    assert asked.end - asked.start == DAY_MS


def test_verdicts_of_the_scenes():
    assert judge_case(scenes.case()).met
    assert judge_case(scenes.not_met()).finding.outcome is Outcome.NOT_MET
    assert judge_case(scenes.not_proven()).finding.outcome is Outcome.NOT_PROVEN
    assert judge_case(scenes.by_hand()).met


def test_readings_flagged_bad_do_not_count():
    one = scenes.case()
    bad = replace(one.probes[0], quality=np.full(one.probes[0].times.shape, 3, dtype=np.int8))
    judgement = judge_case(replace(one, probes=(bad, *one.probes[1:])))
    assert judgement.finding.outcome is Outcome.NOT_PROVEN
    with pytest.raises(MisuseError, match="No reading counts"):
        judge_case(replace(one, probes=(bad,)))


def test_a_probe_taken_out_for_good_is_judged_with_and_without():
    one = scenes.case()
    cold = scenes.probe("p1-z", scenes.course(24, seed=3, peak=40_000), retired_by="Ann Example")
    judgement = judge_case(replace(one, probes=(*one.probes, cold)))
    assert judgement.finding.outcome is Outcome.NOT_MET
    ((probe, without),) = judgement.without
    assert probe == "p1-z"
    assert without is not None
    assert without.outcome is Outcome.MET
    alone = judge_case(replace(one, probes=(cold,)))
    assert alone.without == (("p1-z", None),)


def test_smoothing_shows_both():
    one = scenes.case()
    assert judge_case(one).plain is None
    judgement = judge_case(replace(one, smoothing_ms=HOUR_MS))
    assert judgement.plain is not None
    assert judgement.plain.total_ms == judge_case(one).finding.total_ms


def test_a_guard_band_makes_it_harder():
    one = scenes.case()
    assert judge_case(replace(one, guard_milli_k=2_000)).finding.total_ms < judge_case(one).finding.total_ms


def test_a_method_that_the_rule_does_not_cover_is_refused_in_a_sentence():
    with pytest.raises(MisuseError, match="covers"):
        judge_case(scenes.case(method=Method.PASSIVE))


def test_declared_conditions_bear_a_name_and_change_nothing():
    from monitor.certificate import Attested

    one = scenes.case()
    key = one.rule.conditions[0].key
    judgement = judge_case(replace(one, declared={key: Attested(by="Ann Example", at=scenes.ISSUED)}))
    assert next(found.by for found in judgement.finding.conditions if found.key == key) == "Ann Example"
    assert judgement.finding.outcome is judge_case(one).finding.outcome
