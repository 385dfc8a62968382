"""The journal's limits at, just under and just over each: spans, snapshots, cursors; and what a fault of SQLite is called."""

import sqlite3
from pathlib import Path

import pytest
from journal_fake_engine import HOT_MICRO
from journal_yard import DAY, HOUR, MINUTE, T0, feed, reading, writer_of

from monitor.journal import Inbox, Kept, days_of, dropped_entries
from monitor.journal.arrival_index import LATE_MS, SPAN_MS, SPAN_ROWS, SpanKeeper
from monitor.journal.storage_faults import DamagedError, told
from monitor.model.errors import InvariantError, UnavailableError
from monitor.model.events import EventKind
from monitor.model.readings import Reading

DAWN = T0 // DAY * DAY
"""Midnight UTC before `T0`."""


def spans(folder, *events):
    """Return the spans that stand after some events' rows (at, lowest and highest time, how many) were noted."""
    with writer_of(folder) as writer:
        keeper = SpanKeeper(writer.store.connection)
        for event in events:
            keeper.note(*event)
        return writer.store.connection.execute("SELECT * FROM span ORDER BY first_at").fetchall()


@pytest.mark.parametrize(("rows", "joined"), [(SPAN_ROWS - 1, True), (SPAN_ROWS, False)])
def test_a_span_holds_so_many_rows_and_no_more(tmp_path, rows, joined):
    found = spans(tmp_path, (T0, T0, T0, 1), (T0 + 1, T0 - 5, T0 + 1, rows))
    assert found == (
        [(T0, T0 + 1, T0 - 5, T0 + 1, rows + 1)]
        if joined
        else [(T0, T0, T0, T0, 1), (T0 + 1, T0 + 1, T0 - 5, T0 + 1, rows)]
    )


@pytest.mark.parametrize(("later", "count"), [(SPAN_MS, 1), (SPAN_MS + 1, 2)])
def test_a_span_lasts_six_hours(tmp_path, later, count):
    assert len(spans(tmp_path, (T0, T0, T0, 1), (T0 + later, T0 + later, T0 + later, 1))) == count


@pytest.mark.parametrize(("at", "count"), [(DAWN + DAY - 1, 1), (DAWN + DAY, 2)])
def test_a_span_never_crosses_a_day(tmp_path, at, count):
    start = DAWN + DAY - HOUR
    assert len(spans(tmp_path, (start, start, start, 1), (at, at, at, 1))) == count


@pytest.mark.parametrize(("lag", "count"), [(LATE_MS, 1), (LATE_MS + 1, 2)])
def test_what_is_late_stands_in_a_span_of_its_own(tmp_path, lag, count):
    assert len(spans(tmp_path, (T0, T0, T0, 1), (T0 + 9, T0 + 9 - lag, T0 + 9, 1))) == count


def snapshots(writer):
    return [at for (at,) in writer.store.connection.execute("SELECT at FROM snapshot ORDER BY at")]


@pytest.mark.parametrize("limit", ["SNAPSHOT_ROWS", "SNAPSHOT_EVENTS"])
def test_a_snapshot_is_kept_when_so_much_has_come(tmp_path, monkeypatch, limit):
    monkeypatch.setattr(f"monitor.journal.writer_parts.{limit}", 3)
    monkeypatch.setattr("monitor.journal.writer_parts.SNAPSHOT_MS", DAY)
    with writer_of(tmp_path) as writer:
        for minute in range(7):
            feed(writer, T0 + minute * MINUTE, reading(minute))
        assert snapshots(writer) == [T0 + 2 * MINUTE, T0 + 5 * MINUTE]


@pytest.mark.parametrize(("later", "kept"), [(5 * MINUTE - 1, False), (5 * MINUTE, True)])
def test_a_snapshot_is_kept_after_five_minutes_in_which_something_came(tmp_path, later, kept):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        assert snapshots(writer) == []
        feed(writer, T0 + later, reading(1))
        assert bool(snapshots(writer)) is kept
        with writer.turn(T0 + HOUR) as turn:
            turn.advance(T0 + HOUR)
        assert len(snapshots(writer)) == 1, "time alone is no reason for another"


def test_an_instant_that_is_past_is_not_served_again(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        with writer.turn(T0) as turn:
            turn.advance(T0)
            turn.advance(T0 - HOUR)
        assert turn.outcome.effects == []
        assert not turn.changed
        with writer.turn(T0 + HOUR) as turn:
            turn.advance(T0 + HOUR)
            turn.advance(T0 + 1)
        assert [effect.draft.after for effect in turn.outcome.effects] == ["silent"]
        assert writer.store.mark().latest() == T0 + HOUR


@pytest.mark.parametrize("n", [0, 1, 2, 3, 4])
def test_a_cursor_gets_at_least_so_many_and_never_half_an_instant(tmp_path, n):
    hot = HOT_MICRO + 1
    with writer_of(tmp_path) as writer:
        # Two effects of one instant, then two of another.
        for hour in (1, 2):
            feed(writer, T0 + hour * MINUTE, reading(hour, micro=hot))
        found = writer.store.effects_after(T0, n)
        assert [effect.at - T0 for effect in found] == [MINUTE, MINUTE, *([2 * MINUTE] * 2 if n > 2 else [])]
        assert writer.store.effects_after(T0 + 2 * MINUTE, n) == []


@pytest.mark.parametrize("n", [0, 1, 2, 3])
def test_flags_come_by_whole_instants_too(tmp_path, n):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0, micro=85_000_000), reading(0, "p1-b", micro=85_000_000))
        feed(writer, T0 + MINUTE, reading(1, micro=85_000_000))
        found = writer.store.flags_after(T0 - 1, n)
        assert [flag.at - T0 for flag in found] == [0, 0, *([MINUTE] if n > 2 else [])]


