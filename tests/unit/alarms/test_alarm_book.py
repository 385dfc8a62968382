"""What mutes an alarm, what makes it ring again, and what is too old to ring."""

import pytest

from monitor.alarms import AlarmBook, Signal, Telling
from monitor.alarms.book import FRESH_MS
from monitor.model.alarm_values import AlarmValues
from monitor.model.times import HOUR_MS
from monitor.model.words import AlarmState as S
from monitor.model.words import Priority

NOW = 1_800_000_000_000


def book_with(place, *alarms, at=NOW):
    book = AlarmBook({})
    for alarm in alarms:
        begins(book, at, place, alarm)
    return book


def begins(book, at, place, alarm, **more):
    return book.settle(at, book.begins(place, alarm, **{"since": at, **more}))


def told(moves):
    return [(m.key.split("/")[1], m.after, m.telling) for m in moves]


def states(book):
    return {key.split("/", 1)[1]: record.state for key, record in book.records.items() if record.on}


@pytest.mark.parametrize(("age", "rings"), [(0, True), (FRESH_MS - 1, True), (FRESH_MS, False), (FRESH_MS + 1, False)])
def test_a_reading_rings_until_it_is_two_hours_old(age, rings):
    assert FRESH_MS == 2 * HOUR_MS
    found = begins(AlarmBook({}), NOW, "b1", "overheating", since=NOW - 5 * HOUR_MS, last=NOW - age)
    assert told(found) == ([("overheating", S.UNACKNOWLEDGED, Telling.RING)] if rings else [])


def test_by_what_the_true_time_lies_behind_a_reading_is_fresher():
    book = AlarmBook({})
    book.off_ms = -HOUR_MS
    assert begins(book, NOW, "b1", "overheating", last=NOW - 3 * HOUR_MS) == []
    assert begins(book, NOW, "b1", "overheating", last=NOW - 3 * HOUR_MS + 1)[0].telling is Telling.RING


def test_a_reading_by_hand_rings_however_old():
    found = begins(AlarmBook({}), NOW, "b1", "overheating", last=NOW - 9 * HOUR_MS, by_hand=True)
    assert found[0].telling is Telling.RING


@pytest.mark.parametrize(
    ("alarm", "rings"), [("fire", True), ("worms-in-danger", True), ("hot", False), ("too-hot", False)]
)
def test_while_nobody_knows_the_time_only_the_most_urgent_is_never_too_old(alarm, rings):
    book = AlarmBook({})
    book.unsure = True
    assert bool(begins(book, NOW, "p1", alarm, last=NOW - 9 * HOUR_MS)) is rings


def test_saying_it_again_refreshes_the_numbers_and_rings_no_more():
    book = book_with("b1", "overheating")
    warm = AlarmValues(value_milli=31_000)
    assert begins(book, NOW + 5, "b1", "overheating", last=NOW + 5, values=warm) == []
    record = book.records["b1/overheating"]
    assert (record.since, record.last, record.values) == (NOW, NOW + 5, warm)
    assert begins(book, NOW + 6, "b1", "overheating") == []
    assert record.values == AlarmValues()


def test_a_worse_limit_of_the_same_is_told_worse_since_when_it_began():
    book = AlarmBook({})
    assert begins(book, NOW, "b1", "freezing", stage=0)[0].record.priority is Priority.MEDIUM
    (worse,) = begins(book, NOW + 1, "b1", "freezing", stage=1)
    assert (worse.telling, worse.since, worse.record.priority) == (Telling.WORSE, NOW, Priority.HIGH)
    assert begins(book, NOW + 2, "b1", "freezing", stage=1) == []
    assert begins(book, NOW + 3, "b1", "freezing", stage=0) == []
    assert not book.records["b1/freezing"].waits


def test_a_later_stage_of_an_alarm_with_one_limit_is_another_matter_since_then():
    book = book_with("p1", "round-due")
    (worse,) = begins(book, NOW + 7, "p1", "round-due", stage=1)
    assert (worse.telling, worse.since) == (Telling.WORSE, NOW + 7)


def test_what_got_worse_by_old_readings_waits_for_a_fresh_one():
    book = book_with("b1", "freezing")
    assert begins(book, NOW + 3 * HOUR_MS, "b1", "freezing", last=NOW, stage=1) == []
    assert book.records["b1/freezing"].waits
    (worse,) = begins(book, NOW + 3 * HOUR_MS, "b1", "freezing", stage=1)
    assert worse.telling is Telling.WORSE


