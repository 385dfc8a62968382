"""The changes that each kind of work would make are said before anybody logs it, and nothing changes by asking."""

from engine_yard import DAY, HOUR, MIN, T0, Drive, yard

from monitor.engine import foreseen
from monitor.model.work import WorkKind


def hot(days, place="p1"):
    drive = Drive(yard())
    if place == "p2":
        drive.work(T0, "p2", "built")
        drive.hold(T0 + MIN, T0 + days * DAY, p2_a=60)
    else:
        drive.hold(T0 + MIN, T0 + days * DAY, p1_a=60, p1_b=60)
    return drive


def test_a_heap_with_days_of_its_rule_says_what_would_become_of_them():
    drive = hot(4)
    snapshot = drive.engine.snapshot()
    assert foreseen(drive.engine.core, "p1") == {
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
    assert drive.engine.snapshot() == snapshot


def test_a_fresh_heap_has_nothing_to_lose():
    said = foreseen(Drive(yard()).engine.core, "p1")
    assert WorkKind.ADDED not in said
    assert said[WorkKind.EMPTIED] == "The heap ends."
    assert said[WorkKind.MOVED].startswith("The heap goes with its record and its probes p1-a and p1-b;")


def test_a_heap_that_has_met_its_rule_becomes_raw_by_raw_material_alone():
    drive = hot(4, "p2")
    assert foreseen(drive.engine.core, "p2")[WorkKind.ADDED] == (
        "By raw material it becomes raw again and loses all that its rule asks for; what has met the same rule changes nothing."
    )
    drive.work(T0 + 4 * DAY + HOUR, "p2", "emptied")
    assert foreseen(drive.engine.core, "p2") == {}, "nothing lies there"
    assert foreseen(drive.engine.core, "b1") == {}
