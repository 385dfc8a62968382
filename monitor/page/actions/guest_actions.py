"""Guest links: guests open them, keepers make and withdraw them."""

import logging

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.model.errors import UnavailableError
from monitor.page.actions.sign_in import with_session
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import form_of, visitor_of
from monitor.page.sheets.people_sheet import show_people
from monitor.page.visitors.sessions import tidy_name

log = logging.getLogger("heaptender.page")

_GUEST_GONE = "This guest link is not in force any more. Ask whoever gave it to you for a new one."


def open_guest_link(page: PageContext, request: Request) -> Response:
    """Let the holder of a guest link look."""
    visitor = visitor_of(request)
    wait_s = page.guest_tries.wait_s(visitor.address)
    found = page.guests.holder(request.path_params["secret"]) if wait_s <= 0 else None
    if found is None:
        if wait_s <= 0:
            page.guest_tries.failed(visitor.address)
        return page.fault(request, _GUEST_GONE, 404, title="The link has ended")
    log.info("Guest link %d (%s) was opened from %s.", found.number, found.name, visitor.address)
    if visitor.keeps:
        return RedirectResponse("/", 303)
    return with_session(page, request, RedirectResponse("/", 303), guest=found.secret_hash)


def make_guest(page: PageContext, request: Request) -> Response:
    """Make a guest link; its address is never shown again."""
    visitor, form = visitor_of(request), form_of(request)
    name = tidy_name(form.get("name", "")) or "a guest"
    try:
        made, secret = page.guests.make(name, visitor.name or "a keeper", page.yard.now())
    except UnavailableError as fault:
        return show_people(page, request, trouble=str(fault))
    log.info("Guest link %d for %s made by %s.", made.number, made.name, made.by)
    return show_people(page, request, made=f"{page.settings.link}/guest/{secret}")


def withdraw_guest(page: PageContext, request: Request) -> Response:
    """Withdraw a guest link; guests who used it are out with their next step."""
    number = form_of(request).get("number", "")
    try:
        gone = page.guests.withdraw(int(number)) if number.isdecimal() else None
    except UnavailableError as fault:
        return show_people(page, request, trouble=str(fault))
    if gone is not None:
        log.info("Guest link %d (%s) withdrawn by %s.", gone.number, gone.name, visitor_of(request).name or "a keeper")
    return RedirectResponse("/people", 303)