def test_what_is_latent_and_gets_worse_rings_once():
    book = AlarmBook({})
    begins(book, NOW, "b1", "freezing", last=NOW - 3 * HOUR_MS)
    found = begins(book, NOW, "b1", "freezing", stage=1)
    assert [m.telling for m in found] == [Telling.RING]
    assert book.settle(NOW, "b1/freezing") == []


def test_a_mute_lasts_until_the_later_of_two_ends():
    book = book_with("p1", "stalled")
    (hidden,) = book.mute(NOW, "p1", NOW + 3 * HOUR_MS)
    assert (hidden.after, hidden.telling) == (S.SUPPRESSED, Telling.QUIET)
    assert book.mute(NOW, "p1", NOW + HOUR_MS) == []
    assert (NOW + 3 * HOUR_MS, "p1/stalled") in book.due()
    assert book.serve(NOW + 3 * HOUR_MS - 1, "p1/stalled") == []
    assert told(book.serve(NOW + 3 * HOUR_MS, "p1/stalled")) == [("stalled", S.UNACKNOWLEDGED, Telling.RING)]
    assert book.due() == [] or all(key != "p1/stalled" for _, key in book.due())


def test_a_mute_that_is_over_already_hides_nothing():
    book = book_with("p1", "stalled")
    assert book.mute(NOW, "p1", NOW) == []
    assert states(book) == {"stalled": S.UNACKNOWLEDGED}


def test_what_was_seen_is_muted_too_and_rings_when_that_ends():
    book = book_with("p1", "stalled")
    book.answer(NOW, "p1/stalled", Signal.SEEN)
    assert told(book.mute(NOW, "p1", NOW + HOUR_MS)) == [("stalled", S.SUPPRESSED, Telling.QUIET)]
    assert told(book.serve(NOW + HOUR_MS, "p1/stalled")) == [("stalled", S.UNACKNOWLEDGED, Telling.RING)]


def test_what_ended_under_a_mute_is_normal_after_it_without_a_word():
    book = book_with("p1", "stalled")
    book.mute(NOW, "p1", NOW + HOUR_MS)
    book.ends(NOW + 1, "p1", "stalled")
    assert told(book.serve(NOW + HOUR_MS, "p1/stalled")) == [("stalled", S.NORMAL, Telling.QUIET)]


def test_named_alarms_are_muted_alone_and_those_of_probes_by_their_probes():
    book = AlarmBook({})
    for alarm in ("too-wet", "overheating"):
        begins(book, NOW, "b1", alarm)
    assert told(book.mute(NOW, "b1", NOW + HOUR_MS, ("too-wet",))) == [("too-wet", S.SUPPRESSED, Telling.QUIET)]
    begins(book, NOW, "p1", "silent", probe="x")
    begins(book, NOW, "p1", "silent", probe="y")
    assert [m.key for m in book.mute(NOW, "p1", NOW + HOUR_MS, None, ("x",))] == ["p1/silent/x"]


def test_under_a_mute_and_a_worse_alarm_it_rings_only_when_both_are_over():
    book = book_with("p1", "hot")
    book.mute(NOW, "p1", NOW + HOUR_MS)
    begins(book, NOW + 1, "p1", "fire")
    assert book.serve(NOW + HOUR_MS, "p1/hot") == [], "the fire says it all"
    assert told(book.ends(NOW + 2 * HOUR_MS, "p1", "fire")) == [
        ("fire", S.RETURNED, Telling.OVER),
        ("hot", S.UNACKNOWLEDGED, Telling.RING),
    ]


def test_the_end_of_a_worse_alarm_gives_back_nothing_that_a_mute_still_hides():
    book = book_with("p1", "hot", "fire")
    book.mute(NOW, "p1", NOW + HOUR_MS)
    assert told(book.ends(NOW + 1, "p1", "fire")) == [("fire", S.RETURNED, Telling.OVER)]
    assert told(book.serve(NOW + HOUR_MS, "p1/hot")) == [("hot", S.UNACKNOWLEDGED, Telling.RING)]


