"""Conditions and value alarms of the engine: delays, late readings, excursions that are over, silence, mutes, answers."""

from dataclasses import replace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, plain, yard

from monitor.engine import Engine
from monitor.engine.asking.answerable import why_unanswerable
from monitor.engine.output.alarm_notices import mute, settle
from monitor.model.events import Answer
from monitor.model.settings import Contact
from monitor.model.thresholds import BinThresholds, ProbeThresholds

HOT, DANGER, FINE = 30.0, 34.0, 20.0  # °C: overheating is 29.444, worms-in-danger 32.222 (by all), 35 (by any)


CALM = ProbeThresholds(spike_step_milli_k=200_000)
"""No spike is seen: these tests jump from value to value."""


def bins(**celsius):
    drive = Drive(yard(probe_thresholds=CALM))
    if celsius:
        drive.read(T0, **celsius)
    return drive


def test_a_delay_is_filled_by_its_deadline_to_the_millisecond():
    drive = bins(b2_t=FINE)
    drive.read(T0 + HOUR + 7, b2_t=HOT)
    assert drive.engine.next_deadline() is not None
    drive.advance(T0 + HOUR + 7 + 20 * MIN - 1)
    assert drive.rings("overheating") == []
    drive.advance(T0 + HOUR + 7 + 20 * MIN)
    assert drive.rings("overheating") == [T0 + HOUR + 7 + 20 * MIN]
    [alarm] = [e.draft for e in drive.effects if e.draft.axis == "overheating"]
    assert alarm.since == T0 + HOUR + 7


def test_a_reading_just_not_late_starts_a_deadline_and_a_late_one_does_not():
    drive = bins(b2_t=FINE)
    drive.read(T0 + HOUR, received=T0 + HOUR + 5 * MIN, b2_t=HOT)
    drive.advance(T0 + 2 * HOUR - 1)
    assert drive.rings("overheating") == [T0 + HOUR + 20 * MIN]
    drive = bins(b2_t=FINE)
    drive.read(T0 + HOUR, received=T0 + HOUR + 5 * MIN + 1, b2_t=HOT)
    drive.advance(T0 + 2 * HOUR - 1)
    assert drive.rings("overheating") == []
    drive.read(T0 + 2 * HOUR, b2_t=HOT)
    assert drive.rings("overheating") == [T0 + 2 * HOUR], "a later reading confirms it"


def test_a_late_reading_does_not_stop_a_deadline_that_runs():
    drive = bins(b2_t=HOT)
    drive.read(T0 + 10 * MIN, received=T0 + 16 * MIN, b2_t=HOT)
    drive.advance(T0 + 20 * MIN)
    assert drive.rings("overheating") == [T0 + 20 * MIN]


@pytest.mark.parametrize(("age", "told"), [(2 * HOUR - 1, 1), (2 * HOUR, 0)])
def test_an_excursion_already_over_makes_one_alarm_and_under_two_hours_one_notice(age, told):
    drive = bins(b2_t=FINE)
    end = T0 + 8 * HOUR
    rows = [[end - 40 * MIN, "b2-t", 30_000_000, "Cel"], [end, "b2-t", 30_000_000, "Cel"],
            [end + MIN, "b2-t", 20_000_000, "Cel"]]  # fmt: skip
    drive.feed(end + age, "readings", {"rows": rows, "ahead": []})
    assert [state for _, _, state in drive.alarms("overheating")] == ["unacknowledged", "returned unacknowledged"]
    assert len(drive.notices("over now")) == told
    assert ("over now" in drive.engine.while_you_were_away(end + 2 * HOUR, end)) or told


def test_the_highest_alarm_of_a_bin_always_makes_a_notice():
    drive = bins(b2_t=FINE)
    rows = [[T0 + HOUR, "b2-t", 36_000_000, "Cel"], [T0 + 2 * HOUR, "b2-t", 20_000_000, "Cel"]]
    drive.feed(T0 + 3 * DAY, "readings", {"rows": rows, "ahead": []})
    assert len(drive.notices("worms in danger from")) == 1


def test_one_still_going_on_rings_at_its_first_reading_under_two_hours_old_with_since_the_first():
    drive = bins(b2_t=FINE)
    now = T0 + 20 * HOUR
    rows = [[at, "b2-t", 30_500_000, "Cel"] for at in range(now - 9 * HOUR, now - 2 * HOUR + 1, 30 * MIN)]
    drive.feed(now, "readings", {"rows": rows, "ahead": []})
    assert drive.rings("overheating") == []
    drive.feed(now + MIN, "readings", {"rows": [[now - 118 * MIN, "b2-t", 30_500_000, "Cel"]], "ahead": []})
    assert drive.rings("overheating") == [now + MIN]
    assert [e.draft.since for e in drive.effects if e.draft.axis == "overheating"] == [now - 9 * HOUR]


def test_an_answered_alarm_that_comes_again_is_new_again():
    drive = bins(b2_t=36)
    drive.answer(T0 + MIN, "b2/worms-in-danger", "seen")
    drive.read(T0 + 10 * MIN, b2_t=33)
    drive.read(T0 + 20 * MIN, b2_t=20)
    drive.read(T0 + 30 * MIN, b2_t=36)
    assert [s for _, _, s in drive.alarms("worms-in-danger")] == [
        "unacknowledged", "acknowledged", "normal", "unacknowledged",
    ]  # fmt: skip


