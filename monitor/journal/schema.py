"""The tables of the journal, as an ordered list of recorded migrations, and how a connection is opened.

Rules:
1. `user_version` of the file is the number of migrations it has had; each is also a row of `migration`.
2. A migration, once released, is never edited: a change is a new one at the end.
3. A file that is of a newer version, of another program, or damaged is reported and left alone.
4. A reading lives in exactly one of `reading` (fresh) and `block` (packed). `lag` is `at` - `time`, so that an event's
   rows can be found again; plain `readings` events have no other trace than their rows and their line in `span`.
"""

import sqlite3
from pathlib import Path

from monitor.journal.private import private_file, private_folder
from monitor.journal.storage_faults import damaged, sound
from monitor.model.errors import UnavailableError

JOURNAL_FILE = "journal.db"
"""Name of the journal in the data folder."""

APPLICATION_ID = 0x48504A31
"""Marks the file as ours ("HPJ1"), so that another program's database is never migrated."""

BUSY_MS = 10_000
"""Milliseconds that a connection waits for another's short transaction."""

_FIRST = """
CREATE TABLE migration (version INTEGER PRIMARY KEY, name TEXT NOT NULL, applied TEXT NOT NULL) STRICT;
CREATE TABLE series (id INTEGER PRIMARY KEY, probe TEXT NOT NULL, unit TEXT NOT NULL, UNIQUE (probe, unit)) STRICT;
CREATE TABLE reading (
  series INTEGER NOT NULL, time INTEGER NOT NULL, micro INTEGER NOT NULL, lag INTEGER NOT NULL,
  PRIMARY KEY (series, time)) STRICT, WITHOUT ROWID;
CREATE TABLE block (
  id INTEGER PRIMARY KEY AUTOINCREMENT, series INTEGER NOT NULL, first INTEGER NOT NULL, last INTEGER NOT NULL,
  rows INTEGER NOT NULL, at_min INTEGER NOT NULL, at_max INTEGER NOT NULL, data BLOB NOT NULL,
  UNIQUE (series, first)) STRICT;
CREATE TABLE span (
  first_at INTEGER PRIMARY KEY, last_at INTEGER NOT NULL, time_min INTEGER NOT NULL, time_max INTEGER NOT NULL,
  rows INTEGER NOT NULL) STRICT;
CREATE TABLE event (at INTEGER PRIMARY KEY, kind TEXT NOT NULL, payload TEXT NOT NULL) STRICT;
CREATE TABLE effect (
  at INTEGER NOT NULL, ordinal INTEGER NOT NULL, place TEXT NOT NULL, kind TEXT NOT NULL, axis TEXT NOT NULL,
  before TEXT, after TEXT, why TEXT NOT NULL, since INTEGER NOT NULL, reason TEXT NOT NULL, probe TEXT NOT NULL,
  vals TEXT NOT NULL, text TEXT NOT NULL, PRIMARY KEY (at, ordinal)) STRICT, WITHOUT ROWID;
CREATE INDEX effect_by_place ON effect (place, kind, at);
CREATE TABLE outbox (
  id INTEGER PRIMARY KEY, at INTEGER NOT NULL, ordinal INTEGER NOT NULL, contact TEXT NOT NULL, channel TEXT NOT NULL,
  notice TEXT NOT NULL, place TEXT NOT NULL, occasion TEXT NOT NULL, priority INTEGER NOT NULL, text TEXT NOT NULL,
  state TEXT NOT NULL, attempts INTEGER NOT NULL, next_try INTEGER NOT NULL, maybe_repeat INTEGER NOT NULL,
  why TEXT NOT NULL, UNIQUE (at, ordinal, contact, channel)) STRICT;
CREATE INDEX outbox_open ON outbox (state, next_try) WHERE state IN ('waiting', 'handed');
CREATE TABLE snapshot (
  at INTEGER PRIMARY KEY, advanced INTEGER NOT NULL, last_event INTEGER NOT NULL, opens_day INTEGER NOT NULL,
  state BLOB NOT NULL) STRICT;
CREATE TABLE mark (
  one INTEGER PRIMARY KEY CHECK (one = 1), last_event INTEGER, advanced INTEGER, day INTEGER, day_events INTEGER NOT
  NULL, day_hash BLOB NOT NULL) STRICT;
INSERT INTO mark VALUES (1, NULL, NULL, NULL, 0, zeroblob(32));
CREATE TABLE inbox (
  id INTEGER PRIMARY KEY AUTOINCREMENT, kind TEXT NOT NULL, payload TEXT NOT NULL, state TEXT NOT NULL,
  at INTEGER, answer TEXT NOT NULL) STRICT;
CREATE INDEX inbox_open ON inbox (id) WHERE state = 'waiting';
CREATE TABLE quarantine (
  id INTEGER PRIMARY KEY, received INTEGER NOT NULL, source TEXT NOT NULL, reason TEXT NOT NULL, detail TEXT NOT NULL,
  excerpt BLOB NOT NULL) STRICT;
CREATE TABLE set_aside (
  source TEXT NOT NULL, reason TEXT NOT NULL, total INTEGER NOT NULL, latest INTEGER NOT NULL,
  PRIMARY KEY (source, reason)) STRICT, WITHOUT ROWID;
CREATE TABLE flag (
  series INTEGER NOT NULL, time INTEGER NOT NULL, flag INTEGER NOT NULL, reason TEXT NOT NULL, at INTEGER NOT NULL,
  PRIMARY KEY (series, time)) STRICT, WITHOUT ROWID;
CREATE INDEX flag_by_at ON flag (at);
CREATE TABLE chain (
  day INTEGER PRIMARY KEY, events INTEGER NOT NULL, hash BLOB NOT NULL, head BLOB NOT NULL, pruned INTEGER NOT NULL)
  STRICT;
CREATE TABLE cursor (name TEXT PRIMARY KEY, at INTEGER NOT NULL) STRICT, WITHOUT ROWID;
"""

