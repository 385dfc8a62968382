"""What goes wrong, and when: each life has a temper of its own, and many things go wrong at once."""

import shutil
from collections import defaultdict

from monitor.app.loop.loop_faults import stands
from monitor.configuration import load
from monitor.journal import NotSoundError, audit, open_reader, restore
from monitor.model.alarm_kinds import Alarm
from monitor.model.effects import EffectKind
from monitor.model.errors import MonitorError, UnavailableError
from monitor.proof.rules import rule_ids

from . import checks
from .receivers import CHANNEL_MOODS, SERVER_MOODS
from .yard import BINS, BROKEN, DAY, HOUR, MINUTE, PILES, PROBES, toml

KINDS = (
    "kill", "power", "ends", "full", "brittle", "broker away", "broker drops", "nodes held", "node dumb", "channel", "server",
    "server crash", "clock", "settings", "backup put back", "pages flipped", "fire", "swelter", "filling",
)  # fmt: skip
DAYS_BETWEEN = {
    "kill": 1.0, "power": 1.0, "ends": 3.0, "full": 3.0, "brittle": 1.0, "broker away": 2.0, "broker drops": 0.5,
    "nodes held": 3.0, "node dumb": 4.0, "channel": 1.5, "server": 2.0, "server crash": 2.0, "clock": 6.0, "settings": 2.0,
    "backup put back": 12.0, "pages flipped": 15.0, "fire": 6.0, "swelter": 5.0, "filling": 30.0,
}  # fmt: skip
"""Days between two of a kind, on average, in a life of middling temper."""


