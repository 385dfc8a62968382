"""Calendar links: a phone that has one reads the diary as a calendar and nothing else, until the link is withdrawn.

A link is a secret, kept as its hash like a guest link's, signed with the page's key. So neither a guess nor a stolen file opens
anything, and a new key ends every link.
"""

from pathlib import Path

from monitor.page.visitors.guest_book import Guest, GuestBook
from monitor.page.visitors.signed_tokens import SignedTokens

CALENDARS_FILE = "page-calendars.json"
"""Name of the file in the data folder."""
LASTS_S = 5 * 366 * 86_400
"""How long a link serves if nobody withdraws it: longer than a phone."""


class CalendarLinks:
    """The calendar links of a yard; any thread may call it."""

    def __init__(self, folder: Path, key: bytes) -> None:
        self._book = GuestBook(folder, CALENDARS_FILE)
        self._tokens = SignedTokens(key, "calendar")

    def all(self) -> list[Guest]:
        """Return the links in force, the newest first."""
        return self._book.all()

    def make(self, name: str, by: str, now: int, now_s: float) -> tuple[Guest, str]:
        """Return a new link and its token, which is never shown again.

        Args:
            name: Whose phone or calendar reads it.
            by: Who makes it.
            now: The yard's time, UTC ms.
            now_s: The computer's time, seconds since 1970, by which the token ends.

        Raises:
            UnavailableError: It cannot be kept, or there are too many.
        """
        made, secret = self._book.make(name, by, now)
        return made, self._tokens.sign(secret, now_s + LASTS_S)

    def withdraw(self, number: int) -> Guest | None:
        """Withdraw a link and return it; None if there is none of that number.

        Raises:
            UnavailableError: The file cannot be written; the link stays in force.
        """
        return self._book.withdraw(number)

    def holder(self, token: str, now_s: float) -> Guest | None:
        """Return the link that a token opens, or None.

        Args:
            token: The token of an address.
            now_s: The computer's time, seconds since 1970.
        """
        secret = self._tokens.read(token, now_s)
        return self._book.holder(secret) if isinstance(secret, str) else None
