"""The course of a mirror: what goes with what, how long it waits, what it counts, and its thread."""

import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mirror_fakes import START, FakeServer, Journal, effect, reading

from monitor.mirror import Cursor, Mirror, MirrorThread, Trouble, WriteError, check, effect_line, reading_line, runner
from monitor.mirror.check import Checked
from monitor.mirror.mirror_progress import Progress
from monitor.model.effects import EffectKind

HOUR = 3_600_000


class Yard:
    def __init__(self, batch=10, **server):
        self.journal, self.server, self.now = Journal(), FakeServer(**server), 1_000.0
        self.links, self.aside = [], []
        self.mirror = Mirror(
            self.journal,
            self.journal,
            self.server,
            link_changed=lambda *change: self.links.append(change),
            set_aside=lambda *line: self.aside.append(line),
            batch=batch,
        )

    def step(self):
        return self.mirror.step(self.now)

    def decide(self, count, first=START):
        self.journal.effects += [
            effect(first + n * 1_000, EffectKind.CONDITION, "thermal", "overheating") for n in range(count)
        ]


def test_decisions_go_with_the_readings_each_to_its_own_cursor():
    yard = Yard()
    yard.journal.add(3)
    yard.decide(2, START + 500)
    assert yard.step() == 5.0
    assert yard.mirror.cursor == Cursor(START + 2_000, START + 1_500)
    assert (len(yard.server.points), yard.mirror.tally.points) == (5, 5)
    assert yard.step() == 5.0
    assert yard.server.writes == 1
    yard.decide(1, START + 9_000)
    yard.step()
    assert yard.mirror.cursor == Cursor(START + 2_000, START + 9_000)


@pytest.mark.parametrize(("readings", "decisions", "pause"), [(9, 0, 5.0), (10, 0, 0.0), (0, 10, 0.0), (9, 9, 5.0)])
def test_where_a_batch_is_full_the_next_follows_at_once(readings, decisions, pause):
    yard = Yard()
    yard.journal.add(readings)
    yard.decide(decisions)
    assert yard.step() == pause
    assert yard.server.writes == (2 if readings + decisions > 10 else 1)


def test_a_decision_that_is_not_mirrored_is_passed_by():
    yard = Yard()
    yard.journal.effects.append(effect(START, EffectKind.NOTICE, "new", "anna"))
    assert yard.step() == 5.0
    assert (yard.server.writes, yard.mirror.cursor) == (0, Cursor(0, START))


@pytest.mark.parametrize(("asked", "pause"), [(None, 1.0), (0.5, 1.0), (120.0, 120.0), (90_000.0, 3_600.0)])
def test_a_server_that_asks_for_a_pause_gets_it_but_for_no_more_than_an_hour(asked, pause):
    yard = Yard(trouble=WriteError(Trouble.BUSY, "answered 429", asked))
    yard.journal.add(1)
    assert yard.step() == pause
    yard.now += pause - 0.25
    assert yard.step() == 0.25
    yard.now += 0.25
    yard.server.trouble = None
    assert yard.step() == 5.0
    assert yard.mirror.tally.failures == 1
    assert yard.links == [(False, "answered 429"), (True, "")]


def test_pauses_grow_to_five_minutes_and_begin_anew_after_a_write():
    yard = Yard(trouble=WriteError(Trouble.AWAY, "away"))
    pauses = []
    for round_ in range(2):
        yard.journal.add(1, first=START + round_ * HOUR)
        for _ in range(11 if not round_ else 2):
            pauses.append(yard.step())
            yard.now += pauses[-1]
        trouble, yard.server.trouble = yard.server.trouble, None
        yard.step()
        yard.server.trouble = trouble
    assert pauses == [1, 2, 4, 8, 16, 32, 64, 128, 256, 300, 300, 1, 2]
    assert yard.mirror.tally.failures == 13
    assert [up for up, _ in yard.links] == [False, True, False, True]


