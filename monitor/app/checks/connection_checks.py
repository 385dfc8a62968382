"""Tries each connection of a configuration in turn, and says what is wrong with it and how to mend it."""

import os
import queue
import socket
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace

from monitor.app.checks.check_finding import Finding
from monitor.app.checks.page_check import page_trouble, password_trouble
from monitor.app.checks.record_checks import record_checks
from monitor.app.connections.deliveries import build_channels, composer
from monitor.app.connections.sources import beside, build_sources, plain
from monitor.app.console.refusals import ended, near
from monitor.app.loop.clock import YardClock
from monitor.app.loop.storing import why_unstored
from monitor.app.yard.yard_view import heaps_left_behind, left_behind_words, yard_view
from monitor.codec import Admission
from monitor.configuration import Configuration
from monitor.engine import Engine
from monitor.intake import Arrival, LinkChange
from monitor.journal import holder, private_folder
from monitor.model.alarm_kinds import FAULTS, Alarm, alarm_name
from monitor.model.connection_faults import Fault, Where, fault_of, sentence
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.notice_rows import NoticeRow
from monitor.model.units import Quantity
from monitor.model.words import Priority, Role
from monitor.outbox import DELIVERY_S, Lane, Result

WAIT_S = 6.0
MIRROR_TEST = "heaptender_check"
"""The measurement of test points; the mirror never fills it, and its daily check never counts it."""


def all_checks(configuration: Configuration, *, quick: bool = False) -> Iterator[Finding]:
    """Yield a finding for each connection, the data folder and the record; `quick` does not read the record through."""
    running = holder(configuration.data) is not None
    yield _data_folder(configuration)
    yield from record_checks(configuration, quick=quick)
    yield from _faults_told(configuration)
    yield from _unwatched(configuration)
    yield from _left_behind(configuration)
    yield from _sources(configuration, running)
    yield from _broker(configuration)
    yield from _ports_not_tried(configuration, running)
    for one, other in Admission(configuration.settings).clashes:
        yield Finding(
            f"probes {one} and {other}", False, "nothing tells their messages apart; give each its own address"
        )
    yield from _channels(configuration)
    yield from _mirror(configuration)
    yield from _heartbeat(configuration)
    yield from _page(configuration, running)


def check_contact(configuration: Configuration, contact: str) -> None:
    """Refuse a contact that the configuration does not name.

    Raises:
        MisuseError: There is no such contact.
    """
    contacts = configuration.settings.contacts
    if contact not in contacts:
        raise MisuseError(ended(f'there is no contact "{contact}"; {near(contact, contacts)}'))


