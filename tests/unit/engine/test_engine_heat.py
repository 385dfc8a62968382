"""Dangerous heat and probes of a pile: fire, look at this probe, hot, hot and lost, turnings, batches that end."""

import re

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, core, yard

from monitor.engine.asking.entry_questions import lost_by
from monitor.model.settings import Pile
from monitor.model.thresholds import ProbeThresholds
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind

CALM = ProbeThresholds(spike_step_milli_k=200_000)


def pile(*, probes=("p1-a", "p1-b"), contacts=None, **more):
    return Drive(
        yard(
            piles={
                "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0),
                "p3": Pile(name="Bay 3", rule="us-112-54-static", method=Method.STATIC),
            },
            bins={},
            probes={"air": yard().probes["air"], **{p: core("p1") for p in probes}},
            probe_thresholds=CALM,
            contacts=contacts,
            **more,
        )
    )


def on(drive, alarm, place="p1", probe=""):
    return drive.state_of(f"{place}/{alarm}" + (f"/{probe}" if probe else "")) == "unacknowledged"


def test_hot_after_six_hours_too_hot_and_fire_at_once():
    drive = pile()
    drive.hold(T0, T0 + 6 * HOUR - 10 * MIN, p1_a=71.2, p1_b=60)
    assert drive.rings("hot") == []
    drive.advance(T0 + 6 * HOUR)
    assert drive.rings("hot") == [T0 + 6 * HOUR]
    drive.read(T0 + 6 * HOUR + MIN, p1_a=76.7, p1_b=60)
    assert drive.rings("too-hot") == [T0 + 6 * HOUR + MIN]
    assert drive.state_of("p1/hot") == "suppressed"
    drive.read(T0 + 6 * HOUR + 2 * MIN, p1_a=82.3, p1_b=60)
    assert drive.rings("fire") == [T0 + 6 * HOUR + 2 * MIN]
    assert drive.state_of("p1/too-hot") == "suppressed"


@pytest.mark.parametrize("near", [64.9, 65.0])
def test_flagged_readings_raise_fire_only_two_in_a_row_beside_heat(near):
    """Above 100 °C a reading fails the gross range; the filters must not hide a fire nor cry fire at a broken wire."""
    drive = pile()
    drive.read(T0, p1_a=50, p1_b=near)
    drive.read(T0 + 10 * MIN, p1_a=101, p1_b=near)
    assert on(drive, "look-at-probe", probe="p1-a")
    assert not on(drive, "fire")
    drive.read(T0 + 20 * MIN, p1_a=101, p1_b=near)
    assert on(drive, "fire") == (near >= 65)


def test_the_probe_s_own_last_accepted_reading_counts_too():
    drive = pile(probes=("p1-a",))
    drive.read(T0, p1_a=66)
    drive.read(T0 + 10 * MIN, p1_a=101)
    drive.read(T0 + 20 * MIN, p1_a=102)
    assert on(drive, "fire")


def test_flagged_readings_that_are_not_in_a_row_raise_no_fire():
    drive = pile()
    for n, value in enumerate((50, 101, 50, 101, 50, 101)):
        drive.read(T0 + n * 10 * MIN, p1_a=value, p1_b=70)
    assert drive.rings("fire") == []
    assert drive.state_of("p1/look-at-probe/p1-a") != "normal"


@pytest.mark.parametrize("code", [-127, 85])
def test_known_error_codes_never_count(code):
    drive = pile()
    drive.read(T0, p1_a=20, p1_b=70)
    for n in range(1, 12):
        drive.read(T0 + n * 3 * HOUR, p1_a=code if n % 2 else -127, p1_b=70)
    assert drive.rings("fire") == []
    assert drive.rings("look-at-probe") == []


@pytest.mark.parametrize("step", [10 * MIN, HOUR])
def test_a_sensor_that_powers_up_again_and_again_cries_no_fire(step):
    # DS18B20: the power-on value is +85 °C (data sheet, seen); two in a row do not bear each other out.
    drive = pile()
    for n, value in enumerate((55, 55, 85, 85, 85, 55.5, 55)):
        drive.read(T0 + n * step, p1_a=value, p1_b=66)
        assert not on(drive, "fire")
        assert not on(drive, "too-hot")


