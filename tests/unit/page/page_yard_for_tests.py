"""A small yard with a real journal and engine behind the page, for its tests."""

import json
from contextlib import contextmanager
from dataclasses import replace

from monitor.app.console.refusals import ended
from monitor.app.entries.questioning import judge
from monitor.app.page_ports.page_mending import LogMending
from monitor.app.page_ports.page_photos import YardPhotos
from monitor.app.page_ports.page_yard import JournalLook
from monitor.app.yard.sizes_of_yard import sizes_of
from monitor.configuration import canonical_settings, load_text
from monitor.engine import Engine
from monitor.journal import Judged, open_reader, open_writer
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from monitor.model.times import HOUR_MS, MINUTE_MS, parse_time
from monitor.page import Done, Mark, PageSettings, Paper, RuleDay
from monitor.page.server.addresses import application
from monitor.page.shared.page_context import PageContext
from monitor.page.visitors.page_key import load_key
from monitor.proof.rules import rule_ids

NOW = parse_time("2026-07-20T12:00:00Z")
BUILT = NOW - 72 * HOUR_MS

TOML = """
[site]
name = "Tern Hollow allotments"
time_zone = "America/New_York"
temperature_unit = "degF"
[piles.p1]
name = {pile}
rule = "us-112-54-turned"
built = 2026-07-17T12:00:00Z
[piles.p2]
name = "Bay 2"
spots = ["west", "middle", "east"]
[bins.b1]
name = "Sunny wall bin"
[probes.p1-a]
place = "p1"
role = "core"
depth = "60 cm"
[probes.p1-b]
place = "p1"
role = "core"
[probes.b1-t]
place = "b1"
role = "bedding"
[probes.b1-m]
place = "b1"
role = "bedding"
quantity = "moisture"
[probes.amb]
place = "ambient"
[contacts.ann]
name = "Ann"
quiet = "none"
"""


class TestYard:
    """Fills the page's `Yard` and `Doing` on one thread or many; hot bin, warm heap, three days old."""

    __test__ = False

    def __init__(self, folder, pile_name='"Bay 1"', *, lived=False):
        self.folder = folder
        self.configuration = load_text(TOML.replace("{pile}", pile_name), None, {}, rules=rule_ids())
        self.writer = open_writer(folder, Engine, Engine.restore)
        self.clock = NOW
        self.put_in = []
        self.fresh = True
        if not lived:
            self._live()

    def _live(self):
        settings = json.loads(canonical_settings(self.configuration.settings))
        with self.writer.turn(BUILT - 1000) as turn:
            turn.event(EventKind.STARTED, {"down_since": None})
            turn.event(EventKind.SETTINGS, {"settings": settings})
        for hour in range(73):
            at = BUILT + hour * HOUR_MS - 5 * MINUTE_MS
            heat = min(60_000_000, 25_000_000 + hour * 1_500_000)
            rows = [
                Reading(at, "p1-a", heat, "Cel"),
                Reading(at, "p1-b", heat - 2_000_000, "Cel"),
                Reading(at, "b1-t", 22_000_000 if hour < 70 else 34_000_000, "Cel"),
                Reading(at, "b1-m", 72_000_000, "%"),
                Reading(at, "amb", 20_000_000, "Cel"),
            ]
            with self.writer.turn(at + 1000) as turn:
                turn.readings(rows)
        with self.writer.turn(NOW) as turn:
            turn.advance(NOW)
        # So that opening it again takes no time.
        with self.writer.transaction():
            self.writer.keep_snapshot()

    def read(self, *rows, after_ms=10 * MINUTE_MS):
        """Take in readings (probe, value, unit) a while later; the clock goes on."""
        self.clock += after_ms
        with self.writer.turn(self.clock) as turn:
            turn.readings([Reading(self.clock - 1000, probe, round(value * 1e6), unit) for probe, value, unit in rows])
        self.clock += 1000

    def burn(self):
        """Make the first heap dangerously hot: both probes, so that it is certain at once."""
        self.read(("p1-a", 84.0, "Cel"), ("p1-b", 83.5, "Cel"))
        self.read(("p1-a", 84.5, "Cel"), ("p1-b", 84.0, "Cel"))

    def close(self):
        self.writer.close()

    @contextmanager
    def look(self):
        engine = Engine.restore(self.writer.engine.snapshot())
        with open_reader(self.folder) as store, store.view():
            yield JournalLook(engine, store, self.configuration, self.clock, fresh=self.fresh)

    def changed(self):
        return self.writer.engine.last

    def now(self):
        return self.clock

    def put(self, kind, payload, *, again=False):
        with self.writer.turn(self.clock) as turn:
            settings, sizes = self.configuration.settings, sizes_of(self.configuration)
            judged = judge(self.writer, settings, self.clock, kind, payload, again=again, sizes=sizes)
            if judged != Judged():
                return Done(judged.done, ended(judged.refusal) if judged.refusal else "", judged.question)
            at = turn.event(kind, payload)
        self.put_in.append((kind, dict(payload)))
        self.clock += 1000
        return Done(at)

    @property
    def alarms(self):
        assert isinstance(self.writer.engine, Engine)
        return self.writer.engine.state.alarms

    def works(self):
        return [payload for kind, payload in self.put_in if kind is EventKind.WORK]


class Marks:
    """Fills `Marking`."""

    def __init__(self):
        self.kept = []

    def marks(self, place):
        return [mark for where, mark, _ in self.kept if where == place]

    def mark(self, place, mark, by):
        self.kept.append((place, mark, by))

    def unmark(self, place, mark):
        self.kept = [one for one in self.kept if one[:2] != (place, mark)]


class Papers:
    """Fills `Certifying`."""

    def __init__(self):
        self.made = {}

    def papers(self, batch):
        return [Paper(name, NOW, "met") for name in self.made]

    def make(self, batch, by):
        self.made[f"{batch}.pdf"] = by
        return Paper(f"{batch}.pdf", NOW, "not proven")

    def days(self, batch):
        second = BUILT + 24 * HOUR_MS
        return [
            RuleDay(BUILT, second, True, "counted", ""),
            RuleDay(second, second + 24 * HOUR_MS, False, "failed", "below 131 °F from 10:00 to 11:00"),
        ]

    def pdf(self, name):
        self.made[name]
        return b"%PDF-1.7 made up"


def mending_of(yard):
    """Return what puts the yard's entries right, as the daemon has it."""
    configuration = replace(yard.configuration, data=yard.folder)
    return LogMending(lambda: configuration, yard, yard.now)


def photos_of(yard, **changed):
    """Return what keeps the yard's photos, as the daemon has it."""
    configuration = replace(yard.configuration, data=yard.folder, **changed)
    return YardPhotos(lambda: configuration)


def page_of(yard, *, password_hash="", link="http://127.0.0.1:8460", hosts=(), listen="127.0.0.1", **more):
    """Return (application, page) of a page on a yard."""
    settings = PageSettings(folder=yard.folder, listen=listen, password_hash=password_hash, link=link, hosts=hosts)
    more = {"mending": mending_of(yard), "photos": photos_of(yard), **more}
    page = PageContext(settings, load_key(yard.folder), yard, yard, **more)
    return application(page), page


__all__ = ["BUILT", "NOW", "Mark", "Marks", "Papers", "TestYard", "page_of"]