def test_silence_makes_the_axis_unknown_and_ends_no_alarm():
    drive = bins(b2_t=FINE)
    drive.hold(T0 + 10 * MIN, T0 + 3 * HOUR, b2_t=36)
    drive.advance(T0 + 4 * HOUR - 1)
    assert drive.rings("silent", "b2") == []
    drive.advance(T0 + 4 * HOUR)
    assert drive.rings("silent", "b2") == [T0 + 4 * HOUR]
    words = [e.draft.after for e in drive.effects if e.draft.kind.value == "condition" and e.draft.place == "b2"]
    assert words[-1] == "unknown"
    assert drive.state_of("b2/worms-in-danger") == "unacknowledged"
    drive.read(T0 + 5 * HOUR, b2_t=36)
    assert drive.state_of("b2/silent/b2-t") == "returned unacknowledged"


def test_a_wet_probe_that_falls_silent_is_waited_for_no_longer():
    drive = Drive(yard(probes={**yard().probes, "b1-n": yard().probes["b1-m"]}))
    drive.feed(T0, "readings", {"rows": [[T0, "b1-m", 90_000_000, "%"]], "ahead": []})
    for n in range(100):
        drive.feed(
            T0 + n * 10 * MIN + 1, "readings", {"rows": [[T0 + n * 10 * MIN, "b1-n", 75_000_000, "%"]], "ahead": []}
        )
    assert drive.rings("silent", "b1")[:1] == [T0 - MIN + HOUR] or "b1" in str(drive.alarms("silent"))
    assert drive.rings("too-wet") == []


def test_silence_counts_three_spacings_where_they_are_longer_than_the_least():
    drive = Drive(yard())
    drive.hold(T0, T0 + 10 * HOUR, step=30 * MIN, b2_t=20)
    drive.advance(T0 + 13 * HOUR)
    assert drive.rings("silent", "b2") == [T0 + 10 * HOUR + 90 * MIN]


def test_a_probe_never_heard_counts_from_its_settings():
    drive = Drive(yard())
    drive.advance(T0 + 12 * HOUR)
    assert drive.rings("silent", "b2") == [T0 - MIN + HOUR]
    assert drive.rings("silent", "p2") == [T0 - MIN + 6 * HOUR]


def test_silent_counts_arrivals_and_broken_counts_accepted_readings():
    drive = bins(b2_t=20)
    drive.hold(T0 + 10 * MIN, T0 + 3 * HOUR, b2_t=-127)
    assert drive.rings("silent", "b2") == []
    assert drive.rings("broken", "b2") == [T0 + HOUR]
    drive.read(T0 + 4 * HOUR, b2_t=20)
    assert drive.state_of("b2/broken/b2-t") == "returned unacknowledged"


def test_late_arrivals_keep_a_probe_from_being_silent_but_not_its_spacing():
    drive = bins(b2_t=20)
    drive.hold(T0 + 10 * MIN, T0 + 2 * HOUR, b2_t=20)
    for n in range(30):
        drive.read(T0 + 2 * HOUR + (n + 1) * MIN, received=T0 + 2 * HOUR + (n + 1) * 20 * MIN, b2_t=20)
    last = T0 + 12 * HOUR
    assert drive.engine.last == last
    drive.advance(last + 2 * HOUR)
    assert drive.rings("silent", "b2") == [last + HOUR]


def test_worms_in_danger_mutes_overheating_while_it_is_on():
    drive = bins(b1_t=FINE, b1_u=FINE)
    drive.read(T0 + 10 * MIN, b1_t=HOT, b1_u=FINE)
    drive.advance(T0 + 30 * MIN)
    assert drive.state_of("b1/overheating") == "unacknowledged"
    drive.read(T0 + 40 * MIN, b1_t=36, b1_u=36)
    assert drive.state_of("b1/worms-in-danger") == "unacknowledged"
    assert drive.state_of("b1/overheating") == "suppressed"
    drive.read(T0 + 50 * MIN, b1_t=HOT, b1_u=HOT)
    assert drive.state_of("b1/worms-in-danger") == "returned unacknowledged"
    assert drive.state_of("b1/overheating") == "unacknowledged"


def test_out_of_service_speaks_for_nobody():
    drive = bins(b1_t=FINE, b1_u=FINE)
    drive.answer(T0 + MIN, "b1/worms-in-danger", "out of service")
    drive.read(T0 + 9 * MIN, b1_t=36, b1_u=36)
    drive.answer(T0 + 10 * MIN, "b1/worms-in-danger", "out of service")
    drive.advance(T0 + 40 * MIN)
    assert drive.state_of("b1/overheating") == "unacknowledged"
    drive.answer(T0 + 41 * MIN, "b1/worms-in-danger", "back")
    assert drive.state_of("b1/overheating") in ("suppressed", "unacknowledged")


@pytest.mark.parametrize("work", ["watered", "fed"])
def test_moisture_alarms_are_muted_for_twelve_hours_after_watering_and_feeding(work):
    drive = Drive(yard())
    drive.hold(T0, T0 + 13 * HOUR, b1_m=90)
    assert drive.rings("too-wet") == [T0 + 4 * HOUR]
    drive.work(T0 + 13 * HOUR + MIN, "b1", work)
    assert drive.state_of("b1/too-wet") == "suppressed"
    drive.hold(T0 + 13 * HOUR + 10 * MIN, T0 + 25 * HOUR, b1_m=90)
    assert drive.state_of("b1/too-wet") == "suppressed"
    drive.hold(T0 + 25 * HOUR + 10 * MIN, T0 + 26 * HOUR, b1_m=90)
    assert drive.rings("too-wet") == [T0 + 4 * HOUR, T0 + 25 * HOUR + MIN]