def test_look_at_probe_is_over_with_its_next_accepted_reading():
    drive = pile()
    drive.read(T0, p1_a=50, p1_b=50)
    drive.read(T0 + 10 * MIN, p1_a=101, p1_b=50)
    drive.read(T0 + 20 * MIN, p1_a=51, p1_b=50)
    assert drive.state_of("p1/look-at-probe/p1-a") == "returned unacknowledged"


def test_hot_and_lost_after_thirty_minutes_while_its_link_lives():
    drive = pile()
    drive.hold(T0, T0 + HOUR, p1_a=70.5, p1_b=60)
    drive.advance(T0 + HOUR + 30 * MIN)
    assert drive.rings("hot-and-lost") == [T0 + HOUR + 30 * MIN]
    assert drive.state_of("p1/hot-and-lost/p1-a") == "unacknowledged"
    assert drive.state_of("p1/hot-and-lost/p1-b") == "normal"
    drive.read(T0 + 2 * HOUR, p1_a=60, p1_b=60)
    assert drive.state_of("p1/hot-and-lost/p1-a") == "returned unacknowledged"


def test_hot_and_lost_waits_three_spacings_where_they_are_longer():
    drive = pile()
    drive.hold(T0, T0 + 6 * HOUR, step=20 * MIN, p1_a=70.5, p1_b=60)
    drive.advance(T0 + 8 * HOUR)
    assert drive.rings("hot-and-lost") == [T0 + 7 * HOUR]


def test_hot_and_lost_is_silent_while_its_link_is_down_and_counts_from_its_return():
    drive = pile()
    drive.feed(T0 - 1, "link", {"what": "source", "name": "mqtt", "up": True})
    drive.hold(T0, T0 + HOUR, p1_a=70.5, p1_b=60)
    drive.feed(T0 + HOUR + MIN, "link", {"what": "source", "name": "mqtt", "up": False})
    drive.advance(T0 + 3 * HOUR)
    assert drive.rings("hot-and-lost") == []
    drive.feed(T0 + 3 * HOUR + MIN, "link", {"what": "source", "name": "mqtt", "up": True})
    drive.advance(T0 + 3 * HOUR + 31 * MIN - 1)
    assert drive.rings("hot-and-lost") == []
    drive.advance(T0 + 4 * HOUR + 31 * MIN)
    [rang] = drive.rings("hot-and-lost")
    assert rang >= T0 + 3 * HOUR + 31 * MIN


def test_a_probe_that_was_hot_more_than_six_hours_of_readings_ago_is_not_hot_and_lost():
    drive = pile()
    drive.read(T0, p1_a=70.5, p1_b=60)
    drive.hold(T0 + 10 * MIN, T0 + 6 * HOUR + 10 * MIN, p1_a=69, p1_b=60)
    drive.advance(T0 + 8 * HOUR)
    assert drive.rings("hot-and-lost") == []


def test_a_hot_pile_is_not_waited_for_once_its_probes_are_out():
    drive = pile()
    drive.hold(T0, T0 + 2 * HOUR, p1_a=72, p1_b=72)
    drive.work(T0 + 2 * HOUR + MIN, "p1", "turned")
    drive.hold(T0 + 2 * HOUR + 10 * MIN, T0 + 9 * HOUR, p1_a=15, p1_b=15, air=14)
    assert drive.rings("hot") == []


