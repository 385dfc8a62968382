"""Every cell of the alarm table, and the published sequence of ISA-18.2 states."""

import pytest

from monitor.alarms import TRANSITIONS, AlarmBook, Signal, Telling
from monitor.alarms.states import after
from monitor.model.times import HOUR_MS
from monitor.model.words import AlarmState as S

NOW = 1_800_000_000_000


def begins(book, at, place, alarm, **more):
    return book.settle(at, book.begins(place, alarm, **more))


def test_every_state_can_be_left_and_every_signal_is_used():
    assert {state for state, _ in TRANSITIONS} == set(S)
    assert {signal for _, signal in TRANSITIONS} == set(Signal)


@pytest.mark.parametrize(("state", "signal"), [(s, g) for s in S for g in Signal if (s, g) not in TRANSITIONS])
def test_what_the_table_does_not_list_is_refused(state, signal):
    assert after(state, signal, True) is None
    assert after(state, signal, False) is None


@pytest.mark.parametrize("signal", [Signal.TAKEN_UP, Signal.UNMUTE, Signal.BACK])
def test_what_ends_by_itself_rests_when_the_condition_is_off(signal):
    state = next(s for s, g in TRANSITIONS if g is signal)
    assert after(state, signal, True) is S.UNACKNOWLEDGED
    assert after(state, signal, False) is S.NORMAL
    assert after(state, signal, True, True) is (S.UNACKNOWLEDGED if signal is Signal.UNMUTE else S.SUPPRESSED)


def test_sequence_of_the_standard():
    """Source: ISA-18.2 / IEC 62682 transitions as restated in shared standards 8.12."""
    book = AlarmBook({})
    seen = []

    def note(moves):
        seen.extend(m.after for m in moves)

    def on(at):
        note(begins(book, at, "b1", "overheating", since=at))

    def off(at):
        note(book.ends(at, "b1", "overheating"))

    on(NOW), off(NOW + 1), on(NOW + 2)
    note(book.answer(NOW + 3, "b1/overheating", Signal.SEEN))
    off(NOW + 4), on(NOW + 5)
    note(book.answer(NOW + 6, "b1/overheating", Signal.SEEN))
    assert seen == [
        S.UNACKNOWLEDGED, S.RETURNED, S.UNACKNOWLEDGED, S.ACKNOWLEDGED, S.NORMAL, S.UNACKNOWLEDGED, S.ACKNOWLEDGED,
    ]  # fmt: skip


def test_an_excursion_already_over_is_told_once_in_the_past_tense():
    book = AlarmBook({})
    assert begins(book, NOW, "b1", "overheating", since=NOW - 9 * HOUR_MS, last=NOW - 8 * HOUR_MS) == []
    moves = book.ends(NOW, "b1", "overheating")
    assert [(m.before, m.after, m.telling) for m in moves] == [
        (S.NORMAL, S.UNACKNOWLEDGED, Telling.PAST_OLD),
        (S.UNACKNOWLEDGED, S.RETURNED, Telling.QUIET),
    ]


def test_the_highest_alarm_of_a_bin_is_always_told():
    book = AlarmBook({})
    begins(book, NOW, "b1", "worms-in-danger", since=NOW - 9 * HOUR_MS, last=NOW - 8 * HOUR_MS)
    assert book.ends(NOW, "b1", "worms-in-danger")[0].telling is Telling.PAST


def test_what_came_and_went_at_once_is_told_in_the_past_tense():
    book = AlarmBook({})
    book.begins("b1", "overheating", since=NOW - HOUR_MS, last=NOW - HOUR_MS)
    assert book.ends(NOW, "b1", "overheating")[0].telling is Telling.PAST


def test_an_old_excursion_rings_at_its_first_fresh_reading():
    book = AlarmBook({})
    start = NOW - 9 * HOUR_MS
    assert begins(book, NOW, "b1", "overheating", since=start, last=NOW - 2 * HOUR_MS) == []
    (ring,) = begins(book, NOW + 1, "b1", "overheating", since=start, last=NOW - 2 * HOUR_MS + 2)
    assert ring.telling is Telling.RING
    assert ring.since == start


