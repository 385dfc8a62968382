"""The clock at start: whoever is right, no reading is lost, no fire is silenced, and what is wrong is told."""

import random

import pytest

from monitor.app.daemon.daemon import Daemon
from monitor.app.loop.clock import YardClock
from monitor.app.loop.witnesses import Timing, Witnesses
from monitor.configuration import load_text
from monitor.engine import Engine
from monitor.engine.stretch import ColumnHistory, Commits, commits_from_events, feed_commits
from monitor.intake import Arrival
from monitor.model.events import EventKind
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.recordings import effect_line

T0 = 1_793_577_600_000
YARD = """
[site]
time_zone = "UTC"
temperature_unit = "degC"
data = "data"
[piles.p1]
rule = "none"
[bins.b1]
[probes.p1-a]
place = "p1"
[probes.p1-b]
place = "p1"
[probes.b1-a]
place = "b1"
[contacts.ann]
quiet = "none"
digest = false
"""


class Yard:
    """A daemon whose computer is off by `wrong` ms; nodes know the true time, or are off by their own."""

    def __init__(self, folder, wrong, *, synchronised=None, timing=None):
        self.true, self.mono, self.wrong, self.synchronised = T0, 1000.0, wrong, synchronised
        self.folder = folder
        self.number = 0
        self.acknowledged = []
        self.timing = timing
        self.start()

    def start(self):
        configuration = load_text(YARD, self.folder / "heaptender.toml", {}, rules=set())
        clock = YardClock(lambda: self.true + self.wrong, lambda: self.mono, lambda: self.synchronised, self.timing)
        self.daemon = Daemon(configuration, clock)
        self.hub, self.store = self.daemon.hub, self.daemon.writer.store
        self.hub.sources = {"mqtt": self}
        self.hub.event(EventKind.STARTED, {"down_since": self.daemon.writer.resumed.down_since})
        self.daemon._settings_event()
        from monitor.app.loop.clock_events import off

        if not clock.confirmed or off(self.daemon.writer.engine, clock):
            state = {"state": "unconfirmed", "by_ms": 0, "off_ms": off(self.daemon.writer.engine, clock)}
            self.hub.event(EventKind.CLOCK, state)
        self.hub.step(0.0)

    def acknowledge(self, tokens):
        self.acknowledged += tokens
        return len(self.acknowledged)

    def passes(self, ms=10_000):
        self.true += ms
        self.mono += ms / 1000
        self.hub.step(0.0)

    def send(self, probe, value, off_ms=0, node=""):
        self.number += 1
        heard = (Heard(probe, "temperature", int(value * 1_000_000), "Cel", self.true + off_ms),)
        now = self.daemon.clock.now_ms()
        self.hub.offer(Arrival("mqtt", now, heard, (), (1, self.number), f"nodes/{node or probe}", b"raw"))
        self.hub.step(0.0)

    def stored(self):
        return [row.probe for row in self.store.readings(self.store.probes(), 0, 1 << 60)]

    def alarms(self, axis):
        effects = [effect for effect in self.store.effects() if effect.draft.axis == axis]
        return [effect.draft.after for effect in effects if effect.draft.kind.value == "alarm"]

    def clock_events(self):
        events = [event.payload for event in self.store.events() if event.kind is EventKind.CLOCK]
        return [(one["state"], one["by_ms"]) for one in events if one["state"] != "waiting"]

    def texts(self):
        return [effect.draft.text for effect in self.store.effects() if effect.draft.kind.value == "notice"]


@pytest.fixture
def make(tmp_path):
    made = []

    def yard(*what, **more):
        made.append(Yard(tmp_path, *what, **more))
        return made[-1]

    yield yard
    for one in made:
        one.daemon.writer.close()


def test_a_computer_a_day_behind_takes_the_probes_time_within_minutes_and_loses_nothing(make):
    yard = make(-DAY_MS)
    for _ in range(30):
        yard.send("p1-a", 50)
        yard.send("b1-a", 21)
        yard.passes()
    assert len(yard.stored()) == 60
    assert len(yard.acknowledged) == 60
    assert yard.store.waiting_readings() == 0
    assert yard.store.quarantine() == []
    assert yard.clock_events() == [("unconfirmed", 0), ("off", DAY_MS)]
    assert abs(yard.daemon.clock.now_ms() - yard.true) <= 1000
    assert "24 h behind the probes' clocks" in " ".join(yard.texts())
    # A day went by at once: nobody was silent for it.
    assert yard.alarms("silent") == []
    yard.wrong = 0
    yard.passes()
    assert yard.clock_events()[-1] == ("confirmed", 0)
    assert yard.alarms("clock")[-1] in ("normal", "returned unacknowledged")


