"""Whoever is away is off duty: others are told, and the times at which nobody is on duty are known beforehand."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter
from test_notices_properties import START, yards

from monitor.model.settings import Contact, DutyWindow
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time
from monitor.model.words import Priority
from monitor.notices import Absence, Cause, DeskState, LeavingFacts, NoticeDesk
from monitor.notices.absences import alone_sentences, away_words, left_alone
from monitor.notices.roster import Roster
from tests.worlds.notice_cases import yard

NOON = parse_time("2026-03-04T17:00:00Z")  # a Wednesday, 12:00 in New York
AWAKE = {"quiet_start_minute": 0, "quiet_end_minute": 0}
ANN, BEN = Contact(name="Ann", **AWAKE), Contact(name="Ben", order=2, **AWAKE)
absences = st.lists(
    st.builds(
        lambda contact, start, length: Absence(contact=contact, start=START + start, end=START + start + length),
        st.sampled_from(["ann", "ben", "cleo", "dan"]),
        st.integers(-2 * DAY_MS, 6 * DAY_MS),
        st.integers(1, 4 * DAY_MS),
    ),
    max_size=6,
)


def away(contact, start=NOON, end=NOON + 2 * DAY_MS, at=0, row=0):
    return Absence(contact=contact, start=start, end=end, at=at, row=row)


def cause(key="p1/too-hot/p1-a", priority=Priority.HIGH):
    place, alarm, *_ = key.split("/")
    return Cause(key=key, place=place, alarm=alarm, priority=priority, since=NOON, text="It is hot.", short="hot")


def desk_of(**contacts):
    desk = NoticeDesk(DeskState(), yard(contacts=contacts))
    desk.begin(NOON - HOUR_MS)
    return desk


def told(drafts):
    return [(draft.after, draft.axis) for draft in drafts]


@settings(max_examples=60, deadline=None)
@given(yards, absences, st.lists(st.integers(0, 6 * DAY_MS), min_size=1, max_size=20))
def test_nobody_is_on_duty_exactly_in_the_times_that_are_told(contacts, some, instants):
    known = Roster(yard(contacts=contacts), some)
    planned = Roster(yard(contacts=contacts))
    gaps = left_alone(known, START, START + 6 * DAY_MS)
    for place in [*known.settings.piles, *known.settings.bins]:
        mine = gaps.get(place, [])
        assert all(end - start >= MINUTE_MS for start, end in mine)
        assert all(one[1] < other[0] for one, other in pairwise(mine))
        for at in (START + one for one in instants):
            expected = any(planned.on_duty(one, at) for one in planned.caretakers(place)) and not any(
                known.on_duty(one, at) for one in known.reachable(place, at)
            )
            inside = any(start <= at < end for start, end in mine)
            # Times shorter than a minute are not told.
            assert inside is expected or not _lasts(known, planned, place, at)


def _lasts(known, planned, place, at):
    """Return whether what holds at an instant holds for a minute before it or after it."""

    def bare(then):
        return any(planned.on_duty(one, then) for one in planned.caretakers(place)) and not any(
            known.on_duty(one, then) for one in known.reachable(place, then)
        )

    edges = [edge for one in known.absences for edge in (one.start, one.end) if abs(edge - at) < MINUTE_MS]
    return not edges and bare(at)


@settings(max_examples=60, deadline=None)
@given(yards, absences, st.integers(0, 6 * DAY_MS))
def test_whoever_is_away_is_told_only_where_nobody_else_is_left(contacts, some, after):
    known, at = Roster(yard(contacts=contacts), some), START + after
    here = {one for one in known.contacts if not known.is_away(one, at)}
    for place in ("p1", "b1", ""):
        first = known.first(place, at)
        assert first
        assert not here or set(first) <= here
        assert not any(known.on_duty(one, at) for one in set(known.contacts) - here)
        further = known.further(place, at, 1, wake=True)
        left = {one for one in known.reachable(place, at) if known.contacts[one].order > 1}
        assert set(further) <= here or not left & here


def test_a_yard_without_absences_is_never_left_alone():
    nights = DutyWindow(start_minute=22 * 60, end_minute=6 * 60)
    known = Roster(yard(contacts={"ann": Contact(name="Ann", duty=(nights,))}))
    assert left_alone(known, NOON, NOON + 7 * DAY_MS) == {}
    assert away_words(known, NOON, NOON + DAY_MS, NOON) == ""


def test_only_the_hours_of_a_duty_are_missed():
    days = DutyWindow(days=(4,), start_minute=8 * 60, end_minute=18 * 60)
    known = Roster(yard(contacts={"ann": Contact(name="Ann", duty=(days,))}), [away("ann")])
    thursday = (parse_time("2026-03-05T13:00:00Z"), parse_time("2026-03-05T23:00:00Z"))
    assert set(map(tuple, left_alone(known, NOON, NOON + 7 * DAY_MS).values())) == {(thursday,)}
    (words,) = alone_sentences(known, NOON, NOON + 7 * DAY_MS, NOON)
    assert words == "Nobody is on duty from tomorrow 08:00 to tomorrow 18:00; Ann would be told all the same."


def test_places_that_nobody_else_looks_after_go_to_everybody_else():
    contacts = {"ann": ANN, "ben": Contact(name="Ben", places=("b1",), **AWAKE)}
    known = Roster(yard(contacts=contacts), [away("ann"), away("ben", NOON + DAY_MS)])
    assert known.first("p1", NOON) == ["ben"], "all who look after p1 are away"
    assert known.first("b1", NOON) == ["ben"]
    assert known.first("p1", NOON + DAY_MS) == ["ann"], "somebody hears of it, away or not"
    (words,) = alone_sentences(known, NOON, NOON + 9 * DAY_MS, NOON)
    assert words == "Nobody is on duty from tomorrow 12:00 to 6 Mar 12:00; Ann would be told all the same."


def test_a_few_places_alone_are_named():
    mornings = DutyWindow(start_minute=6 * 60, end_minute=7 * 60)
    contacts = {"ann": Contact(name="Ann", places=("b1",)), "ben": Contact(name="Ben", duty=(mornings,))}
    known = Roster(yard(contacts=contacts), [away("ann")])
    assert known.first("b1", NOON) == ["ben"], "who is off duty and not away is rather told than who is away"
    (words,) = alone_sentences(known, NOON, NOON + 5 * HOUR_MS, NOON)
    assert words.startswith("Nobody is on duty for ")
    assert "from 12:00 to 17:00; Ben would be told all the same." in words


def test_many_times_are_counted():
    mornings = DutyWindow(start_minute=6 * 60, end_minute=7 * 60)
    known = Roster(
        yard(contacts={"ann": Contact(name="Ann", duty=(mornings,))}), [away("ann", NOON, NOON + 9 * DAY_MS)]
    )
    (words,) = alone_sentences(known, NOON, NOON + 5 * DAY_MS, NOON)
    assert words.count("from") == 3
    assert "and 2 more times" in words
    assert "and one more time" in alone_sentences(known, NOON, NOON + 4 * DAY_MS, NOON)[0]


def test_the_deputy_is_told_while_the_first_is_away_and_no_longer():
    desk = desk_of(ann=ANN, ben=BEN)
    desk.absent(NOON, away("ann", NOON + HOUR_MS, NOON + DAY_MS))
    assert told(desk.cause(NOON, cause("p1/hot"))) == [("ann", "new")]
    desk.over(NOON + 1, "p1/hot")
    assert told(desk.cause(NOON + HOUR_MS, cause())) == [("ben", "new")]
    assert told(desk.cause(NOON + DAY_MS, cause("b1/too-wet"))) == [("ann", "new")]


def test_what_the_first_was_told_goes_on_when_they_leave():
    desk = desk_of(ann=ANN, ben=BEN)
    assert told(desk.cause(NOON, cause())) == [("ann", "new")]
    desk.absent(NOON, away("ann", NOON + MINUTE_MS))
    assert desk.due() == NOON + MINUTE_MS
    assert told(desk.serve(NOON + MINUTE_MS)) == [("ben", "passed on")]


def test_what_somebody_has_seen_wakes_nobody_when_they_leave():
    desk = desk_of(ann=ANN, ben=BEN)
    desk.cause(NOON, cause())
    desk.answered(NOON, "p1/too-hot/p1-a", "seen", by="Ann")
    desk.absent(NOON, away("ann", NOON + MINUTE_MS))
    assert told(desk.serve(NOON + MINUTE_MS)) == []


def test_a_fire_is_passed_on_to_somebody_away_where_nobody_else_is_left():
    desk = desk_of(ann=ANN, ben=BEN)
    desk.absent(NOON, away("ben"))
    assert told(desk.cause(NOON, cause("p1/fire", Priority.HIGHEST))) == [("ann", "new")]
    drafts = []
    while (due := desk.due()) is not None and due <= NOON + HOUR_MS:
        drafts += desk.serve(due)
    assert ("ben", "passed on") in told(drafts)


def test_an_absence_is_forgotten_when_it_is_taken_back_and_when_it_is_long_over():
    desk = desk_of(ann=ANN, ben=BEN)
    desk.absent(NOON, away("ann", at=7, row=1))
    desk.absent(NOON, away("ben", at=7, row=2))
    desk.present(7, 1)
    assert [one.contact for one in desk.state.absences] == ["ben"]
    plain = TypeAdapter(DeskState)
    assert plain.validate_json(plain.dump_json(desk.state)) == desk.state
    desk.absent(NOON + 30 * DAY_MS, away("ann", NOON, NOON + 1))
    assert desk.state.absences == [], "what is over is not noted, and the old is forgotten"


@pytest.mark.parametrize(("start", "said"), [(NOON - 1, "Ann until "), (NOON + 1, "Ann from 12:00 until ")])
def test_who_is_away_is_said(start, said):
    known = Roster(
        yard(contacts={"ann": ANN, "ben": BEN}), [away("ann", start), away("ben", NOON + 8 * DAY_MS, NOON + 9 * DAY_MS)]
    )
    assert away_words(known, NOON, NOON + 7 * DAY_MS, NOON) == f"Away: {said}6 Mar 12:00."


def test_before_you_go_tells_the_absence_and_the_evening_that_nobody_was_planned_for():
    days = DutyWindow(start_minute=8 * 60, end_minute=18 * 60)
    desk = desk_of(ann=Contact(name="Ann", channels=("wire",), duty=(days,)))
    desk.absent(NOON, away("ann", NOON + 2 * DAY_MS, NOON + 3 * DAY_MS))
    text = desk.leaving(NOON, LeavingFacts())
    assert "Nobody is on duty from 6 Mar 12:00 to 6 Mar 18:00, from 7 Mar 08:00 to 7 Mar 12:00; Ann" in text
    assert "From about 18:00 nobody is on duty for a while; Ann would be told." in text
    desk.absent(NOON, away("ann", NOON + HOUR_MS, NOON + DAY_MS))
    text = desk.leaving(NOON, LeavingFacts())
    assert "Nobody is on duty from 13:00 to 18:00, from tomorrow 08:00 to tomorrow 12:00, from " in text
    assert "From about" not in text, "that is told already"
