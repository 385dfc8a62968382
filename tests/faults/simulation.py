"""One life of a yard in the simulated world: the program runs, the world goes wrong, and all that must hold is checked."""

import json
import logging
import random
import shutil
import tempfile
from contextlib import suppress
from pathlib import Path
from types import SimpleNamespace

from monitor.app.daemon.daemon import Daemon
from monitor.app.daemon.start_failed import FailedStart
from monitor.app.loop.clock import YardClock
from monitor.configuration import load
from monitor.journal import audit, open_reader
from monitor.model.errors import MonitorError, UnavailableError
from monitor.proof.rules import rule_ids

from . import checks
from .broker import Broker, SimClient
from .counts import Counts
from .disk import Crash, Disk
from .inhabitants import SPACING_S, Inhabitants
from .ledger import Ledger, day_of
from .receivers import MirrorServer, Post
from .seams import emptied, seams
from .sim_time import SimQueue, SimTime
from .weather import Weather
from .yard import DAY, PROBES, People, Truth, toml

STARTS = (1_793_400_000_000, 1_772_800_000_000, 1_780_000_000_000)
"""Lives begin a day or two before a change of summer time (November 1 and March 8, 2026), or in May."""

TICKS_S = (60.0, 600.0, 1800.0)


class World(Inhabitants):
    """The world of one life; `live` lets it run."""

    def __init__(self, seed, folder):
        self.chance = random.Random(seed)
        self.counts = Counts()
        self.time = SimTime(self.chance.choice(STARTS))
        self.root = emptied(folder)
        self.data = self.root / "data"
        self.data.mkdir()
        self.toml = self.root / "heaptender.toml"
        self.shape = {"keep_days": self.chance.choice([None, None, 9, 20]), "backup_hours": self.chance.choice([6, 24])}
        self.toml.write_text(toml(**self.shape))
        self.ledger = Ledger(self.counts)
        self.ledger.outage_ms = 0
        self.disk = Disk(self.data, random.Random(seed + 1), self.counts)
        self.post = Post(self.time, random.Random(seed + 2), self.counts, self._accepted)
        self.server = MirrorServer(self.time, random.Random(seed + 3), self.counts)
        self.broker = Broker(
            self.time, random.Random(seed + 4), self.counts, took=self.ledger.took, offered=self.ledger.offered
        )
        self.truth = Truth(random.Random(seed + 5), self.time.start_ms)
        self.people = People(random.Random(seed + 6))
        self.weather = Weather(self, random.Random(seed + 7))
        self.mirror = None
        self.mirror_lag_s = self.chance.choice([2.0, 200.0])
        self.daemon = None
        self.busy = self.nobody_asks = False
        self.copies = {}
        self.kept_by_nodes = []
        self.free = 20 << 30
        self.tick_s = self.chance.choice(TICKS_S)

    # What the seams ask for.

    def queue(self):
        return SimQueue(self.time)

    def client(self):
        return SimClient(self.broker)

    def room(self):
        return self.free

    def bare_channels(self, configuration):
        """Return channels for letters that go past every thread, when a start fails."""

        def sending(name):
            def send(letter):
                why, taken, _ = self.post.take(name, letter)
                if taken:
                    self._accepted(name, -1, json.loads(letter.data))
                if why:
                    raise TimeoutError

            return SimpleNamespace(send=send)

        return {name: sending(name) for name in configuration.channels}

    def job(self, name, job):
        """Do a job of the housekeeping, as its own thread would."""
        self.counts.happened("job", name)
        before = set(self.data.glob("copies/journal-*.sqlite"))
        job()
        for copy in sorted(set(self.data.glob("copies/journal-*.sqlite")) - before):
            self.counts.note("backups made")
            self.copies[copy.name] = self.ledger.copy()

    def _accepted(self, channel, row, letter):
        daemon = self.daemon
        self.ledger.now_ms = self.time.wall_ms()
        if daemon is not None:
            # The record never goes back, though the wall clock may.
            self.ledger.now_ms = max(daemon.clock.now_ms(), daemon.writer.engine.last)
        self.ledger.accepted(channel, row, letter)

    # The program.

    def start(self):
        """Start the program; if it cannot start, people are told as the command does it, and it is tried again later."""
        self.post.alive = object()
        self.broker.program_ended()
        configuration = load(self.toml, {}, rules=rule_ids())
        clock = YardClock(self.time.wall_ms, self.time.mono, lambda: self.time.synchronised)
        failed = FailedStart(configuration)
        self.busy = True
        try:
            self.daemon = Daemon(configuration, clock)
            again = self.daemon.writer.resumed.differences
            checks.holds(self.weather.damaged or not again, lambda: f"fed again: {again[0].sentence()}")
            self.counts.note("starts")
            self.daemon.begin()
        except UnavailableError as fault:
            self.counts.note("starts that failed", detail=type(fault).__name__)
            failed.tell(str(fault))
            if self.daemon is not None:
                self.abandon()
            self.time.after(self.chance.uniform(5, 300), self.start_if_down)
        except Crash:
            self.after_crash()
        except Exception as fault:  # noqa: BLE001 - it is raised again unless pages are damaged
            self.failed_on_damage(fault)
        finally:
            self.busy = False

    def failed_on_damage(self, fault):
        """Let a program end that trips over damaged pages; over anything else it must not."""
        if not self.weather.damaged or isinstance(fault, checks.Broken):
            raise fault
        self.counts.note("programs that ended over damaged pages", detail=type(fault).__name__)
        self.abandon()

    def start_if_down(self):
        if self.daemon is None:
            self.start()

    def abandon(self):
        """Let go of a program that has ended: its files are closed, nothing of it does anything more."""
        daemon, self.daemon = self.daemon, None
        self.post.alive = object()
        self.broker.program_ended()
        self.mirror = None
        if daemon is not None:
            daemon.stop.set()
            with suppress(Exception):
                daemon.writer.store.close()
            daemon.writer._lock.release()

    def after_crash(self):
        """Go on from what the disk holds, some time after the program ended."""
        self.abandon()
        self.disk.put_image()
        self.disk.crash_in = None
        self.disk.brittle = 0
        self.look_at_crashed()
        self.time.after(self.chance.choice([1, 5, 60, 3600, 6 * 3600]), self.start_if_down)

    def look_at_crashed(self):
        """What a crash leaves must be whole before anything mends it."""
        if self.disk.full or not (self.data / "journal.db").exists() or self.weather.damaged:
            return
        with suppress(UnavailableError), open_reader(self.data) as store:
            found = [one.sentence for one in audit(store, pages=False) if one.is_fault()]
            checks.holds(not found, f"after a crash: {found[:2]}")
            self.counts.note("records checked after a crash")

    def end(self):
        """End the program in order."""
        if self.daemon is None:
            return
        self.busy = True
        try:
            self.counts.note("ends in order")
            self.daemon.end()
        except MonitorError:
            self.counts.note("ends that could not be recorded")
        except Crash:
            self.after_crash()
            return
        finally:
            self.busy = False
        self.abandon()

    def step(self):
        """Let the program's loop come round once."""
        daemon = self.daemon
        if daemon is None or self.busy:
            return
        self.busy = True
        try:
            self.ledger.today = day_of(max(daemon.hub.clock.now_ms(), daemon.writer.engine.last))
            daemon.hub.step(0.0)
            while self.daemon is daemon and daemon.hub._intray.waiting():
                daemon.hub.step(0.0)
        except Crash:
            self.after_crash()
        except Exception as fault:  # noqa: BLE001 - it is raised again unless pages are damaged
            self.failed_on_damage(fault)
        finally:
            self.busy = False

    def tick(self):
        self.step()
        wait_s = self.tick_s
        if self.daemon is not None:
            due = self.daemon.writer.next_deadline()
            if due is not None and due > self.daemon.writer.engine.last:
                wait_s = min(wait_s, max(0.05, self.daemon.clock.seconds_until(due)))
        self.time.after(wait_s, self.tick)

    # Checks.

    def look(self, *, thoroughly=False):
        """Check the record as it stands."""
        if self.daemon is None or self.busy or self.disk.full or self.disk.brittle or self.weather.damaged:
            return
        armed, self.disk.crash_in = self.disk.crash_in, None
        with open_reader(self.data) as store:
            checks.check_readings(store, self.ledger, self.counts)
            checks.check_notices(store, self.ledger, self.counts)
            checks.check_entries(store, self.ledger)
            checks.check_told_once(store, self.counts)
            if thoroughly:
                checks.check_sound(store)
        if thoroughly:
            checks.check_replay(self.data, self.daemon.writer, self.counts)
        self.disk.crash_in = armed
        self.counts.note("looks at everything")

    def look_daily(self):
        self.time.after(DAY / 1000, self.look_daily)
        days = self.time.now_s / 86_400
        self.look(thoroughly=round(days) % 7 == 0)
        self.fold()

    def fold(self):
        """Fold the record into the digest of all that happened."""
        if self.daemon is not None and not self.weather.damaged:
            brittle, self.disk.brittle = self.disk.brittle, 0
            armed, self.disk.crash_in = self.disk.crash_in, None
            mark = self.daemon.writer.store.mark()
            self.disk.brittle, self.disk.crash_in = brittle, armed
            self.counts.happened(self.time.now_s, mark.last_event, mark.day_hash, mark.effects_hash)

    def live(self, days):
        """Let the world run for so many days, then calm it for a while and check everything."""
        time, chance = self.time, self.chance
        self.start()
        time.after(1, self.tick)
        for place in PROBES:
            time.after(chance.uniform(0, SPACING_S), lambda place=place: self.speak(place))
        time.after(chance.uniform(0, 3600), self.clutter)
        time.after(chance.uniform(0, 3600), self.wish)
        time.after(1800, self.read_answers)
        time.after(DAY / 1000 - 100, self.look_daily)
        self.weather.begin()
        self.run_for(days * 86_400.0)
        self.weather.calm()
        self.start_if_down()
        self.run_for(12 * 3600.0)
        # What was asked last has an hour to be answered, and asked again if there was a question.
        self.nobody_asks = True
        self.run_for(3600.0)
        # The last word of every node has an hour to get everywhere.
        self.weather.dumb.update(PROBES)
        self.run_for(3600.0)
        self.settle()
        self.counts.note("simulated days", round(days))
        self.counts.note("lives")
        self.end()

    def run_for(self, seconds):
        end = self.time.now_s + seconds
        while self.time.now_s < end:
            try:
                self.time.run_until(end)
            except Crash:
                # It came where nothing of the program's loop was under way: a job, the mirror.
                self.after_crash()

    def settle(self):
        checks.holds(self.daemon is not None, "in a calm world, it does not start")
        self.step()
        self.look(thoroughly=True)
        with open_reader(self.data) as store:
            checks.check_settled(store, self.ledger, self.time.wall_ms(), self.time.latest_ms())
            checks.check_mirror(store, self.server, self.counts)
            self.weather.check_told(store)
        self.fold()


def live(seed, days, folder=None):
    """Run one life and return its counts; raises `Broken`, or whatever the program raised."""
    log = logging.getLogger("heaptender")
    level = log.level
    log.setLevel(logging.CRITICAL + 1)
    memory = Path("/dev/shm")  # noqa: S108 - the run makes a folder of its own there
    root = folder or Path(tempfile.mkdtemp(prefix="heaptender-faults-", dir=memory if memory.is_dir() else None))
    try:
        world = World(seed, root / "yard")
        with seams(world):
            try:
                world.live(days)
            finally:
                world.abandon()
        return world.counts
    finally:
        # Other tests read what the program says.
        log.setLevel(level)
        if folder is None:
            shutil.rmtree(root, ignore_errors=True)
