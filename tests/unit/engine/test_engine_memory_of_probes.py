"""What the engine remembers of its probes, deadlines and the air: each limit at the very instant, and one before and after."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0

from monitor.engine.context.agenda import DESK, PENDING, SILENCE, Agenda, Deadline, DueKind, read, written
from monitor.engine.context.air_highs import highest, note_high, note_highs
from monitor.engine.context.checkpoints import Mark, Marks
from monitor.engine.context.probe_watch import Dues, ProbeWatch, kept_instants, median_spacing
from monitor.model.thresholds import PileThresholds, ProbeThresholds
from monitor.piles import WalkState

LIMITS, PILE = ProbeThresholds(silent_spacings=3), PileThresholds()
H = T0 // HOUR


# When a probe counts as silent, broken, or hot and lost ---------------------------------------------------------


def test_the_spacing_is_the_lower_of_the_two_in_the_middle():
    assert median_spacing([]) == median_spacing([5]) == 0
    assert median_spacing([0, 7]) == 7
    assert median_spacing([0, 10, 30]) == 10
    assert median_spacing([0, 10, 30, 90]) == 20


def test_a_probe_that_sends_each_hour_is_silent_three_hours_after_its_last_word():
    watch = ProbeWatch(heard_from=0)
    for hour in range(4):
        watch.arrive(T0 + hour * HOUR, False)
    last = T0 + 3 * HOUR
    assert watch.silent_due(LIMITS, HOUR) == last + 3 * HOUR
    assert watch.silent_due(LIMITS, 6 * HOUR) == last + 6 * HOUR, "never sooner than the least of its place"
    watch.arrive(last + HOUR, True)
    assert watch.silent_due(LIMITS, HOUR) == last + 4 * HOUR, "a late word is a word, and no spacing"
    watch.heard_from = last + 2 * HOUR
    assert watch.silent_due(LIMITS, HOUR) == last + 5 * HOUR, "after a start it is waited for anew"


def test_a_probe_that_was_never_heard_is_waited_for_since_somebody_named_it():
    watch = ProbeWatch(heard_from=T0)
    assert watch.silent_due(LIMITS, HOUR) == watch.broken_due(LIMITS, HOUR) == T0 + HOUR
    assert watch.lost_due(LIMITS, PILE, 0) is None
    assert watch.trend() is None


def test_two_words_at_one_instant_are_one_arrival():
    watch = ProbeWatch(heard_from=0)
    for at in (T0, T0, T0 + HOUR):
        watch.arrive(at, False)
        watch.accept(at, at, 20_000, False, 70_000)
    assert watch.arrivals == watch.accepted == [T0, T0 + HOUR]


def test_a_probe_is_broken_by_what_was_accepted_and_not_by_what_came():
    watch = ProbeWatch(heard_from=0)
    for hour in range(4):
        watch.accept(T0 + hour * HOUR, T0 + hour * HOUR, 20_000, False, 70_000)
    for minute in range(4):
        watch.arrive(T0 + 3 * HOUR + minute * MIN, False)
    assert watch.broken_due(LIMITS, HOUR) == T0 + 6 * HOUR
    assert watch.broken_due(LIMITS, 5 * HOUR) == T0 + 8 * HOUR
    watch.heard_from = T0 + 4 * HOUR
    assert watch.broken_due(LIMITS, HOUR) == T0 + 7 * HOUR


def test_the_last_twenty_arrivals_count_and_no_older_one():
    watch = ProbeWatch(heard_from=0)
    for number in range(30):
        watch.arrive(T0 + number * MIN, False)
    assert watch.arrivals == [T0 + number * MIN for number in range(10, 30)]
    many = [1, 2]
    assert kept_instants(many, [2, 3, 3, 4])
    assert many == [1, 2, 3, 4]
    assert not kept_instants(many, [4])
    assert many == [1, 2, 3, 4]
    assert kept_instants(many, list(range(5, 40)))
    assert many == list(range(20, 40))
    assert kept_instants(none := [], [1])
    assert none == [1]
    assert not kept_instants([], [])


def hot(at=T0, milli=70_001):
    watch = ProbeWatch(heard_from=0)
    for number in range(4):
        watch.arrive(at - (3 - number) * MIN, False)
    watch.accept(at, at, milli, False, 70_000)
    return watch


def test_only_a_probe_above_70_c_within_six_hours_can_be_lost():
    """A heap that was hot when its probe went dead may be on fire; one that had cooled by then is not."""
    assert hot(milli=70_000).lost_due(LIMITS, PILE, 0) is None
    watch = hot()
    assert watch.lost_due(LIMITS, PILE, 0) == T0 + 30 * MIN
    watch.accept(T0 + 6 * HOUR, T0 + 6 * HOUR, 60_000, False, 70_000)
    watch.arrive(T0 + 6 * HOUR, False)
    assert watch.lost_due(LIMITS, PILE, 0) == T0 + 6 * HOUR + 30 * MIN, "six hours to the minute"
    watch.accept(T0 + 6 * HOUR + 1, T0 + 6 * HOUR + 1, 60_000, False, 70_000)
    assert watch.lost_due(LIMITS, PILE, 0) is None


def test_a_probe_is_lost_after_thirty_minutes_or_three_spacings_of_a_living_link():
    assert hot().lost_due(LIMITS, PILE, T0 + HOUR) == T0 + HOUR + 30 * MIN, "silence of the link is none of the probe"
    watch = hot()
    watch.heard_from = T0 + 2 * HOUR
    assert watch.lost_due(LIMITS, PILE, T0 + HOUR) == T0 + 2 * HOUR + 30 * MIN
    slow = hot()
    slow.arrivals, slow.spacing = [T0 - 2 * HOUR, T0 - HOUR, T0], -1
    assert slow.lost_due(LIMITS, PILE, 0) == T0 + 3 * HOUR


def test_a_loss_that_is_past_is_not_looked_for_again():
    assert Dues(T0 + 9, T0 + 5, T0 + 1).soonest(T0) == T0 + 1
    assert Dues(T0 + 9, T0 + 5, T0).soonest(T0) == T0 + 5
    assert Dues(T0 + 9, None, None).soonest(T0) == T0 + 9
    assert Dues(None, None, None).soonest(T0) is None


def test_a_number_is_old_after_the_longest_wait_for_the_next():
    watch = ProbeWatch(heard_from=T0 + 9 * DAY, accepted_time=T0)
    assert watch.old_from(LIMITS, HOUR) == T0 + LIMITS.late_ms + HOUR, "whatever is waited for anew"
    watch.arrivals, watch.spacing = [T0 - HOUR, T0], -1
    assert watch.old_from(LIMITS, HOUR) == T0 + LIMITS.late_ms + 3 * HOUR


# Where it is heading ---------------------------------------------------------------------------------------------


def test_a_trend_wants_half_an_hour_and_looks_three_hours_back():
    watch = ProbeWatch(heard_from=0)
    watch.accept(T0, T0, 40_000, False, 70_000)
    watch.accept(T0 + 30 * MIN - 1, T0 + 30 * MIN - 1, 41_000, False, 70_000)
    assert watch.trend() is None
    watch.accept(T0 + 30 * MIN, T0 + 30 * MIN, 41_000, False, 70_000)
    assert watch.trend() == 2_000
    for step in range(1, 25):
        at = T0 + 30 * MIN + step * 10 * MIN
        watch.accept(at, at, 41_000, False, 70_000)
    assert watch.trail[0][0] == T0 + 90 * MIN, "three hours, to the minute"
    assert watch.trend() == 0


def test_the_trail_takes_a_value_each_ten_minutes():
    watch = ProbeWatch(heard_from=0)
    for at in (T0, T0 + 10 * MIN - 1, T0 + 10 * MIN):
        watch.accept(at, at, 40_000, False, 70_000)
    assert [time for time, _ in watch.trail] == [T0, T0 + 10 * MIN]


# The air's highest of a day --------------------------------------------------------------------------------------


def test_the_highest_of_an_hour_stays_whatever_comes_after():
    highs = []
    for time, milli in ((T0, 20_000), (T0 + MIN, 25_000), (T0 + 2 * MIN, 22_000), (T0 + HOUR, 21_000)):
        note_high(highs, time, milli)
    assert highs == [(H, 25_000), (H + 1, 21_000)]
    note_high(highs, T0 + 3 * MIN, 26_000)  # late
    note_high(highs, T0 + 3 * MIN, 23_000)
    note_high(highs, T0 - HOUR, 19_000)
    assert highs == [(H - 1, 19_000), (H, 26_000), (H + 1, 21_000)]


def test_hours_are_kept_for_a_day_and_two():
    highs = [(H, 20_000)]
    note_highs(highs, [(H - 26, 1), (H - 27, 2)])
    assert highs == [(H - 26, 1), (H, 20_000)]
    note_highs(highs, [(H + 1, 3)])
    assert highs == [(H, 20_000), (H + 1, 3)]


def test_the_day_before_an_instant_begins_with_the_hour_that_it_touches():
    highs = [(H - 25, 9), (H - 24, 8), (H, 7), (H + 1, 6)]
    assert highest(highs, T0 + 30 * MIN) == 8
    assert highest(highs, T0 - 1) == 9
    assert highest(highs, T0 + HOUR) == 7
    assert highest([(H + 1, 6)], T0 + HOUR) == 6
    assert highest([(H + 1, 6)], T0 + HOUR - 1) is None, "what comes after is not known yet"


# Deadlines -------------------------------------------------------------------------------------------------------

BED, HOT = Deadline("b1", DueKind.BED), Deadline("p1", DueKind.HOT)


def test_deadlines_come_off_in_order_and_a_moved_one_only_at_its_new_instant():
    agenda = Agenda({BED: 5})
    agenda.set(HOT, 3)
    agenda.set(DESK, 3)
    agenda.set(HOT, 9)
    assert agenda.soonest() == 3
    assert agenda.besides(DESK) == (5, BED)
    assert agenda.take(5) == [(3, DESK), (5, BED)]
    assert agenda.due(HOT) == 9
    agenda.set(HOT, None)
    agenda.set(HOT, None)
    assert agenda.soonest() is None
    assert agenda.besides(HOT) is None


def test_a_deadline_that_is_put_off_for_years_leaves_no_trail():
    agenda = Agenda({})
    agenda.set(BED, 1)
    for due in range(2, 5_000):
        agenda.set(HOT, due)
    assert len(agenda._heap) < 200
    assert agenda.take(5_000) == [(1, BED), (4_999, HOT)]


@pytest.mark.parametrize("deadline", [PENDING, SILENCE, HOT, Deadline("p1", DueKind.ALARM, "p1/silent/p1 a")])
def test_a_deadline_comes_back_from_a_snapshot_as_it_was(deadline):
    assert read(written({deadline: 7})) == {deadline: 7}


# Marks in a heap's record ----------------------------------------------------------------------------------------


def mark(time):
    return Mark(time, WalkState.fresh(0), None, {}, None, [], None, 0, [])


def test_a_change_drops_the_marks_from_its_instant_on():
    marks = Marks()
    for time in (10, 20, 30):
        marks.keep("p1", mark(time))
    marks.keep("p2", mark(25))
    assert marks.until == 30
    assert marks.before("p1", 30).time == 20
    assert marks.before("p1", 31).time == 30
    assert marks.before("p1", 10) is None
    marks.drop(20)
    assert marks.until == 10
    assert marks.before("p1", 99).time == 10
    assert marks.before("p2", 99) is None
    marks.drop(10)
    assert marks.until == -1


def test_of_a_heap_the_four_newest_marks_are_kept_one_for_each_instant():
    marks = Marks()
    for time in (50, 20, 40, 30, 10, 50):
        marks.keep("p1", mark(time))
    assert [one.time for one in marks._marks["p1"]] == [20, 30, 40, 50]
    assert marks.until == 50
    marks.clear()
    assert marks.until == -1
    assert marks.before("p1", 99) is None


def test_a_mark_shares_nothing_with_what_goes_on_from_it():
    marks = Marks()
    marks.keep("p1", mark(10))
    marks.before("p1", 20).walk.lines["p1-a"] = None
    assert marks.before("p1", 20).walk.lines == {}
