"""What a restore puts in place, moves aside and tells: of the journal, of the files beside it, of what came since."""

import os
import sqlite3
from contextlib import closing

import pytest
from journal_fake_engine import HOT_MICRO
from journal_yard import DAY, HOUR, MINUTE, T0, everything, feed, reading, writer_of

from monitor.journal import (
    Kept,
    NotSoundError,
    What,
    WriterLock,
    audit,
    backup,
    journal_path,
    open_reader,
    restore,
)
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.events import EventKind

NOW = T0 + 3 * DAY
HOT = HOT_MICRO + 1_000_000


@pytest.fixture
def yard(tmp_path):
    """A data folder with a day of readings, and a backup of it with two files that lay beside."""
    data = tmp_path / "data"
    with writer_of(data) as writer:
        feed(writer, T0, reading(0), reading(1))
        feed(writer, T0 + HOUR, reading(60, micro=HOT))
    backup(data, tmp_path / "copy.sqlite", {"labels.csv": b"a,b\n", "seen": b"7"})
    return data, tmp_path / "copy.sqlite"


def go_on(data):
    with writer_of(data) as writer:
        feed(writer, T0 + DAY, reading(1440), reading(1441), reading(1442))
        feed(writer, T0 + DAY + 1, reading(1443))
        for hour in (1, 2):
            with writer.turn(T0 + DAY + hour * HOUR) as turn:
                turn.event(EventKind.WORK, {"kind": "note", "time": T0})
        with writer.turn(T0 + 2 * DAY) as turn:
            turn.event(EventKind.ANSWER, {})


def rows(folder):
    with open_reader(folder) as store:
        return everything(store)


def test_what_came_since_the_backup_is_counted_and_lies_aside_whole(yard):
    data, copy = yard
    go_on(data)
    whole, found = rows(data), restore(data, copy, NOW)
    assert found.until == T0 + HOUR
    assert found.old == data / "before-restore-20260304T080000Z"
    assert (found.missing.until, found.missing.readings) == (T0 + 2 * DAY, 4)
    assert dict(found.missing.events) == {"work": 2, "answer": 1}
    assert (rows(data), rows(found.old)) == (whole[:3], whole)
    assert found.findings == []
    assert not (data / "restoring").exists()


def test_a_restore_into_an_empty_folder_lacks_nothing(yard, tmp_path):
    _, copy = yard
    found = restore(tmp_path / "new", copy, NOW)
    assert (found.until, found.old, found.missing) == (T0 + HOUR, None, None)
    assert len(rows(tmp_path / "new")) == 3


def test_a_backup_that_holds_all_there_is_lacks_nothing(yard):
    data, copy = yard
    found = restore(data, copy, NOW)
    assert (found.missing.readings, found.missing.events, found.missing.until) == (0, {}, T0 + HOUR)


def test_of_an_empty_backup_all_is_missing(tmp_path):
    data = tmp_path / "data"
    writer_of(data).close()
    backup(data, tmp_path / "copy.sqlite")
    go_on(data)
    found = restore(data, tmp_path / "copy.sqlite", NOW)
    assert (found.until, found.missing.readings) == (None, 4)


def test_of_an_old_journal_that_cannot_be_read_nobody_knows_what_is_missing(yard):
    data, copy = yard
    journal_path(data).write_bytes(b"rubbish" * 1_000)
    found = restore(data, copy, NOW)
    assert found.missing is None
    assert journal_path(found.old).read_bytes() == b"rubbish" * 1_000
    assert len(rows(data)) == 3


def test_restores_within_one_second_move_the_old_journal_to_folders_of_their_own(yard):
    data, copy = yard
    old = [restore(data, copy, NOW).old.name for _ in range(3)]
    first = "before-restore-20260304T080000Z"
    assert old == [first, f"{first}-2", f"{first}-3"]
    assert (data / first).stat().st_mode & 0o777 == 0o700


