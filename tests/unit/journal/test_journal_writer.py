"""Turns: stamping, what is new and what is not, effects, flags, failures."""

import sqlite3

import pytest
from journal_fake_engine import QUIET_MS, FakeEngine
from journal_yard import DAY, HOUR, MINUTE, T0, everything, feed, reading, writer_of

from monitor.journal import Waiting, open_reader, verify_chain
from monitor.model.errors import InvariantError, UnavailableError
from monitor.model.events import EventKind
from monitor.model.flags import Flag, FlagReason
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading


def test_a_committed_turn_is_read_back_in_order_of_time_and_probe(tmp_path):
    with writer_of(tmp_path) as writer:
        outcome = feed(writer, T0 + HOUR, reading(2, "p1-b"), reading(1), reading(2))
        assert outcome.events == [T0 + HOUR]
        assert outcome.new_rows == 3
        expected = [reading(1), reading(2), reading(2, "p1-b")]
        assert everything(writer.store) == expected
        with open_reader(tmp_path) as store:
            assert everything(store) == expected
            (event,) = store.events()
            assert event.at == T0 + HOUR
            assert event.payload == {"ahead": [], "rows": expected}


def test_at_rises_past_every_event_and_every_advance(tmp_path):
    with writer_of(tmp_path) as writer:
        with writer.turn(T0) as turn:
            turn.readings([reading(0)])
            turn.readings([reading(1)])
            turn.advance(T0 + 500)
            turn.event(EventKind.STOPPED, {})
        assert turn.outcome.events == [T0, T0 + 1, T0 + 501]
        assert feed(writer, T0 - DAY, reading(2)).events == [T0 + 502]


def test_the_same_value_again_is_dropped_and_counted_and_another_value_goes_to_quarantine(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0, micro=1), reading(1, micro=2))
        outcome = feed(writer, T0 + 9, reading(1, micro=2), reading(0, micro=7), reading(2, micro=3))
        assert (outcome.new_rows, outcome.duplicates, outcome.conflicts) == (1, 1, 1)
        assert [row.micro for row in everything(writer.store)] == [1, 2, 3]
        (kept,) = writer.store.quarantine()
        assert kept.reason is SetAside.CONFLICT
        assert kept.source == "p1-a"
        assert "2026-03-01T08:00:00.000Z" in kept.detail
        assert [event.payload["rows"] for event in writer.store.events(T0)] == [[reading(2, micro=3)]]


def test_within_one_batch_the_first_value_given_stays(tmp_path):
    with writer_of(tmp_path) as writer:
        outcome = feed(writer, T0, reading(0, micro=9), reading(0, micro=4), reading(0, micro=9), reading(0, micro=4))
        assert (outcome.new_rows, outcome.duplicates, outcome.conflicts) == (1, 1, 2)
        assert everything(writer.store) == [reading(0, micro=9)]


def test_nothing_new_makes_no_event(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        outcome = feed(writer, T0 + 5, reading(0))
        assert outcome.events == []
        assert writer.store.mark().last_event == T0
        assert len(list(writer.store.events())) == 1


@pytest.mark.parametrize("second", [("[degF]", 68_000_000), ("[degF]", 20_000_000)])
def test_a_probe_and_time_is_taken_whatever_the_unit(tmp_path, second):
    unit, micro = second
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        outcome = feed(writer, T0 + 9, reading(0, micro=micro, unit=unit), reading(1, micro=micro, unit=unit))
        assert (outcome.new_rows, outcome.duplicates, outcome.conflicts) == (1, 0, 1)
        assert everything(writer.store) == [reading(0), reading(1, micro=micro, unit=unit)]
        again = feed(writer, T0 + 99, reading(1), reading(2), reading(1, micro=micro, unit=unit))
        assert (again.new_rows, again.duplicates, again.conflicts) == (1, 1, 1)


@pytest.mark.parametrize("order", [("Cel", "[degF]"), ("[degF]", "Cel")])
def test_two_units_for_one_key_in_one_batch_keep_the_first(tmp_path, order):
    with writer_of(tmp_path) as writer:
        outcome = feed(writer, T0, *(reading(0, unit=unit) for unit in order))
        assert (outcome.new_rows, outcome.conflicts) == (1, 1)
        assert everything(writer.store)[0].unit == order[0]


def test_readings_already_in_a_block_are_known(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, *(reading(i, micro=i) for i in range(50)))
        assert writer.pack_closed_hours(T0 + 2 * HOUR) == 50
        outcome = feed(writer, T0 + 3 * HOUR, reading(3, micro=3), reading(4, micro=5), reading(3.5, micro=8))
        assert (outcome.new_rows, outcome.duplicates, outcome.conflicts) == (1, 1, 1)
        assert reading(3.5, micro=8) in everything(writer.store)
        assert verify_chain(writer.store) == []


def test_what_claims_to_come_from_the_future_is_named_in_the_event(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0), ahead=[("air", T0 + DAY)])
        feed(writer, T0 + 5, ahead=[("air", T0 + DAY)])
        assert [event.payload for event in writer.store.events()] == [
            {"ahead": [["air", T0 + DAY]], "rows": [reading(0)]},
            {"ahead": [["air", T0 + DAY]], "rows": []},
        ]
        assert verify_chain(writer.store) == []


