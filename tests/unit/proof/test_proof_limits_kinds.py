"""The rules with windows, means, runs before turnings and constant temperatures: at, just under and just over.

Sources: standards 1.1, 1.2, 8.1 and 8.2, named beside the cases. Every record here is made of readings.
"""

import numpy as np
import pytest
from test_proof_limits import FIVE, outcome, series

from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS
from monitor.proof.holdset import HoldBasis
from monitor.proof.judging.constant import lowest_milli_c, needed_ms
from monitor.proof.rules import Constant, load_rule
from monitor.proof.temperature import Series
from monitor.proof.verdict import Outcome, Question, prove

GAP = 2 * HOUR_MS


def knots(*pairs):
    """Readings at (ms, thousandths of a degree); lines between them, whatever their distance."""
    times, values = zip(*pairs, strict=True)
    return Series(probe="a", times=np.array(times, dtype=np.int64), milli_c=np.array(values, dtype=np.int64))


def joined(rule_id, *pairs, **options):
    return prove(Question(rule=load_rule(rule_id), max_gap_ms=100 * DAY_MS, **options), [knots(*pairs)])


RUNS = [
    # (rule, thousandths of a degree, duration): sources as in test_proof_rules.FIGURES.
    ("us-nop-5021-compost", 55_000, 72 * HOUR_MS),
    ("us-ca-17868-3-static", 55_000, 72 * HOUR_MS),
    ("us-wa-173-350-220-static", 55_000, 72 * HOUR_MS),
    ("us-ny-361-3-static", 55_000, 72 * HOUR_MS),
    ("ca-on-2012-static", 55_000, 72 * HOUR_MS),
    ("ca-bc-omrr-static", 55_000, 72 * HOUR_MS),
    ("ca-ccme-static", 55_000, 72 * HOUR_MS),
    ("au-food-safety-vessel", 55_001, 72 * HOUR_MS),
    ("uk-wales-abp-closed-60", 60_000, 2 * DAY_MS),
    ("uk-wales-abp-closed-70", 70_000, HOUR_MS),
    ("de-bioabfv-pasteurisation", 70_000, HOUR_MS),
    ("eu-142-2011-pasteurisation", 70_000, HOUR_MS),
]


@pytest.mark.parametrize(("rule_id", "milli_c", "lasting"), RUNS)
def test_unbroken_runs(rule_id, milli_c, lasting):
    met = outcome(rule_id, [(lasting, milli_c)])
    assert (met.outcome, met.met_at) == (Outcome.MET, lasting)
    assert outcome(rule_id, [(lasting + 1, milli_c + 1)]).met_at == lasting
    assert outcome(rule_id, [(lasting - 1, milli_c)]).outcome is Outcome.NOT_MET
    assert outcome(rule_id, [(2 * lasting, milli_c - 1)]).outcome is Outcome.NOT_MET


FIFTEEN = [
    "us-ca-17868-3-windrow", "us-wa-173-350-220-windrow", "us-ny-361-3-windrow", "ca-ccme-windrow", "ca-on-2012-windrow",
    "ca-bc-omrr-windrow", "au-as-4454-high",
]  # fmt: skip


@pytest.mark.parametrize("rule_id", FIFTEEN)
def test_fifteen_days_and_five_turnings(rule_id):
    # standards 1.1: at or above 55 degC (131 degF), 15 days, five turnings within them
    assert outcome(rule_id, [(15 * DAY_MS, 55_000)], FIVE).met_at == 15 * DAY_MS
    assert outcome(rule_id, [(15 * DAY_MS - 1, 55_000)], FIVE).outcome is Outcome.NOT_MET
    assert outcome(rule_id, [(15 * DAY_MS, 54_999)], FIVE).outcome is Outcome.NOT_MET
    assert outcome(rule_id, [(15 * DAY_MS, 55_000)], FIVE[:4]).outcome is Outcome.NOT_MET