def test_two_worse_alarms_hide_it_until_the_last_is_over():
    book = book_with("p1", "hot", "too-hot", "fire")
    assert states(book) == {"hot": S.SUPPRESSED, "too-hot": S.SUPPRESSED, "fire": S.UNACKNOWLEDGED}
    # What comes back hides in its turn what it covers.
    assert told(book.ends(NOW + 1, "p1", "fire")) == [
        ("fire", S.RETURNED, Telling.OVER),
        ("too-hot", S.UNACKNOWLEDGED, Telling.RING),
    ]
    assert states(book) == {"hot": S.SUPPRESSED, "too-hot": S.UNACKNOWLEDGED}
    assert told(book.ends(NOW + 2, "p1", "too-hot"))[-1] == ("hot", S.UNACKNOWLEDGED, Telling.RING)


def test_a_put_off_that_ends_under_a_mute_stays_quiet_until_that_ends():
    book = book_with("p1", "stalled")
    book.answer(NOW, "p1/stalled", Signal.PUT_OFF, NOW + HOUR_MS)
    book.mute(NOW, "p1", NOW + 2 * HOUR_MS)
    assert (NOW + HOUR_MS, "p1/stalled") in book.due(), "a put-off ends first"
    assert told(book.serve(NOW + HOUR_MS, "p1/stalled")) == [("stalled", S.SUPPRESSED, Telling.QUIET)]
    assert (NOW + 2 * HOUR_MS, "p1/stalled") in book.due()
    assert told(book.serve(NOW + 2 * HOUR_MS, "p1/stalled")) == [("stalled", S.UNACKNOWLEDGED, Telling.RING)]


def test_a_put_off_taken_up_before_its_end_calls_again_and_has_no_end_left():
    book = book_with("p1", "hot")
    book.answer(NOW, "p1/hot", Signal.PUT_OFF, NOW + HOUR_MS)
    assert told(book.answer(NOW + 1, "p1/hot", Signal.TAKEN_UP)) == [("hot", S.UNACKNOWLEDGED, Telling.AGAIN)]
    assert book.records["p1/hot"].until is None
    assert book.serve(NOW + HOUR_MS, "p1/hot") == []


def test_out_of_service_it_speaks_for_none_and_back_it_does_again():
    book = book_with("p1", "hot", "too-hot")
    assert told(book.answer(NOW + 1, "p1/too-hot", Signal.OUT)) == [
        ("too-hot", S.OUT_OF_SERVICE, Telling.QUIET),
        ("hot", S.UNACKNOWLEDGED, Telling.RING),
    ]
    assert told(book.answer(NOW + 2, "p1/too-hot", Signal.BACK)) == [
        ("too-hot", S.UNACKNOWLEDGED, Telling.AGAIN),
        ("hot", S.SUPPRESSED, Telling.QUIET),
    ]


def test_out_of_service_counts_from_then_where_nothing_was_on():
    book = book_with("p1", "hot")
    book.ends(NOW + 1, "p1", "hot")
    book.answer(NOW + 2, "p1/hot", Signal.SEEN)
    (out,) = [m for m in book.answer(NOW + 5, "p1/hot", Signal.OUT) if m.record.alarm == "hot"]
    assert out.since == NOW + 5
    assert told(book.answer(NOW + 6, "p1/hot", Signal.BACK)) == [("hot", S.NORMAL, Telling.QUIET)]
    other = book_with("p1", "hot")
    assert other.answer(NOW + 5, "p1/hot", Signal.OUT)[0].since == NOW


def test_an_answer_to_nothing_and_an_end_of_nothing_mean_nothing():
    book = AlarmBook({})
    assert book.answer(NOW, "p1/hot", Signal.SEEN) is None
    assert book.ends(NOW, "p1", "hot") == []
    begins(book, NOW, "p1", "hot")
    book.ends(NOW, "p1", "hot")
    assert book.ends(NOW + 1, "p1", "hot") == []
    book.drop("p1/hot")
    book.drop("p1/hot")
    assert "p1/hot" not in book.records


def test_an_old_excursion_that_ends_under_a_mute_or_out_of_service_is_never_told():
    muted = AlarmBook({})
    muted.mute(NOW, "p1", NOW + HOUR_MS)
    muted.begins("p1", "stalled", since=NOW)
    assert muted.ends(NOW + 1, "p1", "stalled") == []
    out = book_with("p1", "hot")
    out.answer(NOW, "p1/hot", Signal.OUT)
    out.ends(NOW, "p1", "hot")
    out.begins("p1", "hot", since=NOW)
    assert out.ends(NOW + 1, "p1", "hot") == []


