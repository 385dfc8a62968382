"""The daemon: wires sources, writer, engine, outbox, mirror and housekeeping together, and ends them in order.

Order of the start: lock and restore, `started`, settings if they changed, sources (which must subscribe within three seconds).
Order of the end, within three seconds whatever hangs: sources stop taking messages, those already offered are committed and
acknowledged, `stopped` is recorded, sources stop, and letters on their way are settled.
"""

import json
import logging
import threading
from collections.abc import Callable, Sequence

from monitor.app.connections import deliveries
from monitor.app.connections.mirror_source import JournalSource, Unsettled
from monitor.app.connections.sources import build_sources, plain
from monitor.app.console.nouns import plural
from monitor.app.console.options import load_configuration
from monitor.app.loop.clock import Clock
from monitor.app.loop.clock_events import off
from monitor.app.loop.hub import Hub
from monitor.app.loop.storing import is_marked_failing, mark_storing
from monitor.app.material.kept_material import read_both
from monitor.app.page_ports.page_service import PageService, notice_links
from monitor.app.upkeep.housekeeping import Housekeeping
from monitor.app.upkeep.own_folder import make_private
from monitor.app.upkeep.service_manager import ServiceManager
from monitor.app.yard.sizes_of_yard import sizes_of
from monitor.app.yard.taken_file import TakenNote, digest_of
from monitor.app.yard.yard_view import heaps_left_behind, left_behind_words
from monitor.configuration import Configuration, canonical_settings
from monitor.engine import Engine
from monitor.intake import Source
from monitor.journal import Outcome, Writer, open_writer, private_folder
from monitor.mirror import CursorFile, InfluxServer, Mirror, MirrorThread
from monitor.model.alarm_kinds import FAULTS, Alarm
from monitor.model.errors import ConfigurationError, MonitorError, UnavailableError
from monitor.model.events import EventKind
from monitor.model.notice_rows import NoticeRow
from monitor.outbox import Deliverer

END_SOURCES_S = 1.0
END_LETTERS_S = 0.7
END_MIRROR_S = 0.3
END_PAGE_S = 0.5

log = logging.getLogger("heaptender")


