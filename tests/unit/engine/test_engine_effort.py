"""The second door takes a run in steps that depend on its days and on what happens in them, not on how often probes report."""

import math

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, core, plain, yard

from monitor.engine import Engine
from monitor.engine.stretch import ColumnHistory, Commits, commits_from_events, feed_commits
from monitor.model.effects import Occasion
from monitor.model.events import Event, EventKind
from tests.worlds.effort import calls_of


def swing(base, by):
    return lambda days: base + by * math.sin(days * 2 * math.pi)


def course(start, end, in_days):
    return lambda days: start + (end - start) * min(1, days / in_days)


CALM = {"air": 12, "b1_t": 22, "b1_u": 23, "b1_m": 75, "b2_t": 20, "p1_a": 45, "p1_b": 46}


def events(step, days=3, late=0, seldom=(), **curves):
    """A start, settings, and a commit of all probes every `step` ms; a curve is a temperature or a function of the day.

    Rows lie up to `late` ms before their commit; those of the `seldom` ones come every third time.
    """
    found = [
        Event(T0 - MIN - 1, EventKind.STARTED, {"down_since": None}),
        Event(T0 - MIN, EventKind.SETTINGS, plain(yard())),
    ]
    for number, at in enumerate(range(T0, T0 + days * DAY, step)):
        rows = []
        for place, (name, curve) in enumerate(sorted(curves.items())):
            if name in seldom and number % 3:
                continue
            value = curve((at - T0) / DAY) if callable(curve) else curve + number % 5 / 16
            time = at - late * ((number + place) % 3) // 2
            rows.append([time, name.replace("_", "-"), round(value * 16) * 62_500, "%" if name == "b1_m" else "Cel"])
        found.append(Event(at, EventKind.READINGS, {"rows": sorted(rows), "ahead": []}))
    return found


def effort(step, **curves):
    """The steps that the door takes, and the number of effects but for repeats, which go by the clock."""
    engine, history, steps, effects = Engine(), ColumnHistory(), 0, []
    for piece in commits_from_events(events(step, **curves)):
        if isinstance(piece, Commits):
            steps += calls_of(lambda piece=piece: effects.extend(feed_commits(engine, piece, history)))
        else:
            engine.feed(piece, history)
    return steps, sum(one.draft.axis != Occasion.REPEAT for one in effects)


@pytest.mark.parametrize(
    ("curves", "a_day"),
    [
        ({}, 7_000),
        ({"p1_a": 60, "p1_b": 61}, 7_000),
        ({"air": swing(12, 8), "p1_a": swing(60, 4), "p1_b": swing(57, 3), "b1_t": swing(22, 4)}, 9_000),
        ({"p1_a": course(62, 35, 3), "p1_b": course(60, 33, 3)}, 10_500),
        ({"p1_a": course(25, 68, 2), "p1_b": course(25, 66, 2)}, 8_000),
        ({"p1_a": 74, "p1_b": 73}, 9_000),
        ({"b1_t": 32}, 8_500),
        ({"b1_t": course(22, 38, 2)}, 14_000),
        ({"b1_m": 90}, 8_000),
        ({"seldom": ("p1_b", "b1_u")}, 13_500),
        ({"late": 4 * MIN, "p1_a": 60, "p1_b": 60}, 8_000),
        ({"p1_a": swing(55, 1), "p1_b": swing(55.5, 0.7), "p2_a": swing(56, 2)}, 15_000),
    ],
    ids=[
        "calm",
        "hot",
        "swinging",
        "cooling",
        "heating",
        "too hot",
        "warm bed",
        "warming bed",
        "wet bed",
        "seldom",
        "late",
        "about the limit",
    ],
)
def test_twice_as_many_readings_take_no_more_steps_and_say_as_much(curves, a_day):
    seldom, said = effort(10 * MIN, **(CALM | curves))
    often, again = effort(5 * MIN, **(CALM | curves))
    assert again == said
    assert often < seldom * 1.05
    assert seldom < 3 * a_day


def late_effort(days, late):
    """The steps that a late reading of a heap takes after so many days, and a second one."""
    engine, history, steps = Engine(), ColumnHistory(), []
    for piece in commits_from_events(events(20 * MIN, days=days, **CALM)):
        if isinstance(piece, Commits):
            feed_commits(engine, piece, history)
        else:
            engine.feed(piece, history)
    for at in (T0 + days * DAY, T0 + days * DAY + 20 * MIN):
        one = Event(at, EventKind.READINGS, {"rows": [[at - late + 1, "p1-a", 60_000_000, "Cel"]], "ahead": []})
        history.take(one.payload)
        steps.append(calls_of(lambda one=one: engine.feed(one, history)))
    return steps


@pytest.mark.parametrize("late", [2 * HOUR, 3 * HOUR + 30 * MIN, 9 * HOUR])
def test_what_comes_late_again_takes_no_more_steps_in_an_old_heap_than_in_a_young_one(late):
    (_, young), (first, old) = late_effort(3, late), late_effort(6, late)
    assert old < young * 1.5
    assert old < first / 2


def late_effort_beside(others):
    """The steps that a second late reading of a heap takes in a yard with so many other probes."""
    beside = {f"p2-{number}": core("p2") for number in range(others)}
    drive = Drive(yard(bins={}, probes={"p1-a": core("p1"), **beside}))
    drive.work(T0, "p1", "built")
    drive.hold(T0 + MIN, T0 + DAY, step=30 * MIN, p1_a=60)
    drive.read(T0 + 12 * HOUR + 1, received=T0 + DAY, p1_a=60)
    return calls_of(lambda: drive.read(T0 + 12 * HOUR + 2, received=T0 + DAY + 1, p1_a=60))


def test_a_late_reading_takes_no_more_steps_for_probes_that_have_nothing_to_do_with_its_heap():
    assert late_effort_beside(200) < late_effort_beside(1) * 1.1


def entry_effort(place):
    """The steps that an entry about one heap takes where a later one was logged of `place`."""
    drive = Drive(yard(bins={}, probes={"p1-a": core("p1"), "p2-a": core("p2")}))
    drive.work(T0, "p2", "built")
    drive.hold(T0 + MIN, T0 + 3 * DAY, step=30 * MIN, p1_a=60, p2_a=60)
    drive.work(T0 + 3 * DAY + MIN, place, "watered")
    return calls_of(lambda: drive.work(T0 + 3 * DAY, "p1", "watered", entered=T0 + 3 * DAY + 2 * MIN))


def test_an_entry_has_a_heap_worked_out_again_only_for_later_ones_of_its_own_place():
    assert entry_effort("p2") < entry_effort("p1") / 3