def test_a_condition_that_comes_back_after_it_returned_is_told_in_the_past_once_more():
    book = book_with("p1", "hot")
    book.ends(NOW + 1, "p1", "hot")
    book.begins("p1", "hot", since=NOW + 2)
    assert [m.telling for m in book.ends(NOW + 3, "p1", "hot")] == [Telling.PAST, Telling.QUIET]


def test_a_mute_that_ends_under_a_put_off_does_not_end_that():
    book = book_with("p1", "stalled")
    book.answer(NOW, "p1/stalled", Signal.PUT_OFF, NOW + 2 * HOUR_MS)
    book.mute(NOW, "p1", NOW + HOUR_MS)
    assert book.serve(NOW + HOUR_MS, "p1/stalled") == []
    assert states(book) == {"stalled": S.SHELVED}
    assert book.serve(NOW + 2 * HOUR_MS - 1, "p1/stalled") == []
    assert told(book.serve(NOW + 2 * HOUR_MS, "p1/stalled")) == [("stalled", S.UNACKNOWLEDGED, Telling.AGAIN)]


def test_what_is_taken_up_under_a_mute_stays_quiet_until_that_ends():
    book = book_with("p1", "stalled")
    book.answer(NOW, "p1/stalled", Signal.PUT_OFF, NOW + 9 * HOUR_MS)
    book.mute(NOW, "p1", NOW + HOUR_MS)
    assert told(book.answer(NOW + 1, "p1/stalled", Signal.TAKEN_UP)) == [("stalled", S.SUPPRESSED, Telling.QUIET)]
    assert told(book.serve(NOW + HOUR_MS, "p1/stalled")) == [("stalled", S.UNACKNOWLEDGED, Telling.RING)]


def old(book, place, alarm):
    """A condition whose readings are too old to ring; it waits for a fresh one."""
    assert begins(book, NOW, place, alarm, last=NOW - 3 * HOUR_MS) == []


def test_what_comes_back_and_has_not_rung_yet_rests_until_a_fresh_reading():
    book = book_with("p1", "hot")
    book.answer(NOW, "p1/hot", Signal.OUT)
    book.ends(NOW, "p1", "hot")
    old(book, "p1", "hot")
    assert told(book.answer(NOW + 1, "p1/hot", Signal.BACK)) == [("hot", S.NORMAL, Telling.QUIET)]
    assert [m.telling for m in begins(book, NOW + 2, "p1", "hot")] == [Telling.RING]


def test_what_comes_back_with_nothing_on_hides_nothing():
    book = book_with("p1", "hot", "too-hot")
    book.answer(NOW, "p1/too-hot", Signal.OUT)
    book.ends(NOW + 1, "p1", "too-hot")
    assert told(book.answer(NOW + 2, "p1/too-hot", Signal.BACK)) == [("too-hot", S.NORMAL, Telling.QUIET)]
    assert states(book) == {"hot": S.UNACKNOWLEDGED}


def test_what_comes_back_under_a_mute_hides_nothing_before_it_rings():
    book = book_with("p1", "hot", "too-hot")
    book.answer(NOW, "p1/too-hot", Signal.OUT)
    book.mute(NOW, "p1", NOW + HOUR_MS, ("too-hot",))
    assert told(book.answer(NOW + 2, "p1/too-hot", Signal.BACK)) == [("too-hot", S.SUPPRESSED, Telling.QUIET)]
    assert states(book)["hot"] is S.UNACKNOWLEDGED
    assert told(book.serve(NOW + HOUR_MS, "p1/too-hot")) == [
        ("too-hot", S.UNACKNOWLEDGED, Telling.RING),
        ("hot", S.SUPPRESSED, Telling.QUIET),
    ]


def test_under_a_mute_an_old_condition_that_became_none_rests_in_silence():
    book = AlarmBook({})
    old(book, "p1", "hot")
    book.mute(NOW, "p1", NOW + HOUR_MS)
    assert book.settle(NOW, "p1/hot") == []
    assert told(begins(book, NOW + 1, "p1", "hot")) == [("hot", S.SUPPRESSED, Telling.QUIET)]
    assert book.settle(NOW + 2, "p1/hot") == []


