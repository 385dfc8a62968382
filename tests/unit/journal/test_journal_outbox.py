"""Outbox rows: one for each cause, contact and channel; delivered at least once."""

from journal_fake_engine import FakeEngine
from journal_yard import T0, feed, reading, writer_of

from monitor.journal import notice_id
from monitor.model.notice_rows import Delivery
from monitor.model.words import Priority

HOT = 70_000_000


def test_a_notice_makes_a_row_for_each_channel_in_the_same_turn(tmp_path):
    with writer_of(tmp_path) as writer:
        outcome = feed(writer, T0, reading(0, micro=HOT))
        assert [(row.contact, row.channel, row.state) for row in outcome.notices] == [
            ("ada", "text", Delivery.WAITING),
            ("ada", "mail", Delivery.WAITING),
        ]
        row = outcome.notices[0]
        assert (row.at, row.ordinal, row.occasion, row.priority) == (T0, 1, "new", Priority.HIGH)
        assert row.text == f"p1-a is hot, 70000 at {T0}"
        assert row.notice == notice_id(T0, 1)
        assert writer.dispatch.due(T0) == outcome.notices
        assert writer.dispatch.due(T0 - 1) == []


def test_a_contact_without_channels_is_told_on_the_page(tmp_path):
    with writer_of(tmp_path) as writer:
        writer.engine.channels = []
        (row,) = feed(writer, T0, reading(0, micro=HOT)).notices
        assert row.channel == "page"


def test_a_row_is_handed_over_and_delivered_once(tmp_path):
    with writer_of(tmp_path) as writer:
        first, second = feed(writer, T0, reading(0, micro=HOT)).notices
        assert writer.dispatch.begin(first.id)
        assert not writer.dispatch.begin(first.id)
        assert writer.dispatch.due(T0) == [second]
        assert writer.dispatch.done(first.id)
        assert not writer.dispatch.done(first.id)
        assert not writer.dispatch.done(second.id)
        assert writer.dispatch.row(first.id).attempts == 1
        assert writer.store.waiting_notices() == 1


def test_a_failed_try_waits_until_its_time_or_for_ever(tmp_path):
    with writer_of(tmp_path) as writer:
        first, second = feed(writer, T0, reading(0, micro=HOT)).notices
        for row in (first, second):
            writer.dispatch.begin(row.id)
        writer.dispatch.fail(first.id, "no route", T0 + 60_000)
        writer.dispatch.fail(second.id, "no such address", None)
        assert writer.dispatch.due(T0 + 59_999) == []
        assert writer.dispatch.next_try() == T0 + 60_000
        (again,) = writer.dispatch.due(T0 + 60_000)
        assert (again.why, again.attempts, again.maybe_repeat) == ("no route", 1, False)
        assert writer.dispatch.row(second.id).state is Delivery.FAILED
        writer.dispatch.begin(first.id)
        writer.dispatch.done(first.id)
        assert writer.dispatch.next_try() is None


def test_a_row_found_half_handed_over_goes_again_marked(tmp_path):
    with writer_of(tmp_path) as writer:
        first, second = feed(writer, T0, reading(0, micro=HOT)).notices
        writer.dispatch.begin(first.id)
    with writer_of(tmp_path) as writer:
        assert writer.repeats == 1
        assert [(row.id, row.maybe_repeat) for row in writer.dispatch.due(T0)] == [(first.id, True), (second.id, False)]
        assert len(writer.dispatch.rows()) == 2


def test_short_ids_are_five_plain_characters_and_rarely_the_same():
    ids = [notice_id(T0 + i, i % 3) for i in range(2000)]
    assert all(len(short) == 5 and set(short) <= set("0123456789abcdefghjkmnpqrstvwxyz") for short in ids)
    assert len(set(ids)) >= 1998
    assert notice_id(1_772_352_000_000, 1) == "h7m0q"


def test_the_fake_engine_names_two_channels():
    assert FakeEngine().channels == ["text", "mail"]
