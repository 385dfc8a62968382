"""From the configuration's channels to a deliverer of notices."""

from collections.abc import Callable

from monitor.app.sources import mqtt_connection
from monitor.configuration import PAGE_CHANNEL, Configuration
from monitor.intake import MqttConnection
from monitor.model.settings import AMBIENT
from monitor.outbox import AppriseChannel, Channel, Deliverer, Letter, MqttChannel, NoticeRow, PageChannel, letter


def build_channels(configuration: Configuration) -> dict[str, Channel]:
    """Return the channels that the configuration names, and the page that is always there."""
    channels: dict[str, Channel] = {PAGE_CHANNEL: PageChannel()}
    for name, channel in configuration.channels.items():
        if channel.url is not None:
            channels[name] = AppriseChannel(channel.url.get_secret_value())
        elif channel.topic is not None and configuration.mqtt is not None:
            channels[name] = MqttChannel(channel.topic, publisher(mqtt_connection(configuration.mqtt)))
    return channels


def publisher(connection: MqttConnection) -> Callable[[str, bytes], None]:
    """Return a function that publishes one message over a connection of its own and waits for the broker's word."""

    def publish(topic: str, payload: bytes) -> None:
        from paho.mqtt import publish as once  # noqa: PLC0415 (loaded at the first message)
        from paho.mqtt.client import MQTTv5, MQTTv311  # noqa: PLC0415

        tls = {"ca_certs": connection.ca_file, "certfile": connection.cert_file, "keyfile": connection.key_file}
        auth = {"username": connection.username, "password": connection.password} if connection.username else None
        once.single(
            topic,
            payload,
            qos=1,
            hostname=connection.host,
            port=connection.port,
            keepalive=connection.keepalive_s,
            auth=auth,  # type: ignore[arg-type]  # paho's TypedDict; the keys are the same
            tls=tls if connection.tls else None,  # type: ignore[arg-type]
            protocol=MQTTv5 if connection.version == "5" else MQTTv311,
        )

    return publish


def composer(configuration: Configuration, head: Callable[[], str]) -> Callable[[NoticeRow], Letter]:
    """Return what makes letters: names and the link from the configuration, the head of the record when it is sent."""

    def compose(row: NoticeRow) -> Letter:
        settings = configuration.settings
        place = "" if row.place in ("", AMBIENT) else settings.place_name(row.place)
        return letter(row, site=settings.site.name, place=place, link=configuration.page.link, head=head())

    return compose


def build_deliverer(
    configuration: Configuration,
    *,
    head: Callable[[], str],
    link_changed: Callable[[str, bool, str], None],
    given_up: Callable[[NoticeRow, str], None],
    wake: Callable[[], None],
    down: tuple[str, ...] = (),
) -> Deliverer:
    """Return the deliverer of a configuration."""
    return Deliverer(
        build_channels(configuration),
        composer(configuration, head),
        link_changed=link_changed,
        given_up=given_up,
        wake=wake,
        down=down,
    )