_SEALS = """
CREATE TABLE seal (at INTEGER PRIMARY KEY, meaning INTEGER NOT NULL, state BLOB NOT NULL) STRICT;
ALTER TABLE mark ADD COLUMN meaning INTEGER;
ALTER TABLE mark ADD COLUMN effects INTEGER NOT NULL DEFAULT 0;
ALTER TABLE mark ADD COLUMN effects_hash BLOB;
ALTER TABLE mark ADD COLUMN effects_after INTEGER;
ALTER TABLE mark ADD COLUMN flags_sum BLOB;
UPDATE mark SET effects_after = max(coalesce(last_event, advanced), coalesce(advanced, last_event));
ALTER TABLE chain ADD COLUMN effects INTEGER;
ALTER TABLE chain ADD COLUMN effects_hash BLOB;
ALTER TABLE chain ADD COLUMN effects_after INTEGER;
ALTER TABLE chain ADD COLUMN effects_until INTEGER;
"""

_WAITING = """
CREATE TABLE waiting (
  id INTEGER PRIMARY KEY AUTOINCREMENT, source TEXT NOT NULL, received INTEGER NOT NULL, time INTEGER NOT NULL,
  probe TEXT NOT NULL, micro INTEGER NOT NULL, unit TEXT NOT NULL) STRICT;
"""

_SUMS = """
ALTER TABLE mark ADD COLUMN crc INTEGER;
ALTER TABLE snapshot ADD COLUMN crc INTEGER;
"""

_FURTHER = """
CREATE TABLE further (
  series INTEGER NOT NULL, time INTEGER NOT NULL, micro INTEGER NOT NULL, at INTEGER NOT NULL,
  PRIMARY KEY (series, time, micro)) STRICT, WITHOUT ROWID;
CREATE INDEX further_by_at ON further (at);
"""

MIGRATIONS: tuple[tuple[str, str], ...] = (
    ("the first tables", _FIRST),
    ("seals; decisions and flags hashed", _SEALS),
    ("readings that wait for the clock", _WAITING),
    ("mark and snapshots with a checksum", _SUMS),
    ("further values of an instant", _FURTHER),
)
"""(name, script), in the order in which they are applied."""


class OlderTablesError(UnavailableError):
    """The journal's tables are of an older version, and only its writer may bring them up: the daemon must start once."""


def journal_path(folder: Path) -> Path:
    """Return where the journal of a data folder lies."""
    return folder / JOURNAL_FILE


def connect(folder: Path) -> sqlite3.Connection:
    """Return a connection that may write; makes or migrates the file as needed. The caller holds the writer's lock.

    Raises:
        UnavailableError: The folder cannot be used, or the file is damaged, foreign or of a newer version.
    """
    path = journal_path(folder)
    with sound(path):
        private_folder(folder)
        wal = path.with_name(path.name + "-wal")
        if not path.exists() and wal.exists() and wal.stat().st_size:
            raise damaged(path, f"the file is gone but {wal.name} is there")
        private_file(path)  # SQLite gives its log the same mode as the file, so the file must be private first
        connection = sqlite3.connect(path, timeout=BUSY_MS / 1000, isolation_level=None, check_same_thread=False)
        try:
            version = check_ours(connection, path)
            if version == 0:
                connection.execute("PRAGMA auto_vacuum = INCREMENTAL")
            mode = connection.execute("PRAGMA journal_mode = WAL").fetchone()[0]
            if mode != "wal":
                raise UnavailableError(f"{path} lies on a disk that cannot hold a write-ahead log: choose a local one")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA journal_size_limit = 67108864")
            _migrate(connection, version)
            check_tables(connection, path)
        except BaseException:
            connection.close()
            raise
    return connection


