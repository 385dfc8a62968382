"""Signs people in by the password and out, and keeps the name for their entries."""

import logging
import threading
import time

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import form_of, visitor_of
from monitor.page.visitors.own_paths import own_path
from monitor.page.visitors.passwords import fits
from monitor.page.visitors.sessions import tidy_name

log = logging.getLogger("heaptender.page")

_PASSWORD_LOCK = threading.Lock()
"""Passwords are compared singly, because comparing takes 16 MB and a tenth of a second on purpose."""


def enter(page: PageContext, request: Request) -> Response:
    """Ask for the password, or take it."""
    visitor = visitor_of(request)
    onward = own_path(request.query_params.get("next", "") or form_of(request).get("next", "") or "/")
    if request.method != "POST":
        if visitor.keeps:
            return RedirectResponse(onward, 303)
        return _asked(page, request, onward)
    form = form_of(request)
    name = tidy_name(form.get("name", ""))
    with _PASSWORD_LOCK:
        wait_s = page.tries.wait_s(visitor.address)
        if wait_s > 0:
            words = f"Too many tries. Wait {_wait_words(wait_s)}, then try again."
            return _asked(page, request, onward, 429, name, words)
        kept = page.settings.password_hash
        if not kept or not fits(form.get("password", ""), kept):
            page.tries.failed(visitor.address)
            log.warning("A wrong password was tried from %s.", visitor.address)
            words = "That is not the password. Mind capitals, and try again."
            return _asked(page, request, onward, 403, name, words)
        page.tries.passed(visitor.address)
    log.info("%s came in from %s.", name or "Somebody", visitor.address)
    return with_session(page, request, RedirectResponse(onward, 303), name=name, known=True)


def _asked(
    page: PageContext, request: Request, onward: str, status: int = 200, name: str = "", wrong: str = ""
) -> Response:
    was_guest = visitor_of(request).was_guest and not wrong
    return page.show(request, "enter.html", None, status, onward=onward, name=name, wrong=wrong, was_guest=was_guest)


def leave(page: PageContext, request: Request) -> Response:
    """End the session, even if its cookie was copied."""
    page.sessions.end(visitor_of(request).session, time.time())
    return with_session(page, request, RedirectResponse("/", 303))


def call_me(page: PageContext, request: Request) -> Response:
    """Keep a visitor's name, which then stands beside their entries; the session ends when it would have ended."""
    visitor, form = visitor_of(request), form_of(request)
    name = tidy_name(form.get("name", ""))
    response = RedirectResponse(own_path(form.get("back", "/people")), 303)
    value = page.sessions.begin(
        time.time(), name=name, known=visitor.known, session=visitor.session, until_s=visitor.until_s
    )
    response.headers["set-cookie"] = request.scope["gate"].cookie(value)
    return response


def with_session(
    page: PageContext, request: Request, response: Response, *, name: str = "", known: bool = False, guest: str = ""
) -> Response:
    """Return a response with the cookie of a new session.

    Args:
        page: The shared parts.
        request: The request, which knows the gate.
        response: The response.
        name: The name that the visitor gave, or "".
        known: Whether the visitor gave the password.
        guest: The hash of the guest link that was opened, or "".
    """
    value = page.sessions.begin(time.time(), name=name, known=known, guest=guest)
    gate = request.scope["gate"]
    response.headers["set-cookie"] = gate.cookie(value)
    return response


def _wait_words(wait_s: float) -> str:
    return f"{round(wait_s / 60)} min" if wait_s >= 90 else f"{max(1, round(wait_s))} s"
