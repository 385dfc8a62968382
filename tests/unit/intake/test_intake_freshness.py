"""Whether a message may have waited, and whether it was taken before."""

from monitor.intake.freshness import Backlog, Taken


def test_without_a_session_nothing_waits():
    backlog = Backlog()
    assert not backlog.arriving(0.0)
    backlog.connected(session_present=False, now_s=5.0)
    assert not backlog.arriving(5.0)


def test_queue_is_drained_at_the_first_second_without_a_message():
    backlog = Backlog()
    backlog.connected(session_present=True, now_s=10.0)
    for now_s in (10.5, 11.4, 12.3):
        assert backlog.arriving(now_s)
        backlog.handled(now_s)
    assert not backlog.arriving(13.3)
    assert not backlog.arriving(13.4)


def test_first_message_more_than_a_second_after_the_connect_is_live():
    backlog = Backlog()
    backlog.connected(session_present=True, now_s=10.0)
    assert not backlog.arriving(11.0)


def test_time_spent_on_a_message_is_not_silence():
    backlog = Backlog()
    backlog.connected(session_present=True, now_s=10.0)
    assert backlog.arriving(10.1)
    backlog.handled(14.0)
    assert backlog.arriving(14.9)


def test_next_connect_begins_anew():
    backlog = Backlog()
    backlog.connected(session_present=True, now_s=10.0)
    assert not backlog.arriving(20.0)
    backlog.connected(session_present=True, now_s=30.0)
    assert backlog.arriving(30.5)


def test_taken_is_known_by_packet_id_topic_and_payload():
    taken = Taken()
    assert not taken.was_taken(5, "t", b"1")
    taken.take(5, "t", b"1", untimed=True)
    assert taken.was_taken(5, "t", b"1")
    assert not taken.was_taken(6, "t", b"1")
    assert not taken.was_taken(5, "u", b"1")
    assert not taken.was_taken(5, "t", b"2")


def test_packet_id_that_comes_with_a_new_message_is_forgotten():
    taken = Taken()
    taken.take(5, "t", b"1", untimed=True)
    taken.take(5, "t", b"timed", untimed=False)
    assert not taken.was_taken(5, "t", b"1")
    taken.take(5, "t", b"1", untimed=True)
    taken.forget_all()
    assert not taken.was_taken(5, "t", b"1")
