"""Keeps an open line to each browser that says when the yard changed; the browser then loads its sheet anew.

Source: HTML living standard, server-sent events (`text/event-stream`).
"""

import asyncio
import time
from collections.abc import AsyncIterator, Callable

from starlette.requests import Request
from starlette.responses import PlainTextResponse, Response, StreamingResponse

from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import visitor_of

LOOK_S = 0.5
AT_MOST_EVERY_S = 2.0
"""Seconds between two messages, so that a stream of readings does not keep a phone drawing all the time."""
ALIVE_S = 10.0
MOST_LINES = 40


class OpenLines:
    """The open lines of a page."""

    def __init__(self, page: PageContext, ending: Callable[[], bool]) -> None:
        """Begin without lines; `ending` tells whether the server is about to stop."""
        self._page = page
        self._ending = ending
        self.open = 0

    async def answer(self, request: Request) -> Response:
        """Open a line."""
        if self.open >= MOST_LINES:
            return PlainTextResponse("Too many browsers listen; this one looks again by itself.", 503)
        headers = {"cache-control": "no-store", "x-accel-buffering": "no"}
        return StreamingResponse(self._events(request), media_type="text/event-stream", headers=headers)

    async def _events(self, request: Request) -> AsyncIterator[str]:
        self.open += 1
        try:
            seen = self._page.yard.changed()
            said_s = alive_s = time.monotonic()
            yield f"retry: 3000\nevent: alive\ndata: {self._page.yard.now()}\n\n"
            while not self._ending():
                await asyncio.sleep(LOOK_S)
                now_s, number = time.monotonic(), self._page.yard.changed()
                if number != seen and now_s - said_s >= AT_MOST_EVERY_S:
                    seen, said_s = number, now_s
                    yield f"event: changed\ndata: {self._page.yard.now()}\n\n"
                elif now_s - alive_s >= ALIVE_S:
                    if not self._may_still(request):
                        return
                    alive_s = now_s
                    yield f"event: alive\ndata: {self._page.yard.now()}\n\n"
        finally:
            self.open -= 1

    def _may_still(self, request: Request) -> bool:
        """Return whether the line's visitor may still look: a guest link can be withdrawn meanwhile."""
        cookie = request.scope["gate"].cookie_of(request.headers)
        host, address = request.headers.get("host", ""), visitor_of(request).address
        return self._page.sessions.visitor(cookie, host, request.headers, address, time.time()).looks
