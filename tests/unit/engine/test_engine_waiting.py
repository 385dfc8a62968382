"""Deadlines are served in their order whatever was moved; marks hold before what changed, and no longer."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.conditioning import ConditioningState
from monitor.engine.context.agenda import SILENCE, Agenda, Deadline, DueKind, read, written
from monitor.engine.context.checkpoints import Mark, Marks
from monitor.engine.engine import SERVERS
from monitor.piles import WalkState

NAMES = st.builds(
    Deadline,
    st.sampled_from(["", "p1", "p2"]),
    st.sampled_from(DueKind),
    st.sampled_from(["", "p1/hot", "p1/hot/p1-a x|"]),
)
STEPS = st.lists(st.one_of(
    st.tuples(st.just("set"), NAMES, st.one_of(st.none(), st.integers(0, 50))),
    st.tuples(st.just("take"), st.just(Deadline("", DueKind.DESK)), st.integers(0, 50)),
    st.tuples(st.just("restart"), st.just(Deadline("", DueKind.DESK)), st.just(0)),
), max_size=60)  # fmt: skip


@given(STEPS)
def test_an_agenda_is_a_sorted_list_of_what_was_set_last(steps):
    kept, plain = {}, {}
    agenda = Agenda(kept)
    for what, name, due in steps:
        if what == "restart":
            kept = read(written(kept))
            agenda = Agenda(kept)
        elif what == "take":
            expected = sorted((at, one) for one, at in plain.items() if at <= due)
            assert agenda.take(due) == expected
            plain = {one: at for one, at in plain.items() if at > due}
        else:
            agenda.set(name, due)
            plain.pop(name, None)
            plain |= {} if due is None else {name: due}
        assert agenda.soonest() == min(plain.values(), default=None)
        assert {name: agenda.due(name) for name in plain} == plain
        assert agenda.besides(name) == min(((at, one) for one, at in plain.items() if one != name), default=None)
        assert kept == plain


@given(st.lists(NAMES, min_size=2))
def test_deadlines_are_ordered_as_they_are_written(names):
    """What an older program remembered is served in the order in which it would have served it."""
    assert sorted(names) == sorted(names, key=lambda one: next(iter(written({one: 0}))).split("|", 1))


def test_deadlines_stand_in_a_snapshot_by_place_and_kind():
    dues = {SILENCE: 5, Deadline("p1", DueKind.HOT): 6, Deadline("p1", DueKind.ALARM, "p1/hot"): 7}
    plain = {"|silence": 5, "p1|hot": 6, "p1|alarm p1/hot": 7}
    assert written(dues) == plain
    assert [*read(plain).items()] == [*dues.items()]
    with pytest.raises(ValueError, match="walk"):
        read({"b1|walk": 1})


def test_each_kind_of_deadline_is_served():
    assert set(SERVERS) == set(DueKind)


def test_a_deadline_moved_for_ever_takes_no_more_room():
    agenda = Agenda({})
    bed, hot = Deadline("b1", DueKind.BED), Deadline("p1", DueKind.HOT)
    agenda.set(bed, 1)
    for due in range(2, 5_000):
        agenda.set(hot, due)
    assert len(agenda._heap) <= 64 + 4 * 2
    assert agenda.pop() == (1, bed)
    assert agenda.pop() == (4_999, hot)
    assert agenda.soonest() is None


def mark(time):
    return Mark(time, WalkState(built=0), None, {}, ConditioningState(), [], None, 0, [])


def times(marks, batch="a"):
    found, before = [], 1 << 60
    while (one := marks.before(batch, before)) is not None:
        before = one.time
        found.append(before)
    return found


def test_of_a_batchs_marks_the_newest_four_are_kept_in_whatever_order_they_came():
    marks = Marks()
    for time in (30, 10, 50, 20, 40):
        marks.keep("a", mark(time))
    assert times(marks) == [50, 40, 30, 20]
    marks.keep("a", mark(40))
    assert times(marks) == [50, 40, 30, 20]
    assert marks.until == 50
    assert marks.before("b", 100) is None


def test_a_change_drops_the_marks_at_and_after_it_of_every_batch():
    marks = Marks()
    for time in (10, 20, 30):
        marks.keep("a", mark(time))
    marks.keep("b", mark(25))
    marks.drop(25)
    assert (times(marks), times(marks, "b"), marks.until) == ([20, 10], [], 20)
    marks.drop(20)
    assert (times(marks), marks.until) == ([10], 10)
    marks.keep("a", mark(5))
    assert marks.until == 10
    marks.clear()
    assert (times(marks), marks.until) == ([], -1)


def test_a_mark_before_an_instant_is_a_copy_that_can_be_changed():
    marks = Marks()
    marks.keep("a", mark(10))
    assert marks.before("a", 10) is None
    one = marks.before("a", 11)
    one.outings["x"] = None
    one.changes.append(None)
    one.waiting.append(None)
    again = marks.before("a", 11)
    assert (again.outings, again.changes, again.waiting) == ({}, [], [])
