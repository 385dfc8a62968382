"""Questions: none of them fails, whatever is asked about; what would be lost is said."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, yard
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.engine.questions import Standing, Yard, questions
from monitor.model.work import Work, WorkKind

PLACES = ["p1", "p2", "b1", "b2", "ambient", "nowhere", ""]


def yard_of(drive, *entries):
    known = [Standing(number, work) for number, work in enumerate(entries, 1)]
    return Yard(core=drive.engine.core, entries=known, now=drive.engine.last, place_of=drive.engine.place_of)


works = st.builds(
    Work,
    time=st.integers(T0 - 40 * DAY, T0 + 5 * DAY),
    place=st.sampled_from(PLACES),
    kind=st.sampled_from(list(WorkKind)),
    to=st.sampled_from(PLACES),
    probe=st.sampled_from(["", "p1-a", "b1-t", "b1-m", "air", "gone"]),
    what=st.sampled_from(["", "p1-2026-11-01", "leaves"]),
    amount=st.sampled_from(["", "20", "many"]),
    measure=st.sampled_from(["", "kg", "x"]),
)


@settings(max_examples=300, deadline=None)
@given(works, st.lists(works, max_size=4))
def test_whatever_is_asked_about_there_is_an_answer(work, before):
    drive = Drive(yard())
    for number, one in enumerate(before):
        more = {name: getattr(one, name) for name in ("to", "probe", "what") if getattr(one, name)}
        drive.feed(
            T0 + 5 * DAY + number * MIN, "work", {"time": one.time, "place": one.place, "kind": one.kind, **more}
        )
    snapshot = drive.engine.snapshot()
    for question in questions(yard_of(drive, *before), work):
        assert question.endswith(("?", "."))
    assert drive.engine.snapshot() == snapshot, "asking changes nothing"


@pytest.mark.parametrize(("kind", "more"), [("added", {"place": "p1"}), ("merged", {"place": "p2", "to": "p1"})])
def test_what_raw_material_would_undo_is_said(kind, more):
    drive = Drive(yard())
    drive.work(T0 + 4 * DAY - HOUR, "p2", "built")
    drive.hold(T0 + MIN, T0 + 4 * DAY, p1_a=60, p1_b=60)
    (asked,) = questions(yard_of(drive), Work(time=T0 + 4 * DAY, kind=WorkKind(kind), **more))
    assert asked == "Bay 1 becomes raw again: 3 days are lost. Is that so?"
