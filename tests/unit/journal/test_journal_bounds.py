"""What a journal keeps of that which would grow for ever, and what goes with a day that is dropped."""

import sqlite3

import pytest
from journal_fake_engine import HOT_MICRO
from journal_yard import DAY, HOUR, MINUTE, T0, feed, reading, writer_of

from monitor.journal import Inbox, Kept, dropped_entries, quarantine, retention
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind
from monitor.model.flags import Flag, FlagReason, Verdict
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading

HOT = HOT_MICRO + 1_000_000
TODAY = T0 + 9 * DAY


def set_aside(writer, *entries):
    with writer.turn(T0) as turn:
        for entry in entries:
            turn.quarantine(*entry)


def test_what_is_set_aside_is_kept_with_its_source_and_its_words_newest_first(tmp_path):
    with writer_of(tmp_path) as writer:
        first = ("n/7", SetAside.MALFORMED, "no number", b"5,5", T0)
        second = ("n/8", SetAside.CHECKSUM, "the checksum is wrong", b"x*00", T0 + 5)
        set_aside(writer, first, second)
        assert [tuple(one) for one in writer.store.quarantine()] == [
            (T0 + 5, "n/8", SetAside.CHECKSUM, "the checksum is wrong", b"x*00"),
            (T0, "n/7", SetAside.MALFORMED, "no number", b"5,5"),
        ]
        assert [one.source for one in writer.store.quarantine(1)] == ["n/8"]
        newest = writer.store.newest_set_aside()
        assert {reason: one.source for reason, one in newest.items()} == {
            SetAside.MALFORMED: "n/7",
            SetAside.CHECKSUM: "n/8",
        }


def test_the_oldest_that_was_set_aside_goes_and_still_counts(tmp_path, monkeypatch):
    monkeypatch.setattr(quarantine, "QUARANTINE_ROWS", 3)
    with writer_of(tmp_path) as writer:
        set_aside(writer, *(("n/7", SetAside.MALFORMED, f"number {n}", b"", T0 + n) for n in range(5)))
        assert [one.detail for one in writer.store.quarantine()] == ["number 4", "number 3", "number 2"]
        (tally,) = writer.store.set_aside()
        assert tuple(tally) == ("n/7", SetAside.MALFORMED, 5, T0 + 4)


def test_the_latest_of_a_tally_is_the_latest_though_an_older_one_comes_after(tmp_path):
    with writer_of(tmp_path) as writer:
        rows = [("n/7", SetAside.AHEAD, "", b"", at) for at in (T0 + 9, T0 + 3)]
        set_aside(writer, *rows, ("n/7", SetAside.MALFORMED, "", b"", T0), ("a", SetAside.AHEAD, "", b"", T0))
        assert [tuple(one) for one in writer.store.set_aside()] == [
            ("a", SetAside.AHEAD, 1, T0),
            ("n/7", SetAside.AHEAD, 2, T0 + 9),
            ("n/7", SetAside.MALFORMED, 1, T0),
        ]


def test_a_long_message_is_kept_by_its_beginning_and_a_broken_name_in_a_form_that_can_be_kept(tmp_path):
    with writer_of(tmp_path) as writer:
        set_aside(writer, ("n/\udcff", SetAside.MALFORMED, "y" * 501, bytes(1_001), T0))
        (kept,) = writer.store.quarantine()
        assert (kept.source, len(kept.detail), len(kept.excerpt)) == ("n/?", 500, 1_000)
        assert (quarantine.EXCERPT_BYTES, quarantine.QUARANTINE_ROWS) == (1_000, 20_000)


