"""Makes and withdraws links that open a part of the page without the password: guest links, and those to the diary's calendar.

A link's address is shown once, to whoever made it.
"""

import logging
from collections.abc import Callable
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.model.errors import UnavailableError
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import form_of, visitor_of
from monitor.page.visitors.guest_book import Guest
from monitor.page.visitors.sessions import tidy_name

log = logging.getLogger("heaptender.page")


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkKind:
    """A kind of links.

    Attributes:
        called: The word for one in the log.
        nameless: The holder of one without a name.
        make: Makes one for a holder, by a keeper; returns it with its path.
        withdraw: Withdraws the one of a number; returns it, or None if there is none.
        show: Shows the sheet on which they are made, with a fault or a new address.
        sheet: That sheet's address.
    """

    called: str
    nameless: str
    make: Callable[[PageContext, str, str], tuple[Guest, str]]
    withdraw: Callable[[PageContext, int], Guest | None]
    show: Callable[..., Response]
    sheet: str


def make_link(page: PageContext, request: Request, kind: LinkKind) -> Response:
    """Make a link, and return the sheet with its address.

    Args:
        page: The shared parts.
        request: The request.
        kind: The kind of link.
    """
    visitor, form = visitor_of(request), form_of(request)
    name = tidy_name(form.get("name", "")) or kind.nameless
    try:
        made, path = kind.make(page, name, visitor.name or "a keeper")
    except UnavailableError as fault:
        return kind.show(page, request, trouble=str(fault))
    log.info("%s %d for %s made by %s.", kind.called, made.number, made.name, made.by)
    return kind.show(page, request, made=f"{page.settings.link}{path}")


def withdraw_link(page: PageContext, request: Request, kind: LinkKind) -> Response:
    """Withdraw a link, whose holder gets nothing more, and return the way back to its sheet.

    Args:
        page: The shared parts.
        request: The request.
        kind: The kind of link.
    """
    number = form_of(request).get("number", "")
    try:
        gone = kind.withdraw(page, int(number)) if number.isdecimal() else None
    except UnavailableError as fault:
        return kind.show(page, request, trouble=str(fault))
    if gone is not None:
        name = visitor_of(request).name or "a keeper"
        log.info("%s %d (%s) withdrawn by %s.", kind.called, gone.number, gone.name, name)
    return RedirectResponse(kind.sheet, 303)