def test_an_alarm_that_ends_while_it_is_muted_is_told_in_the_record_as_past():
    drive = Drive(yard())
    drive.hold(T0, T0 + 13 * HOUR, b1_m=90)
    drive.work(T0 + 13 * HOUR + MIN, "b1", "watered")
    drive.hold(T0 + 14 * HOUR, T0 + 26 * HOUR, b1_m=75)
    end = [one.draft for one in drive.effects if one.draft.axis == "too-wet"][-1]
    assert (end.reason, end.after) == ("mute ends", "normal")
    assert "Sunny bin: too wet from " in end.why
    assert "up to 90 %, over now (b1-m)" in end.why


def test_a_mute_that_another_one_makes_longer_ends_all_the_same():
    wet = {b: replace(one, thresholds=BinThresholds(moisture_mute_ms=4 * HOUR)) for b, one in yard().bins.items()}
    drive = Drive(yard(bins=wet))
    drive.hold(T0, T0 + 5 * HOUR, b1_m=90)
    assert drive.state_of("b1/too-wet") == "unacknowledged"
    drive.work(T0 + 5 * HOUR + MIN, "b1", "watered")
    drive.work(T0 + 7 * HOUR, "b1", "fed")
    drive.hold(T0 + 7 * HOUR + 10 * MIN, T0 + 10 * HOUR, b1_m=90)
    assert drive.state_of("b1/too-wet") == "suppressed"
    drive.hold(T0 + 10 * HOUR + 10 * MIN, T0 + 12 * HOUR, b1_m=90)
    assert drive.rings("too-wet") == [T0 + 4 * HOUR, T0 + 11 * HOUR]


def test_feeding_twice_a_day_mutes_too_wet_for_twelve_hours_of_each_day_and_no_more():
    drive = Drive(yard())
    for day in range(3):
        for hour in range(24):
            at = T0 + day * DAY + hour * HOUR
            if hour in (8, 18):
                drive.work(at + MIN, "b1", "fed")
            drive.read(at + 2 * MIN, b1_m=90)
            muted = drive.state_of("b1/too-wet") == "suppressed"
            assert muted is (8 <= hour < 20), (day, hour)
    assert len(drive.rings("too-wet")) == 4


def test_the_delay_runs_on_while_work_mutes():
    drive = Drive(yard())
    drive.work(T0, "b1", "fed")
    drive.hold(T0 + 9 * HOUR, T0 + 12 * HOUR - MIN, b1_m=90)
    assert drive.rings("too-wet") == []
    drive.hold(T0 + 12 * HOUR, T0 + 14 * HOUR, b1_m=90)
    assert drive.rings("too-wet") == [T0 + 13 * HOUR], "four hours after it got wet, not after the mute"


def test_a_mute_that_begins_while_a_worse_alarm_mutes_ends_all_the_same():
    drive = Drive()
    drive.feed(T0 - HOUR, "settings", plain(yard()))
    core = drive.engine.core
    core.at = T0
    core.begins("b1", "overheating", since=T0, last=T0)
    core.begins("b1", "worms-in-danger", since=T0, last=T0)
    settle(core)
    assert drive.state_of("b1/overheating") == "suppressed"
    mute(core, "b1", T0 + 2 * HOUR, ("overheating",))
    core.at = T0 + HOUR
    core.ends("b1", "worms-in-danger")
    settle(core)
    assert drive.state_of("b1/overheating") == "suppressed"
    drive.advance(T0 + 2 * HOUR)
    assert drive.state_of("b1/overheating") == "unacknowledged"


def test_a_mute_that_is_made_longer_while_an_alarm_is_put_off_ends_all_the_same():
    drive = Drive(yard())
    drive.hold(T0, T0 + 13 * HOUR, b1_m=90)
    drive.answer(T0 + 13 * HOUR + 2 * MIN, "b1/too-wet", "put off", until=T0 + 20 * HOUR)
    drive.work(T0 + 16 * HOUR, "b1", "fed")
    drive.hold(T0 + 16 * HOUR + 10 * MIN, T0 + 27 * HOUR, b1_m=90)
    assert drive.state_of("b1/too-wet") == "suppressed"
    drive.hold(T0 + 27 * HOUR + 10 * MIN, T0 + 29 * HOUR, b1_m=90)
    assert drive.state_of("b1/too-wet") == "unacknowledged"
    assert drive.rings("too-wet")[-1] == T0 + 28 * HOUR


def test_a_thermal_alarm_names_food_or_air_by_what_the_air_was():
    def told(air, *, fed_h=None):
        drive = bins(b2_t=20, air=air)
        if fed_h is not None:
            drive.work(T0 + HOUR, "b2", "fed")
        drive.hold(T0 + 10 * MIN, T0 + (fed_h or 1) * HOUR, b2_t=20, air=air)
        drive.hold(T0 + (fed_h or 1) * HOUR + 10 * MIN, T0 + (fed_h or 1) * HOUR + 50 * MIN, b2_t=31, air=12)
        return drive.engine.words("b2/overheating", drive.engine.last).text

    assert "fresh food may be the cause" in told(20, fed_h=2)
    assert "The air reached 28 °C in 24 h, which may be the cause." in told(28, fed_h=2)
    assert "food" not in told(20, fed_h=55)
    assert "The air reached 24 °C in 24 h; with the sun on it that may be the cause." in told(24)