def test_a_pile_without_a_batch_raises_only_fire_and_probe_alarms():
    drive = pile()
    drive.hold(T0, T0 + 8 * HOUR, p1_a=72, p1_b=72)
    assert on(drive, "hot")
    drive.work(T0 + 8 * HOUR + MIN, "p1", "emptied")
    assert drive.state_of("p1/hot") == "returned unacknowledged"
    at = T0 + 9 * HOUR
    drive.hold(at, at + 9 * HOUR, p1_a=78, p1_b=72)
    assert drive.rings("too-hot") == []
    assert len(drive.rings("hot")) == 1
    drive.read(at + 10 * HOUR, p1_a=83, p1_b=72)
    assert on(drive, "fire")
    drive.advance(at + 20 * HOUR)
    assert drive.state_of("p1/hot-and-lost/p1-a") == "unacknowledged"
    assert drive.state_of("p1/hot-and-lost/p1-b") == "unacknowledged"


# Turnings ------------------------------------------------------------------------------------------------------------


def test_a_turning_takes_all_probes_out_and_they_return_by_themselves():
    drive = pile()
    drive.hold(T0, T0 + 4 * HOUR, p1_a=58, p1_b=58, air=10)
    drive.work(T0 + 4 * HOUR + MIN, "p1", "turned")
    assert all(not line.serving for line in drive.run().walk.lines.values())
    drive.hold(T0 + 4 * HOUR + 10 * MIN, T0 + 5 * HOUR, p1_a=14.9, p1_b=14.9, air=10)
    drive.hold(T0 + 5 * HOUR + 10 * MIN, T0 + 5 * HOUR + 30 * MIN, p1_a=50, p1_b=50, air=10)
    assert all(not line.serving for line in drive.run().walk.lines.values())
    drive.read(T0 + 5 * HOUR + 40 * MIN, p1_a=50, p1_b=50, air=10)
    outing = drive.engine.state.outings["p1-a"]
    assert (outing.returned, outing.accepted_from) == (T0 + 5 * HOUR + 10 * MIN, T0 + 6 * HOUR + 10 * MIN)
    drive.hold(T0 + 5 * HOUR + 50 * MIN, T0 + 6 * HOUR, p1_a=50, p1_b=50, air=10)
    assert not any(line.heard for line in drive.run().walk.lines.values() if line.serving)
    drive.read(T0 + 6 * HOUR + 10 * MIN, p1_a=50, p1_b=50, air=10)
    assert all(line.heard for line in drive.run().walk.lines.values())


def test_probes_out_are_reminded_of_by_name_after_twelve_hours_and_twice_as_long_each_time():
    drive = pile()
    drive.hold(T0, T0 + 4 * HOUR, p1_a=58, p1_b=58, air=10)
    drive.work(T0 + 4 * HOUR + MIN, "p1", "turned")
    drive.hold(T0 + 4 * HOUR + 10 * MIN, T0 + 30 * HOUR, p1_a=12, p1_b=12, air=10)
    reminders = [e.at for e in drive.notices("p1-a and p1-b have been outside since")]
    assert reminders == [T0 + 16 * HOUR + MIN, T0 + 28 * HOUR + MIN]
    drive.read(T0 + 30 * HOUR + MIN, received=T0 + 30 * HOUR + 2 * MIN, p1_a=12)
    drive.read(T0 + 20 * HOUR + 1, received=T0 + 30 * HOUR + 3 * MIN, p1_a=12)
    drive.advance(T0 + 40 * HOUR)
    again = [e.at for e in drive.notices("p1-a and p1-b have been outside since") if e.draft.axis == "new"]
    assert again == reminders, "working the record out anew reminds nobody again"
    drive.advance(T0 + 110 * HOUR)
    times = [e.at for e in drive.notices("p1-a and p1-b have been outside since") if e.draft.axis == "new"]
    assert times[2:] == [T0 + 52 * HOUR + MIN, T0 + 100 * HOUR + MIN]


def test_two_turnings_that_are_left_are_told_while_there_is_time_for_both():
    # Hot for twelve days without a turning that counts but three; then two are left in three days.
    drive = pile()
    for day in range(13):
        drive.hold(T0 + day * DAY, T0 + (day + 1) * DAY - 20 * MIN, step=20 * MIN, p1_a=62, p1_b=61, air=10)
        if day in (2, 5, 8):
            drive.work(T0 + (day + 1) * DAY - 10 * MIN, "p1", "turned")
            drive.work(T0 + (day + 1) * DAY - 5 * MIN, "p1", "probe in", probe="p1-a")
            drive.work(T0 + (day + 1) * DAY - 4 * MIN, "p1", "probe in", probe="p1-b")
    text = drive.engine.words("p1/turning-due", T0 + 13 * DAY).text
    assert re.search(r"1[0-2] of 15 days, 3 of 5 turnings \([345] days and 2 turnings left\)", text), text


