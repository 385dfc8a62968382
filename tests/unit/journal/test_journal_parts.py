"""What each part of a journal keeps to by itself: snapshots, seals, flags of old records, looks back, the end of a writer."""

import hashlib
import json
import sqlite3
from contextlib import closing

import pytest
from journal_fake_engine import FakeEngine
from journal_yard import DAY, HOUR, MINUTE, T0, everything, feed, reading, writer_of

from monitor.journal import Waiting, What, audit, journal_path, open_reader
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind
from monitor.model.readings import Reading


def snapshots(writer):
    rows = writer.store.connection.execute("SELECT at, opens_day FROM snapshot ORDER BY at").fetchall()
    return [((at - T0) // MINUTE, bool(opens)) for at, opens in rows]


def keep(writer):
    with writer.transaction():
        writer.keep_snapshot()


def test_the_newest_three_snapshots_are_kept_and_that_with_which_each_day_opens(tmp_path):
    with writer_of(tmp_path) as writer:
        for day in range(3):
            for minute in range(day * 1440, day * 1440 + 5):
                feed(writer, T0 + minute * MINUTE, reading(minute))
                keep(writer)
        # The state with which a day opens is that before its first event.
        assert snapshots(writer) == [(4, True), (1444, True), (2882, False), (2883, False), (2884, False)]
        keep(writer)
        assert snapshots(writer)[-1] == (2884, False)


def test_a_snapshot_that_opens_a_day_stays_one_when_it_is_kept_again(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        feed(writer, T0 + DAY, reading(1440))
        first = writer.store.connection.execute("SELECT * FROM snapshot WHERE opens_day > 0").fetchone()
        writer.store.connection.execute("DELETE FROM snapshot WHERE at > ?", (first[0],))
    with closing(sqlite3.connect(journal_path(tmp_path))) as connection:
        assert connection.execute("SELECT opens_day FROM snapshot WHERE at = ?", (first[0],)).fetchone() == (
            T0 // DAY + 1,
        )


def test_a_reading_that_came_later_is_no_part_of_what_was_known(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0 + 1, reading(0))
        feed(writer, T0 + 2, reading(0, micro=5))
        feed(writer, T0 + 3, reading(0, micro=6))
        span = ["p1-a", "nobody"], T0, T0 + HOUR
        both = [reading(0, micro=5), reading(0, micro=6)]
        assert writer.store.further(*span) == both
        assert writer.store.further(*span, T0 + 2) == both[:1]
        assert writer.store.further(*span, T0 + 1) == []
        assert writer.store.further(["p1-a"], T0 + 1, T0 + HOUR) == []
        assert writer.store.further_arrived(*span) == [(both[0], T0 + 2), (both[1], T0 + 3)]


class Looking(FakeEngine):
    """Decides by the further values that stand beside what comes."""

    def feed(self, event, history):
        effects = super().feed(event, history)
        seen = history.further(["p1-a"], T0, T0 + HOUR)
        return [*effects, self._effect(len(effects), "phase", "beside", sum(one.micro for one in seen), len(seen))]


def test_an_event_that_is_fed_again_sees_the_further_values_of_then(tmp_path):
    writer = writer_of(tmp_path, Looking, Looking.restore)
    feed(writer, T0 + 1, reading(0))
    for number in (2, 3):
        feed(writer, T0 + number, reading(0, micro=number))
    assert [one.draft.values["zulu"] for one in writer.store.effects()] == [0, 1, 2]
    writer.store.close()
    writer._lock.release()
    with writer_of(tmp_path, Looking, Looking.restore) as writer:
        assert (writer.resumed.replayed, writer.resumed.differences) == (3, [])


def test_an_engine_beside_stands_where_the_writers_does_and_shares_nothing_with_it(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0), reading(1))
        beside = writer.beside()
        assert beside is not writer.engine
        assert beside.snapshot() == writer.engine.snapshot()
        feed(writer, T0 + 1, reading(2))
        assert beside.count == 2


def test_readings_that_wait_are_counted_for_readers_too(tmp_path):
    with writer_of(tmp_path) as writer:
        rows = [Waiting("n/\udcff", T0, reading(minute)) for minute in range(3)]
        with writer.turn(T0) as turn:
            turn.keep_waiting(rows)
        with writer.turn(T0) as turn:
            turn.keep_waiting([])
        assert not turn.changed
        with open_reader(tmp_path) as store:
            assert store.waiting_readings() == 3
        with writer.turn(T0) as turn:
            assert turn.take_waiting(2) == [one._replace(source="n/?") for one in rows[:2]]
        assert turn.changed
        assert writer.store.waiting_readings() == 1
        with writer.turn(T0) as turn:
            assert len(turn.take_waiting(9)) == 1
            assert turn.take_waiting(9) == []


class Newer(FakeEngine):
    meaning = 2


@pytest.mark.parametrize("state", ["zeroblob(5)", "NULL", "x'789c030000000001'"])
def test_a_seal_whose_state_cannot_be_used_is_told_and_passed_over(tmp_path, state):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
    writer = writer_of(tmp_path, Newer, Newer.restore)
    feed(writer, T0 + HOUR, reading(60))
    count = writer.engine.count
    (sealed,) = writer.store.seals()
    if state == "NULL":
        writer.store.connection.execute("DELETE FROM seal")
    else:
        writer.store.connection.execute(f"UPDATE seal SET state = {state}")
    writer.store.connection.execute("DELETE FROM snapshot")
    writer.store.close()
    writer._lock.release()
    with writer_of(tmp_path, Newer, Newer.restore) as writer:
        (fault,) = writer.resumed.faults
        assert fault.startswith(f"the state kept with the seal at {sealed} ")
        assert fault.endswith(": it is passed over")
        assert writer.engine.count == count


def test_a_snapshot_that_is_passed_over_is_named_with_the_reason_and_what_is_done(tmp_path):
    class Shy(FakeEngine):
        @classmethod
        def restore(cls, data):
            raise KeyError

    writer = writer_of(tmp_path)
    feed(writer, T0, reading(0))
    keep(writer)
    writer.store.close()
    writer._lock.release()
    with writer_of(tmp_path, FakeEngine, Shy.restore) as writer:
        assert writer.resumed.faults == [f"the snapshot of {T0} cannot be used (KeyError): an older one is"]
        assert (writer.resumed.snapshot_at, writer.engine.count) == (None, 1)


def test_a_record_from_before_flags_were_summed_is_summed_with_its_next_flag(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0, micro=85_000_000))
        writer.store.connection.execute("UPDATE mark SET flags_sum = NULL, crc = NULL")
        assert audit(writer.store) == []
    with writer_of(tmp_path) as writer:
        feed(writer, T0 + 1, reading(1, micro=85_000_000))
        assert writer.store.mark().flags_sum is not None
        assert audit(writer.store) == []
        feed(writer, T0 + 2, reading(2, micro=85_000_000))
        assert audit(writer.store) == []
        writer.store.connection.execute("DELETE FROM flag WHERE time = ?", (T0,))
        assert [one.what for one in audit(writer.store)] == [What.CHANGED]


def test_after_a_fault_in_a_turn_no_snapshot_of_that_engine_is_kept(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        with pytest.raises(RuntimeError), writer.turn(T0 + 1) as turn:  # noqa: PT012
            turn.readings([reading(1)])
            raise RuntimeError
    with writer_of(tmp_path) as writer:
        assert (writer.resumed.replayed, writer.engine.count) == (1, 1)
        with pytest.raises(RuntimeError), writer:  # noqa: PT012
            feed(writer, T0 + 1, reading(1))
            raise RuntimeError
    with writer_of(tmp_path) as writer:
        assert (writer.resumed.replayed, writer.engine.count) == (2, 2)


def test_a_turn_that_changed_nothing_and_failed_keeps_its_engine(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        engine = writer.engine
        with pytest.raises(RuntimeError), writer.turn(T0 + 1):
            raise RuntimeError
        feed(writer, T0 + 1, reading(1))
        assert writer.engine is engine


def test_a_transaction_that_fails_leaves_nothing(tmp_path):
    full = sqlite3.OperationalError("full")
    full.sqlite_errorname = "SQLITE_FULL"
    with writer_of(tmp_path) as writer:
        with pytest.raises(RuntimeError), writer.transaction():  # noqa: PT012
            writer.set_cursor("mirror", 5)
            raise RuntimeError
        assert writer.store.cursor("mirror") is None
        with writer.transaction():
            writer.set_cursor("mirror", 7)
        assert writer.store.cursor("mirror") == 7
        with pytest.raises(UnavailableError, match="is full"), writer.transaction():
            raise full
        feed(writer, T0, reading(0))


def test_a_full_disk_does_not_keep_a_writer_from_ending(tmp_path):
    writer = writer_of(tmp_path)
    feed(writer, T0, *(reading(minute) for minute in range(50)))
    pages = writer.store.connection.execute("PRAGMA page_count").fetchone()[0]
    writer.store.connection.execute(f"PRAGMA max_page_count = {pages}")
    writer.engine.newest = {f"probe {number}{number * 7919 % 1_000}": number for number in range(9_000)}
    writer.close()
    writer.close()
    with writer_of(tmp_path) as again:
        assert len(everything(again.store)) == 50


def test_a_cursor_is_put_and_put_anew(tmp_path):
    with writer_of(tmp_path) as writer:
        for at in (5, 3):
            writer.set_cursor("mirror", at)
            assert writer.store.cursor("mirror") == at
        assert writer.store.cursor("other") is None


def spoilt(folder, *statements):
    """Return the faults' sentences of a journal with three packed blocks after some statements on its file."""
    with writer_of(folder) as writer:
        for day in (0, 1):
            feed(writer, T0 + day * DAY, *(reading(day * 1440 + minute) for minute in range(4)))
            writer.pack_closed_hours(T0 + day * DAY + HOUR)
        feed(writer, T0 + DAY + 1, reading(5, "air"))
        writer.pack_closed_hours(T0 + 9 * DAY)
        for statement in statements:
            writer.store.connection.execute(statement)
        writer.store.blocks.forget()
        return [one.sentence for one in audit(writer.store) if one.day < 0]


def test_sound_blocks_have_no_fault(tmp_path):
    assert spoilt(tmp_path) == []


@pytest.mark.parametrize("column", ["first", "last", "rows", "at_min", "at_max"])
def test_a_block_that_holds_other_rows_than_its_heading_says_is_named(tmp_path, column):
    said = spoilt(tmp_path, f"UPDATE block SET {column} = {column} + 1 WHERE series = 2")
    wrong = [one for one in said if "they are not those that their heading names" in one]
    (sentence,) = wrong
    assert sentence.startswith("the packed readings of air from 2026-03-01T08:05:00.00")


def test_blocks_of_one_probe_that_overlap_are_named(tmp_path):
    said = spoilt(
        tmp_path,
        "INSERT INTO block (series, first, last, rows, at_min, at_max, data) "
        "SELECT series, first + 1, last, rows, at_min, at_max, data FROM block WHERE series = 1 LIMIT 1",
    )
    assert any(one.endswith("they overlap those before them") for one in said)


def test_a_seal_that_no_event_tells_of_is_named(tmp_path):
    said = spoilt(tmp_path, f"INSERT INTO seal VALUES ({T0}, 1, zeroblob(4))")
    assert said == ["the seal of 2026-03-01T08:00:00.000Z: no event says so"]


def test_pages_are_checked_only_where_it_is_asked_for_and_days_are_told_as_they_go(tmp_path):
    with writer_of(tmp_path) as writer:
        for day in range(3):
            feed(writer, T0 + day * DAY, reading(day * 1440))
        told = []
        assert audit(writer.store, lambda *far: told.append(far), pages=False) == []
        assert told == [(0, 3), (1, 3), (2, 3)]


def test_work_is_kept_with_all_it_says_and_read_back_as_it_was(tmp_path):
    payload = {"kind": "turned", "place": "p1", "time": T0, "note": "größe \u2028", "more": [{"a": None, "b": True}]}
    with writer_of(tmp_path) as writer:
        with writer.turn(T0) as turn:
            assert turn.event(EventKind.WORK, payload) == T0
        (event,) = writer.store.events()
        assert (event.at, event.kind, event.payload) == (T0, EventKind.WORK, payload)
        with writer.turn(T0) as turn:
            at = turn.event(EventKind.IMPORTED, {"rows": [[T0, "a", 5, "Cel"]], "work": [{"kind": "note"}]})
        assert at == T0 + 1
        *_, imported = writer.store.events()
        assert imported.payload == {"rows": [Reading(T0, "a", 5, "Cel")], "work": [{"kind": "note"}]}


def test_the_sums_of_decisions_and_flags_are_what_the_page_of_the_format_says(tmp_path):
    """A second reckoning, from docs/format-journal.md alone."""

    def summed(rows):
        total = bytes(32)
        for row in rows:
            total = hashlib.sha256(total + json.dumps(row, ensure_ascii=False, separators=(",", ":")).encode()).digest()
        return len(rows), total

    with writer_of(tmp_path) as writer:
        for day in (0, 1):
            for micro in (70_000_000, 85_000_000):
                minute = day * 1440 + micro // 1_000_000
                feed(writer, T0 + minute * MINUTE, reading(minute, micro=micro))
        names = "at, ordinal, place, kind, axis, before, after, why, since, reason, probe, vals, text"
        rows = writer.store.connection.execute(f"SELECT {names} FROM effect ORDER BY at, ordinal").fetchall()
        (link,), mark = writer.store.chain(), writer.store.mark()
        until = link.effects_until
        assert (link.effects, link.effects_hash) == summed([list(row) for row in rows if row[0] <= until])
        assert (mark.effects, mark.effects_hash) == summed([list(row) for row in rows if row[0] > until])
        assert link.effects > 2
        assert mark.effects > 2
        flags = writer.store.connection.execute("SELECT series, time, flag, reason, at FROM flag").fetchall()
        weights = [hashlib.sha256(json.dumps(list(row), separators=(",", ":")).encode()).digest() for row in flags]
        total = sum(int.from_bytes(one, "big") for one in weights) % (1 << 256)
        assert mark.flags_sum == total.to_bytes(32, "big")


def test_a_reader_that_holds_a_view_sees_one_state_through_all_it_asks(tmp_path):
    with writer_of(tmp_path) as writer, open_reader(tmp_path) as store:
        feed(writer, T0, reading(0))
        with store.view():
            assert len(everything(store)) == 1
            assert store.mark().last_event == T0
            feed(writer, T0 + 1, reading(1))
            with store.view():
                assert store.mark().last_event == T0
            assert (store.mark().last_event, len(everything(store))) == (T0, 1)
        assert (store.mark().last_event, len(everything(store))) == (T0 + 1, 2)


def test_a_flag_is_final_with_the_event_that_brought_it_whatever_the_writers_clock_says(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        feed(writer, T0, reading(1, micro=85_000_000))
        (flag,) = writer.store.flags("p1-a")
        assert flag.at == T0 + 1
        assert writer.store.flags_after(T0, 10) == [flag]
