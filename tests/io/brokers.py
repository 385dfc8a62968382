"""A real MQTT broker for tests: started on loopback, stopped, killed and started again at will."""

import os
import shutil
import signal
import socket
import subprocess
import time
from pathlib import Path
from typing import Any

import pytest

WAIT_S = 20.0


def program(name):
    """Return the path of a program; without it skip, or fail where CI=true says that everything must be there."""
    found = shutil.which(name) or shutil.which(name, path="/usr/sbin:/usr/local/sbin:/sbin")
    if found is None:
        message = f"{name} is not installed"
        if os.environ.get("CI") == "true":
            pytest.fail(message)
        pytest.skip(message)
    return found


def find_free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_until(check, what="it", timeout_s=WAIT_S):
    """Poll until `check()` is true and return its value; fail after a generous time."""
    end = time.monotonic() + timeout_s
    while True:
        value = check()
        if value:
            return value
        if time.monotonic() > end:
            pytest.fail(f"waited {timeout_s} s in vain for {what}")
        time.sleep(0.01)


class Mosquitto:
    """One broker, with a folder of its own for what it keeps."""

    def __init__(self, folder: Path, port: int, lines=(), *, anonymous=True, inflight=0, persistence=True):
        self.port = port
        self.folder = folder
        self._program = program("mosquitto")
        self._process: Any = None
        self._log: Any = None
        folder.mkdir(parents=True, exist_ok=True)
        self._config = folder / "mosquitto.conf"
        self._config.write_text(
            "\n".join(
                [
                    f"listener {port} 127.0.0.1",
                    *lines,
                    f"allow_anonymous {'true' if anonymous else 'false'}",
                    # With the default of 1000 a broker drops what a sleeping session should get, without a word.
                    "max_queued_messages 0",
                    f"max_inflight_messages {inflight}",
                    f"persistence {'true' if persistence else 'false'}",
                    f"persistence_location {folder}/",
                    "autosave_interval 1",
                    # Debian's build changes to this account when it is started by root.
                    *(["user root"] if os.geteuid() == 0 else []),
                    "",
                ]
            )
        )

    def start(self):
        self._log = (self.folder / "mosquitto.log").open("ab")
        self._process = subprocess.Popen(
            [self._program, "-c", str(self._config)], stdout=self._log, stderr=subprocess.STDOUT
        )

        def listening():
            if self._process.poll() is not None:
                pytest.fail("mosquitto ended: " + (self.folder / "mosquitto.log").read_text())
            with socket.socket() as probe:
                return probe.connect_ex(("127.0.0.1", self.port)) == 0

        wait_until(listening, "mosquitto to listen")
        return self

    def pause(self):
        self._process.send_signal(signal.SIGSTOP)

    def resume(self):
        if self._process is not None:
            self._process.send_signal(signal.SIGCONT)

    def stop(self, how=signal.SIGTERM):
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait()
            self._process = None
            self._log.close()

    def kill(self):
        self.stop(signal.SIGKILL)