def test_a_heap_that_goes_cold_is_told_anew_where_a_turning_is_due_already():
    drive = pile()
    drive.hold(T0, T0 + 4 * DAY, step=20 * MIN, p1_a=62, p1_b=61, air=10)
    assert on(drive, "turning-due")
    drive.answer(T0 + 4 * DAY + MIN, "p1/turning-due", "seen")
    cold = T0 + 4 * DAY + 20 * MIN
    drive.hold(cold, cold + 11 * HOUR, step=20 * MIN, p1_a=45, p1_b=44, air=10)
    assert drive.state_of("p1/turning-due") == "acknowledged", "a dip of some hours is no other matter"
    drive.hold(cold + 11 * HOUR + 20 * MIN, cold + 13 * HOUR, step=20 * MIN, p1_a=45, p1_b=44, air=10)
    assert drive.state_of("p1/turning-due") == "unacknowledged"
    told = list(drive.notices("gone cold before its rule was met"))
    assert [e.draft.axis for e in told if e.draft.axis != "digest"] == ["new"]
    drive.hold(cold + 13 * HOUR + 20 * MIN, cold + 40 * HOUR, step=20 * MIN, p1_a=43, p1_b=42, air=10)
    repeats = [e for e in drive.notices("gone cold before its rule was met") if e.draft.axis == "repeat"]
    assert repeats, "with repeats of its own"
    assert drive.engine.state.alarms["p1/turning-due"].since > cold


def test_a_heap_that_went_cold_is_told_days_later_by_what_it_is_then():
    drive = pile()
    drive.hold(T0, T0 + 5 * DAY, step=HOUR, p1_a=60, p1_b=58)
    drive.hold(T0 + 5 * DAY + HOUR, T0 + 6 * DAY, step=HOUR, p1_a=49, p1_b=48)
    drive.hold(T0 + 6 * DAY + HOUR, T0 + 9 * DAY, step=HOUR, p1_a=24, p1_b=23)
    words = drive.engine.words("p1/turning-due", T0 + 9 * DAY).short
    assert "gone cold" in words
    assert "hottest 24 °C" in words


def test_a_heap_that_is_no_longer_to_be_turned_is_not_told_with_a_number_below_its_limit():
    drive = pile()
    drive.hold(T0, T0 + 5 * DAY, step=HOUR, p1_a=60, p1_b=58)
    drive.hold(T0 + 5 * DAY + HOUR, T0 + 7 * DAY, step=HOUR, p1_a=24, p1_b=23)
    drive.work(T0 + 7 * DAY + MIN, "p1", "emptied")
    assert [e.draft.why for e in drive.effects if e.draft.axis == "turning-due"][-1].endswith(
        "due for turning, over since 19:01 (it began 7 Nov 07:08)."
    )


def test_a_heap_that_goes_cold_is_told_anew_when_that_shows_in_a_record_that_is_worked_out_again():
    drive = pile()
    drive.hold(T0, T0 + 4 * DAY, step=20 * MIN, p1_a=62, p1_b=61, air=10)
    cold = T0 + 4 * DAY + 20 * MIN
    drive.hold(cold, cold + 13 * HOUR, step=20 * MIN, p1_a=45, air=10)
    drive.hold(cold + 13 * HOUR + MIN, cold + 13 * HOUR + 2 * MIN, step=MIN, p1_b=44)
    for at in range(cold, cold + 13 * HOUR, 20 * MIN):
        drive.read(at, received=drive.engine.last + 1, p1_b=44)
    assert drive.notices("gone cold before its rule was met")


