"""The page's secret: a random key in a file that only its owner can read; everything that the page signs depends on it."""

import secrets
from pathlib import Path

from monitor.model.errors import UnavailableError
from monitor.page.visitors.private_file import write_private

KEY_FILE = "page.key"
"""Name of the key file in the data folder."""

_KEY_BYTES = 32


def load_key(folder: Path) -> bytes:
    """Return the page's key, made at the first call; an empty file, as a power cut may leave it, counts as missing.

    Raises:
        UnavailableError: The file cannot be read or written.
    """
    path = folder / KEY_FILE
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        key = path.read_bytes() if path.exists() else b""
        if not key:
            key = _make_key(path)
    except OSError as fault:
        raise UnavailableError(f"{path} cannot be used for the page's key: {fault.strerror or fault}") from fault
    if len(key) < _KEY_BYTES:
        raise UnavailableError(f"{path} is too short for a key; delete it, and a new one is made at the next start")
    return key


def _make_key(path: Path) -> bytes:
    """Write a new key and return it; the file gets its name only when the whole key is on the disk."""
    key = secrets.token_bytes(_KEY_BYTES)
    write_private(path, key)
    return key
