"""Tries each connection of a configuration, one after another, and says of each what is wrong and what would be right."""

import os
import socket
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from monitor.app.clock import YardClock
from monitor.app.deliveries import build_channels, composer
from monitor.app.refusals import near
from monitor.app.sources import build_sources
from monitor.codec import Admission
from monitor.configuration import Configuration
from monitor.engine import Engine
from monitor.intake import Arrival, LinkChange
from monitor.journal import Delivery, OutboxRow, holder
from monitor.model.errors import MisuseError
from monitor.model.words import Priority

WAIT_S = 6.0


@dataclass(frozen=True, slots=True)
class Finding:
    """What came of one check; `words` say what is wrong and what would be right, or add something worth knowing."""

    what: str
    ok: bool
    words: str = ""

    def plain(self) -> dict[str, Any]:
        """Return it as plain values."""
        return {"what": self.what, "ok": self.ok, "words": self.words}


def all_checks(configuration: Configuration) -> Iterator[Finding]:
    """Yield a finding for everything that the configuration connects to."""
    yield _data_folder(configuration)
    yield from _sources(configuration)
    yield from _ports_not_tried(configuration)
    for one, other in Admission(configuration.settings).clashes:
        yield Finding(
            f"probes {one} and {other}", False, "nothing tells their messages apart; give each its own address"
        )
    yield from _channels(configuration)
    if configuration.mirror is not None:
        yield _reachable("mirror", configuration.mirror.url)
    yield _page(configuration)


def send_test(configuration: Configuration, contact: str) -> list[Finding]:
    """Send a test notice to a contact by each of its channels.

    Raises:
        MisuseError: There is no such contact.
    """
    contacts = configuration.settings.contacts
    if contact not in contacts:
        raise MisuseError(f'there is no contact "{contact}"; {near(contact, contacts)}')
    engine = Engine()
    engine.state.settings = configuration.settings
    text = Engine(engine.state).test_notice(time.time_ns() // 1_000_000, contact)
    channels, found = build_channels(configuration), []
    compose = composer(lambda: configuration, lambda: "")
    for number, name in enumerate(contacts[contact].channels):
        row = OutboxRow(
            id=number, at=0, ordinal=0, contact=contact, channel=name, notice="TEST", place="", occasion="new",
            priority=Priority.LOW, text=text, state=Delivery.WAITING, attempts=0, next_try=0, maybe_repeat=False, why="",
        )  # fmt: skip
        try:
            channels[name].send(compose(row))
            found.append(Finding(f"test notice by {name}", True, "sent"))
        except Exception as fault:  # noqa: BLE001 (whatever a channel raises is the answer)
            found.append(Finding(f"test notice by {name}", False, str(fault)))
    return found


def _data_folder(configuration: Configuration) -> Finding:
    folder = configuration.data
    pid = holder(folder)
    if pid is not None:
        return Finding(f"data folder {folder}", True, f"the daemon holds it (process {pid or 'unknown'})")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder) as file:
            file.write(b"x")
    except OSError as fault:
        return Finding(f"data folder {folder}", False, f"cannot be written ({fault.strerror}); let this user write it")
    free = os.statvfs(folder)
    mib = free.f_bavail * free.f_frsize // (1 << 20)
    words = f"{mib} MiB free" + ("; a yard of 100 probes needs some 50 MiB a month" if mib < 500 else "")
    return Finding(f"data folder {folder}", mib > 50, words)


class _Told:
    def __init__(self) -> None:
        self.links: dict[str, LinkChange] = {}

    def offer(self, item: Arrival | LinkChange) -> None:
        """Note how a link is."""
        if isinstance(item, LinkChange):
            self.links[item.source] = item


def _sources(configuration: Configuration) -> Iterator[Finding]:
    mqtt = configuration.mqtt
    if mqtt is not None:
        mqtt = replace(mqtt, client_id=f"{mqtt.client_id}-check-{os.getpid()}", session_expiry_ms=1_000)
    running = holder(configuration.data) is not None
    tried = replace(configuration, mqtt=mqtt, serial={} if running else configuration.serial)
    told = _Told()
    sources, _ = build_sources(tried, told, YardClock())
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


def _ports_not_tried(configuration: Configuration) -> Iterator[Finding]:
    running = holder(configuration.data) is not None
    for name, port in configuration.serial.items():
        if running:
            yield Finding(f"source {name}", True, "held by the daemon, not tried")
        elif port.form != "lines":
            yield Finding(f"source {name}", False, f'form "{port.form}" is not built yet; "lines" is')


def _channels(configuration: Configuration) -> Iterator[Finding]:
    for name, channel in configuration.channels.items():
        try:
            if channel.url is not None:
                from monitor.outbox import AppriseChannel  # noqa: PLC0415

                AppriseChannel(channel.url.get_secret_value()).check()
            yield Finding(f"channel {name}", True, "can be used; --send CONTACT tries it")
        except Exception as fault:  # noqa: BLE001 (whatever is wrong with it is the answer)
            yield Finding(f"channel {name}", False, str(fault))


def _reachable(what: str, url: str) -> Finding:
    from urllib.parse import urlsplit  # noqa: PLC0415

    parts = urlsplit(url)
    port = parts.port or (443 if parts.scheme == "https" else 80)
    try:
        with socket.create_connection((parts.hostname or "", port), timeout=WAIT_S):
            return Finding(f"{what} {parts.hostname}:{port}", True)
    except OSError as fault:
        words = f"cannot be reached ({fault.strerror or fault}); start it, or mend the address"
        return Finding(f"{what} {parts.hostname}:{port}", False, words)


def _page(configuration: Configuration) -> Finding:
    page = configuration.page
    with socket.socket() as one:
        try:
            one.bind((page.listen, page.port))
        except OSError as fault:
            return Finding(f"page port {page.port}", False, f"{fault.strerror}; choose another `page.port`")
    return Finding(f"page port {page.port}", True, "free (the page itself comes later)")