def test_a_second_value_is_set_aside_in_words_and_can_be_read_back(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0, "p1 a", micro=57_250_000))
        outcome = feed(writer, T0 + 1, reading(0, "p1 a", micro=58_500_000), reading(0, "p1 a", 331_000_000, "K"))
        assert (outcome.conflicts, outcome.new_rows, outcome.duplicates) == (2, 0, 0)
        kept = writer.store.quarantine()
        assert [one.detail for one in kept] == [
            "p1 a at 2026-03-01T08:00:00.000Z: 331 K came, but 57.25 Cel is kept",
            "p1 a at 2026-03-01T08:00:00.000Z: 58.5 Cel came, but 57.25 Cel is kept",
        ]
        assert {one.source for one in kept} == {"p1 a"}
        assert writer.store.conflicts() == [
            reading(0, "p1 a", 58_500_000), reading(0, "p1 a", 331_000_000, "K"),
        ]  # fmt: skip
        feed(writer, T0 + 2, reading(0, "p1 a", micro=59_000_000), source="rows.csv")
        assert writer.store.quarantine(1)[0].source == "rows.csv"


def test_a_second_value_whose_excerpt_was_cut_off_is_passed_over(tmp_path):
    with writer_of(tmp_path) as writer:
        set_aside(writer, ("x", SetAside.CONFLICT, "", b"17 p1-a 5", T0), ("x", SetAside.MALFORMED, "", b"1 a 2 K", T0))
        assert writer.store.conflicts() == []


def flagged(writer, *verdicts):
    writer.engine.verdicts += verdicts
    at = writer.store.mark().latest() + MINUTE
    feed(writer, at, Reading(at, "p1-b", 20_000_000, "Cel"))
    assert not [one for one in writer.store.flags("p1-b") if one.flag is Flag.PASS]
    return [(one.time - T0, one.flag, one.reason) for one in writer.store.flags("p1-a")]


def test_flags_are_put_replaced_and_taken_back_each_by_its_own_reading(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, *(reading(minute) for minute in range(4)))

        def verdict(minute, flag, reason=FlagReason.SPIKE):
            return Verdict(T0 + minute * MINUTE, "p1-a", 20_000, flag, reason)

        some = flagged(writer, verdict(2, Flag.SUSPECT), verdict(1, Flag.FAIL))
        assert some == [(MINUTE, Flag.FAIL, FlagReason.SPIKE), (2 * MINUTE, Flag.SUSPECT, FlagReason.SPIKE)]
        worse = flagged(writer, verdict(2, Flag.FAIL), verdict(3, Flag.PASS), verdict(0, Flag.PASS))
        assert worse == [(MINUTE, Flag.FAIL, FlagReason.SPIKE), (2 * MINUTE, Flag.FAIL, FlagReason.SPIKE)]
        assert flagged(writer, verdict(2, Flag.PASS)) == [(MINUTE, Flag.FAIL, FlagReason.SPIKE)]
        assert flagged(writer, verdict(1, Flag.PASS), verdict(1, Flag.PASS)) == []
        stranger = Verdict(T0, "nobody", 0, Flag.FAIL, FlagReason.SPIKE)
        assert flagged(writer, stranger) == []


def test_of_the_answered_requests_the_newest_are_kept_and_one_that_waits_is_kept_in_any_case(tmp_path, monkeypatch):
    monkeypatch.setattr(retention, "_INBOX_KEPT", 2)
    with writer_of(tmp_path) as writer:
        inbox = Inbox(tmp_path)
        asked = [inbox.submit(EventKind.WORK, {"kind": "note", "time": T0}) for _ in range(3)]
        with writer.turn(T0) as turn:
            turn.drain()
        connection = sqlite3.connect(writer.store.path, isolation_level=None)
        connection.execute("UPDATE inbox SET state = 'waiting' WHERE id = ?", (asked[0],))
        connection.close()
        asked.append(inbox.submit(EventKind.WORK, {"kind": "note", "time": T0}))
        writer.prune(Kept(now=T0, days=1))
        assert inbox.answer(asked[0]) is None
        with pytest.raises(UnavailableError, match=f"request {asked[1]} is not in"):
            inbox.answer(asked[1])
        assert inbox.answer(asked[2]).at is not None
        assert inbox.answer(asked[3]) is None