def test_the_british_windrow():
    # standards 1.1, BSI PAS 100 (from memory): 65 degC, 7 days (read as following one another), 2 turnings
    two = [2 * DAY_MS, 5 * DAY_MS]
    assert outcome("uk-pas-100", [(7 * DAY_MS, 65_000)], two).met_at == 7 * DAY_MS
    assert outcome("uk-pas-100", [(7 * DAY_MS - 1, 65_000)], two).outcome is Outcome.NOT_MET
    assert outcome("uk-pas-100", [(7 * DAY_MS, 64_999)], two).outcome is Outcome.NOT_MET
    assert outcome("uk-pas-100", [(7 * DAY_MS, 65_000)], two[:1]).outcome is Outcome.NOT_MET
    parted = [(3 * DAY_MS, 65_000), (2 * DAY_MS - SECOND_MS, 40_000), (4 * DAY_MS, 65_000)]
    assert outcome("uk-pas-100", parted, [DAY_MS, 7 * DAY_MS]).outcome is Outcome.NOT_MET


def psrp(*pairs, **options):
    return joined("us-503-psrp", *pairs, **options)


def block(milli_c, lasting, at=DAY_MS, base=41_000, days=5 * DAY_MS):
    """Five days at 41 degC with one block that is hotter; it begins and ends within a millisecond."""
    return (0, base), (at, base), (at + 1, milli_c), (at + 1 + lasting, milli_c), (at + 2 + lasting, base), (days, base)


def test_five_days_at_40_with_four_hours_above_55():
    # standards 8.2: 5 d at 41 degC with one 4 h block > 55 degC passes; the same at exactly 55.0 fails ("exceeds")
    assert psrp(*block(55_001, 4 * HOUR_MS)).met_at == 5 * DAY_MS
    assert psrp(*block(55_000, 4 * HOUR_MS)).outcome is Outcome.NOT_MET
    assert psrp(*block(55_001, 4 * HOUR_MS - 1)).outcome is Outcome.NOT_MET
    assert psrp(*block(55_001, 4 * HOUR_MS, base=40_000)).met_at == 5 * DAY_MS
    assert psrp(*block(55_001, 4 * HOUR_MS, base=39_999)).outcome is Outcome.NOT_MET
    assert psrp(*block(55_001, 4 * HOUR_MS, days=5 * DAY_MS - 1)).outcome is Outcome.NOT_MET


def test_the_four_hours_must_lie_within_those_same_five_days():
    # Hot first, then broken, then five days that were never above 55 degC.
    hot = [
        (0, 60_000),
        (6 * HOUR_MS, 60_000),
        (6 * HOUR_MS + 1, 30_000),
        (7 * HOUR_MS, 30_000),
        (7 * HOUR_MS + 1, 45_000),
    ]
    finding = psrp(*hot, (7 * DAY_MS, 45_000))
    assert finding.outcome is Outcome.NOT_MET
    assert finding.values == {"window_h": 120, "parts_met": 1, "parts_needed": 2}
    # Ten days at 45 degC with four hours on the eighth: some five days hold them.
    late = psrp(*block(60_000, 4 * HOUR_MS, at=7 * DAY_MS, base=45_000, days=10 * DAY_MS))
    assert late.outcome is Outcome.MET
    assert late.met_at > 7 * DAY_MS + 4 * HOUR_MS


def test_a_gap_in_the_five_days_is_not_proven():
    pairs = block(60_000, 4 * HOUR_MS)
    finding = prove(Question(rule=load_rule("us-503-psrp"), max_gap_ms=4 * HOUR_MS), [knots(*pairs)])
    assert finding.outcome is Outcome.NOT_PROVEN
    assert "would be met if the unproven time" in finding.reasons[0]
    assert finding.reasons == (
        (
            "needs, within the same 5 days, 5 days unbroken at 40 °C or above and 4 h unbroken above 55 °C; "
            "longest proven run at 40 °C 4 h, longest proven run at 55 °C 4 h; "
            "would be met if the unproven time (4 days 19 h 59 min 59.998 s in all) satisfied it"
        ),
    )


