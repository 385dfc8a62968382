"""A daemon in a thread of the test's own process."""

import threading

from monitor.app.daemon.daemon import Daemon
from monitor.app.loop.clock import ScaledClock
from monitor.configuration import load
from monitor.proof.rules import rule_ids

START = 1_784_000_000_000
"""The instant at which its clock begins, UTC ms."""


def daemons(folder, text, **how):
    """Yield a function that starts a daemon on a configuration, with more of it; end all of them afterwards."""
    started = []

    def start(more=""):
        (folder / "heaptender.toml").write_text(text + more)
        configuration = load(folder / "heaptender.toml", {}, rules=rule_ids())
        daemon = Daemon(configuration, ScaledClock(START, 1.0), **how)
        thread = threading.Thread(target=daemon.run, daemon=True)
        thread.start()
        started.append((daemon, thread))
        begun = threading.Event()
        daemon.hub.call(begun.set)
        assert begun.wait(20)
        return daemon

    yield start
    for daemon, thread in started:
        daemon.stop.set()
        daemon.hub.wake()
        thread.join(20)