def test_what_was_set_aside_goes_when_its_day_would(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        now = T0 + 2 * DAY
        set_aside(writer, *(("n/7", SetAside.MALFORMED, "", b"", T0 + DAY + off) for off in (-1, 0)))
        writer.prune(Kept(now=now, days=1))
        assert [one.received for one in writer.store.quarantine()] == [T0 + DAY]
        assert writer.store.set_aside()[0].total == 2


def test_with_a_day_go_its_decisions_and_its_messages_but_none_that_still_waits(tmp_path):
    with writer_of(tmp_path) as writer:
        for day in range(3):
            feed(writer, T0 + day * DAY, reading(day * 1440, micro=HOT))
        feed(writer, TODAY, reading(9 * 1440))
        rows = writer.dispatch.rows()
        for row in rows[:2]:
            writer.dispatch.begin(row.id)
        writer.dispatch.done(rows[0].id)
        writer.dispatch.fail(rows[1].id, "no such address", None)
        for row in rows[4:]:
            writer.dispatch.begin(row.id)
            writer.dispatch.done(row.id)
        before = list(writer.store.effects())
        writer.prune(Kept(now=TODAY, days=8))
        assert [row.id for row in writer.dispatch.rows()] == [row.id for row in rows[2:]]
        # A deadline of the first evening was served by the second morning, and stays with it.
        assert list(writer.store.effects()) == [one for one in before if one.at > T0]
        writer.prune(Kept(now=TODAY, days=7))
        assert [row.id for row in writer.dispatch.rows()] == [row.id for row in rows[2:]][:2] + [
            row.id for row in rows[4:] if row.at > T0 + DAY
        ]


@pytest.mark.parametrize(("days", "gone"), [(8, 1), (9, 0)])
def test_a_day_goes_once_so_many_days_lie_between_it_and_today(tmp_path, days, gone):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        feed(writer, TODAY, reading(9 * 1440))
        pruned = writer.prune(Kept(now=TODAY, days=days))
        assert (len(pruned.days), pruned.rows, pruned.protected) == (gone, gone, [])


def test_people_s_entries_of_a_file_are_counted_too_and_a_day_without_any_has_no_count(tmp_path):
    with writer_of(tmp_path) as writer:
        work = [{"time": T0, "kind": "turned"}, {"time": T0, "kind": "note"}]
        with writer.turn(T0) as turn:
            turn.event(EventKind.IMPORTED, {"rows": [list(reading(0))], "work": work})
            turn.event(EventKind.CORRECTION, {"of": 1})
        feed(writer, T0 + DAY, reading(1440))
        feed(writer, TODAY, reading(9 * 1440), Reading(TODAY, "hand:p1", 55_000_000, "Cel"))
        assert dropped_entries(writer.store) == {}
        writer.prune(Kept(now=TODAY, days=1))
        assert dropped_entries(writer.store) == {T0 - 8 * HOUR: 2}


def test_a_prune_drops_from_blocks_only_what_came_on_those_days(tmp_path):
    with writer_of(tmp_path) as writer:
        for day in range(4):
            minute = day * 1440
            feed(writer, T0 + day * DAY, reading(minute), reading(minute - 1440 * (day == 2) + 7 + day, "late"))
        writer.pack_closed_hours(TODAY)
        feed(writer, TODAY, reading(9 * 1440))
        pruned = writer.prune(Kept(now=TODAY, days=7))
        assert (len(pruned.days), pruned.rows) == (2, 4)
        kept = [(row.probe, (row.time - T0) // MINUTE) for row in writer.store.readings(["late", "p1-a"], 0, TODAY - 1)]
        assert kept == [("late", 1440 + 9), ("p1-a", 2880), ("p1-a", 4320), ("late", 4320 + 10)]
