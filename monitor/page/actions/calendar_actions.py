"""The diary as a calendar: phones read it by a link of their own, keepers make and withdraw the links."""

import logging
import time

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.model.errors import UnavailableError
from monitor.model.times import DAY_MS
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import form_of, visitor_of
from monitor.page.sheets.diary_sheet import show_diary
from monitor.page.visitors.sessions import tidy_name

log = logging.getLogger("heaptender.page")

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


def make_calendar(page: PageContext, request: Request) -> Response:
    """Make a calendar link; its address is never shown again."""
    visitor, form = visitor_of(request), form_of(request)
    name = tidy_name(form.get("name", "")) or "a phone"
    try:
        made, token = page.calendars.make(name, visitor.name or "a keeper", page.yard.now(), time.time())
    except UnavailableError as fault:
        return show_diary(page, request, trouble=str(fault))
    log.info("Calendar link %d for %s made by %s.", made.number, made.name, made.by)
    return show_diary(page, request, made=f"{page.settings.link}/calendar/{token}/diary.ics")


def withdraw_calendar(page: PageContext, request: Request) -> Response:
    """Withdraw a calendar link; whoever reads it gets nothing more."""
    number = form_of(request).get("number", "")
    try:
        gone = page.calendars.withdraw(int(number)) if number.isdecimal() else None
    except UnavailableError as fault:
        return show_diary(page, request, trouble=str(fault))
    if gone is not None:
        name = visitor_of(request).name or "a keeper"
        log.info("Calendar link %d (%s) withdrawn by %s.", gone.number, gone.name, name)
    return RedirectResponse("/diary", 303)