def test_the_airs_highest_is_of_the_last_day_alone():
    drive = bins(b2_t=20, air=33)
    drive.hold(T0 + 10 * MIN, T0 + 27 * HOUR, b2_t=20, air=12)
    drive.hold(T0 + 27 * HOUR, T0 + 28 * HOUR, b2_t=31, air=12)
    assert "The air reached 12 °C" in drive.engine.words("b2/overheating", drive.engine.last).text


def test_a_silent_moisture_probe_is_told_in_percent_everywhere():
    drive = Drive(yard())
    drive.hold(T0, T0 + HOUR, b1_m=78, b1_t=20)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 3 * HOUR, b1_t=20)
    assert drive.notices("no word from a probe since 20:00, last reading 78 % (b1-m)")
    assert "last reading 78 %" in drive.engine.before_you_go(T0 + 3 * HOUR)
    drive.hold(T0 + 3 * HOUR + 10 * MIN, T0 + 4 * HOUR, b1_m=78, b1_t=20)
    drive.hold(T0 + 4 * HOUR + 10 * MIN, T0 + 7 * HOUR, b1_m=130, b1_t=20)
    assert all("°" not in one.draft.text for one in drive.notices("b1-m"))


def test_an_alarm_whose_probes_are_silent_is_not_told_as_present():
    drive = bins(b2_t=20)
    drive.hold(T0 + 10 * MIN, T0 + HOUR, b2_t=31)
    drive.advance(T0 + 30 * HOUR)
    later = [e.draft.text for e in drive.notices("overheating") if e.at > T0 + 3 * HOUR]
    assert later
    assert all("31 °C since" not in text or "as last heard 20:00" in text.replace("yesterday ", "") for text in later)
    assert not any("Still on" in text for text in later if "overheating" in text.splitlines()[0])


def test_put_off_is_told_again_at_its_end_if_it_is_still_on():
    drive = bins(b2_t=36)
    drive.answer(T0 + MIN, "b2/worms-in-danger", "put off", until=T0 + 3 * HOUR)
    assert drive.state_of("b2/worms-in-danger") == "shelved"
    told = len(drive.notices("WORMS IN DANGER"))
    drive.hold(T0 + 10 * MIN, T0 + 3 * HOUR - MIN, b2_t=36)
    assert len(drive.notices("WORMS IN DANGER")) == told
    drive.advance(T0 + 3 * HOUR)
    assert drive.alarms("worms-in-danger")[-1] == (T0 + 3 * HOUR, "worms-in-danger", "unacknowledged")
    assert len(drive.notices("WORMS IN DANGER")) == told + 1


def test_what_ended_while_it_was_put_off_is_told_as_over_and_stands_open_nowhere():
    drive = bins(b2_t=36)
    drive.answer(T0 + MIN, "b2/worms-in-danger", "put off", until=T0 + 3 * HOUR)
    drive.hold(T0 + 10 * MIN, T0 + 4 * HOUR, b2_t=20)
    assert drive.state_of("b2/worms-in-danger") == "normal"
    assert drive.notices("over since")
    assert "put off" not in drive.engine.before_you_go(T0 + 4 * HOUR)


def test_taken_up_again_tells_what_is_on_and_says_over_of_what_is_not():
    drive = bins(b2_t=36)
    drive.answer(T0 + MIN, "b2/worms-in-danger", "put off", until=T0 + 9 * HOUR)
    told = len(drive.notices("WORMS IN DANGER"))
    drive.answer(T0 + 2 * MIN, "b2/worms-in-danger", "taken up again")
    assert drive.state_of("b2/worms-in-danger") == "unacknowledged"
    drive.advance(T0 + 5 * MIN)
    assert len(drive.notices("WORMS IN DANGER")) == told + 1
    drive.answer(T0 + 6 * MIN, "b2/worms-in-danger", "put off", until=T0 + 9 * HOUR)
    drive.read(T0 + 7 * MIN, b2_t=33)
    drive.read(T0 + 20 * MIN, b2_t=20)
    drive.answer(T0 + 21 * MIN, "b2/worms-in-danger", "taken up again")
    drive.advance(T0 + 30 * MIN)
    assert drive.state_of("b2/worms-in-danger") == "normal"
    assert len(drive.notices("WORMS IN DANGER")) == told + 1
    assert drive.notices("over since")


def test_answers_that_mean_nothing_change_nothing():
    drive = bins(b2_t=20)
    for answer in ("seen", "put off", "taken up again", "back"):
        assert drive.answer(T0 + MIN, "b2/overheating", answer, until=T0 + HOUR) == []
    assert drive.answer(T0 + MIN, "nowhere/overheating", "seen") == []


def test_a_silent_probe_whose_place_changes_takes_its_alarm_along():
    drive = Drive(yard())
    drive.hold(T0, T0 + HOUR, b1_t=36, b1_u=20, b2_t=20)
    drive.advance(T0 + 3 * HOUR)
    assert drive.state_of("b1/silent/b1-t") == "unacknowledged"
    drive.work(T0 + 4 * HOUR, "b2", "probe in", probe="b1-t")
    assert drive.state_of("b1/silent/b1-t") == "returned unacknowledged"
    assert drive.state_of("b1/worms-in-danger") == "returned unacknowledged", "only that probe held it open"
    drive.read(T0 + 5 * HOUR, b1_t=36)
    assert drive.state_of("b2/worms-in-danger") == "unacknowledged"


