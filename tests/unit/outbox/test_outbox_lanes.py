"""One channel's thread, the calls of a heartbeat, and what is told of both: alone, without a deliverer."""

import json
import logging
import socket
import threading
import time

import pytest
from outbox_fakes import MINUTE, REFUSED, START, Box, Row

from monitor.outbox import DeliveryError, Heartbeat, Lane, MqttChannel, PageChannel, Result, letter, retry_at
from monitor.outbox import channel_thread as lanes


def of(number=1, **changes):
    return letter(Row(number, **changes), site="Tern Hollow", place="Sunny wall bin", link="", head="")


class Told:
    """Receives results, and lets a test wait for so many."""

    def __init__(self):
        self.results, self._more = [], threading.Semaphore(0)

    def __call__(self, result):
        self.results.append(result)
        self._more.release()

    def wait(self, count):
        for _ in range(count):
            assert self._more.acquire(timeout=20)
        return self.results


@pytest.fixture
def lane_of():
    made = []

    def make(channel, told, limit_s=20.0):
        made.append(Lane("shed", channel, told, limit_s))
        return made[-1]

    yield make
    for lane in made:
        lane.close(5)


@pytest.mark.parametrize(
    ("fault", "why"),
    [
        (None, ""),
        (REFUSED, "refused"),
        (DeliveryError(), "not accepted"),
        (TimeoutError("hunter2"), "no answer in time"),
        (OSError("hunter2"), "the channel failed (OSError)"),
    ],
)
def test_a_result_says_whose_letter_it_was_and_why_it_did_not_arrive(lane_of, fault, why):
    told = Told()
    lane_of(Box(fault=fault), told).put(of(5))
    assert told.wait(1) == [Result("shed", 5, why)]


def test_a_lane_has_no_thread_before_its_first_letter_and_none_after_it_was_closed(lane_of):
    told, box = Told(), Box()
    lane = lane_of(box, told)
    lane.close(5)
    assert "outbox-shed" not in {one.name for one in threading.enumerate()}
    lane.put(of(1))
    told.wait(1)
    (thread,) = [one for one in threading.enumerate() if one.name == "outbox-shed"]
    assert thread.daemon, "a server that hangs must not keep the program from ending"
    lane.close(5)
    assert not thread.is_alive()


def held_by_the_first(lane_of, told):
    """A lane whose first letter is in hand and waits; its box."""
    box = Box()
    box.gate.clear()
    lane = lane_of(box, told)
    lane.put(of(1))
    while not [one for one in threading.enumerate() if one.name == "outbox-shed-send"]:
        time.sleep(0.001)
    return lane, box


def test_letters_go_by_urgency_then_age_then_as_they_came(lane_of):
    told = Told()
    lane, box = held_by_the_first(lane_of, told)
    for number, priority, at in ((2, 1, 0), (3, 4, 9), (4, 4, 2), (5, 4, 2), (6, 0, 0)):
        lane.put(of(number, priority=priority, at=START + at))
    box.gate.set()
    told.wait(6)
    assert [one.row for one in box.sent] == [1, 4, 5, 3, 2, 6]


def test_at_the_end_the_letter_in_hand_goes_and_no_other_is_begun(lane_of):
    told = Told()
    lane, box = held_by_the_first(lane_of, told)
    lane.put(of(2, priority=4))
    closing = threading.Thread(target=lane.close, args=(20,))
    closing.start()
    while lane._letters.qsize() < 2:
        time.sleep(0.001)
    box.gate.set()
    closing.join(20)
    assert [one.row for one in box.sent] == [1]


def test_a_delivery_that_takes_too_long_is_given_up_and_may_have_arrived(lane_of):
    told, box = Told(), Box()
    box.gate.clear()
    lane = lane_of(box, told, 0.05)
    lane.put(of(1))
    assert told.wait(1) == [Result("shed", 1, "no answer in time: not done within 0 s")]
    box.gate.set()
    lane.put(of(2))
    assert told.wait(1)[1:] == [Result("shed", 2, "")], "what came late of the first is no answer to the second"


def test_while_three_hang_no_other_is_begun_and_once_one_ends_it_goes_on(lane_of):
    told, box = Told(), Box()
    box.gate.clear()
    lane = lane_of(box, told, 0.03)
    for number in range(1, 6):
        lane.put(of(number))
    results = told.wait(5)
    hang = "no answer in time: 3 deliveries hang; restart the server behind this channel"
    assert [one.why for one in results[3:]] == [hang] * 2
    assert box.tried == 0
    box.gate.set()
    while any(one.name == "outbox-shed-send" for one in threading.enumerate()):
        time.sleep(0.001)
    lane.put(of(6))
    assert told.wait(1)[-1] == Result("shed", 6, "")
    assert [one.row for one in box.sent][-1] == 6


def test_the_page_takes_every_letter_and_a_topic_gets_its_data():
    published = []
    assert PageChannel().send(of()) is None
    MqttChannel("yard/told", lambda *what: published.append(what)).send(of())
    ((topic, data),) = published
    assert (topic, json.loads(data)["text"]) == ("yard/told", "Sunny wall bin: overheating.")


# When a refused letter goes again.


@pytest.mark.parametrize(("tries", "minutes"), [(1, 1), (2, 2), (6, 32), (7, 60), (8, 60), (5_000, 60)])
def test_pauses_double_from_a_minute_to_an_hour(tries, minutes):
    assert retry_at(START, START, tries) == START + minutes * MINUTE


