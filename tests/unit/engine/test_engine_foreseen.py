"""The changes that each kind of work would make are said before anybody logs it, and nothing changes by asking."""

from dataclasses import replace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, yard

from monitor.engine import foreseen, foreseen_of, progress_now
from monitor.model.work import Work, WorkKind


def hot(days, place="p1"):
    drive = Drive(yard())
    if place == "p2":
        drive.work(T0, "p2", "built")
        drive.hold(T0 + MIN, T0 + days * DAY, p2_a=60)
    else:
        drive.hold(T0 + MIN, T0 + days * DAY, p1_a=60, p1_b=60)
    return drive


def said(drive, place, kind, at, **more):
    return foreseen_of(drive.engine.core, Work(time=at, place=place, kind=WorkKind(kind), **more), at)


def test_a_heap_with_days_of_its_rule_says_what_would_become_of_them():
    drive = hot(4)
    snapshot = drive.engine.snapshot()
    found = foreseen(drive.engine.core, "p1", T0 + 4 * DAY)
    assert found.pop(WorkKind.TURNED).startswith("It is turning 1 of 5")
    assert found.pop(WorkKind.SCREENED).startswith("Its fractions")
    assert found == {
        WorkKind.ADDED: "By raw material it becomes raw again and loses 3 days.",
        WorkKind.BUILT: "The heap that lies here ends after 3 days of its rule, and another begins.",
        WorkKind.MOVED: (
            "The heap goes with 3 days of its rule and its probes p1-a and p1-b; that counts as a turning."
        ),
        WorkKind.SPLIT: "A part goes with 3 days of its rule; the rest stays as it is.",
        WorkKind.MERGED: (
            "The heap ends, and the one that takes it in becomes raw again unless both have met the same rule."
        ),
        WorkKind.EMPTIED: "The heap ends after 3 days of its rule.",
    }
    foreseen(drive.engine.core, "b1", T0 + 4 * DAY)
    assert drive.engine.snapshot() == snapshot


def test_a_fresh_heap_has_nothing_to_lose():
    found = foreseen(Drive(yard()).engine.core, "p1", T0 + HOUR)
    assert WorkKind.ADDED not in found
    assert found[WorkKind.EMPTIED] == "The heap ends."
    assert found[WorkKind.MOVED].startswith("The heap goes with its record and its probes p1-a and p1-b;")
    assert found[WorkKind.TURNED].startswith(
        "It counts for its rule only after the heap's first instant at temperature."
    )


def test_a_heap_that_has_met_its_rule_becomes_raw_by_raw_material_alone():
    drive = hot(4, "p2")
    at = T0 + 4 * DAY
    assert foreseen(drive.engine.core, "p2", at)[WorkKind.ADDED] == (
        "By raw material it becomes raw again and loses all that its rule asks for; what has met the same rule changes nothing."
    )
    assert said(drive, "p2", "added", at, what="dung") == ("It becomes raw again and loses all that its rule asks for.")
    drive.work(at + HOUR, "p2", "emptied")
    found = foreseen(drive.engine.core, "p2", at + 2 * HOUR)
    assert found[WorkKind.ADDED] == "A heap begins with it."
    assert found[WorkKind.BUILT] == "A heap begins; its rule counts from its first instant at temperature."
    assert not {WorkKind.TURNED, WorkKind.MOVED, WorkKind.EMPTIED} & found.keys(), "nothing lies there"


def test_a_turning_says_which_it_is_how_long_the_heap_may_recover_and_when_the_next_is_due():
    drive = hot(4)
    at = T0 + 4 * DAY + HOUR  # Thu 5 Nov, 20:00 in New York
    assert said(drive, "p1", "turned", at) == (
        "It is turning 1 of 5, and counts when the heap is back at temperature. The next is due 8 Nov 20:00. "
        "Until tomorrow 20:00 at the latest it may recover: a fall of its temperature does not count."
    )
    drive.work(at, "p1", "turned")
    again = said(drive, "p1", "turned", at + 2 * HOUR)
    assert again.startswith("Turnings before tomorrow 02:00 count as one with that of 20:00. Until ")
    late = said(drive, "p1", "turned", at - DAY)
    assert late == "The heap's record is worked out anew from there.", "a later turning stands in the log"


