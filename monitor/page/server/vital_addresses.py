"""Two addresses for programs: `/health` says whether the daemon stores, `/metrics` gives its figures to whoever has the token.

Neither needs a session. The first tells a stranger nothing of the yard; the second exists only where a token is set.
"""

import hmac
from collections.abc import Awaitable, Callable

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response

from monitor.page.vital_ports import OPENMETRICS, Vitals

HEALTH, METRICS = "/health", "/metrics"

Endpoint = Callable[[Request], Awaitable[Response]]


def health(vitals: Vitals) -> Endpoint:
    """Return the address that answers 200 while the daemon stores, else 503 with the reason."""

    async def endpoint(_: Request) -> Response:
        trouble = vitals.trouble()
        return PlainTextResponse(
            f"{trouble}\n" if trouble else "The daemon stores what comes in.\n", 503 if trouble else 200
        )

    return endpoint


def metrics(vitals: Vitals, token: str) -> Endpoint:
    """Return the address of the daemon's figures.

    Args:
        vitals: The daemon's signs of life.
        token: The bearer token that a program must send (RFC 6750); "": there are no figures.
    """

    async def endpoint(request: Request) -> Response:
        if not token:
            return PlainTextResponse("No figures: `page.metrics_token` is not set.\n", 404)
        kind, _, given = request.headers.get("authorization", "").partition(" ")
        if kind.lower() != "bearer" or not hmac.compare_digest(given.strip().encode(), token.encode()):
            words = "The figures are for programs that send `page.metrics_token` as a bearer token.\n"
            return PlainTextResponse(words, 401, headers={"www-authenticate": "Bearer"})
        # For programs: a browser is to keep it as a file, whatever it holds.
        headers = {"content-disposition": 'attachment; filename="figures.txt"', "cache-control": "no-store"}
        return Response(await run_in_threadpool(vitals.measurements), media_type=OPENMETRICS, headers=headers)

    return endpoint
