"""Writes a file whole or not at all: under another name first, then moved into place. Only ordinary files are replaced."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from monitor.model.errors import MisuseError, UnavailableError


def fresh_file(path: Path, mode: int = 0o666) -> int:
    """Return the descriptor of a new file; a link planted under its name is removed, never followed. Raises OSError."""
    path.unlink(missing_ok=True)
    return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC, mode)


@contextmanager
def whole_file(out: Path) -> Iterator[BinaryIO]:
    """Open a file for writing; it takes its place only when the body has succeeded.

    Raises:
        MisuseError: A folder or a device stands in its place.
        UnavailableError: The file cannot be written.
    """
    if out.exists() and not out.is_file():
        # Moving a file onto a device such as /dev/null would replace the device.
        raise MisuseError(f"{out} is no ordinary file; name one to be written, such as --out report.pdf.")
    part = out.with_name(out.name + ".part")
    try:
        with os.fdopen(fresh_file(part), "wb") as raw:
            yield raw
            raw.flush()
            os.fsync(raw.fileno())
        part.replace(out)
    except OSError as fault:
        raise UnavailableError(f"{out} cannot be written ({fault.strerror}).") from fault
    finally:
        part.unlink(missing_ok=True)


def replace_text(path: Path, text: str, mode: int = 0o600) -> None:
    """Replace a text file, which is private until it has its mode.

    Args:
        path: The file; the folders above it are made.
        text: The new text, written as it is.
        mode: The permissions that the file gets.

    Raises:
        UnavailableError: The file cannot be written.
    """
    part = path.with_name(f"{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with os.fdopen(fresh_file(part, 0o600), "w", encoding="utf-8", newline="") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        part.chmod(mode)
        part.replace(path)
    except OSError as fault:
        part.unlink(missing_ok=True)
        raise UnavailableError(
            f"{path} cannot be written ({fault.strerror}); see that this user may write there."
        ) from fault
