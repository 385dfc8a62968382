"""Limits of conditioning at, just under and just over each; what a series is checked for; and the evidence of other probes."""

import pytest

from monitor.conditioning import (
    Company,
    Conditioner,
    ConditioningState,
    ProbeRecord,
    calibrate,
    checks_for,
    comparable,
    flag_by_hand,
    possible,
    stretch_at,
    temperature_of,
)
from monitor.conditioning.record import HOURS_KEPT, note
from monitor.model.flags import Flag, FlagReason
from monitor.model.readings import Reading
from monitor.model.settings import AMBIENT, Calibration, Pile, Probe, Settings
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.model.units import Quantity
from monitor.model.words import Basis, Role

T0 = 1_772_355_600_000
LIMITS = ProbeThresholds()


def probe(**more):
    return Probe(**{"place": "p1", "role": Role.CORE, "address": ""} | more)


@pytest.mark.parametrize(
    ("quantity", "unit", "low", "high"),
    [
        (Quantity.TEMPERATURE, "Cel", -40_000, 100_000),
        (Quantity.MOISTURE, "%", 0, 100_000),
        (Quantity.OXYGEN, "%", 0, 100_000),
        (Quantity.BATTERY, "V", 0, 60_000),
        (Quantity.SIGNAL, "dBm", -200_000, 50_000),
    ],
)
def test_each_quantity_has_its_range_and_its_ends_pass(quantity, unit, low, high):
    checks = checks_for("x", unit, probe(quantity=quantity), LIMITS)
    assert [checks.refuses(milli, milli * 1_000) for milli in (low - 1, low, high, high + 1)] == [
        True,
        False,
        False,
        True,
    ]


def test_what_cannot_be_compared_has_no_range_and_no_flag_of_its_own():
    raw = probe(quantity=Quantity.MOISTURE, basis=Basis.RAW)
    checks = checks_for("x", "1", raw, LIMITS)
    assert not checks.refuses(10**9, 10**12)
    assert (checks.flag, checks.watched) == (Flag.NOT_EVALUATED, False)
    points = Calibration(points=((300_000, 100_000), (800_000, 0)), start=T0)
    started = probe(quantity=Quantity.MOISTURE, basis=Basis.RAW, calibrations=(points,))
    assert [checks_for("x", "1", started, LIMITS, time).flag for time in (T0 - 1, T0)] == [
        Flag.NOT_EVALUATED,
        Flag.PASS,
    ]
    assert checks_for("x", "1", started, LIMITS, T0).refuses(100_001, 0)


@pytest.mark.parametrize(
    ("unit", "lost", "power_up", "degree"),
    [("Cel", -127_000_000, 85_000_000, 1_000_000), ("K", 146_150_000, 358_150_000, 1_000_000),
     ("[degF]", -196_600_000, 185_000_000, 1_800_000)],
)  # fmt: skip
def test_codes_and_the_finest_step_are_those_of_the_unit(unit, lost, power_up, degree):
    checks = checks_for("x", unit, probe(), LIMITS)
    assert (checks.disconnected, checks.power_up) == (lost, power_up)
    assert checks.fine_micro == LIMITS.flat_resolution_milli_k * degree // 1_000
    fine = [checks_for("x", unit, probe(resolution_micro=checks.fine_micro + more), LIMITS).fine for more in (0, 1)]
    assert (checks.fine, fine) == (None, [True, False])


