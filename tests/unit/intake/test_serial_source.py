"""What the serial source does with lines and faults, on a port that the test plays."""

import threading
import time
from itertools import pairwise

from monitor.codec import encode_line
from monitor.intake import Arrival, SerialPort
from monitor.intake.serial_port import SerialSource

NOW = 1_795_600_000_000
GOOD = encode_line("p1-a", "temperature", 57_250_000, "Cel", NOW)


class Clock:
    def now_ms(self):
        return NOW

    def monotonic_s(self):
        return 100.0


class Sink:
    def __init__(self):
        self.arrivals = []

    def offer(self, item):
        if isinstance(item, Arrival):
            self.arrivals.append(item)


class Port:
    """Gives its chunks one by one, then waits for the end as a quiet port does."""

    def __init__(self, *chunks):
        self.chunks, self.dry = list(chunks), threading.Event()
        self.in_waiting = 0

    def read(self, size):
        if self.chunks:
            return self.chunks.pop(0)
        self.dry.set()
        time.sleep(0.005)
        return b""

    def close(self):
        pass


def heard(*chunks, held=False):
    port, sink = Port(*chunks), Sink()
    source = SerialSource(SerialPort(name="shed", url="test"), sink, Clock(), opener=lambda settings: port)
    if held:
        source.hold()
    source.start()
    assert port.dry.wait(20)
    source.stop()
    return sink.arrivals, source


def test_a_first_line_that_is_cut_off_is_skipped_and_a_later_one_is_told():
    arrivals, source = heard(b"25 Cel\n", GOOD, b"?????\n")
    assert source.skipped == 1
    assert [(len(one.heard), len(one.rejects)) for one in arrivals] == [(1, 0), (0, 1)]
    assert {(one.source, one.received) for one in arrivals} == {("shed", NOW)}


def test_a_first_line_that_is_whole_counts():
    arrivals, source = heard(GOOD[:5], GOOD[5:] + GOOD)
    assert (source.skipped, len(arrivals)) == (0, 2)
    assert [one.micro for arrival in arrivals for one in arrival.heard] == [57_250_000] * 2


def test_a_source_that_is_held_offers_nothing_more():
    arrivals, _ = heard(GOOD, GOOD, held=True)
    assert arrivals == []


def test_lines_cannot_be_acknowledged():
    _, source = heard(GOOD)
    assert source.acknowledge([object()]) == 0


def test_a_port_that_does_not_open_is_tried_again_after_a_pause_that_grows():
    tries = []

    def opener(settings):
        tries.append(time.monotonic())
        raise OSError(2, "No such file or directory")

    settings = SerialPort(name="shed", url="test", backoff_min_s=0.02, backoff_max_s=0.08)
    source = SerialSource(settings, Sink(), Clock(), opener=opener)
    source.start()
    while len(tries) < 6:
        time.sleep(0.01)
    source.stop()
    pauses = [after - before for before, after in pairwise(tries)]
    assert all(pause >= least for pause, least in zip(pauses, (0.02, 0.04, 0.08, 0.08, 0.08), strict=False))
