"""Coming back: the tail is fed again, compared, and nothing is decided or sent twice."""

import sqlite3
from contextlib import closing

import pytest
from journal_fake_engine import FakeEngine
from journal_yard import DAY, HOUR, MINUTE, T0, feed, reading, writer_of

from monitor.journal import journal_path
from monitor.model.events import EventKind


def crash(writer):
    """End a writer as a power cut would: no last snapshot."""
    writer.store.close()
    writer._lock.release()


def busy_hour(writer, start=0, minutes=57):
    for minute in range(start, start + minutes):
        hot = 70_000_000 if minute % 7 == 0 else 20_000_000
        late = [reading(minute - 30.5)] if minute % 11 == 10 else []
        feed(writer, T0 + minute * MINUTE, reading(minute, micro=hot), reading(minute, "air"), *late)
    with writer.turn(T0 + (start + minutes) * MINUTE) as turn:
        turn.event(EventKind.WORK, {"kind": "turned", "place": "p1", "time": T0})
        turn.advance(T0 + (start + minutes) * MINUTE + 120_000)


def test_the_first_start_knows_nothing(tmp_path):
    with writer_of(tmp_path) as writer:
        resumed = writer.resumed
        assert (resumed.down_since, resumed.replayed, resumed.differences, resumed.faults) == (None, 0, [], [])


def test_after_a_crash_the_engine_is_where_it_was(tmp_path):
    writer = writer_of(tmp_path)
    busy_hour(writer)
    state, effects = writer.engine.snapshot(), list(writer.store.effects())
    outbox = writer.dispatch.rows()
    crash(writer)
    with writer_of(tmp_path) as writer:
        assert writer.engine.snapshot() == state
        assert writer.resumed.differences == []
        assert writer.resumed.down_since == T0 + 57 * MINUTE + 120_000
        assert 0 < writer.resumed.replayed <= 7
        assert list(writer.store.effects()) == effects
        assert writer.dispatch.rows() == outbox
        assert outbox


def test_history_is_seen_as_it_stood_when_an_event_is_fed_again(tmp_path):
    writer = writer_of(tmp_path)
    # Both late readings look back over what had come by then; fed again, the first must not see the second.
    feed(writer, T0, reading(0), reading(10))
    feed(writer, T0 + 1, reading(5))
    feed(writer, T0 + 2, reading(6))
    looked = [effect.draft.values["zulu"] for effect in writer.store.effects()]
    assert looked == [2, 2]
    writer.pack_closed_hours(T0 + DAY)
    crash(writer)
    with writer_of(tmp_path) as writer:
        assert writer.resumed.replayed == 3
        assert writer.resumed.differences == []


def test_a_clean_stop_leaves_nothing_to_feed_again(tmp_path):
    with writer_of(tmp_path) as writer:
        busy_hour(writer, minutes=3)
    with writer_of(tmp_path) as writer:
        assert writer.resumed.replayed == 0


def test_the_start_reads_only_the_tail(tmp_path):
    writer = writer_of(tmp_path)
    for hour in range(5):
        busy_hour(writer, hour * 60)
    writer.pack_closed_hours(T0 + 4 * HOUR)
    crash(writer)
    with writer_of(tmp_path) as writer:
        assert writer.resumed.replayed <= 7
        assert writer.store.connection.execute("SELECT count(*) FROM snapshot").fetchone()[0] <= 4


def test_an_engine_that_decides_otherwise_is_told_and_changes_nothing(tmp_path):
    class Other(FakeEngine):
        def _effect(self, ordinal, kind, after, micro, n, at=None):
            return super()._effect(ordinal, kind, after.upper() if after == "hot" else after, micro, n, at)

    writer = writer_of(tmp_path)
    feed(writer, T0, reading(0, micro=70_000_000))
    feed(writer, T0 + 1, reading(1))
    effects = list(writer.store.effects())
    crash(writer)
    with writer_of(tmp_path, Other, Other.restore) as writer:
        (difference,) = writer.resumed.differences
        assert (difference.at, difference.ordinal) == (T0, 0)
        assert difference.sentence() == (
            f"effect {T0}/0 was decided as 'hot after 1' and would now be 'HOT after 1'; the record stays as it is"
        )
        assert list(writer.store.effects()) == effects
        assert len(writer.dispatch.rows()) == 2


@pytest.mark.parametrize("damage", ["version", "bytes"])
def test_a_snapshot_that_cannot_be_used_is_passed_over(tmp_path, damage):
    class Newer(FakeEngine):
        version = 2

    engine = FakeEngine if damage == "bytes" else Newer
    writer = writer_of(tmp_path)
    busy_hour(writer)
    count = writer.engine.count
    if damage == "bytes":
        writer.store.connection.execute("UPDATE snapshot SET state = x'00' WHERE at = (SELECT max(at) FROM snapshot)")
    crash(writer)
    with writer_of(tmp_path, engine, engine.restore) as writer:
        assert len(writer.resumed.faults) == (1 if damage == "bytes" else 3)
        assert "cannot be used" in writer.resumed.faults[0]
        assert writer.engine.count == count
        assert writer.resumed.differences == []


def test_more_than_a_day_of_turns_and_packing_come_back_the_same(tmp_path):
    writer = writer_of(tmp_path)
    for day in range(3):
        for step in range(6):
            minute = day * 1440 + step * 240
            feed(writer, T0 + minute * MINUTE, reading(minute, micro=70_000_000), reading(minute - 700))
    state = writer.engine.snapshot()
    writer.store.connection.execute("DELETE FROM snapshot")
    writer.pack_closed_hours(T0 + 2 * DAY)
    crash(writer)
    with writer_of(tmp_path) as writer:
        assert writer.resumed.replayed == 18
        assert writer.resumed.differences == []
        assert writer.engine.snapshot() == state


def test_of_the_snapshots_within_a_day_a_few_are_kept(tmp_path):
    with writer_of(tmp_path) as writer:
        for minute in range(10):
            feed(writer, T0 + minute * MINUTE, reading(minute))
            with writer.transaction():
                writer.keep_snapshot()
    with closing(sqlite3.connect(journal_path(tmp_path))) as connection:
        kept = [at for (at,) in connection.execute("SELECT at FROM snapshot WHERE opens_day = 0 ORDER BY at")]
    assert 1 <= len(kept) <= 4
    assert kept[-1] == T0 + 9 * MINUTE
