"""The MQTT client as this project uses it: persistent session, manual acknowledgement, a loop that nothing ends.

Rules: 1. Nothing connects here; `make_client` only prepares, so that missing files are reported before the start.
2. An exception on the network thread is reported and the connection made anew; the library alone would end its thread
without a word. Source of both traps: measurements of this project (docs/decisions).
"""

import ssl
import threading
import time
from collections.abc import Callable, Iterable
from typing import Any

from paho.mqtt import client as mqtt
from paho.mqtt.enums import CallbackAPIVersion, MessageType, MQTTErrorCode
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from monitor.intake.read_ahead import PIECE, ReadAhead
from monitor.model.connection_faults import Fault, fault_of
from monitor.model.connections import MqttConnection
from monitor.model.errors import InvariantError, UnavailableError

PACKET_BYTES_MAX = 1024 * 1024
"""A version 5 broker does not send larger packets; over 3.1.1 the client drops the rest of a larger packet."""

BURST = 64
"""Most messages read before anything is written again (our choice)."""

SETTLING_S = 2.0
"""Longest wait at the end for a broker that does not answer (our choice)."""

_NEVER_ASKED = "heaptender/never-asked-for"
"""A subscription that does not exist, so that dropping it changes nothing."""

_QOS = 1
_ACKNOWLEDGED = bytes([MessageType.PUBACK, 2])
"""Header of a PUBACK with two more bytes, the packet id. Source: MQTT 5.0, 3.4; MQTT 3.1.1, 3.4."""


class UnendingClient(mqtt.Client):
    """A client whose network loop goes on after any exception, until `ended` is set."""

    ended: threading.Event
    on_fault: Callable[[Exception], None]
    pause_s: float
    messages = 0
    """Number of messages handed over."""
    refused: Fault | None = None
    """Why the last attempt to connect failed, as far as that is known."""
    _skip = 0
    """Bytes still to come of a packet that is too large."""

    def loop_forever(self, timeout: float = 1.0, retry_first_connection: bool = False) -> MQTTErrorCode:
        """Run the network loop; see the library's method of this name."""
        while not self.ended.is_set():
            try:
                return super().loop_forever(timeout, retry_first_connection)
            except Exception as fault:  # noqa: BLE001 - whatever it is, a dead thread would lose the source unseen
                self.on_fault(fault)
                self._begin_anew()
        return MQTTErrorCode.MQTT_ERR_SUCCESS

    def loop_read(self, max_packets: int = 1) -> MQTTErrorCode:
        """Read what has come; see the library's method of this name. While messages stream in, one call reads many.

        The library reads the first packet; whole messages that came with it go past the library.
        """
        end = self.messages + BURST
        while self.messages < end:
            before = self.messages
            found = super().loop_read(max_packets)
            if found or not (self._take_ahead(end) or self.messages > before):
                break
        return found

    def _take_ahead(self, end: int) -> bool:
        """Hand over messages that were read ahead, until `end` messages were handed over; return whether there were any."""
        ahead, take, begun = self._sock, self.on_message, self.messages
        if not isinstance(ahead, ReadAhead) or take is None or self._skip or self._in_packet["command"]:
            return False
        properties = self._protocol == mqtt.MQTTv5
        while self.messages < end and (message := ahead.published(properties=properties)) is not None:
            take(self, None, message)  # type: ignore[arg-type]  # it has all that `on_message` here reads of a message
        if self.messages == begun:
            return False
        with self._msgtime_mutex:  # the library wonders whether the connection lives if it takes no packet itself
            self._last_bytes_received = time.monotonic()
        return True

    def ack_all(self, packet_ids: Iterable[int]) -> None:
        """Acknowledge messages of QoS 1 with one packet queued for all: the library would wake its thread for each."""
        packets = b"".join(_ACKNOWLEDGED + packet_id.to_bytes(2, "big") for packet_id in packet_ids)
        self._packet_queue(MessageType.PUBACK, packets, 0, _QOS)

    def _create_socket(self) -> Any:
        self._skip, self.refused = 0, None
        try:
            return ReadAhead(super()._create_socket())
        except Exception as fault:
            # Keep only the kind of fault; the exception itself would keep the socket alive.
            self.refused = fault_of(fault)
            raise

    def _ssl_wrap_socket(self, tcp_sock: Any) -> ssl.SSLSocket:
        """Do the handshake, and close the socket if it fails; the library would leave that to the garbage collector."""
        context = self._ssl_context
        if context is None:
            raise InvariantError("TLS without its settings")
        wrapped = context.wrap_socket(tcp_sock, server_hostname=self._host, do_handshake_on_connect=False)
        try:
            wrapped.do_handshake()
        except BaseException:
            wrapped.close()
            raise
        return wrapped

    def _sock_recv(self, bufsize: int) -> bytes:
        """Return bytes of a packet; of a packet that is too large only the beginning, as if that were all.

        Over version 3.1.1 the client cannot state its limit to a broker, and a message that is never acknowledged comes
        again for ever: so its beginning is handed on, set aside as too long, and acknowledged, and the rest is dropped.
        """
        packet = self._in_packet
        while self._skip and not packet["command"]:
            dropped = super()._sock_recv(min(self._skip, PIECE))
            if not dropped:
                return dropped
            self._skip -= len(dropped)
        if packet["have_remaining"] and not packet["packet"] and packet["to_process"] > PACKET_BYTES_MAX:
            self._skip = packet["to_process"] - PACKET_BYTES_MAX
            packet["to_process"] = packet["remaining_length"] = bufsize = PACKET_BYTES_MAX
        return super()._sock_recv(bufsize)

    def settle(self) -> bool:
        """Wait until the broker has read everything sent so far, and return whether it has.

        Closing a socket with unread data resets the connection, and a broker then drops its own unread data too:
        acknowledgements of committed messages. It answers in order, so any answer proves that it has read them.
        """
        answered = threading.Event()
        self.on_unsubscribe = lambda *_: answered.set()
        found, _ = self.unsubscribe(_NEVER_ASKED)
        return found == MQTTErrorCode.MQTT_ERR_SUCCESS and answered.wait(SETTLING_S)

    def close(self) -> None:
        """Close the sockets by which the library wakes its own thread, once that has ended; it would leave them open."""
        self._reset_sockets()

    def _begin_anew(self) -> None:
        """Connect again, which drops a half-read packet; if that fails, the loop meets the failure again."""
        if self.ended.wait(self.pause_s):
            return
        try:
            self.reconnect()
        except Exception as fault:  # noqa: BLE001 - as above
            self.on_fault(fault)


