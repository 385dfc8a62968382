"""What falls due by the engine's own memory: turnings when `turning-due` rings, rounds, water, and what heat forbids."""

from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.diary.due import What
from monitor.model.settings import Bin, Pile
from monitor.model.units import Quantity
from monitor.model.words import Method


def dues(drive, at):
    return {(one.place, one.what): one for one in drive.engine.due(at)}


def rings(drive, alarm):
    return [one.at for one in drive.effects if one.draft.axis == alarm and one.draft.after == "unacknowledged"]


def test_a_turning_is_due_at_the_instant_at_which_the_alarm_rings():
    drive = Drive(yard())
    drive.hold(T0 + HOUR, T0 + 2 * DAY, p1_a=60, p1_b=61)
    told = dues(drive, T0 + 2 * DAY)["p1", What.TURN]
    assert not rings(drive, "turning-due")
    drive.hold(T0 + 2 * DAY + 10 * MIN, T0 + 4 * DAY, p1_a=60, p1_b=61)
    (rang,) = rings(drive, "turning-due")
    assert told.due_ms <= rang <= told.due_ms + 10 * MIN
    late = dues(drive, T0 + 4 * DAY)["p1", What.TURN]
    assert (late.id, late.due_ms) == (told.id, told.due_ms)
    assert "5 turnings are left, and 12 days" in late.why
    expected = dues(drive, T0 + 4 * DAY)["p1", What.EXPECT]
    assert expected.due_ms >= T0 + 15 * DAY
    assert "3 of 15 days, 0 of 5 turnings done" in expected.why


def test_a_logged_turning_makes_the_next_another_thing():
    drive = Drive(yard())
    drive.hold(T0 + HOUR, T0 + 4 * DAY, p1_a=60, p1_b=61)
    before = dues(drive, T0 + 4 * DAY)["p1", What.TURN]
    drive.feed(T0 + 4 * DAY + MIN, "work", {"kind": "turned", "place": "p1", "time": T0 + 4 * DAY})
    after = dues(drive, T0 + 4 * DAY + HOUR)["p1", What.TURN]
    assert after.id != before.id
    assert after.due_ms > T0 + 5 * DAY


def test_a_heap_in_danger_of_fire_is_one_to_keep_off_and_nothing_else():
    drive = Drive(yard())
    drive.hold(T0 + HOUR, T0 + 2 * DAY, p1_a=60, p1_b=61)
    drive.hold(T0 + 2 * DAY + MIN, T0 + 2 * DAY + HOUR, step=5 * MIN, p1_a=84, p1_b=61)
    found = [one for one in drive.engine.due(T0 + 2 * DAY + HOUR) if one.place == "p1"]
    assert [one.what for one in found] == [What.KEEP_OFF]
    assert found[0].why == "fire danger: leave it shut and do no work there; the alarm says what to do"


def test_a_hot_heap_is_turned_within_a_day():
    drive = Drive(yard())
    drive.hold(T0 + HOUR, T0 + DAY, p1_a=72, p1_b=71.5)
    hot = dues(drive, T0 + DAY)["p1", What.TURN]
    assert hot.due_ms == T0 + HOUR
    assert hot.latest_ms == T0 + HOUR + DAY
    assert "turn and wet it within a day" in hot.why


def test_a_heap_that_has_gone_cold_is_turned_since_then():
    drive = Drive(yard())
    drive.hold(T0 + HOUR, T0 + DAY, p1_a=60, p1_b=61)
    drive.hold(T0 + DAY + 10 * MIN, T0 + 2 * DAY, p1_a=45, p1_b=46)
    cold = dues(drive, T0 + 2 * DAY)["p1", What.TURN]
    assert cold.why.startswith("it has cooled and its rule is not met")
    assert T0 + DAY + 12 * HOUR <= cold.due_ms <= T0 + DAY + 13 * HOUR


