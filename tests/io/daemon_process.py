"""The real daemon in a process of its own: written a configuration, started, waited for, told to end or killed."""

import resource
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from brokers import wait_until

HERE = Path(__file__).parents[2]


def toml(port, *, piles=(), bins=(), channel="", more="", client="test"):
    """A yard whose probes are named after their place (`p1-0`, `p1-1`, ...): (place, how many probes)."""
    lines = ['[site]\nname = "Tern Hollow allotments"\ntime_zone = "UTC"\ntemperature_unit = "degC"\ndata = "data"']
    if port is not None:
        lines.append(f'[mqtt]\nhost = "127.0.0.1"\nport = {port}\nclient_id = "{client}"')
        lines.append('[[mqtt.subscriptions]]\ntopic = "nodes/+/senml"\nform = "senml"')
    for kind, role, places in (("piles", "core", piles), ("bins", "bedding", bins)):
        for place, count in places:
            lines.append(f'[{kind}.{place}]\nname = "Place {place}"')
            lines += [f'[probes.{place}-{n}]\nplace = "{place}"\nrole = "{role}"' for n in range(count)]
    if channel:
        lines.append('[contacts.ann]\nname = "Ann"\nchannels = ["wire"]\nquiet = "none"\ndigest = false')
        lines.append(f'[channels.wire]\nurl = "{channel}"')
    if "[page]" not in more:
        # Tests run side by side, and the page has one port.
        lines.append("[page]\non = false")
    return "\n".join([*lines, more]) + "\n"


class DaemonProcess:
    """`heaptender run` on a folder; its log is read from a file.

    Attributes:
        module: What is run as `heaptender`.
        environment: The variables of its environment; None: those of the test.
    """

    module = "monitor"
    environment: Any = None

    def __init__(self, folder, text, *, file_limit=None):
        self.folder = folder
        self.data = folder / "data"
        self.config = folder / "heaptender.toml"
        self.config.write_text(text)
        self.process: Any = None
        self.file_limit = file_limit
        self._log_file = folder / "daemon.log"
        self._from = 0
        self.begun = 0.0

    def start(self):
        self._from = self._log_file.stat().st_size if self._log_file.exists() else 0
        self.begun = time.monotonic()
        with self._log_file.open("ab") as log:
            self.process = subprocess.Popen(
                [sys.executable, "-m", self.module, "run", "--config", str(self.config)],
                env=self.environment,
                stdout=log,
                stderr=log,
                cwd=HERE,
            )
        if self.file_limit is not None:
            # Long before a file grows so far. Python ignores the signal: a write beyond it fails like one to a full disk.
            resource.prlimit(self.process.pid, resource.RLIMIT_FSIZE, (self.file_limit, resource.RLIM_INFINITY))
        return self

    @property
    def log(self):
        """What this start wrote."""
        return self._log_file.read_bytes()[self._from :].decode()

    def says(self, words, timeout_s=20.0):
        """Wait until its log says something; return seconds since its start."""

        def said():
            if words in self.log:
                return True
            if self.process.poll() is not None:
                pytest.fail(f"the daemon ended with {self.process.returncode} instead of saying {words!r}:\n{self.log}")
            return False

        wait_until(said, f"{words!r} in its log:\n{self.log[-3000:]}", timeout_s)
        return time.monotonic() - self.begun

    def subscribed(self):
        return self.says("mqtt is up")

    def kill(self):
        self.process.kill()
        self.process.wait()

    def end(self, timeout_s=20.0):
        """SIGTERM; return (exit code, seconds)."""
        begun = time.monotonic()
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(timeout_s)
        return self.process.returncode, time.monotonic() - begun

    def close(self):
        if self.process is not None and self.process.poll() is None:
            self.kill()
