"""The file beside the journal in which a reading of the log is kept for the next command.

It is no part of the record: whoever deletes it loses nothing, no backup has it, and where it is missing, damaged or cannot be
written, the log is read. It is plain JSON behind a checksum, and takes its place whole.
"""

import json
import os
import shutil
import tempfile
import zlib
from contextlib import suppress
from pathlib import Path
from typing import Any

KEPT_FILE = "material.kept"
_FREE_BYTES = 200_000_000
"""The space on the disk that is left to the journal (our choice)."""


def read_kept(folder: Path) -> dict[str, Any] | None:
    """Return the values kept in a data folder; None if there are none, or not whole."""
    try:
        checked, _, body = (folder / KEPT_FILE).read_bytes().partition(b"\n")
        if int(checked, 16) != zlib.crc32(body):
            return None
        kept = json.loads(body)
    except (OSError, ValueError, RecursionError):
        return None
    return kept if isinstance(kept, dict) else None


def write_kept(folder: Path, kept: dict[str, Any]) -> None:
    """Keep values in a data folder if that can be done; several processes may at once, and the last one's stay."""
    body = json.dumps(kept, separators=(",", ":")).encode()
    part = ""
    try:
        if shutil.disk_usage(folder).free < _FREE_BYTES:
            return
        descriptor, part = tempfile.mkstemp(prefix=f"{KEPT_FILE}.", dir=folder)
        with os.fdopen(descriptor, "wb") as out:
            out.write(b"%08x\n" % zlib.crc32(body))
            out.write(body)
        Path(part).replace(folder / KEPT_FILE)
    except OSError:
        with suppress(OSError):
            Path(part).unlink(missing_ok=True)
