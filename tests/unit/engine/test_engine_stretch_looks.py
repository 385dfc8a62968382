"""The second door looks only where something may change: a quiet record is taken in runs, not commit by commit."""

import random
from math import pi, sin

import pytest
from engine_both_doors import Recorder, fast
from engine_yard import DAY, HOUR, MIN, T0, yard

from monitor.engine import Engine
from monitor.engine.stretch.checks import Checks
from monitor.engine.stretch.drive import Drive
from monitor.model.events import Event, EventKind
from monitor.recordings import MemoryHistory
from monitor.recordings.effect_lines import effect_line

DAYS, STEP = 5, 10 * MIN


def s(days):
    return sin(2 * pi * days)


def air(x):
    return {"air": 12 + 4 * s(x)}


def bins(x):
    return {"b1_t": 22 + s(x), "b1_u": 21 + s(x), "b1_m": 75 + s(x), "b2_t": 20 + s(x)}


def steady(x):
    return {**air(x), "p1_a": 58 + 0.5 * s(x), "p1_b": 57 + 0.5 * s(1.3 * x)}


def cooling(x):
    return {**air(x), "p1_a": 65 - 5 * x, "p1_b": 66 - 5 * x}


def passing(x):
    """A bin that passes the limit of overheating and comes back four times a day."""
    return {"b1_t": 29.4 + 1.5 * s(4 * x), "b1_u": 21 + s(x)}


def falling_silent(x):
    return {"b1_t": 22 + s(x), **({} if 2 < x < 3 else {"b1_u": 21 + s(x)})}


def dead_core(x):
    """A heap of which one probe falls silent for a day, and the other for some hours of it."""
    return {
        **air(x),
        **({} if 2.4 < x < 2.7 else {"p1_a": 58 + 0.5 * s(x)}),
        **({} if 2 < x < 3 else {"p1_b": 57 + 0.5 * s(1.3 * x)}),
    }


def hot(x):
    """A heap so hot that the silence of one probe would be told at once."""
    return {**air(x), "p1_a": 74 + s(x), "p1_b": 57}


def cooled(x):
    """One that was so hot for its first hours."""
    return {**air(x), "p1_a": 74 if x < 0.3 else 62, "p1_b": 57}


def hot_once(x):
    """A heap that was hot for an hour; then its hot probe cools and stops."""
    return {**air(x), **({"p1_a": 75 if x < 0.04 else 60} if x < 0.2 else {} if x < 0.4 else {"p1_a": 58}), "p1_b": 57}


def wavering(x):
    """A heap that passes the hold limit from one commit to the next, while others cool, fall silent and get too warm."""
    n = round(x * DAY / STEP)
    return {
        **air(x),
        "p1_a": 54 + (n * 7 % 5) / 2,
        "p1_b": 57,
        **({} if 1.2 < x < 1.9 else {"p2_a": 62 - 5 * x}),
        **({} if 1 < x < 2 else {"b1_u": 21}),
        "b1_t": 28.9 + n % 40 / 40,
    }


def wavering_alone(x):
    """Two heaps that do so, and nothing beside them."""
    n = round(x * DAY / STEP)
    return {**air(x), "p1_a": 54 + (n * 7 % 5) / 2, "p1_b": 57, "p2_a": 54 + (n * 3 % 7) / 3}


def recorded(course, begun=T0 - MIN, days=DAYS):
    """The record of a yard that has the course's probes and no others; its settings came at `begun`."""
    names = {name.replace("_", "-") for name in course(0)}
    probes = {name: probe for name, probe in yard().probes.items() if name in names}
    places = {probe.place for probe in probes.values()}
    drive = Recorder(
        yard(
            probes=probes,
            piles={name: pile for name, pile in yard().piles.items() if name in places},
            bins={name: bed for name, bed in yard().bins.items() if name in places},
        ),
        begun,
    )
    for at in range(T0, T0 + days * DAY, STEP):
        drive.read(at, **course((at - T0) / DAY))
    return drive