def test_a_put_off_that_ends_with_an_old_condition_rests():
    book = book_with("p1", "hot")
    book.answer(NOW, "p1/hot", Signal.PUT_OFF, NOW + HOUR_MS)
    book.ends(NOW + 1, "p1", "hot")
    old(book, "p1", "hot")
    assert told(book.serve(NOW + HOUR_MS, "p1/hot")) == [("hot", S.NORMAL, Telling.QUIET)]


def test_an_alarm_that_is_out_of_service_hides_nothing_when_it_rings():
    book = book_with("p1", "hot", "too-hot")
    book.answer(NOW, "p1/too-hot", Signal.OUT)
    book.ends(NOW + 1, "p1", "too-hot")
    begins(book, NOW + 2, "p1", "too-hot")
    assert states(book) == {"hot": S.UNACKNOWLEDGED, "too-hot": S.OUT_OF_SERVICE}
    assert told(book.ends(NOW + 3, "p1", "hot")) == [("hot", S.RETURNED, Telling.OVER)]


def test_seen_and_taken_back_leave_the_end_of_an_earlier_put_off_alone_and_other_answers_do_not():
    book = book_with("p1", "hot")
    book.answer(NOW, "p1/hot", Signal.PUT_OFF, NOW + HOUR_MS)
    book.answer(NOW + 1, "p1/hot", Signal.OUT)
    assert book.records["p1/hot"].until is None
    book.answer(NOW + 2, "p1/hot", Signal.BACK)
    assert book.due() == []
    assert book.serve(NOW + HOUR_MS, "p1/hot") == []
    assert states(book) == {"hot": S.UNACKNOWLEDGED}


def test_the_record_of_an_alarm_holds_what_was_said_last():
    book = AlarmBook({})
    book.begins(
        "p1", "hot", since=NOW, last=NOW + 5, probe="", values=AlarmValues(value_milli=70_000), by_hand=True, stage=0
    )
    record = book.records["p1/hot"]
    assert (record.since, record.last, record.values, record.by_hand, record.on, record.latent) == (
        NOW, NOW + 5, AlarmValues(value_milli=70_000), True, True, True,
    )  # fmt: skip
    book.begins("p1", "hot", since=NOW + 9)
    assert (record.since, record.last, record.passed, record.values, record.by_hand) == (
        NOW, NOW + 9, NOW + 9, AlarmValues(), False,
    )  # fmt: skip
    assert record.limit_since == NOW + 9
    assert record.waits
    book.settle(NOW + 9, "p1/hot")
    assert not record.waits
    book.ends(NOW + 10, "p1", "hot")
    assert (record.limit_since, record.on, record.latent) == (NOW, False, False)


def test_an_alarm_that_begins_anew_is_not_worse_by_its_past():
    book = book_with("b1", "freezing")
    assert begins(book, NOW + 3 * HOUR_MS, "b1", "freezing", last=NOW, stage=1) == []
    book.ends(NOW + 3 * HOUR_MS, "b1", "freezing")
    again = begins(book, NOW + 4 * HOUR_MS, "b1", "freezing", stage=1)
    assert [(m.telling, m.since) for m in again] == [(Telling.RING, NOW + 4 * HOUR_MS)]
    assert book.settle(NOW + 4 * HOUR_MS, "b1/freezing") == []


def test_each_end_is_called_by_its_key_and_only_while_it_is_to_come():
    book = book_with("p1", "hot", "stalled")
    book.answer(NOW, "p1/hot", Signal.PUT_OFF, NOW + 2 * HOUR_MS)
    book.mute(NOW, "p1", NOW + HOUR_MS, ("stalled",))
    assert sorted(book.due()) == [(NOW + HOUR_MS, "p1/stalled"), (NOW + 2 * HOUR_MS, "p1/hot")]
    book.serve(NOW + HOUR_MS, "p1/stalled")
    book.serve(NOW + 2 * HOUR_MS, "p1/hot")
    assert book.due() == []


def test_a_mute_that_ends_over_an_old_condition_rings_nothing_before_a_fresh_reading():
    book = book_with("p1", "hot")
    book.mute(NOW, "p1", NOW + HOUR_MS)
    book.ends(NOW + 1, "p1", "hot")
    old(book, "p1", "hot")
    assert told(book.serve(NOW + HOUR_MS, "p1/hot")) == [("hot", S.NORMAL, Telling.QUIET)]
    assert told(begins(book, NOW + HOUR_MS, "p1", "hot")) == [("hot", S.UNACKNOWLEDGED, Telling.RING)]
