"""What tells of now: of probes and readings by hand, each while it can be believed; no other is told as of now."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model.settings import Bin
from monitor.model.units import Quantity
from monitor.model.words import Dampness, Thermal

HEAT = Quantity.TEMPERATURE


def drive_of(**more):
    probes = {"b1-t": bedding("b1"), "b1-m": bedding("b1", Quantity.MOISTURE), "p1-a": core("p1")}
    return Drive(yard(bins={"b1": Bin(name="Sunny bin")}, probes=probes, **more))


def by_hand(drive, at, celsius, place="b1", *, received=None, spot=""):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    rows = [[at, series, round(celsius * 1_000_000), "Cel"]]
    return drive.feed(at if received is None else received, "readings", {"rows": rows, "ahead": [], "by": "Ann"})


def now(drive, at, place="b1", quantity=HEAT):
    return [(one.series, one.milli, at - one.time, one.by) for one in drive.engine.current(place, quantity, at)]


def test_a_probe_and_a_person_both_tell_of_now_with_age_and_origin():
    drive = drive_of()
    drive.hold(T0, T0 + 2 * HOUR, b1_t=20, b1_m=75)
    by_hand(drive, T0 + HOUR + 5 * MIN, 21)
    at = T0 + 2 * HOUR + 10 * MIN
    assert now(drive, at) == [("hand:b1", 21_000, 65 * MIN, "Ann"), ("b1-t", 20_000, 10 * MIN, "")]
    assert now(drive, at, quantity=Quantity.MOISTURE) == [("b1-m", 75_000, 10 * MIN, "")]


@pytest.mark.parametrize("runs", [True, False])
def test_a_silent_probe_tells_nothing_of_now_whether_or_not_the_program_ran(runs):
    drive = drive_of()
    drive.hold(T0, T0 + HOUR, b1_t=33, b1_m=75)
    by_hand(drive, T0 + 3 * HOUR, 21)
    at = T0 + 4 * HOUR
    if runs:
        drive.advance(at)
    assert now(drive, at) == [("hand:b1", 21_000, HOUR, "Ann")]
    assert now(drive, at, quantity=Quantity.MOISTURE) == []
    assert drive.engine.conditions("b1", at) == (Thermal.COMFORT, Dampness.UNKNOWN)
    assert not drive.engine.speaks("b1-t", at)
    # A reading by hand is held for so long and no longer.
    assert now(drive, T0 + 20 * DAY) == []
    assert drive.engine.conditions("b1", T0 + 20 * DAY) == (Thermal.UNKNOWN, Dampness.UNKNOWN)


def test_a_probe_that_lies_outside_tells_nothing_of_its_place():
    drive = drive_of()
    drive.hold(T0, T0 + HOUR, b1_t=20)
    drive.work(T0 + HOUR + MIN, "b1", "probe out", probe="b1-t")
    assert now(drive, T0 + HOUR + 2 * MIN) == []


def test_an_alarm_by_a_dead_probe_is_outlived_by_a_reading_by_hand_and_stays_open():
    drive = drive_of()
    drive.hold(T0, T0 + HOUR, b1_t=31)
    drive.advance(T0 + 5 * HOUR)
    key = "b1/overheating"
    assert drive.engine.outlived(key, drive.engine.last) is None, "nobody has looked"
    by_hand(drive, T0 + 6 * HOUR, 30)
    assert drive.engine.outlived(key, drive.engine.last) is None, "it is too hot still"
    by_hand(drive, T0 + 8 * HOUR, 21)
    assert drive.engine.conditions("b1", drive.engine.last) == (Thermal.COMFORT, Dampness.UNKNOWN)
    assert drive.engine.outlived(key, drive.engine.last).milli == 21_000
    assert drive.state_of(key) == "unacknowledged"
    said = drive.engine.words(key, drive.engine.last).short
    assert "b1-t is silent; read by hand 03:00: 21 °C" in said
    told = drive.engine.words(key, drive.engine.last)
    assert (told.act, "do not feed" in told.text) == ("Look at its probe; read it by hand.", False)
    drive.read(T0 + 9 * HOUR, b1_t=31)
    assert drive.engine.outlived(key, drive.engine.last) is None, "the probe speaks again"


def test_a_reading_by_hand_before_the_probe_s_last_word_outlives_nothing():
    drive = drive_of()
    by_hand(drive, T0 - 30 * 1000, 21)
    drive.hold(T0, T0 + HOUR, b1_t=31)
    drive.advance(T0 + 5 * HOUR)
    assert drive.engine.outlived("b1/overheating", drive.engine.last) is None


def test_after_a_weekend_without_the_program_old_values_are_not_known_now_and_ring_nothing():
    drive = drive_of()
    drive.hold(T0, T0 + HOUR, b1_t=20, b1_m=75)
    drive.read(T0 + HOUR + 10 * MIN, b1_t=31, b1_m=75)
    start = T0 + 3 * DAY
    drive.feed(start, "started", {"down_since": T0 + HOUR + 11 * MIN})
    by_hand(drive, start + 1, 21)
    drive.advance(start + 30 * MIN)
    assert drive.rings("overheating") == []
    assert drive.engine.conditions("b1", drive.engine.last) == (Thermal.COMFORT, Dampness.UNKNOWN)
    assert drive.engine.state.bins["b1"].moisture is Dampness.UNKNOWN, "an effect says so"
    (bin_,) = [one for one in drive.engine.watched(drive.engine.last) if one.place == "b1"]
    assert (bin_.by.value, bin_.known) == ("hand", True)


def test_a_turning_is_asked_for_with_no_number_of_before_the_gap_as_of_now():
    drive = drive_of()
    drive.work(T0, "p1", "built")
    drive.hold(T0 + MIN, T0 + 4 * DAY, HOUR, p1_a=60)
    assert "60 °C now" in drive.engine.words("p1/turning-due", drive.engine.last).short
    start = T0 + 8 * DAY
    drive.feed(start, "started", {"down_since": T0 + 4 * DAY})
    by_hand(drive, start + 1, 52, "p1")
    said = drive.engine.words("p1/turning-due", start + HOUR).short
    assert "60 °C now" not in said
    assert ", 52 °C by hand " in said
    assert ", its probes silent since " in said


def test_a_late_reading_of_before_a_person_s_is_told_in_the_past_tense_once_and_rings_nothing():
    drive = drive_of()
    drive.hold(T0, T0 + HOUR, b1_t=20)
    by_hand(drive, T0 + 2 * HOUR, 21)
    late = T0 + 2 * HOUR + 5 * MIN
    for number, at in enumerate((T0 + HOUR + 10 * MIN, T0 + HOUR + 40 * MIN, T0 + HOUR + 50 * MIN)):
        drive.read(at, received=late + number * MIN, b1_t=31)
    assert drive.rings("overheating") == [at for at, _, state in drive.alarms("overheating") if "returned" not in state]
    assert drive.state_of("b1/overheating") == "returned unacknowledged"
    (told,) = drive.notices("overheating")
    assert "over now" in told.draft.text
    drive.read(T0 + 2 * HOUR + 10 * MIN, b1_t=31)
    assert drive.state_of("b1/overheating") == "unacknowledged", "this one is newer than the person's"


def test_a_fire_read_late_before_a_person_s_reading_is_told_at_once_in_the_past_tense():
    drive = drive_of()
    drive.work(T0, "p1", "built")
    drive.hold(T0 + MIN, T0 + 3 * HOUR, 30 * MIN, p1_a=70)
    by_hand(drive, T0 + 4 * HOUR, 65, "p1")
    for at in (T0 + 3 * HOUR + 40 * MIN, T0 + 3 * HOUR + 50 * MIN):
        drive.read(at, received=at + 30 * MIN, p1_a=84)
    assert drive.state_of("p1/fire") == "returned unacknowledged"
    assert any("fire" in one.draft.text.lower() for one in drive.notices("Bay 1"))


def test_a_reading_in_time_rings_though_a_person_read_the_place_a_minute_later():
    drive = drive_of()
    drive.work(T0, "p1", "built")
    drive.hold(T0 + MIN, T0 + HOUR, p1_a=74)
    by_hand(drive, T0 + HOUR + 11 * MIN, 60, "p1")
    drive.read(T0 + HOUR + 10 * MIN, received=T0 + HOUR + 12 * MIN, p1_a=78)
    assert drive.state_of("p1/too-hot") == "unacknowledged"


def test_a_person_who_finds_it_beyond_the_limit_too_keeps_no_late_reading_from_ringing():
    drive = drive_of()
    by_hand(drive, T0 + 2 * HOUR, 30)
    for at in (T0 + HOUR + 10 * MIN, T0 + HOUR + 50 * MIN):
        drive.read(at, received=T0 + 2 * HOUR + 5 * MIN, b1_t=31)
    drive.advance(T0 + 3 * HOUR)
    assert drive.state_of("b1/overheating") == "unacknowledged"


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["probe", "late", "hand", "start"]),
        st.integers(1, 200),
        st.sampled_from([18, 26, 31, 37, 2, 43]),
    ),
    min_size=3,
    max_size=14,
)


@settings(deadline=None, max_examples=60)
@given(STEPS)
def test_no_alarm_stands_unanswered_by_a_late_reading_of_before_a_person_s_that_found_none(steps):
    drive, at = drive_of(), T0
    for what, minutes, celsius in steps:
        at += minutes * MIN
        drive.advance(at - 1)  # what fell due before was decided when nobody had read
        stood = {key for key, one in drive.engine.state.alarms.items() if one.on}
        if what == "hand":
            by_hand(drive, at, celsius)
        elif what == "start":
            drive.feed(at, "started", {"down_since": drive.engine.last})
        else:
            drive.read(at - (0 if what == "probe" else 2 * minutes // 3 * MIN), received=at, b1_t=celsius)
        for key, one in drive.engine.state.alarms.items():
            if key in stood or not one.on or one.latent or one.probe.startswith("hand:"):
                continue
            if one.alarm not in ("overheating", "worms-in-danger", "freezing"):
                continue
            spot = drive.engine.state.hands.get("hand:b1")
            newer = spot is not None and spot.held and one.last < spot.time and one.last < at - 5 * MIN
            limit, freezes = one.values.limit_milli, one.alarm == "freezing"
            assert not newer or (spot.milli <= limit if freezes else spot.milli >= limit)
