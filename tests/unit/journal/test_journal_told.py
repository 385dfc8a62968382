"""What a journal tells of itself: which days were checked and how far, what a start did, what was sealed, who is refused."""

import os
import threading
import time

import pytest
from journal_fake_engine import HOT_MICRO, FakeEngine
from journal_yard import DAY, HOUR, MINUTE, T0, feed, reading, writer_of

from monitor.journal import Inbox, What, WriterLock, audit_days, holder, verify_chain
from monitor.journal.resume import Difference
from monitor.journal.schema import MIGRATIONS
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind

FIRST_DAY = T0 // DAY
HOT = HOT_MICRO + 1_000_000


def days(writer, count):
    for day in range(count):
        feed(writer, T0 + day * DAY, reading(day * 1440, micro=HOT))


def spoil(writer, *days):
    for day in days:
        writer.store.connection.execute("UPDATE reading SET micro = 7 WHERE time = ?", (T0 + day * DAY,))


def test_only_the_days_that_were_asked_for_are_checked(tmp_path):
    with writer_of(tmp_path) as writer:
        days(writer, 4)
        spoil(writer, 1, 3)
        assert [one.day - FIRST_DAY for one in verify_chain(writer.store)] == [1, 3]
        told = []
        found = verify_chain(writer.store, [FIRST_DAY, FIRST_DAY + 1, FIRST_DAY + 77], lambda *far: told.append(far))
        assert [one.day - FIRST_DAY for one in found] == [1]
        assert told == [(0, 2), (1, 2)]
        assert [one.day - FIRST_DAY for one in audit_days(writer.store, {FIRST_DAY + 3})] == [3]
        assert audit_days(writer.store, {FIRST_DAY + 2}) == []


def test_flags_are_checked_with_whatever_days(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0, micro=85_000_000))
        writer.store.connection.execute("UPDATE flag SET flag = 3")
        (found,) = audit_days(writer.store, {FIRST_DAY})
        assert found.sentence == "the flags of readings: they are not those that were given"


@pytest.mark.parametrize(
    ("per_day", "statement", "said"),
    [
        (1, "UPDATE reading SET micro = 7", "1 event was entered and has been changed since"),
        (2, "UPDATE reading SET micro = 7", "2 events were entered and have been changed since"),
        (2, "DELETE FROM reading WHERE time > :t", "2 events were entered, but it holds 1"),
        (1, "DELETE FROM reading", "1 event was entered, but it holds 0"),
    ],
)
def test_a_day_that_was_changed_says_what_was_entered_and_what_is_there(tmp_path, per_day, statement, said):
    with writer_of(tmp_path) as writer:
        for step in range(per_day):
            feed(writer, T0 + step * MINUTE, reading(step))
        writer.store.connection.execute(statement, {"t": T0})
        (found,) = verify_chain(writer.store)
        assert (found.what, found.sentence) == (What.CHANGED, f"2026-03-01: {said}")


@pytest.mark.parametrize("closed", [False, True])
def test_a_decision_or_a_message_that_was_changed_is_counted_on_its_day(tmp_path, closed):
    with writer_of(tmp_path) as writer:
        days(writer, 2 if closed else 1)
        connection = writer.store.connection
        connection.execute("UPDATE effect SET why = 'nothing' WHERE at = ? AND ordinal = 0", (T0,))
        connection.execute("UPDATE outbox SET text = 'all is well' WHERE at = ? AND channel = 'mail'", (T0,))
        said = [one.sentence for one in verify_chain(writer.store)]
        assert said == [
            "2026-03-01: 2 decisions were entered and have been changed since",
            "2026-03-01: 2 notices are not those that were decided",
        ]


def test_the_newest_of_a_kind_is_known_by_its_instant(tmp_path):
    with writer_of(tmp_path) as writer:
        assert writer.store.last_of(EventKind.WORK) is None
        for minute in (0, 5):
            with writer.turn(T0 + minute * MINUTE) as turn:
                turn.event(EventKind.WORK, {"kind": "note"})
        feed(writer, T0 + HOUR, reading(0))
        assert writer.store.last_of(EventKind.WORK) == T0 + 5 * MINUTE
        assert [one.at for one in writer.store.events_of(EventKind.WORK)] == [T0, T0 + 5 * MINUTE]


class Newer(FakeEngine):
    meaning = 2


class Stubborn(Newer):
    """Cannot work the record out again: it must be sealed as it stands."""

    def feed(self, event, history):
        if event.payload.get("rework"):
            raise KeyError("p1")
        return super().feed(event, history)


@pytest.mark.parametrize(("engine", "rework", "why"), [(Newer, True, None), (Stubborn, False, "KeyError: 'p1'")])
def test_a_record_of_another_meaning_is_sealed_with_when_it_rested_and_why_it_is_not_worked_out(
    tmp_path, engine, rework, why
):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
    with writer_of(tmp_path, engine, engine.restore) as writer:
        with writer.turn(T0 + HOUR) as turn:
            turn.readings([reading(60)])
        first, sealed, last = writer.store.events()
        assert (first.at, sealed.kind, last.at) == (T0, EventKind.SEALED, sealed.at + 1)
        payload = dict(sealed.payload)
        assert len(payload.pop("state")) == 64
        assert payload == {"meaning": 2, "down_since": T0, "rework": rework} | ({"why": why} if why else {})
        assert list(writer.store.seals()) == [sealed.at]
        assert writer.store.mark().meaning == 2
        assert verify_chain(writer.store) == []


