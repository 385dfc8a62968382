"""Guest links: the holder of a link may look and nothing else, until it is withdrawn.

They are kept in a small file beside the journal, because they change no decision and so are no events. The file is replaced
as a whole. It holds only the hash of a link's secret, so reading it opens nothing.
"""

import hashlib
import json
import secrets
import threading
from dataclasses import asdict, dataclass
from pathlib import Path

from monitor.model.errors import UnavailableError
from monitor.page.visitors.private_file import write_private

GUESTS_FILE = "page-guests.json"
"""Name of the file in the data folder."""

MOST = 50
"""The most links at a time."""


@dataclass(frozen=True, slots=True)
class Guest:
    """A guest link: its number, its holder's name, who made it and when (UTC ms), and the hash of its secret."""

    number: int
    name: str
    by: str
    made: int
    secret_hash: str


class GuestBook:
    """The guest links of a yard, or other links with a secret, in a file of their own; any thread may call it."""

    def __init__(self, folder: Path, file: str = GUESTS_FILE) -> None:
        self._path = folder / file
        self._lock = threading.Lock()
        self._guests = self._read()

    def all(self) -> list[Guest]:
        """Return the links in force, the newest first."""
        with self._lock:
            return sorted(self._guests, key=lambda guest: -guest.number)

    def make(self, name: str, by: str, now: int) -> tuple[Guest, str]:
        """Return a new link and its secret, which is never shown again.

        Args:
            name: The holder's name.
            by: Who makes it.
            now: Now, UTC ms.

        Raises:
            UnavailableError: It cannot be kept, or there are too many.
        """
        with self._lock:
            if len(self._guests) >= MOST:
                raise UnavailableError(f"There are {MOST} such links already; withdraw one first.")
            secret = secrets.token_urlsafe(18)
            number = max((guest.number for guest in self._guests), default=0) + 1
            # A number may come again after its link was withdrawn; sessions hold the hash, which never comes again.
            guest = Guest(number, name, by, now, _hashed(secret))
            self._write([*self._guests, guest])
            return guest, secret

    def withdraw(self, number: int) -> Guest | None:
        """Withdraw a link and return it; None if there is none of that number.

        Raises:
            UnavailableError: The file cannot be written; the link stays in force.
        """
        with self._lock:
            gone = next((guest for guest in self._guests if guest.number == number), None)
            if gone is not None:
                self._write([guest for guest in self._guests if guest.number != number])
            return gone

    def holder(self, secret: str) -> Guest | None:
        """Return the link that a secret opens, or None."""
        return self.known(_hashed(secret))

    def known(self, secret_hash: str) -> Guest | None:
        """Return the link in force with this hash, or None."""
        with self._lock:
            return next(
                (guest for guest in self._guests if secrets.compare_digest(guest.secret_hash, secret_hash)), None
            )

    def _read(self) -> list[Guest]:
        try:
            return [Guest(**one) for one in json.loads(self._path.read_text(encoding="utf-8"))]
        except FileNotFoundError:
            return []
        except (OSError, ValueError, TypeError) as fault:
            raise UnavailableError(f"{self._path} cannot be read ({fault}); mend it or delete it") from fault

    def _write(self, guests: list[Guest]) -> None:
        try:
            plain = json.dumps([asdict(guest) for guest in guests], ensure_ascii=False, indent=1)
            write_private(self._path, plain.encode())
        except OSError as fault:
            raise UnavailableError(f"{self._path} cannot be written: {fault.strerror or fault}") from fault
        self._guests = guests


def _hashed(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
