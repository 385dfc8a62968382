"""The serial source on pseudo-terminals and pyserial's own URLs."""

import os
import socket
import tty

import pytest
from arrivals import Collector, PushedClock
from brokers import wait_until

from monitor.codec import encode_line
from monitor.intake import SerialPort, SerialSource
from monitor.model.quarantine import SetAside

pytestmark = pytest.mark.io

NOW = 1_795_600_000_000


class Cable:
    """A pseudo-terminal behind a name that stays the same when it is pulled out and put back."""

    def __init__(self, path):
        self.path = path
        self._end = None

    def plug_in(self):
        self._end, other = os.openpty()
        tty.setraw(other)
        self.path.symlink_to(os.ttyname(other))
        os.close(other)

    def send(self, data):
        os.write(self._end, data)

    def pull_out(self):
        self.path.unlink()
        os.close(self._end)
        self._end = None

    def close(self):
        if self._end is not None:
            self.pull_out()


@pytest.fixture
def cable(tmp_path):
    cable = Cable(tmp_path / "port")
    yield cable
    cable.close()


@pytest.fixture
def listen():
    sources = []

    def start(url, **more):
        sink = Collector()
        settings = SerialPort(name="shed", url=str(url), backoff_min_s=0.02, backoff_max_s=0.1)
        source = SerialSource(settings, sink, PushedClock(), **more)
        sources.append(source)
        source.start()
        return source, sink

    yield start
    for source in sources:
        source.stop()


def line(value, **more):
    return encode_line("p1-a", "temperature", value * 1_000_000, "Cel", NOW + value)


def test_lines_of_a_pseudo_terminal(cable, listen):
    cable.plug_in()
    source, sink = listen(cable.path)
    sink.wait_for_links(True)
    cable.send(line(1) + b'[{"n":"p1-a","u":"Cel","v":2}]\r\n')
    first, second = sink.wait_for(2)
    assert first.heard == (("p1-a", "temperature", 1_000_000, "Cel", NOW + 1),)
    assert (first.source, first.origin, first.token) == ("shed", str(cable.path), None)
    assert second.heard == (("p1-a", "temperature", 2_000_000, "Cel", None),)
    assert source.acknowledge([]) == 0


def test_line_may_come_in_pieces(cable, listen):
    cable.plug_in()
    _, sink = listen(cable.path)
    sink.wait_for_links(True)
    for byte in line(1):
        cable.send(bytes([byte]))
    sink.wait_for(1)
    assert sink.values == [1]


def test_first_half_line_is_passed_over_and_a_later_bad_one_set_aside(cable, listen):
    cable.plug_in()
    source, sink = listen(cable.path)
    sink.wait_for_links(True)
    cable.send(line(1)[7:] + line(2) + b"rubbish\n" + b"\xff\n" + b"x y z*00\n" + line(3))
    sink.wait_for(5)
    assert sink.values == [2, 3]
    assert sink.reasons == [SetAside.MALFORMED, SetAside.NOT_UTF8, SetAside.CHECKSUM]
    assert source.skipped == 1


def test_pulled_out_cable_is_told_once_and_taken_up_again(cable, listen):
    cable.plug_in()
    tries = []
    from monitor.intake.serial_port import open_port

    def opener(settings):
        tries.append(1)
        return open_port(settings)

    source, sink = listen(cable.path, opener=opener)
    sink.wait_for_links(True)
    cable.send(line(1) + b"half a li")
    sink.wait_for(1)
    cable.pull_out()
    sink.wait_for_links(True, False)
    tried = len(tries)
    wait_until(lambda: len(tries) >= tried + 4, "more attempts")
    sink.wait_for_links(True, False)
    cable.plug_in()
    links = sink.wait_for_links(True, False, True)
    assert links[1].source == "shed"
    assert str(cable.path) in links[1].why
    cable.send(line(2))
    sink.wait_for(2)
    assert sink.values == [1, 2]
    assert source.skipped == 0


def test_port_that_is_not_there_is_told_once_and_waited_for(cable, listen):
    _, sink = listen(cable.path)
    sink.wait_for_links(False)
    cable.plug_in()
    sink.wait_for_links(False, True)
    cable.send(line(1))
    sink.wait_for(1)


def test_url_of_no_known_kind_is_told(listen):
    _, sink = listen("carrier-pigeon://loft")
    assert "carrier-pigeon" in sink.wait_for_links(False)[0].why


def test_loop_url(listen):
    import serial

    port = serial.serial_for_url("loop://", timeout=0.05)
    _, sink = listen("loop://", opener=lambda _settings: port)
    sink.wait_for_links(True)
    port.write(line(1))
    sink.wait_for(1)
    assert sink.values == [1]


def test_socket_url_comes_back(listen):
    with socket.create_server(("127.0.0.1", 0)) as server:
        _, sink = listen(f"socket://127.0.0.1:{server.getsockname()[1]}")
        first, _ = server.accept()
        with first:
            sink.wait_for_links(True)
            first.sendall(line(1))
            sink.wait_for(1)
        sink.wait_for_links(True, False)
        second, _ = server.accept()
        with second:
            sink.wait_for_links(True, False, True)
            second.sendall(line(2))
            sink.wait_for(2)
    assert sink.values == [1, 2]


def test_sink_that_raises_ends_nothing(cable, listen):
    cable.plug_in()
    source, sink = listen(cable.path)
    sink.wait_for_links(True)
    sink.refuse = lambda item: True
    cable.send(line(1))
    wait_until(lambda: source.faults == 1, "the fault")
    sink.refuse = lambda item: False
    cable.send(line(2))
    sink.wait_for(1)
    assert sink.values == [2]


def test_flood_without_a_line_end_is_bounded(cable, listen):
    cable.plug_in()
    _, sink = listen(cable.path)
    sink.wait_for_links(True)
    cable.send(b"\n")
    for _ in range(40):
        cable.send(b"x" * 2000)
    cable.send(b"\n" + line(1))
    sink.wait_for(2)
    assert sink.reasons == [SetAside.OVERSIZED]
    assert sink.values == [1]
