"""The lock that makes the writer the only one: held by the operating system, so that it ends with the process.

Rules: the lock is on the file `writer.lock` in the data folder (`flock`, advisory, released by the kernel however the
process dies); the file also names the holder's process id, for the sentence that a second writer gets. The file is
never deleted: removing it would let two processes lock two different files of one name.
"""

import fcntl
import os
from pathlib import Path
from types import TracebackType
from typing import Self

from monitor.model.errors import UnavailableError

LOCK_FILE = "writer.lock"
"""Name of the lock file in the data folder."""


class WriterLock:
    """The writer's lock, held from construction until `release`.

    Raises:
        UnavailableError: Another process holds it, or the folder cannot be used.
    """

    def __init__(self, folder: Path) -> None:
        self._descriptor = -1
        path = folder / LOCK_FILE
        try:
            folder.mkdir(parents=True, exist_ok=True)
            descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        except OSError as fault:
            raise UnavailableError(f"{folder} cannot be used as the data folder: {fault.strerror or fault}") from fault
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as fault:
            os.close(descriptor)
            who = _pid_in(path)
            process = f" (process {who})" if who else ""
            raise UnavailableError(f"another writer{process} already holds the data folder {folder}") from fault
        self._descriptor = descriptor
        try:
            os.ftruncate(descriptor, 0)
            os.pwrite(descriptor, f"{os.getpid()}\n".encode(), 0)
        except OSError:
            # A full disk must not keep the lock from being taken; only the sentence loses its number.
            os.ftruncate(descriptor, 0)

    def release(self) -> None:
        """Let another process become the writer; safe to call twice."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()


def holder(folder: Path) -> int | None:
    """Return the process id of the running writer, 0 if one runs but its id is unknown, None if none runs."""
    path = folder / LOCK_FILE
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    except OSError:
        return None
    try:
        fcntl.flock(descriptor, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError:
        return _pid_in(path) or 0
    else:
        return None
    finally:
        os.close(descriptor)


def _pid_in(path: Path) -> int | None:
    try:
        text = path.read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return None
    return int(text) if text.isascii() and text.isdigit() else None
