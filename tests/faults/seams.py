"""Puts the simulated clock, network and disk in the places where the product touches the real ones; everything else is real."""

import queue
import shutil
import sqlite3
from contextlib import ExitStack, contextmanager
from types import SimpleNamespace
from unittest import mock

from monitor.app.connections import deliveries
from monitor.app.daemon import daemon as daemon_module
from monitor.app.daemon import start_failed
from monitor.app.loop import asking, hub, intray, meanwhile, outage, turns
from monitor.app.upkeep import disk_room, housekeeping, photo_upkeep, record_watch
from monitor.configuration import PAGE_CHANNEL
from monitor.intake import mqtt as mqtt_module
from monitor.mirror import CursorFile
from monitor.outbox import PageChannel
from monitor.outbox import deliverer as deliverer_module

LOOK_S = 5.0
"""While nothing can be stored, the simulated loop looks up this often."""


class Quiet:
    """Stands for the page, which is no part of this world."""

    def __init__(self, *_args, **_how):
        self.address = ""

    def start(self):
        pass

    def stop(self, _limit_s=0.0):
        pass


class Lengthy:
    """A stopwatch on which each look takes a second, so that the watch over the record gets through a few days at a time."""

    def __init__(self):
        self._now_s = 0.0

    def __call__(self):
        self._now_s += 0.5
        return self._now_s


@contextmanager
def seams(world):
    """Within it, the product runs in a world: its clock, broker, post, mirror's server and disk."""
    time = world.time
    clock, threads = time.as_time_module(), time.as_threading_module()

    class Scheduler:
        """Stands for the scheduler of jobs."""

        def __init__(self, **_how):
            self._jobs, self._on, self._mine = [], True, world.post.alive

        def add_job(self, job, _trigger, *, seconds, id, next_run_time=None):  # noqa: A002 - its name there
            first = seconds if next_run_time is None else next_run_time.timestamp() - time.wall_ms() / 1000
            self._jobs.append((job, seconds, id, first))

        def start(self):
            for job, seconds, name, first in self._jobs:
                self._plan(job, seconds, name, first)

        def shutdown(self, wait):
            self._on = False

        def get_jobs(self):
            return []

        def _plan(self, job, seconds, name, wait_s):
            def run():
                if self._on and self._mine is world.post.alive:
                    world.job(name, job)
                    self._plan(job, seconds, name, seconds)

            time.after(wait_s, run)

    class MirrorSteps:
        """Stands for the mirror's thread: the real mirror, a step at a time."""

        def __init__(self, make, monotonic_s, crashed):
            self._make, self._crashed = make, crashed
            self._mirror, self._on, self._planned = None, True, None
            self._mine = world.post.alive

        def start(self):
            self._plan(0.0)

        def poke(self):
            if self._planned is not None and self._waits:
                self._plan(world.mirror_lag_s)

        def stop(self, _timeout_s):
            self._on = False

        _waits = True

        def _plan(self, wait_s):
            if self._planned is not None:
                self._planned.cancel()
            self._waits = wait_s > world.mirror_lag_s
            self._planned = time.after(wait_s, self._step)

        def _step(self):
            if not self._on or self._mine is not world.post.alive:
                return
            try:
                if self._mirror is None:
                    self._mirror = self._make()
                    world.mirror = self._mirror
                pause = self._mirror.step(time.mono())
            except Exception as fault:  # noqa: BLE001 - as the real thread does
                self._crashed(fault)
                self._mirror, pause = None, 60.0
            # It is poked when something comes; looking more often finds nothing.
            self._plan(max(pause, 300.0) if pause > 0 else 0.01)

    class Cursors(CursorFile):
        """The cursor's file, on a disk that may be full."""

        def save_cursor(self, cursor):
            if world.disk.full:
                raise OSError(28, "No space left on device")
            super().save_cursor(cursor)

    def channels(configuration):
        names = [name for name, one in configuration.channels.items() if one.url is not None]
        return {PAGE_CHANNEL: PageChannel()} | {name: SimpleNamespace(send=None) for name in names}

    def client(_settings, _ended, _on_fault):
        return world.client()

    with ExitStack() as stack:

        def put(owner, name, value):
            stack.enter_context(mock.patch.object(owner, name, value))

        for module in (hub, meanwhile, outage, turns, housekeeping, asking, photo_upkeep, start_failed):
            put(module, "time", clock)
        put(meanwhile, "LOOK_S", LOOK_S)
        put(record_watch, "time", SimpleNamespace(thread_time=Lengthy(), sleep=lambda _s: None))
        put(record_watch, "_REST", 0.0)
        put(housekeeping, "threading", threads)
        put(housekeeping, "datetime", time.as_datetime())
        put(housekeeping, "BackgroundScheduler", Scheduler)
        put(housekeeping.Housekeeping, "_check_mirror", lambda _self: None)
        put(intray, "queue", SimpleNamespace(SimpleQueue=world.queue, Empty=queue.Empty))
        put(mqtt_module, "threading", threads)
        put(mqtt_module, "make_client", client)
        put(mqtt_module, "begin_connecting", lambda _client, _settings: None)
        put(mqtt_module, "subscribe_all", lambda client, _settings, filters: client.subscribe(filters))
        put(deliverer_module, "Lane", world.post.lane)
        put(deliveries, "build_channels", channels)
        put(daemon_module, "MirrorThread", MirrorSteps)
        put(daemon_module, "InfluxServer", lambda *_args, **_how: world.server)
        put(daemon_module, "CursorFile", Cursors)
        put(daemon_module, "PageService", Quiet)
        put(daemon_module, "threading", SimpleNamespace(Thread=threads.Thread, Event=daemon_module.threading.Event))
        put(start_failed, "why_unstored", lambda _folder, _pid: "the disk is full" if world.disk.full else "")
        put(start_failed, "threading", threads)
        put(start_failed, "build_channels", world.bare_channels)
        put(disk_room, "shutil", SimpleNamespace(disk_usage=lambda _folder: SimpleNamespace(free=world.room())))
        put(sqlite3, "connect", world.disk.connect)
        yield


def emptied(folder):
    """Return a folder, made anew."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder
