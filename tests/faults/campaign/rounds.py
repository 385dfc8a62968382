"""One round of the campaign: a yard with real parts, what goes wrong in it, and a calm end at which everything is checked."""

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter

import pytest
from brokers import Mosquitto, find_free_port
from daemon_process import HERE, DaemonProcess
from sinks import Mailbox, WebHook

from monitor.journal import audit, open_reader
from monitor.model.errors import MonitorError
from monitor.model.times import DAY_MS
from tests.faults.ledger import Broken, day_of
from tests.faults.weather import contents
from tests.faults.yard import toml

from . import judging
from .books import Books, SharedCounts
from .kinds import KINDS
from .load import ROW, Asking, Nodes, recording
from .mirror_sink import MirrorSink
from .storage import Storage
from .tap import Tap

LIVELY_S = 8.0
"""How long, in seconds, faults begin; what each does may take longer."""

OLD_DAYS = 6
PATIENCE_S = 300.0
"""How long to wait for what must come; beside other work a start alone may take a minute."""

_STEP_S, _REST_S = 0.002, 0.015


class QuickDaemon(DaemonProcess):
    """The daemon, whose jobs come every few seconds."""

    module = "tests.faults.campaign.quick_daemon"

    def whole_log(self):
        """Return what all starts wrote."""
        return self._log_file.read_text()