def test_a_probe_left_outside_after_a_turning_is_named_and_never_shown_as_the_heaps():
    drive = pile()
    drive.hold(T0, T0 + 4 * HOUR, p1_a=64, p1_b=62, air=10)
    drive.work(T0 + 4 * HOUR + MIN, "p1", "turned")
    drive.work(T0 + 5 * HOUR, "p1", "probe in", probe="p1-a")
    drive.hold(T0 + 5 * HOUR + 10 * MIN, T0 + 90 * HOUR, p1_a=63, p1_b=12, air=10)
    assert drive.notices("Bay 1: p1-b has been outside since")
    assert drive.notices("p1-a is in. Put it back")
    text = drive.engine.words("p1/turning-due", T0 + 90 * HOUR).text
    assert "63 °C now" in text
    assert "12 °C" not in text
    assert "by p1-a alone while p1-b lies outside" in text


def test_what_a_probe_says_outside_is_no_number_of_an_alarm_that_is_over():
    drive = pile()
    drive.hold(T0, T0 + 8 * HOUR, p1_a=74, p1_b=60, air=10)
    assert on(drive, "hot")
    drive.work(T0 + 8 * HOUR + MIN, "p1", "turned")
    drive.hold(T0 + 8 * HOUR + 10 * MIN, T0 + 9 * HOUR, p1_a=12, p1_b=12, air=10)
    drive.work(T0 + 9 * HOUR + MIN, "p1", "emptied")
    (over,) = [e.draft.why for e in drive.effects if e.draft.axis == "hot" and e.draft.reason == "condition ends"]
    assert "12 °C" not in over


def test_a_back_dated_turning_is_reminded_of_too():
    drive = pile()
    drive.hold(T0, T0 + 4 * HOUR, p1_a=58, p1_b=58, air=10)
    drive.work(T0 + 4 * HOUR - 5 * MIN, "p1", "turned", entered=T0 + 4 * HOUR + MIN)
    drive.advance(T0 + 16 * HOUR - 5 * MIN)
    assert [e.at for e in drive.notices("p1-a and p1-b have been outside since")] == [T0 + 16 * HOUR - 5 * MIN]


def test_silence_of_probes_that_lie_out_is_no_alarm():
    drive = pile()
    drive.hold(T0, T0 + 4 * HOUR, p1_a=58, p1_b=58, air=10)
    drive.work(T0 + 4 * HOUR + MIN, "p1", "turned")
    drive.advance(T0 + 20 * HOUR)
    assert drive.rings("silent", "p1") == []
    drive.work(T0 + 20 * HOUR, "p1", "probe in", probe="p1-a")
    drive.advance(T0 + 30 * HOUR)
    assert drive.state_of("p1/silent/p1-a") == "unacknowledged"


def suggested(drive, start):
    drive.hold(start, start + 4 * HOUR, p1_a=58, p1_b=58, air=10)
    drive.hold(start + 4 * HOUR + 10 * MIN, start + 5 * HOUR, p1_a=40, p1_b=40, air=10)
    drive.hold(start + 5 * HOUR + 10 * MIN, start + 6 * HOUR, p1_a=46, p1_b=46, air=10)
    return start + 5 * HOUR + 10 * MIN


def test_a_turning_that_every_probe_shows_is_suggested_and_mutes_the_place_for_six_hours():
    drive = pile()
    rose = suggested(drive, T0)
    assert len(drive.notices("Nobody has logged it")) == 1
    assert drive.run().walk.turned_at is None, "never assumed"
    at = T0 + 6 * HOUR + 10 * MIN
    drive.read(at, p1_a=78, p1_b=78, air=10)
    assert drive.state_of("p1/too-hot") == "suppressed"
    drive.hold(at + 10 * MIN, rose + 6 * HOUR - MIN, p1_a=101, p1_b=78, air=10)
    assert drive.state_of("p1/look-at-probe/p1-a") == "suppressed"
    assert drive.rings("fire"), "fire is never muted"
    drive.advance(rose + 6 * HOUR)
    assert drive.alarms("look-at-probe")[-1] == (rose + 6 * HOUR, "look-at-probe", "unacknowledged")