@pytest.mark.parametrize(
    ("name", "settings", "watched", "core", "flag", "codes"),
    [
        ("a", probe(), True, True, Flag.PASS, True),
        ("a", probe(role=Role.SURFACE), True, False, Flag.PASS, True),
        ("a", None, False, False, Flag.NOT_EVALUATED, True),
        ("hand:p1", None, False, False, Flag.NOT_EVALUATED, False),
    ],
)
def test_what_a_series_is_checked_for(name, settings, watched, core, flag, codes):
    checks = checks_for(name, "Cel", settings, LIMITS)
    assert (checks.watched, checks.core, checks.flag) == (watched, core, flag)
    assert (checks.disconnected is not None, checks.power_up is not None) == (codes, codes)
    assert checks.reason is (FlagReason.HAND if name == "hand:p1" else FlagReason.NONE)
    assert (checks.probe, checks.step, checks.span) == (name, LIMITS.spike_step_milli_k, LIMITS.spike_span_ms)
    assert (checks.apart, checks.flat_suspect, checks.flat_fail) == (
        LIMITS.power_up_apart_milli_k, LIMITS.flat_suspect_ms, LIMITS.flat_fail_ms,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("micro", "unit", "verdict"),
    [
        (57_250_000, "Cel", (57_250, Flag.NOT_EVALUATED, FlagReason.HAND)),
        (212_000_000, "[degF]", (100_000, Flag.NOT_EVALUATED, FlagReason.HAND)),
        (100_000_000, "Cel", (100_000, Flag.NOT_EVALUATED, FlagReason.HAND)),
        (-40_000_000, "Cel", (-40_000, Flag.NOT_EVALUATED, FlagReason.HAND)),
        (100_001_000, "Cel", (100_001, Flag.FAIL, FlagReason.GROSS_RANGE)),
        (-40_001_000, "Cel", (-40_001, Flag.FAIL, FlagReason.GROSS_RANGE)),
        (101_000_000, "%", (101_000, Flag.FAIL, FlagReason.GROSS_RANGE)),
    ],
)
def test_a_reading_by_hand_fails_only_where_no_thermometer_can_show_it(micro, unit, verdict):
    assert tuple(flag_by_hand(Reading(T0, "hand:p1", micro, unit), LIMITS)) == (T0, "hand:p1", *verdict)