def test_files_beside_come_back_where_none_is_and_one_that_differs_is_left_alone(yard):
    data, copy = yard
    (data / "labels.csv").write_bytes(b"mine\n")
    (data / "seen").write_bytes(b"")
    found = restore(data, copy, NOW)
    assert (found.beside, found.kept) == (["seen"], ["labels.csv"])
    assert ((data / "labels.csv").read_bytes(), (data / "seen").read_bytes()) == (b"mine\n", b"7")
    assert (data / "seen").stat().st_mode & 0o777 == 0o600
    (data / "labels.csv").write_bytes(b"a,b\n")
    found = restore(data, copy, NOW + HOUR)
    assert (found.beside, found.kept) == ([], [])
    (data / "seen").unlink()
    (data / "seen.part").write_bytes(b"half")
    assert restore(data, copy, NOW + 2 * HOUR).beside == ["seen"]
    assert not (data / "seen.part").exists()


def test_a_name_in_a_backup_that_leads_elsewhere_is_passed_over(yard, tmp_path):
    data, copy = yard
    with closing(sqlite3.connect(copy, isolation_level=None)) as connection:
        connection.executemany(
            "INSERT INTO beside VALUES (?, ?)", [("../outside", b"x"), ("journal.db", b"x"), (f"{tmp_path}/out", b"x")]
        )
    assert restore(data, copy, NOW).beside == ["labels.csv", "seen"]
    assert not (tmp_path / "outside").exists()
    assert not (tmp_path / "out").exists()
    with open_reader(data) as store:
        assert audit(store) == []


def test_rows_of_a_backup_that_are_no_files_are_passed_over_and_folders_stay(yard):
    """Found for a law of its fuzzer: an empty name, or that of a folder, ended `restore` after the record was in its place."""
    data, copy = yard
    (data / "keys").mkdir()
    (data / "keys" / "mine").write_text("mine")
    with closing(sqlite3.connect(copy, isolation_level=None)) as connection:
        connection.execute("ALTER TABLE beside RENAME TO before")
        connection.execute("CREATE TABLE beside (name, data)")
        rows = [
            ("", b"x"),
            ("..", b"x"),
            (".", b"x"),
            ("a\0b", b"x"),
            (5, b"x"),
            ("text", "x"),
            ("keys", b"x"),
            ("seen", b"7"),
        ]
        connection.executemany("INSERT INTO beside VALUES (?, ?)", rows)
        connection.execute("DROP TABLE before")
    found = restore(data, copy, NOW)
    assert (found.beside, found.kept) == (["seen"], ["keys"])
    assert (data / "keys" / "mine").read_text() == "mine"


@pytest.mark.parametrize(
    "strange",
    [
        "CREATE VIEW endless AS WITH RECURSIVE n(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM n) SELECT x FROM n",
        "CREATE TRIGGER again AFTER UPDATE ON outbox BEGIN DELETE FROM reading; END",
    ],
)
def test_a_backup_with_a_view_or_a_trigger_is_none_of_ours(yard, strange):
    data, copy = yard
    with closing(sqlite3.connect(copy, isolation_level=None)) as connection:
        connection.execute(strange)
    with pytest.raises(UnavailableError, match="holds a view or a trigger"):
        restore(data, copy, NOW)


def test_messages_that_had_not_gone_out_may_come_a_second_time_and_say_so(yard):
    data, copy = yard
    with writer_of(data) as writer:
        first, second = writer.dispatch.rows()
        writer.dispatch.begin(first.id)
        writer.dispatch.done(first.id)
    backup(data, copy)
    restore(data, copy, NOW)
    with writer_of(data) as writer:
        assert [(row.id, row.maybe_repeat) for row in writer.dispatch.rows()] == [(first.id, False), (second.id, True)]


