"""From the configuration's connections to running sources."""

from collections.abc import Callable
from typing import Any, cast

from pydantic import SecretStr

from monitor.configuration import Configuration, Mqtt
from monitor.intake import MqttConnection, SerialPort, Sink, Source, Subscription
from monitor.intake.inbound import Clock


def plain(secret: SecretStr | None) -> str | None:
    """Return a secret's text."""
    return None if secret is None else secret.get_secret_value()


def mqtt_connection(mqtt: Mqtt) -> MqttConnection:
    """Return the broker as the intake wants it."""
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


def build_sources(configuration: Configuration, sink: Sink, clock: Clock) -> list[Source]:
    """Return the sources that the configuration names, not yet started; each is imported only if it is wanted."""
    makers: list[Callable[[], Source]] = []
    if configuration.mqtt is not None and configuration.mqtt.subscriptions:
        connection = mqtt_connection(configuration.mqtt)

        def broker() -> Source:
            from monitor.intake.mqtt import MqttSource  # noqa: PLC0415 (paho is loaded only where a broker is named)

            return MqttSource(connection, sink, clock)

        makers.append(broker)
    for name, port in configuration.serial.items():
        if port.form != "lines":
            continue
        settings = SerialPort(name=name, url=port.url, baud=port.baud)

        def serial(settings: SerialPort = settings) -> Source:
            from monitor.intake.serial_port import SerialSource  # noqa: PLC0415

            return SerialSource(settings, sink, clock)

        makers.append(serial)
    return [make() for make in makers]
