"""Each rule at its limit, just under it and just over it. Sources: standards 1.1 and 8.2, named beside the cases.

Every record here is made of readings, so that the whole way from readings to verdict is tried.
"""

import numpy as np
import pytest

from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS
from monitor.proof.holdset import HoldBasis
from monitor.proof.rules import load_rule
from monitor.proof.temperature import Series
from monitor.proof.verdict import Outcome, Question, prove

STEP = 10 * MINUTE_MS


def series(stretches, probe="a"):
    """Readings every ten minutes of stretches (duration, thousandths of a degree); each begins 1 s after the last."""
    times, values, at = [], [], 0
    for duration, milli_c in stretches:
        inner = list(range(at, at + duration, STEP))
        for here in [*inner, at + duration]:
            times.append(here)
            values.append(milli_c)
        at += duration + SECOND_MS
    return Series(probe=probe, times=np.array(times, dtype=np.int64), milli_c=np.array(values, dtype=np.int64))


def outcome(rule_id, stretches, turnings=()):
    return prove(Question(rule=load_rule(rule_id), max_gap_ms=2 * HOUR_MS, turnings=turnings), [series(stretches)])


FIVE = [3 * DAY_MS, 5 * DAY_MS, 8 * DAY_MS, 11 * DAY_MS, 13 * DAY_MS]
STATIC = ["us-503-pfrp-static", "us-112-54-static", "us-205-203-static"]
TURNED = ["us-503-pfrp-windrow", "us-112-54-turned", "us-205-203-windrow"]


@pytest.mark.parametrize("rule_id", STATIC)
def test_72_hours_at_exactly_55_meet_the_static_rules(rule_id):
    # standards 8.2 row 1: "at or above" (40 CFR 503 App. B, 21 CFR 112.54(b)(1), 7 CFR 205.203(c)(2): "between")
    finding = outcome(rule_id, [(72 * HOUR_MS, 55_000)])
    assert (finding.outcome, finding.met_at) == (Outcome.MET, 72 * HOUR_MS)


@pytest.mark.parametrize("rule_id", STATIC + TURNED)
def test_ten_days_at_54_99_meet_nothing(rule_id):
    # standards 8.2 row 2
    assert outcome(rule_id, [(10 * DAY_MS, 54_990)], FIVE).outcome is Outcome.NOT_MET
    assert outcome(rule_id, [(20 * DAY_MS, 54_999)], FIVE).outcome is Outcome.NOT_MET


@pytest.mark.parametrize("rule_id", STATIC)
@pytest.mark.parametrize("short", [60 * SECOND_MS, 1], ids=["1 min", "1 ms"])
def test_just_under_72_hours_does_not(rule_id, short):
    # standards 8.2 row 3
    assert outcome(rule_id, [(72 * HOUR_MS - short, 55_000)]).outcome is Outcome.NOT_MET


@pytest.mark.parametrize("rule_id", STATIC)
def test_an_hour_at_54_breaks_three_consecutive_days(rule_id):
    # standards 8.2 row 4
    stretches = [(2 * DAY_MS, 55_000), (HOUR_MS, 54_000), (2 * DAY_MS, 55_000)]
    assert outcome(rule_id, stretches).outcome is Outcome.NOT_MET


def separate_days():
    """Fifteen days at or above 55 over 25 days, ten of which are cold."""
    stretches = []
    for _ in range(5):
        stretches += [(3 * DAY_MS, 55_000), (2 * DAY_MS - 2 * SECOND_MS, 40_000)]
    return stretches


def test_fifteen_separate_days_and_five_turnings_meet_112_54_turned():
    # standards 8.2 row 5: "need not be consecutive" (21 CFR 112.54(b)(2))
    turnings = [2 * DAY_MS, 7 * DAY_MS, 12 * DAY_MS, 17 * DAY_MS, 22 * DAY_MS]
    finding = outcome("us-112-54-turned", separate_days(), turnings)
    assert finding.outcome is Outcome.MET
    assert finding.values == {"days": 15, "days_needed": 15, "turnings": 5, "turnings_needed": 5, "turnings_logged": 5}
    # The strict reading is printed beside: unbroken it is not.
    assert finding.unbroken is Outcome.NOT_MET