def test_what_is_set_aside_is_told_with_the_words_of_its_own_refusal_and_the_rest_goes():
    yard = Yard(batch=16, poison={f" {START + 3_000}", f" {START + 12_000}"})
    yard.journal.add(16)
    yard.step()
    assert [line.rpartition(" ")[2] for line, _ in yard.aside] == [str(START + 3_000), str(START + 12_000)]
    assert {why for _, why in yard.aside} == {"answered 400: no"}
    assert (yard.mirror.tally.points, yard.mirror.tally.set_aside, yard.mirror.tally.failures) == (14, 2, 0)
    assert yard.mirror.cursor.readings == START + 15_000


def test_one_line_that_is_too_large_by_itself_is_set_aside_without_a_trial():
    yard = Yard(most=0)
    yard.journal.add(1)
    assert yard.step() == 5.0
    assert (yard.server.writes, [why for _, why in yard.aside]) == (1, ["answered 413"])


class Falling(FakeServer):
    """Refuses what it gets first, and then is away."""

    def write(self, lines):
        if self.writes:
            self.trouble = WriteError(Trouble.AWAY, "went away", 7.0)
        super().write(lines)


def test_a_server_that_goes_away_while_lines_are_sifted_costs_none():
    yard = Yard()
    yard.mirror._server = yard.server = Falling(most=3)
    yard.journal.add(8)
    assert yard.step() == 7.0
    assert (yard.aside, yard.links, yard.mirror.cursor) == ([], [(False, "went away")], Cursor())


def test_a_gateway_that_goes_away_at_the_trial_line_is_away_and_says_the_first_words():
    yard = Yard()
    yard.mirror._server = yard.server = Falling(poison={"b1-a"})
    yard.journal.add(1)
    assert yard.step() == 7.0
    assert (yard.aside, yard.links) == ([], [(False, "answered 400: no")])


def test_a_cursor_that_did_not_move_is_not_written_again():
    yard = Yard()
    kept = []
    yard.journal.save_cursor = kept.append
    yard.journal.add(2)
    yard.step()
    assert kept == []
    yard.now += 61
    yard.step()
    assert kept == [], "nothing was written since, so nobody knows whether the server still lives"
    yard.journal.add(1, first=START + 60_000)
    yard.step()
    yard.step()
    assert kept == [Cursor(START + 1_000, 0)]


def test_a_disk_that_refuses_the_cursor_is_counted_and_asked_again():
    yard = Yard()

    def refuse(_cursor):
        raise OSError("disk full")

    yard.journal.save_cursor, save = refuse, yard.journal.save_cursor
    yard.journal.add(2)
    yard.step()
    yard.now += 61
    yard.journal.add(1, first=START + 60_000)
    yard.step()
    assert yard.mirror.tally.failures == 1
    assert not yard.mirror.is_kept
    yard.journal.save_cursor = save
    yard.step()
    assert yard.mirror.is_kept
    assert yard.journal.load_cursor() == Cursor(START + 1_000, 0)


def test_a_connection_that_stays_sends_nothing_twice_and_a_new_one_goes_back_to_what_is_safe():
    yard = Yard(batch=1_000)
    yard.journal.add(200)
    yard.step()
    yard.journal.add(1, first=START + 300_000)
    yard.step()
    assert yard.mirror.tally.points == 201
    yard.now += 61
    yard.journal.add(1, first=START + 301_000)
    yard.step()
    assert yard.mirror.tally.points == 202
    yard.server.opened += 1
    yard.now += 3_600
    yard.journal.add(1, first=START + 302_000)
    assert yard.step() == 0.0, "there is something to send again"
    assert yard.mirror.cursor == Cursor(START + 300_000, 0)
    assert yard.step() == 5.0
    assert yard.mirror.tally.points == 205


