"""Dangerous heat of a pile, value by value: what rings, what holds it open, whose word counts, and who is asked to look."""

import pytest
from engine_yard import HOUR, MIN, T0

from monitor.engine.context.dangerous_heat import Brought, Danger, DangerState
from monitor.model.excursions import Excursion
from monitor.model.thresholds import PileThresholds

LIMITS = PileThresholds()
HOT, TOO_HOT, FIRE, CONFIRM = (
    LIMITS.hot_milli_c, LIMITS.too_hot_milli_c, LIMITS.fire_milli_c, LIMITS.fire_confirm_milli_c,
)  # fmt: skip
BAND, DWELL = LIMITS.deadband_milli_k, LIMITS.hot_dwell_ms


@pytest.fixture
def danger():
    return Danger(DangerState(), LIMITS)


def said(signals):
    return [(one.alarm, one.on) for one in signals]


def on(danger):
    return [one.alarm for one in danger.standing()]


def test_too_hot_rings_at_its_limit_and_ends_below_the_deadband(danger):
    assert danger.accepted("a", T0, TOO_HOT - 1, False) == []
    (signal,) = danger.accepted("a", T0 + 1, TOO_HOT, False)
    assert (signal.alarm, signal.on, signal.since, signal.last, signal.probe) == ("too-hot", True, T0 + 1, T0 + 1, "a")
    assert (signal.values.value_milli, signal.values.limit_milli) == (TOO_HOT, TOO_HOT)
    assert said(danger.accepted("a", T0 + 2, TOO_HOT - BAND, False)) == [("too-hot", True)]
    (held,) = danger.standing()
    assert (held.since, held.last) == (T0 + 1, T0 + 1), "last beyond the limit, not last held open"
    assert said(danger.accepted("a", T0 + 3, TOO_HOT - BAND - 1, False)) == [("too-hot", False)]
    assert on(danger) == []


def test_fire_rings_beside_too_hot(danger):
    assert said(danger.accepted("a", T0, FIRE, False)) == [("fire", True), ("too-hot", True)]
    assert on(danger) == ["fire", "too-hot"]


def test_hot_waits_for_its_dwell_by_the_deadline_that_a_fresh_reading_set(danger):
    danger.accepted("a", T0, HOT, False)
    assert danger.due() == T0 + DWELL
    assert danger.serve(T0 + DWELL - 1) == []
    assert said(danger.serve(T0 + DWELL)) == [("hot", True)]
    assert danger.due() is None


def test_a_late_reading_sets_no_deadline(danger):
    danger.accepted("a", T0, HOT, True)
    assert danger.due() is None
    assert said(danger.accepted("a", T0 + DWELL, HOT, True)) == [("hot", True)], "a later one confirms it"


def test_the_hottest_of_all_probes_decides_and_the_one_with_the_later_name_where_two_are_alike(danger):
    danger.accepted("a", T0, TOO_HOT + 5, False)
    (signal,) = danger.accepted("b", T0 + 1, TOO_HOT + 1, False)
    assert (signal.probe, signal.values.value_milli) == ("a", TOO_HOT + 5)
    (signal,) = danger.accepted("b", T0 + 2, TOO_HOT + 5, False)
    assert signal.probe == "b"


def test_a_silent_probe_holds_open_and_begins_nothing(danger):
    danger.accepted("a", T0, TOO_HOT, False)
    danger.silent("a")
    (signal,) = danger.accepted("b", T0 + 1, 20_000, False)
    assert (signal.alarm, signal.on, signal.probe) == ("too-hot", True, "a")
    danger.accepted("c", T0, HOT, False)
    danger.silent("c")
    assert danger.due() is None, "nothing that speaks holds the wait open"
    assert danger.state.silent == ["a", "c"]
    danger.silent("never heard")
    assert danger.state.silent == ["a", "c"]
    assert said(danger.accepted("a", T0 + 2, 20_000, False)) == [("too-hot", False)]
    assert danger.state.silent == ["c"], "who speaks is not silent"


def test_the_wait_for_hot_goes_on_while_another_probe_is_as_hot(danger):
    danger.accepted("a", T0, HOT, False)
    danger.accepted("b", T0, HOT, False)
    danger.silent("a")
    assert danger.due() == T0 + DWELL
    danger.silent("b")
    assert danger.due() is None


def test_a_probe_that_went_silent_below_the_limit_lets_no_wait_stand_still(danger):
    danger.accepted("a", T0, HOT, False)
    danger.accepted("b", T0 + 1, HOT - 1, False)
    danger.silent("b")
    assert danger.due() == T0 + DWELL


def test_a_doubtful_value_at_fire_heat_is_looked_at_once_and_believed_when_the_heap_is_hot(danger):
    (look,) = danger.flagged("a", T0, FIRE, False)
    assert (look.alarm, look.on, look.probe, look.since, look.last) == ("look-at-probe", True, "a", T0, T0)
    assert (look.values.value_milli, look.values.limit_milli) == (FIRE, FIRE)
    assert danger.flagged("a", T0 + 1, FIRE, False) == [], "nothing near it is hot"
    danger.accepted("b", T0 + 2, CONFIRM - 1, False)
    assert danger.flagged("a", T0 + 3, FIRE, False) == []
    danger.accepted("b", T0 + 4, CONFIRM, False)
    assert said(danger.flagged("a", T0 + 5, FIRE, False)) == [("fire", True)]


