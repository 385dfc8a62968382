"""Bits that flip in the file: no other value comes out without a word, and nothing ends in a traceback."""

import random
import sqlite3

import pytest
from journal_fake_engine import FakeEngine
from journal_yard import DAY, HOUR, T0, feed, reading, writer_of

from monitor.journal import DamagedError, What, audit, journal_path, open_reader
from monitor.model.errors import MonitorError
from monitor.model.events import EventKind
from monitor.recordings import effect_line, event_line

FLIPS = 200


class Older(FakeEngine):
    meaning = 0


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """The bytes of a journal that has some of everything."""
    folder = tmp_path_factory.mktemp("whole")
    with writer_of(folder, Older, Older.restore) as writer:
        fill(writer, 0)
    with writer_of(folder) as writer:
        fill(writer, 1)
        writer.pack_closed_hours(T0 + DAY + 6 * HOUR)
        fill(writer, 2)
    connection = sqlite3.connect(journal_path(folder), isolation_level=None)
    connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute("VACUUM")
    connection.close()
    return journal_path(folder).read_bytes()


def fill(writer, day):
    for step in range(36):
        minute = day * 1440 + step * 11
        micro = 85_000_000 if step % 12 == 5 else 61_000_000 if step % 15 == 7 else 20_000_000 + step * 62_500
        feed(writer, T0 + minute * 60_000, reading(minute, micro=micro), reading(minute, "air", micro // 2))
    with writer.turn(T0 + day * DAY + 7 * HOUR) as turn:
        turn.event(EventKind.WORK, {"kind": "note", "note": "größe", "place": "p1", "time": T0 + day * DAY})


def exported(folder):
    with open_reader(folder) as store:
        probes = store.probes()
        return (
            [event_line(event) for event in store.events()],
            list(store.readings(probes, -(1 << 60), 1 << 60)),
            [store.flags(probe) for probe in probes],
            [effect_line(effect) for effect in store.effects()],
            [(row.at, row.contact, row.channel, row.notice, row.priority, row.text) for row in store.notices()],
            store.seals(),
        )


def faults(folder):
    with open_reader(folder) as store:
        return [finding for finding in audit(store) if finding.is_fault()]


def test_a_sound_journal_has_no_fault(whole, tmp_path):
    journal_path(tmp_path).write_bytes(whole)
    assert faults(tmp_path) == []


def test_no_flipped_bit_gives_another_value_without_a_word(whole, tmp_path):
    journal_path(tmp_path).write_bytes(whole)
    expected = exported(tmp_path)
    chance = random.Random(11)
    told = differs = 0
    for _ in range(FLIPS):
        place, bit = chance.randrange(len(whole)), chance.randrange(8)
        rotten = bytearray(whole)
        rotten[place] ^= 1 << bit
        journal_path(tmp_path).write_bytes(rotten)
        try:
            same = exported(tmp_path) == expected
        except MonitorError:
            told += 1
            continue
        try:
            found = faults(tmp_path)
        except MonitorError:
            told += 1
            continue
        told += bool(found)
        differs += not same
        assert same or found, f"byte {place}, bit {bit}: another value, and not a word"
    assert told > FLIPS // 8
    assert differs > 5


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("UPDATE effect SET why = 'hot after 9999' WHERE at = (SELECT max(at) FROM effect)", "decisions were entered"),
        ("DELETE FROM effect WHERE at = (SELECT max(at) FROM effect)", "decisions were entered"),
        ("UPDATE outbox SET text = 'all is well' WHERE id = (SELECT max(id) FROM outbox)", "notices are not those"),
        ("DELETE FROM outbox WHERE id = (SELECT max(id) FROM outbox)", "notices are not those"),
        ("UPDATE outbox SET state = 'welivered' WHERE id = 1", "is damaged"),
        ("UPDATE outbox SET attempts = -1 WHERE id = 1", "its delivery is not as it can have been"),
        ("UPDATE outbox SET next_try = at - 1 WHERE id = 1", "its delivery is not as it can have been"),
        ("UPDATE flag SET flag = 3 WHERE time = (SELECT min(time) FROM flag)", "flags of readings"),
        ("DELETE FROM flag WHERE time = (SELECT min(time) FROM flag)", "flags of readings"),
        ("UPDATE block SET last = last + 1 WHERE id = (SELECT max(id) FROM block)", "heading"),
        ("UPDATE block SET data = zeroblob(60) WHERE id = (SELECT max(id) FROM block)", "unknown"),
        ("UPDATE snapshot SET last_event = last_event + 1 WHERE at = (SELECT max(at) FROM snapshot)", "snapshot"),
        ("UPDATE seal SET state = zeroblob(9)", "seal"),
        ("UPDATE seal SET meaning = 9", "seal"),
        ("DELETE FROM seal", "seal"),
        ("UPDATE mark SET last_event = last_event + 86400000", "checksum of its mark"),
        ("UPDATE event SET payload = 'x' WHERE kind = 'work'", "is damaged"),
        ("UPDATE event SET kind = 'wort' WHERE kind = 'work'", "is damaged"),
        ("UPDATE event SET payload = replace(payload, 'note', 'seen') WHERE kind = 'work'", "events were entered"),
    ],
)
def test_what_was_changed_is_told_in_a_sentence(whole, tmp_path, statement, said):
    journal_path(tmp_path).write_bytes(whole)
    connection = sqlite3.connect(journal_path(tmp_path), isolation_level=None)
    assert connection.execute(statement).rowcount > 0
    connection.close()
    sentences = [finding.sentence for finding in faults(tmp_path)]
    assert any(said in sentence for sentence in sentences), sentences


def test_a_damaged_record_is_told_with_what_to_do(whole, tmp_path):
    journal_path(tmp_path).write_bytes(whole)
    connection = sqlite3.connect(journal_path(tmp_path), isolation_level=None)
    connection.execute("UPDATE event SET payload = 'x' WHERE kind = 'work'")
    connection.close()
    with open_reader(tmp_path) as store, pytest.raises(DamagedError, match="heaptender restore BACKUP"):
        list(store.events())


def test_days_of_an_older_version_say_that_they_had_no_hash(whole, tmp_path):
    journal_path(tmp_path).write_bytes(whole)
    connection = sqlite3.connect(journal_path(tmp_path), isolation_level=None)
    first = connection.execute("SELECT min(day) FROM chain").fetchone()[0]
    until = connection.execute("SELECT effects_until FROM chain WHERE day = ?", (first,)).fetchone()[0]
    connection.execute("UPDATE chain SET effects_hash = NULL, effects_after = NULL WHERE day = ?", (first,))
    connection.close()
    with open_reader(tmp_path) as store:
        found = [one for one in audit(store) if one.what is What.NOT_HASHED]
        assert len(found) == 1
        assert until is not None
        assert "cannot be told" in found[0].sentence
        assert not found[0].is_fault()


def test_a_text_that_cannot_be_read_is_not_quoted_in_the_sentence(tmp_path):
    """SQLite quotes all of it: a message of ten lines, in what is told of the damage."""
    with writer_of(tmp_path) as writer:
        fill(writer, 0)
    connection = sqlite3.connect(journal_path(tmp_path), isolation_level=None)
    connection.execute("UPDATE effect SET text = CAST(X'41FF0A42' AS TEXT)")
    connection.close()
    with pytest.raises(DamagedError) as raised, open_reader(tmp_path) as store:
        audit(store)
    assert "is damaged (a text in it is not UTF-8): it was left as it is;" in str(raised.value)
