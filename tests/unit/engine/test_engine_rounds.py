"""A heap read by hand alone has phases, alarms and its rule; what rounds prove is one truth, in whatever order they came."""

import random
from dataclasses import replace

import pytest
from engine_both_doors import Recorder, same
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.engine.context.batch_runs import progress_now
from monitor.model.settings import Pile
from monitor.model.times import parse_time, show_time
from monitor.model.words import Method, Phase
from monitor.piles import rounds

OCT = parse_time("2026-10-01T13:00:00Z")
MET = parse_time("2026-10-16T23:33:35Z")


def by_hand_alone(**more):
    piles = {"p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=OCT - HOUR, **more)}
    return yard(piles=piles, bins={}, probes={})


def read(drive, at, fahrenheit, *, spot="", entered=None, place="p1"):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    row = [at, series, round(fahrenheit * 1_000_000), "[degF]"]
    return drive.feed(at if entered is None else entered, "readings", {"rows": [row], "ahead": [], "by": "Ann"})


def month(drive, *, late=0):
    """The check value of the contract: rounds daily, 120 °F first, then 145 °F; turned on five days an hour later."""
    for day in range(20):
        at = OCT + day * DAY
        read(drive, at, 120 if day == 0 else 145, entered=at + late)
        if day + 1 in (4, 7, 10, 13, 16):
            drive.work(at + HOUR, "p1", "turned", entered=at + HOUR + late)


@pytest.mark.parametrize("late", [0, 10 * MIN, 11 * HOUR])
def test_the_check_value(late):
    drive = Drive(by_hand_alone(), at=OCT - 2 * HOUR)
    month(drive, late=late)
    progress = drive.run().walk.progress
    assert progress.state.value == "met"
    assert (progress.values["days"], progress.values["turnings"]) == (15, 5)
    assert show_time(progress.since // 1000 * 1000) == show_time(MET)
    met = [e for e in drive.effects if e.draft.kind.value == "rule" and e.draft.after == "met"]
    assert [e.draft.since // 1000 * 1000 for e in met] == [MET]
    assert met[0].at == OCT + 16 * DAY + late
    assert [e.draft.text for e in drive.notices("its rule")], "and people are told"
    assert [one[1] for one in drive.phases()] == ["heating", "holding"]
    assert drive.phases()[1][3] == "held"


def test_the_phase_names_what_was_read_by_hand():
    drive = Drive(by_hand_alone(), at=OCT - 2 * HOUR)
    month(drive)
    holding = next(e for e in drive.effects if e.draft.kind.value == "phase" and e.draft.after == "holding")
    assert holding.draft.probe == "hand:p1"
    assert "spot" in holding.draft.why


def test_a_gap_longer_than_hand_gap_is_unproven():
    drive = Drive(by_hand_alone(), at=OCT - 2 * HOUR)
    for day in range(20):
        if day != 9:
            read(drive, OCT + day * DAY, 120 if day == 0 else 145)
    progress = drive.run().walk.progress
    assert progress.state.value == "running"


def test_the_hand_gap_is_a_setting():
    days, phases = {}, {}
    for gap, every in ((23 * HOUR, 1), (26 * HOUR, 1), (26 * HOUR, 2), (50 * HOUR, 2)):
        settings = by_hand_alone()
        pile = settings.piles["p1"]
        settings = replace(settings, piles={"p1": replace(pile, thresholds=replace(pile.thresholds, hand_gap_ms=gap))})
        drive = Drive(settings, at=OCT - 2 * HOUR)
        for day in range(0, 20, every):
            read(drive, OCT + day * DAY, 145)
        days[gap, every] = progress_now(drive.run()).values["days"]
        phases[gap, every] = drive.run().walk.phase
    assert days[23 * HOUR, 1] == 0
    assert days[26 * HOUR, 1] >= 15
    # A longer one serves phases and alarms, and never the rule.
    assert days[26 * HOUR, 2] == days[50 * HOUR, 2] == 0
    assert (phases[26 * HOUR, 2], phases[50 * HOUR, 2]) == (Phase.HEATING, Phase.HOLDING)


def test_a_round_is_judged_at_its_coldest_and_for_the_upper_limit_at_its_hottest():
    points = rounds(
        [
            (OCT, "hand:p1:a", 60_000),
            (OCT + 10 * MIN, "hand:p1:b", 50_000),
            (OCT + 59 * MIN, "hand:p1:a", 62_000),
            (OCT + 61 * MIN, "hand:p1:b", 1),
        ]
    )
    assert [(p.time - OCT, p.low, p.high, p.spots) for p in points] == [
        (59 * MIN, 50_000, 62_000, 2), (61 * MIN, 1, 1, 1),
    ]  # fmt: skip


def test_rounds_do_not_depend_on_the_order_in_which_they_came():
    found = set()
    readings = [
        (OCT + day * DAY + n * 9 * MIN, 120 if day == 0 else 140 + 3 * n + day % 3, spot)
        for day in range(18)
        for n, spot in enumerate(("west", "middle", "east"))
    ]
    chance = random.Random(11)
    for shuffle in range(4):
        drive = Drive(by_hand_alone(), at=OCT - 2 * HOUR)
        order = list(readings)
        if shuffle:
            chance.shuffle(order)
        end = OCT + 20 * DAY
        for number, (at, value, spot) in enumerate(order):
            read(drive, at, value, spot=spot, entered=end + number * 1000 if shuffle else at)
        for day in (3, 6, 9, 12, 15):
            drive.work(OCT + day * DAY + 2 * HOUR, "p1", "turned", entered=end + HOUR + day)
        walk = drive.run().walk
        found.add((walk.phase, walk.progress.state, walk.progress.since, repr(walk.progress.values), walk.now))
    assert len(found) == 1


def test_a_further_spot_that_is_colder_is_a_rebuild():
    drive = Drive(by_hand_alone(), at=OCT - 2 * HOUR)
    for day in range(4):
        read(drive, OCT + day * DAY, 145, spot="west")
    assert drive.run().walk.phase.value == "holding"
    read(drive, OCT + 3 * DAY + 10 * MIN, 100, spot="east")
    lowest = min(line.values[-1] for line in drive.run().walk.lines.values())
    assert lowest == 37_778
    assert drive.run().walk.now == OCT + 3 * DAY + 10 * MIN


def test_a_further_spot_that_is_hotter_leaves_the_coldest_of_the_round():
    drive = Drive(by_hand_alone(), at=OCT - 2 * HOUR)
    for day in range(4):
        read(drive, OCT + day * DAY, 120, spot="edge")
        read(drive, OCT + day * DAY + 20 * MIN, 150, spot="core")
    assert progress_now(drive.run()) is None or progress_now(drive.run()).values["days"] == 0
    assert not drive.run().walk.was_at, "the edge never was as hot as the rule asks"


def test_a_second_value_of_a_spot_and_instant_counts_if_it_is_colder():
    drive = Drive(by_hand_alone(), at=OCT - 2 * HOUR)
    for day in range(6):
        read(drive, OCT + day * DAY, 145)
    assert progress_now(drive.run()).values["days"] == 5
    read(drive, OCT + 2 * DAY, 60, entered=OCT + 5 * DAY + HOUR)
    assert progress_now(drive.run()).values["days"] == 3, "the days into it and out of it are lost"


def test_rounds_prove_where_one_probe_has_long_been_silent_and_the_other_was_taken_out():
    drive = Drive(yard(probes={"p1-a": core("p1"), "p1-b": core("p1")}, bins={}))
    drive.hold(T0 + MIN, T0 + 2 * HOUR, p1_a=60, p1_b=60)
    drive.hold(T0 + 2 * HOUR + 10 * MIN, T0 + 9 * HOUR, p1_a=60)
    drive.work(T0 + 9 * HOUR + MIN, "p1", "probe out", probe="p1-a")
    read(drive, T0 + 10 * HOUR, 150)
    read(drive, T0 + 22 * HOUR, 150)
    assert drive.run().walk.lines["hand::coldest"].serving
    assert drive.run().walk.now == T0 + 22 * HOUR


def test_a_heap_without_probes_begins_with_its_first_reading_by_hand():
    drive = Drive(yard(bins={}, probes={}))
    read(drive, T0 + HOUR, 100, place="p2")
    assert drive.run("p2").built == T0 + HOUR
    read(drive, T0 + 30 * MIN, 90, place="p2", entered=T0 + 2 * HOUR)
    assert drive.run("p2").built == T0 + 30 * MIN, "an earlier one came late"


def test_a_heap_with_a_probe_goes_by_its_probe_and_by_hand_while_that_is_taken_out():
    drive = Drive(yard(probes={"p1-a": core("p1")}, bins={}))
    for at in range(T0, T0 + 12 * HOUR, 10 * MIN):
        drive.read(at, p1_a=60)
    read(drive, T0 + 11 * HOUR, 100)
    assert drive.run().walk.phase.value == "holding", "a cold hand reading stands beside the probe and decides nothing"
    assert "hand::coldest" not in drive.run().walk.lines
    drive.work(T0 + 12 * HOUR, "p1", "probe out", probe="p1-a")
    for hour in (13, 25, 37, 49):
        read(drive, T0 + hour * HOUR, 145)
    walk = drive.run().walk
    assert walk.lines["hand::coldest"].serving
    assert walk.now == T0 + 49 * HOUR
    assert walk.was_at
    drive.work(T0 + 50 * HOUR, "p1", "probe in", probe="p1-a")
    assert not drive.run().walk.lines["hand::coldest"].serving
    for at in range(T0 + 50 * HOUR, T0 + 60 * HOUR, 10 * MIN):
        drive.read(at, p1_a=60)
    assert drive.run().walk.now == T0 + 60 * HOUR - 10 * MIN


def test_a_turning_does_not_hand_over_to_the_rounds():
    drive = Drive(yard(probes={"p1-a": core("p1")}, bins={}))
    for at in range(T0, T0 + 12 * HOUR, 10 * MIN):
        drive.read(at, p1_a=60)
    drive.work(T0 + 12 * HOUR, "p1", "turned")
    read(drive, T0 + 13 * HOUR, 145)
    assert "hand::coldest" not in drive.run().walk.lines


def test_one_that_is_taken_back_is_out_of_the_record():
    drive = Drive(by_hand_alone(), at=OCT - 2 * HOUR)
    for day in range(6):
        read(drive, OCT + day * DAY, 145 if day != 3 else 45)
    before = progress_now(drive.run()).values["days"]
    time = OCT + 3 * DAY
    drive.feed(
        OCT + 5 * DAY + HOUR, "correction", {"of": 1, "work": None, "reading": {"time": time, "probe": "hand:p1"}}
    )
    read(drive, time + 1, 145, entered=OCT + 5 * DAY + 2 * HOUR)
    assert (before, progress_now(drive.run()).values["days"]) == (3, 5)


def test_imported_rounds_count_and_tell_nobody():
    drive = Drive(by_hand_alone(), at=OCT - 2 * HOUR)
    rows = [[OCT + day * DAY, "hand:p1", 120_000_000 if day == 0 else 145_000_000, "[degF]"] for day in range(20)]
    for day in (4, 7, 10, 13, 16):
        drive.work(OCT + (day - 1) * DAY + HOUR, "p1", "turned", entered=OCT + 30 * DAY + day)
    drive.feed(OCT + 31 * DAY, "imported", {"rows": rows})
    progress = drive.run().walk.progress
    assert (progress.state.value, progress.since // 1000 * 1000) == ("met", MET)


def test_the_snapshot_goes_on_exactly():
    from monitor.engine import Engine

    drive = Drive(by_hand_alone(), at=OCT - 2 * HOUR)
    month(drive)
    again = Engine.restore(drive.engine.snapshot())
    assert again.snapshot() == drive.engine.snapshot()
    drive.engine = again
    read(drive, OCT + 20 * DAY, 100, spot="east")
    assert drive.run().walk.now == OCT + 20 * DAY


def test_both_doors_say_the_same_of_a_yard_with_probes_here_and_rounds_there():
    piles = {
        "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0),
        "p2": Pile(name="Bay 2", rule="us-112-54-static", method=Method.STATIC, built=T0),
    }
    drive = Recorder(yard(piles=piles, probes={"p1-a": core("p1"), "b1-t": bedding("b1")}))
    for step in range(900):
        at = T0 + step * 10 * MIN
        drive.read(at, p1_a=50 + step % 12, b1_t=20 + step % 3)
        if step % 144 == 50:
            read(drive, at + MIN, 120 if step < 100 else 145, spot="west", place="p2")
            read(drive, at + 2 * MIN, 140, spot="east", place="p2")
    drive.work(T0 + 900 * 10 * MIN, "p2", "emptied")
    for step in range(901, 1400):
        drive.read(T0 + step * 10 * MIN, p1_a=50 + step % 12, b1_t=20 + step % 3)
    same(drive, T0 + 20 * DAY)