def vector(*pairs, **options):
    return joined("us-503-vector-attraction", *pairs, **options)


def test_fourteen_days_above_40_and_above_45_in_the_mean():
    # standards 8.2: 14 d, min 41 degC, mean 44.9 degC fails (40 CFR 503.33(b)(5), from memory)
    end = 14 * DAY_MS
    assert vector((0, 44_900), (end, 44_900)).outcome is Outcome.NOT_MET
    assert vector((0, 45_000), (end, 45_000)).outcome is Outcome.NOT_MET
    assert vector((0, 45_001), (end, 45_001)).met_at == end
    assert vector((0, 45_001), (end - 1, 45_001)).outcome is Outcome.NOT_MET
    # A line from 41 to 49 has the mean 45 exactly; a thousandth more at one end is above it.
    assert vector((0, 41_000), (end, 49_000)).outcome is Outcome.NOT_MET
    assert vector((0, 41_000), (end, 49_001)).met_at == end
    assert vector((0, 40_001), (end, 60_000)).outcome is Outcome.MET
    assert vector((0, 40_000), (end, 60_000)).outcome is Outcome.NOT_MET
    finding = vector((0, 41_000), (end, 48_800))
    assert "highest mean 44.900 °C" in finding.reasons[0]


def test_the_mean_is_that_of_the_coldest_probe_unless_another_basis_was_asked_for():
    end = 14 * DAY_MS
    rule = load_rule("us-503-vector-attraction")
    # They cross in the middle: the coldest goes 41 to 45 and back, its mean is 43; the mean of both is 45 all along.
    up, down = knots((0, 41_000), (end, 49_002)), knots((0, 49_002), (end, 41_000))
    pair = [up, Series(probe="b", times=down.times, milli_c=down.milli_c)]
    found = {
        basis: prove(Question(rule=rule, max_gap_ms=100 * DAY_MS, basis=basis), pair).outcome for basis in HoldBasis
    }
    assert found == {HoldBasis.COLDEST: Outcome.NOT_MET, HoldBasis.MEAN: Outcome.MET, HoldBasis.EACH: Outcome.MET}


def test_the_first_fourteen_days_warm_enough_are_found_to_the_millisecond():
    # Climbs from 41 degC by 1 degC a day: the mean over 14 days passes 45 as soon as they begin at or below 38.
    start = 41_000
    finding = vector((0, start), (20 * DAY_MS, start + 20_000))
    assert finding.met_at == 14 * DAY_MS
    # Level at 44 for 10 days, then 46 and up: an exact root of a parabola, beside the sums by hand.
    late = vector((0, 44_000), (10 * DAY_MS, 44_000), (20 * DAY_MS, 54_000))
    begin = late.met_at - 14 * DAY_MS

    def excess(at):
        level = 44_000 * (10 * DAY_MS - at)
        rise = (at + 14 * DAY_MS) - 10 * DAY_MS
        return level + 44_000 * rise + rise * rise / DAY_MS * 1000 / 2 - 45_000 * 14 * DAY_MS

    assert excess(begin) > 0 >= excess(begin - 1)


def test_a_window_whose_known_time_is_warm_enough_is_not_proven():
    end = 14 * DAY_MS
    warm = [(0, 46_000), (5 * DAY_MS, 46_000), (7 * DAY_MS, 46_000), (end, 46_000)]
    rule = load_rule("us-503-vector-attraction")

    def found(pairs):
        steps = sorted({*range(0, 5 * DAY_MS + 1, HOUR_MS), *range(7 * DAY_MS, end + 1, HOUR_MS)})
        level = pairs[0][1]
        return prove(Question(rule=rule, max_gap_ms=GAP), [knots(*((at, level) for at in steps))]).outcome

    assert found(warm) is Outcome.NOT_PROVEN
    # Hoped time is just warm enough: it does not make up for what was proven to be too cool.
    assert found([(0, 44_000)]) is Outcome.NOT_MET


