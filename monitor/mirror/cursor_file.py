"""The mirror's cursor in a small file of its own; the journal has one writer, and the mirror is not it."""

import json
import os
from pathlib import Path

from monitor.mirror.source import Cursor


class CursorFile:
    """A cursor store in one JSON file, replaced in one step."""

    def __init__(self, path: Path) -> None:
        """Take the file's path; its folder exists."""
        self._path = path

    def load_cursor(self) -> Cursor | None:
        """Return the cursor; None if the file is missing or damaged."""
        try:
            found = json.loads(self._path.read_text(encoding="utf-8"))
            cursor = Cursor(found["readings"], found["effects"])
        except (OSError, ValueError, KeyError, TypeError):
            return None
        return cursor if all(isinstance(part, int) and part >= 0 for part in cursor) else None

    def save_cursor(self, cursor: Cursor) -> None:
        """Keep the cursor.

        Raises:
            OSError: The disk refused.
        """
        fresh = self._path.with_name(self._path.name + ".new")
        with fresh.open("w", encoding="utf-8") as file:
            json.dump(cursor._asdict(), file)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(self._path)
