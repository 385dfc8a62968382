"""Opens journals with the fake engine, for the journal's tests."""

from journal_fake_engine import FakeEngine

from monitor.journal import open_writer
from monitor.model.readings import Reading

T0 = 1_772_352_000_000
"""2026-03-01T08:00:00Z."""
MINUTE = 60_000
HOUR = 60 * MINUTE
DAY = 24 * HOUR
PROBES = ("p1-a", "p1-b", "air", "b1-bed")


def writer_of(folder, fresh=FakeEngine, restore=FakeEngine.restore):
    return open_writer(folder, fresh, restore)


def reading(minute, probe="p1-a", micro=20_000_000, unit="Cel"):
    return Reading(T0 + round(minute * MINUTE), probe, micro, unit)


def feed(writer, now, *rows, **more):
    with writer.turn(now) as turn:
        turn.readings(rows, **more)
    return turn.outcome


def everything(store):
    return list(store.readings(store.probes(), 0, 1 << 60))
