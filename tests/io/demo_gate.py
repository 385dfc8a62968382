"""The record that a demo left, served to phones by a name: with the yard's password, as a keeper's phone reaches it."""

import re
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.app.daemon.daemon import Daemon
from monitor.app.loop.clock import ScaledClock
from monitor.configuration import load_text
from monitor.journal import open_reader
from monitor.proof.rules import rule_names

NAME = "yard.example"
PASSWORD = "three barrows of leaves"


@contextmanager
def gated(folder: Path, port: int) -> Iterator[str]:
    """Serve a demo's folder until the caller is done; gives the page's address.

    Args:
        folder: The demo's folder; its record goes on by some minutes.
        port: A free port.
    """
    kept = (folder / "heaptender.toml").read_text(encoding="utf-8")
    for part in ("page", r"serial\.\w+"):
        kept = re.sub(rf"(?ms)^\[{part}\].*?(?=^\[|\Z)", "", kept)
    base = f"http://{NAME}:{port}"
    page = f'[page]\nport = {port}\nlink = "{base}"\nhosts = ["{NAME}"]\npassword = "{PASSWORD}"\n'
    configuration = load_text(f"{kept}\n{page}", folder / "heaptender.toml", {}, rules=rule_names())
    with open_reader(configuration.data) as store:
        last = store.mark().latest()
    assert last is not None
    daemon = Daemon(configuration, ScaledClock(last + 60_000, 1.0))
    running = threading.Thread(target=daemon.run, daemon=True)
    running.start()
    while not daemon.page.address and running.is_alive():
        time.sleep(0.05)
    try:
        yield base
    finally:
        daemon.stop.set()
        daemon.hub.wake()
        running.join(20)
