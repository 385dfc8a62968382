"""Faults with a course of their own: imports, damage, backups put back, outages of the disk, moods, clocks, settings."""

import shutil
import signal
import subprocess
import sys
import time

from daemon_process import HERE

from monitor.journal import audit, open_reader
from monitor.model.errors import MonitorError
from tests.faults.ledger import Broken
from tests.faults.weather import contents

from . import judging
from .load import recording
from .running import PATIENCE_S, Running


class Courses(Running):
    """A round to which all that may befall it can be done."""

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
