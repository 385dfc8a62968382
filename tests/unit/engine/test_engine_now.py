"""The engine's now: what it is asked leads it on, and never back."""

import pytest
from engine_yard import HOUR, MIN, T0, Drive, yard

from monitor.model.alarm_kinds import Alarm, alarm_key
from monitor.model.errors import InvariantError
from monitor.model.events import Event, EventKind
from monitor.model.units import Quantity

NOW = T0 + 4 * HOUR
KEY = alarm_key("b1", Alarm.OVERHEATING)


@pytest.fixture
def engine():
    """A yard of which one bin overheats."""
    drive = Drive(yard())
    drive.hold(T0, NOW, 30 * MIN, b1_t=35, b1_u=34)
    return drive.engine


def test_the_instant_of_a_question_leads_the_engine_on_and_never_back(engine):
    questions = (
        lambda at: engine.words(KEY, at),
        lambda at: engine.facts(KEY, at),
        engine.watched,
        lambda at: engine.empty_yet_warm("b1", at),
        lambda at: engine.current("b1", Quantity.TEMPERATURE, at),
        lambda at: engine.speaks("b1-t", at),
        lambda at: engine.conditions("b1", at),
        lambda at: engine.outlived(KEY, at),
        lambda at: engine.apart("b1", at),
    )
    for number, ask in enumerate(questions):
        now = engine.core.at
        ask(now - HOUR)
        assert engine.core.at == now, number
        ask(now + 1)
        assert engine.core.at == now + 1, number


def test_words_and_facts_are_of_an_alarm_that_is_on(engine):
    assert "35" in engine.words(KEY, NOW).short
    assert engine.facts(KEY, NOW).value_milli == 35_000
    engine.state.alarms[KEY].on = False
    assert (engine.words(KEY, NOW), engine.facts(KEY, NOW)) == (None, None)
    assert (engine.words("b1/none", NOW), engine.facts("b1/none", NOW), engine.outlived("b1/none", NOW)) == (None,) * 3
    assert engine._fresh_words(KEY, NOW) is None
    assert engine._fresh_words("b1/none", NOW) is None
    engine.state.alarms[KEY].on = True
    assert engine._fresh_words(KEY, NOW - 1) == engine._fresh_words(KEY, NOW)
    assert engine.core.at == NOW
    engine._fresh_words(KEY, NOW + 1)
    assert engine.core.at == NOW + 1


def test_an_event_may_come_at_the_instant_of_the_last_and_not_before_it(engine):
    stop = Event(NOW, EventKind.STOPPED, {})
    assert engine.last == NOW
    engine.feed(stop, None)
    with pytest.raises(InvariantError, match=f"{NOW - 1} cannot follow {NOW}"):
        engine.feed(Event(NOW - 1, EventKind.STOPPED, {}), None)


def test_going_on_to_an_instant_serves_what_falls_due_at_it_and_remembers_it(engine):
    due = engine.next_deadline()
    engine.advance(due - 1)
    assert (engine.last, engine.next_deadline()) == (due - 1, due)
    engine.advance(due)
    assert engine.last == due
    assert engine.next_deadline() > due
    engine.advance(due - 1)
    assert engine.last == due, "time never runs back"


def test_what_was_told_and_judged_is_handed_over_once(engine):
    engine.core.verdicts.append("verdict")
    assert engine.take_verdicts()[-1] == "verdict"
    assert engine.take_verdicts() == []
    engine.core.effects.append("effect")
    assert engine.take_effects() == ["effect"]
    assert engine.take_effects() == []


def test_an_event_of_a_wrong_shape_changes_nothing_but_the_instant(engine):
    before = engine.snapshot()
    for kind, payload in (
        (EventKind.WORK, {"time": "noon"}),
        (EventKind.SETTINGS, {"settings": {"site": {"name": 7}}}),
        (EventKind.READINGS, {"rows": 5}),
    ):
        assert engine.feed(Event(NOW, kind, payload), None) == []
        assert engine.snapshot() == before, kind
