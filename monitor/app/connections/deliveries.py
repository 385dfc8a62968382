"""Builds the deliverer of notices and its channels from the configuration."""

import logging
import queue
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, TypeVar

from monitor.configuration import PAGE_CHANNEL, Configuration
from monitor.intake import MqttConnection, not_reached, refused
from monitor.model.connection_faults import fault_of
from monitor.model.notice_rows import NoticeRow
from monitor.model.settings import AMBIENT
from monitor.outbox import (
    AppriseChannel,
    Channel,
    DeliveryError,
    Letter,
    MqttChannel,
    PageChannel,
    letter,
)

if TYPE_CHECKING:
    from paho.mqtt import client as mqtt
    from paho.mqtt.reasoncodes import ReasonCode


log = logging.getLogger("heaptender")


def build_channels(configuration: Configuration) -> dict[str, Channel]:
    """Return the configured channels by name, and the page's, which always exists."""
    channels: dict[str, Channel] = {PAGE_CHANNEL: PageChannel()}
    for name, channel in configuration.channels.items():
        if channel.url is not None:
            channels[name] = AppriseChannel(channel.url.get_secret_value())
        elif channel.topic is not None and configuration.mqtt is not None:
            channels[name] = MqttChannel(channel.topic, publisher(configuration.mqtt))
    return channels


PUBLISH_S = 10.0
"""The longest time, in seconds, that one message to a broker may take."""


def publisher(connection: MqttConnection, limit_s: float = PUBLISH_S) -> Callable[[str, bytes], None]:
    """Return a function that publishes one message over its own connection and waits until the broker confirms it.

    That function raises `DeliveryError` if the broker refuses or cannot be reached, and `TimeoutError` after `limit_s` seconds.
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
    """Return a client without a session, and the queue for the broker's answer to its connecting ("" means yes)."""
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
    """Return a function that writes the letter of an outbox row.

    Args:
        configuration: Returns the configuration in force; asked anew for each letter.
        head: Returns the head of the record's hash chain (hex), or "".
        links: Returns two links for a row: to its place on the page, and to answer *seen* ("" for none). None: the page alone.
    """

    def compose(row: NoticeRow) -> Letter:
        now = configuration()
        settings = now.settings
        place = "" if row.place in ("", AMBIENT) else settings.place_name(row.place)
        # Link and head are extras: a failure to make them must never keep a message back.
        link, seen = _or_without("link", lambda: links(row) if links is not None else (now.page.link, ""), ("", ""))
        chain = _or_without("head of the record", head, "")
        return letter(row, site=settings.site.name, place=place, link=link, head=chain, seen=seen)

    return compose


_Added = TypeVar("_Added")


def _or_without(what: str, get: Callable[[], _Added], without: _Added) -> _Added:
    try:
        return get()
    except Exception as fault:  # noqa: BLE001 - the message must go, whatever fails here
        log.warning("A notice goes without its %s: %s", what, fault)
        return without
