"""The course of a connection to a broker: what is told of it and when, and how often it is tried."""

import pytest
from paho.mqtt.client import ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from monitor.intake import LinkChange, MqttConnection, MqttSource, Subscription, mqtt
from monitor.model.connection_faults import Fault

NOW = 1_795_600_000_000
TAKEN_OVER, UNSPECIFIED = 0x8E, 0x80
UP = "connected to 127.0.0.1:1883"
LOST = (
    "the broker had forgotten this client's session, so what nodes sent while it was away is lost; "
    "let it keep sessions (docs/broker.md)"
)
ENDED = "the connection to the broker at 127.0.0.1:1883 ended; it is tried again"


class Clock:
    seconds = 1_000.0

    def now_ms(self):
        return NOW

    def monotonic_s(self):
        return self.seconds


class Sink(list):
    refusing = False

    def offer(self, item):
        if self.refusing:
            raise RuntimeError("the sink is full")
        self.append(item)

    @property
    def told(self):
        return [(one.up, one.why) for one in self if isinstance(one, LinkChange)]


class Waits:
    """Stands for the end of the source: not yet there, and every wait for it is noted and over at once."""

    def __init__(self):
        self.waited = []

    def is_set(self):
        return False

    def wait(self, seconds):
        self.waited.append(seconds)

    def set(self):
        pass


class Timers(list):
    def __call__(self, seconds, function):
        self.append((seconds, function))
        return self

    daemon = False

    def start(self):
        assert self.daemon, "it would hold the end of the program up"


class Course:
    """A source whose connection comes and goes as the test says."""

    def __init__(self, timers, known=False, **more):
        self.sink, self.clock, self.timers = Sink(), Clock(), timers
        settings = {"subscriptions": (Subscription(topic="a"), Subscription(topic="b"))} | more
        self.source = MqttSource(MqttConnection(**settings), self.sink, self.clock, known=known)
        self.waits = self.source._ended = Waits()

    @property
    def told(self):
        return self.sink.told

    def connects(self, session_present=True, code=0):
        reason = ReasonCode(PacketTypes.CONNACK, identifier=code)
        flags = ConnectFlags(session_present=session_present)
        self.source._on_connect(self.source._client, None, flags, reason, None)

    def is_granted(self, *codes):
        reasons = [ReasonCode(PacketTypes.SUBACK, identifier=code) for code in codes or (1, 1)]
        self.source._on_subscribe(self.source._client, None, 1, reasons, None)

    def comes_up(self, session_present=True):
        self.connects(session_present)
        self.is_granted()

    def ends(self, code=UNSPECIFIED):
        reason = ReasonCode(PacketTypes.DISCONNECT, identifier=code)
        self.source._on_disconnect(self.source._client, None, DisconnectFlags(True), reason, None)

    def is_thrown_off(self, times, apart_s=1.0):
        for _ in range(times):
            self.clock.seconds += apart_s
            self.comes_up()
            self.ends()

    def hears(self, payload=b"{"):
        message = MQTTMessage(mid=1, topic=b"a")
        message.payload, message.qos = payload, 1
        self.source._on_message(self.source._client, None, message)


@pytest.fixture
def course(monkeypatch):
    timers = Timers()
    monkeypatch.setattr(mqtt.threading, "Timer", timers)
    return lambda **more: Course(timers, **more)


def test_a_link_is_up_once_every_subscription_is_granted(course):
    one = course()
    one.connects()
    assert one.told == []
    one.is_granted()
    assert one.told == [(True, UP)]


def test_a_subscription_that_is_refused_is_named_with_the_brokers_words(course):
    one = course()
    one.connects()
    one.is_granted(1, 0x87)
    assert one.told == [(False, "the broker refuses the subscription b (Not authorized)")]
    one.is_granted(0x87, 0x87)
    assert one.told[1:] == [(False, "the broker refuses the subscription a (Not authorized), b (Not authorized)")]


def test_a_source_without_subscriptions_is_up_when_it_is_connected(course):
    one = course(subscriptions=())
    one.connects()
    assert one.told == [(True, f"{UP}, no subscriptions")]


@pytest.mark.parametrize(
    ("known", "keep", "present", "said"),
    [(True, True, False, f"{UP}; {LOST}"), (True, True, True, UP), (True, False, False, UP), (False, True, False, UP)],
)
def test_a_session_that_the_broker_forgot_is_told_where_there_was_one_to_keep(course, known, keep, present, said):
    one = course(known=known, keep_session=keep)
    one.comes_up(present)
    assert one.told == [(True, said)]


def test_a_session_that_is_forgotten_later_is_told_though_the_link_is_up_again(course):
    one = course()
    one.comes_up(session_present=False)
    one.comes_up(session_present=False)
    one.comes_up(session_present=True)
    assert one.told == [(True, UP), (True, f"{UP}; {LOST}")]


def test_a_connection_that_ends_is_told_once_and_tried_again_at_once(course):
    one = course()
    one.is_thrown_off(2)
    assert one.told == [(True, UP), (False, ENDED)] * 2
    assert one.waits.waited == []


