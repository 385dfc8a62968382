"""Keeps sheets that name people for keepers; guests get a refusal."""

from collections.abc import Callable
from functools import wraps

from starlette.requests import Request
from starlette.responses import Response

from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import visitor_of

Sheet = Callable[[PageContext, Request], Response]


def keepers_only(sheet: Sheet) -> Sheet:
    """Return a sheet that only keepers see."""

    @wraps(sheet)
    def shown(page: PageContext, request: Request) -> Response:
        if not visitor_of(request).keeps:
            return page.fault(request, "This sheet names people; it is for those who keep the yard.", 403)
        return sheet(page, request)

    return shown
