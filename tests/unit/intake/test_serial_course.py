"""The course of a serial port that opens, is lost and comes back: what is told of it, what is read, how often it is tried."""

import errno
import threading
from contextlib import contextmanager

import pytest
from played_broker import Ears

from monitor.codec import encode_line
from monitor.intake import Arrival, LinkChange, SerialPort
from monitor.intake.serial_port import SerialSource

NOW = 1_795_600_000_000
GOOD = encode_line("p1-a", "temperature", 57_250_000, "Cel", NOW)
GONE = "/dev/ttyUSB0 is gone; was the cable pulled out, or does another program read the port too?"
OPEN = "/dev/ttyUSB0 is open"


class Clock:
    def now_ms(self):
        return NOW

    def monotonic_s(self):
        return 100.0


class Port:
    """Gives its chunks, each only to a reader who asks for just as much as lies there; then its cable is pulled out."""

    def __init__(self, *chunks):
        self.chunks, self.closed = list(chunks), False

    @property
    def in_waiting(self):
        return len(self.chunks[0]) if self.chunks else 0

    def read(self, size):
        if not self.chunks:
            raise OSError(errno.EIO, "Input/output error")
        assert size == max(1, len(self.chunks[0]))
        return self.chunks.pop(0)

    def close(self):
        self.closed = True
        raise OSError(errno.EIO, "Input/output error")


class Waits:
    """Stands for the end of the source, which comes once so many pauses have been made; none of them is waited for."""

    def __init__(self, pauses):
        self.waited, self._pauses = [], pauses

    def is_set(self):
        return len(self.waited) >= self._pauses

    def wait(self, seconds):
        self.waited.append(seconds)

    def set(self):
        pass


def run(*openings, sink=None, **more):
    """Let a source find these ports one after another, or faults; return (what it told, its pauses, the source)."""
    left, sink = list(openings), sink or Ears()

    def opener(settings):
        found = left.pop(0)
        if isinstance(found, Exception):
            raise found
        return found

    settings = SerialPort(name="shed", url="/dev/ttyUSB0", **more)
    source = SerialSource(settings, sink, Clock(), opener=opener)
    waits = source._ended = Waits(len(openings))
    source.start()
    source._thread.join(10)
    return sink.rest(), waits.waited, source


def links(told):
    return [(one.up, one.why) for one in told if isinstance(one, LinkChange)]


def test_a_line_is_handed_on_with_where_it_came_from_and_as_it_came():
    told, _, source = run(Port(GOOD))
    assert [type(one) for one in told] == [LinkChange, Arrival, LinkChange]
    arrival = told[1]
    assert (arrival.source, arrival.received, arrival.token) == ("shed", NOW, None)
    assert (arrival.origin, arrival.raw) == ("/dev/ttyUSB0", GOOD.rstrip())
    assert [one.micro for one in arrival.heard] == [57_250_000]
    assert (source.skipped, source.faults, source.last_fault) == (0, 0, "")


def test_a_port_that_is_lost_is_told_once_closed_and_taken_up_again():
    ports = Port(GOOD), Port(b""), Port()
    told, _, _ = run(*ports)
    assert links(told) == [(True, OPEN), (False, GONE), (True, OPEN), (False, GONE)]
    assert [port.closed for port in ports] == [True] * 3


def test_a_port_that_opens_and_gives_nothing_was_never_up():
    told, _, _ = run(Port(), Port())
    assert links(told) == [(False, GONE)]


def test_a_port_that_does_not_open_is_told_once_with_what_to_do():
    told, _, _ = run(*[OSError(errno.EACCES, "Permission denied")] * 3)
    ((up, why),) = links(told)
    assert (up, why.startswith("/dev/ttyUSB0 may not be opened by this user; ")) == (False, True)


def test_after_every_opening_the_first_line_may_be_the_tail_of_another():
    told, _, source = run(Port(b"25 Cel\n", GOOD, b"?????\n"), Port(b"25 Cel\n", GOOD))
    arrivals = [one for one in told if isinstance(one, Arrival)]
    assert [(len(one.heard), len(one.rejects)) for one in arrivals] == [(1, 0), (0, 1), (1, 0)]
    assert source.skipped == 2


def test_an_empty_line_is_nothing():
    told, _, source = run(Port(GOOD, b"\n", GOOD))
    assert [len(one.heard) for one in told if isinstance(one, Arrival)] == [1, 1]
    assert source.skipped == 0


def test_pauses_grow_up_to_the_longest_and_begin_anew_once_something_was_heard():
    fault = OSError(errno.ENOENT, "No such file or directory")
    _, waited, _ = run(fault, fault, fault, fault, Port(), Port(GOOD), fault, backoff_min_s=3.0, backoff_max_s=10.0)
    assert waited == [3.0, 6.0, 10.0, 10.0, 10.0, 3.0, 6.0]


class Full(Ears):
    def offer(self, item):
        if isinstance(item, Arrival) or item.up:
            raise RuntimeError("the sink is full")
        super().offer(item)


def test_a_sink_that_refuses_a_line_is_counted_and_ends_nothing():
    told, _, source = run(Port(GOOD), Port(GOOD), sink=Full())
    assert (source.faults, source.last_fault) == (4, "RuntimeError: the sink is full")
    assert links(told) == [(False, GONE)]


@contextmanager
def quiet_port():
    """A port on which nothing comes, and whether somebody reads it."""
    read, end = threading.Event(), threading.Event()

    class Quiet:
        in_waiting = 0

        def read(self, size):
            read.set()
            end.wait(0.005)
            return b""

        def close(self):
            end.set()

    yield Quiet(), read, end


def test_a_quiet_port_is_up_and_let_go_at_the_end():
    with quiet_port() as (port, read, closed):
        sink = Ears()
        source = SerialSource(SerialPort(name="shed", url="/dev/ttyUSB0"), sink, Clock(), opener=lambda _: port)
        source.start()
        assert read.wait(10)
        source.stop()
        assert closed.is_set()
        assert not source._thread.is_alive()
        assert links(sink.rest()) == [(True, OPEN)]


@pytest.mark.parametrize("baud", [9_600, 115_200])
def test_a_port_is_opened_with_its_speed_and_read_in_short_turns(monkeypatch, baud):
    import serial

    asked = []
    monkeypatch.setattr(serial, "serial_for_url", lambda *words, **more: asked.append((words, more)) or Port())
    source = SerialSource(SerialPort(name="shed", url="/dev/ttyUSB0", baud=baud), Ears(), Clock())
    source._ended = Waits(1)
    source.start()
    source._thread.join(10)
    (((url,), more),) = asked
    assert (url, more["baudrate"]) == ("/dev/ttyUSB0", baud)
    assert more["timeout"] <= 1, "the end of the source waits for it"