@pytest.mark.parametrize("rule_id", TURNED)
def test_fifteen_days_with_five_turnings_meet_the_turned_rules(rule_id):
    finding = outcome(rule_id, [(15 * DAY_MS, 55_000)], FIVE)
    assert (finding.outcome, finding.met_at, finding.unbroken) == (Outcome.MET, 15 * DAY_MS, Outcome.MET)


@pytest.mark.parametrize("rule_id", TURNED)
def test_a_millisecond_less_than_fifteen_days_does_not(rule_id):
    assert outcome(rule_id, [(15 * DAY_MS - 1, 55_000)], FIVE).outcome is Outcome.NOT_MET


@pytest.mark.parametrize("rule_id", TURNED)
def test_fifteen_days_with_four_turnings_do_not(rule_id):
    # standards 8.2 row 6
    assert outcome(rule_id, [(15 * DAY_MS, 60_000)], FIVE[:4]).outcome is Outcome.NOT_MET


@pytest.mark.parametrize(
    ("rule_id", "expected"),
    [("us-112-54-turned", Outcome.MET), ("us-503-pfrp-windrow", Outcome.MET), ("us-205-203-windrow", Outcome.NOT_MET)],
)
def test_fifteen_days_at_80_are_too_hot_for_the_organic_rule_only(rule_id, expected):
    # standards 8.2 row 7: 7 CFR 205.203(c)(2) has an upper limit of 170 degF
    assert outcome(rule_id, [(15 * DAY_MS, 80_000)], FIVE).outcome is expected


@pytest.mark.parametrize(("milli_c", "expected"), [(76_667, Outcome.MET), (76_668, Outcome.NOT_MET)])
def test_the_upper_limit_is_included(milli_c, expected):
    # 170 degF = 76.667 degC
    assert outcome("us-205-203-static", [(72 * HOUR_MS, milli_c)]).outcome is expected
    assert outcome("us-205-203-windrow", [(15 * DAY_MS, milli_c)], FIVE).outcome is expected


