"""No gap and no double after any outage; poison set aside; access that is refused told and waited for."""

import json
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mirror_fakes import START, FakeServer, Journal, reading

from monitor.mirror import Cursor, CursorFile, Mirror, Trouble, Unreadable, WriteError, check

AWAY = WriteError(Trouble.AWAY, "cannot be reached")


class Yard:
    def __init__(
        self, journal: Journal, server: FakeServer, batch: int = 10, down: bool = False, reach: int | None = None
    ) -> None:
        self.journal, self.server = journal, server
        self.links: list[tuple[bool, str]] = []
        self.aside: list[tuple[str, str]] = []
        self.now = 1000.0
        self.mirror = Mirror(
            journal,
            journal,
            server,
            link_changed=lambda up, why: self.links.append((up, why)),
            set_aside=lambda line, why: self.aside.append((line, why)),
            batch=batch,
            down=down,
            reach=reach,
        )

    def step(self) -> float:
        return self.mirror.step(self.now)

    def drain(self) -> int:
        """Step until there is nothing to do; return the number of steps."""
        for count in range(1, 1000):
            pause = self.step()
            if pause == 5.0:
                return count
            self.now += pause
        raise AssertionError("the mirror never came to rest")


def test_everything_arrives_once() -> None:
    yard = Yard(Journal(), FakeServer())
    yard.journal.add(35)
    assert yard.drain() == 4
    assert yard.server.times() == [START + number * 1000 for number in range(35)]
    assert yard.mirror.cursor.readings == START + 34_000
    assert yard.links == []


def test_nothing_new_writes_nothing() -> None:
    yard = Yard(Journal(), FakeServer())
    assert yard.step() == 5.0
    assert yard.server.writes == 0


def test_days_of_outage_leave_no_gap() -> None:
    yard = Yard(Journal(), FakeServer())
    yard.journal.add(30)
    yard.drain()
    yard.server.trouble = AWAY
    yard.journal.add(500, every=600_000, first=START + 100_000)
    pauses = []
    for _ in range(12):
        pauses.append(yard.step())
        yard.now += pauses[-1]
    assert pauses == [1, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300, 300]
    assert yard.links == [(False, "cannot be reached")]
    yard.server.trouble = None
    yard.drain()
    assert len(yard.server.times()) == 530
    assert yard.links == [(False, "cannot be reached"), (True, "")]


def test_while_waiting_nothing_is_asked_of_anybody() -> None:
    yard = Yard(Journal(), FakeServer(trouble=AWAY))
    yard.journal.add(3)
    yard.step()
    assert yard.step() == 1.0
    assert yard.server.writes == 1


def test_a_server_that_forgets_gets_it_again_even_when_nobody_saw_it_die() -> None:
    yard = Yard(Journal(), FakeServer())
    yard.journal.add(50)
    yard.drain()
    yard.now += 8
    yard.server.crash()  # all 50 had been taken
    yard.journal.events[START + 60_000] = [reading(START + 60_000)]
    yard.drain()
    assert len(yard.server.times()) == 51


def test_a_backlog_of_days_sent_within_seconds_is_sent_again_too() -> None:
    yard = Yard(Journal(), FakeServer(), batch=100)
    yard.journal.add(2000, every=600_000)  # two weeks of `at`, sent at one instant
    yard.drain()
    yard.now += 5
    yard.server.crash()
    yard.journal.events[START + 10**10] = [reading(START + 10**10)]
    yard.drain()
    assert len(yard.server.times()) == 2001


def test_what_is_safe_is_not_sent_again() -> None:
    yard = Yard(Journal(), FakeServer(), batch=100)
    yard.journal.add(2000, every=600_000)
    yard.drain()
    yard.now += 61
    yard.journal.events[START + 10**10] = [reading(START + 10**10)]
    yard.drain()
    yard.server.sync()
    yard.server.opened += 1
    before = yard.mirror.tally.points
    yard.journal.events[START + 2 * 10**10] = [reading(START + 2 * 10**10)]
    yard.drain()
    assert yard.mirror.tally.points - before <= 3


@pytest.mark.parametrize("restarts", [False, True])
def test_a_server_that_crashed_long_before_the_next_write_gets_again_what_it_forgot(restarts: bool) -> None:
    yard = Yard(Journal(), FakeServer())
    yard.journal.add(1)
    yard.drain()
    yard.now += 5
    yard.server.crash()
    for _ in range(200):
        yard.now += yard.step()  # a quarter of an hour without anything new: nobody meets the new connection
    if restarts:
        yard = Yard(yard.journal, yard.server)
    yard.journal.add(1, first=START + 900_000)
    yard.drain()
    assert yard.server.times() == [START, START + 900_000]


def test_a_server_that_crashes_between_two_writes_of_the_first_step_gets_again_what_it_forgot() -> None:
    class Falls(FakeServer):
        def write(self, lines: Sequence[str]) -> None:
            if self.writes == 1:
                self.crash()
            super().write(lines)

    yard = Yard(Journal(), Falls(), batch=10)
    yard.journal.events[START] = [reading(START, f"p{number}") for number in range(15)]
    yard.drain()
    assert len(yard.server.points) == 15