@pytest.mark.parametrize("rule_id", ["us-503-vector-attraction", "us-503-psrp", "us-503-time-temperature"])
@pytest.mark.parametrize(
    "readings", [[], [(0, 60_000)], [(0, 60_000), (30 * DAY_MS, 60_000)], [(0, 20_000), (1, 20_000)]]
)
@pytest.mark.parametrize("basis", HoldBasis)
def test_a_record_of_which_hardly_anything_is_known_is_not_proven(rule_id, readings, basis):
    times = np.array([at for at, _ in readings], dtype=np.int64)
    values = np.array([value for _, value in readings], dtype=np.int64)
    one = Series(probe="a", times=times, milli_c=values)
    end = 30 * DAY_MS
    assert (
        prove(Question(rule=load_rule(rule_id), max_gap_ms=GAP, basis=basis, start=0, end=end), [one]).outcome
        is Outcome.NOT_PROVEN
    )


def test_a_mean_late_in_a_long_record_is_found():
    # 200 days at 44 degC, then 46: the first 14 days with a mean above 45 begin at half of them, a little later.
    turn = 200 * DAY_MS
    cool = [(day * DAY_MS, 44_000) for day in range(0, 201, 50)]
    late = vector(*cool, (turn + 1, 46_000), (turn + 20 * DAY_MS, 46_000))
    assert abs(late.met_at - (turn + 7 * DAY_MS)) <= 2
    assert vector(*cool).outcome is Outcome.NOT_MET


THREE = [3 * DAY_MS, 6 * DAY_MS, 9 * DAY_MS]


def test_three_days_before_each_of_three_turnings():
    # standards 1.1, AS 4454 (from memory): 3 consecutive days before each of at least 3 turnings
    hot = [(9 * DAY_MS, 55_000)]
    assert outcome("au-as-4454-low", hot, THREE).met_at == 9 * DAY_MS
    assert outcome("au-as-4454-low", [(9 * DAY_MS, 54_999)], THREE).outcome is Outcome.NOT_MET
    assert outcome("au-as-4454-low", hot, THREE[:2]).outcome is Outcome.NOT_MET
    early = outcome("au-as-4454-low", hot, [THREE[0], THREE[1] - 1, THREE[2]])
    assert (early.outcome, early.turnings) == (Outcome.NOT_MET, 2)
    # A turning too early counts for nothing and takes nothing away.
    more = [(12 * DAY_MS, 60_000)]
    assert outcome("au-as-4454-low", more, [THREE[0], 4 * DAY_MS, 7 * DAY_MS, 10 * DAY_MS]).met_at == 10 * DAY_MS
    assert "2 of 3 logged turnings count" in early.reasons[0]


# standards 8.1 (computed from a formula seen second hand): equation, degrees, minutes
TABLE = [
    (131_700_000, 50_000, 18_964.80),
    (131_700_000, 55_000, 3_783.98),
    (131_700_000, 56_000, 2_741.25),
    (131_700_000, 60_000, 755.002),
    (131_700_000, 62_000, 396.231),
    (131_700_000, 65_000, 150.643),
    (131_700_000, 70_000, 30.057),
    (131_700_000, 72_000, 15.774),
    (50_070_000, 50_000, 7_210.08),
    (50_070_000, 55_000, 1_438.60),
    (50_070_000, 60_000, 287.038),
    (50_070_000, 65_000, 57.272),
    (50_070_000, 67_000, 30.057),
    (50_070_000, 70_000, 11.427),
]


