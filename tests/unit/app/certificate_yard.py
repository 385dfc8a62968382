"""A yard with a journal of its own, fed event by event, and cases gathered from it."""

from contextlib import contextmanager
from copy import deepcopy
from dataclasses import asdict, replace
from unittest.mock import patch

from monitor.app.cases import Asked, known_rule
from monitor.app.cases.from_store import batch_named, rule_of_batch, store_case
from monitor.app.yard.yard_view import YardView
from monitor.engine import Engine
from monitor.engine.context.batch_runs import rule_of
from monitor.journal import open_reader, open_writer, resume, writer_parts
from monitor.model.events import EventKind
from monitor.model.settings import AMBIENT, Pile, Probe, Settings, Site
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.words import Method, Role
from monitor.proof.following import RuleFollower

T0 = 1_793_577_600_000  # 2026-11-02T00:00:00Z
MIN, HOUR, DAY = MINUTE_MS, HOUR_MS, DAY_MS


def core(place, **more):
    return Probe(place=place, role=Role.CORE, address="", **more)


def yard(**more):
    fields = {
        "site": Site(name="Tern Hollow allotments", time_zone="America/New_York", temperature_unit="degF"),
        "piles": {
            "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED),
            "p2": Pile(name="Bay 2", rule="us-112-54-turned", method=Method.TURNED),
            "p3": Pile(name="Bay 3", rule="us-503-pfrp-static", method=Method.STATIC),
        },
        "probes": {
            "air": Probe(place=AMBIENT, role=Role.AMBIENT, address=""),
            "p1-a": core("p1", name="north side", depth_milli_m=600, uncertainty_milli_k=500),
            "p1-b": core("p1"),
            "p2-a": core("p2"),
            "p3-a": core("p3"),
        },
    }
    return Settings(**{**fields, **more})


class Journal:
    """A journal under a writer, with the clock in the caller's hand."""

    def __init__(self, folder, settings=None):
        self.folder = folder
        self.settings = yard() if settings is None else settings
        self.writer = open_writer(folder, Engine, Engine.restore)
        self.put(T0 - MIN, EventKind.STARTED, {"down_since": None})
        self.settle(T0 - MIN, self.settings)

    def put(self, at, kind, payload):
        # At an hour a turn each turn would keep a snapshot, which takes longer than all else; nothing here hangs on how many.
        with patch.object(writer_parts, "SNAPSHOT_MS", 2 * DAY), self.writer.turn(at) as turn:
            return turn.event(kind, payload)

    def settle(self, at, settings):
        self.settings = settings
        self.put(at, EventKind.SETTINGS, {"settings": _plain(settings)})

    def read(self, at, **celsius):
        rows = [[at, name.replace("_", "-"), round(value * 1_000_000), "Cel"] for name, value in celsius.items()]
        self.put(at, EventKind.READINGS, {"rows": rows})

    def hold(self, start, end, step=HOUR, **celsius):
        for at in range(start, end, step):
            self.read(at, **celsius)

    def hand(self, at, place, fahrenheit):
        row = [at, f"hand:{place}", round(fahrenheit * 1_000_000), "[degF]"]
        self.put(at, EventKind.READINGS, {"rows": [row]})

    def work(self, at, place, kind, *, entered=None, **more):
        payload = {"time": at, "place": place, "kind": kind, "by": "Ann Example", **more}
        return self.put(at if entered is None else entered, EventKind.WORK, payload)

    @property
    def engine(self):
        return self.writer.engine

    def case(self, batch, rule=None, **asked):
        """Return the case of a batch as `certify` gathers it, beside the writer."""
        with view_of(self.folder) as view:
            found = batch_named(view, batch)
            own, kept = rule_of_batch(view, found)
            return store_case(view, found, known_rule(rule or own, None, kept), Asked(now=T0 + 400 * DAY, **asked))

    def live(self, batch):
        """Return (walk's frontier, progress there, time at temperature in all) as the engine itself has it, ms."""
        run = self.engine.state.runs[batch]
        now = run.walk.now
        rule = rule_of(run)
        assert rule is not None
        tracker = RuleFollower(rule, deepcopy(run.hold))
        progress = tracker.progress(now)
        return now, progress, tracker.state.situation.total_ms


@contextmanager
def view_of(folder):
    """Open a journal as `yard_view` does, without a configuration."""
    with open_reader(folder) as store, store.view():
        resumed = resume(store, Engine, Engine.restore)
        assert isinstance(resumed.engine, Engine)
        yield YardView(resumed.engine, store, None, None, resumed.down_since, resumed.faults)


def _plain(settings):
    plain = asdict(settings)
    if not plain["rules"]:
        del plain["rules"]
    return plain


def probe_of(case, name):
    return next(one for one in case.probes if one.probe == name)


def changed(settings, **more):
    return replace(settings, **more)
