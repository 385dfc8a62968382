"""The inbox: others ask, the writer answers."""

import threading

import pytest
from journal_fake_engine import FakeEngine
from journal_yard import T0, everything, reading, writer_of

from monitor.journal import Inbox, Judged, Reply, Request, holder, open_writer
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind

WORK = {"kind": "turned", "place": "p1", "time": T0}


def test_a_request_becomes_an_event_and_is_answered_with_its_instant(tmp_path):
    with writer_of(tmp_path) as writer:
        inbox = Inbox(tmp_path)
        number = inbox.submit(EventKind.WORK, WORK)
        assert inbox.answer(number) is None
        with writer.turn(T0) as turn:
            assert turn.drain() == 1
        assert inbox.answer(number) == Reply(at=T0, refusal="")
        (event,) = writer.store.events()
        assert (event.kind, event.payload) == (EventKind.WORK, WORK)
        with writer.turn(T0) as turn:
            assert turn.drain() == 0


def test_a_request_is_refused_with_a_sentence(tmp_path):
    with writer_of(tmp_path) as writer:
        inbox = Inbox(tmp_path)
        first, second = inbox.submit(EventKind.WORK, WORK), inbox.submit(EventKind.WORK, {**WORK, "place": "p9"})
        with writer.turn(T0) as turn:
            turn.drain(lambda request: Judged("there is no place p9" if request.payload["place"] == "p9" else ""))
        assert inbox.answer(first).at == T0
        assert inbox.answer(second) == Reply(at=None, refusal="there is no place p9")
        assert len(list(writer.store.events())) == 1


def test_a_hand_reading_comes_in_by_the_inbox(tmp_path):
    with writer_of(tmp_path) as writer:
        number = Inbox(tmp_path).submit(EventKind.READINGS, {"rows": [list(reading(0, "hand:p1"))], "ahead": []})
        with writer.turn(T0) as turn:
            turn.drain()
        assert everything(writer.store) == [reading(0, "hand:p1")]
        assert Inbox(tmp_path).answer(number).at == T0


def test_a_request_that_breaks_the_engine_is_refused_the_next_time(tmp_path):
    class Brittle(FakeEngine):
        def feed(self, event, history):
            if event.kind == "work":
                raise KeyError("no such pile")
            return super().feed(event, history)

    with open_writer(tmp_path, Brittle, Brittle.restore) as writer:
        inbox = Inbox(tmp_path)
        number = inbox.submit(EventKind.WORK, WORK)
        with pytest.raises(KeyError), writer.turn(T0) as turn:
            turn.drain()
        with writer.turn(T0) as turn:
            turn.drain()
        assert "no such pile" in inbox.answer(number).refusal
        assert list(writer.store.events()) == []


def test_a_request_of_an_unknown_kind_is_refused(tmp_path):
    with writer_of(tmp_path) as writer:
        number = Inbox(tmp_path).submit("dance", {})
        with writer.turn(T0) as turn:
            assert turn.drain() == 0
        assert "not understood" in Inbox(tmp_path).answer(number).refusal


def test_an_answer_is_waited_for(tmp_path):
    with writer_of(tmp_path) as writer:
        inbox = Inbox(tmp_path)
        number = inbox.submit(EventKind.WORK, WORK)
        assert inbox.await_answer(number, 0) is None
        found = []
        waiter = threading.Thread(target=lambda: found.append(inbox.await_answer(number, 30)))
        waiter.start()
        with writer.turn(T0) as turn:
            turn.drain()
        waiter.join()
        assert found == [Reply(at=T0, refusal="")]


def test_the_writer_notices_cheaply_that_somebody_wrote(tmp_path):
    with writer_of(tmp_path) as writer:
        assert writer.requests.may_wait()
        assert not writer.requests.may_wait()
        Inbox(tmp_path).submit(EventKind.WORK, WORK)
        assert writer.requests.may_wait()
        (request,) = writer.requests.waiting()
        assert request == Request(id=request.id, kind=EventKind.WORK, payload=WORK)


def test_a_request_left_while_nobody_wrote_is_taken_by_the_next_writer(tmp_path):
    writer_of(tmp_path).close()
    assert holder(tmp_path) is None
    number = Inbox(tmp_path).submit(EventKind.WORK, WORK)
    with writer_of(tmp_path) as writer, writer.turn(T0) as turn:
        turn.drain()
    assert Inbox(tmp_path).answer(number).at == T0


def test_what_cannot_be_kept_or_found_is_told(tmp_path):
    with pytest.raises(UnavailableError, match="there is no journal"):
        Inbox(tmp_path).submit(EventKind.WORK, WORK)
    with writer_of(tmp_path):
        with pytest.raises(ValueError, match="only text and whole numbers"):
            Inbox(tmp_path).submit(EventKind.WORK, {"amount": 2.5})
        with pytest.raises(UnavailableError, match="request 99 is not in"):
            Inbox(tmp_path).answer(99)


def test_a_question_takes_nothing_in_and_the_same_with_again_is_taken(tmp_path):
    def judge(request):
        return Judged() if request.again else Judged(question="Was it turned once more?")

    with writer_of(tmp_path) as writer:
        inbox = Inbox(tmp_path)
        first = inbox.submit(EventKind.WORK, WORK)
        with writer.turn(T0) as turn:
            turn.drain(judge)
        assert inbox.answer(first) == Reply(at=None, refusal="", question="Was it turned once more?")
        assert not list(writer.store.events())
        second = inbox.submit(EventKind.WORK, WORK, again=True)
        with writer.turn(T0) as turn:
            turn.drain(judge)
        assert inbox.answer(second).at == T0
        assert [event.payload for event in writer.store.events()] == [WORK], "it is no part of the event"