@pytest.mark.parametrize(
    ("tries", "late", "given_up"), [(24, 0, False), (24, 1, True), (23, 1, False), (23, 10**9, False)]
)
def test_a_letter_is_given_up_three_days_after_its_decision_but_not_before_24_tries(tries, late, given_up):
    now = START + 3 * 24 * 60 * MINUTE - 60 * MINUTE + late
    assert (retry_at(now, START, tries) is None) is given_up


# Heartbeats.


class Web:
    """A web server that gives its answers one after another: bytes, or None for silence until the end."""

    def __init__(self, *answers):
        self.answers, self.got, self._links = list(answers), [], []
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = self._server.getsockname()[1]
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self):
        while self.answers:
            try:
                link, _ = self._server.accept()
            except OSError:
                return
            self._links.append(link)
            read = b""
            while b"\r\n\r\n" not in read:
                read += link.recv(65_536)
            while b"Content-Length" in read and not read.rpartition(b"\r\n\r\n")[2]:
                read += link.recv(65_536)
            self.got.append(read.decode())
            said = self.answers.pop(0)
            if said is not None:
                link.sendall(said)
                link.close()

    def close(self):
        self._server.close()
        for link in self._links:
            link.close()


@pytest.fixture
def web():
    made = []

    def make(*answers):
        made.append(Web(*answers))
        return made[-1]

    yield make
    for one in made:
        one.close()


def answered(status):
    return f"HTTP/1.1 {status} Words\r\nContent-Length: 0\r\nConnection: close\r\n\r\n".encode()


def test_a_beat_fetches_the_address_and_a_note_goes_as_text(web):
    there = web(answered(200), answered(204))
    beat = Heartbeat(f"http://127.0.0.1:{there.port}/ping/hunter2")
    assert (beat.beat(), beat.beat("all is well"), beat.failures) == ("", "", 0)
    first, second = there.got
    assert first.startswith("GET /ping/hunter2 HTTP/1.1")
    assert "User-Agent: heaptender" in first
    assert second.startswith("POST /ping/hunter2 HTTP/1.1")
    assert second.endswith("all is well")
    assert "text/plain; charset=utf-8" in second
    assert "text/plain" not in first


def test_beats_that_are_not_heard_are_counted_until_one_is(web):
    there = web(answered(500), answered(404), answered(200), answered(503))
    beat = Heartbeat(f"http://127.0.0.1:{there.port}/hunter2")
    why = "the heartbeat's address on 127.0.0.1 answered"
    assert [(beat.beat(), beat.failures) for _ in range(4)] == [
        (f"{why} 500", 1), (f"{why} 404", 2), ("", 0), (f"{why} 503", 1),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (None, "gave no answer in time"),
        (b"hunter2\r\n\r\n", "cannot be reached: BadStatusLine"),
        (b"", "cannot be reached: "),
    ],
)
def test_an_answer_that_is_none_is_told_without_the_key(web, answer, said):
    there = web(answer)
    beat = Heartbeat(f"http://127.0.0.1:{there.port}/hunter2", timeout_s=0.1)
    told = beat.beat()
    assert told.startswith(f"the heartbeat's address on 127.0.0.1 {said}")
    assert "hunter2" not in told
    assert beat.failures == 1


@pytest.mark.parametrize(
    ("scheme", "said"), [("http", "nobody listens where its server should be"), ("https", "nobody listens")]
)
def test_a_server_that_is_not_there_is_told_in_a_sentence(scheme, said):
    with socket.socket() as unused:
        unused.bind(("127.0.0.1", 0))
        told = Heartbeat(f"{scheme}://127.0.0.1:{unused.getsockname()[1]}/hunter2").beat()
    assert told.startswith(f"the heartbeat's address on 127.0.0.1 cannot be reached: {said}")


def test_a_server_that_does_not_speak_tls_is_told_so(web):
    with socket.create_server(("127.0.0.1", 0)) as server:

        def hang_up():
            link, _ = server.accept()
            with link:
                link.recv(1)
                link.sendall(b"220 tern.example ready\r\n")

        answering = threading.Thread(target=hang_up)
        answering.start()
        told = Heartbeat(f"https://127.0.0.1:{server.getsockname()[1]}/hunter2").beat()
        answering.join(10)
    assert told.endswith("its server does not speak TLS there; use its TLS port, or write http://")


def test_the_limits_are_those_of_the_documentation():
    assert (lanes.DELIVERY_S, lanes.HANGING_MAX) == (60.0, 3)


def test_what_arrived_is_noted_in_the_log_without_its_text(caplog):
    from outbox_fakes import Rows

    from monitor.outbox import Deliverer

    caplog.set_level(logging.INFO, "heaptender")
    told = threading.Semaphore(0)
    deliverer = Deliverer(
        {"mail": Box()}, lambda row: of(), link_changed=print, given_up=print, wake=told.release,
    )  # fmt: skip
    rows = Rows(Row(1))
    deliverer.step(rows, START, rows.transaction)
    assert told.acquire(timeout=20)
    deliverer.step(rows, START, rows.transaction)
    deliverer.close()
    assert caplog.messages == ["Message 7kq2m to anna by mail was accepted."]