def test_a_bin_that_leaves_the_settings_leaves_nothing_behind():
    drive = Drive(yard())
    drive.read(T0, b2_t=30)
    less = yard(bins={"b1": yard().bins["b1"]}, probes={k: v for k, v in yard().probes.items() if k != "b2-t"})
    drive.settle(T0 + MIN, less)
    drive.advance(T0 + 2 * DAY)
    assert [e for e in drive.effects if e.draft.place == "b2" and e.at > T0 + MIN] == []


# Starts ------------------------------------------------------------------------------------------------------------


def test_a_start_serves_deadlines_up_to_the_stop_and_each_other_once():
    drive = bins(b2_t=36)
    drive.advance(T0 + 5 * MIN)
    told = len(drive.notices())
    drive.feed(T0 + 2 * DAY, "started", {"down_since": T0 + 5 * MIN})
    later = drive.effects[told:]
    assert {e.at for e in drive.effects if e.at > T0 + 5 * MIN} == {T0 + 2 * DAY}
    assert len([e for e in later if e.draft.axis == "repeat"]) <= 1
    assert len([e for e in later if e.draft.axis == "digest"]) == 1


def test_silence_is_waited_for_anew_after_a_start_and_still_found():
    drive = bins(b2_t=20)
    drive.feed(T0 + 2 * DAY, "started", {"down_since": T0 + 10 * MIN})
    assert drive.rings("silent") == []
    drive.advance(T0 + 2 * DAY + HOUR - 1)
    assert drive.rings("silent") == []
    drive.advance(T0 + 2 * DAY + HOUR)
    assert drive.rings("silent", "b2") == [T0 + 2 * DAY + HOUR]


def test_a_delay_that_filled_while_nobody_was_at_work_rings_only_with_a_fresh_reading():
    drive = bins(b2_t=HOT)
    drive.feed(T0 + DAY, "started", {"down_since": T0 + MIN})
    assert drive.rings("overheating") == []
    drive.read(T0 + DAY + MIN, b2_t=HOT)
    assert drive.rings("overheating") == [T0 + DAY + MIN]


# Clocks, links, hand readings ----------------------------------------------------------------------------------------


def test_a_reading_from_the_future_is_an_alarm_on_its_probe_until_it_is_right_again():
    drive = bins(b2_t=20)
    drive.feed(T0 + MIN, "readings", {"rows": [], "ahead": [["b2-t", T0 + HOUR]]})
    assert drive.rings("clock", "b2") == [T0 + MIN]
    drive.feed(T0 + 2 * MIN, "readings", {"rows": [], "ahead": [["b2-t", T0 + HOUR]]})
    assert len(drive.rings("clock")) == 1
    drive.read(T0 + 10 * MIN, b2_t=20)
    assert drive.state_of("b2/clock/b2-t") == "returned unacknowledged"


def test_a_clock_that_jumps_is_an_alarm_until_it_is_confirmed():
    drive = bins()
    drive.feed(T0, "clock", {"state": "confirmed"})
    assert drive.alarms("clock") == []
    drive.feed(T0 + MIN, "clock", {"state": "jumped", "by_ms": -180_000})
    assert drive.rings("clock") == [T0 + MIN]
    assert len(drive.notices("clock jumped back")) == 1
    drive.feed(T0 + 20 * MIN, "clock", {"state": "confirmed"})
    assert drive.state_of("/clock/") == "returned unacknowledged"


def test_a_link_is_told_once_after_five_minutes():
    drive = bins(b2_t=20)
    drive.feed(T0 + MIN, "link", {"what": "source", "name": "mqtt", "up": True})
    drive.feed(T0 + 2 * MIN, "link", {"what": "source", "name": "mqtt", "up": False, "why": "refused"})
    drive.feed(T0 + 3 * MIN, "link", {"what": "source", "name": "mqtt", "up": False, "why": "refused"})
    drive.advance(T0 + 7 * MIN - 1)
    assert drive.rings("link") == []
    drive.advance(T0 + 7 * MIN)
    assert drive.rings("link") == [T0 + 7 * MIN]
    drive.feed(T0 + 8 * MIN, "link", {"what": "source", "name": "mqtt", "up": True})
    assert drive.state_of("/link/mqtt") == "returned unacknowledged"
    drive.feed(T0 + 9 * MIN, "link", {"what": "source", "name": "mqtt", "up": False})
    drive.feed(T0 + 10 * MIN, "link", {"what": "source", "name": "mqtt", "up": True})
    drive.advance(T0 + HOUR)
    assert len(drive.rings("link")) == 1


def test_a_probe_that_stands_still_makes_one_line_a_day():
    drive = Drive(yard())
    for at in range(T0, T0 + 62 * HOUR, 10 * MIN):
        drive.feed(at, "readings", {"rows": [[at, "b2-t", 20_000_000 + (1000 if at == T0 else 0), "Cel"]], "ahead": []})
    digests = [e.draft.text for e in drive.effects if e.draft.axis == "digest"]
    assert [text.count("has shown exactly") for text in digests] == [0, 1, 1]


def test_texts_on_demand_speak_of_the_instant_they_are_asked_at():
    drive = bins(b2_t=36)
    other = Engine.restore(drive.engine.snapshot())
    assert other.while_you_were_away(T0 + HOUR, T0) == drive.engine.while_you_were_away(T0 + HOUR, T0)


