"""The agenda of a round, in real time, and the daemon kept running as a service manager does."""

import subprocess
import sys
import time

from daemon_process import HERE

from tests.faults.ledger import Broken

from .parts import Parts

LIVELY_S = 8.0
"""How long, in seconds, faults begin; what each does may take longer."""

PATIENCE_S = 300.0
"""How long to wait for what must come; beside other work a start alone may take a minute."""

_STEP_S, _REST_S = 0.002, 0.015


class Running(Parts):
    """A round whose daemon is started, killed, ended and waited for."""

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

    def _is_up(self):
        return self.is_running() and "mqtt is up" in self.daemon.log

    def until(self, condition, what, limit_s=PATIENCE_S):
        end = time.monotonic() + limit_s
        while not condition():
            if time.monotonic() > end:
                raise Broken(f"waited {limit_s:.0f} s in vain for {what}; the log ends:\n{self.daemon.log[-1200:]}")
            self.step()
