"""The daemon: wires sources, writer, engine, outbox, mirror and housekeeping together, and ends them in order.

Order of the start: lock and restore, `started`, settings if they changed, sources (so that it is subscribed within three
seconds). Order of the end: sources hold back, the last turn commits, what was committed is acknowledged, sources stop,
`stopped` is recorded.
"""

import json
import logging
import threading
from collections.abc import Callable

from monitor.app.deliveries import build_deliverer
from monitor.app.housekeeping import Housekeeping
from monitor.app.hub import Hub, LookingClock
from monitor.app.mirror_source import JournalSource
from monitor.app.options import load_configuration
from monitor.app.sources import build_sources, plain
from monitor.configuration import Configuration, canonical_settings
from monitor.engine import Engine
from monitor.intake import Source
from monitor.journal import Writer, open_writer
from monitor.mirror import CursorFile, InfluxServer, Mirror, MirrorThread
from monitor.model.errors import ConfigurationError
from monitor.model.events import EventKind
from monitor.outbox import NoticeRow

log = logging.getLogger("heaptender")


class Daemon:
    """One running yard; `run` blocks until `stop` is set."""

    def __init__(self, configuration: Configuration, clock: LookingClock) -> None:
        self.configuration = configuration
        self.clock = clock
        self.stop = threading.Event()
        configuration.data.mkdir(parents=True, exist_ok=True)
        self.writer: Writer = open_writer(configuration.data, Engine, Engine.restore)
        self.hub = Hub(self.writer, clock, configuration.settings)
        self._sources: list[Source] = []
        self._housekeeping: Housekeeping | None = None
        self._mirror: MirrorThread | None = None
        for difference in self.writer.resumed.differences:
            log.error("%s", difference.sentence())
        for fault in self.writer.resumed.faults:
            log.error("%s", fault)

    def engine(self) -> Engine:
        """Return the engine as it stands (on the writer's thread only)."""
        engine = self.writer.engine
        assert isinstance(engine, Engine)
        return engine

    def begin(self) -> None:
        """Record the start and the settings, and start everything that runs beside the writer."""
        self.hub.event(EventKind.STARTED, {"down_since": self.writer.resumed.down_since})
        if not self.clock.confirmed:
            self.hub.event(EventKind.CLOCK, {"state": "unconfirmed", "by_ms": 0})
        self._settings_event()
        self._deliver_by(self.configuration)
        self.hub.step(0.0)
        self._start_sources()
        self._start_mirror()
        self._housekeeping = Housekeeping(self.hub, self.configuration)
        self._housekeeping.start()

    def run(self) -> None:
        """Work until told to stop, then end in order."""
        try:
            self.begin()
            self.hub.run(self.stop)
        finally:
            self.end()

    def end(self) -> None:
        """End everything; what was committed is acknowledged before the sources go."""
        if self._housekeeping is not None:
            self._housekeeping.stop()
        for source in self._sources:
            source.hold()
        if self._mirror is not None:
            self._mirror.stop()
        try:
            self.hub.event(EventKind.STOPPED, {})
            self.hub.step(0.0)
        finally:
            for source in self._sources:
                source.stop()
            if self.hub.deliverer is not None:
                self.hub.deliverer.close()
                self.hub.deliver()
            self.writer.close()

    def reload(self, load: Callable[[], Configuration] | None = None) -> None:
        """Take a new configuration if it is good; with a bad one go on with the old (any thread)."""
        source = self.configuration.source
        try:
            fresh = load() if load is not None else load_configuration(source)
        except ConfigurationError as fault:
            for problem in fault.problems:
                log.error("%s", problem)
            log.error("The new configuration is refused; the old one stays in force.")
            return
        if fresh.data != self.configuration.data:
            log.error("The data folder cannot change while running; the old configuration stays in force.")
            return
        self.hub.call(lambda: self._take(fresh))

    def _take(self, fresh: Configuration) -> None:
        before, self.configuration = self.configuration, fresh
        self.hub.use(fresh.settings)
        self._settings_event()
        if (fresh.channels, fresh.page, fresh.mqtt) != (before.channels, before.page, before.mqtt):
            self._deliver_by(fresh)
        if (fresh.mqtt, fresh.serial) != (before.mqtt, before.serial):
            for source in self._sources:
                source.hold()
                source.stop()
            self._start_sources()
        if fresh.mirror != before.mirror:
            if self._mirror is not None:
                self._mirror.stop()
            self._start_mirror()
        if self._housekeeping is not None:
            self._housekeeping.stop()
            self._housekeeping = Housekeeping(self.hub, fresh)
            self._housekeeping.start()
        log.info("The new configuration is in force.")

    def _settings_event(self) -> None:
        canonical = canonical_settings(self.configuration.settings)
        if canonical != canonical_settings(self.engine().state.settings):
            self.hub.event(EventKind.SETTINGS, {"settings": json.loads(canonical)})

    def _deliver_by(self, configuration: Configuration) -> None:
        if self.hub.deliverer is not None:
            self.hub.deliverer.close()
            self.hub.deliver()
        down = tuple(name for name, link in self.engine().state.links.items() if link.what == "channel" and not link.up)
        self.hub.deliverer = build_deliverer(
            configuration,
            head=self._head,
            link_changed=self._channel_changed,
            given_up=_given_up,
            wake=self.hub.wake,
            down=down,
        )

    def _channel_changed(self, channel: str, up: bool, why: str) -> None:
        self.hub.event(EventKind.LINK, {"what": "channel", "name": channel, "up": up, "why": why})

    def _head(self) -> str:
        chain = self.writer.store.chain()
        return chain[-1].head.hex() if chain else ""

    def _start_sources(self) -> None:
        self._sources = build_sources(self.configuration, self.hub, self.clock)
        self.hub.sources = {source.name: source for source in self._sources}
        for source in self._sources:
            source.start()

    def _start_mirror(self) -> None:
        mirror, data = self.configuration.mirror, self.configuration.data
        self._mirror = None
        if mirror is None:
            return

        def make() -> Mirror:
            server = InfluxServer(mirror.url, org=mirror.org, bucket=mirror.bucket, token=plain(mirror.token))
            source = JournalSource(data, lambda: self.configuration.settings)
            return Mirror(
                source,
                CursorFile(data / "mirror-cursor.json"),
                server,
                link_changed=lambda up, why: self.hub.call(lambda: self._mirror_changed(up, why)),
                set_aside=lambda line, why: log.error("The mirror does not take %s: %s", line, why),
            )

        self._mirror = MirrorThread(
            make, self.clock.monotonic_s, lambda fault: log.error("The mirror failed and starts anew: %s", fault)
        )
        self._mirror.start()
        self.hub.committed.append(lambda outcome: self._poke(bool(outcome.events or outcome.effects)))

    def _poke(self, new: bool) -> None:
        if new and self._mirror is not None:
            self._mirror.poke()

    def _mirror_changed(self, up: bool, why: str) -> None:
        self.hub.event(EventKind.LINK, {"what": "mirror", "name": "mirror", "up": up, "why": why})


def _given_up(row: NoticeRow, why: str) -> None:
    log.error("Notice %s to %s by %s could not be delivered: %s", row.notice, row.contact, row.channel, why)