def send_test(configuration: Configuration, contact: str) -> Iterator[Finding]:
    """Send a test notice to a contact through each of its channels.

    Raises:
        MisuseError: There is no such contact.
    """
    check_contact(configuration, contact)
    engine = Engine()
    engine.state.settings = configuration.settings
    text = Engine(engine.state).test_notice(time.time_ns() // 1_000_000, contact)
    channels = build_channels(configuration)
    compose = composer(lambda: configuration, lambda: "")
    for number, name in enumerate(configuration.settings.contacts[contact].channels):
        row = NoticeRow(
            id=number, at=0, contact=contact, channel=name, notice="TEST", occasion="new", priority=Priority.LOW,
            text=text, next_try=0,
        )  # fmt: skip
        results: queue.SimpleQueue[Result] = queue.SimpleQueue()
        # Sent through a lane, as the daemon does: a server that trickles its answer must not block the check for good.
        Lane(name, channels[name], results.put, DELIVERY_S).put(compose(row))
        why = results.get().why
        yield Finding(f"test notice by {name}", not why, why or "sent")


def _data_folder(configuration: Configuration) -> Finding:
    folder = configuration.data
    pid = holder(folder)
    unstored = why_unstored(folder, pid)
    if unstored:
        return Finding(f"data folder {folder}", False, f"nothing can be stored: {unstored}")
    if pid is not None:
        return Finding(f"data folder {folder}", True, f"the daemon holds it (process {pid or 'unknown'})")
    try:
        private_folder(folder)
        with tempfile.TemporaryFile(dir=folder) as file:
            file.write(b"x")
    except OSError as fault:
        return Finding(f"data folder {folder}", False, f"cannot be written ({fault.strerror}); let this user write it")
    free = os.statvfs(folder)
    mib = free.f_bavail * free.f_frsize // (1 << 20)
    words = f"{mib} MiB free" + ("; a yard of 100 probes needs some 50 MiB a month" if mib < 500 else "")
    return Finding(f"data folder {folder}", mib > 50, words)


def _faults_told(configuration: Configuration) -> Iterator[Finding]:
    """Report faults of the watch that the daemon found and that still stand."""
    if holder(configuration.data) is None:
        return
    try:
        with yard_view(configuration) as view:
            links = dict(view.engine.state.links)
    except UnavailableError:
        return
    for link in links.values():
        # The page is asked directly below, which gives a fresher answer.
        if link.what in FAULTS and link.what != Alarm.PAGE and not link.up:
            yield Finding(alarm_name(link.what), False, f"the daemon says so: {link.why}")


def _unwatched(configuration: Configuration) -> Iterator[Finding]:
    """Report places without a configured temperature probe; only readings by hand watch them."""
    settings = configuration.settings
    for place in (*settings.piles, *settings.bins):
        here = [one for one in settings.probes.values() if one.place == place and one.quantity is Quantity.TEMPERATURE]
        core = place in settings.piles
        if not any(one.role is Role.CORE or not core for one in here):
            what = "no core probe of temperature" if core else "no temperature probe"
            yield Finding(f"place {place}", True, f"{what} is in it: only readings by hand watch it", warning=True)


def _left_behind(configuration: Configuration) -> Iterator[Finding]:
    """Report heaps that, by the log, lie on piles that the configuration no longer names."""
    settings = configuration.settings
    try:
        with yard_view(configuration) as view:
            left = heaps_left_behind(view.engine, settings)
    except UnavailableError:
        return
    for pile, built in left.items():
        yield Finding(f"pile {pile}", False, left_behind_words(pile, built, settings))


class _Told:
    def __init__(self) -> None:
        self.links: dict[str, LinkChange] = {}

    def offer(self, item: Arrival | LinkChange) -> None:
        """Note how a link is."""
        if isinstance(item, LinkChange):
            self.links[item.source] = item


def _sources(configuration: Configuration, running: bool) -> Iterator[Finding]:
    told = _Told()
    sources, _ = build_sources(beside(configuration, "check", running=running), told, YardClock(), keep_session=False)
    for source in sources:
        source.start()
    end = time.monotonic() + WAIT_S
    while time.monotonic() < end and not all(source.name in told.links for source in sources):
        time.sleep(0.05)
    for source in sources:
        link = told.links.get(source.name)
        source.stop()
        if link is None:
            yield Finding(f"source {source.name}", False, f"no answer within {WAIT_S:.0f} s; check address and network")
        else:
            yield Finding(f"source {source.name}", link.up, "" if link.up else link.why)
    known = {source.name for source in sources}
    for name, link in sorted(told.links.items()):
        if name not in known:
            yield Finding(f"source {name}", link.up, link.why)


def _broker(configuration: Configuration) -> Iterator[Finding]:
    """Report faults of the broker's settings that a working subscription does not show."""
    mqtt = configuration.mqtt
    if mqtt is None:
        return
    if not mqtt.subscriptions:
        found = _reachable("broker", mqtt.host, mqtt.port)
        words = found.words or "nothing is subscribed to; add [[mqtt.subscriptions]] to hear nodes"
        yield replace(found, words=words, warning=found.ok)
    if mqtt.password is not None and not mqtt.tls and not is_this_computer(mqtt.host):
        words = "the password goes there in the clear, for everybody on the way to read; use TLS (`mqtt.tls = true`)"
        yield Finding(f"broker {mqtt.host}", True, words, warning=True)
    for one, other in mqtt.overlaps:
        words = "they overlap: a reading without a time of its own may be taken twice; narrow one of them"
        yield Finding(f"topics {one} and {other}", True, words, warning=True)


def is_this_computer(host: str) -> bool:
    """Return whether a host is this computer, so that nobody can listen on the way."""
    return host in ("localhost", "::1") or host.startswith("127.")


def _ports_not_tried(configuration: Configuration, running: bool) -> Iterator[Finding]:
    for name in configuration.serial if running else ():
        yield Finding(f"source {name}", True, "held by the daemon, not tried")


def _channels(configuration: Configuration) -> Iterator[Finding]:
    for name, channel in configuration.channels.items():
        try:
            if channel.url is not None:
                from monitor.outbox import AppriseChannel, url_doubt  # noqa: PLC0415

                url = channel.url.get_secret_value()
                AppriseChannel(url).check()
                if doubt := url_doubt(url):
                    yield Finding(f"channel {name}", True, doubt, warning=True)
                    continue
            yield Finding(f"channel {name}", True, "can be used; --send CONTACT tries it")
        except Exception as fault:  # noqa: BLE001 (every fault is a finding)
            yield Finding(f"channel {name}", False, str(fault))


def _mirror(configuration: Configuration) -> Iterator[Finding]:
    """Write one point of a measurement of our own; only this shows that token, organisation and bucket are right."""
    mirror = configuration.mirror
    if mirror is None:
        return
    from monitor.mirror import InfluxServer, WriteError  # noqa: PLC0415 (loaded where a mirror is named)

    # A password may stand before the host.
    scheme, _, rest = mirror.url.partition("://")
    what = f"mirror {scheme}://{rest.rpartition('@')[2]}"
    server = InfluxServer(mirror.url, org=mirror.org, bucket=mirror.bucket, token=plain(mirror.token), timeout_s=WAIT_S)
    try:
        server.write([f"{MIRROR_TEST} ok=1i {time.time_ns() // 1_000_000}"])
    except WriteError as fault:
        yield Finding(what, False, f"{fault}; start it, or mend url, org, bucket and token")
    else:
        yield Finding(what, True, f"takes what is written; a test point stands in {MIRROR_TEST}")
    finally:
        server.close()


def _heartbeat(configuration: Configuration) -> Iterator[Finding]:
    if configuration.heartbeat is None:
        return
    from monitor.outbox import Heartbeat  # noqa: PLC0415 (loaded where one is named)

    try:
        why = Heartbeat(configuration.heartbeat.url.get_secret_value(), timeout_s=WAIT_S).beat()
    except ValueError as fault:
        why = str(fault)
    words = f"{why}; mend heartbeat.url" if why else "heard; from now on it waits for the next beat"
    yield Finding("heartbeat", not why, words)


def _reachable(what: str, host: str, port: int) -> Finding:
    try:
        with socket.create_connection((host, port), timeout=WAIT_S):
            return Finding(f"{what} {host}:{port}", True)
    except OSError as fault:
        where = Where("the broker", host, f"{host}:{port}", "", "", "")
        return Finding(f"{what} {host}:{port}", False, sentence(fault_of(fault) or Fault.BROKE_OFF, where))


def _page(configuration: Configuration, running: bool) -> Iterator[Finding]:
    page = configuration.page
    if not page.on:
        yield Finding("page", True, "off (`page.on` is false)")
        return
    ok, words = page_trouble(configuration, running=running)
    yield Finding(f"page port {page.port}", ok, words)
    if trouble := password_trouble(configuration):
        yield Finding("page", True, trouble, warning=True)
    if page.password is not None and not is_this_computer(page.listen):
        # A web server that speaks https for the page does not help those who go round it.
        words = (
            "the password goes there in the clear, for everybody in the network to read; let a web server with https pass "
            'the page on, and set `page.listen = "127.0.0.1"` (docs/page.md)'
        )
        yield Finding(f"page {page.listen}", True, words, warning=True)
