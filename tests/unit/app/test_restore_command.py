"""Backups put back: looked at first, the old journal aside with its log, and what is missing since."""

import gzip
import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner

from monitor.app.command import heaptender
from monitor.engine import Engine
from monitor.journal import audit, backup, journal_path, open_reader, open_writer
from monitor.model.readings import Reading
from monitor.recordings import event_line

T0 = 1_793_577_600_000
MIN = 60_000
CONFIG = """
[site]
time_zone = "UTC"
temperature_unit = "degC"
data = "data"
[bins.b1]
[probes.b1-t]
place = "b1"
"""


@pytest.fixture
def yard(tmp_path):
    (tmp_path / "heaptender.toml").write_text(CONFIG)
    return tmp_path


def run(yard, *words):
    return CliRunner().invoke(heaptender, [*words, "--config", str(yard / "heaptender.toml")], standalone_mode=False)


def fill(writer, first, count):
    for n in range(first, first + count):
        with writer.turn(T0 + n * MIN) as turn:
            turn.readings([Reading(T0 + n * MIN, "b1-t", 20_000_000 + n * 1000, "Cel")])


def events(folder):
    with open_reader(folder) as store:
        return [event_line(event) for event in store.events()]


def crashed(yard):
    """A yard whose daemon was killed after a backup: a log lies beside the journal. Returns (backup, its events)."""
    data = yard / "data"
    writer = open_writer(data, Engine, Engine.restore)
    fill(writer, 0, 200)
    copy = yard / "journal-20261102T032000Z.sqlite"
    backup(data, copy, {"labels.csv": b"place,start,end,kind,note\n"})
    before = events(data)
    fill(writer, 200, 50)
    with writer.turn(T0 + 260 * MIN) as turn:
        turn.event("work", {"time": T0 + 260 * MIN, "place": "b1", "kind": "fed", "by": "Ann Example"})
    # What a kill leaves: journal and log as they lie there now.
    aside = yard / "killed"
    shutil.copytree(data, aside)
    writer.close()
    shutil.rmtree(data)
    aside.rename(data)
    assert (data / "journal.db-wal").stat().st_size
    return copy, before


def test_a_backup_is_put_back_after_a_crash_and_the_log_does_not_mix_with_it(yard):
    copy, before = crashed(yard)
    found = run(yard, "restore", str(copy))
    assert found.exception is None, found.output
    assert found.return_value == 0
    assert events(yard / "data") == before
    with open_reader(yard / "data") as store:
        assert audit(store) == []
    said = found.output
    assert "its readings, entries and decisions are what was written." in said
    assert "Missing since then, up to " in said
    assert "50 readings, 1 piece of work." in said
    assert "With it came back: labels.csv." in said
    old = next((yard / "data").glob("before-restore-*"))
    assert (old / "journal.db-wal").stat().st_size
    assert len(events(old)) == 251
    assert not (yard / "data" / "restoring").exists()
    with open_writer(yard / "data", Engine, Engine.restore) as writer:
        fill(writer, 300, 3)
        assert [one for one in audit(writer.store) if one.is_fault()] == []


def test_what_has_no_hash_is_never_called_verified(yard):
    """The inbox, cursors and how far a delivery came can be changed without a trace: the words must not vouch for them."""
    copy, _ = crashed(yard)
    with closing(sqlite3.connect(copy, isolation_level=None)) as connection:
        connection.execute(
            "INSERT INTO inbox (kind, payload, state, at, answer) VALUES ('work', '{}', 'done', 5, '{}')"
        )
        connection.execute("INSERT INTO cursor VALUES ('record seen to', 99999)")
    said = run(yard, "restore", str(copy))
    assert said.return_value == 0
    assert "its readings, entries and decisions are what was written." in said.output
    assert "Not verified: how far each message came; entries and readings that still waited" in said.output
    assert "how far checks of the record came; labels.csv (kept without a hash)." in said.output
    told = json.loads(run(yard, "restore", str(copy), "--json").output)
    assert "entries and readings that still waited to be taken" in told["not_verified"][0]


def test_a_second_journal_of_the_same_day_moves_to_a_folder_of_its_own(yard):
    copy, before = crashed(yard)
    for _ in range(2):
        assert run(yard, "restore", str(copy)).exception is None
    assert events(yard / "data") == before
    assert len(list((yard / "data").glob("before-restore-*"))) == 2


@pytest.mark.parametrize("tables", [None, "VACUUM"])
def test_an_empty_backup_does_not_empty_the_record(yard, tables):
    """What a copy leaves that broke off at its first byte; a new journal would be made of it."""
    crashed(yard)
    with closing(sqlite3.connect(yard / "empty.sqlite", isolation_level=None)) as connection:
        if tables:
            connection.execute(tables)
    (yard / "empty.sqlite").touch()
    found = run(yard, "restore", str(yard / "empty.sqlite"))
    assert str(found.exception) == (
        f"{yard}/empty.sqlite is empty, as a copy that broke off is: nothing was changed; take another backup"
    )
    assert len(events(yard / "data")) == 251


