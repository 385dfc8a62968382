"""What the mirror is handed: nothing twice without need, nothing missed, and no verdict before there is one."""

import pytest

from monitor.app.connections.mirror_source import JournalSource, Unsettled
from monitor.engine import Engine
from monitor.journal import open_writer
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from monitor.model.settings import Bin, Probe, Settings
from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.model.words import Role

T0 = 1_793_577_600_000
SETTINGS = Settings(
    bins={"b1": Bin(name="Bin")},
    probes={name: Probe(place="b1", role=Role.BEDDING, address="") for name in ("b1-a", "b1-b")},
)


class Yard:
    def __init__(self, folder):
        from dataclasses import asdict

        self.folder = folder
        self.writer = open_writer(folder, Engine, Engine.restore)
        with self.writer.turn(T0 - 1) as turn:
            turn.event(EventKind.SETTINGS, {"settings": asdict(SETTINGS)})
        self.unsettled = Unsettled(self.writer.engine.state.conditioning)
        self.source = JournalSource(folder, lambda: SETTINGS, self.unsettled)
        self.cursor = 0

    def read(self, at, **celsius):
        rows = [Reading(at, name.replace("_", "-"), value * 1_000_000, "Cel") for name, value in celsius.items()]
        with self.writer.turn(at) as turn:
            turn.readings(rows)
        self.unsettled.look(self.writer.engine.state.conditioning)

    def advance(self, to):
        with self.writer.turn(to) as turn:
            turn.advance(to)
        self.unsettled.look(self.writer.engine.state.conditioning)

    def ask(self, n=100):
        found = self.source.readings_after(self.cursor, n)
        return [((one.time - T0) // MINUTE_MS, one.probe, one.milli, one.flag) for one in found.rows], found.cursor

    def take(self, n=100):
        rows, self.cursor = self.ask(n)
        return rows

    def restart(self):
        self.writer.close()
        self.writer = open_writer(self.folder, Engine, Engine.restore)
        self.unsettled = Unsettled(self.writer.engine.state.conditioning)
        self.source = JournalSource(self.folder, lambda: SETTINGS, self.unsettled)


@pytest.fixture
def yard(tmp_path):
    yard = Yard(tmp_path)
    yield yard
    yard.writer.close()


def test_a_pending_reading_has_no_verdict_until_the_next_one_gives_it(yard):
    yard.read(T0, b1_a=20)
    yard.read(T0 + MINUTE_MS, b1_a=40)
    assert yard.take() == [(0, "b1-a", 20_000, 1), (1, "b1-a", None, None)]
    assert yard.take() == []
    yard.read(T0 + 2 * MINUTE_MS, b1_a=20)
    assert yard.take() == [(2, "b1-a", 20_000, 1), (1, "b1-a", 40_000, 4)]
    yard.read(T0 + 3 * MINUTE_MS, b1_a=40)
    assert yard.take() == [(3, "b1-a", None, None)]
    yard.read(T0 + 4 * MINUTE_MS, b1_a=40)
    # It passed, which leaves no flag in the journal; it is handed out again all the same.
    assert yard.take() == [(4, "b1-a", 40_000, 1), (3, "b1-a", 40_000, 1)]
    yard.read(T0 + 5 * MINUTE_MS, b1_a=40)
    assert yard.take() == [(5, "b1-a", 40_000, 1)]


def test_a_verdict_that_a_deadline_gives_goes_with_what_comes_next_and_again_until_it_was_taken(yard):
    yard.read(T0, b1_a=20)
    yard.read(T0 + MINUTE_MS, b1_a=40)
    yard.take()
    yard.advance(T0 + HOUR_MS)
    assert yard.take() == []
    yard.read(T0 + HOUR_MS + 1, b1_b=20)
    expected = [(60, "b1-b", 20_000, 1), (1, "b1-a", 40_000, 1)]
    assert yard.ask()[0] == expected
    # The server did not take it: the cursor stays where it was.
    assert yard.take() == expected
    yard.read(T0 + HOUR_MS + MINUTE_MS, b1_b=20)
    assert yard.take() == [(61, "b1-b", 20_000, 1)]


def test_a_verdict_after_a_restart_is_not_missed(yard):
    yard.read(T0, b1_a=20)
    yard.read(T0 + MINUTE_MS, b1_a=40)
    assert (1, "b1-a", None, None) in yard.take()
    yard.restart()
    yard.read(T0 + 2 * MINUTE_MS, b1_a=40)
    assert yard.take() == [(2, "b1-a", 40_000, 1), (1, "b1-a", 40_000, 1)]


def test_flags_of_many_pages_are_all_handed_out(yard):
    levels = (20, 40, 20)
    for number in range(90):
        yard.read(T0 + number * MINUTE_MS, b1_a=levels[number % 3], b1_b=20)
    last = {}
    for _ in range(1000):
        rows = yard.take(1)
        if not rows:
            break
        last |= {(minute, probe): flag for minute, probe, _, flag in rows}
    whole = JournalSource(yard.folder, lambda: SETTINGS, yard.unsettled)
    dressed = whole.readings_between(0, 1 << 60)
    assert last == {((one.time - T0) // MINUTE_MS, one.probe): one.flag for one in dressed}
    assert list(last.values()).count(4) == 30
    assert whole.counts(0, 1 << 60) == {"b1-a": 90, "b1-b": 90}