def test_a_turning_seen_in_an_old_backlog_mutes_nothing_now():
    drive = pile()
    rows = []
    for n in range(60):
        value = 58 if n < 24 else 40 if n < 30 else 46
        rows += [[T0 + n * 10 * MIN, p, value * 1_000_000, "Cel"] for p in ("p1-a", "p1-b")]
    now = T0 + 2 * DAY
    drive.feed(now, "readings", {"rows": rows, "ahead": []})
    drive.read(now + MIN, p1_a=78, p1_b=78)
    assert on(drive, "too-hot")


# Batches -------------------------------------------------------------------------------------------------------------


def test_a_moved_batch_takes_its_probes_and_its_alarms_along_and_counts_as_turned():
    drive = pile()
    drive.hold(T0, T0 + 80 * HOUR, step=HOUR, p1_a=30, p1_b=30, air=10)
    assert on(drive, "stalled")
    drive.work(T0 + 80 * HOUR + MIN, "p1", "moved", to="p3")
    assert drive.state_of("p1/stalled") == "returned unacknowledged"
    run = drive.run("p3")
    assert (run.rule_id, run.home) == ("us-112-54-turned", "p1")
    assert run.walk.turned_at == T0 + 80 * HOUR + MIN
    assert drive.engine._core.cores_of("p3") == ["p1-a", "p1-b"]
    phases = [e for e in drive.effects if e.draft.kind.value == "phase"]
    assert all("batch" in e.draft.values for e in phases)


def test_a_move_that_is_no_turning_keeps_the_alarm_on_at_the_new_place():
    drive = pile()
    drive.hold(T0, T0 + 80 * HOUR, step=HOUR, p1_a=30, p1_b=30, air=10)
    drive.work(T0 + 80 * HOUR + MIN, "p1", "moved", to="p3", note="not a turning")
    assert drive.state_of("p1/stalled") == "returned unacknowledged"
    assert on(drive, "stalled", "p3")


def test_probes_left_at_a_move_stay_where_they_are():
    drive = pile()
    drive.hold(T0, T0 + 5 * HOUR, step=HOUR, p1_a=30, p1_b=30, air=10)
    drive.work(T0 + 5 * HOUR + MIN, "p1", "moved", to="p3", note="probes left")
    assert drive.engine._core.cores_of("p1") == ["p1-a", "p1-b"]


def test_a_split_off_part_keeps_the_record_of_the_whole():
    drive = pile()
    drive.hold(T0, T0 + 10 * HOUR, step=HOUR, p1_a=58, p1_b=58, air=10)
    drive.work(T0 + 10 * HOUR + MIN, "p1", "split", to="p3")
    assert drive.run("p3").walk.held
    assert drive.run("p3").rule_id == "us-112-54-turned"
    assert drive.run("p1").walk.held


def test_merging_ends_one_batch_and_restarts_the_hold_of_the_other():
    drive = pile()
    drive.hold(T0, T0 + 10 * HOUR, step=HOUR, p1_a=58, p1_b=58, air=10)
    drive.work(T0 + 10 * HOUR + MIN, "p3", "built")
    drive.work(T0 + 11 * HOUR + MIN, "p3", "merged", to="p1")
    assert list(drive.engine.state.batches.lying) == ["p1"]
    drive.hold(T0 + 12 * HOUR, T0 + 14 * HOUR, step=HOUR, p1_a=58, p1_b=58, air=10)
    assert drive.run("p1").walk.progress.since == T0 + 11 * HOUR + MIN


def test_added_restarts_the_hold():
    drive = pile()
    drive.hold(T0, T0 + 10 * HOUR, step=HOUR, p1_a=58, p1_b=58, air=10)
    assert drive.run().walk.progress.since == T0
    drive.work(T0 + 10 * HOUR + MIN, "p1", "added")
    drive.hold(T0 + 11 * HOUR, T0 + 12 * HOUR, step=HOUR, p1_a=58, p1_b=58, air=10)
    assert drive.run().walk.progress.since == T0 + 10 * HOUR + MIN


