"""Guest links: guests open them, keepers make and withdraw them."""

import logging

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.page.actions.link_actions import LinkKind, make_link, withdraw_link
from monitor.page.actions.sign_in import with_session
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import visitor_of
from monitor.page.sheets.people_sheet import show_people
from monitor.page.visitors.guest_book import Guest

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


def _make(page: PageContext, name: str, by: str) -> tuple[Guest, str]:
    made, secret = page.guests.make(name, by, page.yard.now())
    return made, f"/guest/{secret}"


_GUEST = LinkKind(
    called="Guest link", nameless="a guest", make=_make,
    withdraw=lambda page, number: page.guests.withdraw(number), show=show_people, sheet="/people",
)  # fmt: skip


def make_guest(page: PageContext, request: Request) -> Response:
    """Make a guest link; its address is never shown again."""
    return make_link(page, request, _GUEST)


def withdraw_guest(page: PageContext, request: Request) -> Response:
    """Withdraw a guest link; guests who used it are out with their next step."""
    return withdraw_link(page, request, _GUEST)
