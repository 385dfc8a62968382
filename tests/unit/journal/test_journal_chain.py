"""The hash chain, and dropping whole days."""

import hashlib
import json

import pytest
from journal_yard import DAY, HOUR, MINUTE, T0, everything, feed, reading, writer_of

from monitor.journal import Kept, What, verify_chain
from monitor.model.events import EventKind

MIDNIGHT = T0 - 8 * HOUR
FIRST_DAY = MIDNIGHT // DAY


def days(writer, count=4, per_day=6):
    for day in range(count):
        for step in range(per_day):
            minute = day * 1440 + step * 60
            feed(writer, T0 + minute * MINUTE, reading(minute, micro=step * 1000), reading(minute, "air"))
        with writer.turn(T0 + day * DAY + 7 * HOUR) as turn:
            turn.event(EventKind.WORK, {"kind": "note", "note": "größe", "place": "p1", "time": T0 + day * DAY})


def test_the_chain_is_what_the_page_of_the_format_says(tmp_path):
    """A second reckoning, from docs/format-journal.md alone."""
    with writer_of(tmp_path) as writer:
        days(writer)
        heads, head, hashed, day = [], bytes(32), bytes(32), None
        for event in writer.store.events():
            if day is not None and event.at // DAY != day:
                head = hashlib.sha256(head + hashed).digest()
                heads.append((day, hashed, head))
                hashed = bytes(32)
            day = event.at // DAY
            payload = {key: [list(r) for r in v] if key == "rows" else v for key, v in event.payload.items()}
            text = json.dumps(
                {"payload": payload, "kind": str(event.kind), "at": event.at},
                sort_keys=True,
                separators=(",", ":"),
                ensure_ascii=False,
            )
            hashed = hashlib.sha256(hashed + text.encode()).digest()
        assert [(link.day, link.hash, link.head) for link in writer.store.chain()] == heads
        assert [link.events for link in writer.store.chain()] == [7, 7, 7]
        mark = writer.store.mark()
        assert (mark.day, mark.day_events, mark.day_hash) == (FIRST_DAY + 3, 7, hashed)
        assert writer._parts.ledger.head() == heads[-1][2]
        assert verify_chain(writer.store) == []


def test_late_data_belong_to_the_day_on_which_they_arrive(tmp_path):
    with writer_of(tmp_path) as writer:
        days(writer, 2)
        before = writer.store.chain()
        feed(writer, T0 + DAY + 8 * HOUR, reading(-5), reading(61))
        assert writer.store.chain() == before
        assert writer.store.mark().day_events == 8
        assert verify_chain(writer.store) == []


@pytest.mark.parametrize(
    ("statement", "day", "what"),
    [
        ("UPDATE reading SET micro = micro + 1 WHERE time = :t AND series = 1", 1, What.CHANGED),
        ("DELETE FROM reading WHERE time = :t AND series = 1", 1, What.CHANGED),
        ("UPDATE reading SET lag = lag + 1 WHERE time = :t AND series = 1", 1, What.CHANGED),
        ("INSERT INTO reading VALUES (1, :t + 1, 5, -1)", 1, What.CHANGED),
        ("UPDATE series SET unit = 'K' WHERE id = 1", 0, What.CHANGED),
        ("UPDATE event SET payload = replace(payload, 'note', 'seen') WHERE at > :t", 1, What.CHANGED),
        ("DELETE FROM event WHERE at > :t AND at < :t + 86400000", 1, What.CHANGED),
        ("UPDATE event SET kind = 'answer' WHERE at > :t AND at < :t + 86400000", 1, What.CHANGED),
        ("DELETE FROM chain WHERE day = :day", 1, What.MISSING),
        ("UPDATE chain SET head = zeroblob(32) WHERE day = :day", 1, What.BROKEN),
        ("UPDATE chain SET hash = zeroblob(32) WHERE day = :day", 1, What.CHANGED),
        ("UPDATE chain SET pruned = 1 WHERE day = :day", 1, What.CHANGED),
        ("UPDATE reading SET micro = 7 WHERE time > :t + 172000000", 3, What.CHANGED),
    ],
)
def test_whatever_is_changed_is_found_on_its_day(tmp_path, statement, day, what):
    with writer_of(tmp_path) as writer:
        days(writer)
        writer.store.connection.execute(statement, {"t": T0 + DAY, "day": FIRST_DAY + 1})
        writer.store.book.reload()
        faults = [finding for finding in verify_chain(writer.store) if finding.is_fault()]
        assert (FIRST_DAY + day, what) in [(finding.day, finding.what) for finding in faults]


