"""The record of a batch: the same from the engine's own state, from all events, and from a kept state and later events."""

from dataclasses import replace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, core, yard

from monitor.engine.context.core import Core
from monitor.engine.context.state import load_state
from monitor.engine.records.batch_lookup import lone_batch, run_of, whole_record
from monitor.engine.records.batch_record import batch_record
from monitor.model.events import EventKind
from monitor.model.settings import Pile, Probe
from monitor.model.words import Method, Role
from monitor.model.work import Work, WorkKind

KINDS = (EventKind.SETTINGS, EventKind.WORK, EventKind.CORRECTION, EventKind.IMPORTED)


class Accepted:
    """What the engine accepted, by probe."""

    def __init__(self, drive):
        self._found = {}
        for verdict in drive.verdicts:
            if verdict.flag <= 2:
                self._found.setdefault(verdict.probe, {})[verdict.time] = verdict.milli

    def between(self, probe, start, end):
        return sorted((t, v) for t, v in self._found.get(probe, {}).items() if start <= t <= end)

    def before(self, probe, time):
        return max(((t, v) for t, v in self._found.get(probe, {}).items() if t < time), default=None)


class Kept(Drive):
    """A drive that keeps its events."""

    def __init__(self, settings):
        self.events = []
        super().__init__(settings)

    def put(self, event):
        self.events.append(event)
        return super().put(event)


def settings():
    piles = {p: Pile(name=p, rule="us-112-54-turned", method=Method.TURNED) for p in ("p1", "p2")}
    return yard(piles=piles, bins={}, probes={"air": air(), "p1-a": core("p1"), "p1-b": core("p1"), "p2-a": core("p2")})


@pytest.fixture
def drive():
    made = Kept(settings())
    made.hold(T0 + MIN, T0 + DAY, HOUR, p1_a=60, p1_b=58, air=8)
    made.work(T0 + DAY, "p1", "turned", by="Ann")
    made.hold(T0 + DAY + MIN, T0 + DAY + 31 * MIN, 10 * MIN, p1_a=12, p1_b=12, air=8)
    made.work(T0 + DAY + 35 * MIN, "p1", "probe in", probe="p1-b", by="Bea")
    made.hold(T0 + DAY + 41 * MIN, T0 + 2 * DAY, 10 * MIN, p1_a=57, p1_b=57, air=8)
    made.snapshot = made.engine.snapshot()
    made.events_before = len(made.events)
    made.work(T0 + 2 * DAY + MIN, "p1", "moved", to="p2")
    made.hold(T0 + 2 * DAY + HOUR, T0 + 3 * DAY, 10 * MIN, p1_a=59, p1_b=59, p2_a=56, air=8)
    made.work(T0 + 3 * DAY, "p2", "probe out", probe="p2-a", by="Ann")
    made.hold(T0 + 3 * DAY + HOUR, T0 + 4 * DAY, 30 * MIN, p1_a=59, p1_b=59, air=8)
    return made


def of_engine(drive):
    live = Core(drive.engine.state)
    (batch,) = drive.engine.state.runs
    return batch, batch_record(live, run_of(live, batch), Accepted(drive))


def test_service_is_what_the_walk_was_told(drive):
    batch, record = of_engine(drive)
    lines = drive.engine.state.runs[batch].walk.lines
    for probe, service in record.service.items():
        assert lines[probe].serving == service.changes[-1].into
    assert [(one.how, one.into) for one in record.service["p1-b"].changes][:3] == [
        ("built", True), ("turning", False), ("probe in", True),
    ]  # fmt: skip
    assert record.service["p1-b"].changes[2].logged.work.by == "Bea"
    assert record.service["p1-a"].changes[2].how == "back by itself"
    assert record.service["p1-a"].settling[0] == (T0 + DAY + 41 * MIN, T0 + DAY + 101 * MIN)
    assert record.turnings == (T0 + DAY, T0 + 2 * DAY + MIN)


def test_the_record_says_by_which_entry_a_probe_came_and_went():
    drive = Kept(settings())
    drive.hold(T0 + MIN, T0 + DAY, HOUR, p1_a=60, p1_b=58, air=8)
    drive.work(T0 + DAY, "p1", "moved", to="p2")
    drive.hold(T0 + DAY + HOUR, T0 + 2 * DAY, HOUR, p1_a=60, p1_b=58, p2_a=58, air=8)
    drive.work(T0 + 2 * DAY, "p1", "probe in", probe="p1-a", by="Ann")
    drive.hold(T0 + 2 * DAY + HOUR, T0 + 3 * DAY, HOUR, p1_b=58, p2_a=58, air=8)
    left = {name: probe for name, probe in settings().probes.items() if name != "p2-a"}
    drive.settle(T0 + 3 * DAY + MIN, replace(settings(), probes=left))
    _, record = of_engine(drive)
    found = {
        probe: [(one.time, one.into, one.how, one.logged and one.logged.work.kind.value) for one in service.changes]
        for probe, service in record.service.items()
    }
    built, back = (T0 + MIN, True, "built", None), (T0 + DAY + HOUR, True, "back by itself", None)
    moved = (T0 + DAY, False, "turning", "moved")
    assert found == {
        "p1-a": [built, moved, back, (T0 + 2 * DAY, False, "probe out", "probe in")],
        "p1-b": [built, moved, back],
        "p2-a": [back, (T0 + 3 * DAY + MIN, False, "configuration", None)],
    }


