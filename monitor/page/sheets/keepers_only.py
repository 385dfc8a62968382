"""Sheets that name people are for keepers: a guest is told so."""

from collections.abc import Callable
from functools import wraps

from starlette.requests import Request
from starlette.responses import Response

from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import visitor_of

Sheet = Callable[[PageContext, Request], Response]


def keepers_only(sheet: Sheet) -> Sheet:
    """Return a sheet that shows itself to keepers alone."""

    @wraps(sheet)
    def shown(page: PageContext, request: Request) -> Response:
        if not visitor_of(request).keeps:
            return page.fault(request, "This sheet names people; it is for those who keep the yard.", 403)
        return sheet(page, request)

    return shown