def test_the_turning_that_is_announced_is_the_one_that_counts():
    drive = hot(4)
    at = T0 + 4 * DAY
    for number in range(1, 6):
        assert said(drive, "p1", "turned", at).startswith(f"It is turning {number} of 5,")
        drive.work(at, "p1", "turned")
        drive.hold(at + HOUR, at + 6 * HOUR, p1_a=45, p1_b=45)
        drive.hold(at + 7 * HOUR, at + 2 * DAY, p1_a=60, p1_b=60)
        assert progress_now(drive.engine.core.run_at("p1")).values["turnings"] == number
        at += 2 * DAY
    assert said(drive, "p1", "turned", at).startswith("Until "), "its rule wants none"


def test_a_turning_that_waits_for_the_heat_is_counted_along():
    drive = hot(4)
    drive.work(T0 + 4 * DAY, "p1", "turned")
    drive.hold(T0 + 4 * DAY + 2 * HOUR, T0 + 4 * DAY + 8 * HOUR, p1_a=45, p1_b=45)
    assert progress_now(drive.engine.core.run_at("p1")).values["turnings"] == 0
    assert said(drive, "p1", "turned", T0 + 4 * DAY + 9 * HOUR).startswith("It is turning 2 of 5,")


def test_what_is_thrown_onto_another_heap_says_what_that_one_loses():
    drive = hot(4)
    drive.work(T0 + 4 * DAY, "p2", "built")
    words = said(drive, "p2", "merged", T0 + 4 * DAY + HOUR, to="p1")
    assert words == "The heap ends. Bay 1 becomes raw again and loses 3 days."


@pytest.mark.parametrize(
    ("kind", "more", "words"),
    [
        ("fed", {}, "Nobody is told of too dry and too wet until tomorrow 07:00."),
        ("watered", {}, "Nobody is told of too dry and too wet until tomorrow 07:00."),
        ("emptied", {}, "Until something is put in, the bin is empty: only its probes themselves are watched."),
        ("harvested", {}, "What was taken becomes a harvest of its own, to be screened or made into a lot."),
        ("inspected", {"worms": "dead"}, "The alarm *worms unwell* rings."),
        ("inspected", {}, "The alarm *worms unwell* rings, if worms are on the lid or dead."),
        ("inspected", {"worms": "plenty"}, ""),
        ("probe out", {"probe": "b1-t"}, "Readings of b1-t count for nothing until it is put in again."),
        (
            "probe in",
            {"probe": "b2-t"},
            "From then on readings of b2-t count for Sunny bin, and no longer for Shed bin.",
        ),
        ("seen", {}, ""),
        ("turned", {}, ""),
    ],
)
def test_work_on_a_bin_says_what_it_changes(kind, more, words):
    assert said(Drive(yard()), "b1", kind, T0, **more) == words


def test_a_bin_that_was_emptied_counts_again_and_worms_that_are_well_end_the_alarm():
    drive = Drive(yard())
    drive.work(T0, "b1", "inspected", worms="dead")
    assert said(drive, "b1", "inspected", T0 + MIN, worms="plenty") == "The alarm *worms unwell* ends."
    drive.work(T0 + HOUR, "b1", "emptied")
    assert said(drive, "b1", "bedded", T0 + DAY).startswith("The bin is no longer empty, and its readings count again.")


def test_entries_about_the_yard_say_what_they_change():
    drive = Drive(yard())
    found = foreseen(drive.engine.core, "yard", T0)
    assert set(found) == {
        WorkKind.DELIVERY, WorkKind.COUNTED, WorkKind.AWAY, WorkKind.LOT, WorkKind.TESTED, WorkKind.GIVEN,
    }  # fmt: skip
    failed, passed = (said(drive, "yard", "lot tested", T0, result=one) for one in ("failed", "passed"))
    assert (failed, passed) == ("The lot is held back as long as a test of it is not passed.", "")
    assert said(drive, "yard", "delivery", T0, refused="plastic") == "What was refused is no stock."
    assert foreseen(drive.engine.core, "nowhere", T0) == {}


def test_a_look_that_says_nothing_of_worms_rings_nothing():
    drive = Drive(yard())
    look = Work(time=T0, place="b1", kind=WorkKind.INSPECTED, depth="14 in")
    assert foreseen_of(drive.engine.core, look, T0) == ""
    assert "rings, if worms are" in foreseen_of(drive.engine.core, replace(look, depth=""), T0)
