"""The lock, the file, its versions, damage, backups."""

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path

import pytest
from journal_yard import DAY, HOUR, T0, everything, feed, reading, writer_of

from monitor.journal import backup, check_pages, holder, journal_path, open_reader, verify_chain
from monitor.journal.schema import MIGRATIONS
from monitor.model.errors import UnavailableError


def edit(folder, *statements):
    with closing(sqlite3.connect(journal_path(folder), isolation_level=None)) as connection:
        for statement in statements:
            connection.execute(statement)


def test_a_second_writer_is_told_who_holds_the_folder(tmp_path):
    with writer_of(tmp_path) as writer:
        assert holder(tmp_path) == os.getpid()
        with pytest.raises(UnavailableError) as told:
            writer_of(tmp_path)
        assert str(told.value) == f"another writer (process {os.getpid()}) already holds the data folder {tmp_path}"
        feed(writer, T0, reading(0))
    assert holder(tmp_path) is None
    writer_of(tmp_path).close()


def test_the_lock_ends_with_its_process(tmp_path):
    code = f"from pathlib import Path; from monitor.journal import WriterLock; WriterLock(Path({str(tmp_path)!r}))"
    subprocess.run([sys.executable, "-c", code + "; import os; os.kill(os.getpid(), 9)"], check=False)
    writer_of(tmp_path).close()


def test_migrations_are_recorded(tmp_path):
    with writer_of(tmp_path) as writer:
        rows = writer.store.connection.execute("SELECT version, name FROM migration").fetchall()
        assert rows == [(number, name) for number, (name, _) in enumerate(MIGRATIONS, 1)]
        assert writer.store.connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert writer.store.connection.execute("PRAGMA synchronous").fetchone()[0] == 2
    with writer_of(tmp_path) as writer:
        assert writer.store.connection.execute("SELECT count(*) FROM migration").fetchone()[0] == len(MIGRATIONS)


def test_a_later_migration_is_applied_once_and_readers_wait_for_it(tmp_path, monkeypatch):
    writer_of(tmp_path).close()
    script = "CREATE TABLE later (a INTEGER) STRICT;\nINSERT INTO later VALUES (7);\n"
    monkeypatch.setattr("monitor.journal.schema.MIGRATIONS", (*MIGRATIONS, ("later", script)))
    with pytest.raises(UnavailableError, match="older version"):
        open_reader(tmp_path)
    for _ in range(2):
        with writer_of(tmp_path) as writer:
            assert writer.store.connection.execute("SELECT a FROM later").fetchall() == [(7,)]


def test_a_newer_or_foreign_file_is_left_alone(tmp_path):
    writer_of(tmp_path).close()
    edit(tmp_path, "PRAGMA user_version = 99")
    for opens in (writer_of, open_reader):
        with pytest.raises(UnavailableError, match="written by a newer version"):
            opens(tmp_path)
    edit(tmp_path, "PRAGMA application_id = 5")
    for opens in (writer_of, open_reader):
        with pytest.raises(UnavailableError, match="not a journal of this program"):
            opens(tmp_path)
    assert holder(tmp_path) is None


