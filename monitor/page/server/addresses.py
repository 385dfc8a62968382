"""All addresses of the page, behind its gate."""

import logging
import secrets
from collections.abc import Awaitable, Callable, Mapping
from urllib.parse import urlsplit

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from monitor.drawing import PAPER_COLOURS
from monitor.model.errors import MonitorError, UnavailableError
from monitor.page.actions import (
    alarm_actions,
    calendar_actions,
    certificate_actions,
    guest_actions,
    lot_actions,
    mark_actions,
    mend_actions,
    round_actions,
    seen_link,
    sign_in,
    work_actions,
)
from monitor.page.page_templates import page_templates
from monitor.page.server.live_updates import OpenLines
from monitor.page.server.vital_addresses import HEALTH, METRICS, health, metrics
from monitor.page.server.whose_page import PATH, proof
from monitor.page.shared.page_context import PageContext
from monitor.page.sheets.all_sheets import SHEETS
from monitor.page.sheets.home_screen import home_screen
from monitor.page.sheets.photo_file import photo
from monitor.page.visitors.hosts import host_name
from monitor.page.visitors.request_gate import SECRET_ADDRESSES, Gate

log = logging.getLogger("heaptender.page")

Handler = Callable[[PageContext, Request], Response]
Endpoint = Callable[[Request], Awaitable[Response]]

SHOWN: Mapping[str, Handler] = {
    **{sheet.path: sheet.show for sheet in SHEETS},
    "/guest/{secret}": guest_actions.open_guest_link,
    "/calendar/{token}/diary.ics": calendar_actions.calendar,
    "/photo/{photo}.jpg": photo,
    "/yard.webmanifest": home_screen,
}
DONE: Mapping[str, Handler] = {
    "/do/work": work_actions.work,
    "/do/reading": work_actions.reading,
    "/do/round": round_actions.round_typed,
    "/do/lots": lot_actions.of_lots,
    "/do/undo": work_actions.undo,
    "/do/mend": mend_actions.mend,
    "/do/take-back": mend_actions.take_back,
    "/do/probes": work_actions.probes,
    "/do/answer": alarm_actions.answer,
    "/do/seen": alarm_actions.seen_over,
    "/do/mark": mark_actions.mark,
    "/do/certificate": certificate_actions.certify,
    "/do/guest": guest_actions.make_guest,
    "/do/withdraw": guest_actions.withdraw_guest,
    "/do/calendar": calendar_actions.make_calendar,
    "/do/calendar-withdraw": calendar_actions.withdraw_calendar,
    "/name": sign_in.call_me,
    "/leave": sign_in.leave,
}
SHOWN_AND_DONE: Mapping[str, Handler] = {
    "/enter": sign_in.enter,
    "/m/{token}": seen_link.seen_link,
}


def application(page: PageContext, ending: Callable[[], bool] = lambda: False) -> Gate:
    """Return the page as an ASGI application.

    Args:
        page: The shared parts.
        ending: Tells whether the server is about to stop, so that open lines end.
    """
    page_templates().globals |= {"sheets": SHEETS, "theme_colours": PAPER_COLOURS}
    inner = Starlette(
        routes=[*_handled(page), *_served(page, ending)],
        middleware=[Middleware(GZipMiddleware, minimum_size=2_000, compresslevel=5)],
        exception_handlers={404: _nowhere(page), 405: _nowhere(page)},
    )
    settings = page.settings
    link = urlsplit(settings.link)
    names = {*settings.hosts, (link.hostname or "").lower(), host_name(settings.listen)} - {""}
    return Gate(
        inner,
        page.sessions,
        names,
        password=bool(settings.password_hash),
        secure=settings.secure,
        stylesheet=page.files.address("page.css"),
        listen=settings.listen,
    )


def _handled(page: PageContext) -> list[Route]:
    """Return the addresses that look at the yard or act there."""
    by_methods = ((["GET"], SHOWN), (["POST"], DONE), (["GET", "POST"], SHOWN_AND_DONE))
    return [
        Route(path, _careful(page, handler), methods=methods)
        for methods, handlers in by_methods
        for path, handler in handlers.items()
    ]


def _served(page: PageContext, ending: Callable[[], bool]) -> list[Route]:
    """Return the addresses that need no look: files, the proof whose page it is, the open lines."""
    return [
        Route(f"{PATH}{{nonce}}", _whose(page), methods=["GET"]),
        Route("/static/{name}", _file(page), methods=["GET"]),
        Route("/favicon.ico", _file(page, "icon.svg"), methods=["GET"]),
        *_for_programs(page),
        Route("/live", OpenLines(page, ending).answer, methods=["GET"]),
    ]


def _for_programs(page: PageContext) -> list[Route]:
    """Return the addresses for programs that watch the daemon; none where nothing gives its signs of life."""
    if page.vitals is None:
        return []
    return [
        Route(HEALTH, health(page.vitals), methods=["GET"]),
        Route(METRICS, metrics(page.vitals, page.settings.metrics_token), methods=["GET"]),
    ]


def _careful(page: PageContext, handler: Handler) -> Endpoint:
    """Return an endpoint that works on its own thread and turns faults into one sentence."""

    def work(request: Request) -> Response:
        try:
            return handler(page, request)
        except KeyError:
            return page.fault(request, "There is nothing at this address.", 404)
        except UnavailableError as fault:
            return page.fault(request, str(fault), 503)
        except MonitorError as fault:
            return page.fault(request, str(fault), 404)
        except Exception:
            number = secrets.token_hex(3)
            log.exception("The page could not answer %s %s (fault %s)", request.method, _named(request), number)
            words = f"This program is at fault and could not answer; the log says more, at “fault {number}”."
            return page.fault(request, words, 500)

    async def endpoint(request: Request) -> Response:
        return await run_in_threadpool(work, request)

    return endpoint


def _named(request: Request) -> str:
    """Return the address of a request for the log: without the secret where that is part of it."""
    path = request.url.path
    return f"/{path.split('/')[1]}/…" if path.startswith(SECRET_ADDRESSES) else path


def _whose(page: PageContext) -> Endpoint:
    async def endpoint(request: Request) -> Response:
        return PlainTextResponse(proof(page.key, request.path_params["nonce"]), headers={"cache-control": "no-store"})

    return endpoint


def _file(page: PageContext, name: str = "") -> Endpoint:
    async def endpoint(request: Request) -> Response:
        return page.files.answer(name or request.path_params["name"])

    return endpoint


def _nowhere(page: PageContext) -> Callable[[Request, Exception], Awaitable[Response]]:
    async def answer(request: Request, _: Exception) -> Response:
        return page.fault(request, "There is nothing at this address.", 404)

    return answer
