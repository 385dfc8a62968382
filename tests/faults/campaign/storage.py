"""The disk under the data folder: filled and freed, read-only, cut off in the midst of writing, a bit of it flipped.

Where a file system may be mounted (by root), it is a small one of its own, which can be full; else no file of the daemon may
grow.
"""

import resource
import shutil
import sqlite3
import subprocess
from contextlib import closing, suppress

from tests.faults.disk import committed_end

ROOM = "24m"
_LOG_HEAD = 32


class Storage:
    """A data folder; `bad` says that nothing can be stored there now."""

    def __init__(self, folder, chance, counts, *, own=True):
        self.folder, self.chance, self.counts = folder, chance, counts
        folder.mkdir(parents=True, exist_ok=True)
        self.bad = False
        self._ballast = folder / "ballast"
        self._limited = None
        self.own = own and self._mount("-t", "tmpfs", "-o", f"size={ROOM},mode=700", "tmpfs")

    def _mount(self, *how):
        return subprocess.run(["mount", *how, str(self.folder)], capture_output=True).returncode == 0

    def fill(self, process):
        """Leave no room for another byte."""
        self._shorten_log()
        self.bad = True
        if not self.own:
            self._limited = process
            log = self.folder / "journal.db-wal"
            grown = log.stat().st_size if log.exists() else 0
            resource.prlimit(process.pid, resource.RLIMIT_FSIZE, (max(4_096, grown), resource.RLIM_INFINITY))
            return
        with self._ballast.open("wb", buffering=0) as out:
            try:
                while True:
                    out.write(b"\0" * 65_536)
            except OSError:
                pass
            try:
                while True:
                    out.write(b"\0" * 512)
            except OSError:
                pass

    def _shorten_log(self):
        """Have the log begin anew and take no room, as it does once all of it is in the file: what is there is written over."""
        with suppress(sqlite3.Error), closing(sqlite3.connect(self.folder / "journal.db", timeout=1.0)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    def free(self):
        """Let everything be stored again."""
        if self._limited is not None and self._limited.poll() is None:
            unlimited = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
            resource.prlimit(self._limited.pid, resource.RLIMIT_FSIZE, unlimited)
        self._limited = None
        self.only_read(on=False)
        self._ballast.unlink(missing_ok=True)
        self.bad = False

    def only_read(self, *, on):
        """Let nothing be written, or let it be again; only while no program writes there. Return whether it could be done."""
        if not self.own:
            return False
        done = self._mount("-o", f"remount,{'ro' if on else 'rw'}")
        self.bad = on and done
        return done

    def cut(self, *, lied):
        """Leave what a power cut leaves of the files of a program that has ended at this instant.

        What was not brought to the disk, the log's bytes after the last commit, is cut off or garbled at any byte; with `lied`,
        so is what the disk had said to have written.
        """
        (self.folder / "journal.db-shm").unlink(missing_ok=True)
        path = self.folder / "journal.db-wal"
        log = path.read_bytes() if path.exists() else b""
        safe = min(_LOG_HEAD, len(log)) if lied else committed_end(log)
        at = self.chance.randint(safe, len(log))
        if self.chance.random() < 0.5:
            log = log[:at]
        else:
            torn = min(len(log) - at, self.chance.choice([1, 7, 512, 4096, 9000]))
            log = log[:at] + self.chance.randbytes(torn) + log[at + torn :]
        self.counts.note("bytes at which the log was cut or garbled", 1, detail=str(at))
        if path.exists():
            path.write_bytes(log)

    def flip(self):
        """Change one bit of the file; returns where."""
        path = self.folder / "journal.db"
        raw = bytearray(path.read_bytes())
        at = self.chance.randrange(len(raw))
        # Where nothing was ever written are zeros; a bit among them is seldom of any page's content.
        at = next((place for place in range(at, len(raw)) if raw[place]), at)
        raw[at] ^= 1 << self.chance.randrange(8)
        path.write_bytes(raw)
        return at

    def close(self):
        """Leave the files as they are, in an ordinary folder."""
        self.free()
        if self.own:
            kept = self.folder.with_name("kept")
            shutil.copytree(self.folder, kept)
            subprocess.run(["umount", "-l", str(self.folder)], capture_output=True, check=True)
            self.own = False
            self.folder.rmdir()
            kept.rename(self.folder)