def test_a_pile_that_leaves_the_settings_is_watched_no_longer_and_its_batch_is_there_when_it_is_back():
    drive = pile()
    drive.hold(T0, T0 + 5 * HOUR, p1_a=72, p1_b=72, air=10)
    whole = drive.settings
    drive.settle(
        T0 + 5 * HOUR + MIN, yard(piles={"p3": whole.piles["p3"]}, bins={}, probes={"air": whole.probes["air"]})
    )
    drive.advance(T0 + 3 * DAY)
    assert drive.rings("hot") == []
    assert drive.rings("hot-and-lost") == []
    drive.settle(T0 + 3 * DAY + 1, whole)
    drive.hold(T0 + 3 * DAY + 10 * MIN, T0 + 3 * DAY + HOUR, p1_a=58, p1_b=58, air=10)
    assert drive.run().walk.held, "its record is kept"


def test_a_probe_added_in_the_settings_counts_from_then_on():
    drive = pile(probes=("p1-a",))
    drive.hold(T0, T0 + 30 * HOUR, step=HOUR, p1_a=58, air=10)
    since = drive.run().walk.progress.since
    more = {**drive.settings.probes, "p1-b": core("p1")}
    drive.settle(T0 + 30 * HOUR + MIN, yard(piles=drive.settings.piles, bins={}, probes=more, probe_thresholds=CALM))
    assert drive.run().walk.progress.since == since
    assert drive.run().walk.phase.value == "holding"
    assert drive.run().walk.lines["p1-b"].serving


def test_a_cold_probe_dropped_from_the_settings_does_not_make_the_past_warmer():
    drive = pile()
    drive.hold(T0, T0 + 30 * HOUR, step=HOUR, p1_a=58, p1_b=30, air=10)
    less = {p: c for p, c in drive.settings.probes.items() if p != "p1-b"}
    drive.settle(T0 + 30 * HOUR + MIN, yard(piles=drive.settings.piles, bins={}, probes=less, probe_thresholds=CALM))
    drive.read(T0 + 20 * HOUR + 7, received=T0 + 31 * HOUR, p1_a=58)
    drive.hold(T0 + 31 * HOUR, T0 + 32 * HOUR, step=HOUR, p1_a=58, air=10)
    assert drive.run().walk.progress.since > T0 + 30 * HOUR


def test_a_fire_whose_probe_stopped_is_told_on_as_it_was_last_heard():
    drive = pile(probes=("p1-a",))
    drive.hold(T0, T0 + HOUR, p1_a=80)
    drive.read(T0 + HOUR + 10 * MIN, p1_a=83)
    drive.read(T0 + HOUR + 20 * MIN, p1_a=83)
    drive.advance(T0 + 3 * HOUR)
    lost = drive.rings("hot-and-lost")[0]
    later = [e.draft.text for e in drive.notices("FIRE DANGER") if e.at > lost]
    assert later
    assert all("as last heard 20:20: its probes are silent" in text for text in later)
    assert not any("rising" in text or "Still on" in text for text in later)


@pytest.mark.parametrize("met", [True, False])
def test_a_heap_that_met_its_rule_loses_that_by_what_comes_from_one_that_has_not(met):
    piles = {name: Pile(name=name, rule="us-112-54-static", method=Method.STATIC, built=T0) for name in ("p1", "p2")}
    drive = Drive(yard(piles=piles, bins={}, probes={"p1-a": core("p1"), "p2-a": core("p2")}))
    for hour in range(80):
        drive.read(T0 + hour * HOUR + MIN, p1_a=60 if met or hour < 40 else 45, p2_a=60)
    assert drive.run("p1").rule.value == ("met" if met else "running")
    assert drive.run("p2").rule.value == "met"
    lost = lost_by(drive.engine.core, Work(time=drive.engine.last, place="p1", to="p2", kind=WorkKind.MERGED))
    assert (lost and lost.place) == (None if met else "p2")