def test_a_damaged_backup_is_refused_and_nothing_is_changed(yard):
    copy, _ = crashed(yard)
    before = {path.name: path.read_bytes() for path in (yard / "data").iterdir()}
    connection = sqlite3.connect(copy, isolation_level=None)
    connection.execute("UPDATE reading SET micro = micro + 1 WHERE time = ?", (T0 + 7 * MIN,))
    connection.close()
    found = run(yard, "restore", str(copy))
    assert found.return_value == 1
    assert "2026-11-02: 200 events were entered and have been changed since" in found.output
    assert "nothing was changed" in found.output
    after = {path.name: path.read_bytes() for path in (yard / "data").iterdir() if path.name != "writer.lock"}
    assert after == {name: data for name, data in before.items() if name != "writer.lock"}
    assert run(yard, "restore", str(copy), "--anyway").return_value == 0
    assert len(events(yard / "data")) == 200


@pytest.mark.parametrize("seed", range(8))
def test_a_backup_with_torn_bytes_gives_a_sentence(yard, seed):
    copy, before = crashed(yard)
    chance, rotten = random.Random(seed), bytearray(copy.read_bytes())
    for _ in range(60):
        rotten[chance.randrange(100, len(rotten))] ^= 255
    copy.write_bytes(rotten)
    found = run(yard, "restore", str(copy))
    if found.return_value == 0:
        # Every torn byte lay where nothing is kept.
        assert events(yard / "data") == before
        return
    assert found.return_value == 1 or type(found.exception).__name__ == "UnavailableError", found.exception
    assert len(events(yard / "data")) == 251


def test_the_daemon_that_holds_the_journal_is_not_disturbed(yard):
    copy, _ = crashed(yard)
    with open_writer(yard / "data", Engine, Engine.restore) as writer:
        found = run(yard, "restore", str(copy))
        assert f"process {os.getpid()}" in str(found.exception)
        # Nor where somebody deleted the lock's file.
        (yard / "data" / "writer.lock").unlink()
        assert "already holds the data folder" in str(run(yard, "restore", str(copy)).exception)
        fill(writer, 300, 1)


@pytest.mark.parametrize("name", ["nowhere.sqlite", "data/journal.db", "beside.sqlite"])
def test_what_is_no_backup_is_refused(yard, name):
    crashed(yard)
    for end in ("", "-wal"):
        shutil.copy(yard / "data" / f"journal.db{end}", yard / f"beside.sqlite{end}")
    found = run(yard, "restore", str(yard / name))
    assert type(found.exception).__name__ == "MisuseError"
    assert "name a backup" in str(found.exception)


def test_a_backup_of_before_seals_is_brought_up_and_put_back(yard):
    old = Path(__file__).parents[1] / "journal" / "journal_before.sqlite.gz"
    (yard / "old.sqlite").write_bytes(gzip.decompress(old.read_bytes()))
    found = run(yard, "restore", str(yard / "old.sqlite"), "--json")
    assert found.exception is None
    told = json.loads(found.output)
    assert (told["old"], told["missing"], told["faults"]) == (None, None, [])
    assert len(events(yard / "data")) == 1006
    # The file given is left as it is.
    assert (yard / "old.sqlite").read_bytes() == gzip.decompress(old.read_bytes())


def test_files_of_the_record_are_private_from_the_first_moment_on(yard):
    code = (
        "import os, sys; os.umask(0); from pathlib import Path; from monitor.engine import Engine; "
        "from monitor.journal import backup, open_writer; data = Path(sys.argv[1]); "
        "writer = open_writer(data, Engine, Engine.restore)\n"
        "with writer.turn(1793577600000) as turn: turn.event('started', {'down_since': None})\n"
        "backup(data, data.parent / 'copy.sqlite'); os.kill(os.getpid(), 9)"
    )
    subprocess.run([sys.executable, "-c", code, str(yard / "data")], check=False)
    modes = {path.name: path.stat().st_mode & 0o777 for path in (yard / "data").iterdir()}
    assert modes == dict.fromkeys(("journal.db", "journal.db-wal", "journal.db-shm", "writer.lock"), 0o600)
    assert (yard / "data").stat().st_mode & 0o777 == 0o700
    assert (yard / "copy.sqlite").stat().st_mode & 0o777 == 0o600


def test_a_deleted_lock_file_does_not_let_a_second_writer_in(yard):
    data = yard / "data"
    with open_writer(data, Engine, Engine.restore):
        (data / "writer.lock").unlink()
        with pytest.raises(Exception, match="already holds the data folder"):
            open_writer(data, Engine, Engine.restore)
    open_writer(data, Engine, Engine.restore).close()
    assert journal_path(data).exists()