def make_client(
    settings: MqttConnection, ended: threading.Event, on_fault: Callable[[Exception], None]
) -> UnendingClient:
    """Make a client that is ready to connect.

    Args:
        settings: The broker.
        ended: Ends the network loop once it is set.
        on_fault: Receives each exception of the network thread.

    Returns:
        The client; nothing is connected.

    Raises:
        UnavailableError: A certificate or key file cannot be read.
    """
    if settings.version == "5":
        client = UnendingClient(
            CallbackAPIVersion.VERSION2, client_id=settings.client_id, protocol=mqtt.MQTTv5, manual_ack=True
        )
    else:
        client = UnendingClient(
            CallbackAPIVersion.VERSION2,
            client_id=settings.client_id,
            protocol=mqtt.MQTTv311,
            clean_session=not settings.keep_session,
            manual_ack=True,
        )
    client.ended = ended
    client.on_fault = on_fault
    client.pause_s = settings.backoff_min_s
    client.suppress_exceptions = True
    client.reconnect_delay_set(settings.backoff_min_s, settings.backoff_max_s)
    if settings.username is not None:
        client.username_pw_set(settings.username, settings.password)
    if settings.tls:
        _secure(client, settings)
    return client


def _secure(client: mqtt.Client, settings: MqttConnection) -> None:
    try:
        client.tls_set(
            ca_certs=settings.ca_file,
            certfile=settings.cert_file,
            keyfile=settings.key_file,
            cert_reqs=ssl.CERT_REQUIRED,
            keyfile_password=settings.key_password,
        )
    except (OSError, ValueError) as fault:
        files = [file for file in (settings.ca_file, settings.cert_file, settings.key_file) if file]
        named = ", ".join(files) or "the system's authorities"
        why = (
            getattr(fault, "strerror", None) or "none of them is what it should be: PEM, and the key that belongs to it"
        )
        raise UnavailableError(f"TLS cannot be set up from {named}: {why}") from fault


def begin_connecting(client: mqtt.Client, settings: MqttConnection) -> None:
    """Set the broker's address; the loop connects, and keeps the session that the broker has."""
    if settings.version == "5":
        properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]  # the library's own lack
        properties.SessionExpiryInterval = settings.session_expiry_s if settings.keep_session else 0
        properties.ReceiveMaximum = settings.receive_maximum
        properties.MaximumPacketSize = PACKET_BYTES_MAX
        clean = not settings.keep_session
        client.connect_async(
            settings.host, settings.port, settings.keepalive_s, clean_start=clean, properties=properties
        )
    else:
        client.connect_async(settings.host, settings.port, settings.keepalive_s)


def subscribe_all(client: mqtt.Client, settings: MqttConnection, filters: tuple[str, ...]) -> None:
    """Request all topic filters in one packet. Over version 5, retained messages come only with a new subscription.

    Args:
        client: A connected client.
        settings: The broker; its version decides the options.
        filters: Topic filters, each once.
    """
    if settings.version == "5":
        options = SubscribeOptions(qos=_QOS, retainHandling=SubscribeOptions.RETAIN_SEND_IF_NEW_SUB)
        client.subscribe([(wanted, options) for wanted in filters])
    else:
        client.subscribe([(wanted, _QOS) for wanted in filters])
