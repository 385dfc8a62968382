"""A bin with several probes: which of them decides, what a silent one still says, and the quick way beside the whole one."""

from itertools import product

import pytest

from monitor.bins import Bed, BinState, ConditionChange
from monitor.model.alarm_signals import AlarmSignal
from monitor.model.thresholds import BinThresholds
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.units import Quantity, celsius_milli
from monitor.model.words import Dampness, Thermal

T, M = Quantity.TEMPERATURE, Quantity.MOISTURE
NOW = 1_800_000_000_000
LIMITS = BinThresholds()


def bed():
    return Bed(BinState(), LIMITS)


def read(one, quantity, at=NOW, **values):
    changes = []
    for probe, milli in values.items():
        changes += one.reading(probe, quantity, at, milli, False)
    return changes


def signals(changes):
    return [c for c in changes if isinstance(c, AlarmSignal)]


def last_word(changes):
    return [(c.after, c.probe) for c in changes if isinstance(c, ConditionChange)][-1]


@pytest.mark.parametrize(
    ("values", "word"),
    [
        ((20_000, 9_000), (Thermal.COLD, "y")),
        ((9_000, 20_000), (Thermal.COLD, "x")),
        ((14_000, 20_000), (Thermal.COOL, "x")),
        ((20_000, 28_000), (Thermal.WARM, "y")),
        ((28_000, 20_000), (Thermal.WARM, "x")),
        ((9_000, 28_000), (Thermal.COLD, "x")),
        ((28_000, 14_000), (Thermal.WARM, "x")),
    ],
)
def test_the_coldest_makes_it_cold_and_the_hottest_warm(values, word):
    assert last_word(read(bed(), T, x=values[0], y=values[1])) == word


@pytest.mark.parametrize(
    ("values", "word"),
    [
        ((70_000, 86_000), (Dampness.TOO_WET, "y")),
        ((86_000, 70_000), (Dampness.TOO_WET, "x")),
        ((70_000, 55_000), (Dampness.TOO_DRY, "y")),
        ((55_000, 70_000), (Dampness.TOO_DRY, "x")),
    ],
)
def test_the_wettest_makes_it_too_wet_and_the_driest_too_dry(values, word):
    assert last_word(read(bed(), M, x=values[0], y=values[1])) == word


def test_where_one_spot_is_too_wet_and_another_too_dry_the_word_stays():
    dry_first, wet_first = bed(), bed()
    assert last_word(read(dry_first, M, x=55_000, y=90_000))[0] is Dampness.TOO_DRY
    assert last_word(read(wet_first, M, x=90_000, y=55_000))[0] is Dampness.TOO_WET
    # And each goes over into the other when its own spot is right again.
    assert last_word(read(dry_first, M, NOW + 1, x=70_000))[0] is Dampness.TOO_WET
    assert last_word(read(wet_first, M, NOW + 1, x=70_000))[0] is Dampness.TOO_DRY


def test_all_must_be_above_the_limit_for_all():
    one = bed()
    above = LIMITS.danger_all_milli_c + 500
    read(one, T, x=above, y=LIMITS.danger_all_milli_c)
    assert "worms-in-danger" not in [c.alarm for c in signals(one.serve(NOW + HOUR_MS))]
    read(one, T, NOW + HOUR_MS, y=LIMITS.danger_all_milli_c + 1)
    rung = signals(one.serve(NOW + HOUR_MS + LIMITS.danger_all_dwell_ms))
    assert [(c.alarm, c.values.by, c.probe) for c in rung] == [("worms-in-danger", "all", "y")]


@pytest.mark.parametrize("names", ["xy", "yx"])
def test_which_probe_is_named_does_not_hang_on_who_spoke_first(names):
    hot, cold = bed(), bed()
    read(hot, T, **dict.fromkeys(names, LIMITS.overheating_milli_c + 500))
    assert {c.probe for c in signals(hot.serve(NOW + HOUR_MS)) if c.alarm == "overheating"} == {"y"}
    assert {c.probe for c in signals(read(cold, T, **dict.fromkeys(names, 2_000)))[-1:]} == {"x"}


def test_the_coolest_spot_in_comfort_is_told_beside_a_hot_one():
    one = bed()
    read(one, T, x=31_000, y=24_000, z=21_000, frost=8_000)
    (told,) = [c for c in signals(one.serve(NOW + HOUR_MS)) if c.alarm == "overheating"]
    assert (told.probe, told.values.comfortable_milli) == ("x", 21_000)


def test_a_probe_is_silent_once_and_a_strange_one_never():
    one = bed()
    read(one, T, x=20_000)
    assert one.silent("strange", NOW + 1) == []
    assert [c.after for c in one.silent("x", NOW + 1)] == [Thermal.UNKNOWN]
    assert one.silent("x", NOW + 2) == []


