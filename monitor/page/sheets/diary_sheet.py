"""The diary: the things that fall due, by day, today first; on paper a list to tick off."""

from dataclasses import dataclass
from datetime import timedelta
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from monitor.diary import Due, by_day, clock_words, reason, slack_words, title
from monitor.model.settings import YARD
from monitor.notices import instant, local
from monitor.page.pictures.qr_code import qr_code
from monitor.page.places.needs import name_of
from monitor.page.ports import Look
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import visitor_of
from monitor.page.visitors.hosts import host_name, is_loopback

SPANS = {"7": "a week", "14": "two weeks", "30": "a month"}
"""How many days the sheet can look ahead, and the words for that."""
USUAL = "7"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A thing that falls due, in words for the sheet.

    Attributes:
        id: Its id, the same at every look.
        when: When on its day, or `now`.
        place: Its pile or bin, "" for the whole yard.
        name: People's name for that.
        what: What to do, or to expect.
        slack: How long it can wait, "" if nobody does it.
        why: Why, a sentence; "" where `what` says it.
        look: `late`, `due`, `coming`, `expected` or `off`: how it is set.
    """

    id: str
    when: str
    place: str
    name: str
    what: str
    slack: str
    why: str
    look: str


def show_diary(page: PageContext, request: Request, *, made: str = "", trouble: str = "") -> Response:
    """Return the sheet of things that fall due, a week ahead or as many days as were chosen, with calendar links for keepers.

    Args:
        page: The shared parts.
        request: The request.
        made: The address of a calendar link just made, or "".
        trouble: Why no link could be made or withdrawn, or "".
    """
    asked = request.query_params.get("days", USUAL)
    chosen = asked if asked in SPANS else USUAL
    with page.yard.look() as look:
        zone = ZoneInfo(look.engine.state.settings.site.time_zone)
        until = instant(local(look.now, zone).date() + timedelta(days=int(chosen)), 0, zone)
        days = [
            (day.heading, [_line(look, one, zone) for one in day.dues])
            for day in by_day(look.diary(until), look.now, zone)
        ]
        return page.show(
            request,
            "diary.html",
            look,
            400 if trouble else 200,
            here="/diary",
            back="/diary",
            days=days,
            spans=SPANS,
            chosen=chosen,
            calendars=page.calendars.all() if visitor_of(request).keeps else [],
            made=made,
            code=qr_code(made) if made else "",
            trouble=trouble,
            # A link with a loopback address would only work on this computer.
            loopback=is_loopback(host_name(urlsplit(page.settings.link).netloc)),
        )


def _line(look: Look, one: Due, zone: ZoneInfo) -> Line:
    slack = slack_words(one, look.now)
    return Line(
        id=one.id,
        when="" if one.expected else clock_words(one, look.now, zone),
        place="" if one.place == YARD else one.place,
        name="The yard" if one.place == YARD else name_of(look.engine, one.place),
        what=one.why if one.expected else title(one),
        slack=slack[:1].upper() + slack[1:],
        why="" if one.expected else reason(one),
        look=_set(one, look.now),
    )


def _set(one: Due, now: int) -> str:
    if one.expected:
        return "expected"
    if one.forbids:
        return "off"
    if one.due_ms > now:
        return "coming"
    return "late" if one.slack_ms(now) < 0 else "due"
