"""Entries about the whole yard are in the record and decide nothing: no effect changes by them, and none is made."""

from engine_scripts import scripts
from engine_yard import DAY, HOUR, T0, Drive, yard
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.engine import Standing, Yard, questions
from monitor.model.settings import YARD
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import Where, kinds

many = settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
OF_YARD = [row.kind for row in kinds(Where.YARD) if row.kind is not WorkKind.AWAY]


@many
@given(scripts(), st.lists(st.tuples(st.floats(0, 1), st.sampled_from(OF_YARD)), min_size=1, max_size=6))
def test_an_entry_about_the_whole_yard_changes_no_effect(script, entries):
    plain, other = Drive(), Drive()
    for number, (at, kind, payload) in enumerate(script):
        plain.feed(at, kind, payload)
        for share, of_yard in entries:
            # A daemon that starts again serves deadlines only up to its stop, so an entry just before would serve more.
            between = other.engine.last + 1 + int((at - other.engine.last) * share)
            if number and kind != "started" and other.engine.last < between < at:
                told = {
                    "time": between,
                    "place": YARD,
                    "kind": of_yard.value,
                    "what": "leaves",
                    "amount": "2",
                    "unit": "t",
                }
                other.feed(between, "work", told)
        other.feed(at, kind, payload)
    end = script[-1][0] + 2 * DAY
    plain.advance(end)
    other.advance(end)
    assert other.lines() == plain.lines()
    assert other.engine.next_deadline() == plain.engine.next_deadline()


def delivery(**more):
    fields = {
        "time": T0,
        "place": YARD,
        "kind": WorkKind.DELIVERY,
        "what": "leaves",
        "amount": "2",
        "unit": "t",
        "source": "a park",
    }
    return Work(**fields | more)


def asked(work, *known):
    drive = Drive(yard())
    standing = [Standing(number, one) for number, one in enumerate(known, 7)]
    return questions(
        Yard(core=drive.engine.core, entries=standing, now=T0 + HOUR, place_of=drive.engine.place_of), work
    )


def test_the_same_delivery_within_half_an_hour_raises_a_question():
    (question,) = asked(delivery(time=T0 + HOUR // 3, what="Leaves"), delivery(by="Ann"))
    assert question.startswith("Entry 7, Ann already says, of ")
    assert question.endswith(": delivered 2 t of leaves from a park. Did it come once more?")


def test_another_delivery_raises_none():
    first = delivery()
    for other in ({"what": "chips"}, {"amount": "3"}, {"unit": "yd3"}, {"source": "a mill"}, {"time": T0 + HOUR}):
        assert asked(delivery(**{"time": T0 + 1} | other), first) == []
    remark = Work(time=T0, place=YARD, kind=WorkKind.PEST, note="rats")
    assert asked(remark, remark) == []
