"""Columns of a run mean what their rows mean: commits cut and joined, the record as far as it is reached, merged courses."""

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.engine.stretch import ColumnHistory, Commits, commits_from_events
from monitor.engine.stretch.commits import joined
from monitor.engine.stretch.curves import END, Stream, stream_of
from monitor.model.events import Event, EventKind
from monitor.model.readings import Reading
from monitor.recordings import MemoryHistory

T0 = 1_793_577_600_000
WEEK = 7 * 24 * 3_600_000

rows = st.lists(
    st.tuples(
        st.integers(0, 6) | st.integers(0, 6).map(lambda n: n * WEEK // 3),
        st.sampled_from("abc"),
        st.integers(0, 3),
        st.sampled_from(["Cel", "K"]),
    ),
    max_size=5,
)
claims = st.lists(st.tuples(st.sampled_from("abc"), st.integers(0, 9)), max_size=1)
drawn = st.lists(
    st.tuples(rows, claims, st.sampled_from(["readings", "readings", "readings", "note", "by hand", "stop"])),
    max_size=14,
)


def events_of(found):
    """Events a minute apart; each key (probe, time) comes once."""
    events, seen = [], set()
    for number, (some, ahead, kind) in enumerate(found):
        at = T0 + number * 60_000
        if kind == "stop":
            events.append(Event(at, EventKind.STOPPED, {}))
        elif kind == "note":
            events.append(Event(at, EventKind.WORK, {"time": at, "place": "b1", "kind": "note"}))
        else:
            mine = []
            for time, probe, micro, unit in some:
                if (time, probe) not in seen:
                    seen.add((time, probe))
                    mine.append([T0 + time, probe, micro, unit])
            payload = {"rows": sorted(mine), "ahead": [list(one) for one in ahead]}
            events.append(Event(at, EventKind.READINGS, payload | ({"by": "Ann"} if kind == "by hand" else {})))
    return events


def expanded(pieces):
    found = []
    for piece in pieces:
        if isinstance(piece, Event):
            found.append(piece)
            continue
        for commit in range(len(piece) + 1):
            found += piece.between.get(commit, ())
            found += [piece.event(commit)] if commit < len(piece) else []
    return found


def small(event):
    return event.kind is EventKind.WORK


@given(drawn)
def test_events_gathered_into_columns_are_those_events(found):
    events = events_of(found)
    pieces = commits_from_events(events)
    assert expanded(pieces) == events
    assert not any(isinstance(a, Commits) and isinstance(b, Commits) for a, b in pairwise(pieces))
    assert all(
        piece.kind is not EventKind.READINGS or "by" in piece.payload for piece in pieces if isinstance(piece, Event)
    )


@given(drawn)
def test_pieces_joined_around_small_events_are_the_same_events(found):
    events = events_of(found)
    whole = joined(commits_from_events(events), small)
    assert expanded(whole) == events
    for one, other in pairwise(whole):
        assert not (isinstance(one, Commits) and (isinstance(other, Commits) or small(other))), "it was taken in"
    for piece in whole:
        if isinstance(piece, Commits):
            assert all(small(event) for events_there in piece.between.values() for event in events_there)
            half = len(piece) // 2
            parts = [piece.part(0, half), replace(piece.part(half, len(piece)), between=_after(piece, half))]
            assert expanded(joined(parts, small)) == expanded([piece])


def _after(piece, half):
    return {commit - half: events for commit, events in piece.between.items() if commit >= half}


@given(drawn, st.integers(-1, 15), st.integers(0, 59_999))
def test_pieces_up_to_an_instant_are_the_events_up_to_it(found, number, more):
    events, at = events_of(found), T0 + number * 60_000 + more
    whole = joined(commits_from_events(events), small)
    cut = [piece.until(at) if isinstance(piece, Commits) else piece for piece in whole]
    assert [one for one in expanded(cut) if one.at <= at] == [one for one in events if one.at <= at]
    assert not [one for piece in cut if isinstance(piece, Commits) for one in expanded([piece]) if one.at > at]


@given(drawn, st.sets(st.sampled_from("abcd")))
def test_the_columns_of_some_probes_are_their_rows_and_claims(found, probes):
    for piece in commits_from_events(events_of(found)):
        if isinstance(piece, Commits):
            kept = []
            for event in expanded([piece]):
                mine = {
                    key: [row for row in event.payload[key] if row[n] in probes]
                    for key, n in (("rows", 1), ("ahead", 0))
                }
                kept += [(event.at, mine)] if mine["rows"] or mine["ahead"] else []
            assert [(event.at, event.payload) for event in expanded([piece.only(sorted(probes))])] == kept


def test_commits_out_of_order_are_refused():
    one = Event(T0, EventKind.READINGS, {"rows": [], "ahead": []})
    with pytest.raises(ValueError, match="in order"):
        commits_from_events([one, one])
    assert len(commits_from_events([one])[0]) == 1
    assert commits_from_events([]) == []


@given(
    drawn, st.lists(st.sampled_from("abcd"), max_size=4), st.integers(-1, 3 * WEEK), st.integers(0, 3 * WEEK), st.data()
)
def test_the_record_of_columns_is_the_record_as_far_as_it_is_reached(found, probes, start, length, data):
    history, plain = ColumnHistory(), MemoryHistory()
    pieces = commits_from_events(events_of(found))
    for number, piece in enumerate(pieces):
        if isinstance(piece, Event):
            history.take(piece.payload)
            plain.take(piece.payload)
            continue
        history.open(piece)
        reached = len(piece) if number < len(pieces) - 1 else data.draw(st.integers(0, len(piece)))
        history.reach(int(piece.first[reached]))
        for commit in range(reached):
            plain.take(piece.event(commit).payload)
    span = (T0 + start, T0 + start + length)
    assert list(history.readings(probes, *span)) == list(plain.readings(probes, *span))
    assert list(history.readings("abc", 0, 1 << 60)) == list(plain.readings("abc", 0, 1 << 60))


def test_further_values_are_found_by_series_and_time():
    history = ColumnHistory()
    values = [[5, "a", 2, "Cel"], [5, "a", 1, "Cel"], [7, "a", 1, "Cel"], [5, "b", 9, "K"]]
    history.take({"rows": [], "further": values})
    assert history.further(["b", "a", "a"], 5, 6) == [
        Reading(5, "a", 1, "Cel"),
        Reading(5, "a", 2, "Cel"),
        Reading(5, "b", 9, "K"),
    ]
    assert history.further(["a"], 6, 7) == [Reading(7, "a", 1, "Cel")]
    assert history.further(["a"], 8, 9) == history.further(["c"], 0, 9) == []


# Merged courses ---------------------------------------------------------------------------------------------------------

steps = st.lists(st.tuples(st.sampled_from("abc"), st.integers(0, 9), st.booleans()), max_size=20)


def lanes_of(found):
    lanes = []
    for name in sorted({one[0] for one in found}):
        mine = [(key, milli, late) for key, (who, milli, late) in enumerate(found) if who == name]
        key, milli = (np.array([one[n] for one in mine], np.int64) for n in (0, 1))
        late = np.array([one[2] for one in mine], np.bool_)
        lanes.append(SimpleNamespace(name=name, key=2 * key + 1, time=T0 + key, milli=milli, late=late))
    return lanes


@given(
    steps.filter(bool),
    st.dictionaries(st.sampled_from("abd"), st.integers(0, 9)),
    st.integers(0, 45),
    st.integers(0, 25),
)
def test_a_stream_has_the_highest_and_the_lowest_of_all_that_speak_after_each_reading(found, held, key, start):
    lanes = lanes_of(found)
    stream, newest = Stream(lanes, held), dict(held)
    high, low = [], []
    for name, milli, _ in found:
        newest[name] = milli
        high.append(max(newest.values()))
        low.append(min(newest.values()))
    assert (stream.high.values.tolist(), stream.low.values.tolist()) == (high, low)
    assert len(stream) == len(found)
    assert stream.milli.tolist() == [milli for _, milli, _ in found]
    count = stream.before(key)
    assert count == sum(2 * n + 1 < key for n in range(len(found)))
    last = {name: milli for name, milli, _ in found[:count]}
    assert {lane.name: int(lane.milli[index]) for lane, index in stream.newest(count)} == last
    prompt = [n for n in range(start, len(found)) if not found[n][2]]
    assert stream.first_prompt(start) == (prompt[0] if prompt else END)
    later = [n for n in range(start, len(found)) if n >= key // 2]
    assert stream.first_at(start, T0 + key // 2) == (later[0] if later else END)


def test_a_stream_is_made_once_for_the_same_lanes_and_values():
    kept = {}
    first = lanes_of([("a", 1, False), ("b", 2, False)])
    again = lanes_of([("a", 1, False), ("b", 2, False)])
    one = stream_of(first, {"c": 5}, kept)
    other = stream_of(again, {"c": 5}, kept)
    assert one.high is other.high
    assert other.lanes == again, "each run has lanes of its own"
    assert stream_of(first, {"c": 6}, kept).high is not one.high