def test_a_delay_stops_when_the_only_probe_beyond_falls_silent():
    alone, company = bed(), bed()
    for one in (alone, company):
        read(one, T, x=celsius_milli(86, "degF"), y=20_000)
    read(company, T, y=celsius_milli(86, "degF"))
    for one in (alone, company):
        one.silent("x", NOW + MINUTE_MS)
    assert (alone.due(), alone.serve(NOW + HOUR_MS)) == (None, [])
    assert [c.alarm for c in signals(company.serve(NOW + HOUR_MS))] == ["overheating"]


def test_what_a_forgotten_probe_held_open_alone_is_over_and_what_another_holds_is_not():
    alone, company = bed(), bed()
    read(alone, T, x=5_000, y=20_000)
    read(company, T, x=5_000, y=5_000)
    assert [(c.alarm, c.on) for c in signals(alone.forget("x", NOW + 1))] == [("freezing", False)]
    assert (alone.holds_open(), alone.due()) == (False, None)
    assert signals(company.forget("x", NOW + 1)) == []
    assert company.holds_open()
    assert company.forget("x", NOW + 2) == []


# Every limit and every deadband, and the values next to them.
HEATS = sorted({
    limit + side * LIMITS.deadband_milli_k + step
    for limit in (
        LIMITS.cold_milli_c, LIMITS.cool_milli_c, LIMITS.warm_milli_c, LIMITS.overheating_milli_c,
        LIMITS.danger_all_milli_c, LIMITS.danger_any_milli_c, LIMITS.near_freezing_milli_c, LIMITS.freezing_milli_c,
    )
    for side in (-1, 0, 1)
    for step in (-1, 0, 1)
})  # fmt: skip
DAMPS = sorted(
    {
        limit + side * LIMITS.moisture_deadband_milli_pct + step
        for limit in (LIMITS.too_wet_milli_pct, LIMITS.too_dry_milli_pct)
        for side in (-1, 0, 1)
        for step in (-1, 0, 1)
    }
)


@pytest.mark.parametrize(("quantity", "values"), [(T, HEATS), (M, DAMPS)])
def test_the_quick_way_is_right_from_each_limit_to_each(quantity, values):
    for first, second in product(values, values):
        quick, whole = bed(), bed()
        for one in (quick, whole):
            one.reading("x", quantity, NOW, first, False)
        at = NOW + MINUTE_MS
        said = [] if quick.unmoved("x", quantity, at, second) else quick.reading("x", quantity, at, second, False)
        assert (said, quick.state) == (whole.reading("x", quantity, at, second, False), whole.state), (first, second)


@pytest.mark.parametrize(
    ("alarm", "beyond", "held", "over"),
    [
        ("too-wet", LIMITS.too_wet_milli_pct + 1, LIMITS.too_wet_milli_pct - LIMITS.moisture_deadband_milli_pct, -1),
        ("too-dry", LIMITS.too_dry_milli_pct - 1, LIMITS.too_dry_milli_pct + LIMITS.moisture_deadband_milli_pct, 1),
    ],
)
def test_damp_alarms_end_only_past_their_deadband(alarm, beyond, held, over):
    one = bed()
    read(one, M, x=beyond, y=70_000)
    assert [c.alarm for c in signals(one.serve(NOW + DAY_MS))] == [alarm]
    assert [(c.alarm, c.on) for c in signals(read(one, M, NOW + DAY_MS + 1, x=held))] == [(alarm, True)]
    assert [(c.alarm, c.on) for c in signals(read(one, M, NOW + DAY_MS + 2, x=held + over))] == [(alarm, False)]


@pytest.mark.parametrize(
    ("other", "told"),
    [
        (LIMITS.cool_milli_c - 1, None),
        (LIMITS.cool_milli_c, LIMITS.cool_milli_c),
        (LIMITS.warm_milli_c, LIMITS.warm_milli_c),
        (LIMITS.warm_milli_c + 1, None),
    ],
)
def test_a_spot_is_in_comfort_from_limit_to_limit(other, told):
    one = bed()
    read(one, T, x=31_000, y=other)
    (rung,) = [c for c in signals(one.serve(NOW + HOUR_MS)) if c.alarm == "overheating"]
    assert rung.values.comfortable_milli == told


def test_a_bin_counts_as_overheating_since_the_first_reading_beyond_not_since_it_rang():
    one = bed()
    read(one, T, x=31_000)
    changes = one.serve(NOW + HOUR_MS)
    assert [(c.after, c.since) for c in changes if isinstance(c, ConditionChange)] == [(Thermal.OVERHEATING, NOW)]
    back = read(one, T, NOW + 2 * HOUR_MS, x=22_000)
    assert [(c.after, c.since) for c in back if isinstance(c, ConditionChange)] == [
        (Thermal.COMFORT, NOW + 2 * HOUR_MS)
    ]