class Daemon:
    """One running yard; `run` blocks until `stop` is set.

    Attributes:
        manager: Hears how the daemon is; by default nobody does.
        taken: Keeps a note of the configuration file that was read; None: nobody asks for that.
    """

    def __init__(
        self, configuration: Configuration, clock: Clock, *, any_port: bool = False, wait_s: float = 0.0
    ) -> None:
        """Take the lock and restore the engine.

        Args:
            configuration: The configuration, already checked.
            clock: The clock that everything uses.
            any_port: Whether the page may take another port if its own is taken.
            wait_s: How long to wait for another holder of the lock, seconds: a command holds it only briefly.
        """
        self.configuration = configuration
        self.clock = clock
        self.stop = threading.Event()
        private_folder(configuration.data)
        was_failing = is_marked_failing(configuration.data)  # looked at first: to take the lock changes the file's time
        self.writer: Writer = open_writer(configuration.data, Engine, Engine.restore, wait_s)
        if was_failing:
            mark_storing(configuration.data, works=True)
            self._doubt_waiting()
        closed = make_private(configuration)
        if closed:
            log.info("Closed to others on this computer, to whom it lay open: %s.", ", ".join(map(str, closed)))
        self.hub = Hub(self.writer, clock, configuration.settings, self.stop)
        self.hub.sizes = lambda: sizes_of(self.configuration)
        self.hub.reads_both = lambda *asked: read_both(self.configuration, *asked)
        self.hub.committed.append(self._after_commit)
        self.hub.clock_changed.append(self._clock_changed)
        self.hub.starved = self._restart_sources
        self.page = PageService(lambda: self.configuration, self.hub, any_port=any_port)
        self.manager = ServiceManager()
        self.taken: TakenNote | None = None
        self._digest = digest_of(configuration.source)
        self._sources: list[Source] = []
        self._lacking = False
        self.ended_by = ""
        self._housekeeping: Housekeeping | None = None
        self._mirror: MirrorThread | None = None
        self._mirror_down = self._is_down("mirror")
        self._reach: int | None = self.writer.resumed.down_since or 0
        """How far the record reached at the start, UTC ms; None once the mirror's cursor was held against it, and kept."""
        self._unsettled = Unsettled(self.engine().state.conditioning)
        for difference in self.writer.resumed.differences:
            log.error("%s", difference.sentence())
        for fault in self.writer.resumed.faults:
            log.error("%s", fault)

    def _doubt_waiting(self) -> None:
        """Mark all messages that wait: an earlier daemon ended while nothing could be stored, and may have sent them."""
        try:
            with self.writer.transaction():
                self.writer.dispatch.doubt_waiting()
        except UnavailableError as fault:
            log.error("What was told while nothing could be stored may be told again: %s", fault)

    def engine(self) -> Engine:
        """Return the engine; for the writer's thread alone."""
        engine = self.writer.engine
        assert isinstance(engine, Engine)
        return engine

    def begin(self) -> None:
        """Record the start and the settings, and start everything that runs beside the writer."""
        self.hub.event(EventKind.STARTED, {"down_since": self.writer.resumed.down_since})
        off_ms = off(self.writer.engine, self.clock)
        if off_ms or not self.clock.confirmed:
            state = "confirmed" if self.clock.confirmed else "unconfirmed"
            self.hub.event(EventKind.CLOCK, {"state": state, "by_ms": 0, "off_ms": off_ms})
        self._settings_event()
        self._forget_links()
        self._deliver()
        self.hub.step(0.0)
        self._start_sources()
        self._start_mirror()
        self._housekeeping = Housekeeping(self.hub, self.configuration)
        self._housekeeping.start()
        self.page.start()

    def run(self) -> None:
        """Work until `stop` is set, then end in order."""
        try:
            self.begin()
            self._note(self._digest)
            self.hub.came_round = self.manager.alive
            self.manager.ready(self.words())
            self.hub.run(self.stop)
        finally:
            self.end()

    def words(self) -> str:
        """Return in a sentence what is watched."""
        watched = self.configuration.settings
        many = ((watched.piles, "pile"), (watched.bins, "bin"), (watched.probes, "probe"))
        return f"Watching {watched.site.name}: {', '.join(plural(len(each), word) for each, word in many)}."

    def end(self) -> None:
        """End everything; committed messages are acknowledged before the sources stop."""
        self.stop.set()
        self.manager.ending()
        if self._housekeeping is not None:
            self._housekeeping.stop()
        for source in self._sources:
            source.hold()
        self.page.stop(END_PAGE_S)
        kept = "what had come is stored"
        try:
            self.hub.flush()
            self.hub.event(EventKind.STOPPED, {})
            self.hub.step(0.0)
        except UnavailableError as fault:
            log.error("The end could not be recorded: %s", fault)
            kept = "what could not be stored comes again only from where it is still held (the broker, the nodes)"
        finally:
            _stop_all(self._sources, END_SOURCES_S)
            if self._mirror is not None:
                self._mirror.stop(END_MIRROR_S)
            self._settle_letters()
            self.writer.close()
            log.info("Ended%s; %s.", f" by {self.ended_by}" if self.ended_by else "", kept)

    def reload(self, load: Callable[[], Configuration] | None = None) -> None:
        """Take a new configuration if it is good, else keep the old one; any thread may call it."""
        self.manager.reading_again()
        source = self.configuration.source
        digest = digest_of(source)
        try:
            fresh = load() if load is not None else load_configuration(source)
        except MonitorError as fault:
            problems = fault.problems if isinstance(fault, ConfigurationError) else [fault]
            self._refuse([str(problem) for problem in problems], digest)
            return
        if fresh.data != self.configuration.data:
            self._refuse(["The data folder cannot change while the daemon runs."], digest)
            return

        def take() -> None:
            try:
                self._take(fresh)
                self._note(digest)
            finally:
                self.manager.ready(self.words())

        self.hub.call(take)

    def _refuse(self, why: Sequence[str], digest: str) -> None:
        for problem in why:
            log.error("%s", problem)
        log.error("The new configuration is refused; the old one stays in force.")
        self._note(digest, why)
        self.manager.ready(self.words())

    def _note(self, digest: str, refused: Sequence[str] = ()) -> None:
        """Note what became of the file with this digest, if anybody wants to know; a full disk does not stop the yard."""
        source = self.configuration.source
        if self.taken is None or source is None:
            return
        try:
            if refused:
                self.taken.refused(refused, digest)
            else:
                self.taken.taken(source, digest)
        except UnavailableError as fault:
            log.warning("%s", fault)

    def _take(self, fresh: Configuration) -> None:
        before, self.configuration = self.configuration, fresh
        self.hub.use(fresh.settings)
        self._settings_event()
        self._forget_links()
        self.hub.step(0.0)
        if (fresh.channels, fresh.mqtt) != (before.channels, before.mqtt):
            self._deliver()
        if (fresh.mqtt, fresh.serial) != (before.mqtt, before.serial) or self._lacking:
            self._restart_sources()
        if (fresh.page, fresh.data) != (before.page, before.data):
            self.page.stop()
            self.page.start()
        if fresh.mirror != before.mirror:
            if self._mirror is not None:
                self._mirror.stop(END_MIRROR_S)
            self._start_mirror()
        if _kept_by(fresh) != _kept_by(before):
            if self._housekeeping is not None:
                self._housekeeping.stop()
            self._housekeeping = Housekeeping(self.hub, fresh)
            self._housekeeping.start()
        log.info("The new configuration is in force.")

    def _settings_event(self) -> None:
        canonical = canonical_settings(self.configuration.settings)
        if canonical != canonical_settings(self.engine().state.settings):
            self.hub.event(EventKind.SETTINGS, {"settings": json.loads(canonical)})
        settings = self.configuration.settings
        for pile, built in heaps_left_behind(self.engine(), settings).items():
            log.warning("%s: %s.", pile, left_behind_words(pile, built, settings))

    def _forget_links(self) -> None:
        """Record an `up` for links that were removed while down; otherwise their alarm would never end."""
        configuration = self.configuration
        there = {*configuration.channels, *configuration.serial}
        there |= {"mqtt"} if configuration.mqtt is not None else set()
        there |= {"mirror"} if configuration.mirror is not None else set()
        faults = set(FAULTS)
        faults -= set() if configuration.page.on else {Alarm.PAGE}
        faults -= set() if configuration.backup is not None else {Alarm.BACKUP}
        for name, link in self.engine().state.links.items():
            kept = link.what in faults if link.what in FAULTS else name in there
            if not link.up and not kept:
                payload = {"what": link.what, "name": name, "up": True, "why": "no longer configured"}
                self.hub.event(EventKind.LINK, payload)

    def _deliver(self) -> None:
        self._settle_letters()
        down = tuple(name for name, link in self.engine().state.links.items() if link.what == "channel" and not link.up)
        links = notice_links(lambda: self.configuration, self.writer)
        self.hub.deliverer = Deliverer(
            deliveries.build_channels(self.configuration),
            deliveries.composer(lambda: self.configuration, self._head, links),
            link_changed=self._channel_changed,
            given_up=_given_up,
            wake=self.hub.wake,
            down=down,
            told=self.hub.told,
        )

    def _settle_letters(self) -> None:
        """Wait briefly for letters on their way; unsettled ones will go again, marked as possible repeats."""
        if self.hub.deliverer is None:
            return
        self.hub.deliverer.finish(END_LETTERS_S / max(1, len(self.configuration.channels)))
        self.hub.deliver()
        self.hub.deliverer = None
        with self.writer.transaction():
            self.writer.dispatch.mark_repeats()

    def _channel_changed(self, channel: str, up: bool, why: str) -> None:
        if up:
            log.info("Messages get through by %s again.", channel)
        else:
            log.error("Messages do not get through by %s: %s", channel, why)
        self.hub.event(EventKind.LINK, {"what": "channel", "name": channel, "up": up, "why": why})

    def _head(self) -> str:
        chain = self.writer.store.chain()
        return chain[-1].head.hex() if chain else ""

    def _start_sources(self) -> None:
        known = self._was_connected()
        self._sources, self._lacking = build_sources(self.configuration, self.hub, self.clock, known=known)
        self.hub.sources = {source.name: source for source in self._sources}
        for source in self._sources:
            source.start()

    def _was_connected(self) -> bool:
        """Return whether the broker should have a session of ours, which needs a login that succeeded once."""
        link = self.engine().state.links.get("mqtt")
        if link is None or link.what != "source":
            return False
        events = self.writer.store.events_of(EventKind.LINK)
        return link.up or any(one.payload["name"] == "mqtt" and one.payload["up"] for one in events)

    def _restart_sources(self) -> None:
        """Replace the sources. A token of an old source must never reach a new one: it would acknowledge another message."""
        for source in self._sources:
            source.hold()
        self.hub.flush()
        _stop_all(self._sources, END_SOURCES_S)
        self.hub.sources = {}
        self.hub.flush()
        self._start_sources()

    def _start_mirror(self) -> None:
        mirror, data = self.configuration.mirror, self.configuration.data
        self._mirror = None
        if mirror is None:
            return

        def make() -> Mirror:
            server = InfluxServer(
                mirror.url, org=mirror.org, bucket=mirror.bucket, token=plain(mirror.token), yard=mirror.yard
            )
            made = Mirror(
                JournalSource(data, lambda: self.configuration.settings, self._unsettled),
                CursorFile(data / "mirror-cursor.json"),
                server,
                link_changed=lambda up, why: self.hub.call(lambda: self._mirror_changed(up, why)),
                set_aside=lambda line, why: log.error("The mirror does not take %s: %s", line, why),
                down=self._mirror_down,
                reach=self._reach,
            )
            if made.is_kept:
                self._reach = None
            return made

        self._mirror = MirrorThread(
            make, self.clock.monotonic_s, lambda fault: log.error("The mirror failed and starts anew: %s", fault)
        )
        self._mirror.start()

    def _after_commit(self, outcome: Outcome) -> None:
        if self._mirror is not None and (outcome.events or outcome.effects):
            self._unsettled.look(self.engine().state.conditioning)
            self._mirror.poke()
        if self._housekeeping is not None:
            self._housekeeping.evening()

    def _mirror_changed(self, up: bool, why: str) -> None:
        log.log(
            logging.INFO if up else logging.WARNING, "The mirror is %s%s", "up" if up else "down: ", "" if up else why
        )
        self._mirror_down = not up
        self.hub.event(EventKind.LINK, {"what": "mirror", "name": "mirror", "up": up, "why": why})

    def _clock_changed(self) -> None:
        if self._housekeeping is not None:
            self._housekeeping.clock_changed()

    def _is_down(self, name: str) -> bool:
        link = self.engine().state.links.get(name)
        return link is not None and not link.up


def _kept_by(configuration: Configuration) -> tuple[object, ...]:
    """Return all that housekeeping goes by."""
    one = configuration
    return one.heartbeat, one.backup, one.retention_keep_ms, one.evening, one.forecast_file, one.settings


def _stop_all(sources: list[Source], limit_s: float) -> None:
    """Stop sources in parallel; one that hangs (its broker does not answer) is left behind on its daemon thread."""
    threads = [threading.Thread(target=source.stop, name=f"end-{source.name}", daemon=True) for source in sources]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(limit_s / len(threads))


def _given_up(row: NoticeRow, why: str) -> None:
    log.error("Notice %s to %s by %s could not be delivered: %s", row.notice, row.contact, row.channel, why)
