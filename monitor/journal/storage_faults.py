"""Turns the complaints of SQLite and the file system into one sentence that a person can act on.

Rules: a full disk, a read-only folder or a damaged file is `UnavailableError`; a broken constraint is a fault of this
program (`InvariantError`). A damaged journal is reported and left exactly as it is: nothing is recreated in its place.
Stored data that can no longer be decoded (no JSON, an unknown word, a wrong type) is damage too.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.model.errors import InvariantError, MonitorError, UnavailableError

DAMAGED = (
    "{path} is damaged ({fault}): it was left as it is; put a backup in its place with `heaptender restore BACKUP`"
)
"""The sentence for every damage."""


class DamagedError(UnavailableError):
    """Stored data changed since it was stored."""


_SENTENCES = (
    ("SQLITE_FULL", "the disk that holds {path} is full: free some space, then it goes on; nothing kept was lost"),
    ("SQLITE_READONLY", "{path} cannot be written: its folder or file is read-only for this user"),
    ("SQLITE_CANTOPEN", "{path} cannot be opened: the folder must exist, and this user must be able to write in it"),
    ("SQLITE_PERM", "{path} cannot be opened: this user may not"),
    ("SQLITE_CORRUPT", DAMAGED),
    ("SQLITE_NOTADB", DAMAGED),
    ("SQLITE_BUSY", "{path} is held by another process for too long: try again"),
    ("SQLITE_LOCKED", "{path} is held by another process for too long: try again"),
    ("SQLITE_IOERR", "the disk that holds {path} failed ({fault})"),
)


def damaged(path: Path, what: str) -> DamagedError:
    """Return the error that says that a journal is damaged and was left alone."""
    return DamagedError(DAMAGED.format(path=path, fault=what))


def told(path: Path, fault: Exception) -> MonitorError:
    """Return the error to raise in place of one of SQLite's or the file system's."""
    if isinstance(fault, OSError):
        return UnavailableError(f"{path} cannot be used: {fault.strerror or fault}")
    name: str = getattr(fault, "sqlite_errorname", None) or ""
    for start, sentence in _SENTENCES:
        if name.startswith(start):
            return (DamagedError if sentence is DAMAGED else UnavailableError)(sentence.format(path=path, fault=fault))
    said = str(fault)
    if name == "" and isinstance(fault, sqlite3.Error) and ("not a database" in said or "Could not decode" in said):
        # SQLite quotes the whole text, which may be many lines long, so say only what kind of fault it is.
        return damaged(path, "a text in it is not UTF-8" if "Could not decode" in said else said)
    return InvariantError(f"{path}: {type(fault).__name__}: {fault}")


@contextmanager
def telling(path: Path) -> Iterator[None]:
    """Raise faults of SQLite and the file system as a sentence about `path`.

    Raises:
        UnavailableError: Disk, folder or file is at fault.
        InvariantError: This program is at fault.
    """
    try:
        yield
    except BrokenPipeError:
        raise  # the reader of our output has gone; the journal has nothing to do with it
    except (sqlite3.Error, OSError) as fault:
        raise told(path, fault) from fault


@contextmanager
def sound(path: Path) -> Iterator[None]:
    """Raise decoding errors as damage; the body must only read and decode.

    Raises:
        DamagedError: This program would not have stored such data.
        UnavailableError, InvariantError: As `telling`.
    """
    with telling(path):
        try:
            yield
        except (ValueError, TypeError, KeyError, IndexError, AttributeError, OverflowError) as fault:
            first = str(fault).splitlines()[0] if str(fault) else "no words"
            raise damaged(path, f"{type(fault).__name__}: {first[:120]}") from fault
