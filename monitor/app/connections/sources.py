"""Builds running sources from the configuration's connections."""

import logging
import os
from collections.abc import Callable
from dataclasses import replace

from pydantic import SecretStr

from monitor.configuration import Configuration
from monitor.intake import Clock, LinkChange, SerialPort, Sink, Source
from monitor.model.errors import UnavailableError

log = logging.getLogger("heaptender")


def plain(secret: SecretStr | None) -> str | None:
    """Return a secret's text."""
    return None if secret is None else secret.get_secret_value()


def beside(configuration: Configuration, what: str, *, running: bool) -> Configuration:
    """Return a configuration for listening while a daemon may run: another client id, and no port that the daemon holds.

    Use it with `keep_session=False`, so that the broker keeps no queue for a client that never returns.

    Args:
        configuration: The daemon's configuration.
        what: A word for the purpose; it becomes part of the client id.
        running: Whether a daemon runs and holds the serial ports.
    """
    mqtt = configuration.mqtt
    if mqtt is not None:
        mqtt = replace(mqtt, client_id=f"{mqtt.client_id}-{what}-{os.getpid()}")
    return replace(configuration, mqtt=mqtt, serial={} if running else configuration.serial)


def build_sources(
    configuration: Configuration, sink: Sink, clock: Clock, *, keep_session: bool = True, known: bool = False
) -> tuple[list[Source], bool]:
    """Return the configured sources, not yet started, and whether any of them could not be made.

    A source is imported only if it is configured. One that cannot be made (its certificate cannot be read) is reported as a
    link that is down; the others go on.

    Args:
        configuration: Names brokers and serial ports.
        sink: Takes what arrives, and changes of links; any thread may call it.
        clock: Stamps arrivals.
        keep_session: Whether the broker keeps a session, and so a queue, for this client.
        known: Whether the broker should have a session of ours from before.
    """
    makers: dict[str, Callable[[], Source]] = {}
    if configuration.mqtt is not None and configuration.mqtt.subscriptions:
        connection = replace(configuration.mqtt, keep_session=keep_session)
        for one, other in connection.overlaps:
            log.warning(
                "The topics %s and %s overlap: a reading without a time of its own may be taken twice.", one, other
            )

        def broker() -> Source:
            from monitor.intake import MqttSource  # noqa: PLC0415 (paho is loaded only where a broker is named)

            return MqttSource(connection, sink, clock, known=known)

        makers[connection.name] = broker
    for name, port in configuration.serial.items():

        def serial(settings: SerialPort = port) -> Source:
            from monitor.intake import SerialSource  # noqa: PLC0415

            return SerialSource(settings, sink, clock)

        makers[name] = serial
    made = []
    for name, make in makers.items():
        try:
            made.append(make())
        except UnavailableError as fault:
            sink.offer(LinkChange(name, False, str(fault), clock.now_ms()))
    return made, len(made) < len(makers)
