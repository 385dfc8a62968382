"""The gate before every address of the page: it checks names, sizes and visitors, and sets the headers of answers.

1. A Host that is neither ours nor a plain address is refused first (DNS rebinding); without a password, so is an address on
   which the page does not listen.
2. A body is read here, once, up to 64 KB; only plain forms are accepted, and where a photo may go along, forms with one
   (`form_reading`).
3. A form must come from a page that this session was shown (a signed token), and from this origin, as far as the browser
   says so. A link in a message needs no session: its address is the secret, and browsers inside other programs keep no
   cookies.
4. Every answer has the same strict headers; no cache keeps anything that shows the yard, but the browser's own keeps photos.
"""

import logging
import time
from collections.abc import Awaitable, Callable, Collection, Mapping, MutableMapping
from dataclasses import replace
from typing import Any
from urllib.parse import quote, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import cookie_parser
from starlette.responses import Response

from monitor.page.visitors.form_reading import read_form
from monitor.page.visitors.gate_refusal import refusal
from monitor.page.visitors.hosts import asked_from, host_fits, host_name
from monitor.page.visitors.own_paths import own_path
from monitor.page.visitors.sessions import (
    COOKIE,
    SECURE_COOKIE,
    SESSION_S,
    Sessions,
    Standing,
    Visitor,
)

log = logging.getLogger("heaptender.page")

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

METHODS = ("GET", "HEAD", "POST")
ODD_EVERY_S = 60.0

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; "
    "manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "x-frame-options": "DENY",
}
FOR_PROGRAMS = ("/health", "/metrics")
"""Addresses that programs ask again and again; they begin no session."""
OPEN_TO_ALL = ("/static/", "/enter", "/guest/", "/calendar/", "/bag/", "/m/", "/favicon.ico", *FOR_PROGRAMS)
"""Beginnings of the addresses that strangers may call; each checks its visitors itself."""
SECRET_ADDRESSES = ("/guest/", "/calendar/", "/bag/", "/m/")
"""Beginnings of the addresses that hold a secret, which no log may show."""
SECRETS = ("/m/",)
"""Beginnings of secret addresses, known only to people who got them; their forms need no token of a session."""
READERS_MAY = ("/leave",)
"""The addresses to which guests may post; all others change the yard or the page."""


