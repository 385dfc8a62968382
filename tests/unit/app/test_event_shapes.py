"""Requests of a wrong shape are refused with a sentence; one that stands in the record changes nothing and stops nothing."""

import json
import sqlite3
from contextlib import closing
from types import SimpleNamespace

import pytest
from certificate_yard import HOUR, T0, Journal

from monitor.app.entries.work_log import work_log
from monitor.app.replay.replaying import read_recording, replay, stored_recording
from monitor.engine import Engine
from monitor.journal import Inbox, journal_path, open_writer, verify_chain
from monitor.model.event_shapes import wrong_request, wrong_shape
from monitor.model.events import Event, EventKind
from monitor.recordings import MemoryHistory, effect_line

DEEP = "[" * 3000 + "]" * 3000

POISON = [
    ("correction", '{"rows":1}'),
    ("stopped", '{"rows":1}'),
    ("started", '{"rows":1}'),
    ("started", '{"down_since":"x"}'),
    ("clock", '{"state":"confirmed","leap_from":"x"}'),
    ("clock", '{"by_ms":1}'),
    ("link", '{"what":"source"}'),
    ("settings", '{"settings":{"site":5}}'),
    ("settings", "{}"),
    ("work", '{"kind":"note","place":"p1","time":"x"}'),
    ("work", '{"kind":"note","place":"p1","time":99999999999999999}'),
    ("work", '{"kind":"dug","place":"p1"}'),
    ("work", '{"kind":"turned","place":["p1"]}'),
    ("correction", '{"of":"x","work":null}'),
    ("correction", '{"reading":{"time":1}}'),
    ("answer", '{"alarm":"p1/hot","answer":"maybe"}'),
    ("answer", '{"alarm":"p1/hot","answer":"put off","until":"noon"}'),
    ("imported", '{"work":[5]}'),
    ("imported", '{"work":[{"kind":"turned","place":"p1","time":"x"}]}'),
    ("readings", '{"rows":[],"ahead":[["p1-a"]]}'),
]

UNREADABLE = [
    ("work", DEEP),
    ("work", f'{{"kind":"note","note":{DEEP}}}'),
    ("dig", "{}"),
    ("readings", '{"rows":[["a","p1-a",1,"Cel"]]}'),
    ("readings", '{"rows":5}'),
]


@pytest.fixture
def yard(tmp_path):
    journal = Journal(tmp_path)
    journal.work(T0, "p1", "built")
    journal.hold(T0 + HOUR, T0 + 6 * HOUR, p1_a=60)
    yield journal
    journal.writer.close()


def put(folder, kind, text):
    with closing(sqlite3.connect(journal_path(folder), isolation_level=None)) as connection:
        return connection.execute(
            "INSERT INTO inbox (kind, payload, state, answer) VALUES (?, ?, 'waiting', '')", (kind, text)
        ).lastrowid


@pytest.mark.parametrize(("kind", "text"), [*POISON, *UNREADABLE])
def test_a_request_of_a_wrong_shape_is_answered_and_holds_up_no_other(yard, kind, text):
    before = [event.at for event in yard.writer.store.events()]
    wrong = put(yard.folder, kind, text)
    right = Inbox(yard.folder).submit(EventKind.WORK, {"kind": "turned", "place": "p1", "time": T0 + 7 * HOUR})
    with yard.writer.turn(T0 + 8 * HOUR) as turn:
        assert turn.drain() == 1
    reply = Inbox(yard.folder).answer(wrong)
    assert reply.at is None
    assert reply.refusal.startswith("the request is not understood: ")
    assert Inbox(yard.folder).answer(right).at == T0 + 8 * HOUR
    assert [event.at for event in yard.writer.store.events()] == [*before, T0 + 8 * HOUR]


def test_whatever_stands_in_the_record_the_daemon_starts_and_goes_on(yard):
    folder = yard.folder
    at = T0 + 8 * HOUR
    yard.writer.keep_snapshot()
    # Into the record as an older version took them in, past the inbox; then a kill.
    for number, (kind, text) in enumerate(POISON):
        if kind not in ("readings", "imported"):
            yard.put(at + number, EventKind(kind), json.loads(text))
    yard.writer._stale = True
    yard.writer.close()
    yard.writer = open_writer(folder, Engine, Engine.restore)
    assert yard.writer.resumed.replayed > 10
    assert verify_chain(yard.writer.store) == []
    yard.put(at + HOUR, EventKind.STARTED, {"down_since": at})
    yard.work(at + HOUR + 5, "p1", "turned")
    assert [one.logged.kind for one in work_log(yard.writer.store)] == ["built", "turned"]
    stored = [effect_line(effect) for effect in yard.writer.store.effects()]
    again = [effect_line(effect) for effect in replay(stored_recording(SimpleNamespace(data=folder)))]
    assert again == stored


@pytest.mark.parametrize(
    ("kind", "payload"),
    [
        (
            "work",
            {"kind": "fed", "place": "b1", "time": T0, "amount": "5", "measure": "lb", "by": "Ann", "entry": "a" * 22},
        ),
        ("correction", {"of": T0, "work": None, "by": "Ann"}),
        ("correction", {"reading": {"time": T0, "probe": "hand:p1"}}),
        ("answer", {"alarm": "p1/hot", "answer": "put off", "until": T0, "by": "Ann"}),
        ("readings", {"rows": [[T0, "hand:p1", 1, "Cel"]], "ahead": [], "by": "Ann", "depth": 300}),
        ("imported", {"work": [{"kind": "turned", "place": "p1", "time": T0}]}),
    ],
)
def test_what_people_really_ask_for_is_fine(kind, payload):
    assert wrong_request(EventKind(kind), payload) == ""


def test_every_event_of_a_yard_has_the_right_shape(yard):
    assert [wrong_shape(event.kind, event.payload) for event in yard.writer.store.events()] == [""] * 8


def test_an_event_of_readings_without_rows_is_one_without_readings(tmp_path):
    """Found by fuzzing: a file of events with such a line ended the replay with an error of the program."""
    path = tmp_path / "events.jsonl"
    path.write_text('{"at":"2026-07-19T12:00:00Z","kind":"readings","payload":{"ahead":[]}}\n')
    assert list(replay(read_recording([path], [], None))) == []
    engine = Engine()
    assert engine.feed(Event(T0, EventKind.READINGS, {"ahead": []}), MemoryHistory()) == []
