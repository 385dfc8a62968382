"""Decides who a visitor is: a keeper, a guest who may look, or a stranger; and who is near.

Rules:
1. A visitor is near if the page is this computer's alone (it listens on loopback, its link and names lead nowhere else, no
   password is set), the request comes from this computer and calls it by a loopback name, and no request ever showed that it
   was passed on for somebody else (by a header, or by asking for an address elsewhere). Near visitors need no password. A
   web server or tunnel on this computer looks like a person who sits at it; so as soon as the page may be reached from
   elsewhere, everybody is asked.
2. All others are strangers until they give the password or hold a guest link that is in force.
3. A session is a signed cookie. It ends 30 days after its beginning (another name does not prolong it), when the password
   changes, when its bearer signs out, or when its guest link is withdrawn.
"""

import hashlib
import logging
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from monitor.notices import clean
from monitor.page.visitors.ended_sessions import EndedSessions
from monitor.page.visitors.guest_book import GuestBook
from monitor.page.visitors.hosts import host_name, is_elsewhere, is_loopback, was_passed_on
from monitor.page.visitors.signed_tokens import SignedTokens

log = logging.getLogger("heaptender.page")

SESSION_S = 30 * 86_400
FORM_S = 12 * 3_600
COOKIE = "heaptender"
SECURE_COOKIE = f"__Host-{COOKIE}"
"""The cookie's name under https; browsers accept it from there alone (RFC 6265bis, section 4.1.3.2, from memory)."""
NAME_LENGTH = 40


class Standing(StrEnum):
    """A visitor's rights: everything, looking, or only knocking."""

    KEEPER = "keeper"
    GUEST = "guest"
    STRANGER = "stranger"


@dataclass(frozen=True, slots=True, kw_only=True)
class Visitor:
    """A person at the page.

    Attributes:
        standing: Their rights.
        name: The name that they gave, or "".
        session: Id of the session; "" if there is none yet.
        near: Whether they sit at this computer.
        address: The address from which the request came.
        known: Whether the password was given in this session.
        was_guest: Whether they opened a guest link that is no longer in force.
        until_s: When the session ends, seconds since 1970; 0 if there is none yet.
    """

    standing: Standing
    name: str
    session: str
    near: bool
    address: str
    known: bool = False
    was_guest: bool = False
    until_s: int = 0

    @property
    def keeps(self) -> bool:
        """Whether they may do things."""
        return self.standing is Standing.KEEPER

    @property
    def looks(self) -> bool:
        """Whether they may look."""
        return self.standing is not Standing.STRANGER


class Sessions:
    """Signs and reads sessions and the tokens of forms.

    Args:
        key: The page's key.
        password_hash: The hash to compare a password with; changing it ends the sessions that knew the old one.
        guests: The guest links.
        ended: The sessions that were ended.
        alone: Whether the page is this computer's alone and asks for no password.
    """

    def __init__(
        self, key: bytes, password_hash: str, guests: GuestBook, ended: EndedSessions, *, alone: bool = True
    ) -> None:
        self._sessions = SignedTokens(key, "session")
        self._forms = SignedTokens(key, "form")
        self._mark = hashlib.sha256(b"password " + password_hash.encode()).hexdigest()[:16]
        self._guests = guests
        self._ended = ended
        self._alone = alone

    def heed(self, host: str, address: str) -> None:
        """Note a request from this computer for an address elsewhere, which no browser here would send by itself."""
        if self._alone and is_loopback(address) and is_elsewhere(host):
            self._open_no_more()

    def _open_no_more(self) -> None:
        log.warning("A program on this computer passes the page on for others: from now on everybody is asked.")
        self._alone = False

    def end(self, session: str, now_s: float) -> None:
        """End a session: its cookie opens nothing any more, even if it was copied."""
        if session:
            self._ended.end(session, now_s, SESSION_S)

    def visitor(
        self, cookie: str, host: str, headers: Mapping[str, str], address: str, now_s: float, *, version: str = "1.1"
    ) -> Visitor:
        """Return the sender of a request.

        Args:
            cookie: The session's cookie, or "".
            host: The Host header.
            headers: All headers, names in lower case.
            address: The address from which the request came.
            now_s: Now, seconds since 1970.
            version: The HTTP version.
        """
        here = is_loopback(address)
        if self._alone and here and was_passed_on(headers, version):
            self._open_no_more()
        near = self._alone and here and is_loopback(host_name(host))
        value = self._sessions.read(cookie, now_s) if cookie else None
        kept: dict[str, Any] = value if isinstance(value, dict) else {}
        if kept.get("session") in self._ended:
            kept = {}
        known = kept.get("password") == self._mark
        standing = Standing.KEEPER if near or known else Standing.STRANGER
        name = str(kept.get("name", ""))
        was_guest = False
        if standing is Standing.STRANGER and (secret_hash := kept.get("guest")):
            guest = self._guests.known(str(secret_hash))
            was_guest = guest is None
            if guest is not None:
                standing, name = Standing.GUEST, guest.name
        return Visitor(
            standing=standing,
            name=name,
            session=str(kept.get("session", "")),
            near=near,
            address=address,
            known=known,
            was_guest=was_guest,
            # A cookie of an earlier version does not say it.
            until_s=int(kept.get("until", now_s + SESSION_S)) if kept else 0,
        )

    def begin(
        self, now_s: float, *, name: str = "", known: bool = False, guest: str = "", session: str = "", until_s: int = 0
    ) -> str:
        """Return the cookie of a session.

        Args:
            now_s: Now, seconds since 1970.
            name: The name that the visitor gave, or "".
            known: Whether the visitor gave the password.
            guest: The hash of the guest link that was opened, or "".
            session: Id of the session to continue; "": a new one.
            until_s: When the session to continue ends, seconds since 1970; 0: `SESSION_S` from now.
        """
        ends_s = until_s or int(now_s + SESSION_S)
        value: dict[str, Any] = {"session": session or secrets.token_urlsafe(12), "until": ends_s}
        if name:
            value["name"] = name
        if known:
            value["password"] = self._mark
        if guest:
            value["guest"] = guest
        return self._sessions.sign(value, ends_s)

    def session_of(self, cookie: str, now_s: float) -> str:
        """Return the id of a cookie's session, or ""."""
        value = self._sessions.read(cookie, now_s)
        return str(value.get("session", "")) if isinstance(value, dict) else ""

    def form_token(self, session: str, now_s: float) -> str:
        """Return a token for the forms of one page; it looks different each time."""
        return self._forms.sign([session, secrets.token_urlsafe(6)], now_s + FORM_S)

    def form_fits(self, token: str, session: str, now_s: float) -> bool:
        """Return whether a form came from a page that this session was shown.

        Args:
            token: The form's token.
            session: Id of the session.
            now_s: Now, seconds since 1970.
        """
        value = self._forms.read(token, now_s)
        return bool(session) and isinstance(value, list) and value[0] == session


def tidy_name(text: str) -> str:
    """Return a typed name, fit to be kept; "" if nothing is left of it."""
    return clean(text, NAME_LENGTH) if text.strip() else ""