@pytest.mark.parametrize(
    ("micro", "can_be"),
    [(85_000_000, False), (-127_000_000, False), (101_000_000, False), (84_937_000, True), (0, True)],
)
def test_a_code_or_a_value_out_of_range_is_not_possible_and_means_no_temperature(micro, can_be):
    reading = Reading(T0, "a", micro, "Cel")
    assert possible(reading, micro // 1_000, probe(), LIMITS) is can_be
    assert temperature_of(reading, probe(), LIMITS) == (micro // 1_000 if can_be else None)


def test_a_temperature_is_that_of_the_calibration_and_of_a_spot_what_was_read():
    offset = probe(calibrations=(Calibration(points=((0, 500),)),))
    assert temperature_of(Reading(T0, "a", 20_000_000, "Cel"), offset, LIMITS) == 20_500
    assert temperature_of(Reading(T0, "a", 20_000_000, "%"), offset, LIMITS) is None
    assert temperature_of(Reading(T0, "hand:p1", 85_000_000, "Cel"), None, LIMITS) == 85_000
    assert temperature_of(Reading(T0, "hand:p1", 101_000_000, "Cel"), None, LIMITS) is None


def test_a_line_stays_in_force_until_the_next_calibration_begins():
    kept = probe(
        calibrations=tuple(
            Calibration(points=((0, shift),), start=start) for shift, start in ((10, None), (20, 100), (30, 200))
        )
    )
    spans = {time: stretch_at(kept, "Cel", time)[1:] for time in (0, 99, 100, 199, 200, 999)}
    assert spans[0] == spans[99]
    assert spans[0][1] == 100
    assert spans[100] == spans[199] == (100, 200)
    assert spans[200] == spans[999]
    assert spans[999][0] == 200
    assert [calibrate(0, "Cel", kept, time) for time in (99, 100, 200)] == [10, 20, 30]


def test_a_series_says_in_which_unit_it_comes_and_from_when_to_when_its_calibration_holds():
    later = probe(calibrations=(Calibration(points=((0, 10),), start=T0),))
    live = Conditioner(ConditioningState(), Settings(piles={"p1": Pile(name="Bay 1")}, probes={"a": later}))
    assert (live.stays("a"), live.stays("gone")) == (None, None)
    for time, start, end in ((T0 - 1, None, T0), (T0, T0, None)):
        live.step(Reading(time, "a", 68_000_000, "[degF]"))
        unit, first, last = live.stays("a")
        assert unit == "[degF]"
        assert first < T0 - 10**9 if start is None else first == start
        assert last > T0 + 10**9 if end is None else last == end


def test_of_two_calibrations_with_one_start_the_later_entry_counts_and_one_without_points_none():
    points = ((), ((0, 10),), ((0, 20),))
    kept = probe(calibrations=tuple(Calibration(points=some, start=5) for some in points))
    assert calibrate(0, "Cel", kept, 5) == 20
    assert calibrate(0, "Cel", kept, 4) == 0


@pytest.mark.parametrize(
    ("more", "can_be"),
    [
        ({"basis": Basis.WET_MASS}, True),
        ({"basis": Basis.VOLUME}, False),
        ({"basis": Basis.VOLUME, "bulk_density_kg_m3": 500}, True),
        ({"basis": Basis.RAW}, False),
        ({"basis": Basis.RAW, "calibrations": (Calibration(points=((1, 0),)),)}, False),
        ({"basis": Basis.RAW, "calibrations": (Calibration(points=((1, 0), (1, 5))),)}, False),
        ({"basis": Basis.RAW, "calibrations": (Calibration(points=((1, 0), (2, 5))),)}, True),
    ],
)
def test_moisture_is_compared_where_it_is_wet_mass_or_can_be_made_so(more, can_be):
    assert comparable(probe(quantity=Quantity.MOISTURE, **more), T0) is can_be


# Readings that wait.

TWO = Settings(
    piles={"p1": Pile(name="Bay 1")},
    probes={"a": probe(), "b": probe(), "air": probe(place=AMBIENT, role=Role.AMBIENT)},
)


def fed(*readings):
    live = Conditioner(ConditioningState(), TWO)
    return live, [
        live.step(Reading(T0 + minute * MINUTE_MS, name, round(c * 10**6), "Cel")) for minute, name, c in readings
    ]


def test_of_two_that_wait_the_earlier_is_due_first_and_each_is_settled_at_its_own_time():
    live, _ = fed((0, "a", 20), (0, "b", 20), (5, "a", 60), (10, "b", 60))
    assert live.due() == T0 + 35 * MINUTE_MS + 1
    (first,) = live.expire(live.due())
    assert (first.probe, live.due()) == ("a", T0 + 40 * MINUTE_MS + 1)
    assert live.expire(live.due() - 1) == ()
    (second,) = live.expire(live.due())
    assert (second.probe, live.due()) == ("b", None)


def test_another_probes_reading_settles_what_waited_too_long():
    live, _ = fed((0, "a", 20), (5, "a", 60))
    assert live.step(Reading(T0 + 35 * MINUTE_MS, "b", 20_000_000, "Cel"))[0].probe == "b"
    both = live.step(Reading(T0 + 36 * MINUTE_MS, "b", 20_000_000, "Cel"))
    assert [(one.probe, one.milli) for one in both] == [("a", 60_000), ("b", 20_000)]


def test_an_answer_that_agrees_passes_at_once_though_it_is_another_step():
    _, said = fed((0, "a", 20), (5, "a", 60), (10, "a", 70), (15, "a", 90))
    assert [[one.milli for one in some] for some in said] == [[20_000], [], [60_000, 70_000], []]


def test_a_reading_that_fails_by_itself_is_told_at_once_with_why():
    _, said = fed((0, "a", 20), (5, "a", -127), (10, "a", 130))
    assert [(some[0].flag, some[0].reason) for some in said[1:]] == [
        (Flag.FAIL, FlagReason.ERROR_CODE), (Flag.FAIL, FlagReason.GROSS_RANGE),
    ]  # fmt: skip


# Hours, and what they show.


def record_of(*values, first=0):
    """A record with one value in each hour from `first` on; None leaves an hour out."""
    record = ProbeRecord()
    for hour, value in enumerate(values, first):
        if value is not None:
            note(record, hour * HOUR_MS, value)
    return record


def test_hours_are_summed_from_the_first_to_before_the_last():
    record = record_of(10, 20, None, 40, 50)
    note(record, 4 * HOUR_MS + 1, 60)
    note(record, 4 * HOUR_MS + 2, 45)
    assert tuple(record.span(1, 4)) == (20, 40, 60, 2, 2)
    assert tuple(record.span(0, 5)) == (10, 60, 225, 6, 4)
    assert tuple(record.span(4, 5)) == (45, 60, 155, 3, 1)
    assert record.span(2, 3) is None
    assert record.span(5, 9) is None
    assert ProbeRecord().span(-(1 << 62), 1 << 62) is None


def test_hours_are_kept_for_so_long_and_no_longer():
    record = record_of(*range(HOURS_KEPT + 2))
    assert (record.hours[0][0], len(record.hours)) == (1, HOURS_KEPT)
    note(record, (9 * HOURS_KEPT) * HOUR_MS, 5)
    assert record.hours == []


SPAN = LIMITS.ambient_span_ms // HOUR_MS
LIKE = 8 * LIMITS.ambient_swing_milli


def air(swing=8_000, hours=SPAN, base=10_000):
    return [base + (swing if hour % 2 else 0) for hour in range(hours)]


@pytest.mark.parametrize(
    ("mine", "air_of", "core_of", "follows"),
    [
        (air(), air(), air(base=60_000), True),
        (air(LIKE, base=14_000 - LIKE // 2), air(), air(base=60_000), True),
        (air(LIKE - 1, base=14_000 - LIKE // 2), air(), air(base=60_000), False),
        (air(), air(LIMITS.flat_moved_milli_k - 1), air(base=60_000), False),
        (air(), air(base=10_000 + LIMITS.ambient_mean_milli_k), air(base=60_000), True),
        (air(), air(base=10_001 + LIMITS.ambient_mean_milli_k), air(base=60_000), False),
        (air(), air(base=9_999 - LIMITS.ambient_mean_milli_k), air(base=60_000), False),
        (air(), air(), air(base=10_000 + LIMITS.ambient_warmer_milli_k), True),
        (air(), air(), air(base=9_999 + LIMITS.ambient_warmer_milli_k), False),
        (air(hours=SPAN * 3 // 4), air(), air(base=60_000), True),
        (air(hours=SPAN * 3 // 4 - 1), air(), air(base=60_000), False),
        (air(), air(hours=SPAN * 3 // 4), air(base=60_000), True),
        (air(), air(hours=SPAN * 3 // 4 - 1), air(base=60_000), False),
        (air(), air(), air(base=60_000, hours=SPAN * 3 // 4), True),
        (air(), air(), air(base=60_000, hours=SPAN * 3 // 4 - 1), False),
    ],
)
def test_a_core_probe_follows_the_air_by_swing_mean_and_a_warmer_core(mine, air_of, core_of, follows):
    company = Company(LIMITS, [record_of(*air_of)], [], [record_of(*core_of)])
    assert company.follows(record_of(*mine), SPAN + 1) is follows
    assert company.consulted == SPAN
    assert not Company(LIMITS, [record_of(*air_of)]).follows(record_of(*mine), SPAN + 1)
    assert not Company(LIMITS, [], [], [record_of(*core_of)]).follows(record_of(*mine), SPAN + 1)


@pytest.mark.parametrize(
    ("swing", "moved"), [(LIMITS.flat_moved_milli_k, True), (LIMITS.flat_moved_milli_k - 1, False)]
)
def test_another_probe_moved_if_it_went_far_enough_since_in_whole_hours_that_are_past(swing, moved):
    other = record_of(swing, 0, 0, 0, 0)
    for company in (Company(LIMITS, [other]), Company(LIMITS, [], [other])):
        assert company.moved(0, 6) is moved
        assert company.consulted == 5
        assert not company.moved(1, 6), "the hour in which it began to stand still does not count"
        assert not company.moved(0, 2), "nor one that ended less than an hour before"
        assert company.consulted == 5
    assert not Company(LIMITS).moved(0, 6)


def test_the_look_back_at_others_goes_no_further_than_two_days():
    moved = LIMITS.flat_moved_milli_k
    assert Company(LIMITS, [record_of(0, moved, *[moved] * 60)]).moved(0, 49)
    assert not Company(LIMITS, [record_of(0, moved, *[moved] * 60)]).moved(0, 50)


def test_a_witness_that_is_a_day_ahead_still_remembers_two_days_back():
    moved = LIMITS.flat_moved_milli_k
    assert Company(LIMITS, [record_of(0, moved, *[moved] * 74)]).moved(0, 49)


FOUR = Settings(
    piles={"p1": Pile(name="Bay 1"), "p2": Pile(name="Bay 2")},
    probes={
        "air": probe(place=AMBIENT, role=Role.AMBIENT),
        **{name: probe(place=place) for name, place in (("a", "p1"), ("b", "p1"), ("c", "p2"), ("d", "p2"))},
    },
)


def test_a_probe_in_the_air_is_compared_with_the_air_alone():
    live = Conditioner(ConditioningState(), FOUR)
    assert live.around("a") == (["air"], ["b"], ["b"])
    for name in ("a", "b"):
        live.move(name, AMBIENT)
    assert live.around("a") == (["air", "b"], [], [])
    assert live.around("air") == (["a", "b"], [], [])
    assert live.around("c") == (["a", "air", "b"], ["d"], ["d"])


def hourly(live, hours, *names):
    for hour in hours:
        for number, name in enumerate(names):
            live.step(Reading(T0 + hour * HOUR_MS + number, name, 20_000_000 + hour * 62_500, "Cel"))


@pytest.mark.parametrize("restarted", [False, True])
def test_a_late_reading_matters_where_its_hour_was_used_for_its_place_and_of_the_air_for_any(restarted):
    live = Conditioner(ConditioningState(), FOUR)
    hourly(live, range(6), "a", "b", "c", "d", "air")
    hourly(live, range(6, 30), "a", "b", "air")
    if restarted:
        live = Conditioner(live.state, FOUR)
    used = {"p1": 29 - 1, "p2": 5 - 1}
    first = T0 // HOUR_MS
    assert live.state.consulted == {place: first + hour for place, hour in used.items()}
    for name, hour in (("a", used["p1"]), ("c", used["p2"]), ("air", used["p1"])):
        edge = (first + hour) * HOUR_MS
        assert (live.late_for_others(name, edge - 1), live.late_for_others(name, edge)) == (True, False)
    assert not live.late_for_others("nobody", 0)


def test_who_adopts_anothers_course_knows_what_it_has_consulted_and_shares_nothing_with_it():
    live, other = Conditioner(ConditioningState(), FOUR), Conditioner(ConditioningState(), FOUR)
    hourly(live, range(9), "c", "d", "air")
    hourly(other, range(5), "a", "b", "c", "d", "air")
    other.move("b", "p2")
    kept = live.state.consulted["p2"]
    live.adopt(other, ["a", "b", "nobody"])
    assert live.state.consulted == {"p2": kept, "p1": other.state.consulted["p1"]}
    assert live.place("b") == "p2"
    assert live.around("b") == (["air"], ["c", "d"], ["c", "d"])
    assert live.state.probes["a"] == other.state.probes["a"]
    hourly(live, range(5, 8), "a")
    assert live.state.probes["a"].hours[: len(other.state.probes["a"].hours)] == other.state.probes["a"].hours
    assert live.state.probes["a"] != other.state.probes["a"]
    assert live.state.probes["c"].time == T0 + 8 * HOUR_MS