def connect_reader(folder: Path) -> sqlite3.Connection:
    """Return a connection that can only read; works while a writer runs.

    Raises:
        OlderTablesError: It is of an older version.
        UnavailableError: There is no journal, it cannot be read, or it is damaged, foreign or of a newer version.
    """
    path = journal_path(folder)
    with sound(path):
        if not path.exists():
            raise UnavailableError(
                f"there is no journal in {folder} yet: start the daemon or log something first, or name its "
                "configuration with --config"
            )
        connection = _read_only(path)
        try:
            if check_ours(connection, path) != len(MIGRATIONS):
                raise OlderTablesError(f"{path} is still of an older version: start the daemon once to bring it up")
            check_tables(connection, path)
        except BaseException:
            connection.close()
            raise
    return connection


def _read_only(path: Path) -> sqlite3.Connection:
    base = path.absolute().as_uri() + "?mode=ro"
    connection = sqlite3.connect(base, uri=True, timeout=BUSY_MS / 1000, isolation_level=None, check_same_thread=False)
    try:
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except sqlite3.OperationalError:
        # A write-ahead log needs its side files. On a folder that this user cannot write, with no log left over,
        # nothing can change the file either, so it may be read as it stands.
        connection.close()
        wal = path.with_name(path.name + "-wal")
        if wal.exists() and wal.stat().st_size:
            raise
        return sqlite3.connect(base + "&immutable=1", uri=True, isolation_level=None, check_same_thread=False)
    return connection


def check_ours(connection: sqlite3.Connection, path: Path) -> int:
    """Return the version of a journal, 0 for an empty file.

    Raises:
        UnavailableError: It is another program's database, or a newer version's.
    """
    mark = connection.execute("PRAGMA application_id").fetchone()[0]
    version = int(connection.execute("PRAGMA user_version").fetchone()[0])
    tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    if mark == 0 and version == 0 and tables == 0:
        return 0
    if mark != APPLICATION_ID:
        raise UnavailableError(f"{path} is not a journal of this program: choose another data folder")
    if version > len(MIGRATIONS):
        raise UnavailableError(
            f"{path} was written by a newer version (tables {version}, this one knows {len(MIGRATIONS)}): update first"
        )
    strange = connection.execute("SELECT name FROM sqlite_schema WHERE type IN ('view', 'trigger')").fetchone()
    if strange is not None:
        # A view can compute without end, a trigger can change what is looked at; a file from elsewhere may hold either.
        raise UnavailableError(
            f"{path} holds a view or a trigger ({strange[0][:40]!r}), as no journal of this program does"
        )
    return version


def check_tables(connection: sqlite3.Connection, path: Path) -> None:
    """Touch each table once, so that a truncated or overwritten file is reported at the start.

    Raises:
        UnavailableError: A table is missing or its first page is damaged.
    """
    pages, size = (connection.execute(f"PRAGMA {name}").fetchone()[0] for name in ("page_count", "page_size"))
    if pages == 0 or size == 0:
        raise damaged(path, "it has no pages")
    for name in ("series", "event", "effect", "span", "block", "reading", "chain", "snapshot"):
        connection.execute(f"SELECT * FROM {name} LIMIT 1").fetchone()  # noqa: S608 - the names stand just above
    if connection.execute("SELECT count(*) FROM mark").fetchone()[0] != 1:
        raise damaged(path, "its mark is missing")


def _migrate(connection: sqlite3.Connection, version: int) -> None:
    for number, (name, script) in enumerate(MIGRATIONS[version:], version + 1):
        connection.execute("BEGIN IMMEDIATE")
        try:
            for statement in script.split(";\n"):
                if statement.strip():
                    connection.execute(statement)
            connection.execute(
                "INSERT INTO migration VALUES (?, ?, strftime('%Y-%m-%dT%H:%M:%SZ', 'now'))", (number, name)
            )
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            connection.execute(f"PRAGMA user_version = {number}")
            connection.execute("COMMIT")
        except BaseException:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise
