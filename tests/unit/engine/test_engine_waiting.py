"""Deadlines are served in their order whatever was moved; marks hold before what changed, and no longer."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.conditioning import ConditioningState
from monitor.engine.agenda import Agenda
from monitor.engine.marks import Mark, Marks
from monitor.piles import WalkState

NAMES = st.tuples(st.sampled_from(["b1", "p1", "p2"]), st.sampled_from(["hot", "silent/p1-a", "walk"]))
STEPS = st.lists(st.one_of(
    st.tuples(st.just("set"), NAMES, st.one_of(st.none(), st.integers(0, 50))),
    st.tuples(st.just("take"), st.just(("", "")), st.integers(0, 50)),
    st.tuples(st.just("restart"), st.just(("", "")), st.just(0)),
), max_size=60)  # fmt: skip


@given(STEPS)
def test_an_agenda_is_a_sorted_list_of_what_was_set_last(steps):
    kept, plain = {}, {}
    agenda = Agenda(kept)
    for what, name, due in steps:
        if what == "restart":
            agenda = Agenda(kept)
        elif what == "take":
            expected = sorted((at, *one) for one, at in plain.items() if at <= due)
            assert agenda.take(due) == expected
            plain = {one: at for one, at in plain.items() if at > due}
        else:
            agenda.set(*name, due)
            plain.pop(name, None)
            plain |= {} if due is None else {name: due}
        assert agenda.soonest() == min(plain.values(), default=None)
        assert {name: agenda.due(*name) for name in plain} == plain
        assert kept == {"|".join(name): at for name, at in plain.items()}


def test_a_deadline_moved_for_ever_takes_no_more_room():
    agenda = Agenda({})
    agenda.set("b1", "walk", 1)
    for due in range(2, 5_000):
        agenda.set("p1", "hot", due)
    assert len(agenda._heap) <= 64 + 4 * 2
    assert agenda.pop() == (1, "b1", "walk")
    assert agenda.pop() == (4_999, "p1", "hot")
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
