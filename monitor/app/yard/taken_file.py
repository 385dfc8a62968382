"""Remembers in the data folder which configuration file the daemon has taken, and which it has refused since.

`heaptender reload` waits for the answer here, and `status` can say that a file was changed and never taken.
"""

import hashlib
import json
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from monitor.app.console.whole_files import replace_text
from monitor.model.times import show_time

FILE = "configuration-taken.json"


@dataclass(frozen=True, slots=True)
class TakenFile:
    """A note of what became of the configuration file.

    Attributes:
        pid: The daemon's process.
        asked: How often this daemon has read its file; the first time at its start.
        file: The file, an absolute path.
        at: When the file in force was read, UTC ms by the computer's clock.
        digest: SHA-256 of the file in force, hexadecimal; "" if it could not be read again.
        refused: Why the newest reading was refused, a sentence each; empty if it was taken.
        refused_digest: SHA-256 of the file that was refused, "" if none was.
    """

    pid: int
    asked: int
    file: str
    at: int
    digest: str
    refused: tuple[str, ...] = ()
    refused_digest: str = ""

    def is_old(self) -> bool:
        """Return whether the file has been changed since it was read, and nobody has asked the daemon to read it."""
        return bool(self.digest) and digest_of(Path(self.file)) not in (self.digest, self.refused_digest, "")


def taken_words(note: TakenFile | None, read: str) -> str:
    """Return a sentence about a file that is not in force, else "".

    Args:
        note: The daemon's note, or None.
        read: When the file in force was read, in words.
    """
    if note is None:
        return ""
    name = Path(note.file).name
    if note.is_old():
        return f"{name} was changed after the daemon read it ({read}): `heaptender reload` has it read again."
    if note.refused and note.refused_digest == digest_of(Path(note.file)):
        why = note.refused[0].rstrip(".")
        more = f" and {len(note.refused) - 1} more" if len(note.refused) > 1 else ""
        return f"The daemon refused the changed {name} and keeps the one of {read}: {why}{more}."
    return ""


def taken_values(note: TakenFile | None) -> dict[str, Any] | None:
    """Return the note as JSON values; None if there is none."""
    if note is None:
        return None
    return {
        "file": note.file,
        "read": show_time(note.at),
        "changed_since": note.is_old(),
        "refused": list(note.refused),
    }


class TakenNote:
    """Keeps the note of one daemon."""

    def __init__(self, folder: Path, pid: int) -> None:
        self._folder = folder
        self._pid = pid
        self._newest: TakenFile | None = None

    def taken(self, file: Path, digest: str) -> None:
        """Note that a file is in force.

        Args:
            file: The file.
            digest: Its digest, made before it was read: if it changes meanwhile, it counts as changed.

        Raises:
            UnavailableError: The note cannot be written.
        """
        now = time.time_ns() // 1_000_000
        self._write(TakenFile(self._pid, self._asked(), str(file.absolute()), now, digest))

    def refused(self, why: Sequence[str], digest: str) -> None:
        """Note that a file was refused, and why; the one of before stays in force.

        Raises:
            UnavailableError: The note cannot be written.
        """
        old = self._newest
        if old is not None:
            note = TakenFile(self._pid, self._asked(), old.file, old.at, old.digest, tuple(why), digest)
            self._write(note)

    def _asked(self) -> int:
        return 1 if self._newest is None else self._newest.asked + 1

    def _write(self, note: TakenFile) -> None:
        self._newest = note
        values = {name: getattr(note, name) for name in TakenFile.__dataclass_fields__}
        replace_text(self._folder / FILE, json.dumps(values, ensure_ascii=False) + "\n")


def taken_file(folder: Path, pid: int | None) -> TakenFile | None:
    """Return the note that the daemon with this process id left in its data folder; None if there is none."""
    with suppress(OSError, ValueError, TypeError, KeyError):
        values = json.loads((folder / FILE).read_text("utf-8"))
        note = TakenFile(**values | {"refused": tuple(values["refused"])})
        return note if pid is not None and note.pid == pid else None
    return None


def digest_of(file: Path | None) -> str:
    """Return the SHA-256 of a file, hexadecimal; "" if there is none or it cannot be read."""
    if file is None:
        return ""
    with suppress(OSError):
        return hashlib.sha256(file.read_bytes()).hexdigest()
    return ""
