"""A sink that keeps what it is offered, and a clock that a test can push on."""

import threading
import time

from brokers import wait_until

from monitor.intake import Arrival, LinkChange


class PushedClock:
    """The system's clock, plus what `push` added."""

    def __init__(self):
        self._added_s = 0.0

    def push(self, seconds):
        self._added_s += seconds

    def now_ms(self):
        return int((time.time() + self._added_s) * 1000)

    def monotonic_s(self):
        return time.monotonic() + self._added_s


class Collector:
    """Keeps everything, in order; refuses what `refuse` names."""

    def __init__(self):
        self._lock = threading.Lock()
        self._items = []
        self.refuse = lambda _item: False

    def offer(self, item):
        if self.refuse(item):
            raise RuntimeError("the sink refuses")
        with self._lock:
            self._items.append(item)

    @property
    def arrivals(self):
        with self._lock:
            return [item for item in self._items if isinstance(item, Arrival)]

    @property
    def links(self):
        with self._lock:
            return [item for item in self._items if isinstance(item, LinkChange)]

    @property
    def values(self):
        return [heard.micro / 1e6 for arrival in self.arrivals for heard in arrival.heard]

    @property
    def reasons(self):
        return [reject.reason for arrival in self.arrivals for reject in arrival.rejects]

    def wait_for(self, count):
        wait_until(lambda: len(self.arrivals) >= count, f"{count} arrivals, there are {len(self.arrivals)}")
        return self.arrivals

    def wait_for_links(self, *states):
        wait_until(lambda: len(self.links) >= len(states), f"link changes {states}, there are {self.links}")
        assert [link.up for link in self.links] == list(states)
        return self.links
