"""The writer's loop: what is acknowledged and when, what a failing disk costs, and what rest costs (nothing)."""

import threading
from contextlib import suppress
from pathlib import Path

import pytest

from monitor.app.daemon.daemon import Daemon
from monitor.app.loop import intray
from monitor.app.loop import turns as turns_module
from monitor.app.loop.clock import YardClock
from monitor.app.loop.gathering import ASIDE_KEPT
from monitor.codec import Reject
from monitor.configuration import load_text
from monitor.engine import Engine
from monitor.intake import Arrival
from monitor.journal import Inbox, open_reader
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard
from monitor.model.times import HOUR_MS, MINUTE_MS

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
role = "core"
[probes.b1-a]
place = "b1"
role = "bedding"
"""


class World:
    """Wall clock, monotonic clock and synchronisation, each moved by hand."""

    def __init__(self):
        self.wall, self.mono, self.synchronised = T0, 0.0, True

    def clock(self):
        return YardClock(lambda: self.wall, lambda: self.mono, lambda: self.synchronised)

    def passes(self, ms):
        self.wall += ms
        self.mono += ms / 1000


class Source:
    """Keeps what was acknowledged, with the readings that stood in the journal by then."""

    name = "mqtt"

    def __init__(self, folder):
        self.folder, self.acknowledged, self.stored_by_then = folder, [], []

    def acknowledge(self, tokens):
        tokens = list(tokens)
        self.acknowledged += tokens
        self.stored_by_then.append(len(values(self.folder)))
        return len(tokens)


def values(folder):
    with open_reader(folder) as store:
        return [row.micro // 1_000_000 for row in store.readings(store.probes(), 0, 1 << 60)]


def arrival(value, *, time=T0, token=None, probe="p1-a", received=T0):
    heard = (Heard(probe, "temperature", value * 1_000_000, "Cel", time),)
    return Arrival("mqtt", received, heard, (), token, "topic", b"raw")


@pytest.fixture
def yard(tmp_path, monkeypatch):
    monkeypatch.setattr(turns_module, "FIRST_PAUSE_S", 0.001)
    monkeypatch.setattr(turns_module, "LONGEST_PAUSE_S", 0.001)
    yard = Yard(tmp_path)
    yield yard
    yard.daemon.writer.close()


class Yard:
    def __init__(self, folder: Path):
        self.world = World()
        self.folder = folder / "data"
        configuration = load_text(YARD, folder / "heaptender.toml", {}, rules=set())
        self.daemon = Daemon(configuration, self.world.clock())
        self.hub = self.daemon.hub
        self.source = Source(self.folder)
        self.hub.sources = {"mqtt": self.source}
        self.hub.event(EventKind.STARTED, {"down_since": None})
        self.daemon._settings_event()
        self.hub.step(0.0)

    def offer(self, *arrivals):
        for one in arrivals:
            self.hub.offer(one)
        self.hub.step(0.0)

    def events(self, kind):
        return [event for event in self.daemon.writer.store.events() if event.kind is kind]

    def alarms(self, axis):
        effects = [effect for effect in self.daemon.writer.store.effects() if effect.draft.axis == axis]
        return [effect.draft.after for effect in effects if effect.draft.kind.value == "alarm"]

    def transactions(self):
        begun = []
        self.daemon.writer.store.connection.set_trace_callback(
            lambda text: begun.append(text) if text.startswith("BEGIN") else None
        )
        return begun


def failing(yard, monkeypatch, times, fault):
    """Let the next turns fail when they are about to be committed."""
    turn, left = yard.daemon.writer.turn, [times]

    class Failing:
        def __init__(self, now):
            self.inner = turn(now)

        def __enter__(self):
            return self.inner.__enter__()

        def __exit__(self, *what):
            if what[0] is None and left[0] > 0:
                left[0] -= 1
                assert not self.inner.__exit__(type(fault), fault, None)
                raise fault
            return self.inner.__exit__(*what)

    monkeypatch.setattr(yard.daemon.writer, "turn", Failing)


def test_at_rest_there_is_no_transaction_and_the_watermark_moves_once_a_minute(yard):
    begun = yard.transactions()
    for _ in range(59):
        yard.world.passes(1000)
        yard.hub.step(0.0)
    assert begun == []
    for _ in range(300):
        yard.world.passes(1000)
        yard.hub.step(0.0)
    # A deadline or two may fall due besides.
    assert 5 <= len(begun) <= 8
    assert yard.daemon.writer.store.mark().advanced > yard.world.wall - 2 * MINUTE_MS


def test_a_message_is_acknowledged_after_its_commit_also_when_nothing_of_it_is_kept(yard):
    yard.offer(arrival(20, token=(1, 1)), arrival(21, time=T0 + 1, token=(1, 2)))
    assert yard.source.acknowledged == [(1, 1), (1, 2)]
    assert yard.source.stored_by_then == [2]
    yard.offer(Arrival("mqtt", T0, (), (), (1, 3)), arrival(22, probe="who", token=(1, 4)))
    assert yard.source.acknowledged[2:] == [(1, 3), (1, 4)]
    assert [one.reason for one in yard.daemon.writer.store.set_aside()] == [SetAside.UNKNOWN_PROBE]


def test_a_failing_disk_is_waited_for_and_nothing_is_lost_or_twice(yard, monkeypatch):
    failing(yard, monkeypatch, 3, UnavailableError("the disk is full"))
    yard.hub.event(EventKind.LINK, {"what": "channel", "name": "wire", "up": False, "why": "refused"})
    yard.offer(arrival(20, token=(1, 1)))
    assert values(yard.folder) == [20]
    assert yard.source.acknowledged == [(1, 1)]
    assert [event.payload["name"] for event in yard.events(EventKind.LINK)] == ["wire"]


def test_told_to_stop_while_the_disk_fails_it_acknowledges_nothing(yard, monkeypatch):
    failing(yard, monkeypatch, 1 << 30, UnavailableError("the disk is full"))
    yard.daemon.stop.set()
    with pytest.raises(UnavailableError, match="full"):
        yard.offer(arrival(20, token=(1, 1)))
    assert yard.source.acknowledged == []
    yard.daemon.end()
    assert values(yard.folder) == []


def test_while_much_waits_sources_are_held_back_and_at_last_turned_away(yard, monkeypatch):
    monkeypatch.setattr(intray, "_FULL", 3)
    monkeypatch.setattr(intray, "_OVERFULL", 5)
    monkeypatch.setattr(intray, "ROOM_WAIT_S", 0.01)
    starved = []
    yard.hub.starved = lambda: starved.append(True)
    for number in range(6):
        yard.hub.offer(arrival(20, time=T0 + number, token=(1, number)))
    with pytest.raises(UnavailableError, match="waits"):
        yard.hub.offer(arrival(20, time=T0 + 9, token=(1, 9)))
    yard.hub.step(0.0)
    assert len(yard.source.acknowledged) == 6
    # The broker keeps what was turned away until it is asked again, which a new connection does.
    assert starved == [True]


def test_what_found_no_room_while_nothing_could_be_stored_is_counted_and_is_no_flood(yard, monkeypatch):
    monkeypatch.setattr(intray, "_FULL", 3)
    monkeypatch.setattr(intray, "_OVERFULL", 5)
    monkeypatch.setattr(intray, "ROOM_WAIT_S", 0.01)

    def too_many(begin):
        for number in range(8):
            with suppress(UnavailableError):
                yard.hub.offer(arrival(20, time=T0 + begin + number, token=None))

    def floods():
        yard.hub.step(0.0)
        return [one.payload["up"] for one in yard.events(EventKind.LINK) if one.payload["what"] == "flood"]

    yard.hub.meanwhile.failed("the disk is full", [], [])
    too_many(0)
    yard.hub.meanwhile.stored()
    assert floods() == []
    assert [one.reason for one in yard.daemon.writer.store.set_aside()] == [SetAside.NO_ROOM]
    too_many(100)
    assert floods() == [False]


def test_a_few_heavy_messages_hold_a_source_back_like_many_light_ones(yard, monkeypatch):
    monkeypatch.setattr(intray, "_FULL_BYTES", 100_000)
    monkeypatch.setattr(intray, "_OVERFULL_BYTES", 200_000)
    monkeypatch.setattr(intray, "ROOM_WAIT_S", 0.0)
    heavy = arrival(20, token=(1, 1))._replace(raw=b"x" * 60_000)
    many = arrival(20, token=(1, 2))._replace(heard=arrival(20).heard * 300)
    yard.hub.offer(heavy)
    yard.hub.offer(many)
    yard.hub.offer(heavy)
    with pytest.raises(UnavailableError, match="waits"):
        yard.hub.offer(heavy)
    yard.hub.step(0.0)
    yard.hub.offer(heavy)


def test_what_is_turned_away_and_does_not_come_again_is_counted_and_told(yard, monkeypatch, caplog):
    monkeypatch.setattr(intray, "_FULL", 1)
    monkeypatch.setattr(intray, "_OVERFULL", 2)
    monkeypatch.setattr(intray, "ROOM_WAIT_S", 0.0)
    starved = []
    yard.hub.starved = lambda: starved.append(True)
    for number in range(3):
        yard.hub.offer(arrival(20, time=T0 + number))
    for number in range(2):
        with pytest.raises(UnavailableError, match="waits"):
            yard.hub.offer(arrival(20, time=T0 + 9 + number, received=T0 + number))
    yard.hub.step(0.0)
    assert [tuple(one) for one in yard.daemon.writer.store.set_aside()] == [("mqtt", SetAside.NO_ROOM, 2, T0 + 1)]
    assert yard.alarms("flood") == ["unacknowledged"]
    assert "Messages flood in: some were lost" in caplog.text
    assert starved == [], "a new connection brings nothing back"
    yard.world.passes(9 * MINUTE_MS)
    yard.offer(arrival(21, time=T0 + 50))
    assert yard.alarms("flood") == ["unacknowledged"]
    yard.world.passes(MINUTE_MS + 1)
    yard.offer(arrival(21, time=T0 + 51))
    assert yard.alarms("flood")[1:] != []


def test_of_a_flood_of_strange_values_a_turn_keeps_some_and_counts_all(yard):
    strange = [arrival(20, probe=f"u{number}", received=T0 + number) for number in range(400)]
    with_checksum = Arrival("mqtt", T0, (), (Reject(SetAside.CHECKSUM, "the checksum is wrong", "x"),), None)
    yard.offer(*strange[:300], with_checksum, *strange[300:], arrival(20))
    store = yard.daemon.writer.store
    assert {(one.reason, one.total) for one in store.set_aside()} == {
        (SetAside.UNKNOWN_PROBE, 400),
        (SetAside.CHECKSUM, 1),
    }
    kept = [one.reason for one in store.quarantine(1_000)]
    assert (kept.count(SetAside.UNKNOWN_PROBE), kept.count(SetAside.CHECKSUM)) == (ASIDE_KEPT, 1)
    assert max(one.latest for one in store.set_aside()) == T0 + 399
    assert values(yard.folder) == [20]


def test_what_the_engine_cannot_take_is_set_aside_and_the_rest_goes_on(yard, monkeypatch):
    feed = Engine.feed

    def choking(self, event, history):
        if any(row[2] == 13_000_000 for row in event.payload.get("rows", ())):
            raise ZeroDivisionError("a fault of this program")
        return feed(self, event, history)

    monkeypatch.setattr(Engine, "feed", choking)
    yard.offer(*(arrival(value, time=T0 + value, token=(1, value)) for value in range(10, 18)))
    assert values(yard.folder) == [10, 11, 12, 14, 15, 16, 17]
    assert len(yard.source.acknowledged) == 8
    aside = yard.daemon.writer.store.quarantine()
    assert [one.source for one in aside] == ["p1-a"]
    assert "ZeroDivisionError" in aside[0].detail
    yard.offer(arrival(30, time=T0 + 30, token=(1, 30)))
    assert values(yard.folder)[-1] == 30


def test_a_fault_in_serving_time_sets_nothing_aside(yard, monkeypatch):
    def choking(self, to):
        raise ZeroDivisionError("a fault of this program")

    monkeypatch.setattr(Engine, "advance", choking)
    with pytest.raises(ZeroDivisionError):
        yard.offer(arrival(20, token=(1, 1)))
    assert yard.source.acknowledged == []
    assert yard.daemon.writer.store.quarantine() == []


def test_requests_that_cannot_be_taken_in_are_refused_one_by_one(yard):
    inbox = Inbox(yard.folder)
    bad = [inbox.submit(EventKind.CLOCK, {"n": number}) for number in range(12)]
    good = inbox.submit(EventKind.WORK, {"time": T0, "place": "p1", "kind": "turned"}, again=True)
    yard.world.passes(1000)
    yard.hub.step(0.0)
    assert all("is not understood" in inbox.answer(one).refusal for one in bad)
    assert inbox.answer(good).at is not None
    assert len(yard.events(EventKind.WORK)) == 1


def test_more_requests_than_one_turn_answers_are_all_answered(yard):
    inbox = Inbox(yard.folder)
    asked = [
        inbox.submit(EventKind.WORK, {"time": T0 + n, "place": "p1", "kind": "note", "note": "wet"}) for n in range(3)
    ]
    yard.world.passes(1000)
    turns_module_requests = turns_module.REQUESTS
    try:
        turns_module.REQUESTS = 3
        yard.hub.step(0.0)
        assert yard.hub._wait_s() == 0.0
    finally:
        turns_module.REQUESTS = turns_module_requests
    yard.hub.step(0.0)
    assert yard.hub._wait_s() > 0.0
    assert all(inbox.answer(one).at for one in asked)


def test_a_deliverer_that_fails_stops_no_reading_and_tells_its_link_once(yard):
    class Broken:
        tries = 0

        def step(self, rows, now, transaction):
            self.tries += 1
            yard.hub.event(EventKind.LINK, {"what": "channel", "name": "wire", "up": False, "why": "refused"})
            if self.tries < 3:
                raise KeyError("whatever")

    broken = yard.hub.deliverer = Broken()
    yard.offer(arrival(20, token=(1, 1)))
    yard.offer(arrival(21, time=T0 + 1, token=(1, 2)))
    assert broken.tries == 1
    for _ in range(2):
        yard.world.passes(2000)
        yard.hub.step(0.0)
    yard.hub.deliverer = None
    yard.hub.step(0.0)
    assert values(yard.folder) == [20, 21]
    assert len(yard.events(EventKind.LINK)) == 1


def test_a_task_that_fails_stops_nothing(yard):
    yard.hub.call(lambda: 1 // 0)
    done = threading.Event()
    yard.hub.call(done.set)
    yard.hub.flush()
    assert done.is_set()


def test_a_wall_clock_that_jumps_is_told_and_not_followed(yard):
    yard.world.wall += HOUR_MS
    yard.world.passes(1500)
    yard.hub.step(0.0)
    told = [(event.payload["state"], event.payload["by_ms"]) for event in yard.events(EventKind.CLOCK)]
    assert told == [("jumped", HOUR_MS)]
    assert yard.alarms("clock") == ["unacknowledged"]
    assert yard.daemon.clock.now_ms() < T0 + 2 * MINUTE_MS
    # Nothing is judged ahead now: by whose clock? It waits in the journal, and its message is acknowledged.
    yard.offer(arrival(20, time=T0 + HOUR_MS, token=(1, 1)))
    assert values(yard.folder) == []
    assert yard.source.acknowledged == [(1, 1)]
    assert yard.daemon.writer.store.waiting_readings() == 1
    for _ in range(15):
        yard.world.passes(MINUTE_MS)
        yard.hub.step(0.0)
    yard.hub.step(0.0)
    # Ten minutes of agreement with the synchronised system: it is followed, and what waited is taken in.
    assert [event.payload["state"] for event in yard.events(EventKind.CLOCK)] == ["jumped", "confirmed"]
    assert abs(yard.daemon.clock.now_ms() - yard.world.wall) < 1000
    assert yard.alarms("clock")[-1] in ("returned unacknowledged", "normal")
    assert values(yard.folder) == [20]
    assert yard.daemon.writer.store.waiting_readings() == 0
    assert yard.daemon.writer.store.quarantine() == []
    # Time went forward by an hour at once: nobody was silent for an hour.
    assert yard.alarms("silent") == []


def test_a_clock_that_is_put_back_is_waited_out(yard):
    yard.world.wall -= 3 * HOUR_MS
    yard.world.passes(1500)
    yard.hub.step(0.0)
    assert yard.alarms("clock") == ["unacknowledged"]
    for _ in range(15):
        yard.world.passes(MINUTE_MS)
        yard.offer(arrival(20, time=yard.world.wall))
    instants = [event.at for event in yard.daemon.writer.store.events()]
    assert instants == sorted(set(instants))
    assert yard.daemon.writer.store.effects() is not None
    assert len(values(yard.folder)) == 15


def test_the_other_values_of_a_message_do_not_wait_for_the_clock(tmp_path):
    world = World()
    world.synchronised = None
    configuration = load_text(YARD, tmp_path / "heaptender.toml", {}, rules=set())
    daemon = Daemon(configuration, world.clock())
    source = daemon.hub.sources["mqtt"] = Source(tmp_path / "data")
    daemon.hub.event(EventKind.STARTED, {"down_since": None})
    daemon._settings_event()
    daemon.hub.step(0.0)
    both = (
        Heard("p1-a", "temperature", 20_000_000, "Cel", T0 + HOUR_MS),
        Heard("b1-a", "temperature", 21_000_000, "Cel", T0),
    )
    daemon.hub.offer(Arrival("mqtt", T0, both, (), (1, 1)))
    daemon.hub.step(0.0)
    assert values(tmp_path / "data") == [21]
    assert source.acknowledged == [(1, 1)]
    assert daemon.writer.store.waiting_readings() == 1
    daemon.writer.close()


def test_a_token_of_a_replaced_source_never_reaches_its_successor(yard, monkeypatch):
    made = []

    class Line(Source):
        def __init__(self):
            super().__init__(yard.folder)
            self.last = arrival(20 + len(made), time=T0 + len(made), token=(1, len(made)))
            made.append(self)

        def start(self):
            pass

        def hold(self):
            pass

        def stop(self):
            # What was under way when it was told to end still comes, and is not acknowledged: it comes again.
            yard.hub.offer(self.last)

    monkeypatch.setattr("monitor.app.daemon.daemon.build_sources", lambda *_, **__: ([Line()], False))
    yard.daemon._start_sources()
    yard.hub.offer(arrival(40, time=T0 + 40, token=(1, 7)))
    yard.daemon._restart_sources()
    yard.hub.step(0.0)
    assert made[0].acknowledged == [(1, 7)]
    assert made[1].acknowledged == []
    assert values(yard.folder) == [20, 40]


def test_a_loop_that_does_not_come_round_is_seen_from_outside(yard):
    yard.world.passes(90_000)
    assert yard.hub.stuck_s() == 90.0
    yard.hub.step(0.0)
    assert yard.hub.stuck_s() == 0.0


def test_a_source_that_cannot_be_made_is_told_and_stops_no_other(tmp_path, monkeypatch):
    from monitor.app.connections.sources import build_sources

    def unreadable(*_, **__):
        raise UnavailableError("the certificate cannot be read")

    monkeypatch.setattr("monitor.intake.mqtt.MqttSource", unreadable)
    more = '[mqtt]\n[[mqtt.subscriptions]]\ntopic = "a"\nform = "senml"\n[serial.shed]\nurl = "loop://"\n'
    told = []
    sink = type("Sink", (), {"offer": lambda _self, item: told.append(item)})()
    configuration = load_text(YARD + more, tmp_path / "heaptender.toml", {}, rules=set())
    sources, lacking = build_sources(configuration, sink, World().clock())
    assert [source.name for source in sources] == ["shed"]
    assert lacking
    assert [(link.source, link.up, link.why) for link in told] == [("mqtt", False, "the certificate cannot be read")]


def test_letters_bear_the_names_of_the_moment(yard):
    from dataclasses import replace
    from types import SimpleNamespace

    from monitor.app.connections.deliveries import composer

    row = SimpleNamespace(
        id=1, at=T0, contact="ann", channel="wire", notice="abcde", place="b1", occasion="new", priority=1,
        text="Something.", attempts=0, maybe_repeat=False, why="",
    )  # fmt: skip
    compose = composer(lambda: yard.daemon.configuration, lambda: "")
    before = compose(row).title
    settings = yard.daemon.configuration.settings
    bins = {"b1": replace(settings.bins["b1"], name="Shady bin")}
    yard.daemon.configuration = replace(yard.daemon.configuration, settings=replace(settings, bins=bins))
    assert "Shady bin" not in before
    assert "Shady bin" in compose(row).title


def test_requests_that_cannot_be_looked_for_wait_and_nothing_ends(yard, monkeypatch):
    inbox = Inbox(yard.folder)
    asked = inbox.submit(EventKind.WORK, {"time": T0, "place": "p1", "kind": "note", "note": "wet"})
    looks, may_wait = [], yard.daemon.writer.requests.may_wait

    def failing():
        looks.append(True)
        if len(looks) == 1:
            raise UnavailableError("the disk failed")
        return may_wait()

    monkeypatch.setattr(yard.daemon.writer.requests, "may_wait", failing)
    for _ in range(2):
        yard.world.passes(1000)
        yard.hub.step(0.0)
    assert inbox.answer(asked).at is not None


def test_letters_go_out_and_are_tried_again_while_the_record_is_ahead_of_the_clock(yard):
    class Asked:
        times = ()

        def step(self, rows, now, transaction):
            self.times += (now,)

    # A clock that ran a day ahead was believed; it was put right, and the daemon started anew.
    ahead = T0 + 24 * HOUR_MS
    with yard.daemon.writer.turn(ahead) as turn:
        turn.advance(ahead)
    yard.daemon.clock._floor_ms = 0
    asked = yard.hub.deliverer = Asked()
    yard.hub.step(0.0)
    yard.world.passes(MINUTE_MS)
    yard.hub.step(0.0)
    assert yard.daemon.clock.now_ms() < ahead
    assert asked.times == (ahead, ahead + MINUTE_MS)
    # Once the clock has caught up, letters go by it again or run on, but never back.
    yard.world.passes(25 * HOUR_MS)
    yard.hub.step(0.0)
    assert asked.times[2] >= yard.daemon.clock.now_ms()
