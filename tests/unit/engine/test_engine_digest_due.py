"""The digest ends with what falls due today; on Fridays and Saturdays before Monday. Both doors write the same."""

from dataclasses import replace

from engine_both_doors import Recorder, same
from engine_yard import ANN, DAY, HOUR, MIN, T0, Drive, core, yard

from monitor.model.readings import Reading
from monitor.model.settings import Pile
from monitor.model.words import Method


def digests(drive):
    return {(one.at - T0) // DAY: one.draft.text for one in drive.effects if one.draft.axis == "digest"}


def due_in(text):
    _, _, tail = text.partition("\nDue ")
    return tail.splitlines()


def heap(hours, **more):
    drive = Recorder(yard(bins={}, **more))
    drive.hold(T0 + HOUR, T0 + hours * HOUR, step=20 * MIN, p1_a=60, p1_b=61)
    drive.advance(T0 + hours * HOUR)
    return drive


def test_a_turning_stands_in_the_digest_of_its_day_until_its_alarm_says_so():
    said = digests(heap(117))
    # At temperature since Monday 20:20 in New York (the day before by UTC), so due on Wednesday at that hour.
    assert due_in(said[1]) == []
    (head, line) = due_in(said[2])
    assert head == "today:"
    assert line.startswith("- 20:00 Bay 1: turn it, ")
    assert "Bay 1: has needed turning since yesterday 20:00" in said[3]
    assert due_in(said[3]) == [], "it stands at the top already"


def test_on_friday_it_looks_ahead_to_monday():
    piles = {"p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0)}
    drive = Drive(yard(bins={}, piles=piles, probes={"p1-a": core("p1"), "p1-b": core("p1")}))
    drive.hold(T0 + 3 * DAY + HOUR, T0 + 6 * DAY - HOUR, step=20 * MIN, p1_a=60, p1_b=61)
    drive.advance(T0 + 6 * DAY)
    thursday, friday = due_in(digests(drive)[3]), due_in(digests(drive)[4])
    assert thursday == []
    assert friday[0] == "before Monday:"
    assert friday[1].startswith("- Sat 20:00 Bay 1: turn it, ")


def test_a_contact_hears_of_its_own_places():
    other = replace(ANN, name="Ben", places=("p2",))
    drive = heap(71, contacts={"ann": ANN, "ben": other})
    of = {
        one.draft.after: one.draft.text for one in drive.effects if one.draft.axis == "digest" and one.at > T0 + 2 * DAY
    }
    assert "Bay 1: turn it" in of["ann"]
    assert "turn it" not in of["ben"]


def test_both_doors_write_the_same_lists():
    drive = heap(6 * 24)
    drive.feed(T0 + 6 * DAY, "work", {"kind": "turned", "place": "p1", "time": T0 + 6 * DAY - HOUR})
    drive.hold(T0 + 6 * DAY + HOUR, T0 + 11 * DAY, step=20 * MIN, p1_a=60, p1_b=61)
    assert sum("Due " in text for text in digests(drive).values()) >= 5
    same(drive, T0 + 12 * DAY)


def test_a_restart_between_changes_no_list():
    whole, cut = heap(117), Drive()
    for event in whole.events:
        cut.engine = type(cut.engine).restore(cut.engine.snapshot())
        if event.kind == "readings":
            for row in event.payload["rows"]:
                cut.history.add(Reading(*row))
        cut.effects += cut.engine.feed(event, cut.history)
    cut.effects += cut.engine.advance(T0 + 117 * HOUR)
    assert [(one.at, one.draft.text) for one in cut.effects] == [(one.at, one.draft.text) for one in whole.effects]


def test_both_doors_agree_on_dry_beds_and_ready_heaps_too():
    drive = Recorder(yard())
    for hour in range(1, 40 * 24):
        heat = 60 if hour < 10 * 24 else max(18, 60 - (hour - 10 * 24) // 6)
        damp = 55 if hour % 90 < 20 else 90 if hour % 90 > 70 else 72
        for part in (0, 30 * MIN):
            drive.read(
                T0 + hour * HOUR + part,
                air=15 + hour % 7,
                p1_a=heat,
                p1_b=heat + hour % 3,
                b1_m=damp,
                b1_t=20 + hour % 5,
            )
        if hour % 97 == 50:
            drive.feed(
                T0 + hour * HOUR + 40 * MIN, "work", {"kind": "watered", "place": "b1", "time": T0 + hour * HOUR}
            )
    same(drive, T0 + 41 * DAY)
    said = "\n".join(digests(drive).values())
    assert "Sunny bin: water it" in said
    assert "Sunny bin: add dry bedding" in said
    assert "Bay 1: test it with worms" in said