def test_a_damaged_backup_names_its_faults_and_is_taken_only_if_somebody_insists(yard):
    data, copy = yard
    go_on(data)
    with closing(sqlite3.connect(copy, isolation_level=None)) as connection:
        connection.execute("UPDATE reading SET micro = 5")
    before, told = rows(data), []
    with pytest.raises(NotSoundError, match="is damaged itself; nothing was changed") as raised:
        restore(data, copy, NOW, lambda *far: told.append(far))
    assert [one.what for one in raised.value.findings] == [What.CHANGED]
    assert told == [(0, 1)]
    assert rows(data) == before
    assert not (data / "restoring").exists()
    found = restore(data, copy, NOW, anyway=True)
    assert [one.what for one in found.findings] == [What.CHANGED]
    assert {row.micro for row in rows(data)} == {5}


def test_a_backup_with_dropped_days_is_sound(yard):
    data, copy = yard
    with writer_of(data) as writer:
        feed(writer, T0 + 9 * DAY, reading(9 * 1440))
        writer.prune(Kept(now=T0 + 9 * DAY, days=1))
    backup(data, copy)
    assert [one.what for one in restore(data, copy, NOW).findings] == [What.PRUNED]


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("nowhere", "is not there or no file"),
        ("data", "is not there or no file"),
        ("data/journal.db", "is the journal itself"),
        ("link", "is the journal itself"),
        ("used", "used-wal lies beside"),
    ],
)
def test_what_is_no_backup_is_refused_in_words(yard, tmp_path, name, said):
    (tmp_path / "link").symlink_to(tmp_path / "data" / "journal.db")
    (tmp_path / "used").write_bytes(b"")
    (tmp_path / "used-wal").write_bytes(b"x")
    with pytest.raises(MisuseError, match=said):
        restore(yard[0], tmp_path / name, NOW)


def test_a_log_beside_a_backup_that_is_empty_does_no_harm(yard):
    data, copy = yard
    copy.with_name("copy.sqlite-wal").write_bytes(b"")
    assert restore(data, copy, NOW).findings == []


def test_another_programs_database_is_refused_under_its_own_name(yard, tmp_path):
    with closing(sqlite3.connect(tmp_path / "other.sqlite")) as connection:
        connection.execute("CREATE TABLE a (b)")
    said = f"{tmp_path}/other.sqlite is not a journal of this program: choose another data folder"
    with pytest.raises(UnavailableError) as raised:
        restore(yard[0], tmp_path / "other.sqlite", NOW)
    assert str(raised.value) == f"{said}: nothing was changed; take another backup"
    (tmp_path / "torn.sqlite").write_bytes(b"no database" * 500)
    with pytest.raises(UnavailableError, match=r"torn.sqlite is damaged \(.*\): nothing was changed; take another"):
        restore(yard[0], tmp_path / "torn.sqlite", NOW)
    assert len(rows(yard[0])) == 3


def test_while_a_writer_is_at_work_nothing_is_restored(yard):
    data, copy = yard
    with WriterLock(data), pytest.raises(UnavailableError, match=f"process {os.getpid()}"):
        restore(data, copy, NOW)
    assert not list(data.glob("before-restore-*"))
    restore(data, copy, NOW)


def test_what_an_interrupted_restore_left_does_not_mix_with_the_next(yard):
    data, copy = yard
    (data / "restoring").mkdir()
    (data / "restoring" / "journal.db").write_bytes(b"half a copy, and longer than the other would be" * 99_999)
    assert restore(data, copy, NOW).findings == []
    assert len(rows(data)) == 3


def test_a_backup_says_its_size_and_replaces_an_older_one(yard, tmp_path):
    data, copy = yard
    (tmp_path / "copy.sqlite.part").write_bytes(b"left over")
    before = copy.stat().st_mtime_ns
    assert backup(data, copy) == copy.stat().st_size
    assert copy.stat().st_mtime_ns > before
    assert not (tmp_path / "copy.sqlite.part").exists()
    with closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("SELECT count(*) FROM beside").fetchone() == (0,)
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("delete",)


def test_a_restored_journal_goes_on(yard):
    data, copy = yard
    go_on(data)
    restore(data, copy, NOW)
    with writer_of(data) as writer:
        assert writer.resumed.differences == []
        assert writer.engine.count == 3
        feed(writer, NOW, reading(NOW // MINUTE - T0 // MINUTE))
        assert audit(writer.store) == []
