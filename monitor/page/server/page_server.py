"""Serves the page: an event loop on its own thread, beside the writer's, which ends within a second when asked to."""

import asyncio
import contextlib
import logging
import socket
import threading
from collections.abc import Iterator
from dataclasses import replace
from typing import Unpack

import uvicorn

from monitor.model.errors import UnavailableError
from monitor.page.page_settings import PageSettings
from monitor.page.ports import Doing, Yard
from monitor.page.server.addresses import application
from monitor.page.server.client_connections import Connection, QuietFaults
from monitor.page.shared.page_context import FurtherPorts, PageContext
from monitor.page.visitors.page_key import load_key
from monitor.typeface import KeptCuts

log = logging.getLogger("heaptender.page")

LOOK_S = 0.25
"""Seconds between two looks whether to stop."""


class PageServer:
    """The running page; one thread calls `start` and `stop`, each once."""

    def __init__(
        self,
        settings: PageSettings,
        yard: Yard,
        doing: Doing,
        **ports: Unpack[FurtherPorts],
    ) -> None:
        """Prepare everything; nothing listens yet.

        Raises:
            UnavailableError: The data folder cannot hold the page's key.
        """
        self.settings = settings
        self.page = PageContext(settings, load_key(settings.folder), yard, doing, **ports)
        self._server: uvicorn.Server | None = None
        self._thread: threading.Thread | None = None
        self._socket: socket.socket | None = None

    def start(self) -> int:
        """Listen, and return the port.

        Raises:
            UnavailableError: The page cannot listen on its address.
        """
        self._socket = _listening(self.settings)
        port = int(self._socket.getsockname()[1])
        if port != self.settings.port:
            host = f"[{self.settings.listen}]" if ":" in self.settings.listen else self.settings.listen
            self.page.settings = replace(self.settings, port=port, link=f"http://{host}:{port}")

        def ending() -> bool:
            return self._server is None or self._server.should_exit

        config = uvicorn.Config(
            application(self.page, ending),
            log_config=None,
            log_level="warning",
            access_log=False,
            lifespan="off",
            http=Connection,
            ws="none",
            loop="asyncio",
            proxy_headers=False,
            server_header=False,
            date_header=True,
            timeout_graceful_shutdown=1,
            timeout_keep_alive=15,
            h11_max_incomplete_event_size=32 * 1024,
        )
        self._server = _Server(config)
        KeptCuts(self.settings.folder / "typeface").give(self.page.files.dress)
        self._thread = threading.Thread(target=self._run, name="page", daemon=True)
        self._thread.start()
        return port

    def stop(self, limit_s: float = 2.0) -> None:
        """Stop listening and end the open lines, waiting at most `limit_s` seconds."""
        if self._server is not None:
            self._server.should_exit = True
        if self._thread is not None:
            self._thread.join(limit_s)
        if self._socket is not None:
            self._socket.close()

    def _run(self) -> None:
        assert self._server is not None
        assert self._socket is not None
        try:
            self._server.run(sockets=[self._socket])
        except Exception:
            log.exception("The page failed; everything else goes on without it")


class _Server(uvicorn.Server):
    """A server that leaves the process's signals to the daemon, and hardly uses the processor while nobody asks."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Catch no signals."""
        yield

    async def main_loop(self) -> None:
        """Look every `LOOK_S` seconds whether to stop; the library's ten looks a second cost a third of the work at rest."""
        asyncio.get_running_loop().set_exception_handler(QuietFaults())
        # A tick of 0 sets the headers' date anew.
        while not await self.on_tick(0):
            await asyncio.sleep(LOOK_S)


def _listening(settings: PageSettings) -> socket.socket:
    try:
        return _bound(settings, settings.port)
    except OSError as fault:
        if settings.any_port:
            return _bound(settings, 0)
        where = f"{settings.listen}:{settings.port}"
        raise UnavailableError(
            f"the page cannot listen on {where} ({fault.strerror or fault}); choose another `page.port` or `page.listen`"
        ) from fault


def _bound(settings: PageSettings, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in settings.listen else socket.AF_INET
    one = socket.socket(family, socket.SOCK_STREAM)
    try:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        one.bind((settings.listen, port))
        one.listen(128)
    except BaseException:
        one.close()
        raise
    return one