def test_what_was_on_goes_on_where_the_bin_was_not_emptied_after_all():
    one = bed()
    read(one, T, x=36_000, y=20_000)
    assert [(c.alarm, c.on) for c in signals(one.empty(NOW + 1))] == [("worms-in-danger", False)]
    back = one.refill({"x", "y"}, NOW + 2)
    assert [(c.alarm, c.on, c.since) for c in signals(back)] == [("worms-in-danger", True, NOW)]
    assert one.holds_open()
    assert one.due() == NOW + LIMITS.overheating_dwell_ms, "a delay that ran runs on"
    assert one.refill({"x", "y"}, NOW + 3) == []


def test_what_only_a_probe_that_left_meanwhile_held_does_not_come_back():
    one = bed()
    read(one, T, x=36_000, y=20_000)
    one.empty(NOW + 1)
    assert signals(one.refill({"y"}, NOW + 2)) == []
    assert (one.holds_open(), one.due()) == (False, None)
    assert last_word(read(one, T, NOW + 3, y=28_000)) == (Thermal.WARM, "y")


def test_a_bin_that_was_never_emptied_cannot_be_refilled():
    one = bed()
    read(one, T, x=36_000)
    assert one.refill({"x"}, NOW + 1) == []


ALL, BAND = LIMITS.danger_all_milli_c, LIMITS.deadband_milli_k


def test_all_in_danger_is_over_only_past_its_deadband():
    one = bed()
    read(one, T, x=ALL + 1)
    one.serve(NOW + LIMITS.danger_all_dwell_ms)
    told = [signals(read(one, T, NOW + HOUR_MS + step, x=ALL - BAND + 1 - step)) for step in (0, 1, 2)]
    danger = [[c.on for c in some if c.alarm == "worms-in-danger"] for some in told]
    assert danger == [[True], [True], [False]], "one above the deadband's end, at it, past it"


def test_a_silent_cool_probe_neither_keeps_all_from_danger_nor_ends_it():
    one = bed()
    read(one, T, x=20_000)
    one.silent("x", NOW + 1)
    read(one, T, NOW + MINUTE_MS, y=ALL + 1)
    assert "worms-in-danger" in [c.alarm for c in signals(one.serve(NOW + HOUR_MS))]
    again = signals(read(one, T, NOW + HOUR_MS + 1, y=ALL - BAND))
    assert [(c.alarm, c.on) for c in again if c.alarm == "worms-in-danger"] == [("worms-in-danger", True)]


def test_all_are_in_danger_no_longer_when_one_of_them_is_not():
    one = bed()
    read(one, T, x=ALL + 1, y=ALL + 1)
    one.serve(NOW + LIMITS.danger_all_dwell_ms)
    eased = signals(read(one, T, NOW + HOUR_MS, y=20_000))
    assert [c.on for c in eased if c.alarm == "worms-in-danger"] == [False]


def test_any_is_in_danger_from_above_its_limit_to_the_end_of_its_deadband():
    one, limit = bed(), LIMITS.danger_any_milli_c
    read(one, T, y=20_000)
    said = [read(one, T, NOW + 1 + n, x=x) for n, x in enumerate((limit, limit + 1, limit - BAND, limit - BAND - 1))]
    danger = [[c.on for c in signals(some) if c.alarm == "worms-in-danger"] for some in said]
    assert danger == [[], [True], [True], [False]]


def test_what_all_held_open_stays_while_the_last_of_them_is_silent():
    one = bed()
    read(one, T, x=ALL + 1, y=ALL + 1)
    one.serve(NOW + LIMITS.danger_all_dwell_ms)
    one.silent("x", NOW + HOUR_MS)
    one.silent("y", NOW + HOUR_MS)
    assert signals(one.forget("x", NOW + 2 * HOUR_MS)) == []
    assert one.holds_open()


def test_the_end_of_an_alarm_names_the_probe_and_the_value_that_ended_it():
    one = bed()
    read(one, T, x=36_000)
    over = signals(read(one, T, NOW + 1, x=20_000))
    assert {(c.alarm, c.on, c.probe, c.values.value_milli) for c in over} == {("worms-in-danger", False, "x", 20_000)}


@pytest.mark.parametrize(
    ("quantity", "at_the_limit"),
    [
        (T, ALL),
        (T, LIMITS.overheating_milli_c - 1),
        (T, LIMITS.near_freezing_milli_c + 1),
        (M, LIMITS.too_wet_milli_pct),
        (M, LIMITS.too_dry_milli_pct),
    ],
)
def test_nothing_is_told_of_a_value_that_is_just_not_beyond(quantity, at_the_limit):
    one = bed()
    read(one, quantity, x=at_the_limit)
    told = {c.alarm for c in signals(one.serve(NOW + 2 * DAY_MS))}
    assert told <= ({"overheating"} if at_the_limit == ALL else set())