class Round:
    """A round; `play` it once. `kinds` are drawn from the seed unless they are given."""

    def __init__(self, seed, folder, *, kinds=(), own_disk=True):
        self.seed, self.folder = seed, folder
        self.chance = random.Random(seed)
        drawn = self.chance.sample(sorted(KINDS), self.chance.choice([1, 2, 2, 3, 3]))
        self.kinds = list(kinds) or drawn
        self.counts = SharedCounts()
        self.books = Books(self.counts)
        self.books.today = day_of(int(time.time() * 1000))
        self.jobs, self.job_times, self._jobs_read = Counter(), [], 0
        self.copies = {}
        self.kills, self._full_since = [], None
        self.first_start_s = None
        self.broker_forgets = self.lied = self.damaged = self.may_fail = self.has_restored = False
        self.wrong_settings = self.may_be_strange = self.outage_to_tell = False
        self._agenda, self._armed = [], []
        self._wanted, self._start_at, self._doing = False, 0.0, ""
        self._begun, self._lively = time.monotonic(), False
        self._open = []
        try:
            self._build(own_disk)
        except BaseException:
            self.close()
            raise

    def _build(self, own_disk):
        folder, chance = self.folder, self.chance
        folder.mkdir(parents=True)
        (folder / "copies").mkdir()
        self.notes = folder / "notes"
        self.notes.mkdir()
        self.broker = self._opened(Mosquitto(folder / "broker", find_free_port()), lambda one: one.stop(signal.SIGKILL))
        self.broker.start()
        self.tap = self._opened(Tap(self.broker.port, self.books.acknowledge, self.counts))
        self.hook = self._opened(WebHook(answers_after_s=chance.choice([0.0, 0.3])))
        self.hook.heard = lambda *letter: self.books.deliver("wire", *letter)
        self.mailbox = self._opened(Mailbox(find_free_port()))
        self.mailbox.heard = lambda *letter: self.books.deliver("mail", *letter)
        self.mirror = self._opened(MirrorSink(self.counts))
        self.storage = self._opened(Storage(folder / "data", chance, self.counts, own=own_disk))
        self.nodes = self._opened(Nodes(self.broker.port, self.books, random.Random(self.seed + 1)))
        self.asking = self._opened(Asking(folder / "data", self.books, random.Random(self.seed + 2)))
        self.old_days = "killed dropping days" in self.kinds or chance.random() < 0.25
        self._text = self.yard_text()
        self.daemon = self._opened(QuickDaemon(folder, self._text))
        # As under the unit of docs/running.md, the service has a folder that lasts while it is started anew.
        runtime = folder / "runtime"
        runtime.mkdir()
        self.daemon.environment = {
            **os.environ, "CAMPAIGN_NOTES": str(self.notes), "RUNTIME_DIRECTORY": str(runtime),
        }  # fmt: skip

    def _opened(self, one, close=None):
        self._open.append((close and (lambda: close(one))) or one.close)
        return one

    def yard_text(self, **shape):
        """Return the configuration of the yard, with everything where this round has it."""
        text = toml(**{"gather": "1s", "keep_days": 3 if self.old_days else None} | shape)
        for before, after in (
            ('"json://127.0.0.1/wire"', f'"{self.hook.url}"'),
            ('"json://127.0.0.1/mail"', f'"{self.mailbox.url}"'),
            ("http://127.0.0.1:8086", self.mirror.url),
            # One way to each, so that two of them never get one letter at the same address.
            ('channels = ["wire", "mail"]', 'channels = ["wire"]'),
            ('data = "data"', f'data = "{self.folder / "data"}"'),
            ('folder = "data/copies"\nevery = "24h"', f'folder = "{self.folder / "copies"}"\nevery = "3s"'),
            ("[mqtt]\n", f'[mqtt]\nhost = "127.0.0.1"\nport = {self.tap.port}\nclient_id = "campaign"\n'),
        ):
            if before not in text:
                raise Broken(f"the yard's configuration has no {before!r}")
            text = text.replace(before, after, 1)
        for name in ROW:
            text += f'[bins.{name}]\nname = "Row {name[1:]}"\n[probes.{name}-a]\nplace = "{name}"\n'
        return f'{text}[serial.shed]\nurl = "{self.nodes.port_name}"\nform = "lines"\n'

    # The agenda.

    def some_time(self, do):
        """Have something done at an instant that the seed draws, once the daemon is at work."""
        self._agenda.append((self.chance.uniform(0.0, LIVELY_S), do))

    def after(self, seconds, do):
        """Have something done so many seconds from now."""
        self._agenda.append((time.monotonic() - self._begun + seconds, do))

    def when(self, condition, do, otherwise, within_s=8.0):
        """Have something done as soon as a condition holds, or something else if it does not within some seconds."""
        self._armed.append((condition, do, otherwise, time.monotonic() + within_s))

    def with_copy(self, do):
        """Have something done at some time, but not before there is a backup."""
        self.some_time(lambda: self.when(self.has_copy, do, lambda: self.counts.note("no backup came in time"), 15.0))

    def nap(self, seconds):
        """Wait exactly so long, whatever else is due."""
        time.sleep(seconds)

    def step(self):
        """Do what is due, and keep the daemon running as a service manager does."""
        now = time.monotonic() - self._begun
        due = [one for one in self._agenda if one[0] <= now] if self._lively else []
        for one in sorted(due, key=lambda one: one[0]):
            self._agenda.remove(one)
            one[1]()
        for one in list(self._armed):
            condition, do, otherwise, until = one
            if condition():
                self._armed.remove(one)
                do()
            elif time.monotonic() > until:
                self._armed.remove(one)
                otherwise()
        self._read_jobs()
        self._keep_running()
        time.sleep(_STEP_S if self._armed else _REST_S)

    def _read_jobs(self):
        path = self.notes / "jobs"
        if not path.exists() or path.stat().st_size == self._jobs_read:
            return
        with path.open("rb") as notes:
            notes.seek(self._jobs_read)
            fresh = notes.read()
        whole = fresh[: fresh.rfind(b"\n") + 1]
        self._jobs_read += len(whole)
        for line in whole.decode().splitlines():
            when, _, what = line.partition(" ")
            self.jobs[what] += 1
            self.job_times.append((float(when), what))

    # The daemon.

    def is_running(self):
        return self.daemon.process is not None and self.daemon.process.poll() is None

    def _keep_running(self):
        if not self._wanted or self.is_running():
            return
        if self._doing == "running":
            self._ended_by_itself()
        if time.monotonic() >= self._start_at:
            self.daemon.start()
            self._doing = "running"
            self.counts.note("starts")

    def _ended_by_itself(self):
        code = self.daemon.process.returncode
        excused = self.storage.bad or self.damaged or self.wrong_settings or self.may_fail
        if not excused or ("Traceback" in self.daemon.log and not self.damaged):
            raise Broken(f"the daemon ended by itself with {code}:\n{self.daemon.log[-1200:]}")
        self.counts.note("starts and runs that failed for a reason")
        self._doing, self._start_at = "", time.monotonic() + 1.0

    def kill(self, pause_s=None):
        """SIGKILL; the daemon starts again after a moment."""
        self._stop_with(self.daemon.kill, "kills", pause_s)
        self.kills.append(time.time())

    def end(self, pause_s=None):
        """SIGTERM; the daemon must end in time and in order."""

        def ending():
            code, seconds = self.daemon.end(PATIENCE_S)
            # 3: the end could not be recorded.
            if code not in ((0, 3, -15) if self.storage.bad or self.damaged else (0, -15)):
                raise Broken(f"asked to end, it ended with {code} after {seconds:.1f} s:\n{self.daemon.log[-1200:]}")

        self._stop_with(ending, "ends in order", pause_s)

    def _stop_with(self, stop, what, pause_s):
        if self.is_running():
            stop()
            self.counts.note(what)
            # What it had acknowledged is on its way to the tap still.
            time.sleep(0.1)
        self._doing = ""
        self._start_at = time.monotonic() + (self.chance.uniform(0.0, 1.5) if pause_s is None else pause_s)

    def command(self, *words):
        """Run a command on the yard; return (exit code, what it printed)."""
        done = subprocess.run(
            [sys.executable, "-m", "monitor", *words, "--config", str(self.daemon.config)],
            capture_output=True, text=True, cwd=HERE, timeout=120,
        )  # fmt: skip
        if "Traceback" in done.stderr:
            raise Broken(f"`{' '.join(words)}` failed:\n{done.stderr[-1200:]}")
        return done.returncode, done.stdout + done.stderr

    # Faults with a course of their own.

    def imports(self, then, within_s):
        """Have a command hand over a recording, and after a moment kill it, or do something else."""
        number = self.counts.of["recordings handed over"]
        self.counts.note("recordings handed over")
        path = self.folder / f"recording-{number}.csv"
        rows = recording(path, number, self.books, self.chance)
        words = [sys.executable, "-m", "monitor", "import", str(path), "--config", str(self.daemon.config)]
        out = (self.folder / f"import-{number}.log").open("wb")
        process = subprocess.Popen(words, stdout=out, stderr=out, cwd=HERE)
        self._open.append(lambda: (process.kill(), process.wait(), out.close()))

        def over():
            if process.returncode == 0:
                for row in rows:
                    self.books.enter(row)
                self.counts.note("recordings taken in")
            else:
                self.counts.note("recordings that were not taken in whole")

        self.after(within_s, then or process.kill)
        self.when(lambda: process.poll() is not None, over, lambda: None, PATIENCE_S)

    def has_copy(self):
        return bool(self._copies())

    def _copies(self):
        return sorted((self.folder / "copies").glob("journal-*.sqlite"))

    def put_back(self, *, killed):
        """End the daemon and put the newest sound backup back with the command."""
        self._wanted = False
        self.kill() if killed else self.end()
        self.storage.free()
        self._restore()
        self._wanted = True

    def _restore(self):
        with self.asking.still:
            self._restore_quietly()

    def _restore_quietly(self):
        for copy in reversed(self._copies()):
            code, said = self.command("restore", str(copy))
            if code == 0:
                break
            if not self.damaged:
                raise Broken(f"a backup cannot be put back: {said}")
        else:
            raise Broken(f"no backup can be put back: {said}")
        begun = [when for when, what in self.job_times if what == "backup begins" and when < copy.stat().st_mtime]
        self.books.restored(self.books.held_at(max(begun, default=0.0)))
        for aside in (self.folder / "data").glob("before-restore-*"):
            shutil.rmtree(aside)
        self.damaged, self.has_restored = False, True
        self.counts.note("backups put back")

    def flip(self, *, run_on):
        """Change a bit while no program runs: it must be found, or have held nothing; then put a backup back."""
        self._wanted = False
        self.end()
        self.storage.free()
        try:
            with open_reader(self.storage.folder) as store:
                before = contents(store)
        except MonitorError:
            before = None
        at = self.storage.flip()
        found = self._damage()
        if not found and before is not None:
            with open_reader(self.storage.folder) as store:
                if contents(store) != before:
                    raise Broken(f"a bit was changed at byte {at} of the file, and nobody finds it")
            self.counts.note("flipped bits that held nothing")
        elif found:
            self.damaged = True
            self.counts.note("damage found")
            if run_on:
                self._run_on(found)
            self._restore()
        self._wanted = True

    def _damage(self):
        """Return what an audit finds: None, or the days that are at fault (negative: beside the days)."""
        try:
            with open_reader(self.storage.folder) as store:
                return [one.day for one in audit(store) if one.is_fault()]
        except MonitorError:
            return [-1]

    def _run_on(self, days):
        """Start the daemon on damage: it ends with a reason, or tells people."""
        self.daemon.start()
        end = time.monotonic() + 25.0
        while time.monotonic() < end and self.is_running() and not self.told("record is damaged"):
            time.sleep(0.05)
        if self.told("record is damaged"):
            self.counts.note("damage told by the running program")
        elif not self.is_running():
            if "Traceback" in self.daemon.log or not self.daemon.log.strip():
                raise Broken(f"over damage it ended without a reason:\n{self.daemon.log[-1200:]}")
            self.counts.note("damaged records on which no program started")
        elif any(day >= 0 for day in days):
            raise Broken(f"damage of a day is not told:\n{self.daemon.log[-1200:]}")
        else:
            self.counts.note("damage beside the days that was not met")
        self.daemon.close()

    def told(self, words):
        return any(
            words in title + text for channel in ("wire", "mail") for _, title, text in self.books.came_by(channel)
        )

    def lie(self):
        """Cut off what the disk had said to have written; what is left must be sound, or the damage must be found."""
        if not self.has_copy():
            self.counts.note("no backup came in time")
            return
        self._wanted = False
        self.kill()
        if self.storage.bad:
            self._wanted = True
            return
        self.storage.cut(lied=True)
        self.counts.note("disks that lied")
        self.lied = True
        if self._damage():
            self.damaged = True
            self.counts.note("damage found")
            self._restore()
        else:
            with self.asking.still:
                judging.forget_lost(self.storage.folder, self.books)
        self._wanted = True

    def outage_begins(self):
        self.may_fail = self.may_be_strange = True
        self._full_since = time.monotonic(), self.daemon.process
        self.storage.fill(self.daemon.process)

    def outage_ends(self):
        begun, self._full_since = self._full_since, None
        if begun is not None and begun[1] is self.daemon.process and self.is_running():
            failed = "Nothing can be stored" in self.daemon.log
            self.counts.note(
                "outages that the running program noticed" if failed else "outages too short to be noticed"
            )
            if failed and time.monotonic() - begun[0] > 5.0:
                self.outage_to_tell |= not any("mood" in kind for kind in self.kinds)
        self.storage.free()

    def broker_back(self):
        self.broker.stop()
        self.broker.start()

    def tap_cut(self):
        self.tap.cut()
        self.counts.note("connections cut")

    def mood(self, part, mood, seconds):
        part.mood = mood
        self.after(seconds, lambda: setattr(part, "mood", "well"))

    def clock_off(self, by_ms):
        part = self.notes / "part"
        part.write_text(str(by_ms))
        part.replace(self.notes / "clock_off_ms")

    def settings(self, shape=None):
        self.settings_text(self.yard_text(**(shape or {})))
        self.wrong_settings = False

    def settings_text(self, text):
        self.wrong_settings = True
        self.daemon.config.write_text(text)
        if self.is_running() and "Watching" in self.daemon.log:
            self.daemon.process.send_signal(signal.SIGHUP)
        self.counts.note("settings handed over")

    # The round.

    def play(self):
        """Live through the round; raises `Broken` if something does not hold that must."""
        for kind in self.kinds:
            self.counts.note(f"fault: {kind}")
            KINDS[kind](self)
        self._first_start()
        if self.old_days:
            self._old_day()
        self.until(self._is_up, "the first start")
        # Not earlier: a broker keeps nothing for somebody who has never been there.
        self.nodes.start()
        self.asking.start()
        self._begun, self._lively = time.monotonic(), True
        while self._agenda or self._armed or time.monotonic() - self._begun < LIVELY_S:
            self.step()
        self._calm()
        self._settle()
        judging.judge(self)
        self.counts.note("rounds")

    def _first_start(self):
        self._wanted = True
        if self.first_start_s is not None:
            self._keep_running()
            time.sleep(self.first_start_s)
            self.kill(0.0)
        self._keep_running()

    def _old_day(self):
        """Let the yard have lived some days ago, so that retention finds days to drop."""
        self.kill(0.0)
        self.clock_off(-OLD_DAYS * DAY_MS)
        self.nodes.off_ms = -OLD_DAYS * DAY_MS
        self.books.today -= OLD_DAYS
        self._keep_running()
        self.until(self._is_up, "a start some days ago")
        for number in range(40):
            self.nodes.say("p1-a", 50.0 + number / 10)
            self.step()
        self.until(lambda: not self.books.unacknowledged(self.nodes.sender.sent), "the readings of some days ago")
        self._stop_with(self.daemon.kill, "kills", 0.0)
        self.clock_off(0)
        self.nodes.off_ms = 0
        self.books.today += OLD_DAYS
        self._keep_running()

    def _is_up(self):
        return self.is_running() and "mqtt is up" in self.daemon.log

    def until(self, condition, what, limit_s=PATIENCE_S):
        end = time.monotonic() + limit_s
        while not condition():
            if time.monotonic() > end:
                raise Broken(f"waited {limit_s:.0f} s in vain for {what}; the log ends:\n{self.daemon.log[-1200:]}")
            self.step()

    def _calm(self):
        """End everything that is wrong."""
        self.outage_ends()
        self.broker.resume()
        self.clock_off(0)
        self.tap.loses = 0
        for part in (self.mirror, self.mailbox, self.hook):
            part.mood = "well"
        if self.wrong_settings:
            self.settings()
        self.asking.wishes = False
        self.nodes.rest()

    def _settle(self):
        """Wait until everything that was under way has come where it belongs."""
        self.until(self._is_up, "the daemon to be up again")
        # Not earlier: a start may have failed before everything was well, and end only now.
        self.may_fail = False
        self.until(self.nodes.are_heard, "the broker to take what was sent")
        self.tap.cut()
        if not self.broker_forgets:
            sent = self.nodes.sender.sent
            self.until(lambda: not self.books.unacknowledged(sent), "the program to take all that the broker took")
        self.until(lambda: not self.books.asked, "answers to all requests")
        judging.tell_something(self)
        with open_reader(self.storage.folder) as store:
            self.until(lambda: store.waiting_notices() == 0, "all notices to be delivered")
        judging.wait_for_mirror(self)
        self._wanted = False
        self.end()

    def close(self):
        """End every part, and leave nothing running; the folder stays."""
        for close in reversed(self._open):
            try:
                close()
            except (Exception, pytest.fail.Exception):  # noqa: BLE001 - the other parts must end too
                self.counts.note("parts that did not end well")


def play(seed, folder, **how):
    """Play one round and return it; its parts have ended then, whatever happened.

    Raises:
        Broken: Something does not hold that must.
    """
    one = Round(seed, folder, **how)
    try:
        one.play()
    except pytest.fail.Exception as fault:
        raise Broken(str(fault)) from fault
    finally:
        one.close()
    return one