def test_a_broker_that_ends_it_before_it_answered_wants_tls(course):
    one = course()
    one.ends()
    ((up, why),) = one.told
    assert (up, "mqtt.tls = true" in why) == (False, True)


def test_after_a_refusal_the_end_of_the_connection_says_nothing_more(course):
    one = course()
    one.connects(code=0x87)
    one.ends()
    assert len(one.told) == 1
    one.comes_up()
    one.ends()
    assert one.told[1:] == [(True, UP), (False, ENDED)]


def test_another_program_of_the_same_name_is_told_at_once_where_the_broker_says_so(course):
    one = course(client_id="shed")
    one.comes_up()
    one.ends(TAKEN_OVER)
    assert 'another program connects with the client_id "shed"' in one.told[-1][1]


def test_who_is_thrown_off_again_and_again_waits_longer_each_time(course):
    one = course(client_id="shed")
    one.is_thrown_off(9)
    assert one.waits.waited == [1, 2, 4, 8, 16, 30, 30]
    assert 'another program seems to connect with the client_id "shed"' in one.told[-1][1]
    assert [up for up, _ in one.told] == [True, False, True, False, True, False], "from then on it is told no more"


@pytest.mark.parametrize(("apart_s", "waits"), [(149.0, True), (151.0, False)])
def test_ends_count_together_that_lie_within_five_minutes(course, apart_s, waits):
    one = course()
    one.is_thrown_off(3, apart_s)
    assert bool(one.waits.waited) is waits


def test_a_broker_that_was_away_itself_did_not_throw_anybody_off(course):
    one = course()
    one.is_thrown_off(2)
    one.source._on_connect_fail(one.source._client, None)
    one.is_thrown_off(2)
    assert one.waits.waited == []
    one.is_thrown_off(1)
    assert one.waits.waited == [1]


def test_an_end_before_the_broker_answered_begins_the_count_anew(course):
    one = course()
    one.is_thrown_off(2)
    one.ends()
    one.is_thrown_off(2)
    assert one.waits.waited == []


def test_after_being_thrown_off_a_connection_is_up_once_it_has_lived_a_minute(course):
    one = course()
    one.is_thrown_off(3)
    before = len(one.told)
    one.comes_up()
    ((seconds, still_there),) = one.timers
    assert (seconds, len(one.told)) == (60.0, before)
    still_there()
    assert one.told[before:] == [(True, UP)]
    one.waits.waited.clear()
    one.is_thrown_off(2)
    assert one.waits.waited == [], "the count began anew"


@pytest.mark.parametrize("again", [False, True])
def test_a_connection_that_did_not_live_a_minute_is_not_up(course, again):
    one = course()
    one.is_thrown_off(3)
    before = len(one.told)
    one.comes_up()
    one.ends()
    if again:
        one.comes_up()
    one.timers[0][1]()
    assert one.told[before:] == []


def test_a_reason_that_somebody_must_mend_is_told_though_the_link_is_down_already(course):
    one = course()
    for found in (Fault.NOBODY, Fault.SILENT, Fault.NAME, Fault.NAME, Fault.NOBODY, None):
        one.source._client.refused = found
        one.source._on_connect_fail(one.source._client, None)
    assert [up for up, _ in one.told] == [False, False]
    assert ["nobody listens" in one.told[0][1], "is not known" in one.told[1][1]] == [True, True]


def test_nothing_is_acknowledged_of_a_connection_that_ended(course):
    one = course()
    one.comes_up()
    assert one.source.acknowledge([(1, 5)]) == 1
    one.ends()
    assert one.source.acknowledge([(1, 5)]) == 0
    one.comes_up()
    assert one.source.acknowledge([(1, 5)]) == 0
    assert one.source.acknowledge([(1, 5), (2, 5), (2, 6)]) == 2


def test_a_sink_that_refuses_is_counted_with_its_words_and_what_follows_is_taken(course):
    one = course()
    one.sink.refusing = True
    one.comes_up()
    one.hears()
    one.hears()
    assert (one.source.faults, one.source.last_fault) == (3, "RuntimeError: the sink is full")
    one.sink.refusing = False
    one.hears()
    assert len(one.sink) == 1
    assert one.source.faults == 3


def test_a_sound_course_has_no_faults(course):
    one = course()
    one.comes_up()
    one.hears()
    one.ends()
    assert (one.source.faults, one.source.last_fault) == (0, "")


def test_a_message_that_this_program_cannot_read_is_set_aside_with_what_it_held(course, monkeypatch):
    one = course()

    def broken(*_):
        raise ZeroDivisionError("by nothing")

    one.source._table.known["a"] = broken
    one.hears(b"57.25")
    (arrival,) = one.sink
    (reject,) = arrival.rejects
    assert (reject.detail, reject.excerpt, arrival.raw) == ("this program could not read it", "57.25", b"57.25")
    assert one.source.last_fault == "ZeroDivisionError: by nothing"