def test_deadlines_due_before_an_event_are_served_before_it(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        assert writer.next_deadline() == T0 + QUIET_MS
        outcome = feed(writer, T0 + 2 * QUIET_MS, reading(30, micro=70_000_000))
        assert [(effect.at, effect.ordinal) for effect in outcome.effects] == [
            (T0 + QUIET_MS, 0),
            (T0 + 2 * QUIET_MS, 0),
            (T0 + 2 * QUIET_MS, 1),
        ]
        assert list(writer.store.effects()) == outcome.effects
        assert list(outcome.effects[0].draft.values) == ["zulu", "alpha"]


def test_a_start_serves_only_what_was_due_before_the_writer_went_down(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        with writer.turn(T0 + DAY) as turn:
            turn.event(EventKind.STARTED, {"down_since": T0 + MINUTE})
        assert turn.outcome.effects == []


def test_followers_get_whole_instants(tmp_path):
    with writer_of(tmp_path) as writer:
        for minute in range(4):
            feed(writer, T0 + minute * MINUTE, reading(minute, micro=70_000_000), reading(minute, "air"))
        with open_reader(tmp_path) as store:
            first = store.effects_after(0, 1)
            assert [effect.at for effect in first] == [T0, T0]
            assert len(store.effects_after(T0, 100)) == 6
            arrivals = store.readings_after(T0, 3)
            assert [arrival.at for arrival in arrivals] == [T0 + MINUTE, T0 + 2 * MINUTE]
            assert [len(arrival.rows) for arrival in arrivals] == [2, 2]
            assert [event.at for event in store.events_after(T0, 2)] == [T0 + MINUTE, T0 + 2 * MINUTE]
            assert store.events_after(T0 + 3 * MINUTE, 5) == []
            assert store.cursor("mirror") is None
            writer.set_cursor("mirror", T0)
            assert store.cursor("mirror") == T0


def test_only_flags_other_than_pass_are_kept_and_a_later_pass_takes_them_back(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0), reading(1, micro=85_000_000), reading(2))
        (flag,) = writer.store.flags("p1-a")
        assert (flag.time, flag.flag, flag.reason) == (T0 + MINUTE, Flag.FAIL, FlagReason.POWER_UP)
        assert writer.store.flags_after(T0 - 1, 10) == [flag]
        assert writer.store.flags_after(T0, 10) == []
        writer.engine.verdicts.append(flag_passes(flag))
        feed(writer, T0 + 10, reading(3))
        assert writer.store.flags("p1-a") == []


def flag_passes(flag):
    from monitor.model.flags import Verdict

    return Verdict(flag.time, flag.probe, 85_000, Flag.PASS, FlagReason.NONE)


def test_a_turn_that_fails_leaves_nothing_and_can_be_tried_again(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        engine = writer.engine
        with pytest.raises(RuntimeError), writer.turn(T0 + 9) as turn:  # noqa: PT012
            turn.readings([reading(1, "new-probe", 70_000_000)])
            turn.quarantine("x", SetAside.MALFORMED, "y", b"z", T0)
            raise RuntimeError
        outcome = feed(writer, T0 + 9, reading(1, "new-probe", 70_000_000))
        assert writer.engine is not engine
        assert outcome.new_rows == 1
        assert outcome.effects[0].draft.values["zulu"] == 2
        assert writer.store.quarantine() == []
        assert writer.store.probes() == ["new-probe", "p1-a"]
        assert verify_chain(writer.store) == []


def test_a_full_disk_is_told_and_the_turn_can_be_tried_again(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        pages = writer.store.connection.execute("PRAGMA page_count").fetchone()[0]
        writer.store.connection.execute(f"PRAGMA max_page_count = {pages}")
        rows = [reading(i + 1) for i in range(5000)]
        with pytest.raises(UnavailableError, match=r"the disk that holds .*journal\.db is full"):
            feed(writer, T0 + 9, *rows)
        assert everything(writer.store) == [reading(0)]
        writer.store.connection.execute("PRAGMA max_page_count = 1000000")
        assert feed(writer, T0 + 9, *rows).new_rows == 5000
        assert writer.engine.count == 5001
        assert verify_chain(writer.store) == []


def test_an_engine_that_decides_in_the_past_stops_the_turn(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
        writer.engine.feed = lambda event, history: [writer.engine._effect(0, "alarm", "x", 0, 0, T0)]
        with pytest.raises(InvariantError, match="decided something at"):
            feed(writer, T0 + 9, reading(1))
        assert feed(writer, T0 + 9, reading(1)).new_rows == 1


@pytest.mark.parametrize("payload", [{"x": 1.5}, {"x": {"y": [float("nan")]}}, {1: "x"}, {"x": b"y"}, {"x": "\ud800"}])
def test_a_payload_that_has_no_canonical_form_is_refused(tmp_path, payload):
    with writer_of(tmp_path) as writer:
        with pytest.raises(ValueError), writer.turn(T0) as turn:  # noqa: PT011
            turn.event(EventKind.WORK, payload)
        assert list(writer.store.events()) == []


@pytest.mark.parametrize("row", [[T0, "p", 1.5, "Cel"], ["t", "p", 1, "Cel"], [T0, 5, 1, "Cel"], [T0, "p", True, "C"]])
def test_malformed_rows_are_refused(tmp_path, row):
    with (
        writer_of(tmp_path) as writer,
        pytest.raises(ValueError, match="is no row of"),
        writer.turn(T0) as turn,
    ):
        turn.event(EventKind.IMPORTED, {"rows": [row]})


def test_imported_rows_lie_with_the_other_readings(tmp_path):
    with writer_of(tmp_path) as writer:
        with writer.turn(T0) as turn:
            turn.event(EventKind.IMPORTED, {"rows": [list(reading(-9000)), list(reading(-8000, "old"))], "by": "ada"})
            turn.event(EventKind.IMPORTED, {"work": [{"time": T0, "kind": "turned", "place": "p1"}]})
        events = list(writer.store.events())
        assert events[0].payload == {"by": "ada", "rows": [reading(-9000), reading(-8000, "old")]}
        assert events[1].payload == {"work": [{"time": T0, "kind": "turned", "place": "p1"}]}
        assert len(everything(writer.store)) == 2
        assert verify_chain(writer.store) == []


def test_the_engine_gets_what_a_later_start_will_read(tmp_path):
    with writer_of(tmp_path) as writer:
        fed = []
        feed_it = writer.engine.feed
        writer.engine.feed = lambda event, history: fed.append(event) or feed_it(event, history)
        with writer.turn(T0) as turn:
            turn.event(EventKind.WORK, {"kind": EventKind.WORK, "pair": (1, 2), "none": None, "yes": True})
            turn.event("imported", {"rows": [reading(0)], "by": ("ada",)})
            turn.readings([reading(1)], ahead=[("air", 5)])
        assert fed == list(writer.store.events())
        assert type(fed[0].payload["kind"]) is str
        assert fed[0].payload["pair"] == [1, 2]


def test_a_walk_may_be_dropped_after_its_store_was_closed(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0), reading(1))
        with open_reader(tmp_path) as store:
            walk = store.readings(["p1-a"], 0, 1 << 60)
            next(walk)
        del walk


def test_a_snapshot_is_kept_after_five_minutes_or_fifty_thousand_readings(tmp_path):
    with writer_of(tmp_path) as writer:
        kept = [feed(writer, T0 + minute * MINUTE, reading(minute)).snapshot for minute in (0, 1, 4, 5, 6, 9, 10, 10.5)]
        assert kept == [False, False, False, True, False, False, True, False]
        rows = [Reading(T0 + HOUR + i, "p1-a", 1, "Cel") for i in range(50_000)]
        assert not feed(writer, T0 + 11 * MINUTE, *rows[:49_000]).snapshot
        assert feed(writer, T0 + 11 * MINUTE, *rows[49_000:]).snapshot


def test_a_reader_sees_one_state_while_the_writer_goes_on_and_packs(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0 + HOUR, *(reading(i) for i in range(600)))
        with open_reader(tmp_path) as store:
            walk = store.readings(["p1-a"], 0, 1 << 60)
            head = [next(walk) for _ in range(5)]
            writer.pack_closed_hours(T0 + DAY)
            feed(writer, T0 + 2 * HOUR, reading(700))
            assert head + list(walk) == [reading(i) for i in range(600)]
            assert len(everything(store)) == 601
            with pytest.raises(sqlite3.OperationalError):
                store.connection.execute("DELETE FROM reading")


def test_latest_looks_in_both_places(tmp_path):
    with writer_of(tmp_path) as writer:
        assert writer.store.latest("p1-a") is None
        feed(writer, T0 + HOUR, reading(0), reading(50))
        writer.pack_closed_hours(T0 + DAY)
        assert writer.store.latest("p1-a") == reading(50)
        feed(writer, T0 + DAY, reading(20))
        assert writer.store.latest("p1-a") == reading(50)
        feed(writer, T0 + DAY, reading(90, micro=5))
        assert writer.store.latest("p1-a") == reading(90, micro=5)
        assert [c.micro.tolist() for c in writer.store.columns("p1-a")] == [[20_000_000] * 3 + [5]]


def test_the_fake_engine_is_replaced_by_an_equal_one(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0, reading(0))
    with writer_of(tmp_path) as writer:
        assert isinstance(writer.engine, FakeEngine)
        assert writer.engine.count == 1


def test_readings_that_wait_for_the_clock_come_out_in_the_order_they_came_each_once(tmp_path):
    rows = [Waiting("shed \udce9", T0 + n, reading(n, micro=n)) for n in range(5)]
    with writer_of(tmp_path) as writer:
        with writer.turn(T0) as turn:
            turn.keep_waiting(rows[:3])
            turn.keep_waiting(rows[3:])
        took = []
        for limit in (2, 2, 9):
            with writer.turn(T0 + 1) as turn:
                took.append(turn.take_waiting(limit))
        assert [[(one.received, one.reading) for one in some] for some in took] == [
            [(one.received, one.reading) for one in rows[start:end]] for start, end in ((0, 2), (2, 4), (4, 5))
        ]
        assert {one.source for some in took for one in some} == {"shed ?"}, "what no text can hold is shown as such"
        with writer.turn(T0 + 2) as turn:
            assert turn.take_waiting(9) == []


def test_the_days_on_which_readings_of_a_time_may_have_come(tmp_path):
    noon = T0 // DAY * DAY + DAY // 2
    with writer_of(tmp_path) as writer:
        for day in range(4):
            feed(writer, noon + day * DAY, Reading(noon + day * DAY - HOUR, "p1-a", day, "Cel"))
        # One reading lay in its node for three days.
        feed(writer, noon + 9 * DAY, Reading(noon + 6 * DAY, "p1-b", 7, "Cel"))
        first = noon // DAY
        assert writer.store.days_with(noon + DAY - HOUR, noon + 2 * DAY - HOUR) == {first + 1, first + 2}
        assert writer.store.days_with(noon + 6 * DAY, noon + 6 * DAY) == {first + 9}
        assert writer.store.days_with(noon + DAY, noon + DAY) == set()
