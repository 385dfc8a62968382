"""The words in which an alarm is over, or stands, by what is known of it now: a number only where one is measured there."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, bedding, core, yard

from monitor.model.thresholds import ProbeThresholds
from monitor.model.units import Quantity

CALM = ProbeThresholds(spike_step_milli_k=200_000)


def drive_of(**probes):
    return Drive(yard(probes={name.replace("_", "-"): probe for name, probe in probes.items()}, probe_thresholds=CALM))


def by_hand(drive, at, place, celsius, entered=None):
    row = [at, f"hand:{place}", celsius * 1_000_000, "Cel"]
    drive.feed(entered or at, "readings", {"rows": [row], "ahead": [], "by": "Ann"})


def ended(drive, alarm):
    """Why the alarm's last move was recorded."""
    return [e.draft.why for e in drive.effects if e.draft.kind.value == "alarm" and e.draft.axis == alarm][-1]


def words(drive, key, later=0):
    return drive.engine.words(key, drive.engine.last + later).short


def hot_heap():
    drive = drive_of(p1_a=core("p1"), p1_b=core("p1"))
    drive.hold(T0, T0 + HOUR, p1_a=78, p1_b=60)
    return drive


def test_an_alarm_that_its_own_number_ended_says_that_number():
    drive = hot_heap()
    drive.read(T0 + HOUR + MIN, p1_a=70, p1_b=60)
    assert ended(drive, "too-hot") == "Bay 1: too hot, over since 20:01 (it began 19:00), now 70 °C."


def test_one_that_ended_for_another_reason_says_none():
    drive = hot_heap()
    drive.work(T0 + HOUR + MIN, "p1", "emptied")
    assert ended(drive, "too-hot") == "Bay 1: too hot, over since 20:01 (it began 19:00)."


def test_a_probe_that_was_carried_away_measures_nothing_there_any_more():
    drive = drive_of(b1_t=bedding("b1"), b1_u=bedding("b1"))
    drive.hold(T0, T0 + HOUR, b1_t=36, b1_u=20)
    drive.work(T0 + HOUR + MIN, "b2", "probe in", probe="b1-t")
    assert ended(drive, "worms-in-danger") == "Sunny bin: worms in danger, over since 20:01 (it began 19:00)."
    alone = drive_of(b1_t=bedding("b1"))
    alone.hold(T0, T0 + HOUR, b1_t=36)
    alone.work(T0 + HOUR + MIN, "b2", "probe in", probe="b1-t")
    assert ended(alone, "overheating") == (
        "Sunny bin: not known to be over: overheating since 19:00, last 36 °C; b1-t was taken away."
    )


def test_a_moisture_is_told_in_percent_and_has_no_trend():
    drive = drive_of(b1_m=bedding("b1", Quantity.MOISTURE))
    for step in range(31):
        drive.read(T0 + step * 10 * MIN, b1_m=86 + step / 10)
    assert words(drive, "b1/too-wet") == "Sunny bin: too wet, 89 %, aim 70–80 %, since yesterday 19:00 (b1-m)"
    drive.read(T0 + 5 * HOUR + MIN, b1_m=75)
    assert ended(drive, "too-wet") == "Sunny bin: too wet, over since 00:01 (it began 1 Nov 19:00), now 75 %."


@pytest.mark.parametrize(("step", "trend"), [(1 / 3, "rising"), (0, "steady")])
def test_a_temperature_says_where_it_is_heading(step, trend):
    drive = drive_of(b1_t=bedding("b1"))
    for number in range(24):
        drive.read(T0 + number * 10 * MIN, b1_t=30 + number * step / 2 if step else 30)
    said = words(drive, "b1/overheating")
    assert said.endswith(f", {trend} (b1-t)")


def test_a_reading_by_hand_that_ended_it_is_its_number():
    drive = drive_of()
    by_hand(drive, T0, "b1", 36)
    by_hand(drive, T0 + 3 * HOUR, "b1", 20)
    assert ended(drive, "worms-in-danger") == (
        "Sunny bin: worms in danger, over since 22:00 (it began 19:00), now 20 °C."
    )
    by_hand(drive, T0 + 4 * HOUR, "b1", 36)
    taken = [{"probe": "hand:b1", "time": T0 + 4 * HOUR}]
    drive.feed(T0 + 5 * HOUR, "correction", {"readings": taken, "by": "Ann"})
    assert "mistyped" in ended(drive, "overheating")
    assert "°C" not in ended(drive, "overheating")