@pytest.mark.parametrize("note", ["probes left", "probes left; not a turning"])
def test_probes_that_a_move_left_behind_are_out_by_the_move(note):
    drive = Kept(settings())
    drive.hold(T0 + MIN, T0 + DAY, HOUR, p1_a=60, p1_b=58, air=8)
    drive.work(T0 + DAY, "p1", "moved", to="p2", note=note)
    drive.hold(T0 + DAY + HOUR, T0 + 2 * DAY, HOUR, p1_a=20, p1_b=20, p2_a=58, air=8)
    _, record = of_engine(drive)
    for probe in ("p1-a", "p1-b"):
        last = record.service[probe].changes[-1]
        assert (last.time, last.into, last.logged.work.kind.value) == (T0 + DAY, False, "moved")


@pytest.mark.parametrize("kept", [False, True])
def test_a_used_up_batch_has_the_record_it_had_while_it_was_watched(drive, kept):
    batch, before = of_engine(drive)
    drive.work(T0 + 4 * DAY + HOUR, "p2", "emptied")
    assert drive.engine.state.runs == {}
    base = load_state(drive.snapshot) if kept else None
    later = drive.events[drive.events_before :] if kept else drive.events
    events = [event for event in later if event.kind in KINDS]
    whole = whole_record(drive.engine.state, events, base)
    after = batch_record(whole, run_of(whole, batch), Accepted(drive))
    assert after.turnings == before.turnings
    assert after.restarts == before.restarts
    assert set(after.service) == set(before.service)
    for probe, service in before.service.items():
        told = [(one.time, one.into, one.how) for one in after.service[probe].changes]
        if told[-1][2] == "end of the batch":
            told.pop()
        assert told == [(one.time, one.into, one.how) for one in service.changes]
        assert after.service[probe].settling == service.settling


def lone(*works, pile="p1", first=T0):
    plain = {
        "piles": {name: {"name": name} for name in ("p1", "p2")},
        "probes": {"a": {"place": "", "role": "core", "address": "a"}},
    }
    made, run = lone_batch(plain, works, pile, first)
    return None if run is None else batch_record(made, run, None, bare=True)


def entry(at, kind, place="p1", **more):
    return Work(time=at, place=place, kind=WorkKind(kind), **more)


def test_a_bare_log_needs_nothing():
    record = lone()
    assert record.spans == (("p1", T0, None),)
    assert record.service["a"].spans() == [(T0, None)]
    assert record.probes["a"] == Probe(place="", role=Role.CORE, address="a")


@pytest.mark.parametrize(
    ("works", "spans"),
    [
        ([entry(T0 + DAY, "probe in", probe="a")], [(T0 + DAY, None)]),
        ([entry(T0 + DAY, "turned"), entry(T0 + DAY + HOUR, "probe in", probe="a")],
         [(T0, T0 + DAY), (T0 + DAY + HOUR, None)]),
        ([entry(T0 + DAY, "turned"), entry(T0 + 2 * DAY, "probe out", probe="a")], [(T0, T0 + 2 * DAY)]),
        ([entry(T0 + DAY, "turned"), entry(T0 + 2 * DAY, "turned"), entry(T0 + 2 * DAY + HOUR, "probe in", probe="a")],
         [(T0, T0 + 2 * DAY), (T0 + 2 * DAY + HOUR, None)]),
        ([entry(T0 + DAY, "emptied")], [(T0, T0 + DAY)]),
        ([entry(T0 + DAY, "built")], [(T0 + DAY, None)]),
        ([entry(T0 + DAY, "moved", to="p2"), entry(T0 + 3 * DAY, "emptied", "p2")], [(T0, T0 + 3 * DAY)]),
    ],
)  # fmt: skip
def test_service_in_a_bare_log(works, spans):
    assert lone(*works).service["a"].spans() == spans


def test_a_log_that_never_mentions_the_pile_begins_with_the_first_reading():
    assert lone(entry(T0, "built", "p2")).restarts == (T0,)


@pytest.mark.parametrize("sunny", [20, 40, 44])
def test_a_probe_is_back_by_the_air_of_that_instant_and_not_by_the_air_before(sunny):
    drive = Kept(settings())
    drive.hold(T0 + MIN, T0 + DAY, HOUR, p1_a=60, p1_b=60, air=8)
    drive.work(T0 + DAY, "p1", "turned")
    drive.hold(T0 + DAY + MIN, T0 + DAY + 21 * MIN, 10 * MIN, p1_a=12, p1_b=12, air=8)
    drive.hold(T0 + DAY + 31 * MIN, T0 + DAY + 41 * MIN, 10 * MIN, p1_a=44, p1_b=44, air=sunny)
    drive.hold(T0 + DAY + 51 * MIN, T0 + DAY + 5 * HOUR, 10 * MIN, p1_a=57, p1_b=57, air=sunny)
    _, record = of_engine(drive)
    returned = drive.engine.state.outings["p1-a"].returned
    assert returned == T0 + DAY + (31 if sunny == 20 else 51) * MIN
    assert [one.time for one in record.service["p1-a"].changes if one.how == "back by itself"] == [returned]