class Weather:
    """What befalls a world. `damaged`: pages were flipped, and nobody has put a backup back yet."""

    def __init__(self, world, chance):
        self.world, self.chance = world, chance
        self.dumb = set()
        self.nodes_held = False
        self.damaged = False
        self.on = True
        self.outages = []
        self._full_off_ms = 0
        self._may_be_told = None
        self.temper = {kind: chance.choice([0.0, 0.5, 1.0, 1.0, 2.0, 4.0]) for kind in KINDS}

    def begin(self):
        for kind in KINDS:
            self._plan(kind)

    def calm(self):
        """End everything that is wrong, and let nothing more go wrong."""
        world = self.world
        self.on = False
        self.dumb.clear()
        self.nodes_held = False
        self._freed()
        world.disk.brittle, world.disk.crash_in = 0, None
        world.time.off_ms, world.time.synchronised = 0, True
        for channel in world.post.mood:
            world.post.mood[channel] = "well"
        world.server.mood = "well"
        if not world.broker.up:
            world.broker.comes_back(forgot=False)
        if self.damaged:
            self._put_back()
        world.send_kept()

    def _plan(self, kind):
        temper = self.temper[kind]
        if temper:
            wait_s = self.chance.expovariate(temper / (DAYS_BETWEEN[kind] * 86_400))
            self.world.time.after(wait_s, lambda: self._befall(kind))

    def _befall(self, kind):
        if not self.on:
            return
        self._plan(kind)
        self.world.counts.note(f"fault: {kind}")
        getattr(self, "_" + kind.replace(" ", "_"))()

    def _later(self, shortest_s, longest_s, do):
        def then():
            if self.on:
                do()

        self.world.time.after(
            self.chance.choice([shortest_s, self.chance.uniform(shortest_s, longest_s), longest_s]), then
        )

    # The program and the disk.

    def _kill(self):
        self._crash_soon(power=False)

    def _power(self):
        self._crash_soon(power=True)

    def _crash_soon(self, *, power):
        disk = self.world.disk
        disk.power = power
        disk.crash_in = self.chance.choice([1, 2, 5, 20, 100, self.chance.randrange(1, 3000)])

    def _ends(self):
        if not self.world.busy:
            self.world.end()
            self._later(1, 4 * 3600, self.world.start_if_down)

    def _full(self):
        disk = self.world.disk
        if not disk.full:
            disk.full = True
            self.outages.append([self.world.time.true_ms(), None])
            self._full_off_ms = self.world.time.off_ms
            self._may_be_told = self._told_if_it_lasts()
            self._later(20, 5400, self._freed)

    def _freed(self):
        disk = self.world.disk
        if disk.full:
            disk.full = False
            self.outages[-1][1] = self.world.time.true_ms()
            self._check_outage_told()
            ledger = self.world.ledger
            lasted = self.outages[-1][1] - self.outages[-1][0]
            # A clock that was put back meanwhile shortens nothing: the record's time goes on.
            ahead = max(0, self.world.time.off_ms - self._full_off_ms)
            ledger.outage_ms = max(ledger.outage_ms, lasted + ahead)

    def _told_if_it_lasts(self):
        """Return what must stay as it is for people to hear of an outage that begins now; None: they may not hear of it."""
        world = self.world
        daemon = world.daemon
        if daemon is None or world.busy:
            return None
        alarm = daemon.engine().state.alarms.get("/disk")
        rested = len(self.outages) < 2 or self.outages[-1][0] - self.outages[-2][1] > HOUR
        if (alarm is not None and alarm.state != "normal") or not rested:
            return None
        return daemon, dict(world.post.mood), world.counts.of["letters taken past the record"]

    def _check_outage_told(self):
        start, end = self.outages[-1]
        held, self._may_be_told = self._may_be_told, None
        if held is None or not 3 * MINUTE + self.world.tick_s * 1000 < end - start < DAY:
            return
        daemon, mood, letters = held
        well = [
            name
            for name in ("wire", "mail")
            if mood.get(name, "well") == "well" == self.world.post.mood.get(name, "well")
        ]
        if daemon is not self.world.daemon or len(well) < 2 or self.temper["channel"] > 1:
            return
        told = self.world.counts.of["letters taken past the record"] - letters
        checks.holds(told > 0, lambda: f"nothing could be stored from {start} to {end}, and nobody was told")
        self.world.counts.note("outages of the disk that people were told of")

    def _brittle(self):
        self.world.disk.brittle = self.chance.choice([1, 8, 40, 300])

    def _filling(self):
        self.world.free = self.world.free * 9 // 10

    # The network.

    def _broker_away(self):
        broker = self.world.broker
        if broker.up:
            broker.goes_away()
            self._later(10, 30 * 3600, self._broker_back)

    def _broker_back(self):
        broker = self.world.broker
        if not broker.up:
            broker.comes_back(forgot=self.chance.random() < 0.15)
            self.world.send_kept()

    def _broker_drops(self):
        for _ in range(self.chance.choice([1, 1, 4])):
            self.world.broker.drop()

    def _nodes_held(self):
        self.nodes_held = True

        def over():
            self.nodes_held = False
            self.world.send_kept()

        self._later(600, 3 * 86_400, over)

    def _node_dumb(self):
        place = self.chance.choice(list(PROBES))
        self.dumb.add(place)
        self._later(3600, 2 * 86_400, lambda: self.dumb.discard(place))

    def _channel(self):
        channel = self.chance.choice(["wire", "mail"])
        self.world.post.mood[channel] = self.chance.choice(CHANNEL_MOODS)
        self._later(60, 2 * 86_400, lambda: self.world.post.mood.update({channel: "well"}))

    def _server(self):
        server = self.world.server
        server.mood = self.chance.choice(SERVER_MOODS)

        def over():
            server.mood = "well"

        self._later(60, 7 * 86_400, over)

    def _server_crash(self):
        self.world.server.crash()

    def _clock(self):
        time = self.world.time
        time.off_ms = self.chance.choice([-3, -HOUR, HOUR, -DAY, 2 * DAY, 5 * 60_000, -90_000])
        time.synchronised = self.chance.choice([False, None])

        def over():
            time.off_ms, time.synchronised = 0, True

        self._later(60, 86_400, over)

    # The yard and its people.

    def _fire(self):
        start = self.world.time.true_ms()
        self.world.truth.fire(self.chance.choice(PILES), start, start + self.chance.choice([1, 3, 8]) * HOUR)

    def _swelter(self):
        start = self.world.time.true_ms()
        self.world.truth.swelter(self.chance.choice(BINS), start, start + self.chance.choice([1, 6]) * HOUR)

    def _settings(self):
        world = self.world
        shape = {
            "gather": self.chance.choice(["60s", "0s", "10m"]),
            "channels": self.chance.choice([("wire", "mail"), ("wire", "mail"), ("mail",)]),
            "hot": self.chance.choice([None, 158]),
            "extra": self.chance.random() < 0.3,
        }
        good = toml(**world.shape, **shape)
        broken = self.chance.random() < 0.3
        if broken:
            world.toml.write_text(self.chance.choice(BROKEN))
        else:
            world.toml.write_text(good)
        if world.daemon is not None and not world.busy:
            world.daemon.reload(lambda: load(world.toml, {}, rules=rule_ids()))
            world.counts.note("settings refused" if broken else "settings reloaded")
            world.step()
        if broken:
            world.toml.write_text(good)

    def _backup_put_back(self):
        if not self.world.busy:
            self._put_back()

    def _put_back(self):
        """Stop the program if it runs, put the newest copy back, and start again."""
        world = self.world
        copies = sorted(world.data.glob("copies/journal-*.sqlite"))
        if not copies or world.disk.full or world.disk.brittle:
            return
        crash, world.disk.crash_in = world.disk.crash_in, None
        if world.daemon is not None:
            if self.chance.random() < 0.5:
                world.end()
            else:
                world.abandon()
        try:
            restore(world.data, copies[-1], world.time.wall_ms())
        except NotSoundError as fault:
            # Each copy was looked through as it was made, and nothing changes one.
            raise checks.Broken(f"a backup is damaged itself: {fault.findings[0].sentence}") from fault
        world.ledger.restored(world.copies[copies[-1].name])
        self.damaged = False
        world.counts.note("backups put back")
        for aside in world.data.glob("before-restore-*"):
            shutil.rmtree(aside)
        world.disk.crash_in = crash
        world.start()

    def _pages_flipped(self):
        """Change bytes of the file while no program runs: it must be noticed, unless nothing was in them."""
        world = self.world
        if world.busy or self.damaged or not list(world.data.glob("copies/journal-*.sqlite")):
            return
        crash, world.disk.crash_in = world.disk.crash_in, None
        full, world.disk.full = world.disk.full, False
        brittle, world.disk.brittle = world.disk.brittle, 0
        world.end()
        try:
            with open_reader(world.data) as store:
                before = contents(store)
        except UnavailableError:
            before = None
        path = world.data / "journal.db"
        raw = bytearray(path.read_bytes())
        if before is not None and len(raw) > 4096:
            at = self.chance.randrange(len(raw))
            raw[at] ^= 1 << self.chance.randrange(8)
            path.write_bytes(raw)
            self._notice(before)
        world.disk.crash_in, world.disk.full, world.disk.brittle = crash, full, brittle
        if self.damaged and self.chance.random() < 0.5:
            self._run_on()
        elif self.damaged:
            self._put_back()
        world.start_if_down()

    def _run_on(self):
        """Start the program on the damaged file: within a day it must tell people, or nothing works at all."""
        world = self.world
        world.disk.crash_in, world.disk.full, world.disk.brittle = None, False, 0
        world.start()
        if world.daemon is None:
            world.counts.note("damaged records on which no program started")
            self._put_back()
            return
        self._begun_on, self._begun_s = world.daemon, world.time.now_s
        self._later(26 * 3600, 26 * 3600, self._ran_on)

    def _ran_on(self):
        world = self.world
        if not self.damaged:
            return
        if world.busy:
            # It waits for a disk that never works again, and says so; only its end can help.
            world.counts.note("damaged records that kept the program waiting")
            world.time.after(1.0, self._put_back)
            world.disk.power = False
            world.disk.crash()
        if world.daemon is not None:
            with open_reader(world.data) as store:
                days = [one for one in audit(store) if one.is_fault() and one.day >= 0]
            told = stands(world.daemon.engine(), Alarm.RECORD)
            lately = world.daemon is self._begun_on and world.time.now_s - self._begun_s > 24 * 3600
            checks.holds(told or not days or not lately, lambda: f"damage is not told within a day: {days[0].sentence}")
            world.counts.note(
                "damage told by the running program" if told else "damage beside the days, or met too shortly"
            )
        self._put_back()

    def _notice(self, before):
        """Look whether the damage is found; if not, nothing may have changed."""
        world = self.world
        try:
            with open_reader(world.data) as store:
                found = [one for one in audit(store) if one.is_fault()]
                if not found:
                    checks.holds(contents(store) == before, "changed bytes of the record go unnoticed")
                    world.counts.note("flipped bytes that held nothing")
        except MonitorError:
            found = [True]
        if found:
            world.counts.note("damage found")
            self.damaged = True

    def check_told(self, store):
        """Look whether people were told of each fire that the probes showed in time."""
        states = defaultdict(list)
        for effect in store.effects():
            draft = effect.draft
            if draft.kind is EffectKind.ALARM and draft.axis == "fire":
                states[draft.place].append((effect.at, draft.after))
        shown = defaultdict(list)
        for arrival in store.readings_after(0, 1 << 40):
            for row in arrival.rows:
                if row.micro > 85_000_000 and abs(arrival.at - row.time) < 10 * MINUTE:
                    shown[row.probe].append(row.time)
        for place, start, end in self.world.truth.fires:
            seen = max((sum(start <= one < end for one in shown[probe]) for probe in PROBES[place]), default=0)
            if seen < 4:
                continue
            before = [state for at, state in states[place] if at < start]
            on = (before and before[-1] != "normal") or any(start <= at < end + HOUR for at, _ in states[place])
            checks.holds(on, f"a fire at {place} since {start} was shown {seen} times and is no alarm")
            self.world.counts.note("fires that became an alarm")


def contents(store):
    """Return all that the record holds and vouches for."""
    tables = ("event", "effect", "reading", "block", "span", "flag", "chain", "series", "further", "seal")
    return {table: store.connection.execute(f"SELECT * FROM {table}").fetchall() for table in tables}