def test_only_a_safe_cursor_is_kept_for_the_next_start() -> None:
    yard = Yard(Journal(), FakeServer())
    yard.journal.add(30)
    yard.drain()
    assert yard.journal.load_cursor() is None
    yard.server.crash()  # and the daemon with it
    again = Yard(yard.journal, yard.server)
    again.drain()
    assert len(yard.server.times()) == 30
    again.now += 61
    reached = again.mirror.cursor
    again.journal.add(1, first=START + 60_000)
    again.step()
    assert again.journal.load_cursor() == reached


def test_a_line_that_breaks_with_every_write_does_not_stop_progress() -> None:
    yard = Yard(Journal(), FakeServer())
    yard.journal.add(300)
    for _ in range(1000):
        pause = yard.step()
        yard.server.opened += 1
        yard.now += max(pause, 0.01)
        if len(yard.server.times()) == 300:
            break
    assert len(yard.server.times()) == 300


@settings(max_examples=150, deadline=None)
@given(st.lists(st.sampled_from(["step", "step", "add", "sync", "away", "back", "restart", "crash"]), max_size=80))
def test_whatever_happens_there_is_no_gap_in_the_end(moves: list[str]) -> None:
    """A server forgets the same point at most twice here."""
    journal, server = Journal(), FakeServer()
    yard = Yard(journal, server, batch=7)
    forgotten: Counter[tuple[str, str]] = Counter()
    for move in moves:
        if move == "add":
            journal.add(20, first=max(journal.events, default=START) + 5_000)
        elif move == "away":
            server.trouble = AWAY
        elif move == "back":
            server.trouble = None
        elif move == "crash":
            if all(forgotten[key] < 2 for key in server.unsynced):
                forgotten.update(set(server.unsynced))
                server.crash()
        elif move == "restart":
            now = yard.now
            yard = Yard(journal, server, batch=7)
            yard.now = now + 1
        elif move == "sync":
            yard.now += 11
            server.sync()
        else:
            yard.now += yard.step()
    server.trouble = None
    journal.events[max(journal.events, default=START) + 5_000] = [reading(max(journal.events, default=START) + 5_000)]
    yard.drain()
    assert server.times() == sorted(row.time for rows in journal.events.values() for row in rows)


def test_poison_is_found_by_halving_and_set_aside() -> None:
    yard = Yard(Journal(), FakeServer(poison={f" {START + 13_000}"}), batch=64)
    yard.journal.add(64)
    yard.drain()
    assert len(yard.server.times()) == 63
    assert [why for _, why in yard.aside] == ["answered 400: no"]
    assert yard.aside[0][0].endswith(str(START + 13_000))
    assert yard.server.writes < 20
    assert (yard.mirror.tally.set_aside, yard.links) == (1, [])


def test_a_gateway_that_answers_400_to_a_wrong_token_costs_no_data() -> None:
    yard = Yard(Journal(), FakeServer(trouble=WriteError(Trouble.DATA, "answered 400: token")))
    yard.journal.add(30)
    assert yard.step() == 1.0
    assert yard.aside == []
    assert yard.links == [(False, "answered 400: token")]
    yard.server.trouble = None
    yard.now += 1
    yard.drain()
    assert len(yard.server.times()) == 30


def test_too_large_a_write_is_halved_and_nothing_set_aside() -> None:
    yard = Yard(Journal(), FakeServer(most=3), batch=40)
    yard.journal.add(40)
    yard.drain()
    assert len(yard.server.times()) == 40
    assert yard.aside == []


def test_refused_access_is_told_once_and_tried_again() -> None:
    yard = Yard(Journal(), FakeServer(trouble=WriteError(Trouble.REFUSED, "answered 401: unauthorized")))
    yard.journal.add(5)
    for _ in range(4):
        yard.now += yard.step()
    assert yard.links == [(False, "answered 401: unauthorized")]
    yard.server.trouble = None
    yard.drain()
    assert len(yard.server.times()) == 5


def test_a_busy_server_gets_the_pause_it_asks_for() -> None:
    yard = Yard(Journal(), FakeServer(trouble=WriteError(Trouble.BUSY, "answered 429", 120.0)))
    yard.journal.add(5)
    assert yard.step() == 120.0


def test_coming_back_after_a_restart_is_told() -> None:
    yard = Yard(Journal(), FakeServer(), down=True)
    yard.journal.add(1)
    yard.drain()
    assert yard.links == [(True, "")]


