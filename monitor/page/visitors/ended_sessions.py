"""Remembers sessions that somebody ended by signing out: their cookies are still well signed, but open nothing any more.

A small file beside the journal keeps them as long as the cookies could serve.
"""

import json
import logging
import threading
from pathlib import Path

from monitor.model.errors import UnavailableError
from monitor.page.visitors.private_file import write_private

log = logging.getLogger("heaptender.page")

ENDED_FILE = "page-ended.json"
"""Name of the file in the data folder."""
_MOST = 5_000


class EndedSessions:
    """The sessions that were ended; any thread may call it."""

    def __init__(self, folder: Path) -> None:
        """Read the file of a data folder.

        Raises:
            UnavailableError: The file cannot be understood.
        """
        self._path = folder / ENDED_FILE
        self._lock = threading.Lock()
        self._ended = self._read()

    def __contains__(self, session: object) -> bool:
        return session in self._ended

    def end(self, session: str, now_s: float, lasts_s: float) -> None:
        """End a session.

        Args:
            session: Its id.
            now_s: Now, seconds since 1970.
            lasts_s: How long its cookie can still serve, seconds.
        """
        with self._lock:
            kept = {one: until for one, until in self._ended.items() if until > now_s}
            kept[session] = int(now_s + lasts_s)
            # Bounded: beyond the limit the oldest are forgotten, and only a change of the password ends those for good.
            self._ended = dict(sorted(kept.items(), key=lambda pair: pair[1])[-_MOST:])
            try:
                write_private(self._path, json.dumps(self._ended).encode())
            except OSError as fault:
                log.warning("Who signed out is forgotten at the next start: %s (%s).", self._path, fault.strerror)

    def _read(self) -> dict[str, int]:
        try:
            return {str(one): int(until) for one, until in json.loads(self._path.read_bytes()).items()}
        except FileNotFoundError:
            return {}
        except (OSError, ValueError, TypeError, AttributeError) as fault:
            raise UnavailableError(f"{self._path} cannot be read ({fault}); mend it or delete it") from fault
