"""When a flood of messages begins and when it is over."""

from monitor.app.loop.flood import ASIDE_A_MINUTE, CALM_S, LOST, STRANGE, Flood
from monitor.model.alarm_kinds import Alarm
from monitor.model.events import EventKind


def news(flood, now_s, aside=0, lost=0, *, told=False):
    found = flood.look(now_s, aside, lost, told=told)
    assert all((kind, payload["what"]) == (EventKind.LINK, Alarm.FLOOD) for kind, payload in found)
    return [(payload["up"], payload["why"]) for _, payload in found]


def test_so_many_a_minute_are_no_flood_and_one_more_is():
    flood = Flood(0.0)
    assert news(flood, 10, ASIDE_A_MINUTE) == []
    assert news(flood, 59, 1) == [(False, STRANGE)]
    assert news(flood, 59.5, 1, told=True) == []


def test_each_minute_is_counted_anew():
    flood = Flood(0.0)
    assert news(flood, 59, ASIDE_A_MINUTE) == []
    assert news(flood, 60, ASIDE_A_MINUTE) == []
    assert news(flood, 119, 1) == [(False, STRANGE)]


def test_one_lost_message_is_told():
    assert news(Flood(0.0), 1, 0, 1) == [(False, LOST)]


def test_it_is_over_after_ten_calm_minutes_and_that_is_told_once():
    flood = Flood(0.0)
    news(flood, 100, 3, 1)
    assert flood.total == 4
    assert news(flood, 100 + CALM_S - 1, 5, told=True) == []
    assert news(flood, 100 + CALM_S, told=True) == [(True, "")]
    assert flood.total == 0
    assert news(flood, 101 + CALM_S) == []


def test_a_flood_that_an_earlier_program_told_of_is_waited_out():
    flood = Flood(500.0)
    assert news(flood, 500 + CALM_S - 1, told=True) == []
    assert news(flood, 500 + CALM_S, told=True) == [(True, "")]