def test_work_alone_is_an_event_and_rows_that_are_there_already_are_none(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        with writer.turn(T0 + 1) as turn:
            assert turn.event(EventKind.READINGS, {"rows": [list(reading(0))]}) is None
            assert turn.event(EventKind.WORK, {"kind": "turned"}) == T0 + 1
        assert [event.at for event in writer.store.events()] == [T0, T0 + 1]


def fault(name, text="it went wrong", kind=sqlite3.OperationalError):
    made = kind(text)
    if name:
        made.sqlite_errorname = name
    return made


@pytest.mark.parametrize(
    ("raised", "kind", "words"),
    [
        (fault("SQLITE_FULL"), UnavailableError, "is full"),
        (fault("SQLITE_READONLY_DBMOVED"), UnavailableError, "read-only"),
        (fault("SQLITE_CANTOPEN_ISDIR"), UnavailableError, "cannot be opened"),
        (fault("SQLITE_PERM"), UnavailableError, "may not"),
        (fault("SQLITE_BUSY_SNAPSHOT"), UnavailableError, "another process"),
        (fault("SQLITE_IOERR_READ", "bad sector"), UnavailableError, "bad sector"),
        (fault("SQLITE_CORRUPT"), DamagedError, "damaged"),
        (fault("SQLITE_NOTADB"), DamagedError, "damaged"),
        (fault("", "file is not a database", sqlite3.DatabaseError), DamagedError, "damaged"),
        (fault("", "Could not decode to UTF-8"), DamagedError, "damaged"),
        (fault("SQLITE_CONSTRAINT", "not a database of this kind"), InvariantError, "OperationalError"),
        (fault("", "no such table: x"), InvariantError, "no such table"),
        (ValueError("not a database"), InvariantError, "ValueError"),
        (OSError(5, "Input/output error"), UnavailableError, "Input/output error"),
    ],
)
def test_each_fault_of_the_disk_is_called_by_what_it_is(raised, kind, words):
    found = told(Path("/yard/journal.db"), raised)
    assert type(found) is kind
    assert words in str(found)
    assert "/yard/journal.db" in str(found)


def test_the_days_of_a_record_are_those_on_which_something_came(tmp_path):
    with writer_of(tmp_path) as writer:
        assert days_of(writer.store) == []
        feed(writer, T0, reading(0))
        # Of another day by its own time: a day of the record is that of its arrival.
        feed(writer, T0 + 3 * DAY, reading(1))
        with writer.turn(T0 + 5 * DAY) as turn:
            turn.event(EventKind.WORK, {"kind": "turned"})
        assert [day - T0 // DAY for day in days_of(writer.store)] == [0, 3, 5]


def test_whoever_asks_for_rows_to_be_taken_in_is_told_how_many_were_new(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0, micro=1), reading(1, micro=2))
        rows = [
            list(reading(0, micro=1)),
            list(reading(1, micro=9)),
            list(reading(2, micro=3)),
            list(reading(3, micro=4)),
        ]
        inbox = Inbox(tmp_path)
        asked = [inbox.submit(EventKind.READINGS, {"rows": rows}), inbox.submit(EventKind.WORK, {"kind": "note"})]
        with writer.turn(T0 + HOUR) as turn:
            assert turn.drain() == 2
        some, none = (inbox.await_answer(one, 1) for one in asked)
        assert (some.new, some.repeated, some.conflicts) == (2, 1, 1)
        assert (none.new, none.repeated, none.conflicts, none.refusal) == (0, 0, 0, "")
        assert some.at < none.at


@pytest.mark.parametrize(
    ("protected", "stays"),
    [
        ((DAWN - HOUR, DAWN - 1), False),
        ((DAWN - HOUR, DAWN), True),
        ((DAWN + DAY - 1, DAWN + DAY + HOUR), True),
        ((DAWN + DAY, DAWN + DAY + HOUR), False),
    ],
)
def test_a_day_stays_for_what_is_protected_between_its_midnights(tmp_path, protected, stays):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        feed(writer, T0 + 9 * DAY, reading(9 * 1440))
        pruned = writer.prune(Kept(now=T0 + 9 * DAY, days=1, protected=[protected]))
        assert (pruned.days == []) is stays
        assert pruned.protected == ([DAWN // DAY] if stays else [])


def test_what_people_entered_is_counted_by_the_day_that_goes_from_midnight_to_midnight(tmp_path):
    with writer_of(tmp_path) as writer:
        for at in (DAWN, DAWN + DAY - 1, DAWN + DAY):
            feed(writer, at, Reading(at - MINUTE, "hand:p1", 55_000_000, "Cel"), reading(at // MINUTE))
        with writer.turn(DAWN + DAY + HOUR) as turn:
            turn.event(EventKind.WORK, {"time": DAWN, "kind": "note"})
        feed(writer, T0 + 9 * DAY, reading(9 * 1440))
        writer.prune(Kept(now=T0 + 9 * DAY, days=1))
        assert dropped_entries(writer.store) == {DAWN: 2, DAWN + DAY: 2}
