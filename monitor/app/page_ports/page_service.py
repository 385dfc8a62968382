"""Runs the page beside the daemon: builds it from the configuration, starts and stops it; makes the links in messages."""

import logging
import threading
from collections.abc import Callable
from urllib.parse import urlsplit

from monitor.app.loop.hub import Hub
from monitor.app.loop.loop_faults import fault, fault_over, stands
from monitor.configuration import Configuration
from monitor.journal import Writer
from monitor.model.alarm_kinds import Alarm
from monitor.model.effects import EffectKind, Occasion
from monitor.model.errors import UnavailableError
from monitor.model.notice_rows import NoticeRow
from monitor.model.notice_values import keys_of
from monitor.model.settings import AMBIENT
from monitor.page import PageSettings, SeenLink, kept_hash, load_key, place_address, seen_address

AGAIN_S = 60.0
"""Seconds until a port that was taken is tried again."""

log = logging.getLogger("heaptender")

Links = Callable[[NoticeRow], tuple[str, str]]
"""From a notice to two addresses: its place on the page, and an answer *seen* ("" if the link would not work)."""


class PageService:
    """The page as the daemon runs it; for the writer's thread."""

    def __init__(self, configuration: Callable[[], Configuration], hub: Hub, *, any_port: bool = False) -> None:
        self._configuration = configuration
        self._hub = hub
        self._any_port = any_port
        self._stop: Callable[[float], None] = lambda _limit_s: None
        self.address = ""
        self._again: threading.Timer | None = None

    def start(self) -> None:
        """Serve the page, if it is on; if that fails, people are told, and the yard is watched without it."""
        configuration = self._configuration()
        page = configuration.page
        if not page.on:
            return
        # Imported here, so that a daemon without a page does not load web server and templates.
        from monitor.app.page_ports.daemon_vitals import DaemonVitals  # noqa: PLC0415
        from monitor.app.page_ports.page_doing import InboxDoing  # noqa: PLC0415
        from monitor.app.page_ports.page_marks import LabelMarks  # noqa: PLC0415
        from monitor.app.page_ports.page_mending import LogMending  # noqa: PLC0415
        from monitor.app.page_ports.page_mixing import YardMixing  # noqa: PLC0415
        from monitor.app.page_ports.page_papers import BatchPapers  # noqa: PLC0415
        from monitor.app.page_ports.page_photos import YardPhotos  # noqa: PLC0415
        from monitor.app.page_ports.page_yard import DaemonYard  # noqa: PLC0415
        from monitor.page import PageServer  # noqa: PLC0415

        yard = DaemonYard(self._hub, self._configuration)
        doing = InboxDoing(self._configuration, self._hub)
        try:
            server = PageServer(
                _page_settings(configuration, any_port=self._any_port),
                yard,
                doing,
                marking=LabelMarks(self._configuration),
                certifying=BatchPapers(self._configuration, yard.now),
                mixing=YardMixing(self._configuration),
                mending=LogMending(self._configuration, doing, yard.now),
                photos=YardPhotos(self._configuration),
                vitals=DaemonVitals(self._hub, yard, self._configuration),
            )
            port = server.start()
        except UnavailableError as fault_there:
            yard.close()
            if self._again is None:
                log.error("%s", fault_there)
                self._hub.event(*fault(Alarm.PAGE, str(fault_there).rstrip(".")))
            self._try_again()
            return
        if self._again is not None or stands(self._hub.writer.engine, Alarm.PAGE):
            self._again = None
            self._hub.event(*fault_over(Alarm.PAGE))

        def stop(limit_s: float) -> None:
            server.stop(limit_s)
            yard.close()

        self._stop = stop
        host = f"[{page.listen}]" if ":" in page.listen else page.listen
        self.address = page.link if port == page.port else f"http://{host}:{port}"
        log.info("The page is at %s", self.address)

    def _try_again(self) -> None:
        self._again = threading.Timer(AGAIN_S, lambda: self._hub.call(self._start_if_away))
        self._again.daemon = True
        self._again.start()

    def _start_if_away(self) -> None:
        if self._again is not None and not self.address:
            self.start()

    def stop(self, limit_s: float = 2.0) -> None:
        """Stop serving, within about `limit_s` seconds."""
        if self._again is not None:
            self._again.cancel()
            self._again = None
        self._stop(limit_s)
        self._stop = lambda _limit_s: None
        self.address = ""


def _page_settings(configuration: Configuration, *, any_port: bool) -> PageSettings:
    page = configuration.page
    given = page.password.get_secret_value() if page.password is not None else ""
    return PageSettings(
        folder=configuration.data,
        listen=page.listen,
        port=page.port,
        any_port=any_port,
        link=page.link,
        hosts=page.hosts,
        metrics_token=page.metrics_token.get_secret_value() if page.metrics_token is not None else "",
        password_hash=kept_hash(given, load_key(configuration.data)) if given else "",
    )


def notice_links(configuration: Callable[[], Configuration], writer: Writer) -> Links:
    """Return a function that makes the links of a notice; the writer's thread calls it when the message goes out."""

    def links(row: NoticeRow) -> tuple[str, str]:
        now = configuration()
        if not now.page.on or stands(writer.engine, Alarm.PAGE):
            return "", ""  # the link would not work, least of all in the message that reports the page as down
        base = now.page.link
        place = "" if row.place == AMBIENT else row.place
        known = place in now.settings.piles or place in now.settings.bins
        link = f"{base}/away" if row.occasion == Occasion.DIGEST else place_address(base, place if known else "")
        if _stays_here(base) or not _asks(writer, row):
            return link, ""
        try:
            key = load_key(now.data)
        except UnavailableError as fault:
            log.warning("Notice %s goes without its button to say seen: %s.", row.notice, str(fault).rstrip("."))
            return link, ""
        return link, seen_address(base, key, SeenLink(row.at, row.contact))

    return links


def _stays_here(base: str) -> bool:
    """Return whether a link only works on this computer, so that a phone could not follow it."""
    host = urlsplit(base).hostname or ""
    return host in ("localhost", "::1") or host.startswith("127.")


def _asks(writer: Writer, row: NoticeRow) -> bool:
    """Return whether a notice is about an alarm, which waits for an answer."""
    return any(
        effect.draft.kind is EffectKind.NOTICE
        and effect.draft.after == row.contact
        and (row.occasion != Occasion.DIGEST or effect.draft.axis == row.occasion)
        and any("/" in key and key.split("/")[1] in _alarms() for key in keys_of(effect.draft.values))
        for effect in writer.store.effects(row.at - 1, row.at)
    )


def _alarms() -> frozenset[str]:
    from monitor.model.alarm_kinds import CATALOG  # noqa: PLC0415

    return frozenset(CATALOG)