def test_seen_can_be_taken_back_and_a_put_off_changed():
    drive = bins(b2_t=36)
    key = "b2/worms-in-danger"
    drive.answer(T0 + MIN, key, "seen")
    drive.advance(T0 + 2 * HOUR)
    told = len(drive.notices("WORMS IN DANGER"))
    drive.answer(T0 + 2 * HOUR, key, "not me after all")
    assert drive.state_of(key) == "unacknowledged"
    drive.hold(T0 + 2 * HOUR + MIN, T0 + 4 * HOUR, b2_t=36)
    assert len(drive.notices("WORMS IN DANGER")) > told
    drive.answer(T0 + 4 * HOUR + MIN, key, "put off", until=T0 + 5 * HOUR)
    drive.answer(T0 + 4 * HOUR + 2 * MIN, key, "put off", until=T0 + 7 * HOUR)
    told = len(drive.notices("WORMS IN DANGER"))
    drive.hold(T0 + 4 * HOUR + 10 * MIN, T0 + 7 * HOUR - MIN, b2_t=36)
    assert (drive.state_of(key), len(drive.notices("WORMS IN DANGER"))) == ("shelved", told)
    drive.advance(T0 + 7 * HOUR)
    assert drive.state_of(key) == "unacknowledged"


def test_what_was_put_off_says_what_comes_before_it_can_be_seen():
    drive = bins(b2_t=36)
    drive.answer(T0 + MIN, "b2/worms-in-danger", "put off", until=T0 + HOUR)
    told = why_unanswerable(drive.engine.state, "b2/worms-in-danger", Answer.SEEN)
    assert told == (
        '"b2/worms-in-danger" has been put off by Ann; "seen" says nothing about it now: take it up again first'
    )


def test_why_an_answer_says_nothing_is_said_rightly():
    drive = bins(b2_t=36)
    state = drive.engine.state
    assert why_unanswerable(state, "b1/too-wet", Answer.PUT_OFF).startswith('"b1/too-wet" has not rung; open are b2/')
    assert why_unanswerable(state, "b2/worms-in-danger", Answer.SEEN) == ""
    drive.answer(T0 + MIN, "b2/worms-in-danger", "seen")
    assert "seen already by Ann" in why_unanswerable(state, "b2/worms-in-danger", Answer.SEEN)
    drive.hold(T0 + 10 * MIN, T0 + 2 * HOUR, b2_t=20)
    assert "is over" in why_unanswerable(state, "b2/worms-in-danger", Answer.PUT_OFF)


# Freezing, empty bins ------------------------------------------------------------------------------------------------

QUIET_ANN = {"ann": Contact(name="Ann", channels=("wire",), quiet_start_minute=21 * 60, quiet_end_minute=7 * 60)}
EVENING = T0 + 3 * HOUR  # 22:00 in New York, inside quiet hours


def test_freezing_rings_anew_at_its_worse_limit_whoever_had_seen_it():
    drive = bins(b2_t=20)
    drive.read(T0 + 10 * MIN, b2_t=6)
    drive.answer(T0 + 11 * MIN, "b2/freezing", "seen")
    drive.read(T0 + 20 * MIN, b2_t=5)
    assert drive.state_of("b2/freezing") == "acknowledged"
    drive.read(T0 + 30 * MIN, b2_t=3.8)
    assert drive.alarms("freezing")[-1] == (T0 + 30 * MIN, "freezing", "unacknowledged")
    assert [e.draft.reason for e in drive.effects if e.draft.axis == "freezing"][-1] == "got worse"
    drive.advance(T0 + 32 * MIN)
    told = drive.notices("close to freezing")
    assert [e.draft.values["priority"] for e in told] == ["medium", "high"]
    assert drive.engine.state.alarms["b2/freezing"].since == T0 + 10 * MIN


def test_freezing_out_of_service_stays_so_at_its_worse_limit():
    drive = bins(b2_t=20)
    drive.read(T0 + 10 * MIN, b2_t=6)
    drive.answer(T0 + 11 * MIN, "b2/freezing", "out of service")
    drive.read(T0 + 30 * MIN, b2_t=3)
    assert drive.state_of("b2/freezing") == "out of service"


@pytest.mark.parametrize(("minutes", "sent"), [(10, True), (119, True), (120, False), (300, False)])
def test_the_high_one_is_told_through_quiet_hours_until_midnight(minutes, sent):
    drive = Drive(yard(contacts=QUIET_ANN))
    at = EVENING + minutes * MIN
    drive.read(at - 5 * MIN, b2_t=6)
    drive.read(at, b2_t=3.8)
    assert bool(drive.notices("close to freezing, 4 ")) is sent
    drive.hold(at + 10 * MIN, T0 + 12 * HOUR, b2_t=3.8)
    drive.advance(T0 + 12 * HOUR)
    assert [e.at for e in drive.notices("close to freezing") if e.at >= T0 + 12 * HOUR]


def test_the_medium_one_waits_for_the_morning():
    drive = Drive(yard(contacts=QUIET_ANN))
    drive.hold(EVENING, EVENING + 8 * HOUR, b2_t=6)
    assert drive.notices("close to freezing") == []
    drive.hold(EVENING + 8 * HOUR, EVENING + 9 * HOUR, b2_t=6)
    assert [e.at for e in drive.notices("close to freezing")] == [T0 + 12 * HOUR]


