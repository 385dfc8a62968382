"""The sheet of people: the visitor's name, the guest links, and who can reach the page."""

from starlette.requests import Request
from starlette.responses import Response

from monitor.notices import clean
from monitor.page.pictures.qr_code import qr_code
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import visitor_of
from monitor.page.visitors.hosts import is_loopback


def show_people(page: PageContext, request: Request, *, made: str = "", trouble: str = "") -> Response:
    """Return the sheet that shows who may come in.

    Args:
        page: The shared parts.
        request: The request.
        made: The address of a guest link just made, or "".
        trouble: Why no link could be made, or "".
    """
    visitor = visitor_of(request)
    if not visitor.keeps:
        return page.fault(request, "This page is for those who keep the yard.", 403)
    with page.yard.look() as look:
        contacts = [clean(one.name) for one in look.engine.state.settings.contacts.values()]
        return page.show(
            request,
            "people.html",
            look,
            400 if trouble else 200,
            here="/people",
            back="/people",
            guests=page.guests.all(),
            made=made,
            code=qr_code(made) if made else "",
            contacts=contacts,
            trouble=trouble,
            listen=page.settings.listen,
            loopback=is_loopback(page.settings.listen),
        )