def by_hand():
    return yard(
        piles={"p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0)},
        bins={"b1": Bin(name="Bin")},
        probes={"p9": core("ambient")} | {"b1-m": bedding("b1", Quantity.MOISTURE)},
    )


def test_rounds_and_places_that_nobody_reads():
    drive = Drive(by_hand())
    assert dues(drive, T0 + HOUR)["p1", What.READ].why == "no probe watches it, and nobody has read it"
    drive.feed(T0 + 2 * HOUR, "readings", {"rows": [[T0 + 2 * HOUR, "hand:p1", 62_000_000, "Cel"]], "by": "Ann"})
    read = dues(drive, T0 + 3 * HOUR)["p1", What.READ]
    assert (read.due_ms, read.latest_ms) == (T0 + 26 * HOUR, T0 + 28 * HOUR)


def damp(drive, start, end, value):
    for at in range(start, end + 1, 30 * MIN):
        drive.read(at, b1_m=value)


def test_a_dry_bed_wants_water_until_it_gets_some_and_a_wet_one_bedding():
    drive = Drive(yard())
    damp(drive, T0, T0 + 3 * HOUR, 55)
    dry = dues(drive, T0 + 3 * HOUR)["b1", What.WATER]
    assert (dry.due_ms, dry.latest_ms - dry.due_ms, dry.why) == (T0, 12 * HOUR, "it is too dry, 55 %")
    drive.feed(T0 + 4 * HOUR, "work", {"kind": "watered", "place": "b1", "time": T0 + 4 * HOUR})
    assert ("b1", What.WATER) not in dues(drive, T0 + 5 * HOUR)
    damp(drive, T0 + 20 * HOUR, T0 + 22 * HOUR, 90)
    wet = dues(drive, T0 + 22 * HOUR)["b1", What.BEDDING]
    assert (wet.due_ms, wet.why) == (T0 + 20 * HOUR, "it is too wet, 90 %")


def test_a_handful_that_crumbled_asks_for_water_until_somebody_waters():
    drive = Drive(yard(probes={}))
    look = {"kind": "inspected", "place": "b1", "time": T0 + HOUR, "squeeze": "1"}
    drive.feed(T0 + HOUR, "work", look)
    assert dues(drive, T0 + 2 * HOUR)["b1", What.WATER].due_ms == T0 + HOUR
    assert ("b1", What.WATER) not in dues(drive, T0 + 16 * DAY)  # a look speaks for a fortnight
    again = Drive(yard(probes={}))
    again.feed(T0 + HOUR, "work", look)
    again.feed(T0 + 2 * HOUR, "work", {"kind": "watered", "place": "b1", "time": T0 + 2 * HOUR})
    assert ("b1", What.WATER) not in dues(again, T0 + 3 * HOUR)


def test_a_dry_heap_wants_water_too():
    drive = Drive(yard(probes={"p1-a": core("p1"), "p1-m": core("p1", quantity=Quantity.MOISTURE)}))
    drive.read(T0 + HOUR, p1_a=60, p1_m=35)
    water = dues(drive, T0 + 2 * HOUR)["p1", What.WATER]
    assert (water.due_ms, water.why) == (T0 + HOUR, "it is too dry, 35 %")


def test_a_ready_heap_is_tested_and_its_bay_emptied():
    drive = Drive(yard(piles={"p1": Pile(name="Bay 1", built=T0)}, probes={"p1-a": core("p1")}, bins={}))
    drive.hold(T0 + HOUR, T0 + 5 * DAY, step=HOUR, p1_a=60)
    drive.hold(T0 + 5 * DAY + HOUR, T0 + 26 * DAY, step=HOUR, p1_a=20)
    expected = dues(drive, T0 + 26 * DAY)["p1", What.EXPECT]
    assert expected.due_ms == T0 + 28 * DAY
    drive.hold(T0 + 26 * DAY + HOUR, T0 + 30 * DAY, step=HOUR, p1_a=20)
    found = dues(drive, T0 + 30 * DAY)
    assert found["p1", What.TEST].due_ms == T0 + 28 * DAY
    assert found["p1", What.EMPTY].due_ms == T0 + 33 * DAY
    drive.feed(T0 + 30 * DAY + HOUR, "work", {"kind": "sampled", "place": "p1", "time": T0 + 30 * DAY})
    assert ("p1", What.TEST) not in dues(drive, T0 + 31 * DAY)


def test_a_look_changes_nothing():
    drive = Drive(yard())
    drive.hold(T0 + HOUR, T0 + 4 * DAY, p1_a=60, p1_b=61)
    before = drive.engine.snapshot()
    drive.engine.due(T0 + 4 * DAY)
    assert drive.engine.snapshot() == before
    assert drive.engine.take_effects() == []
