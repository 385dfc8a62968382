"""A real Dask scheduler with workers, each a process of its own on loopback."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from brokers import find_free_port, wait_until

HERE = Path(__file__).parents[2]


def needed():
    """Skip without Dask, or fail where CI=true says that everything must be there."""
    if os.environ.get("CI") != "true":
        pytest.importorskip("distributed", reason="the extra `fleet` is not installed")


class DaskCluster:
    """One scheduler; workers join it one by one. `close` ends all that was started."""

    def __init__(self, folder):
        self.folder = folder
        self.address = f"tcp://127.0.0.1:{find_free_port()}"
        self._log = folder / "dask.log"
        self._workers = []
        self._scheduler = self._start(
            "dask_scheduler", "--host", "127.0.0.1", "--port", self.address.rpartition(":")[2]
        )
        wait_until(lambda: f"Scheduler at: {self.address}" in " ".join(self.log.split()), "the scheduler to listen", 60)

    @property
    def log(self):
        return self._log.read_text() if self._log.exists() else ""

    def _start(self, program, *words, source=HERE):
        with self._log.open("ab") as log:
            return subprocess.Popen(
                [sys.executable, "-m", f"distributed.cli.{program}", *words, "--no-dashboard"],
                stdout=log,
                stderr=log,
                cwd=self.folder,
                env=os.environ | {"PYTHONPATH": str(source)},
            )

    def join(self, count=1, *, source=HERE):
        """Start workers that run the Heaptender of a folder, and wait until the scheduler has them."""
        before = self.log.count("Registered to:")
        for _ in range(count):
            words = (self.address, "--no-nanny", "--nthreads", "1", "--local-directory", str(self.folder))
            self._workers.append(self._start("dask_worker", *words, source=source))
        wait_until(lambda: self.log.count("Registered to:") == before + count, f"{count} workers to join", 60)
        return self

    def end_workers(self):
        for process in self._workers:
            process.kill()
            process.wait()
        self._workers = []

    def end_scheduler(self):
        self._scheduler.kill()
        self._scheduler.wait()

    def close(self):
        self.end_workers()
        self.end_scheduler()