def test_old_days_are_dropped_whole_and_the_chain_says_pruned(tmp_path):
    with writer_of(tmp_path) as writer:
        days(writer, 6)
        feed(writer, T0 + 5 * DAY + 8 * HOUR, reading(30, "late"))
        writer.pack_closed_hours(T0 + 3 * DAY)
        heads = [link.head for link in writer.store.chain()]
        pruned = writer.prune(Kept(now=T0 + 5 * DAY + 9 * HOUR, days=2))
        assert pruned.days == [FIRST_DAY, FIRST_DAY + 1, FIRST_DAY + 2]
        assert pruned.rows == 36
        rows = everything(writer.store)
        assert [row for row in rows if row.time < T0 + 3 * DAY] == [reading(30, "late")]
        assert len(rows) == 37
        assert [link.head for link in writer.store.chain()] == heads
        findings = verify_chain(writer.store)
        assert [(finding.day, finding.what) for finding in findings] == [(FIRST_DAY + i, What.PRUNED) for i in range(3)]
        assert findings[0].sentence == "2026-03-01: pruned, 7 events"
        assert min(event.at for event in writer.store.events()) >= MIDNIGHT + 3 * DAY
        assert writer.prune(Kept(now=T0 + 5 * DAY + 9 * HOUR, days=2)).days == []


def test_protected_days_stay_with_all_that_tells_of_them(tmp_path):
    with writer_of(tmp_path) as writer:
        days(writer, 6)
        # Day 3 brings a late reading and day 4 a late piece of work of the protected time on day 1.
        feed(writer, T0 + 5 * DAY + 8 * HOUR, reading(1440 + 30, "late"))
        with writer.turn(T0 + 6 * DAY) as turn:
            turn.event(
                EventKind.CORRECTION, {"by": "ada", "of": 5, "work": {"time": T0 + DAY + HOUR, "kind": "turned"}}
            )
        feed(writer, T0 + 9 * DAY, reading(9 * 1440))
        span = (T0 + DAY, T0 + DAY + 2 * HOUR)
        pruned = writer.prune(Kept(now=T0 + 9 * DAY, days=1, protected=[span]))
        assert pruned.days == [FIRST_DAY + day for day in (0, 2, 3, 4)]
        assert pruned.protected == [FIRST_DAY + day for day in (1, 5, 6)]
        assert [finding for finding in verify_chain(writer.store) if finding.is_fault()] == []
        assert reading(1440 + 30, "late") in everything(writer.store)


def test_the_checkpoint_is_the_state_before_the_first_day_kept(tmp_path):
    with writer_of(tmp_path) as writer:
        assert writer.store.checkpoint() is None
        days(writer, 6)
        assert writer.store.checkpoint() is None
        writer.prune(Kept(now=T0 + 5 * DAY, days=2))
        checkpoint = writer.store.checkpoint()
        assert checkpoint.last_event == T0 + 2 * DAY + 7 * HOUR
        engine = type(writer.engine).restore(checkpoint.state)
        again = []
        for event in writer.store.events():
            again += engine.advance(event.at)
            again += engine.feed(event, writer.store)
        assert again == list(writer.store.effects(checkpoint.at))
        assert engine.count == writer.engine.count


def test_dropped_rows_take_their_flags_along_and_others_keep_theirs(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0, micro=85_000_000))
        feed(writer, T0 + DAY, reading(1440, micro=85_000_000), reading(7, micro=85_000_000))
        feed(writer, T0 + 2 * DAY, reading(2880))
        writer.prune(Kept(now=T0 + 2 * DAY, days=1))
        assert [flag.time for flag in writer.store.flags("p1-a")] == [T0 + 7 * MINUTE, T0 + DAY]
        assert feed(writer, T0 + 2 * DAY + 1, reading(0)).new_rows == 1


def test_nothing_is_dropped_that_is_young_enough(tmp_path):
    with writer_of(tmp_path) as writer:
        days(writer, 3)
        assert writer.prune(Kept(now=T0 + 2 * DAY, days=30)).days == []
        assert verify_chain(writer.store) == []