def test_put_off_comes_back_only_while_the_condition_is_on():
    book = AlarmBook({})
    begins(book, NOW, "p1", "hot", since=NOW)
    until = NOW + HOUR_MS
    (move,) = book.answer(NOW + 1, "p1/hot", Signal.PUT_OFF, until)
    assert move.after is S.SHELVED
    assert book.due() == [(until, "p1/hot")]
    (back,) = book.serve(until, "p1/hot")
    assert (back.after, back.telling) == (S.UNACKNOWLEDGED, Telling.AGAIN)
    book.answer(until + 1, "p1/hot", Signal.PUT_OFF, until + HOUR_MS)
    assert book.ends(until + 2, "p1", "hot") == []
    (rest,) = book.serve(until + HOUR_MS, "p1/hot")
    assert (rest.after, rest.telling) == (S.NORMAL, Telling.QUIET)


@pytest.mark.parametrize("until", [None, NOW, NOW - 1])
def test_put_off_wants_an_instant_to_come(until):
    book = AlarmBook({})
    begins(book, NOW, "p1", "hot", since=NOW)
    assert book.answer(NOW, "p1/hot", Signal.PUT_OFF, until) is None


def test_a_mute_hides_all_but_fire():
    book = AlarmBook({})
    book.mute(NOW, "p1", NOW + HOUR_MS)
    (hidden,) = begins(book, NOW + 1, "p1", "stalled", since=NOW)
    assert hidden.after is S.SUPPRESSED
    (fire,) = begins(book, NOW + 1, "p1", "fire", since=NOW)
    assert (fire.after, fire.telling) == (S.UNACKNOWLEDGED, Telling.RING)
    (ring,) = book.serve(NOW + HOUR_MS, "p1/stalled")
    assert (ring.after, ring.telling) == (S.UNACKNOWLEDGED, Telling.RING)


def test_out_of_service_says_nothing_until_back():
    book = AlarmBook({})
    book.answer(NOW, "p1/hot", Signal.OUT)
    assert book.records == {}
    begins(book, NOW, "p1", "hot", since=NOW)
    book.answer(NOW, "p1/hot", Signal.OUT)
    assert book.ends(NOW + 1, "p1", "hot") == []
    assert begins(book, NOW + 2, "p1", "hot", since=NOW + 2) == []
    (back,) = book.answer(NOW + 3, "p1/hot", Signal.BACK)
    assert (back.after, back.telling) == (S.UNACKNOWLEDGED, Telling.AGAIN)


def test_a_worse_alarm_mutes_what_it_says_already_and_gives_it_back():
    book = AlarmBook({})
    begins(book, NOW, "b1", "overheating", since=NOW)
    ring, hidden = begins(book, NOW + 1, "b1", "worms-in-danger", since=NOW + 1)
    assert (ring.record.alarm, ring.telling) == ("worms-in-danger", Telling.RING)
    assert (hidden.record.alarm, hidden.after) == ("overheating", S.SUPPRESSED)
    over, back = book.ends(NOW + 2, "b1", "worms-in-danger")
    assert over.telling is Telling.OVER
    assert (back.record.alarm, back.after, back.telling) == ("overheating", S.UNACKNOWLEDGED, Telling.RING)


def test_what_begins_under_a_worse_alarm_and_ends_with_it_is_never_told():
    book = AlarmBook({})
    begins(book, NOW, "p1", "fire", since=NOW)
    (hidden,) = begins(book, NOW + 1, "p1", "too-hot", since=NOW)
    assert hidden.after is S.SUPPRESSED
    assert book.ends(NOW + 2, "p1", "too-hot") == []
    over, back = book.ends(NOW + 3, "p1", "fire")
    assert (over.record.alarm, back.record.alarm, back.after) == ("fire", "too-hot", S.NORMAL)


def test_a_seen_can_be_taken_back_and_then_it_calls_again():
    book = AlarmBook({})
    begins(book, NOW, "b1", "overheating", since=NOW)
    assert book.answer(NOW + 1, "b1/overheating", Signal.NOT_ME) is None
    book.answer(NOW + 1, "b1/overheating", Signal.SEEN)
    (move,) = book.answer(NOW + 2, "b1/overheating", Signal.NOT_ME)
    assert (move.before, move.after) == (S.ACKNOWLEDGED, S.UNACKNOWLEDGED)


def test_a_put_off_takes_another_end():
    book = AlarmBook({})
    begins(book, NOW, "p1", "hot", since=NOW)
    book.answer(NOW + 1, "p1/hot", Signal.PUT_OFF, NOW + HOUR_MS)
    (move,) = book.answer(NOW + 2, "p1/hot", Signal.PUT_OFF, NOW + 3 * HOUR_MS)
    assert move.after is S.SHELVED
    assert book.due() == [(NOW + 3 * HOUR_MS, "p1/hot")]
