"""A pile that the configuration no longer names while a heap lies there: nothing watches it, and people are told."""

import json
import logging

from typed_command import call, yard_of

from monitor.app.daemon.daemon import Daemon
from monitor.app.loop.clock import YardClock
from monitor.configuration import load

YARD = """
[site]
data = "data"
[page]
on = false
[piles.p1]
name = "Bay 1"
[probes.p1-a]
place = "p1"
role = "core"
"""

yard = yard_of(YARD)


def test_a_heap_whose_pile_got_another_id_is_told_by_check_status_and_daemon(yard, caplog):
    call(yard, "log", "built", "p1")
    assert "by the record a heap has lain there" not in call(yard, "check")
    (yard / "heaptender.toml").write_text(YARD.replace("p1", "bay1"))
    told = call(yard, "check", code=1)
    assert "pile p1: NOT OK" in told
    assert "by the record a heap has lain there since" in told
    assert "write [piles.p1] again" in told
    daemon = Daemon(load(yard / "heaptender.toml", {}), YardClock())
    try:
        with caplog.at_level(logging.WARNING):
            daemon._settings_event()
        assert "p1: by the record a heap has lain there" in caplog.text
    finally:
        daemon.writer.close()
    call(yard, "log", "note", "bay1", "--note", "the bay has another id")  # with it the new settings come into force
    assert "p1: by the record a heap has lain there" in call(yard, "status", code=1)
    assert json.loads(call(yard, "status", "--json", code=1))["left_behind"] == ["p1"]
    (yard / "heaptender.toml").write_text(YARD)
    assert "by the record a heap has lain there" not in call(yard, "check")
    call(yard, "log", "emptied", "p1", "--again")
    (yard / "heaptender.toml").write_text(YARD.replace("p1", "bay1"))
    assert "by the record a heap has lain there" not in call(yard, "check")