def test_every_message_is_acknowledged_at_once_whatever_its_time(make):
    yard = make(-DAY_MS)
    for number in range(200):
        yard.send("p1-a", 50, off_ms=number)
    assert len(yard.acknowledged) == 200
    assert yard.store.waiting_readings() == 200


def test_a_fire_is_told_while_nobody_knows_the_time(make):
    yard = make(-DAY_MS)
    yard.send("p1-a", 88)
    assert yard.alarms("look-at-probe") == ["unacknowledged"]
    yard.passes()
    yard.send("p1-a", 90)
    assert yard.alarms("fire") == ["unacknowledged"]
    assert "FIRE DANGER" in " ".join(yard.texts())


def test_a_fire_is_told_by_a_computer_a_day_ahead_before_and_after_it_is_known(make):
    yard = make(DAY_MS)
    for value in (70, 75, 80, 84, 86):
        yard.send("p1-a", value)
        yard.passes(5000)
    assert yard.alarms("fire") == ["unacknowledged"]


def test_a_computer_a_day_ahead_is_told_and_its_bins_are_watched_all_the_same(make):
    yard = make(DAY_MS)
    for _ in range(15):
        yard.send("p1-a", 50)
        yard.send("b1-a", 21)
        yard.passes()
    assert yard.clock_events() == [("unconfirmed", 0), ("off", -DAY_MS)]
    assert "24 h ahead of the probes' clocks" in " ".join(yard.texts())
    for value in (36, 37, 37):
        yard.send("b1-a", value)
        yard.passes()
    assert yard.alarms("worms-in-danger") == ["unacknowledged"]
    assert len(yard.stored()) == 33
    # It is put right: instants never go back, and until the time has caught up that is told.
    yard.wrong = 0
    for _ in range(5):
        yard.send("b1-a", 36)
        yard.passes()
    assert yard.clock_events()[-1] == ("confirmed", 0)
    assert yard.alarms("clock")[-1] == "unacknowledged"
    yard.true += DAY_MS
    yard.mono += DAY_MS / 1000
    yard.hub.step(0.0)
    assert yard.clock_events()[-1] == ("caught up", 0)
    assert yard.alarms("clock")[-1] in ("normal", "returned unacknowledged")


def test_a_record_that_runs_ahead_of_the_clock_is_told_at_start(make):
    yard = make(DAY_MS, synchronised=True)
    yard.send("b1-a", 21)
    yard.daemon.writer.close()
    yard.wrong = 0
    yard.start()
    for value in (36, 37, 37):
        yard.send("b1-a", value)
        yard.passes()
    assert yard.alarms("clock") == ["unacknowledged"]
    assert yard.alarms("worms-in-danger") == ["unacknowledged"]


@pytest.mark.parametrize("fast", [10 * MINUTE_MS, 365 * DAY_MS])
@pytest.mark.parametrize("first", [True, False])
def test_of_one_fast_node_only_its_own_readings_are_set_aside(make, fast, first):
    yard = make(0)
    nodes = [("p1-b", fast)] * 40
    others = [("p1-a", 0), ("b1-a", 0)] * 3
    order = [*nodes, *others] if first else [*others, *nodes]
    for probe, off in order:
        yard.send(probe, 50, off)
        yard.passes(1000)
    for _ in range(12):
        for probe, off in (("p1-b", fast), ("p1-a", 0), ("b1-a", 0)):
            yard.send(probe, 50, off)
        yard.passes()
    assert len(yard.acknowledged) == yard.number
    assert set(yard.stored()) == {"p1-a", "b1-a"}
    assert len(yard.stored()) == 30
    assert {one.reason for one in yard.store.quarantine()} == {SetAside.AHEAD}
    assert len(yard.store.quarantine()) == 52
    assert yard.store.waiting_readings() == 0
    assert abs(yard.daemon.clock.now_ms() - yard.true) <= 1000
    assert yard.clock_events()[-1] == ("confirmed", 0)


def test_a_fire_of_a_fast_node_is_told_though_its_readings_are_set_aside(make):
    yard = make(0, synchronised=True)
    for _ in range(3):
        yard.send("p1-a", 90, 10 * MINUTE_MS)
        yard.passes()
    assert yard.stored() == []
    assert yard.alarms("fire") == ["unacknowledged"]


