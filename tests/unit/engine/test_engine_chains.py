"""Rounds that prove a rule fall due, are missed, and break their chain; nobody learns of it only from the certificate."""

from dataclasses import replace

import pytest
from engine_both_doors import Recorder, same
from engine_yard import ANN, DAY, HOUR, MIN, Drive, bedding, core, yard
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.engine import Engine
from monitor.engine.context.agenda import DueKind
from monitor.model.settings import Bin, Contact, Pile
from monitor.model.times import parse_time
from monitor.model.words import Method
from monitor.notices.roster import Roster

OCT = parse_time("2026-10-01T13:00:00Z")  # 09:00 in New York
KEY = "p1/round-due"


def by_hand(*, rule="us-112-54-turned", gap=26 * HOUR, contacts=None, probes=None, **more):
    pile = Pile(name="Bay 1", rule=rule, method=Method.TURNED, built=OCT - HOUR)
    pile = replace(pile, thresholds=replace(pile.thresholds, hand_gap_ms=gap))
    return yard(piles={"p1": pile}, bins={}, probes=probes or {}, contacts=contacts, **more)


def started(*, drive=Drive, **more):
    return drive(by_hand(**more), at=OCT - 2 * HOUR)


def read(drive, at, fahrenheit=145, *, spot="", entered=None, place="p1"):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    row = [at, series, round(fahrenheit * 1_000_000), "[degF]"]
    return drive.feed(at if entered is None else entered, "readings", {"rows": [row], "ahead": [], "by": "Ann"})


def take_back(drive, at, time, series="hand:p1"):
    return drive.feed(at, "correction", {"reading": {"probe": series, "time": time}, "by": "Ann"})


def rings(drive, place="p1"):
    return [at - OCT for at in drive.rings("round-due", place)]


def chain(drive, place="p1"):
    return drive.engine.state.chains.get(place)


def texts(drive):
    return [e.draft.text for e in drive.notices() if e.draft.axis != "digest" and "round" in e.draft.text.split(".")[0]]


def test_a_month_of_daily_rounds_misses_none():
    drive = started()
    for day in range(20):
        read(drive, OCT + day * DAY, 120 if day == 0 else 145)
        if day + 1 in (4, 7, 10, 13, 16):
            drive.work(OCT + day * DAY + HOUR, "p1", "turned")
    drive.advance(OCT + 40 * DAY)
    assert drive.run().rule.value == "met"
    assert rings(drive) == []
    assert chain(drive) is None, "nothing is left to prove"
    assert not any(due.kind is DueKind.ROUND for due in drive.engine.state.agenda)


def test_a_day_left_out_is_told_an_hour_before_the_chain_breaks_and_when_it_does():
    drive = started()
    for day in range(9):
        read(drive, OCT + day * DAY)
    last = OCT + 8 * DAY
    assert (chain(drive).last, chain(drive).due) == (last, last + 24 * HOUR)
    drive.advance(last + 25 * HOUR - 1)
    assert rings(drive) == []
    drive.advance(last + 26 * HOUR)
    assert rings(drive) == [8 * DAY + 25 * HOUR, 8 * DAY + 26 * HOUR]
    missed, broken = texts(drive)
    assert missed.startswith(
        "Bay 1: not read by hand since yesterday 09:00; a round was due by 09:00. Read it by hand before 11:00"
    )
    assert broken.startswith("Bay 1: its rounds broke off, the last yesterday 09:00")
    assert "days" not in broken, "its days need not follow one another"
    record = drive.engine.state.alarms[KEY]
    assert (record.since, record.stage) == (last, 1)
    read(drive, last + 30 * HOUR)
    assert drive.state_of(KEY) == "returned unacknowledged"
    assert len(texts(drive)) == 2, "that it is over is a line of the digest"
    assert drive.run().rule.value == "running"