@pytest.mark.parametrize(
    ("course", "alone", "stops", "looks"),
    [
        (bins, 3, 0, 0),
        (steady, 5, 3, 1),
        (cooling, 5, 11, 1),
        (passing, 3, 60, 0),
        (falling_silent, 4, 0, DAY // STEP),
        (wavering, 67, 133, 220),
        (wavering_alone, 6, 20, 1),
    ],
    ids=lambda one: getattr(one, "__name__", ""),
)
def test_a_record_is_looked_at_only_where_something_may_change(monkeypatch, course, alone, stops, looks):
    drive = recorded(course)
    counts = {"alone": 0, "stops": 0, "looks": 0}

    def counting(owner, name, what):
        whole = getattr(owner, name)

        def counted(self, *more):
            counts[what] += 1
            return whole(self, *more)

        monkeypatch.setattr(owner, name, counted)

    counting(Engine, "feed", "alone")
    counting(Drive, "_feed", "stops")
    counting(Checks, "_look", "looks")
    engine, lines = fast(drive.events, least=96)
    assert lines == drive.lines()
    assert engine.snapshot() == drive.engine.snapshot()
    assert counts["alone"] <= alone, "commits and events fed by themselves"
    assert counts["stops"] <= stops, "commits of a run at which it stopped"
    assert counts["looks"] <= looks, "looks for silent probes that were not a sum"


def test_a_reading_by_hand_amid_a_long_record_rings_at_its_own_instant():
    drive = recorded(steady)
    at = T0 + DAYS * DAY
    for n in range(300):
        row = [
            [at, "air", 12_000_000, "Cel"],
            [at, "p1-a", 58_000_000 + n * 1000, "Cel"],
            [at, "p1-b", 57_000_000, "Cel"],
        ]
        by_hand = [[at, "hand:p1", 78_000_000, "Cel"]] if n == 200 else []
        drive.feed(at, "readings", {"rows": sorted(row + by_hand), "ahead": []})
        at += STEP
    assert drive.rings("too-hot") == [T0 + DAYS * DAY + 200 * STEP]
    engine, lines = fast(drive.events, least=96)
    assert lines == drive.lines()
    assert engine.snapshot() == drive.engine.snapshot()


@pytest.mark.parametrize(
    "course",
    [bins, steady, passing, falling_silent, dead_core, hot, cooled, wavering, wavering_alone],
    ids=lambda one: one.__name__,
)
@pytest.mark.parametrize("before", [30 * MIN, 30 * MIN + 1], ids=["at it", "after it"])
def test_a_look_for_silence_at_the_very_instant_of_another_deadline_is_served_in_its_turn(course, before):
    """Looks come every half hour from the settings on, and the digest goes out at half past seven."""
    drive = recorded(course, T0 - before, days=3)
    engine, lines = fast(drive.events, least=2)
    assert lines == drive.lines()
    assert engine.snapshot() == drive.engine.snapshot()


@pytest.mark.parametrize("course", [dead_core, hot_once, hot, cooled, wavering], ids=lambda one: one.__name__)
@pytest.mark.parametrize("hours", [3, 8])
def test_runs_that_begin_amid_a_silence_or_after_heat_remember_what_was_before(course, hours):
    """An answer to an alarm that never rang changes nothing, but a run ends there and another begins."""
    drive = recorded(course, days=3)
    mark = next(n for n, event in enumerate(drive.events) if event.at >= T0 + hours * HOUR)
    answer = Event(
        drive.events[mark].at - 1, EventKind.ANSWER, {"alarm": "x", "answer": "seen", "by": "", "until": None}
    )
    plain, effects = Engine(), []
    history = MemoryHistory()
    events = [*drive.events[:mark], answer, *drive.events[mark:]]
    for event in events:
        history.take(event.payload)
        effects += plain.feed(event, history)
    engine, lines = fast(events, least=2)
    assert lines == [effect_line(effect) for effect in effects]
    assert engine.snapshot() == plain.snapshot()
    if course is hot_once:
        assert any(effect.draft.axis == "hot-and-lost" for effect in effects)


@pytest.mark.parametrize("delay", [70 * MIN, 3 * HOUR])
@pytest.mark.parametrize("seed", range(3))
def test_a_node_that_holds_its_readings_back_for_hours_is_the_same_at_both_doors(delay, seed):
    """The flags of one probe hang on what another showed in that hour, which is not known yet."""
    rng, levels = random.Random(seed), {"air": 12.0, "p1-a": 57.0, "p1-b": 56.0, "b1-t": 22.0}
    drive = Recorder(yard(probes={name: probe for name, probe in yard().probes.items() if name in levels}))
    for at in range(T0, T0 + 2 * DAY, STEP):
        rows = []
        for name, before in list(levels.items()):
            value = before + rng.uniform(-0.3, 0.3) + (rng.choice([-12, 12]) if rng.random() < 0.02 else 0)
            time = at - delay if name in ("p1-b", "b1-t") else at
            rows.append([time, name, round(value * 16) * 62_500, "Cel"])
            levels[name] = value
        drive.feed(at, "readings", {"rows": sorted(rows), "ahead": []})
    engine, lines = fast(drive.events, least=2)
    assert lines == drive.lines()
    assert engine.snapshot() == drive.engine.snapshot()