def test_of_two_probes_the_one_that_still_speaks_is_named():
    drive = drive_of(b1_t=bedding("b1"), b1_u=bedding("b1"))
    drive.hold(T0, T0 + HOUR, b1_t=31, b1_u=31.5)
    assert "32 °C since 19:00, steady (b1-u)" in words(drive, "b1/overheating")
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 3 * HOUR, b1_t=30)
    assert "30 °C since 19:00, falling (b1-t)" in words(drive, "b1/overheating")
    drive.work(T0 + 3 * HOUR + 2 * MIN, "b1", "probe out", probe="b1-t")
    assert "as last heard 22:00: its probes are silent" in words(drive, "b1/overheating")


def test_probes_that_all_lie_outside_are_not_called_silent():
    drive = drive_of(b1_t=bedding("b1"))
    drive.hold(T0, T0 + HOUR, b1_t=31)
    drive.work(T0 + HOUR + MIN, "b1", "probe out", probe="b1-t")
    said = words(drive, "b1/overheating", HOUR)
    assert "silent" not in said
    assert "outside" in said or "out" in said


def test_a_heap_that_went_cold_is_told_days_later_by_its_present_number_and_progress():
    drive = drive_of(p1_a=core("p1"), air=air())
    drive.hold(T0, T0 + 2 * DAY, HOUR, p1_a=60, air=8)
    drive.hold(T0 + 2 * DAY + HOUR, T0 + 4 * DAY, HOUR, p1_a=50, air=8)
    assert "hottest 50 °C (needs 55 °C)" in words(drive, "p1/turning-due")
    drive.hold(T0 + 4 * DAY + HOUR, T0 + 5 * DAY, HOUR, p1_a=47, air=8)
    said = words(drive, "p1/turning-due")
    assert "hottest 47 °C (needs 55 °C)" in said
    assert "2 of 15 days, 0 of 5 turnings" in said


def test_where_some_probes_lie_outside_a_heap_is_judged_by_the_rest_alone():
    drive = drive_of(p1_a=core("p1"), p1_b=core("p1"))
    drive.hold(T0, T0 + HOUR, p1_a=60, p1_b=60)
    assert drive.engine.alone("p1") == ""
    drive.work(T0 + HOUR + MIN, "p1", "probe out", probe="p1-b")
    assert "p1-a" in drive.engine.alone("p1")
    drive.work(T0 + HOUR + 2 * MIN, "p1", "probe out", probe="p1-a")
    assert drive.engine.alone("p1") == "", "nobody judges it"


def test_a_turned_heap_is_told_to_be_read_again_only_until_it_was_read():
    drive = drive_of()
    by_hand(drive, T0 + HOUR, "p1", 78)
    drive.work(T0 + HOUR, "p1", "turned", entered=T0 + HOUR + MIN)
    assert "turned" not in words(drive, "p1/too-hot"), "turned before it was read, or at the same time"
    drive.work(T0 + 2 * HOUR, "p1", "turned")
    assert "turned at 21:00 and not read since" in words(drive, "p1/too-hot")
    by_hand(drive, T0 + 3 * HOUR, "p1", 79)
    assert "turned" not in words(drive, "p1/too-hot")
    drive.work(T0 + 4 * HOUR, "p2", "built")
    drive.work(T0 + 5 * HOUR, "p2", "turned")
    assert "turned" not in words(drive, "p1/too-hot"), "another heap was"


def test_a_probe_speaks_for_a_heap_when_what_was_read_by_hand_is_held_no_longer():
    drive = drive_of(p1_a=core("p1"))
    drive.hold(T0, T0 + HOUR, p1_a=77.5)
    by_hand(drive, T0 + HOUR + MIN, "p1", 80)
    assert "80 °C since 19:00 (by hand)" in words(drive, "p1/too-hot")
    gap = drive.settings.piles["p1"].thresholds.hand_gap_ms
    drive.hold(T0 + HOUR + 10 * MIN, T0 + HOUR + gap + 10 * MIN, p1_a=77.5)
    said = words(drive, "p1/too-hot")
    assert "77.5 °C" in said
    assert said.endswith("(p1-a)")
