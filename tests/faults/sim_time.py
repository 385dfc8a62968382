"""Simulated time: an agenda of what will happen, a monotonic clock, and the computer's wall clock, which may be wrong.

One thread does everything. Whoever waits lets the agenda run on; nobody sleeps.
"""

import heapq
import itertools
import queue
import threading
from datetime import UTC, datetime
from types import SimpleNamespace


class Planned:
    """Something on the agenda; `cancel` takes it off."""

    __slots__ = ("do",)

    def __init__(self, do):
        self.do = do

    def cancel(self):
        self.do = None


class SimTime:
    """The time of one world. `off_ms`: how far the computer's clock is from the truth; `synchronised`: what it says of that."""

    def __init__(self, start_ms):
        self.start_ms = start_ms
        self.now_s = 0.0
        self.off_ms = 0
        self.ahead_ms = 0
        self.synchronised = True
        self._agenda = []
        self._count = itertools.count()

    def mono(self):
        return self.now_s

    def true_ms(self):
        return self.start_ms + round(self.now_s * 1000)

    def wall_ms(self):
        self.ahead_ms = max(self.ahead_ms, self.off_ms)
        return self.true_ms() + self.off_ms

    def latest_ms(self):
        """Return the time by a clock that once followed the computer's, and never went back with it."""
        return self.true_ms() + self.ahead_ms

    def after(self, wait_s, do):
        """Have something done in so many seconds."""
        planned = Planned(do)
        heapq.heappush(self._agenda, (self.now_s + max(0.0, wait_s), next(self._count), planned))
        return planned

    def run_until(self, end_s, stop=lambda: False):
        """Let everything happen that is due until then, or until `stop` says so; things may raise through here."""
        while self._agenda and self._agenda[0][0] <= end_s:
            when, _, planned = heapq.heappop(self._agenda)
            self.now_s = max(self.now_s, when)
            if planned.do is not None:
                planned.do()
                if stop():
                    return
        self.now_s = max(self.now_s, end_s)

    def sleep(self, span_s):
        self.run_until(self.now_s + span_s)

    def as_time_module(self):
        """Return what stands for the module `time` where the product looks at it."""
        return SimpleNamespace(
            monotonic=self.mono,
            sleep=self.sleep,
            time=lambda: self.wall_ms() / 1000,
            time_ns=lambda: self.wall_ms() * 1_000_000,
        )

    def as_datetime(self):
        """Return what stands for the class `datetime` where only `now` is asked of it."""
        return SimpleNamespace(now=lambda zone=UTC: datetime.fromtimestamp(self.wall_ms() / 1000, zone))

    def as_threading_module(self):
        """Return what stands for the module `threading`: threads do their work at once, timers come on the agenda."""
        time = self

        class AtOnce:
            def __init__(self, target, args=(), name="", daemon=None):
                self._target, self._args = target, args

            def start(self):
                self._target(*self._args)

            def join(self, timeout=None):
                pass

            def is_alive(self):
                return False

        class Timer:
            def __init__(self, wait_s, function):
                self.daemon, self._wait_s, self._function = True, wait_s, function

            def start(self):
                time.after(self._wait_s, self._function)

        class Unwaited(threading.Event):
            def wait(self, timeout=None):
                return self.is_set()

        return SimpleNamespace(Thread=AtOnce, Timer=Timer, Event=Unwaited, Lock=threading.Lock)


class SimQueue:
    """Stands for the hub's queue: whoever waits at it lets the world go on."""

    def __init__(self, time):
        self._time = time
        self._items = []

    def put(self, item):
        self._items.append(item)

    def qsize(self):
        return len(self._items)

    def get_nowait(self):
        if not self._items:
            raise queue.Empty
        return self._items.pop(0)

    def get(self, timeout):
        if not self._items:
            self._time.run_until(self._time.now_s + timeout, stop=lambda: bool(self._items))
        return self.get_nowait()