def test_a_cursor_ahead_of_a_record_that_was_put_back_is_not_believed() -> None:
    journal = Journal()
    journal.add(10)
    yard = Yard(journal, FakeServer())
    yard.drain()
    yard.now += 120
    journal.add(1, first=START + 10_000)
    yard.drain()
    assert Cursor(*json.loads(journal.kept or "")).readings == START + 9_000
    # A backup of the first five is put back; what comes then has instants that the cursor has passed: the clock had run ahead.
    journal.events = {at: rows for at, rows in journal.events.items() if at <= START + 4_000}
    journal.add(3, first=START + 4_500)
    again = Yard(journal, yard.server, reach=START + 4_000)
    again.drain()
    assert {START + 4_500, START + 5_500, START + 6_500} <= set(yard.server.times())
    again.now += 120
    journal.add(1, first=START + 7_500)
    again.drain()
    # The next start knows the record: it sends nothing once more.
    assert Cursor(*json.loads(journal.kept or "")).readings == START + 6_500
    assert Yard(journal, yard.server, reach=START + 6_500).mirror.cursor.readings == START + 6_500


def test_a_cursor_ahead_of_the_record_is_mended_on_the_disk_at_once_though_the_server_is_away() -> None:
    journal = Journal()
    journal.save_cursor(Cursor(START + 9_000, START + 2_000))
    yard = Yard(journal, FakeServer(trouble=AWAY), reach=START + 4_000)
    assert journal.load_cursor() == Cursor(START + 4_000, START + 2_000)
    assert yard.mirror.is_kept


def test_a_cursor_that_a_full_disk_did_not_take_is_kept_later_though_the_server_is_away() -> None:
    journal = Journal()
    journal.save_cursor(Cursor(START + 9_000, 0))
    save, full = journal.save_cursor, True

    def refuse(cursor: Cursor) -> None:
        if full:
            raise OSError("disk full")
        save(cursor)

    journal.save_cursor = refuse  # type: ignore[method-assign]
    yard = Yard(journal, FakeServer(trouble=AWAY), reach=START + 4_000)
    assert not yard.mirror.is_kept
    full = False
    journal.add(1, first=START + 5_000)
    yard.step()
    assert yard.mirror.is_kept
    assert journal.load_cursor() == Cursor(START + 4_000, 0)


def test_a_verdict_that_came_later_overwrites() -> None:
    yard = Yard(Journal(), FakeServer())
    yard.journal.events[START] = [reading(START, flag=None, milli=None)]
    yard.drain()
    yard.journal.events[START + 1] = [reading(START, milli=21_000, flag=4)]
    yard.drain()
    assert yard.server.times() == [START]
    assert "flag=4i" in next(iter(yard.server.points.values()))


def test_a_full_disk_stops_nothing() -> None:
    yard = Yard(Journal(), FakeServer())

    def refuse(cursor: Cursor) -> None:
        raise OSError("disk full")

    yard.journal.save_cursor = refuse  # type: ignore[method-assign]
    yard.journal.add(5)
    yard.drain()
    yard.now += 61
    yard.step()
    assert len(yard.server.times()) == 5


def test_cursor_file(tmp_path: Path) -> None:
    store = CursorFile(tmp_path / "mirror.json")
    assert store.load_cursor() is None
    store.save_cursor(Cursor(5, 7))
    assert CursorFile(tmp_path / "mirror.json").load_cursor() == Cursor(5, 7)
    for damaged in ('{"readings": 1', "[]", '{"readings": "x", "effects": 2}', '{"readings": -1, "effects": 2}'):
        (tmp_path / "mirror.json").write_text(damaged, encoding="utf-8")
        assert store.load_cursor() is None


# Checking.


class CountedServer(FakeServer):
    def counts(self, start: int, end: int) -> dict[str, int]:
        return {"b1-a": sum(start <= time < end for time in self.times())}


HOUR = 3_600_000


def test_check_sends_again_what_is_missing_and_nothing_else() -> None:
    server = CountedServer()
    yard = Yard(Journal(), server)
    first = START - START % HOUR
    yard.journal.add(120, every=60_000, first=first)
    yard.drain()
    for key in [key for key in server.points if int(key[1]) >= first + HOUR][:7]:
        del server.points[key]
    found = check(yard.journal, server, yard.mirror, first + 5, first + 2 * HOUR)
    assert (found.hours, found.short, found.sent_again) == (2, [(first + HOUR, first + 2 * HOUR)], 60)
    assert len(server.times()) == 120
    again = check(yard.journal, server, yard.mirror, first, first + 2 * HOUR)
    assert again.sentence() == "the mirror holds everything in 2 hours"


def test_check_tells_what_is_too_much() -> None:
    server = CountedServer()
    yard = Yard(Journal(), server)
    first = START - START % HOUR
    server.write([f"heaptender_reading,probe=b1-a raw=1.000 {first}"])
    found = check(yard.journal, server, yard.mirror, first, first + HOUR)
    assert found.over == [(first, first + HOUR)]
    assert "1 hold more than the journal" in found.sentence()


def test_a_server_that_cannot_be_read_back_is_told() -> None:
    class Mute(CountedServer):
        def counts(self, start: int, end: int) -> dict[str, int]:
            raise Unreadable("answered 400 to a query")

    server = Mute()
    yard = Yard(Journal(), server)
    with pytest.raises(Unreadable):
        check(yard.journal, server, yard.mirror, START, START + HOUR)