def test_an_emptied_bin_is_empty_until_something_is_put_in():
    drive = Drive(yard())
    drive.hold(T0, T0 + 13 * HOUR, b1_m=50, b1_t=20)
    assert drive.state_of("b1/too-dry") == "unacknowledged"
    drive.work(T0 + 13 * HOUR + 30 * MIN, "b1", "emptied")
    assert drive.state_of("b1/too-dry") == "returned unacknowledged"
    drive.hold(T0 + 14 * HOUR + 10 * MIN, T0 + 40 * HOUR, b1_m=40, b1_t=36)
    assert drive.state_of("b1/worms-in-danger") in (None, "normal")
    assert drive.state_of("b1/too-dry") == "returned unacknowledged"
    words = [e.draft for e in drive.effects if e.draft.kind.value == "condition" and e.draft.place == "b1"]
    assert {(one.after, one.reason) for one in words[-2:]} == {("unknown", "emptied")}
    drive.advance(T0 + 60 * HOUR)
    assert drive.rings("silent", "b1"), "its probes are watched all the same"
    drive.work(T0 + 61 * HOUR, "b1", "bedded")
    drive.read(T0 + 62 * HOUR, b1_t=36)
    assert drive.state_of("b1/worms-in-danger") == "unacknowledged"


def test_an_emptying_that_is_logged_after_a_later_feeding_empties_nothing():
    drive = Drive(yard())
    drive.work(T0 + 2 * HOUR, "b1", "fed")
    drive.work(T0 + HOUR, "b1", "emptied", entered=T0 + 3 * HOUR)
    drive.read(T0 + 4 * HOUR, b1_t=36)
    assert drive.state_of("b1/worms-in-danger") == "unacknowledged"


def test_what_work_mutes_stands_in_the_summaries_all_the_same():
    drive = Drive(yard())
    drive.hold(T0, T0 + 5 * HOUR, b1_m=90)
    drive.work(T0 + 5 * HOUR + MIN, "b1", "watered")
    assert drive.state_of("b1/too-wet") == "suppressed"
    for text in (drive.engine.before_you_go(T0 + 6 * HOUR), drive.engine.while_you_were_away(T0 + 6 * HOUR, T0 + DAY)):
        assert "Sunny bin: too wet, 90 %, aim 70–80 %, since" in text
        assert "muted until" in text
        assert "No alarm is open" not in text


def test_an_emptying_that_is_logged_after_later_bedding_empties_nothing():
    drive = Drive(yard())
    drive.work(T0 + 2 * HOUR, "b1", "bedded")
    drive.work(T0 + HOUR, "b1", "emptied", entered=T0 + 3 * HOUR)
    drive.read(T0 + 4 * HOUR, b1_t=36)
    assert drive.state_of("b1/worms-in-danger") == "unacknowledged"


def test_an_emptied_bin_is_not_told_to_be_over_with_a_number_that_is_beyond_the_limit():
    drive = Drive(yard())
    drive.read(T0, b1_t=36)
    drive.work(T0 + MIN, "b1", "emptied")
    over = [e.draft.text for e in drive.notices("over since")]
    assert over
    assert all("now" not in text.split(". ")[0] for text in over)


# What is no longer measured ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("gone", ["moved", "settings"])
def test_no_alarm_is_told_to_be_over_because_its_last_probe_was_taken_away(gone):
    few = {"b1-t": yard().probes["b1-t"], "p1-a": yard().probes["p1-a"]}
    drive = Drive(yard(probes=few))
    for at in (T0, T0 + 10 * MIN, T0 + 20 * MIN):
        drive.read(at, b1_t=36, p1_a=83)
    before = len(drive.effects)
    if gone == "moved":
        drive.work(T0 + 25 * MIN, "b2", "probe in", probe="b1-t")
        drive.work(T0 + 26 * MIN, "p2", "probe in", probe="p1-a")
    else:
        drive.settle(T0 + 25 * MIN, yard(probes={}))
    drive.advance(T0 + 40 * MIN)
    told = "\n".join(e.draft.text for e in drive.effects[before:] if e.draft.kind.value == "notice")
    assert "over since" not in told
    assert "not known to be over: worms in danger" in told
    assert "not known to be over: fire danger" in told
    why = [e.draft.why for e in drive.effects[before:] if e.draft.kind.value == "alarm" and e.draft.axis == "fire"]
    assert why
    assert all("not known to be over" in one for one in why)


def test_no_bin_is_told_to_be_wet_no_more_because_its_moisture_probe_was_taken_away():
    drive = Drive(yard())
    drive.hold(T0, T0 + 5 * HOUR, b1_m=90, b1_t=20, b1_u=20)
    drive.work(T0 + 5 * HOUR + MIN, "b2", "probe in", probe="b1-m")
    assert "not known to be over: too wet" in drive.effects[-1].draft.text + "".join(
        e.draft.why for e in drive.effects if e.draft.axis == "too-wet"
    )


def test_a_probe_that_leaves_others_behind_leaves_their_word():
    drive = Drive(yard())
    for at in (T0, T0 + 10 * MIN):
        drive.read(at, b1_t=36, b1_u=22)
    drive.work(T0 + 11 * MIN, "b2", "probe in", probe="b1-t")
    assert drive.notices("over since")
    assert not drive.notices("not known to be over")


