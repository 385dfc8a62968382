"""A value typed wrongly is asked about before it is believed; a heat that may be a danger rings first."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, core, yard

from monitor.engine.asking.entry_questions import Standing, Yard, questions_of_readings
from monitor.model.readings import Reading
from monitor.model.settings import Bin, Pile
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind


def drive_of():
    piles = {
        "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0),
        "p2": Pile(name="Bay 2"),
    }
    return Drive(yard(piles=piles, bins={"b1": Bin(name="Wall bin")}, probes={"p2-a": core("p2")}))


def row(at, value, unit="[degF]", *, place="p1", spot="west"):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    return Reading(at, series, round(value * 1_000_000), unit)


def asked(drive, now, *rows, works=()):
    entries = [Standing(n, work) for n, work in enumerate(works, 1)]
    core = drive.engine.core
    return questions_of_readings(Yard(core=core, entries=entries, now=now, place_of=core.place_of), rows)


def read(drive, *rows):
    drive.feed(rows[0].time, "readings", {"rows": [list(one) for one in rows], "ahead": [], "by": "Ann"})


@pytest.mark.parametrize(
    ("last", "typed", "question"),
    [
        ((140, "[degF]"), (60, "[degF]"), "60 °F is 80 °F less than what was read last (140 °F, yesterday 19:00). Was 60 °C"),
        ((145, "[degF]"), (14.5, "[degF]"), "14.5 °F is 130.5 °F less than what was read last (145 °F, yesterday 19:00). Was"),
        ((62, "Cel"), (6.2, "Cel"), "6.2 °C is 55.8 °C less than what was read last (62 °C, yesterday 19:00). Was 62 °C"),
        ((145, "[degF]"), (110, "[degF]"), None),
        ((120, "[degF]"), (170, "[degF]"), None),
        ((60, "Cel"), (140, "Cel"), None),
        ((60, "Cel"), (145, "[degF]"), None),
    ],
)  # fmt: skip
def test_a_fall_that_no_heap_makes_is_asked_about_and_heat_never(last, typed, question):
    drive = drive_of()
    read(drive, row(T0 + DAY, *last))
    found = asked(drive, T0 + 2 * DAY, row(T0 + 2 * DAY, *typed))
    assert len(found) == (0 if question is None else 1)
    if question is not None:
        assert found[0].startswith("Bay 1 at west: ")
        assert question in found[0]


def in_round(*values, unit="[degF]", at=2 * DAY, place="p1"):
    spots = ("west", "east", "top", "foot")
    return [
        Reading(T0 + at, f"hand:{place}:{spot}", round(value * 1_000_000), unit)
        for spot, value in zip(spots, values, strict=False)
    ]


@pytest.mark.parametrize(
    ("values", "unit", "question"),
    [
        ((141, 138, 14.5), "[degF]", "top: 14.5 °F stands beside 141 °F and 138 °F. Was 145 °F meant?"),
        ((141, 41, 138), "[degF]", "east: 41 °F stands beside 141 °F and 138 °F. Was 141 °F meant?"),
        ((60, 140), "[degF]", "west: 60 °F stands beside 140 °F. Was 60 °C meant?"),
        ((62, 6.1), "Cel", "east: 6.1 °C stands beside 62 °C. Was 61 °C meant?"),
        ((141, 138, 110), "[degF]", None),
        ((150, 85), "[degF]", None),
        ((70, 68, 60), "[degF]", None),
    ],
)
def test_values_of_one_round_are_compared_with_each_other(values, unit, question):
    drive = drive_of()
    drive.feed(T0 + DAY, "work", {"time": T0, "place": "p1", "kind": "built"})
    found = asked(drive, T0 + 2 * DAY, *in_round(*values, unit=unit))
    assert len(found) == (0 if question is None else 1)
    if question is not None:
        assert question in found[0]


def test_a_first_value_below_freezing_may_be_in_the_other_unit():
    drive = drive_of()
    (question,) = asked(drive, T0 + DAY, row(T0 + DAY, 20, place="b1"))
    assert question.startswith("Wall bin at west: 20 °F is frozen through, and nothing was read there lately.")
    assert question.endswith("Was 20 °C meant?")
    for value in (2, 34, 68):
        assert not asked(drive, T0 + DAY, row(T0 + DAY, value, place="b1"))


def test_one_value_is_compared_with_the_last_of_its_place():
    drive = drive_of()
    drive.feed(T0 + DAY, "work", {"time": T0, "place": "p1", "kind": "built"})
    read(drive, *in_round(141, 139, at=DAY + HOUR))
    (question,) = asked(drive, T0 + 2 * DAY, Reading(T0 + 2 * DAY, "hand:p1:top", 14_000_000, "[degF]"))
    assert "14 °F stands beside 141 °F and 139 °F. Was 140 °F meant?" in question
    assert not asked(drive, T0 + 2 * DAY, Reading(T0 + 2 * DAY, "hand:p1:top", 120_000_000, "[degF]"))


def test_a_hot_value_is_not_asked_about_though_it_is_far_below_a_fire():
    drive = drive_of()
    read(drive, row(T0 + DAY, 250))
    assert asked(drive, T0 + DAY + HOUR, row(T0 + DAY + HOUR, 175)) == [], "175 °F still rings"


@pytest.mark.parametrize("kind", [WorkKind.TURNED, WorkKind.WATERED, WorkKind.ADDED])
def test_what_was_done_since_is_reason_enough_but_not_for_the_other_unit(kind):
    drive = drive_of()
    read(drive, row(T0 + DAY, 145))
    done = Work(time=T0 + DAY + HOUR, kind=kind, place="p1")
    now = T0 + DAY + 3 * HOUR
    assert asked(drive, now, row(now, 90), works=[done]) == []
    assert "Was 60 °C meant?" in asked(drive, now, row(now, 60), works=[done])[0]
    elsewhere = Work(time=T0 + DAY + HOUR, kind=kind, place="p2")
    assert len(asked(drive, now, row(now, 90), works=[elsewhere])) == 1


def test_spots_that_nobody_names_may_differ_within_a_round():
    drive = drive_of()
    read(drive, row(T0 + DAY, 145, spot=""))
    near, next_day = row(T0 + DAY + 20 * MIN, 95, spot=""), row(T0 + DAY + 3 * HOUR, 95, spot="")
    assert asked(drive, near.time, near) == []
    assert len(asked(drive, next_day.time, next_day)) == 1


def test_another_heap_and_a_bin_that_was_emptied_say_nothing():
    drive = drive_of()
    read(drive, row(T0 + DAY, 145))
    read(drive, row(T0 + DAY + 1, 70, place="b1", spot=""))
    drive.work(T0 + DAY + HOUR, "p1", "emptied")
    drive.work(T0 + DAY + 2 * HOUR, "p1", "built")
    now = T0 + DAY + 3 * HOUR
    assert asked(drive, now, row(now, 60)) == []
    assert "Was 21 °C meant?" in asked(drive, now, row(now, 21, place="b1", spot=""))[0]
    drive.work(now + MIN, "b1", "emptied")
    assert asked(drive, now + HOUR, row(now + HOUR, 21, place="b1", spot="")) == []


def test_after_days_the_last_value_says_nothing():
    drive = drive_of()
    read(drive, row(T0 + DAY, 145))
    for days, many in ((2, 1), (3, 0)):
        at = T0 + DAY + days * DAY
        assert len(asked(drive, at, row(at, 60))) == many


# Above what a record believes -----------------------------------------------------------------------------------


def test_a_heap_that_burns_rings_and_proves_nothing():
    drive = drive_of()
    read(drive, row(T0 + DAY, 145))
    run = drive.run()
    last = run.round_last
    read(drive, row(T0 + DAY + HOUR, 260))
    assert drive.rings("fire", "p1") == [T0 + DAY + HOUR]
    assert run.round_last == last, "no round"
    assert drive.verdicts[-1].flag.name == "FAIL"
    drive.feed(
        T0 + DAY + 2 * HOUR, "correction", {"reading": {"probe": "hand:p1:west", "time": T0 + DAY + HOUR}, "by": "Ann"}
    )
    assert drive.state_of("p1/fire") == "returned unacknowledged"


def test_one_taken_back_leaves_the_fire_that_was_read_before():
    drive = drive_of()
    read(drive, row(T0 + DAY, 260))
    read(drive, row(T0 + DAY + HOUR, 120))
    assert drive.state_of("p1/fire") == "returned unacknowledged"
    drive.feed(
        T0 + DAY + 2 * HOUR, "correction", {"reading": {"probe": "hand:p1:west", "time": T0 + DAY + HOUR}, "by": "Ann"}
    )
    assert drive.state_of("p1/fire") == "unacknowledged"


def test_one_written_down_too_late_is_told_in_the_past_tense_and_what_cannot_be_is_not():
    drive = drive_of()
    drive.feed(T0 + 2 * DAY, "readings", {"rows": [list(row(T0 + DAY, 260))], "ahead": [], "by": "Ann"})
    assert len(drive.notices("was read by hand")) == 1
    cold = drive_of()
    read(cold, row(T0 + DAY, 700))
    assert cold.rings("fire") == []