def crash(writer):
    writer.store.close()
    writer._lock.release()


def test_a_start_counts_the_events_and_the_readings_that_it_feeds_again(tmp_path):
    writer = writer_of(tmp_path)
    feed(writer, T0, reading(0), reading(1))
    feed(writer, T0 + 1, reading(2))
    with writer.turn(T0 + 2) as turn:
        turn.event(EventKind.IMPORTED, {"rows": [list(reading(3)), list(reading(4)), list(reading(5))]})
        turn.event(EventKind.WORK, {"kind": "note"})
    crash(writer)
    with writer_of(tmp_path) as writer:
        assert (writer.resumed.replayed, writer.resumed.replayed_rows) == (4, 6)
        assert (writer.resumed.snapshot_at, writer.resumed.down_since) == (None, T0 + 3)
    with writer_of(tmp_path) as writer:
        assert (writer.resumed.replayed, writer.resumed.replayed_rows, writer.resumed.snapshot_at) == (0, 0, T0 + 3)


def test_what_would_be_decided_otherwise_is_said_either_way(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0, micro=HOT))
        effect = next(writer.store.effects())
    end = "; the record stays as it is"
    begin = f"effect {T0}/0 "
    assert Difference(T0, 0, None, effect).sentence() == (f"{begin}would now be decided but was not (hot after 1){end}")
    assert Difference(T0, 0, effect, None).sentence() == f"{begin}was decided but would not be now (hot after 1){end}"


@pytest.mark.parametrize(("now", "then"), [("cold", "silent"), ("silent", "cold")])
def test_each_effect_that_a_start_decides_otherwise_is_named_once(tmp_path, now, then):
    class Quiet(FakeEngine):
        """Says nothing of what is hot."""

        def feed(self, event, history):
            return [one for one in super().feed(event, history) if one.draft.after != "hot"]

    engines = (FakeEngine, Quiet) if now == "silent" else (Quiet, FakeEngine)
    writer = writer_of(tmp_path, engines[0], engines[0].restore)
    feed(writer, T0, reading(0, micro=HOT))
    crash(writer)
    with writer_of(tmp_path, engines[1], engines[1].restore) as writer:
        (found,) = writer.resumed.differences
        assert (found.stored is None, found.again is None) == ((False, True) if now == "silent" else (True, False))


def nested(levels):
    return {"kind": "note", "more": nested(levels - 1)} if levels > 1 else {"kind": "note"}


def test_a_request_that_is_nested_without_end_is_refused_before_it_is_kept(tmp_path):
    with writer_of(tmp_path):
        inbox = Inbox(tmp_path)
        with pytest.raises(ValueError, match="nested too deeply"):
            inbox.submit(EventKind.WORK, nested(40))
        assert inbox.answer(inbox.submit(EventKind.WORK, nested(30))) is None


def test_a_journal_of_an_older_version_takes_no_request(tmp_path):
    with writer_of(tmp_path) as writer:
        writer.store.connection.execute(f"PRAGMA user_version = {len(MIGRATIONS) - 1}")
        with pytest.raises(UnavailableError, match="is of an older version: start the daemon once"):
            Inbox(tmp_path).submit(EventKind.WORK, {"kind": "note"})


def test_requests_are_answered_in_the_order_they_came_those_that_make_no_sense_at_once(tmp_path):
    with writer_of(tmp_path) as writer:
        inbox = Inbox(tmp_path)
        asked = [inbox.submit(EventKind.WORK, {"kind": "note", "note": str(n)}) for n in range(3)]
        odd = inbox.submit(EventKind.STARTED, {})
        assert [one.id for one in writer.requests.waiting(2)] == asked[:2]
        assert [one.payload["note"] for one in writer.requests.waiting()] == ["0", "1", "2"]
        assert inbox.answer(odd).refusal == "the request is not understood: started cannot be asked for"
        assert inbox.answer(odd).at is None


def test_whoever_waits_for_an_answer_in_vain_is_let_go_in_time(tmp_path):
    with writer_of(tmp_path):
        inbox = Inbox(tmp_path)
        number, begun = inbox.submit(EventKind.WORK, {"kind": "note"}), time.monotonic()
        assert inbox.await_answer(number, 0.12) is None
        assert 0.1 <= time.monotonic() - begun < 5


def test_a_writer_that_may_wait_gets_the_folder_once_it_is_free(tmp_path):
    lock = WriterLock(tmp_path)
    threading.Timer(0.15, lock.release).start()
    with WriterLock(tmp_path, wait_s=20):
        assert holder(tmp_path) == os.getpid()
    assert holder(tmp_path) is None
    lock.release()


def test_a_writer_that_nobody_can_name_still_holds_the_folder(tmp_path):
    with WriterLock(tmp_path):
        for text in (b"", b"\xff\xfe", b"soon"):
            (tmp_path / "writer.lock").write_bytes(text)
            assert holder(tmp_path) == 0
            with pytest.raises(UnavailableError, match=r"^another writer already holds the data folder "):
                WriterLock(tmp_path)
        (tmp_path / "writer.lock").unlink()
        assert holder(tmp_path) == 0
    assert holder(tmp_path / "nowhere") is None


def test_the_lock_names_one_process_though_an_older_name_was_longer(tmp_path):
    (tmp_path / "writer.lock").write_text("99999999999999\n")
    with WriterLock(tmp_path):
        assert (tmp_path / "writer.lock").read_text() == f"{os.getpid()}\n"