@pytest.mark.parametrize(("numerator", "milli_c", "minutes"), TABLE)
def test_the_equation_gives_the_worked_values(numerator, milli_c, minutes):
    part = Constant(numerator_days=numerator, per_degree_milli=140, floor_ms=0)
    found = needed_ms(part, milli_c) / MINUTE_MS
    assert found == pytest.approx(minutes, rel=2e-5)


def test_the_equation_is_rounded_up_and_exact_where_it_is_a_whole_number():
    part = Constant(numerator_days=131_700_000, per_degree_milli=140, floor_ms=0)
    # 13.17 days exactly at 50 degC (10^7), and nothing above it.
    assert needed_ms(part, 50_000) == 1_137_888_000
    assert needed_ms(Constant(numerator_days=1, per_degree_milli=500, floor_ms=0), 20_000) == 1  # 0.00864 ms
    for milli_c in (50_001, 55_555, 61_803):
        # D^50000 against numerator^50000 / 10^(7 t): the definition in whole numbers, without a root.
        lasting = needed_ms(part, milli_c)
        power, scaled = 10 ** (7 * milli_c), 131_700_000 * DAY_MS
        assert lasting**50_000 * power >= scaled**50_000 > (lasting - 1) ** 50_000 * power


def test_where_the_floors_begin():
    # standards 1.2 (computed): 20 min at 71.264; 30 min at 67.006 (second equation) and 70.006 (first)
    first, second = (Constant(numerator_days=n, per_degree_milli=140, floor_ms=0) for n in (131_700_000, 50_070_000))
    for part, milli_c, floor in ((first, 71_264, 20), (second, 67_006, 30), (first, 70_006, 30)):
        assert needed_ms(part, milli_c + 1) < floor * MINUTE_MS < needed_ms(part, milli_c - 1)
    below = Constant(numerator_days=131_700_000, per_degree_milli=140, floor_ms=0, below_ms=30 * MINUTE_MS)
    lowest = lowest_milli_c(below, 50_000)
    assert needed_ms(first, lowest) < 30 * MINUTE_MS <= needed_ms(first, lowest - 1)


CONSTANT = [
    ("us-503-time-temperature", 50_000, 1_137_888_000),
    ("us-503-time-temperature", 80_000, 20 * MINUTE_MS),
    ("us-503-time-temperature-small-particles", 90_000, 15 * SECOND_MS),
    ("us-503-time-temperature-liquid", 69_000, 30 * MINUTE_MS),
    ("us-503-time-temperature-liquid", 90_000, 15 * SECOND_MS),
]


@pytest.mark.parametrize(("rule_id", "milli_c", "lasting"), CONSTANT)
def test_a_constant_temperature_at_its_limits(rule_id, milli_c, lasting):
    assert joined(rule_id, (0, milli_c), (lasting, milli_c)).met_at == lasting
    assert joined(rule_id, (0, milli_c), (lasting - 1, milli_c)).outcome is Outcome.NOT_MET


@pytest.mark.parametrize("milli_c", [55_000, 60_000, 65_000, 70_000])
def test_a_thousandth_less_needs_longer(milli_c):
    rule = load_rule("us-503-time-temperature")
    lasting = needed_ms(rule.live.parts[0], milli_c)
    assert joined(rule.id, (0, milli_c), (lasting, milli_c)).met_at == lasting
    assert joined(rule.id, (0, milli_c - 1), (lasting, milli_c - 1)).outcome is Outcome.NOT_MET
    assert joined(rule.id, (0, milli_c), (lasting - 1, milli_c)).outcome is Outcome.NOT_MET


def test_below_50_there_is_no_credit():
    # standards 8.1: 49.99 degC: no credit
    assert joined("us-503-time-temperature", (0, 49_999), (100 * DAY_MS, 49_999)).outcome is Outcome.NOT_MET


def test_72_hours_at_55_are_more_than_the_equation_asks():
    # standards 8.1: 72 h at exactly 55 degC = 1.14166 x D
    finding = joined("us-503-time-temperature", (0, 55_000), (72 * HOUR_MS, 55_000))
    assert 72 * HOUR_MS / finding.met_at == pytest.approx(1.14166, rel=1e-5)