def test_readings_that_wait_survive_the_end_of_the_program(make):
    yard = make(-HOUR_MS)
    for value in (50, 51, 52):
        yard.send("p1-a", value)
        yard.passes()
    yard.daemon.writer.close()
    yard.wrong, yard.synchronised = 0, True
    yard.start()
    yard.passes()
    assert len(yard.stored()) == 3
    assert yard.store.waiting_readings() == 0


def test_a_lone_node_is_believed_after_a_while_if_it_is_not_far_ahead(make):
    yard = make(-DAY_MS)
    for _ in range(24):
        yard.send("p1-a", 50)
        yard.passes()
    assert yard.stored() == []
    for _ in range(12):
        yard.send("p1-a", 50)
        yard.passes()
    assert len(yard.stored()) == 36


def test_a_lone_node_far_ahead_is_not(make):
    yard = make(0)
    for _ in range(40):
        yard.send("p1-a", 50, 365 * DAY_MS)
        yard.passes()
    assert yard.stored() == []
    assert len(yard.store.quarantine()) == 40
    assert yard.clock_events()[-1] == ("confirmed", 0)


def test_a_queue_that_drains_moves_no_clock(make):
    yard = make(0)
    for minute in range(120, 0, -1):
        yard.send("p1-a", 50, -minute * MINUTE_MS)
        yard.send("p1-b", 50, -minute * MINUTE_MS)
        if minute % 5 == 0:
            yard.passes(1000)
    for _ in range(12):
        yard.send("p1-a", 50)
        yard.send("p1-b", 50)
        yard.passes()
    assert yard.clock_events() == [("unconfirmed", 0), ("confirmed", 0)]


@pytest.mark.parametrize("seed", range(30))
def test_the_order_in_which_witnesses_speak_changes_no_verdict(seed):
    chance = random.Random(seed)
    off, fast = chance.choice([0, DAY_MS, -DAY_MS, HOUR_MS]), chance.choice([10 * MINUTE_MS, 365 * DAY_MS])
    witnesses = Witnesses(Timing())
    says = [(f"n{number}", 0) for number in range(3)] + [("fast", fast)]
    found, mono = None, 0.0
    while found is None and mono < 1200:
        chance.shuffle(says)
        for who, wrong in says:
            mono += chance.uniform(1, 8)
            witnesses.says(who, T0 + int(mono * 1000) + off + wrong, mono)
            found = found or witnesses.verdict(T0 + int(mono * 1000), mono)
    assert found is not None
    assert abs(found.off_ms - off) < 1000
    assert mono < 180


@pytest.mark.parametrize("wrong", [-DAY_MS, DAY_MS])
def test_what_was_decided_under_a_wrong_clock_the_events_decide_again(make, wrong):
    yard = make(wrong)
    for number in range(40):
        yard.send("p1-a", 60 + number % 5)
        yard.send("b1-a", 36 if number > 20 else 21)
        yard.passes()
        if number == 35:
            yard.wrong = 0
    engine, again = Engine(), []
    for event in yard.store.events():
        again += engine.feed(event, yard.store)
    again += engine.advance(yard.store.mark().latest())
    stored = [effect_line(effect) for effect in yard.store.effects()]
    assert [effect_line(effect) for effect in again] == stored
    # The second door gives the same, and steps where lateness is judged by another time.
    history, effects, engine = ColumnHistory(), [], Engine()
    for piece in commits_from_events(list(yard.store.events())):
        if isinstance(piece, Commits):
            effects += feed_commits(engine, piece, history, least=2)
        else:
            effects += engine.feed(piece, history)
    effects += engine.advance(yard.store.mark().latest())
    assert [effect_line(effect) for effect in effects] == stored


def test_beyond_a_bound_the_oldest_that_wait_are_judged_by_the_clock_as_it_is(make, monkeypatch):
    monkeypatch.setattr("monitor.app.loop.hub.WAITING_MAX", 20)
    monkeypatch.setattr("monitor.app.loop.turns.RELEASED", 10)
    monkeypatch.setattr("monitor.app.loop.hub.RELEASED", 10)
    yard = make(-DAY_MS)
    for number in range(50):
        yard.send("p1-a", 50, off_ms=number)
    assert len(yard.acknowledged) == 50
    assert yard.store.waiting_readings() <= 21
    assert yard.store.waiting_readings() + len(yard.store.quarantine()) == 50