def test_what_a_broken_chain_costs_is_said():
    drive = started(rule="us-503-pfrp-windrow")
    for day in range(9):
        read(drive, OCT + day * DAY)
    drive.advance(OCT + 8 * DAY + 26 * HOUR)
    assert "days so far are lost: days must follow one another" in texts(drive)[1]
    read(drive, OCT + 10 * DAY)
    read(drive, OCT + 11 * DAY)
    words = drive.engine.words(KEY, OCT + 11 * DAY + HOUR)
    assert words is None


@pytest.mark.parametrize("late", [0, 20 * MIN, 11 * HOUR])
def test_a_round_ends_it_by_its_own_time_whenever_it_is_written_down(late):
    drive = started()
    read(drive, OCT)
    read(drive, OCT + 25 * HOUR + 30 * MIN, entered=OCT + 25 * HOUR + 30 * MIN + late)
    drive.advance(OCT + 2 * DAY)
    assert rings(drive)[0] == 25 * HOUR
    assert drive.state_of(KEY) == "returned unacknowledged"
    assert chain(drive).last == OCT + 25 * HOUR + 30 * MIN


def test_no_round_is_due_before_the_hold_and_none_after_the_batch():
    drive = started()
    for day in range(3):
        read(drive, OCT + day * DAY, 100)
    drive.advance(OCT + 4 * DAY)
    assert (chain(drive), rings(drive)) == (None, [])
    read(drive, OCT + 4 * DAY, 145)
    assert chain(drive) is not None
    drive.work(OCT + 4 * DAY + HOUR, "p1", "emptied")
    drive.advance(OCT + 8 * DAY)
    assert (chain(drive), rings(drive)) == (None, [])


def test_a_heap_without_a_rule_has_no_chain():
    drive = started(rule="none")
    for day in range(3):
        read(drive, OCT + day * DAY)
    drive.advance(OCT + 8 * DAY)
    assert (chain(drive), rings(drive)) == (None, [])


def test_emptied_while_it_rings_ends_it():
    drive = started()
    read(drive, OCT)
    drive.work(OCT + 25 * HOUR + MIN, "p1", "emptied")
    assert drive.state_of(KEY) == "returned unacknowledged"


def test_moved_the_chain_goes_with_the_heap():
    there = Pile(name="Bay 2", rule="none")
    settings = by_hand()
    drive = Drive(replace(settings, piles={**settings.piles, "p2": there}), at=OCT - 2 * HOUR)
    read(drive, OCT)
    drive.work(OCT + HOUR, "p1", "moved", to="p2")
    assert (chain(drive), chain(drive, "p2").last) == (None, OCT)
    drive.advance(OCT + 2 * DAY)
    assert rings(drive, "p1") == []
    assert rings(drive, "p2") == [25 * HOUR, 26 * HOUR]


def test_a_probe_that_is_put_in_proves_from_there_on():
    drive = started(probes={"p1-a": core("")})
    read(drive, OCT)
    assert chain(drive) is not None
    drive.work(OCT + HOUR, "p1", "probe in", probe="p1-a")
    assert chain(drive) is None
    drive.advance(OCT + 2 * DAY)
    assert rings(drive) == []


def test_a_probe_that_died_hands_over_to_rounds_and_they_fall_due():
    drive = started(probes={"p1-a": core("p1")})
    drive.hold(OCT - HOUR, OCT + 10 * HOUR, p1_a=60)
    assert chain(drive) is None
    at = OCT + 20 * HOUR
    read(drive, at)
    assert chain(drive).last == at
    drive.advance(at + 30 * HOUR)
    assert rings(drive) == [at - OCT + 25 * HOUR, at - OCT + 26 * HOUR]
    drive.read(at + 31 * HOUR, p1_a=60)
    assert chain(drive) is None
    assert drive.state_of(KEY) == "returned unacknowledged"


