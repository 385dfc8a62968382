"""From the configuration's channels to a deliverer of notices."""

import logging
import queue
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

from monitor.configuration import PAGE_CHANNEL, Configuration
from monitor.intake import MqttConnection, not_reached, refused
from monitor.model.connection_faults import fault_of
from monitor.model.settings import AMBIENT
from monitor.outbox import (
    AppriseChannel,
    Channel,
    Deliverer,
    DeliveryError,
    Letter,
    MqttChannel,
    NoticeRow,
    PageChannel,
    letter,
)

if TYPE_CHECKING:
    from paho.mqtt import client as mqtt
    from paho.mqtt.reasoncodes import ReasonCode


log = logging.getLogger("heaptender")


def build_channels(configuration: Configuration) -> dict[str, Channel]:
    """Return the channels that the configuration names, and the page that is always there."""
    channels: dict[str, Channel] = {PAGE_CHANNEL: PageChannel()}
    for name, channel in configuration.channels.items():
        if channel.url is not None:
            channels[name] = AppriseChannel(channel.url.get_secret_value())
        elif channel.topic is not None and configuration.mqtt is not None:
            channels[name] = MqttChannel(channel.topic, publisher(configuration.mqtt))
    return channels


PUBLISH_S = 10.0
"""How long one message to a broker may take in all."""


def publisher(connection: MqttConnection, limit_s: float = PUBLISH_S) -> Callable[[str, bytes], None]:
    """Return a function that publishes one message over a connection of its own and waits for the broker's word.

    It raises `DeliveryError` where the broker refuses, or cannot be reached, and `TimeoutError` after `limit_s`.
    """

    def publish(topic: str, payload: bytes) -> None:
        until = time.monotonic() + limit_s
        client, answered = _client(connection, limit_s)
        try:
            client.connect(connection.host, connection.port, connection.keepalive_s)
        except TimeoutError:
            raise
        except (OSError, ValueError) as fault:
            raise DeliveryError(not_reached(connection, fault_of(fault)).why) from fault
        client.loop_start()
        try:
            refusal = answered.get(timeout=max(0.0, until - time.monotonic()))
            if refusal:
                raise DeliveryError(refused(connection, refusal).why)
            info = client.publish(topic, payload, qos=1)
            info.wait_for_publish(max(0.0, until - time.monotonic()))
            if not info.is_published():
                raise TimeoutError
        except queue.Empty:
            raise TimeoutError from None
        finally:
            client.disconnect()
            client.loop_stop()

    return publish


def _client(connection: MqttConnection, limit_s: float) -> tuple["mqtt.Client", "queue.SimpleQueue[str]"]:
    """Return a client with no session, and where the broker's answer to its connecting comes ("" for yes)."""
    from paho.mqtt import client as mqtt  # noqa: PLC0415 (loaded at the first message)
    from paho.mqtt.enums import CallbackAPIVersion  # noqa: PLC0415

    protocol = mqtt.MQTTv5 if connection.version == "5" else mqtt.MQTTv311
    client = mqtt.Client(CallbackAPIVersion.VERSION2, protocol=protocol, reconnect_on_failure=False)
    client.connect_timeout = min(5.0, limit_s)
    if connection.username:
        client.username_pw_set(connection.username, connection.password)
    if connection.tls:
        client.tls_set(connection.ca_file, connection.cert_file, connection.key_file)
    answered: queue.SimpleQueue[str] = queue.SimpleQueue()

    def connected(_client: Any, _userdata: Any, _flags: Any, reason: "ReasonCode", _properties: Any) -> None:
        answered.put(str(reason) if reason.is_failure else "")

    client.on_connect = connected
    return client, answered


def composer(
    configuration: Callable[[], Configuration],
    head: Callable[[], str],
    links: Callable[[NoticeRow], tuple[str, str]] | None = None,
) -> Callable[[NoticeRow], Letter]:
    """Return what makes letters: names and links as they are now, the head of the record when it is sent."""

    def compose(row: NoticeRow) -> Letter:
        now = configuration()
        settings = now.settings
        place = "" if row.place in ("", AMBIENT) else settings.place_name(row.place)
        # What is only added must never keep a message back.
        link, seen = _or_without("link", lambda: links(row) if links is not None else (now.page.link, ""), ("", ""))
        chain = _or_without("head of the record", head, "")
        return letter(row, site=settings.site.name, place=place, link=link, head=chain, seen=seen)

    return compose


_Added = TypeVar("_Added")


def _or_without(what: str, get: Callable[[], _Added], without: _Added) -> _Added:
    try:
        return get()
    except Exception as fault:  # noqa: BLE001 - whatever fails there, the message itself must go
        log.warning("A notice goes without its %s: %s", what, fault)
        return without


def build_deliverer(
    configuration: Callable[[], Configuration],
    *,
    head: Callable[[], str],
    link_changed: Callable[[str, bool, str], None],
    given_up: Callable[[NoticeRow, str], None],
    wake: Callable[[], None],
    down: tuple[str, ...] = (),
    links: Callable[[NoticeRow], tuple[str, str]] | None = None,
    told: Callable[[NoticeRow], None] = lambda _row: None,
) -> Deliverer:
    """Return the deliverer for the channels of the configuration as it is now; names and links are those of each moment."""
    return Deliverer(
        build_channels(configuration()),
        composer(configuration, head, links),
        link_changed=link_changed,
        given_up=given_up,
        wake=wake,
        down=down,
        told=told,
    )
