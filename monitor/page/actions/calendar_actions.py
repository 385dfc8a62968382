"""The diary as a calendar: phones read it by a link of their own, keepers make and withdraw the links."""

import time

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.times import DAY_MS
from monitor.page.actions.link_actions import LinkKind, make_link, withdraw_link
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import visitor_of
from monitor.page.sheets.diary_sheet import show_diary
from monitor.page.visitors.guest_book import Guest

AHEAD_MS = 60 * DAY_MS
_GONE = "This calendar link is not in force any more. Whoever keeps the yard can make a new one on the sheet Diary."


def calendar(page: PageContext, request: Request) -> Response:
    """Send the diary of the next weeks as a calendar to the holder of a link."""
    visitor = visitor_of(request)
    wait_s = page.guest_tries.wait_s(visitor.address)
    found = page.calendars.holder(request.path_params["token"], time.time()) if wait_s <= 0 else None
    if found is None:
        if wait_s <= 0:
            page.guest_tries.failed(visitor.address)
        return page.fault(request, _GONE, 404, title="The link has ended")
    body = page.kept_calendar.get(lambda: _written(page))
    headers = {"content-disposition": 'inline; filename="diary.ics"'}
    return Response(body, media_type="text/calendar; charset=utf-8", headers=headers)


def _written(page: PageContext) -> bytes:
    with page.yard.look() as look:
        return look.calendar(look.now + AHEAD_MS)


def _make(page: PageContext, name: str, by: str) -> tuple[Guest, str]:
    made, token = page.calendars.make(name, by, page.yard.now(), time.time())
    return made, f"/calendar/{token}/diary.ics"


_CALENDAR = LinkKind(
    called="Calendar link", nameless="a phone", make=_make,
    withdraw=lambda page, number: page.calendars.withdraw(number), show=show_diary, sheet="/diary",
)  # fmt: skip


def make_calendar(page: PageContext, request: Request) -> Response:
    """Make a calendar link; its address is never shown again."""
    return make_link(page, request, _CALENDAR)


def withdraw_calendar(page: PageContext, request: Request) -> Response:
    """Withdraw a calendar link; whoever reads it gets nothing more."""
    return withdraw_link(page, request, _CALENDAR)
