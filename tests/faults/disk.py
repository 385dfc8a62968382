"""The simulated disk: full, failing for a moment, cut off from power, or left by a program that was killed.

Every connection that the product opens is a `SimConnection`, which asks the disk before each statement. SQLite itself is real,
and so are its files; a crash takes an image of the folder as the disk would hold it, and the next start finds that image.
"""

import shutil
import sqlite3
import struct

_WRITING = ("INSERT", "REPLACE", "UPDATE", "DELETE", "CREATE", "ALTER", "DROP")
_HEADER, _FRAME = 32, 24
_PAGE, _SECTOR = 4096, 512


class Crash(BaseException):
    """The program ended at this instant; the world goes on from the image that the disk took."""


class SimConnection(sqlite3.Connection):
    """A connection whose statements may fail."""

    disk = None

    def execute(self, sql, *bound):
        disk = type(self).disk
        disk.before(self, sql)
        found = super().execute(sql, *bound)
        disk.after(self, sql)
        return found

    def executemany(self, sql, *bound):
        disk = type(self).disk
        disk.before(self, sql)
        found = super().executemany(sql, *bound)
        disk.after(self, sql)
        return found

    def backup(self, target, **how):
        disk = type(self).disk
        disk.before(target, "INSERT a copy")
        super().backup(target, **how)
        disk.after(target, "INSERT a copy")


class Disk:
    """What befalls the data folder.

    Attributes:
        full: Nothing more can be committed.
        brittle: So many of the next statements fail, each by a chance of one in eight.
        crash_in: The program ends before so many statements more; None: it does not.
        power: Whether it ends by a power cut (else it is killed).
    """

    def __init__(self, folder, chance, counts):
        self.folder, self.chance, self.counts = folder, chance, counts
        self.image = folder.with_name("image")
        self.full = False
        self.brittle = 0
        self.crash_in = None
        self.power = False
        self.statements = 0
        self._before_commit = None

    def connect(self, database, *more, **how):
        """Stand for `sqlite3.connect`."""
        SimConnection.disk = self
        return self.really_connect(database, *more, factory=SimConnection, **how)

    really_connect = staticmethod(sqlite3.connect)

    def before(self, connection, sql):
        verb = sql.lstrip()[:7].strip().upper()
        if verb == "ROLLBAC":
            return
        self.statements += 1
        commits = verb == "COMMIT"
        if self.crash_in is not None:
            self.crash_in -= 1
            if self.crash_in <= 0 and not (self.power and commits):
                self.crash()
            if self.crash_in <= 0:
                self._before_commit = self._files()
        writes = verb.startswith(_WRITING)
        if self.full and (commits or (writes and (not connection.in_transaction or self.chance.random() < 0.2))):
            self.counts.note("statements refused: disk full")
            raise _fault(sqlite3.OperationalError, "SQLITE_FULL", "database or disk is full")
        if self.brittle > 0:
            self.brittle -= 1
            if self.chance.random() < 0.125:
                name, words = self.chance.choice(
                    [("SQLITE_IOERR_WRITE", "disk I/O error"), ("SQLITE_BUSY", "database is locked")]
                    if commits or writes or verb == "BEGIN I"
                    else [("SQLITE_IOERR_READ", "disk I/O error")]
                )
                self.counts.note(f"statements refused: {words}")
                raise _fault(sqlite3.OperationalError, name, words)

    def after(self, connection, sql):
        if self._before_commit is not None:
            self.crash()

    def crash(self):
        """Take the image of the folder and end the program.

        Raises:
            Crash: Always.
        """
        power, self.crash_in = self.power, None
        before, self._before_commit = self._before_commit, None
        shutil.rmtree(self.image, ignore_errors=True)
        shutil.copytree(self.folder, self.image)
        if power:
            self.counts.note("power cuts in a commit" if before is not None else "power cuts between statements")
            self._lose_what_was_not_synced(before)
        else:
            self.counts.note("kills")
        raise Crash

    def put_image(self):
        """Put the image in the folder's place: what the next start finds."""
        shutil.rmtree(self.folder)
        self.image.rename(self.folder)

    def _files(self):
        path = self.folder / "journal.db"
        log = self.folder / "journal.db-wal"
        return (path.read_bytes() if path.exists() else b"", log.read_bytes() if log.exists() else b"")

    def _lose_what_was_not_synced(self, before):
        """Cut or garble the log at any byte after the last commit that the program was told of."""
        (self.image / "journal.db-shm").unlink(missing_ok=True)
        log = self.image / "journal.db-wal"
        if not log.exists():
            return
        now = log.read_bytes()
        safe = committed_end(now)
        if before is not None:
            # The commit under way: its bytes reach the disk in any order, before the file itself is touched.
            safe = committed_end(before[1]) if before[1][:_HEADER] == now[:_HEADER] else 0
            if safe and self.chance.random() < 0.4:
                self._tear_checkpoint(before[0])
                return
            (self.image / "journal.db").write_bytes(before[0])
        cut = self.chance.randint(safe, len(now))
        if self.chance.random() < 0.5:
            now = now[:cut]
        else:
            torn = min(len(now) - cut, self.chance.choice([1, 7, 512, 4096, 9000]))
            now = now[:cut] + self.chance.randbytes(torn) + now[cut + torn :]
        log.write_bytes(now)

    def _tear_checkpoint(self, before):
        """Leave the log whole, and of each page that its checkpoint was writing the old state, the new one, or a mixture."""
        self.counts.note("power cuts in a checkpoint")
        path = self.image / "journal.db"
        now = bytearray(path.read_bytes())
        for at in range(0, len(now), _PAGE):
            old = before[at : at + _PAGE].ljust(_PAGE, b"\0")
            if old != now[at : at + _PAGE]:
                torn = self.chance.choice([0, _PAGE, _SECTOR * self.chance.randrange(_PAGE // _SECTOR)])
                now[at : at + torn] = old[:torn]
        path.write_bytes(now)


def committed_end(log):
    """Return where the last whole transaction of a write-ahead log ends (SQLite's file format, section 4.1)."""
    if len(log) < _HEADER:
        return 0
    size = struct.unpack(">I", log[8:12])[0]
    salts, end, at = log[16:24], _HEADER, _HEADER
    while at + _FRAME + size <= len(log) and log[at + 8 : at + 16] == salts:
        whole = struct.unpack(">I", log[at + 4 : at + 8])[0]
        at += _FRAME + size
        if whole:
            end = at
    return end


def _fault(kind, name, words):
    fault = kind(words)
    fault.sqlite_errorname = name
    return fault