def test_rounds_beside_a_probe_that_speaks_are_missed_by_nobody():
    drive = started(probes={"p1-a": core("p1")})
    drive.hold(OCT - HOUR, OCT + HOUR, p1_a=60)
    read(drive, OCT + HOUR)
    drive.hold(OCT + HOUR + 10 * MIN, OCT + 3 * DAY, step=HOUR, p1_a=60)
    assert (chain(drive), rings(drive)) == (None, [])


def test_a_turning_changes_nothing():
    drive = started()
    read(drive, OCT)
    drive.work(OCT + 2 * HOUR, "p1", "turned")
    drive.advance(OCT + 27 * HOUR)
    assert rings(drive) == [25 * HOUR, 26 * HOUR]


def test_it_scales_with_hand_gap():
    drive = started(gap=10 * HOUR)
    read(drive, OCT)
    assert chain(drive).due == OCT + 8 * HOUR
    drive.advance(OCT + 11 * HOUR)
    assert rings(drive) == [9 * HOUR, 10 * HOUR]
    # What the settings bridge beyond the rule's own 26 h keeps no chain whole.
    long = started(gap=31 * DAY)
    read(long, OCT)
    assert chain(long).breaks == OCT + 26 * HOUR
    short = started(gap=2 * HOUR)
    read(short, OCT)
    assert (chain(short).due, chain(short).rings) == (OCT + HOUR, OCT + HOUR + 30 * MIN)


def test_a_setting_that_changes_moves_what_is_due():
    drive = started()
    read(drive, OCT)
    drive.settle(OCT + HOUR, by_hand(gap=20 * HOUR))
    assert chain(drive).breaks == OCT + 20 * HOUR
    drive.settle(OCT + 2 * HOUR, replace(by_hand(), piles={"p2": Pile(name="Bay 2")}))
    drive.advance(OCT + 3 * DAY)
    assert (chain(drive), rings(drive)) == (None, [])


def test_quiet_hours_that_change_move_when_it_is_told():
    drive = started()
    read(drive, OCT + 15 * HOUR)  # midnight
    assert chain(drive).rings == OCT + 40 * HOUR
    drive.settle(OCT + 16 * HOUR, by_hand(contacts={"ann": ann(22 * 60, 7 * 60)}))
    assert chain(drive).rings == parse_time("2026-10-03T01:00:00Z")
    drive.advance(parse_time("2026-10-03T01:30:00Z"))
    assert drive.state_of(KEY) == "unacknowledged"
    drive.settle(parse_time("2026-10-03T01:31:00Z"), by_hand())
    assert drive.state_of(KEY) == "returned unacknowledged"
    drive.advance(OCT + 41 * HOUR)
    assert drive.state_of(KEY) == "unacknowledged"


def test_one_taken_back_arms_the_chain_of_the_round_before():
    drive = started()
    read(drive, OCT)
    read(drive, OCT + DAY)
    take_back(drive, OCT + DAY + 30 * MIN, OCT + DAY)
    assert chain(drive).last == OCT
    drive.advance(OCT + 27 * HOUR)
    assert rings(drive) == [25 * HOUR, 26 * HOUR]


def test_one_taken_back_after_the_chain_was_broken_tells_so_at_once():
    drive = started()
    read(drive, OCT)
    read(drive, OCT + DAY)
    take_back(drive, OCT + 40 * HOUR, OCT + DAY)
    drive.advance(OCT + 41 * HOUR)
    assert rings(drive) == [40 * HOUR + 1]
    assert drive.engine.state.alarms[KEY].stage == 1


def test_the_only_round_taken_back_leaves_no_chain():
    drive = started()
    read(drive, OCT)
    drive.advance(OCT + 25 * HOUR)
    take_back(drive, OCT + 25 * HOUR + MIN, OCT)
    assert chain(drive) is None
    assert not drive.engine.state.alarms[KEY].on


def test_what_is_typed_in_from_paper_long_after_rings_for_nobody():
    drive = started()
    for day in range(4):
        read(drive, OCT + day * DAY, entered=OCT + 8 * DAY + day * MIN)
    drive.advance(OCT + 12 * DAY)
    assert rings(drive) == []
    assert chain(drive).breaks == OCT + 3 * DAY + 26 * HOUR, "but status says that it is broken"


def test_a_late_round_that_mends_a_chain_told_as_broken_is_told_anew_only_where_the_next_is_missed():
    drive = started()
    read(drive, OCT)
    drive.advance(OCT + 27 * HOUR)
    read(drive, OCT + 26 * HOUR, entered=OCT + 51 * HOUR + 30 * MIN)
    drive.advance(OCT + 53 * HOUR)
    assert rings(drive) == [25 * HOUR, 26 * HOUR, 51 * HOUR + 30 * MIN + 1, 52 * HOUR]


def test_an_import_rings_for_nobody_but_its_chain_is_watched():
    drive = started()
    rows = [[OCT + day * DAY, "hand:p1", 145_000_000, "[degF]"] for day in range(3)]
    drive.feed(OCT + 2 * DAY + HOUR, "imported", {"rows": rows, "work": []})
    assert rings(drive) == []
    assert chain(drive).last == OCT + 2 * DAY
    drive.advance(OCT + 4 * DAY)
    assert rings(drive) == [2 * DAY + 25 * HOUR, 2 * DAY + 26 * HOUR]
    old = started()
    old.feed(OCT + 9 * DAY, "imported", {"rows": rows, "work": []})
    old.advance(OCT + 12 * DAY)
    assert rings(old) == []


def test_a_fire_says_it_all():
    drive = started()
    read(drive, OCT, 145, spot="west")
    read(drive, OCT + 30 * MIN, 185, spot="east")
    drive.advance(OCT + 27 * HOUR)
    assert drive.state_of(KEY) == "suppressed"
    assert texts(drive) == [], "nobody is sent to a heap that may burn"


def test_what_fell_due_while_nobody_was_at_work_is_told_once():
    drive = started()
    read(drive, OCT)
    down = OCT + 20 * HOUR
    drive.feed(OCT + 40 * HOUR, "started", {"down_since": down})
    assert rings(drive) == [40 * HOUR]
    assert drive.engine.state.alarms[KEY].stage == 1


# Quiet hours -------------------------------------------------------------------------------------------------


def ann(start, end, **more):
    return replace(ANN, quiet_start_minute=start, quiet_end_minute=end, **more)


@pytest.mark.parametrize(
    ("read_at", "rings_at"),
    [
        ("2026-10-02T00:59:59Z", "2026-10-03T01:59:59Z"),  # 20:59:59; 25 hours later, 21:59:59: people are still up
        ("2026-10-02T01:00:00Z", "2026-10-03T01:30:00Z"),  # 21:00, as every evening: half an hour after it is due
        ("2026-10-02T01:30:00Z", "2026-10-03T01:55:00Z"),  # 21:30: while she is still up
        ("2026-10-02T01:58:00Z", "2026-10-03T01:58:00Z"),  # 21:58: not before it is due
        ("2026-10-02T09:59:59Z", "2026-10-03T01:00:00Z"),  # 06:59:59: the evening before
        ("2026-10-02T10:00:00Z", "2026-10-03T11:00:00Z"),  # 07:00:00: they are up again
    ],
)
def test_what_falls_into_quiet_hours_is_told_in_the_last_waking_hour(read_at, rings_at):
    drive = started(contacts={"ann": ann(22 * 60, 7 * 60)})
    read(drive, OCT)
    at = parse_time(read_at)
    read(drive, at)
    drive.advance(at + 25 * HOUR + MIN)
    assert drive.rings("round-due") == [parse_time(rings_at)]
    assert len(texts(drive)) == 1, "and it went out"


def test_who_reads_every_evening_some_minutes_sooner_or_later_is_called_for_no_round():
    drive = started(contacts={"ann": ann(22 * 60, 7 * 60)})
    for day, late in enumerate((0, 7, -3, 9, 2, 10, -8)):
        at = parse_time("2026-10-02T01:42:00Z") + day * DAY + late * MIN  # about 21:42
        drive.advance(at - 1)
        read(drive, at)
    assert (rings(drive), texts(drive)) == ([], [])


def test_early_words_say_when_it_falls_due():
    drive = started(contacts={"ann": ann(22 * 60, 7 * 60)})
    read(drive, OCT)
    read(drive, parse_time("2026-10-02T05:00:00Z"))  # 01:00
    drive.advance(parse_time("2026-10-03T01:00:00Z"))
    assert texts(drive)[0].startswith(
        "Bay 1: its next round by hand is due by tomorrow 01:00, last read 01:00. Read it"
    )
    assert "before tomorrow 03:00" in texts(drive)[0]


def test_it_never_rings_before_the_last_round():
    drive = started(gap=8 * HOUR, contacts={"ann": ann(22 * 60, 7 * 60)})
    at = parse_time("2026-10-02T01:30:00Z")  # 21:30; the chain breaks at 05:30, the last waking hour began at 21:00
    read(drive, at)
    assert chain(drive).rings == at


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        # The night in which clocks go back (25 h): quiet from 22:00 EDT to 07:00 EST.
        ("2026-11-01T01:59:59Z", "2026-11-01T01:59:59Z"),
        ("2026-11-01T02:00:00Z", "2026-11-01T01:00:00Z"),
        ("2026-11-01T06:30:00Z", "2026-11-01T01:00:00Z"),
        ("2026-11-01T11:59:59Z", "2026-11-01T01:00:00Z"),
        ("2026-11-01T12:00:00Z", "2026-11-01T12:00:00Z"),
        # The night in which they go forward (23 h): quiet from 22:00 EST to 07:00 EDT.
        ("2027-03-14T02:59:59Z", "2027-03-14T02:59:59Z"),
        ("2027-03-14T03:00:00Z", "2027-03-14T02:00:00Z"),
        ("2027-03-14T10:59:59Z", "2027-03-14T02:00:00Z"),
        ("2027-03-14T11:00:00Z", "2027-03-14T11:00:00Z"),
    ],
)
def test_the_last_waking_hour_where_clocks_change(at, expected):
    settings = by_hand(contacts={"ann": Contact(name="Ann", quiet_start_minute=22 * 60, quiet_end_minute=7 * 60)})
    assert Roster(settings).last_waking("p1", parse_time(at)) == parse_time(expected)


def test_one_who_is_up_is_told_then_and_the_last_to_go_to_bed_else():
    early, late = ann(20 * 60, 5 * 60), ann(23 * 60, 7 * 60)
    both = Roster(by_hand(contacts={"ann": early, "ben": late}))
    assert both.last_waking("p1", parse_time("2026-10-03T02:00:00Z")) == parse_time("2026-10-03T02:00:00Z")
    assert both.last_waking("p1", parse_time("2026-10-03T06:00:00Z")) == parse_time("2026-10-03T02:00:00Z")
    assert Roster(by_hand(contacts={})).last_waking("p1", OCT) == OCT, "the page never rests"


# Bins --------------------------------------------------------------------------------------------------------


def bins_alone(**probes):
    return yard(piles={}, bins={"b1": Bin(name="Wall bin"), "b2": Bin(name="Shed bin")}, probes=probes)


def unread(drive):
    lines = (e.draft.text.splitlines() for e in drive.notices() if e.draft.reason == "daily")
    return [line.partition(" ")[2] for digest in lines for line in digest if "nobody has read it" in line]


@pytest.mark.parametrize(("month", "days"), [("2026-07", 3), ("2026-11", 7)])
def test_a_bin_that_nobody_reads_is_a_line_of_each_digest_and_no_alarm(month, days):
    at = parse_time(f"{month}-06T14:00:00Z")
    drive = Drive(bins_alone(), at=at - HOUR)
    read(drive, at, 70, place="b1")
    drive.advance(at + days * DAY)
    assert unread(drive) == []
    drive.advance(at + (days + 2) * DAY)
    assert len(unread(drive)) == 2, "once in each while it lasts"
    assert "nobody has read it since" in unread(drive)[0]
    assert drive.alarms() == []
    read(drive, drive.engine.last + 1, 70, place="b1")
    drive.advance(drive.engine.last + 2 * DAY)
    assert len(unread(drive)) == 2


def test_a_bin_that_is_empty_or_watched_by_a_probe_need_not_be_read():
    at = parse_time("2026-07-06T14:00:00Z")
    drive = Drive(bins_alone(**{"b2-t": bedding("b2")}), at=at - HOUR)
    for place in ("b1", "b2"):
        read(drive, at, 70, place=place)
    drive.work(at + HOUR, "b1", "emptied")
    drive.hold(at, at + 10 * DAY, step=HOUR, b2_t=20)
    assert unread(drive) == []
    drive.work(drive.engine.last + 1, "b2", "probe out", probe="b2-t")
    drive.advance(drive.engine.last + 2 * DAY)
    assert len(unread(drive)) == 2


# Both doors, and restarts --------------------------------------------------------------------------------------


def test_both_doors_with_rounds_beside_a_bin_of_probes():
    drive = started(drive=Recorder, probes={"b1-t": bedding("b1")})
    drive.settle(OCT - 2 * HOUR + MIN, replace(by_hand(probes={"b1-t": bedding("b1")}), bins={"b1": Bin(name="Bin")}))
    for hour in range(24 * 9):
        at = OCT + hour * HOUR
        drive.read(at + 5 * MIN, b1_t=20 + hour % 5)
        if hour % 24 == 0 and hour // 24 not in (3, 6):
            read(drive, at)
    assert len(rings(drive)) == 4
    same(drive, OCT + 12 * DAY)


rounds_of_a_week = st.lists(
    st.tuples(
        st.sampled_from(["read", "read", "read", "cold", "turned", "undo", "probe in", "probe out", "late", "wait"]),
        st.integers(1, 60 * 31).map(lambda minutes: minutes * MIN),
    ),
    min_size=3,
    max_size=14,
)


@settings(max_examples=60, deadline=None)
@given(rounds_of_a_week, st.booleans())
def test_whatever_is_read_the_chain_is_that_of_the_last_round_and_both_doors_agree(steps, quiet):
    contacts = {"ann": ann(22 * 60, 7 * 60)} if quiet else None
    drive = Recorder(by_hand(probes={"p1-a": core("p1")}, contacts=contacts), at=OCT - 2 * HOUR)
    drive.work(OCT - 30 * MIN, "p1", "probe out", probe="p1-a")
    at, reads = OCT, []
    for what, gap in steps:
        at += gap
        if what in ("read", "cold", "late"):
            time = at - (9 * HOUR if what == "late" else 0)
            read(drive, time, 100 if what == "cold" else 145, entered=at)
            reads.append(time)
        elif what == "undo" and reads:
            take_back(drive, at, reads.pop())
        elif what == "wait":
            drive.advance(at)
        elif what != "undo":
            drive.work(at, "p1", what, **({} if what == "turned" else {"probe": "p1-a"}))
        found = chain(drive)
        if found is not None:
            assert drive.run().rule.value == "running"
            assert found.last in reads
            assert found.last <= found.rings <= found.breaks - HOUR
            # Beyond the end of the chain nothing stays waiting, and what rings is on.
            record = drive.engine.state.alarms.get(KEY)
            on = record is not None and record.on
            assert not on or drive.engine.last >= found.rings
        again = Engine.restore(drive.engine.snapshot())
        assert again.snapshot() == drive.engine.snapshot()
    same(drive, at + 5 * DAY)
