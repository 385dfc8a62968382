"""A mirror's cursor is held against the record until that is kept, even if the mirror cannot be made at the first try."""

import json

import pytest

from monitor.app.daemon import daemon as daemon_module
from monitor.app.daemon.daemon import Daemon
from monitor.app.loop.clock import YardClock
from monitor.configuration import load_text
from monitor.model.errors import UnavailableError
from monitor.model.times import DAY_MS

T0 = 1_793_577_600_000
YARD = """
[site]
time_zone = "UTC"
data = "data"
[piles.p1]
rule = "none"
[probes.p1-a]
place = "p1"
[mirror]
url = "http://127.0.0.1:9"
bucket = "yard"
"""


class Made:
    """Stands for the mirror's thread: keeps what makes the mirror."""

    def __init__(self, make, *_):
        self.make = make

    def start(self):
        pass


def test_a_record_that_cannot_be_opened_at_once_is_still_held_against_a_cursor_ahead_of_it(tmp_path, monkeypatch):
    configuration = load_text(YARD, tmp_path / "heaptender.toml", {}, rules=set())
    daemon = Daemon(configuration, YardClock(lambda: T0, lambda: 1000.0, lambda: True))
    cursor = configuration.data / "mirror-cursor.json"
    cursor.write_text(json.dumps({"readings": T0 + DAY_MS, "effects": T0 + DAY_MS}), encoding="utf-8")
    daemon._reach = T0
    sources = []

    def opened(*what):
        sources.append(what)
        if len(sources) == 1:
            raise UnavailableError("the disk failed")

    monkeypatch.setattr(daemon_module, "JournalSource", opened)
    monkeypatch.setattr(daemon_module, "MirrorThread", Made)
    try:
        daemon._start_mirror()
        with pytest.raises(UnavailableError):
            daemon._mirror.make()
        daemon._mirror.make()
        assert json.loads(cursor.read_text(encoding="utf-8")) == {"readings": T0, "effects": T0}
        # What this mirror sends counts from now on: made anew, it does not begin at the start's end of the record.
        cursor.write_text(json.dumps({"readings": T0 + 5, "effects": T0 + 7}), encoding="utf-8")
        assert daemon._mirror.make().cursor == (T0 + 5, T0 + 7)
    finally:
        daemon.writer.close()
