"""Questions: none of them fails, whatever is asked about; what would be lost is said."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, yard
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.engine.asking.entry_questions import Standing, Yard, questions, questions_of_readings
from monitor.model.readings import Reading
from monitor.model.work import Work, WorkKind

PLACES = ["p1", "p2", "b1", "b2", "ambient", "nowhere", ""]


def yard_of(drive, *entries):
    known = [Standing(number, work) for number, work in enumerate(entries, 1)]
    return Yard(core=drive.engine.core, entries=known, now=drive.engine.last, place_of=drive.engine.place_of)


works = st.builds(
    Work,
    time=st.integers(T0 - 40 * DAY, T0 + 5 * DAY),
    place=st.sampled_from(PLACES),
    kind=st.sampled_from(list(WorkKind)),
    to=st.sampled_from(PLACES),
    probe=st.sampled_from(["", "p1-a", "b1-t", "b1-m", "air", "gone"]),
    what=st.sampled_from(["", "p1-2026-11-01", "leaves"]),
    amount=st.sampled_from(["", "20", "many"]),
    measure=st.sampled_from(["", "kg", "x"]),
)


@settings(max_examples=100, deadline=None)
@given(works, st.lists(works, max_size=4))
def test_whatever_is_asked_about_there_is_an_answer(work, before):
    drive = Drive(yard())
    for number, one in enumerate(before):
        more = {name: getattr(one, name) for name in ("to", "probe", "what") if getattr(one, name)}
        drive.feed(
            T0 + 5 * DAY + number * MIN, "work", {"time": one.time, "place": one.place, "kind": one.kind, **more}
        )
    snapshot = drive.engine.snapshot()
    for question in questions(yard_of(drive, *before), work):
        assert question.endswith(("?", "."))
    assert drive.engine.snapshot() == snapshot, "asking changes nothing"


@pytest.mark.parametrize(("kind", "more"), [("added", {"place": "p1"}), ("merged", {"place": "p2", "to": "p1"})])
def test_what_raw_material_would_undo_is_said(kind, more):
    drive = Drive(yard())
    drive.work(T0 + 4 * DAY - HOUR, "p2", "built")
    drive.hold(T0 + MIN, T0 + 4 * DAY, p1_a=60, p1_b=60)
    (asked,) = questions(yard_of(drive), Work(time=T0 + 4 * DAY, kind=WorkKind(kind), **more))
    assert asked == "Bay 1 becomes raw again: 3 days are lost. Is that so?"


def by_hand(place, at, celsius):
    return Reading(at, f"hand:{place}", celsius * 1_000_000, "Cel")


def covered(what, place="p1"):
    return Work(time=T0 + 4 * DAY, kind=WorkKind.COVERED, place=place, what=what)


def test_a_cover_of_raw_material_is_asked_about_and_any_other_is_not():
    drive = Drive(yard())
    drive.work(T0 + HOUR, "p2", "built")
    drive.hold(T0 + MIN, T0 + 4 * DAY, p1_a=60, p1_b=60)
    (asked,) = questions(yard_of(drive), covered("horse manure"))
    assert asked == (
        "Covering with horse manure brings raw material in, and a cover leaves the rule as it stands. "
        "Should it be logged as added?"
    )
    for what in ("leaves", "composted manure", "", "p1-2026-11-01"):
        assert questions(yard_of(drive), covered(what)) == []
    (other,) = questions(yard_of(drive), covered("p2-2026-11-01"))
    assert "Covering with p2-2026-11-01 brings raw material in" in other, "a heap that has not met its rule is raw"
    assert questions(yard_of(drive), covered("manure", "b1")) == [], "bins have no rule"


@pytest.mark.parametrize(
    ("place", "celsius", "question"),
    [
        (
            "p2",
            60,
            "Nothing lies on Bay 2, as far as the record knows. A heap would begin with it. Is the place right?",
        ),
        ("p2", 78, ""),
        ("p1", 60, ""),
        ("b1", 30, ""),
    ],
)
def test_a_reading_where_nothing_lies_is_asked_about_but_never_a_danger(place, celsius, question):
    drive = Drive(yard(probes={}))
    asked = questions_of_readings(yard_of(drive), [by_hand(place, T0 + HOUR, celsius)])
    assert asked == ([question] if question else [])


def test_where_a_heap_was_taken_away_a_reading_is_asked_about_and_begins_none():
    drive = Drive(yard(probes={}, piles={"p1": yard().piles["p1"]}))
    drive.work(T0 + HOUR, "p1", "emptied")
    (asked,) = questions_of_readings(yard_of(drive), [by_hand("p1", T0 + 2 * HOUR, 50)])
    assert asked == "Nothing lies on Bay 1, as far as the record knows. Is the place right?"
    assert questions_of_readings(yard_of(drive), [by_hand("p1", T0 + MIN, 50)]) == [], "it lay there then"


def test_where_no_heap_is_known_anywhere_the_first_reading_begins_the_log():
    drive = Drive(yard(probes={}, piles={"p2": yard().piles["p2"]}))
    assert questions_of_readings(yard_of(drive), [by_hand("p2", T0 + HOUR, 60)]) == []


@pytest.mark.parametrize(
    ("place", "so_far"), [("p1", "3 days of its rule"), ("p2", "its hours at temperature")], ids=["days", "hours"]
)
def test_what_would_end_is_said_in_words_that_fit_its_rule(place, so_far):
    drive = Drive(yard())
    drive.work(T0, "p2", "built")
    held = {"p1_a": 60, "p1_b": 60} if place == "p1" else {"p2_a": 60}
    drive.hold(T0 + MIN, T0 + (4 * DAY if place == "p1" else DAY), **held)
    (ended,) = questions(yard_of(drive), Work(time=drive.engine.last, place=place, kind=WorkKind.EMPTIED))
    name = "Bay 1" if place == "p1" else "Bay 2"
    assert ended == f"The heap of {name} would end with it, after {so_far}. Is that so?"
    (anew,) = questions(yard_of(drive), Work(time=drive.engine.last, place=place, kind=WorkKind.BUILT))
    assert f"it would end, after {so_far}, and another would begin. Is that so?" in anew