def progress_at(*times):
    """Progress that came a thousand seconds of the record further at each of these instants."""
    progress = Progress(Cursor())
    for number, when in enumerate(times, 1):
        progress.reached(Cursor(number * 1_000_000, number * 2_000_000), when)
    return progress


@pytest.mark.parametrize(("now", "safe"), [(70.0, 0), (70.5, 1), (80.5, 2), (90.5, 3)])
def test_what_was_sent_is_safe_once_a_write_more_than_a_minute_later_went_over_the_same_connection(now, safe):
    progress = progress_at(10.0, 20.0, 30.0)
    assert progress.safe == Cursor()
    progress.stayed(now)
    assert progress.safe == Cursor(safe * 1_000_000, safe * 2_000_000)


def test_going_back_goes_to_what_is_safe_however_long_ago_it_was_sent():
    early = progress_at(10.0)
    early.back()
    assert early.cursor == Cursor()
    late = progress_at(10.0, 20.0)
    late.stayed(75.0)
    late.reached(Cursor(3_000_000, 4_000_000), 90_000.0)
    late.back()
    assert late.cursor == late.safe == Cursor(1_000_000, 2_000_000)


def test_what_was_sent_again_three_times_is_not_sent_once_more_and_each_kind_counts_by_itself():
    progress = Progress(Cursor())
    for n in range(4):
        progress.reached(Cursor(1_000_000, 0), 900.0 * n)
        if n == 3:
            progress.reached(Cursor(2_000_000, 5_000), 900.0 * n)
        progress.back()
        assert progress.cursor == Cursor(0 if n < 3 else 1_000_000, 0)
    assert progress.safe == Cursor(1_000_000, 0)
    progress.reached(Cursor(2_000_000, 5_000), 5_000.0)
    progress.stayed(5_061.0)
    assert progress.safe == Cursor(2_000_000, 5_000)


def test_a_server_that_closes_the_connection_after_each_write_gets_each_reading_a_few_times_and_no_more():
    yard = Yard()
    for n in range(200):
        yard.journal.add(1, first=START + n * HOUR)
        yard.now += 3_600
        yard.server.opened += 1
        while not yard.step():
            yard.server.opened += 1
    assert yard.mirror.tally.points <= 4 * 200
    yard.server.opened += 1
    assert yard.journal.load_cursor().readings >= START + 196 * HOUR


# Lines.


@given(st.integers(-(10**9), 10**9), st.sampled_from(["holding", "cooling", "nonsense", None]))
def test_a_word_that_has_no_number_gives_no_point(at, word):
    line = effect_line(effect(at, EffectKind.PHASE, "phase", word))
    assert (line is None) is (word not in ("holding", "cooling"))


def test_a_rules_numbers_go_by_their_own_names_and_nothing_else_does():
    rule = effect(
        START,
        EffectKind.RULE,
        "us",
        "running",
        batch="p1-a",
        code=5,
        since=7,
        ok=True,
        share=0.25,
        text="x",
        _x=1,
        n_2=-3,
    )
    assert effect_line(rule) == (
        f"heaptender_rule,batch=p1-a,place=p1,rule=us code=1i,since=1772355599.500,n_2=-3.000,share=0.250 {START}"
    )
    assert effect_line(effect(START, EffectKind.RULE, "us", "running", batch=5)).startswith(
        "heaptender_rule,place=p1,rule"
    )


def test_a_condition_of_an_axis_that_has_no_numbers_gives_no_point():
    assert effect_line(effect(START, EffectKind.CONDITION, "colour", "too wet")) is None
    assert effect_line(effect(START, EffectKind.CONDITION, "moisture", "overheating")) is None


def test_signs_of_the_format_in_a_name_are_escaped():
    line = reading_line(reading(START, probe="a,b =c\n\\"))
    assert line.startswith("heaptender_reading,probe=a\\,b\\ \\=c\\ ,quantity=temperature,unit=Cel raw=")
    assert reading_line(reading(START, probe="")).startswith("heaptender_reading,quantity=temperature,")


