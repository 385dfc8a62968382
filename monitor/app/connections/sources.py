"""From the configuration's connections to running sources."""

import logging
import os
from collections.abc import Callable
from dataclasses import replace
from typing import Any, cast

from pydantic import SecretStr

from monitor.configuration import Configuration, Mqtt
from monitor.intake import LinkChange, MqttConnection, SerialPort, Sink, Source, Subscription
from monitor.intake.inbound import Clock
from monitor.model.errors import UnavailableError

log = logging.getLogger("heaptender")


def plain(secret: SecretStr | None) -> str | None:
    """Return a secret's text."""
    return None if secret is None else secret.get_secret_value()


def mqtt_connection(mqtt: Mqtt, *, keep_session: bool = True) -> MqttConnection:
    """Return the broker as the intake wants it; without a session to keep, nothing of us is left there afterwards."""
    return MqttConnection(
        host=mqtt.host,
        port=mqtt.port,
        client_id=mqtt.client_id,
        version=cast("Any", mqtt.version),
        username=mqtt.username,
        password=plain(mqtt.password),
        tls=mqtt.tls,
        ca_file=str(mqtt.ca_file) if mqtt.ca_file else None,
        cert_file=str(mqtt.cert_file) if mqtt.cert_file else None,
        key_file=str(mqtt.key_file) if mqtt.key_file else None,
        keep_session=keep_session,
        keepalive_s=max(5, mqtt.keep_alive_ms // 1000),
        session_expiry_s=max(1, mqtt.session_expiry_ms // 1000),
        subscriptions=tuple(
            Subscription(
                topic=one.topic,
                form=cast("Any", one.form),
                address=one.address,
                value=one.value,
                time=one.time,
                probe=one.probe,
                quantity=one.quantity.value if one.quantity else None,
                unit=one.unit,
            )
            for one in mqtt.subscriptions
        ),
    )


def beside(configuration: Configuration, what: str, *, running: bool) -> Configuration:
    """Return the configuration for looking beside a daemon: a client id of its own, and no port that the daemon holds.

    To be used with `keep_session=False`, so that no queue is left at the broker for a client that never returns.
    """
    mqtt = configuration.mqtt
    if mqtt is not None:
        mqtt = replace(mqtt, client_id=f"{mqtt.client_id}-{what}-{os.getpid()}")
    return replace(configuration, mqtt=mqtt, serial={} if running else configuration.serial)


def build_sources(
    configuration: Configuration, sink: Sink, clock: Clock, *, keep_session: bool = True, known: bool = False
) -> tuple[list[Source], bool]:
    """Return the sources that the configuration names, not yet started, and whether one is lacking.

    Each is imported only if it is wanted. One that cannot be made (a certificate that cannot be read) is told like a link
    that is down; the others go on. `known`: the broker should have a session of ours from before.
    """
    makers: dict[str, Callable[[], Source]] = {}
    if configuration.mqtt is not None and configuration.mqtt.subscriptions:
        connection = mqtt_connection(configuration.mqtt, keep_session=keep_session)
        for one, other in connection.overlaps:
            log.warning(
                "The topics %s and %s overlap: a reading without a time of its own may be taken twice.", one, other
            )

        def broker() -> Source:
            from monitor.intake.mqtt import MqttSource  # noqa: PLC0415 (paho is loaded only where a broker is named)

            return MqttSource(connection, sink, clock, known=known)

        makers[connection.name] = broker
    for name, port in configuration.serial.items():
        if port.form != "lines":
            log.error('The port "%s" is not read: this version does not ask devices of the form "%s".', name, port.form)
            continue
        settings = SerialPort(name=name, url=port.url, baud=port.baud)

        def serial(settings: SerialPort = settings) -> Source:
            from monitor.intake.serial_port import SerialSource  # noqa: PLC0415

            return SerialSource(settings, sink, clock)

        makers[name] = serial
    made = []
    for name, make in makers.items():
        try:
            made.append(make())
        except UnavailableError as fault:
            sink.offer(LinkChange(name, False, str(fault), clock.now_ms()))
    return made, len(made) < len(makers)
