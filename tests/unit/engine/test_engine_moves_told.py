"""Moves of alarms and what people hear of them, and readings by hand that are taken in, held, let go and taken back."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, bedding, core, yard

from monitor.engine.context.agenda import DESK, Deadline, DueKind
from monitor.engine.hand.hand_doubts import doubts
from monitor.engine.hand.known_beside import beside_words
from monitor.engine.output.alarm_notices import arm_desk, cause_of, mute, serve_desk, shorten_mute, wait_for
from monitor.model.alarm_kinds import BED_MOISTURE, Alarm
from monitor.model.readings import Reading
from monitor.model.settings import Bin, Pile
from monitor.model.units import Quantity
from monitor.model.work import Work, WorkKind
from monitor.piles import ROUND_MS

NOW = T0 + 2 * HOUR
PROBES = {
    "p1-a": core("p1"), "b1-t": bedding("b1"), "b1-u": bedding("b1"), "b1-m": bedding("b1", Quantity.MOISTURE), "air": air(),
}  # fmt: skip


@pytest.fixture
def drive():
    piles = {"p1": Pile(name="Bay 1", built=T0), "p2": Pile(name="Bay 2")}
    made = Drive(yard(piles=piles, bins={"b1": Bin(name="Sunny bin"), "b2": Bin(name="Shed bin")}, probes=PROBES))
    made.hold(T0, NOW, p1_a=60, b1_t=20, b1_u=21, b1_m=75, air=10)
    made.engine.core.at = NOW
    return made


@pytest.fixture
def of(drive):
    return drive.engine.core


def read(drive, at, place, celsius, spot="", entered=None, by="Ann", unit="Cel"):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    row = [at, series, round(celsius * 1_000_000), unit]
    return drive.feed(at if entered is None else entered, "readings", {"rows": [row], "ahead": [], "by": by})


def why(drive, alarm):
    return [e.draft.why for e in drive.effects if e.draft.kind.value == "alarm" and e.draft.axis == alarm][-1]


# Moves -----------------------------------------------------------------------------------------------------------


def test_a_cause_is_what_its_alarm_declares(drive, of):
    drive.hold(NOW + MIN, NOW + 20 * MIN, p1_a=83)
    cause = cause_of(of, "p1/fire", of.state.alarms["p1/fire"])
    assert (cause.key, cause.place, cause.alarm, cause.since) == ("p1/fire", "p1", "fire", NOW + MIN)
    assert cause.through_quiet
    assert not cause.evening
    assert cause.batch == of.batch_at("p1")
    drive.hold(NOW + HOUR, NOW + 2 * HOUR, b1_t=31, b1_u=31)
    bed = cause_of(of, "b1/overheating", of.state.alarms["b1/overheating"])
    assert bed.batch == ""
    assert not bed.at_once


def test_why_an_alarm_moved_is_written_down_in_words(drive):
    drive.hold(NOW + MIN, NOW + HOUR, b1_t=31, b1_u=31)
    assert why(drive, "overheating").startswith("Sunny bin: overheating, 31 °C since ")
    drive.answer(NOW + HOUR + MIN, "b1/overheating", "seen")
    assert why(drive, "overheating").startswith("Seen (seen): Sunny bin: overheating")
    drive.answer(NOW + HOUR + 2 * MIN, "b1/overheating", "put off", until=NOW + 3 * HOUR)
    assert why(drive, "overheating").startswith("Put off until ")
    (put_off,) = [e.draft for e in drive.effects if e.draft.after == "shelved"]
    assert "until" in put_off.values
    assert put_off.values["by"] == "Ann"
    drive.hold(NOW + HOUR + 3 * MIN, NOW + 2 * HOUR, b1_t=31, b1_u=31)
    drive.advance(NOW + 3 * HOUR)
    assert why(drive, "overheating").startswith("Sunny bin: overheating")
    drive.hold(NOW + 3 * HOUR + MIN, NOW + 4 * HOUR, b1_t=20, b1_u=21)
    assert ", over since " in why(drive, "overheating")


def test_a_deadline_stands_for_the_first_of_put_off_and_mute(drive, of):
    drive.hold(NOW + MIN, NOW + HOUR, b1_t=31, b1_u=31)
    record, due = of.state.alarms["b1/overheating"], Deadline("b1", DueKind.ALARM, "b1/overheating")
    assert of.agenda.due(due) is None
    drive.answer(NOW + HOUR + MIN, "b1/overheating", "put off", until=NOW + 3 * HOUR)
    assert of.agenda.due(due) == NOW + 3 * HOUR
    record.muted_until = NOW + 2 * HOUR
    wait_for(of, "b1/overheating")
    assert of.agenda.due(due) == NOW + 2 * HOUR
    record.muted_until = NOW + 9 * HOUR
    wait_for(of, "b1/overheating")
    assert of.agenda.due(due) == NOW + 3 * HOUR


def wet(drive, of):
    drive.hold(NOW + MIN, NOW + DAY, b1_t=20, b1_u=21, b1_m=90, p1_a=60, air=10)
    of.at = NOW + DAY
    assert of.state.alarms["b1/too-wet"].on
    return of.state.alarms["b1/too-wet"]


def test_a_mute_ends_sooner_and_never_later(drive, of):
    record, due = wet(drive, of), Deadline("b1", DueKind.ALARM, "b1/too-wet")
    mute(of, "b1", NOW + 2 * DAY, BED_MOISTURE)
    assert record.muted_until == of.agenda.due(due) == NOW + 2 * DAY
    shorten_mute(of, "b1", Alarm.TOO_WET, NOW + 3 * DAY)
    shorten_mute(of, "b1", Alarm.TOO_DRY, NOW + DAY + HOUR)
    assert record.muted_until == NOW + 2 * DAY
    shorten_mute(of, "b1", Alarm.TOO_WET, NOW + DAY + HOUR)
    assert record.muted_until == of.agenda.due(due) == NOW + DAY + HOUR
    mute(of, "b1", NOW + 4 * DAY, BED_MOISTURE)
    assert of.agenda.due(due) == NOW + 4 * DAY, "muted already, and for longer"


def digest_of(of, at):
    of.at = at
    of.state.desk.lines.clear()
    serve_desk(of)
    return [line.text for line in of.state.desk.lines]


def test_a_digest_names_beds_that_nobody_read_for_too_long(drive, of, monkeypatch):
    read(drive, NOW + MIN, "b2", 20)
    read(drive, NOW + MIN, "b1", 20)
    monkeypatch.setattr(of.desk, "digest_begins", lambda at: True)
    monkeypatch.setattr(of.desk, "serve", lambda at: [])
    gap = of.settings.bins["b2"].thresholds.hand_gap_ms
    assert digest_of(of, NOW + MIN + gap - 1) == []
    (line,) = digest_of(of, NOW + MIN + gap)
    assert line.startswith("Shed bin"), "in the other lies a probe"
    of.bed("b2").state.emptied_at = NOW
    assert digest_of(of, NOW + MIN + gap) == []
    of.bed("b2").state.emptied_at = None
    monkeypatch.setattr(of.desk, "digest_begins", lambda at: False)
    assert digest_of(of, NOW + MIN + gap) == []


def test_the_agenda_follows_the_desk(of, monkeypatch):
    monkeypatch.setattr(of.desk, "due", lambda: NOW + 9)
    arm_desk(of)
    assert of.agenda.due(DESK) == NOW + 9


# Readings by hand ------------------------------------------------------------------------------------------------


def held(of, series="hand:b2"):
    return of.state.hands.get(series)


def test_the_newest_reading_of_a_spot_stands_with_who_read_it_and_for_how_long(drive, of):
    read(drive, NOW + MIN, "b2", 20, entered=NOW + HOUR)
    one, gap = held(of), of.settings.bins["b2"].thresholds.hand_gap_ms
    assert (one.place, one.spot, one.time, one.milli, one.at, one.by) == (
        "b2",
        "",
        NOW + MIN,
        20_000,
        NOW + HOUR,
        "Ann",
    )
    assert (one.on_time, one.held, one.held_until) == (True, True, NOW + MIN + gap)
    assert of.agenda.due(Deadline("b2", DueKind.HAND)) == NOW + MIN + gap
    read(drive, NOW, "b2", 30, entered=NOW + HOUR + MIN)
    assert held(of) is one, "an older one"


def test_a_reading_that_is_taken_back_leaves_the_one_before_and_its_wait(drive, of):
    read(drive, NOW + MIN, "b2", 20)
    read(drive, NOW + 2 * HOUR, "b2", 25)
    gap = of.settings.bins["b2"].thresholds.hand_gap_ms
    drive.feed(NOW + 3 * HOUR, "correction", {"reading": {"time": NOW + 2 * HOUR, "probe": "hand:b2"}, "by": "Ann"})
    one = held(of)
    assert (one.time, one.milli, one.by, one.held_until) == (NOW + MIN, 20_000, "", NOW + MIN + gap)
    assert of.agenda.due(Deadline("b2", DueKind.HAND)) == NOW + MIN + gap
    drive.feed(NOW + 4 * HOUR, "correction", {"reading": {"time": NOW + MIN, "probe": "hand:b2"}, "by": "Ann"})
    assert held(of) is None
    assert of.agenda.due(Deadline("b2", DueKind.HAND)) is None
    assert of.state.withdrawn["hand:b2"] == [NOW + 2 * HOUR, NOW + MIN]


def test_an_older_reading_that_is_taken_back_changes_nothing_of_now(drive, of):
    read(drive, NOW + MIN, "b2", 20)
    read(drive, NOW + 2 * HOUR, "b2", 25)
    newest = held(of)
    drive.feed(NOW + 3 * HOUR, "correction", {"reading": {"time": NOW + MIN, "probe": "hand:b2"}, "by": "Ann"})
    assert held(of) is newest
    assert newest.milli == 25_000
    assert of.state.withdrawn["hand:b2"] == [NOW + MIN]


def test_what_was_read_at_no_place_of_the_yard_or_cannot_be_is_known_nowhere(drive, of):
    read(drive, NOW + MIN, "nowhere", 60)
    drive.feed(
        NOW + 2 * MIN,
        "imported",
        {"rows": [[NOW, "hand:b2", 300_000_000, "Cel"], [NOW, "hand:gone", 20_000_000, "Cel"]]},
    )
    assert of.state.hands == {}


def test_an_alarm_of_a_mistyped_reading_is_over_and_everybody_hears_that(drive, of):
    read(drive, NOW + MIN, "b2", 36)
    assert of.state.alarms["b2/worms-in-danger"].on
    drive.answer(NOW + 2 * MIN, "b2/worms-in-danger", "put off", until=NOW + HOUR)
    drive.feed(NOW + 3 * MIN, "correction", {"reading": {"time": NOW + MIN, "probe": "hand:b2"}, "by": "Ann"})
    record = of.state.alarms["b2/worms-in-danger"]
    assert not record.on
    assert record.values.taken_back
    assert drive.state_of("b2/worms-in-danger") == "normal", "at once, though it was put off"
    assert drive.notices("mistyped")


def test_one_spot_without_a_name_ends_no_alarm_of_its_hour(drive, of):
    read(drive, NOW + MIN, "b2", 36)
    read(drive, NOW + MIN + ROUND_MS, "b2", 20)
    assert of.state.alarms["b2/worms-in-danger"].on, "it may be another spot"
    assert held(of).milli == 36_000
    read(drive, NOW + MIN + ROUND_MS - 1, "b2", 36)
    assert held(of).time == NOW + MIN + ROUND_MS - 1, "the same value stands for longer"
    drive.engine.state.hands["hand:b2"].time = NOW + MIN
    read(drive, NOW + MIN + ROUND_MS + 1, "b2", 20)
    assert not of.state.alarms["b2/worms-in-danger"].on
    read(drive, NOW + DAY, "b2", 36, "east")
    read(drive, NOW + DAY + MIN, "b2", 20, "east")
    assert not of.state.alarms["b2/worms-in-danger"].on, "a spot with a name is itself"


def test_an_imported_reading_is_known_and_counts_for_nothing_now(drive, of):
    rows = [[NOW - DAY, "hand:b2", 36_000_000, "Cel"], [NOW - HOUR, "hand:b2", 20_000_000, "Cel"]]
    drive.feed(NOW + MIN, "imported", {"rows": rows, "by": "Bea"})
    one = held(of)
    assert (one.time, one.held, one.on_time, one.by) == (NOW - HOUR, False, False, "Bea")
    read(drive, NOW + 2 * MIN, "b2", 21)
    drive.feed(NOW + HOUR, "imported", {"rows": [[NOW + 30 * MIN, "hand:b2", 22_000_000, "Cel"]]})
    assert held(of).milli == 21_000, "what counts is not replaced by a file"


# Doubts about them -----------------------------------------------------------------------------------------------


def asked(drive, at, celsius, place="p1", spot="", works=()):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    return " ".join(doubts(drive.engine.core, works, [Reading(at, series, round(celsius * 1_000_000), "Cel")], at))


@pytest.fixture
def bare():
    made = Drive(yard(piles={"p1": Pile(name="Bay 1", built=T0)}, bins={"b1": Bin(name="Sunny bin")}, probes={}))
    read(made, NOW, "p1", 65, "top")
    read(made, NOW, "b1", 28, "top")
    return made


def test_a_fall_of_more_than_25_degrees_is_asked_about_for_as_long_as_the_last_value_counts(bare):
    at = NOW + 2 * HOUR
    assert asked(bare, at, 40, spot="top") == ""
    question = asked(bare, at, 39.9, spot="top")
    assert "39.9 °C is 25.1 °C less than what was read last (65 °C, 21:00). Is the value right?" in question
    last = NOW + 2 * DAY
    assert asked(bare, last, 39, spot="top") != ""
    assert asked(bare, last + 1, 39, spot="top") == ""
    assert asked(bare, NOW, 39, spot="top") == "", "it is that very reading"


def test_what_was_stirred_since_is_reason_enough(bare):
    at, before = NOW + 2 * HOUR, Work(time=NOW - 1, place="p1", kind=WorkKind.TURNED)
    assert asked(bare, at, 39, spot="top", works=[before]) != ""
    for time in (NOW, at):
        assert asked(bare, at, 39, spot="top", works=[Work(time=time, place="p1", kind=WorkKind.TURNED)]) == ""
    assert asked(bare, at, 39, spot="top", works=[Work(time=at + 1, place="p1", kind=WorkKind.TURNED)]) != ""
    assert asked(bare, at, 39, spot="top", works=[Work(time=at, place="p1", kind=WorkKind.INSPECTED)]) != ""
    assert asked(bare, at, 39, spot="top", works=[Work(time=at, place="p2", kind=WorkKind.TURNED)]) != ""


def test_a_slip_of_the_point_or_the_unit_names_what_was_meant(bare):
    at = NOW + 2 * HOUR
    assert asked(bare, at, 6.5, spot="top").endswith("Was 65 °C meant?")
    assert asked(bare, at, 7.5, spot="top").endswith("Was 75 °C meant?"), "ten degrees from the last is near"
    assert asked(bare, at, 7.6, spot="top").endswith("Is the value right?")
    assert asked(bare, at, 6.5, spot="foot").endswith("Was 65 °C meant?"), "beside the last of its place"
    assert asked(bare, at, 40, spot="foot") == ""


# What is said beside them ----------------------------------------------------------------------------------------


def beside(of, place, celsius, at=NOW):
    return beside_words(of, {"rows": [[at, f"hand:{place}", round(celsius * 1_000_000), "Cel"]]})


def test_a_reader_is_told_of_a_probe_that_shows_another_value_and_of_an_empty_place(drive, of):
    assert beside(of, "p1", 65) == []
    assert beside(of, "p1", 66) == ["p1-a shows 60 °C: look at the probe."]
    assert beside(of, "p2", 60) == [], "no heap ever lay there"
    drive.work(NOW + MIN, "p1", "emptied")
    drive.work(NOW + 2 * MIN, "b2", "emptied")
    of.at = NOW + HOUR
    assert any(
        "By the log Bay 1 is empty, so nothing but a fire is told" in one for one in beside(of, "p1", 60, NOW + HOUR)
    )
    assert not any("is empty" in one for one in beside(of, "p1", 60, NOW)), "it lay there then"
    (empty,) = beside(of, "b2", 20, NOW + 2 * MIN)
    assert empty.startswith("By the log Shed bin is empty, so nobody is told")
    assert beside(of, "b2", 20, NOW + 2 * MIN - 1) == []
