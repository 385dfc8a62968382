"""What the MQTT source does with single messages, without a broker."""

import pytest
from paho.mqtt.client import ConnectFlags, MQTTMessage
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from monitor.intake import Arrival, LinkChange, MqttConnection, MqttSource, Subscription
from monitor.intake.inbound import Link
from monitor.model.quarantine import SetAside

NOW = 1_795_600_000_000


class StillClock:
    now = NOW
    seconds = 100.0

    def now_ms(self):
        return self.now

    def monotonic_s(self):
        return self.seconds


class Sink(list):
    def offer(self, item):
        self.append(item)


@pytest.fixture
def sink():
    return Sink()


@pytest.fixture
def clock():
    return StillClock()


@pytest.fixture
def source(sink, clock):
    subscriptions = (Subscription(topic="nodes/+/senml"), Subscription(topic="n/{probe}/{quantity}", form="number"))
    return MqttSource(MqttConnection(subscriptions=subscriptions), sink, clock)


def hear(source, payload, topic=b"nodes/7/senml", mid=1, qos=1, dup=False, retain=False):
    message = MQTTMessage(mid=mid, topic=topic)
    message.payload, message.qos, message.dup, message.retain = payload, qos, dup, retain
    source._on_message(source._client, None, message)


def connect(source, session_present, code=0):
    reason = ReasonCode(PacketTypes.CONNACK, identifier=code)
    source._on_connect(source._client, None, ConnectFlags(session_present=session_present), reason, None)


def test_payload_may_be_a_bytearray(source, sink):
    hear(source, bytearray(b'[{"n":"a","u":"Cel","v":1}]'))
    assert type(sink[0].raw) is bytes
    assert sink[0].heard[0].address == "a"


def test_topic_that_is_not_utf8_is_set_aside(source, sink):
    hear(source, b"5", topic=b"\xff")
    assert sink == [Arrival("mqtt", NOW, (), (sink[0].rejects[0],), (0, 1), "", b"5")]
    assert sink[0].rejects[0].reason is SetAside.NOT_UTF8


def test_token_names_the_connection(source, sink):
    connect(source, session_present=False)
    hear(source, b"5", topic=b"n/7/moisture", mid=3)
    connect(source, session_present=True)
    hear(source, b"6", topic=b"n/7/moisture", mid=3)
    assert [item.token for item in sink] == [(1, 3), (2, 3)]


def test_only_a_redelivery_in_the_same_session_is_dropped(source, sink):
    connect(source, session_present=False)
    hear(source, b"5", topic=b"n/7/moisture", mid=3)
    hear(source, b"5", topic=b"n/7/moisture", mid=4)
    hear(source, b"5", topic=b"n/7/moisture", mid=4, dup=True)
    assert [len(item.heard) for item in sink] == [1, 1, 0]
    connect(source, session_present=False)
    hear(source, b"5", topic=b"n/7/moisture", mid=4, dup=True)
    assert len(sink[-1].heard) == 1


def test_redelivered_timed_message_is_handed_on(source, sink):
    payload = b'[{"n":"a","u":"Cel","v":1,"t":1795600000}]'
    hear(source, payload)
    hear(source, payload, dup=True)
    assert [len(item.heard) for item in sink] == [1, 1]


def test_untimed_message_that_was_set_aside_was_not_taken(source, sink, clock):
    connect(source, session_present=True)
    hear(source, b"5", topic=b"n/7/moisture", mid=3)
    assert sink[0].rejects[0].reason is SetAside.NO_TIME
    hear(source, b"5", topic=b"n/7/moisture", mid=3, dup=True)
    assert sink[1].rejects[0].reason is SetAside.NO_TIME


def test_queue_and_live(source, sink, clock):
    connect(source, session_present=True)
    for seconds, live in ((100.9, False), (101.8, False), (102.8, True), (102.9, True)):
        clock.seconds = seconds
        hear(source, b"5", topic=b"n/7/moisture", mid=int(seconds * 10))
        assert bool(sink[-1].heard) is live


def test_without_a_connection_nothing_is_acknowledged(source):
    assert source.acknowledge([(0, 1)]) == 0
    connect(source, session_present=False)
    assert source.acknowledge([(1, 1), (0, 1)]) == 1
    source._on_pre_connect(source._client, None)
    assert source.acknowledge([(1, 1)]) == 0


def test_refused_connection_is_told_once(source, sink):
    connect(source, session_present=False, code=0x87)
    connect(source, session_present=False, code=0x87)
    source._on_connect_fail(source._client, None)
    (change,) = sink
    why = "the broker at 127.0.0.1:1883 refuses the login; mend `mqtt.username` and `mqtt.password` (Not authorized)"
    assert change == LinkChange("mqtt", False, why, NOW)
    assert source.acknowledge([(0, 1)]) == 0


def test_link_that_could_not_be_told_is_told_again(clock):
    class Stubborn(Sink):
        refusing = True

        def offer(self, item):
            if self.refusing:
                raise RuntimeError
            super().offer(item)

    sink = Stubborn()
    link = Link("shed", sink, clock)
    with pytest.raises(RuntimeError):
        link.tell(False, "gone")
    sink.refusing = False
    link.tell(False, "gone")
    link.tell(False, "still gone")
    assert sink == [LinkChange("shed", False, "gone", NOW)]
