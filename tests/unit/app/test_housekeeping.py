"""Jobs run once after whatever the clock did, beside the writer, and never hold up the end."""

import threading
import time
from datetime import UTC, datetime, timedelta
from types import SimpleNamespace

import pytest

from monitor.app.upkeep.housekeeping import Housekeeping
from monitor.configuration import load_text
from monitor.journal import open_writer
from monitor.model.errors import UnavailableError

YARD = """
[site]
time_zone = "UTC"
temperature_unit = "degC"
data = "data"
[bins.b1]
[retention]
keep = "400d"
[backup]
folder = "copies"
every = "6h"
keep = 2
"""


class WallClock(datetime):
    """The wall clock as the scheduler sees it, moved by hand."""

    shown = datetime(2026, 11, 2, tzinfo=UTC)

    @classmethod
    def now(cls, tz=None):
        return cls.shown.astimezone(tz)


@pytest.fixture
def wall(monkeypatch):
    WallClock.shown = datetime(2026, 11, 2, tzinfo=UTC)
    for name in ("apscheduler.schedulers.base", "apscheduler.triggers.interval", "monitor.app.upkeep.housekeeping"):
        monkeypatch.setattr(f"{name}.datetime", WallClock)
    return WallClock


@pytest.fixture
def house(tmp_path, wall, monkeypatch):
    configuration = load_text(YARD, tmp_path / "heaptender.toml", {}, rules=set())
    asked, copies = [], []
    hub = SimpleNamespace(
        call=asked.append,
        clock=SimpleNamespace(now_ms=lambda: 1_793_577_600_000),
        writer=SimpleNamespace(engine=None),
    )
    monkeypatch.setattr(Housekeeping, "_backup", lambda _self: copies.append(threading.current_thread().name))
    house = Housekeeping(hub, configuration)
    house.start()
    yield SimpleNamespace(house=house, asked=asked, copies=copies, configuration=configuration, hub=hub)
    house.stop()


def look(house, count):
    """Let the scheduler look at the clock until so many jobs came, and once more."""
    end = time.monotonic() + 10
    while len(house.asked) + len(house.copies) < count and time.monotonic() < end:
        house.house._scheduler.wakeup()
        time.sleep(0.005)
    for _ in range(3):
        house.house._scheduler.wakeup()
        time.sleep(0.005)


def test_each_job_is_caught_up_once_after_a_long_sleep(house, wall):
    look(house, 0)
    assert house.asked == []
    wall.shown += timedelta(days=3)
    look(house, 3)
    # Packing and retention are asked of the writer; the backup has a thread of its own.
    assert len(house.asked) == 2
    assert house.copies == ["backup"]
    wall.shown += timedelta(hours=1, seconds=1)
    look(house, 4)
    assert len(house.asked) == 3


def test_jobs_come_again_after_the_clock_was_put_back(house, wall):
    wall.shown -= timedelta(days=300)
    look(house, 0)
    house.house.clock_changed()
    look(house, 3)
    assert len(house.asked) == 2
    assert house.copies == ["backup"]
    wall.shown += timedelta(hours=1, seconds=1)
    look(house, 4)
    assert len(house.asked) == 3


def test_a_job_that_is_still_at_it_is_not_begun_again_and_faults_are_told(house, caplog):
    gate, begun = threading.Event(), []

    def slow():
        begun.append(threading.current_thread())
        gate.wait(10)

    house.house._alone("slow", slow)
    house.house._alone("slow", slow)
    assert len(begun) == 1
    assert begun[0].daemon
    gate.set()
    begun[0].join()
    for fault in (UnavailableError("the disk is full"), PermissionError(13, "Permission denied", "copies")):

        def fail(fault=fault):
            raise fault

        house.house._guarded(fail)()
    assert "the disk is full" in caplog.text
    assert "Permission denied (copies)" in caplog.text


def test_backups_are_whole_and_the_oldest_go(tmp_path, wall):
    from monitor.engine import Engine
    from monitor.journal import open_reader

    configuration = load_text(YARD, tmp_path / "heaptender.toml", {}, rules=set())
    configuration.data.mkdir()
    now = [1_793_577_600_000]
    (tmp_path / "copies").mkdir()
    hub = SimpleNamespace(clock=SimpleNamespace(now_ms=lambda: now[0]), call=lambda task: task(), event=lambda *_: None)
    with open_writer(configuration.data, Engine, Engine.restore) as writer:
        hub.writer = writer
        with writer.turn(now[0]) as turn:
            turn.event("started", {"down_since": None})
        house = Housekeeping(hub, configuration)
        for _ in range(3):
            house._backup()
            now[0] += 6 * 3_600_000
    copies = sorted(one.name for one in (tmp_path / "copies").glob("*.sqlite"))
    assert copies == ["journal-20261102T060000Z.sqlite", "journal-20261102T120000Z.sqlite"]
    restored = tmp_path / "restored"
    restored.mkdir()
    from monitor.journal import journal_path

    (tmp_path / "copies" / copies[1]).rename(journal_path(restored))
    with open_reader(restored) as store:
        assert [event.kind.value for event in store.events()] == ["started"]


def test_no_heartbeat_is_sent_while_nothing_can_be_stored(house, caplog):
    beats, stuck = [], [0.0]
    house.hub.stuck_s = lambda: stuck[0]
    house.house._beat(lambda: beats.append(1) or "")
    stuck[0] = 61.0
    house.house._beat(lambda: beats.append(2) or "")
    assert beats == [1]
    assert "nothing could be stored for 61 s" in caplog.text