class Gate:
    """Wraps the application."""

    def __init__(
        self,
        app: App,
        sessions: Sessions,
        hosts: Collection[str],
        *,
        password: bool,
        secure: bool,
        stylesheet: str = "",
        listen: str = "",
    ) -> None:
        """Put the gate before an application.

        Args:
            app: The application behind the gate.
            sessions: Reads cookies and form tokens.
            hosts: Names by which the page may be called.
            password: Whether a password is set, for which strangers can be asked.
            secure: Whether people reach the page by https; then its cookies never travel unencrypted.
            stylesheet: The stylesheet's address, for refusals.
            listen: The address on which the page listens; requests for other addresses are answered only if a password is set.
        """
        self._app = app
        self._sessions = sessions
        self._hosts = frozenset(hosts)
        self._password = password
        self._secure = secure
        self._name = SECURE_COOKIE if secure else COOKIE
        self._stylesheet = stylesheet
        self._listen = "" if password else listen
        self._odd_at_s = -ODD_EVERY_S

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        host = headers.get("host", "")
        if len(headers.getlist("host")) != 1 or not host_fits(host, self._hosts, self._listen):
            self._sessions.heed(host, scope["client"][0] if scope.get("client") else "")
            words = (
                f"This yard is not called “{host_name(host)[:60]}”. Use the address that `heaptender status` shows, "
                "or add the name to `page.hosts` if it is yours."
            )
            # A request for a foreign name gets nothing of the page, not even the stylesheet.
            await _answer(refusal(words, 421, title="Wrong name"), scope, receive, _dressed(send, ""))
            return
        now_s = time.time()
        cookie = self.cookie_of(headers)
        address = scope["client"][0] if scope.get("client") else ""
        version = scope.get("http_version", "1.1")
        visitor = self._sessions.visitor(cookie, host, headers, address, now_s, version=version)
        visitor = replace(visitor, address=asked_from(",".join(headers.getlist("x-forwarded-for")), address))
        fresh = ""
        if not visitor.session and not scope["path"].startswith(("/static/", *FOR_PROGRAMS)):
            fresh = self._sessions.begin(now_s)
            visitor = replace(visitor, session=self._sessions.session_of(fresh, now_s))
        scope["visitor"], scope["gate"] = visitor, self
        answer = _dressed(send, self.cookie(fresh) if fresh else "", secure=self._secure)
        refused = await self._refusal(scope, headers, receive, visitor, now_s, old=not fresh)
        if refused is not None:
            await _answer(refused, scope, receive, answer)
            return
        await self._app(scope, receive, answer)

    def cookie(self, value: str) -> str:
        """Return the Set-Cookie header of a session."""
        secure = "; Secure" if self._secure else ""
        # Lax, not Strict: with Strict, a link in a mail would open the page without the session.
        return f"{self._name}={value}; Path=/; Max-Age={SESSION_S}; HttpOnly; SameSite=Lax{secure}"

    def cookie_of(self, headers: Mapping[str, str]) -> str:
        """Return the cookie of a request, or ""."""
        return cookie_parser(headers.get("cookie", "")).get(self._name, "")

    async def _refusal(
        self, scope: Scope, headers: Headers, receive: Receive, visitor: Visitor, now_s: float, *, old: bool
    ) -> Response | None:
        method, path = scope["method"], scope["path"]
        if method not in METHODS:
            self._note_odd(visitor.address)
            refused = self._refuse("That is not done here.", 405)
            refused.headers["allow"] = ", ".join(METHODS)
            return refused
        is_open = path.startswith(OPEN_TO_ALL)
        if visitor.standing is Standing.STRANGER and not is_open:
            return self._stranger(method, path)
        if method != "POST":
            return None
        if not _same_origin(headers):
            return self._refuse("This form came from another site; nothing was done.", 403)
        if visitor.standing is Standing.GUEST and not is_open and path not in READERS_MAY:
            return self._refuse("Your link is for looking only; nothing was done.", 403, ("/", "To the yard"))
        read = await read_form(headers, receive, path)
        if read is None:
            return self._refuse("That is no form of this page, or it is too long.", 413)
        form = read.fields
        scope["form"], scope["photo"] = form, read.photo
        shown = old and self._sessions.form_fits(form.get("token", ""), visitor.session, now_s)
        if not shown and not path.startswith(SECRETS):
            words = "This sheet was opened too long ago, so nothing was written down. Open it again and try once more."
            return self._refuse(words, 403, (own_path(form.get("back", "") or "/"), "Open it again"))
        return None

    def _note_odd(self, address: str) -> None:
        """Note in the log, at most once a minute, that a program tries what no browser of the page does."""
        now_s = time.monotonic()
        if now_s - self._odd_at_s >= ODD_EVERY_S:
            self._odd_at_s = now_s
            log.warning("From %s came a request of a kind that this page does not know; no browser sends it.", address)

    def _stranger(self, method: str, path: str) -> Response:
        if not self._password:
            words = (
                "This page opens only on the yard's own computer, and only while nothing leads to it from elsewhere. Set a "
                "password (`page.password_file`) and restart the daemon; then it asks for that."
            )
            return self._refuse(words, 403, title="Not from here")
        if method == "POST" or path == "/live":
            return self._refuse("The password is asked for first; nothing was done.", 401, ("/enter", "Come in"))
        onward = f"?next={quote(path)}" if path != "/" else ""
        return Response(status_code=303, headers={"location": f"/enter{onward}"})

    def _refuse(
        self, words: str, status: int, onward: tuple[str, str] = ("", ""), *, title: str = "Nothing was done"
    ) -> Response:
        return refusal(words, status, title=title, stylesheet=self._stylesheet, onward=onward)


def _same_origin(headers: Headers) -> bool:
    site = headers.get("sec-fetch-site")
    if site is not None and site not in ("same-origin", "none"):
        return False
    origin = headers.get("origin")
    if origin is None:
        return True
    return urlsplit(origin).netloc.lower() == headers.get("host", "").lower()


def _dressed(send: Send, cookie: str, *, secure: bool = False) -> Send:
    async def dressed(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("cache-control", "no-store")
            if secure:
                headers.setdefault("strict-transport-security", f"max-age={365 * 86_400}")
            if cookie and "set-cookie" not in headers:
                headers.append("set-cookie", cookie)
        await send(message)

    return dressed


async def _answer(response: Response, scope: Scope, receive: Receive, send: Send) -> None:
    await response(scope, receive, send)