# Checking.


def test_a_check_is_told_in_one_sentence():
    spans = [(START, START + HOUR)]
    assert Checked(hours=3).sentence() == "the mirror holds everything in 3 hours"
    assert Checked(3, spans, [], 60).sentence() == "of 3 hours 1 lacked readings, 60 were sent again"
    assert Checked(3, [], spans * 2).sentence() == (
        "of 3 hours 0 lacked readings, 0 were sent again; "
        "2 hold more than the journal, the first from 2026-03-01T09:00:00.000Z"
    )


class Counts(dict):
    def counts(self, start, end):
        assert end - start == HOUR
        return self.get(start, {})


def test_whole_hours_are_compared_and_one_probe_that_lacks_readings_is_enough():
    yard, first = Yard(), START - START % HOUR
    for hour in range(4):
        yard.journal.events[first + hour * HOUR] = [
            reading(first + hour * HOUR, "a"),
            reading(first + hour * HOUR + 1, "b"),
        ]
    same, less, more, both = {"a": 1, "b": 1}, {"a": 1}, {"a": 1, "b": 2, "c": 1}, {"a": 5}
    there = Counts({first: same, first + HOUR: less, first + 2 * HOUR: more, first + 3 * HOUR: both})
    found = check(yard.journal, there, yard.mirror, first + 7, first + 3 * HOUR + 1)
    assert found.hours == 4
    assert [start - first for start, _ in found.short] == [HOUR, 3 * HOUR]
    assert found.over == [(first + 2 * HOUR, first + 3 * HOUR)]
    assert found.sent_again == 4
    assert yard.server.times() == [first + HOUR, first + HOUR + 1, first + 3 * HOUR, first + 3 * HOUR + 1]
    assert check(yard.journal, there, yard.mirror, first, first + HOUR).hours == 1


# The thread.


class Steps:
    """A mirror that does as told at each step, and says when it was asked."""

    def __init__(self, *pauses):
        self.pauses, self.asked, self.made = list(pauses), threading.Semaphore(0), 0

    def make(self):
        self.made += 1
        return self

    def step(self, now_s):
        assert now_s == 7.0
        self.asked.release()
        pause = self.pauses.pop(0) if self.pauses else 3_600.0
        if isinstance(pause, Exception):
            raise pause
        return pause


@pytest.fixture
def run():
    threads = []

    def start(steps, crashed=None):
        threads.append(MirrorThread(steps.make, lambda: 7.0, crashed or (lambda _fault: None)))
        threads[-1].start()
        return threads[-1]

    yield start
    for thread in threads:
        thread.stop()
        assert not thread._thread.is_alive()


def asked(steps, times):
    return all(steps.asked.acquire(timeout=10) for _ in range(times))


def test_a_thread_steps_at_once_while_there_is_more_and_then_waits_until_it_is_poked(run):
    steps = Steps(0.0, 0.0, 3_600.0)
    thread = run(steps)
    assert asked(steps, 3)
    assert not steps.asked.acquire(timeout=0.05)
    thread.poke()
    assert asked(steps, 1)
    assert not steps.asked.acquire(timeout=0.05)
    assert steps.made == 1


def test_a_thread_looks_again_after_a_minute_at_the_latest_whatever_pause_was_asked_for(run, monkeypatch):
    monkeypatch.setattr(runner, "_LONGEST_S", 0.02)
    steps = Steps()
    run(steps)
    assert asked(steps, 4)


def test_a_mirror_that_fails_is_told_and_made_anew(run):
    faults, fault = [], ValueError("no table")
    steps = Steps(fault, 3_600.0)
    thread = run(steps, faults.append)
    assert asked(steps, 1)
    assert not steps.asked.acquire(timeout=0.05), "not at once"
    thread.poke()
    assert asked(steps, 1)
    assert (faults, steps.made) == ([fault], 2)
