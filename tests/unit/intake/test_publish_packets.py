"""Messages found in bytes that came: what was sent, or None where it must look itself."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from monitor.intake.publish_packets import Published, publish_at

MESSAGES = st.builds(
    Published,
    name=st.text(min_size=1, max_size=200).map(lambda text: text.encode("utf-8", "replace")),
    payload=st.binary(max_size=20_000),
    mid=st.integers(1, 65_535),
    qos=st.sampled_from([0, 1]),
    dup=st.booleans(),
    retain=st.booleans(),
).map(lambda one: one if one.qos else one._replace(mid=0))


def length(size):
    found = bytearray()
    while size > 127:
        found.append(size % 128 | 128)
        size //= 128
    return bytes([*found, size])


def packet(message, *, block=None, qos=None):
    """The packet of a message as MQTT 3.3 has it; `block`: its properties, packed, for version 5."""
    qos = message.qos if qos is None else qos
    mid = message.mid.to_bytes(2, "big") if qos else b""
    properties = b"" if block is None else block
    body = len(message.name).to_bytes(2, "big") + message.name + mid + properties + message.payload
    return bytes([0x30 | message.dup << 3 | qos << 1 | message.retain]) + length(len(body)) + body


def properties(words):
    found = Properties(PacketTypes.PUBLISH)
    found.UserProperty = [("note", words)]
    return found.pack()


@given(MESSAGES, st.binary(max_size=10), st.binary(max_size=10), st.sampled_from([None, "", "x" * 10, "x" * 300]))
def test_a_whole_message_is_read_wherever_it_begins(message, before, after, words):
    block = None if words is None else properties(words) if words else b"\0"
    data = before + packet(message, block=block) + after
    found = publish_at(data, len(before), properties=block is not None)
    assert found == (message, len(data) - len(after))


@given(MESSAGES, st.data(), st.booleans())
def test_a_message_that_has_not_all_come_is_left(message, data, version_5):
    whole = packet(message, block=b"\0" if version_5 else None)
    cut = data.draw(st.integers(0, len(whole) - 1))
    assert publish_at(whole[:cut], 0, properties=version_5) is None


@given(st.binary(max_size=60), st.integers(0, 60), st.booleans())
@example(b"\x30\x00", 0, True)
@example(b"\x32\xff\xff\xff\xff\xff", 0, True)
def test_nothing_that_comes_is_read_beyond_its_end(data, at, version_5):
    found = publish_at(data, at, properties=version_5)
    if found is not None:
        message, end = found
        assert at < end <= len(data)
        assert len(message.name) + len(message.payload) < end - at


MESSAGE = Published(b"n/7", b"60", 9, 1, False, False)


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (packet(MESSAGE, qos=2), "QoS 2 needs an answer of its own"),
        (packet(MESSAGE, qos=3), "there is no QoS 3"),
        (packet(MESSAGE._replace(name=b"")), "an alias stands for the topic"),
        (packet(MESSAGE._replace(mid=0)), "a packet id is never 0"),
        (b"\x90\x03\0\1\1", "another kind of packet"),
        (b"\x30\x04\0\x09n/", "the topic is longer than the packet"),
        (b"\x32\x03\0\x01n", "no packet id follows"),
    ],
)
def test_what_is_not_plainly_a_message_is_left_to_the_library(data, why):
    assert publish_at(data + b"\0" * 20, 0, properties=False) is None, why
