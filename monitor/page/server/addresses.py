"""All addresses of the page, behind its gate."""

import logging
from collections.abc import Awaitable, Callable
from urllib.parse import urlsplit

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.middleware.gzip import GZipMiddleware
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from monitor.model.errors import MonitorError, UnavailableError
from monitor.page.actions import acting, entering
from monitor.page.server.live_updates import Lines
from monitor.page.server.whose_page import PATH, proof
from monitor.page.shared.house import House
from monitor.page.sheets import showing
from monitor.page.visitors.hosts import host_name
from monitor.page.visitors.request_gate import Gate

log = logging.getLogger("heaptender.page")

Handler = Callable[[House, Request], Response]


def application(house: House, ending: Callable[[], bool] = lambda: False) -> Gate:
    """Return the page as an ASGI application.

    Args:
        house: What its addresses share.
        ending: Says that the server is about to stop, so that open lines end.
    """
    shown: dict[str, Handler] = {
        "/": showing.yard,
        "/place/{place:path}": showing.place,
        "/days/{place:path}": showing.days,
        "/before": showing.before,
        "/away": showing.away,
        "/labels": showing.labels,
        "/people": entering.people,
        "/guest/{secret}": entering.guest,
    }
    done: dict[str, Handler] = {
        "/do/work": acting.work,
        "/do/reading": acting.reading,
        "/do/answer": acting.answer,
        "/do/seen": acting.seen_over,
        "/do/undo": acting.undo,
        "/do/probes": acting.probes,
        "/do/mark": acting.mark,
        "/do/certificate": acting.certify,
        "/do/guest": entering.make_guest,
        "/do/withdraw": entering.withdraw_guest,
        "/name": entering.call_me,
        "/leave": entering.leave,
    }
    both: dict[str, Handler] = {"/enter": entering.enter, "/m/{token}": entering.seen_link}
    routes = [Route(path, _careful(house, handler), methods=["GET"]) for path, handler in shown.items()]
    routes += [Route(path, _careful(house, handler), methods=["POST"]) for path, handler in done.items()]
    routes += [Route(path, _careful(house, handler), methods=["GET", "POST"]) for path, handler in both.items()]
    routes += [
        Route("/certificate/{name}", _careful(house, showing.certificate), methods=["GET"]),
        Route(f"{PATH}{{nonce}}", _whose(house), methods=["GET"]),
        Route("/static/{name}", _file(house), methods=["GET"]),
        Route("/favicon.ico", _file(house, "icon.svg"), methods=["GET"]),
        Route("/live", Lines(house, ending).answer, methods=["GET"]),
    ]
    inner = Starlette(
        routes=routes,
        middleware=[Middleware(GZipMiddleware, minimum_size=2_000, compresslevel=5)],
        exception_handlers={404: _nowhere(house), 405: _nowhere(house)},
    )
    link = urlsplit(house.settings.link)
    names = {*house.settings.hosts, (link.hostname or "").lower(), host_name(house.settings.listen)} - {""}
    return Gate(
        inner,
        house.sessions,
        names,
        password=bool(house.settings.password_hash),
        secure=house.settings.secure,
        stylesheet=house.files.address("page.css"),
        listen=house.settings.listen,
    )


def _careful(house: House, handler: Handler) -> Callable[[Request], Awaitable[Response]]:
    """Return an endpoint that works on a thread of its own and turns faults into one sentence."""

    def work(request: Request) -> Response:
        try:
            return handler(house, request)
        except KeyError:
            return house.fault(request, "There is nothing at this address.", 404)
        except UnavailableError as fault:
            return house.fault(request, str(fault), 503)
        except MonitorError as fault:
            return house.fault(request, str(fault), 404)
        except Exception:
            log.exception("The page could not answer %s %s", request.method, request.url.path)
            return house.fault(request, "This program is at fault and could not answer; the log says more.", 500)

    async def endpoint(request: Request) -> Response:
        return await run_in_threadpool(work, request)

    return endpoint


def _whose(house: House) -> Callable[[Request], Awaitable[Response]]:
    async def endpoint(request: Request) -> Response:
        return PlainTextResponse(proof(house.key, request.path_params["nonce"]), headers={"cache-control": "no-store"})

    return endpoint


def _file(house: House, name: str = "") -> Callable[[Request], Awaitable[Response]]:
    async def endpoint(request: Request) -> Response:
        return house.files.answer(name or request.path_params["name"])

    return endpoint


def _nowhere(house: House) -> Callable[[Request, Exception], Awaitable[Response]]:
    async def answer(request: Request, _: Exception) -> Response:
        return house.fault(request, "There is nothing at this address.", 404)

    return answer