@pytest.mark.parametrize("kind", ["rubbish", "cut", "page", "gone"])
def test_a_damaged_file_is_told_and_left_as_it_is(tmp_path, kind):
    with writer_of(tmp_path) as writer:
        for day in range(3):
            feed(writer, T0 + day * DAY, *(reading(day * 1440 + i) for i in range(1000)))
        if kind == "gone":
            shutil.copy(tmp_path / "journal.db-wal", tmp_path / "kept")
    path = journal_path(tmp_path)
    data = path.read_bytes()
    if kind == "gone":
        path.unlink()
        (tmp_path / "kept").rename(tmp_path / "journal.db-wal")
    else:
        damaged = {
            "rubbish": b"this is not a database" * 500,
            "cut": data[: len(data) // 2],
            "page": data[:4096] + os.urandom(len(data) - 4096),
        }[kind]
        path.write_bytes(damaged)
    with pytest.raises(UnavailableError, match="is damaged"):
        writer_of(tmp_path)
    assert holder(tmp_path) is None
    if kind != "gone":
        assert path.read_bytes() == damaged
        with pytest.raises(UnavailableError, match="is damaged"):
            open_reader(tmp_path)


def test_damage_inside_is_found_by_the_checks(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, *(reading(i) for i in range(1000)))
        writer.pack_closed_hours(T0 + 2 * DAY)
        assert check_pages(writer.store) == []
    edit(tmp_path, "UPDATE block SET data = substr(data, 1, length(data) - 9)")
    with open_reader(tmp_path) as store:
        (finding,) = [finding for finding in verify_chain(store) if finding.is_fault()]
        assert "is damaged" in finding.sentence
        with pytest.raises(UnavailableError, match="is damaged"):
            everything(store)


def test_no_journal_is_told_to_readers(tmp_path):
    with pytest.raises(UnavailableError, match="there is no journal in"):
        open_reader(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_used_is_told(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(UnavailableError, match="cannot be used as the data folder"):
        writer_of(tmp_path / "file")


@pytest.fixture
def folder_of_a_plain_user():
    """A folder of somebody who is not root, and root (where the tests run as root) acting as that user."""
    nobody = 65_534
    was_root = os.geteuid() == 0
    with tempfile.TemporaryDirectory() as name:
        if was_root:
            os.chown(name, nobody, nobody)
            os.seteuid(nobody)
        try:
            yield Path(name)
        finally:
            if was_root:
                os.seteuid(0)


def test_a_read_only_folder_is_told_to_writers_and_read_by_readers(folder_of_a_plain_user):
    folder = folder_of_a_plain_user
    with writer_of(folder) as writer:
        feed(writer, T0, reading(0))
    folder.chmod(0o500)
    try:
        with open_reader(folder) as store:
            assert everything(store) == [reading(0)]
        journal_path(folder).chmod(0o400)
        with pytest.raises(UnavailableError, match="read-only"):
            writer_of(folder)
    finally:
        folder.chmod(0o700)


def test_a_journal_that_turns_read_only_is_told_and_nothing_is_lost(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        writer.store.connection.execute("PRAGMA query_only = 1")
        with pytest.raises(UnavailableError, match="read-only"):
            feed(writer, T0 + 1, reading(1))
        writer.store.connection.execute("PRAGMA query_only = 0")
        assert feed(writer, T0 + 1, reading(1)).new_rows == 1


def test_a_backup_is_whole_and_made_while_the_writer_goes_on(tmp_path):
    folder, target = tmp_path / "data", tmp_path / "copies" / "journal.db"
    target.parent.mkdir()
    with writer_of(folder) as writer:
        feed(writer, T0 + HOUR, *(reading(i) for i in range(100)))
        target.write_text("an older one")
        assert backup(folder, target) == target.stat().st_size
        feed(writer, T0 + 2 * HOUR, reading(200))
    with open_reader(target.parent) as store:
        assert len(everything(store)) == 100
        assert verify_chain(store) == []
    with writer_of(target.parent) as writer:
        assert feed(writer, T0 + 2 * HOUR, reading(200)).new_rows == 1
    assert [path.name for path in target.parent.iterdir() if path.name.endswith(".part")] == []


def test_a_backup_is_one_file(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0 + HOUR, reading(1))
        backup(tmp_path, tmp_path / "copy.db")
    with closing(sqlite3.connect(tmp_path / "copy.db")) as copy:
        assert copy.execute("PRAGMA journal_mode").fetchone() == ("delete",), (
            "no log beside it that could be left behind"
        )


def test_a_backup_to_where_nothing_can_be_written_is_told(tmp_path):
    writer_of(tmp_path).close()
    with pytest.raises(UnavailableError, match="No such file or directory"):
        backup(tmp_path, tmp_path / "missing" / "copy.db")