@pytest.mark.parametrize("rule_id", TURNED)
def test_a_turning_before_the_first_hold_instant_does_not_count(rule_id):
    # standards 8.2 row 8: "during the period"
    stretches = [(DAY_MS, 30_000), (16 * DAY_MS, 60_000)]
    finding = outcome(rule_id, stretches, [DAY_MS // 2, *(at + DAY_MS for at in FIVE[:4])])
    assert finding.outcome is Outcome.NOT_MET
    assert finding.turnings == 4
    assert outcome(rule_id, stretches, [at + DAY_MS for at in FIVE]).outcome is Outcome.MET


def test_a_turning_after_the_last_hold_instant_does_not_count():
    stretches = [(16 * DAY_MS, 60_000), (2 * DAY_MS, 30_000)]
    assert outcome("us-503-pfrp-windrow", stretches, [*FIVE[:4], 17 * DAY_MS]).outcome is Outcome.NOT_MET
    assert outcome("us-503-pfrp-windrow", stretches, [*FIVE[:4], 16 * DAY_MS]).outcome is Outcome.MET


def gap_of(hours):
    times = [*range(0, 35 * HOUR_MS + 1, STEP), *range((35 + hours) * HOUR_MS, 100 * HOUR_MS + 1, STEP)]
    return Series(probe="a", times=np.array(times, dtype=np.int64), milli_c=np.full(len(times), 60_000, dtype=np.int64))


def test_a_gap_is_not_evidence():
    # standards 8.2 row 11: no source covers gaps; ours is 2 h between readings
    rule = load_rule("us-503-pfrp-static")
    assert prove(Question(rule=rule, max_gap_ms=2 * HOUR_MS), [gap_of(2)]).met_at == 72 * HOUR_MS
    finding = prove(Question(rule=rule, max_gap_ms=2 * HOUR_MS), [gap_of(3)])
    assert (finding.outcome, finding.unproven_ms) == (Outcome.NOT_PROVEN, 3 * HOUR_MS)
    assert finding.reasons == (
        (
            "needs 72 h unbroken at 55 °C or above; longest proven run 62 h, from 1970-01-02T14:00:00.000Z to "
            "1970-01-05T04:00:00.000Z; would be met if the unproven time (3 h in all) satisfied it"
        ),
    )


@pytest.mark.parametrize(
    ("milli_c", "days", "place"),
    [(55_000, 14, 0), (60_000, 6, 1), (65_000, 3, 2)],
)
def test_the_german_alternatives(milli_c, days, place):
    # BioAbfV Annex 2 no. 2.2.2.1 (seen): any of 55 degC 14 d, 60 degC 6 d, 65 degC 3 d
    finding = outcome("de-bioabfv", [(days * DAY_MS, milli_c)])
    assert (finding.outcome, finding.met_at, finding.alternative) == (Outcome.MET, days * DAY_MS, place)
    assert outcome("de-bioabfv", [(days * DAY_MS - 1, milli_c)]).outcome is Outcome.NOT_MET
    assert outcome("de-bioabfv", [(days * DAY_MS, milli_c - 1)]).outcome is Outcome.NOT_MET


@pytest.mark.parametrize(
    ("milli_c", "days", "place"),
    [(55_000, 14, 0), (60_000, 7, 1), (65_000, 5, 2), (70_000, 3, 3)],
)
def test_the_european_alternatives(milli_c, days, place):
    # Regulation (EU) 2019/1009 CMC 3 (from memory, for information)
    finding = outcome("eu-2019-1009-cmc3", [(days * DAY_MS, milli_c)])
    assert (finding.outcome, finding.met_at, finding.alternative) == (Outcome.MET, days * DAY_MS, place)
    assert outcome("eu-2019-1009-cmc3", [(days * DAY_MS - 1, milli_c)]).outcome is Outcome.NOT_MET
    assert outcome("eu-2019-1009-cmc3", [(days * DAY_MS, milli_c - 1)]).outcome is Outcome.NOT_MET


def test_the_welsh_windrow():
    # SI 2006/1293 (W.127) Sch. 1 Part II (seen): 60 degC, 8 days, 3 turnings no less than 2 days apart
    apart = [2 * DAY_MS, 4 * DAY_MS, 6 * DAY_MS]
    hot = [(8 * DAY_MS, 60_000)]
    assert outcome("uk-wales-abp-windrow", hot, apart).met_at == 8 * DAY_MS
    assert outcome("uk-wales-abp-windrow", [(8 * DAY_MS - 1, 60_000)], apart).outcome is Outcome.NOT_MET
    assert outcome("uk-wales-abp-windrow", [(8 * DAY_MS, 59_999)], apart).outcome is Outcome.NOT_MET
    close = [2 * DAY_MS, 4 * DAY_MS - 1, 6 * DAY_MS - 2]
    assert outcome("uk-wales-abp-windrow", hot, close).outcome is Outcome.NOT_MET
    assert outcome("uk-wales-abp-windrow", hot, [*close, 7 * DAY_MS]).outcome is Outcome.NOT_MET
    # Counted greedily: a turning too close to the one before is left out, not the later ones.
    assert outcome("uk-wales-abp-windrow", hot, [2 * DAY_MS, 3 * DAY_MS, *apart[1:]]).outcome is Outcome.MET


@pytest.mark.parametrize(("milli_c", "expected"), [(54_444, Outcome.MET), (54_443, Outcome.NOT_MET)])
def test_the_gardeners_custom(milli_c, expected):
    # Common practice, no published source: 130 degF = 54.444 degC
    assert outcome("backyard-130f-3d", [(72 * HOUR_MS, milli_c)]).outcome is expected
    assert outcome("backyard-130f-3d", [(72 * HOUR_MS - 1, milli_c)]).outcome is Outcome.NOT_MET


def test_the_coldest_probe_decides_unless_the_mean_was_asked_for():
    rule = load_rule("us-503-pfrp-static")
    pair = [series([(72 * HOUR_MS, 60_000)], "core"), series([(72 * HOUR_MS, 52_000)], "edge")]
    assert prove(Question(rule=rule, max_gap_ms=2 * HOUR_MS), pair).outcome is Outcome.NOT_MET
    assert prove(Question(rule=rule, max_gap_ms=2 * HOUR_MS, basis=HoldBasis.MEAN), pair).outcome is Outcome.MET
    each = prove(Question(rule=rule, max_gap_ms=2 * HOUR_MS, basis=HoldBasis.EACH), pair)
    assert (each.outcome, each.probe, each.total_ms, each.hold) == (Outcome.NOT_MET, "edge", 0, ())
