"""A small yard, and a driver that feeds an engine as a recording would and keeps its effects."""

from dataclasses import asdict

from monitor.engine import Engine
from monitor.model.events import Event, EventKind
from monitor.model.readings import Reading
from monitor.model.settings import AMBIENT, Bin, Contact, Pile, Probe, Settings, Site
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.units import Quantity
from monitor.model.words import Method, Role
from monitor.recordings import MemoryHistory
from monitor.recordings.effect_lines import effect_line

T0 = 1_793_577_600_000  # 2026-11-02T00:00:00Z, a Monday
MIN, HOUR, DAY = MINUTE_MS, HOUR_MS, DAY_MS

ANN = Contact(name="Ann", channels=("wire",), quiet_start_minute=0, quiet_end_minute=0)


def core(place, **more):
    return Probe(place=place, role=Role.CORE, address="", **more)


def bedding(place, quantity=Quantity.TEMPERATURE, **more):
    return Probe(place=place, role=Role.BEDDING, address="", quantity=quantity, **more)


def air(**more):
    return Probe(place=AMBIENT, role=Role.AMBIENT, address="", **more)


def yard(*, piles=None, bins=None, probes=None, contacts=None, **more):
    """Two piles and two bins; p1 turned under a turned rule, p2 under a static one."""
    if piles is None:
        piles = {
            "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0),
            "p2": Pile(name="Bay 2", rule="us-112-54-static", method=Method.STATIC),
        }
    if bins is None:
        bins = {"b1": Bin(name="Sunny bin"), "b2": Bin(name="Shed bin")}
    if probes is None:
        probes = {
            "air": air(),
            "p1-a": core("p1"),
            "p1-b": core("p1"),
            "p2-a": core("p2"),
            "b1-t": bedding("b1"),
            "b1-u": bedding("b1"),
            "b1-m": bedding("b1", Quantity.MOISTURE),
            "b2-t": bedding("b2"),
        }
    return Settings(
        site=Site(name="Tern Hollow", time_zone="America/New_York"), piles=piles, bins=bins, probes=probes,
        contacts={"ann": ANN} if contacts is None else contacts, **more,
    )  # fmt: skip


def plain(settings):
    return {"settings": asdict(settings)}


SETTINGS: list[Settings] = []
"""Settings that scripts name by their place."""


class Drive:
    """An engine with a record and its effects."""

    def __init__(self, settings=None, at=T0 - MIN, engine=None):
        self.engine = engine or Engine()
        self.history = MemoryHistory()
        self.effects = []
        self.verdicts = []
        self.settings = settings
        if settings is not None:
            self.feed(at - 1, "started", {"down_since": None})
            self.feed(at, "settings", plain(settings))

    def feed(self, at, kind, payload):
        """Feed an event at `at`, or a little later where the engine is further already."""
        at = max(at, self.engine.last + 1)
        if kind == "settings" and isinstance(payload, int):
            payload = plain(SETTINGS[payload])
        if kind in ("readings", "imported"):
            # What no probe of the settings sent is not admitted, so that it never reaches the record.
            known = self.engine.state.settings.probes
            rows = [
                list(row) for row in sorted(payload.get("rows", [])) if row[1] in known or row[1].startswith("hand:")
            ]
            payload = {**payload, **self.shelved(rows)}
        return self.put(Event(at, EventKind(kind), payload))

    def shelved(self, rows):
        """Put rows into the record as the journal does: what is new, and other values of what is there already."""
        new, further = [], []
        for row in rows:
            one = Reading(*row)
            known = self.history.further([one.probe], one.time, one.time)
            if self.history.add(one):
                new.append(row)
            elif self.history.further([one.probe], one.time, one.time) != known:
                further.append(row)
        return {"rows": new, "further": further} if further else {"rows": new}

    def put(self, event):
        found = self.engine.feed(event, self.history)
        self.effects += found
        self.verdicts += self.engine.take_verdicts()
        return found

    def read(self, at, *, received=None, **celsius):
        """Feed one commit: readings of probes (dashes as underscores) at their own time `at`."""
        rows = [[at, name.replace("_", "-"), round(value * 1_000_000), _unit(name)] for name, value in celsius.items()]
        return self.feed(at if received is None else received, "readings", {"rows": rows, "ahead": []})

    def hold(self, start, end, step=10 * MIN, **celsius):
        """Feed the same values every `step` in [start, end]."""
        for at in range(start, end + 1, step):
            self.read(at, **celsius)

    def work(self, at, place, kind, *, entered=None, **more):
        return self.feed(at if entered is None else entered, "work", {"time": at, "place": place, "kind": kind, **more})

    def answer(self, at, alarm, answer, until=None):
        return self.feed(at, "answer", {"alarm": alarm, "answer": answer, "until": until, "by": "Ann"})

    def advance(self, to):
        found = self.engine.advance(to)
        self.effects += found
        return found

    def settle(self, at, settings):
        self.settings = settings
        return self.feed(at, "settings", plain(settings))

    # What came of it ------------------------------------------------------------------------------------------

    def lines(self):
        return [effect_line(effect) for effect in self.effects]

    def alarms(self, alarm=None, place=None):
        """(at, alarm, state) of the alarms' effects."""
        return [
            (e.at, e.draft.axis, e.draft.after)
            for e in self.effects
            if e.draft.kind.value == "alarm" and alarm in (None, e.draft.axis) and place in (None, e.draft.place)
        ]

    def rings(self, alarm, place=None):
        """Instants at which an alarm became new."""
        return [at for at, _, state in self.alarms(alarm, place) if state == "unacknowledged"]

    def notices(self, text=""):
        return [e for e in self.effects if e.draft.kind.value == "notice" and text in e.draft.text]

    def digest_lines(self, text=""):
        """What stands in the coming digests."""
        return [line.text for line in self.engine.state.desk.lines if text in line.text]

    def phases(self):
        return [
            (e.at, e.draft.after, e.draft.since, e.draft.reason) for e in self.effects if e.draft.kind.value == "phase"
        ]

    def state_of(self, key):
        record = self.engine.state.alarms.get(key)
        return "normal" if record is None else record.state.value

    def run(self, pile="p1"):
        return self.engine.state.runs[self.engine.state.batches.lying[pile]]


def _unit(name):
    return "%" if name.endswith(("-m", "_m", "-o", "_o")) else "Cel"