def test_a_sum_of_fractions_is_not_a_constant_temperature():
    # standards 8.1: 24 h at 55 degC and 6 h at 60 degC sum up to 0.857372 of D; and neither is long enough by itself.
    pairs = [(0, 55_000), (24 * HOUR_MS, 55_000), (24 * HOUR_MS + 1, 60_000), (30 * HOUR_MS, 60_000)]
    finding = joined("us-503-time-temperature", *pairs)
    assert finding.outcome is Outcome.NOT_MET
    assert "closest at 60 °C (140 °F): longest proven run" in finding.reasons[0]


def test_the_best_temperature_lies_on_the_flanks_of_a_hump():
    # Up from 50 to 62 degC in 12 h and down again: no minimum of a level run decides, the best t is in between.
    pairs = [(0, 50_000), (12 * HOUR_MS, 62_000), (24 * HOUR_MS, 50_000)]
    rule = load_rule("us-503-time-temperature")
    slow = [(8 * at, value) for at, value in pairs]
    assert joined(rule.id, *pairs).outcome is Outcome.NOT_MET
    finding = joined(rule.id, *slow)
    part = rule.live.parts[0]
    # By hand: at t the run begins at 8 h a degree above 50; the earliest end of all whole thousandths.
    ends = []
    for milli_c in range(50_000, 62_001):
        begin = (milli_c - 50_000) * 8 * HOUR_MS // 1000
        lasting = needed_ms(part, milli_c)
        if begin + lasting <= 2 * 96 * HOUR_MS - begin:
            ends.append(begin + lasting)
    assert finding.met_at == min(ends)
    assert 50 < finding.values["at_c"] < 62


def test_a_gap_that_could_have_been_hot_leaves_it_open():
    rule = load_rule("us-503-time-temperature")
    steps = [*range(0, 5 * HOUR_MS, MINUTE_MS), *range(8 * HOUR_MS, 10 * HOUR_MS, MINUTE_MS)]
    finding = prove(Question(rule=rule, max_gap_ms=GAP), [knots(*((at, 60_000) for at in steps))])
    assert finding.outcome is Outcome.NOT_PROVEN
    level = prove(
        Question(rule=rule, max_gap_ms=GAP), [knots(*((at, 60_000) for at in range(0, 10 * HOUR_MS, MINUTE_MS)))]
    )
    assert level.outcome is Outcome.NOT_MET


def test_a_guard_band_reaches_every_kind():
    end = 14 * DAY_MS
    assert vector((0, 45_500), (end, 45_500), guard_milli_k=499).outcome is Outcome.MET
    assert vector((0, 45_500), (end, 45_500), guard_milli_k=500).outcome is Outcome.NOT_MET
    rule = load_rule("us-503-time-temperature")
    lasting = needed_ms(rule.live.parts[0], 60_000)
    pairs = ((0, 60_500), (lasting, 60_500))
    assert joined(rule.id, *pairs, guard_milli_k=500).met_at == lasting
    assert joined(rule.id, *pairs, guard_milli_k=501).outcome is Outcome.NOT_MET
    assert psrp(*block(55_501, 4 * HOUR_MS), guard_milli_k=500).outcome is Outcome.MET
    assert psrp(*block(55_501, 4 * HOUR_MS), guard_milli_k=501).outcome is Outcome.NOT_MET


def test_all_methods_of_readings_are_one():
    # The readings every ten minutes of the other limit tests, and two knots, say the same of a level heap.
    level = prove(
        Question(rule=load_rule("us-503-vector-attraction"), max_gap_ms=GAP), [series([(14 * DAY_MS, 45_001)])]
    )
    assert level.met_at == vector((0, 45_001), (14 * DAY_MS, 45_001)).met_at