def test_two_doubtful_values_in_a_row_are_wanted(danger):
    danger.accepted("b", T0, CONFIRM, False)
    assert said(danger.flagged("a", T0 + 1, FIRE, False)) == [("look-at-probe", True)]
    assert danger.flagged("a", T0 + 2, FIRE - 1, False) == []
    assert danger.flagged("a", T0 + 3, FIRE, False) == [], "not in a row"
    assert said(danger.flagged("a", T0 + 4, FIRE, False)) == [("fire", True)]


def test_the_look_ends_with_the_next_good_reading(danger):
    danger.flagged("a", T0, FIRE, False)
    (look,) = danger.accepted("a", T0 + 1, 20_000, False)
    assert (look.alarm, look.on) == ("look-at-probe", False)
    assert danger.state.flagged == {}
    assert danger.accepted("a", T0 + 2, 20_000, False) == []


def test_a_value_without_a_time_is_a_fire_at_the_second_word(danger):
    assert said(danger.untimed("a", T0, FIRE)) == [("look-at-probe", True)]
    assert danger.untimed("a", T0 + 1, FIRE - 1) == []
    assert danger.untimed("a", T0 + 2, FIRE) == []
    (signal,) = danger.untimed("a", T0 + 3, FIRE)
    assert (signal.alarm, signal.since) == ("fire", T0 + 3)
    assert on(danger) == ["fire"]


def test_outside_its_heap_a_probe_tells_of_fire_alone(danger):
    assert danger.outside("a", T0, FIRE - 1, False) == []
    assert on(danger) == []
    assert said(danger.outside("a", T0 + 1, FIRE, False)) == [("fire", True)]
    danger.outside("a", T0 + 2, 20_000, False)
    assert danger.state.silent == ["a"], "what it says in the air ends nothing"
    assert on(danger) == ["fire"]


def test_what_a_heap_brings_rings_where_it_comes_and_is_held_until_somebody_reads_it():
    left = Danger(DangerState(), LIMITS)
    left.accepted("a", T0, FIRE, False)
    left.accepted("b", T0, TOO_HOT - 1, False)
    holding = left.holding()
    assert {name: sorted(alarms) for name, alarms in holding.items()} == {
        "a": ["fire", "too-hot"],
        "b": ["too-hot"],
    }, "within the deadband it holds too-hot open as well"
    here = Danger(DangerState(), LIMITS)
    came = here.bring("a", FIRE, Brought(T0 + HOUR, "p1", T0), holding["a"])
    assert [(one.alarm, one.since, one.values.moved_from) for one in came] == [
        ("fire", T0, "p1"),
        ("too-hot", T0, "p1"),
    ]
    assert here.bring("a", FIRE, None, holding["a"]) == [], "they ring once"
    assert here.state.silent == ["a"]
    assert here.state.open
    here.drop_brought("a")
    assert here.state.brought == here.state.newest == {}
    assert said(here.accepted("b", T0 + 2 * HOUR, 20_000, False)) == [("fire", False), ("too-hot", False)]


def test_an_emptied_pile_is_watched_for_fire_alone_and_goes_on_where_it_stood_if_that_is_taken_back(danger):
    danger.accepted("a", T0, FIRE, False)
    danger.accepted("a", T0 + DWELL, FIRE, False)
    assert said(danger.empty()) == [("too-hot", False), ("hot", False)]
    assert on(danger) == ["fire"]
    before = dict(danger.state.before)
    assert sorted(before) == ["hot", "too-hot"]
    assert said(danger.refill(before)) == [("too-hot", True), ("hot", True)]
    assert danger.state.before == {}
    assert danger.state.too_hot.since == T0


def test_taken_back_too_late_nothing_goes_on_that_has_cooled(danger):
    danger.accepted("a", T0, TOO_HOT, False)
    danger.empty()
    before = dict(danger.state.before)
    danger.accepted("a", T0 + HOUR, TOO_HOT - BAND - 1, False, only_fire=True)
    assert danger.refill(before) == []
    assert on(danger) == []


def test_a_wait_that_was_running_goes_on_only_above_the_limit(danger):
    running = {"hot": Excursion(T0, T0, False, T0 + DWELL)}
    danger.accepted("a", T0, HOT - 1, False)
    assert danger.refill(running) == []
    assert danger.due() is None
    danger.accepted("a", T0 + MIN, HOT, False)
    danger.empty()
    assert danger.refill(running) == []
    assert danger.due() == T0 + DWELL


def test_a_probe_that_leaves_takes_its_alarm_along_unless_another_holds_it(danger):
    danger.accepted("a", T0, FIRE, False)
    danger.accepted("b", T0, TOO_HOT, False)
    assert said(danger.forget("a")) == [("fire", False)]
    assert said(danger.forget("b")) == [("too-hot", False)]
    danger.flagged("c", T0, FIRE, False)
    assert said(danger.forget("c")) == [("look-at-probe", False)]
    assert (danger.state.newest, danger.state.accepted, danger.state.flagged) == ({}, {}, {})


def test_a_calm_pile_needs_no_look_at_readings_below_all_its_limits(danger):
    (span,) = danger.calm().spans
    assert span.most == HOT - BAND - 1
    danger.accepted("a", T0, HOT, False)
    assert danger.calm() is None
    danger.accepted("a", T0 + 1, HOT - 1, False)
    assert danger.calm() is not None, "a wait that was broken is nothing open"


def test_probes_taken_out_let_the_wait_stand_still(danger):
    danger.accepted("a", T0, HOT, False)
    danger.pause()
    assert danger.due() is None
    assert danger.state.hot.since is None