def test_a_silent_probe_holds_its_alarm_under_its_own_number_not_under_anothers():
    drive = bins(b1_t=FINE, b1_u=FINE)
    drive.hold(T0 + 10 * MIN, T0 + HOUR, b1_t=31, b1_u=FINE)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 6 * HOUR, b1_u=FINE)
    words = drive.engine.words("b1/overheating", T0 + 6 * HOUR)
    assert "31 °C since" in words.short
    assert "b1-t is silent" in words.short
    assert not words.known


def test_an_alarm_that_another_covers_ends_with_it_and_does_not_ring_on_the_way():
    drive = bins(b1_t=FINE)
    drive.hold(T0 + 10 * MIN, T0 + HOUR, b1_t=36)
    assert drive.state_of("b1/overheating") == "suppressed"
    drive.read(T0 + HOUR + MIN, b1_t=FINE)
    assert drive.state_of("b1/overheating") == "normal"
    assert drive.rings("overheating") == []


# Answers during a mute, readings out of order ------------------------------------------------------------------------


def test_back_during_a_mute_rings_only_when_the_mute_ends():
    drive = Drive(yard())
    drive.hold(T0, T0 + 5 * HOUR, b1_m=90)
    drive.work(T0 + 5 * HOUR + MIN, "b1", "watered")
    drive.answer(T0 + 5 * HOUR + 2 * MIN, "b1/too-wet", "out of service")
    drive.answer(T0 + 5 * HOUR + 21 * MIN, "b1/too-wet", "back")
    assert drive.state_of("b1/too-wet") == "suppressed"
    assert drive.rings("too-wet") == [T0 + 4 * HOUR]
    drive.hold(T0 + 5 * HOUR + 30 * MIN, T0 + 18 * HOUR, b1_m=90)
    assert drive.rings("too-wet") == [T0 + 4 * HOUR, T0 + 17 * HOUR + MIN]


def test_back_under_a_worse_alarm_stays_muted_until_that_ends():
    drive = bins(b1_t=FINE, b1_u=FINE)
    drive.read(T0 + 10 * MIN, b1_t=HOT, b1_u=FINE)
    drive.advance(T0 + 31 * MIN)
    drive.answer(T0 + 32 * MIN, "b1/overheating", "out of service")
    drive.read(T0 + 40 * MIN, b1_t=36, b1_u=36)
    drive.answer(T0 + 41 * MIN, "b1/overheating", "back")
    assert drive.state_of("b1/overheating") == "suppressed"
    drive.read(T0 + 50 * MIN, b1_t=HOT, b1_u=HOT)
    assert drive.state_of("b1/overheating") == "unacknowledged"


def test_taken_up_again_during_a_mute_tells_nobody_before_the_mute_ends():
    drive = Drive(yard())
    drive.hold(T0, T0 + 5 * HOUR, b1_m=90)
    drive.answer(T0 + 5 * HOUR + MIN, "b1/too-wet", "put off", until=T0 + 3 * DAY)
    drive.work(T0 + 5 * HOUR + 2 * MIN, "b1", "watered")
    told = len(drive.notices("too wet"))
    drive.answer(T0 + 5 * HOUR + 3 * MIN, "b1/too-wet", "taken up again")
    assert drive.state_of("b1/too-wet") == "suppressed"
    drive.advance(T0 + 5 * HOUR + 30 * MIN)
    assert len(drive.notices("too wet")) == told
    drive.hold(T0 + 5 * HOUR + 40 * MIN, T0 + 18 * HOUR, b1_m=90)
    assert drive.rings("too-wet")[-1] == T0 + 17 * HOUR + 2 * MIN


def test_an_alarm_that_was_never_on_is_out_of_service_since_it_was_said():
    drive = Drive(yard())
    drive.answer(T0 + MIN, "b1/too-wet", "out of service")
    assert drive.alarms("too-wet") == []
    drive.hold(T0 + 2 * MIN, T0 + 5 * HOUR, b1_m=90)
    drive.hold(T0 + 5 * HOUR + 10 * MIN, T0 + 6 * HOUR, b1_m=75)
    drive.answer(T0 + 7 * HOUR, "b1/too-wet", "seen")
    drive.answer(T0 + 8 * HOUR, "b1/too-wet", "out of service")
    (shut,) = [e.draft for e in drive.effects if e.draft.after == "out of service"]
    assert shut.since == T0 + 8 * HOUR
    core = drive.engine.core
    core.alarms.record("b2", "freezing")
    drive.answer(T0 + 9 * HOUR, "b2/freezing", "out of service")
    assert [e.draft.since for e in drive.effects if e.draft.after == "out of service"][-1] == T0 + 9 * HOUR
    assert drive.engine.state.alarms["b2/freezing"].since == T0 + 9 * HOUR


def test_a_node_that_sends_what_it_kept_the_newest_first_is_not_broken():
    drive = bins(b2_t=20)
    for n in range(1, 13):
        drive.read(T0 - n * 10 * MIN, received=T0 + n * 10 * MIN, b2_t=20)
    assert drive.rings("broken", "b2") == []
    drive.advance(T0 + 2 * HOUR + 59 * MIN)
    assert drive.rings("broken", "b2") == []


def test_error_codes_out_of_order_are_no_sign_of_life():
    drive = bins(b2_t=20)
    for n in range(1, 13):
        drive.read(T0 - n * 10 * MIN, received=T0 + n * 10 * MIN, b2_t=-127)
    assert drive.rings("broken", "b2") == [T0 + HOUR]
