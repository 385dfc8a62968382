"""Writes the page's small files beside the journal: private by their mode, and never left half written."""

import os
from pathlib import Path


def write_private(path: Path, data: bytes) -> None:
    """Replace a file; at any time its name stands for the old or the new content, whole and on the disk.

    Raises:
        OSError: The file cannot be written; the old one stays.
    """
    fresh = path.with_name(f"{path.name}.{os.getpid()}.new")
    try:
        descriptor = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC | os.O_NOFOLLOW, 0o600)
        with os.fdopen(descriptor, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
    except OSError:
        fresh.unlink(missing_ok=True)
        raise
    within = os.open(path.parent, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(within)
    finally:
        os.close(within)
