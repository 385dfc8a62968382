"""What the campaign knows without looking into the record: sent, acknowledged, answered, delivered, copied; for all threads."""

import json
import threading
import time
from collections import defaultdict
from decimal import Decimal
from types import SimpleNamespace

from tests.faults.counts import Counts
from tests.faults.ledger import Ledger


class SharedCounts(Counts):
    """Counts that several threads note in."""

    def __init__(self):
        super().__init__()
        self._lock = threading.Lock()

    def note(self, what, many=1, *, detail=""):
        with self._lock:
            super().note(what, many, detail=detail)


class Books(Ledger):
    """The ledger, with instants (seconds since 1970).

    Attributes:
        when: When each reading was first acknowledged.
        answered: When each entry was answered as taken in, by its note.
        got: Letters that a channel took, by (channel, notice): (title, text), in the order in which they came.
        disorderly: Letters that came again without saying so.
    """

    def __init__(self, counts):
        super().__init__(counts)
        self._lock = threading.RLock()
        self.when, self.answered = {}, {}
        self.got = defaultdict(list)
        self.disorderly = []
        self.outage_ms = 0

    def send(self, key):
        """Enter a reading (probe, time, micro) that is about to be sent."""
        with self._lock:
            self.sent[key] = self.today

    def acknowledge(self, payload):
        """Enter that the program acknowledged a message."""
        with self._lock:
            keys = [key for key in readings_in(payload) if key in self.sent]
            self.took(SimpleNamespace(readings=keys))
            for key in keys:
                self.when.setdefault(key, time.time())

    def enter(self, key):
        """Enter that a reading was answered as taken in."""
        with self._lock:
            self.acknowledged[key] = self.today
            self.when.setdefault(key, time.time())

    def take_in(self, note, at):
        """Enter that an entry was answered as taken in."""
        with self._lock:
            self.taken[note] = at
            self.answered[note] = time.time()

    def deliver(self, channel, notice, title, text):
        """Enter a letter that a channel took."""
        with self._lock:
            before = self.got[channel, notice]
            if before:
                self.counts.note("letters taken again")
                if "may be a repeat" not in title:
                    self.disorderly.append((channel, notice, title, text))
            before.append((title, text))
            self.counts.note("letters taken")

    def came_by(self, channel):
        """Return the letters (notice, title, text) that a channel took."""
        with self._lock:
            return [(key[1], *one) for key, all_of in self.got.items() if key[0] == channel for one in all_of]

    def held_at(self, instant):
        """Return what a copy begun at an instant must hold."""
        with self._lock:
            acknowledged = {key: day for key, day in self.acknowledged.items() if self.when[key] < instant}
            return acknowledged, {note: at for note, at in self.taken.items() if self.answered[note] < instant}

    def restored(self, held):
        with self._lock:
            super().restored(held)

    def unacknowledged(self, readings):
        """Return those of some readings that the program never acknowledged."""
        with self._lock:
            return [key for key in readings if key not in self.when]


def readings_in(payload):
    """Return the readings (probe, time, micro) of a message; none of one that is noise."""
    try:
        records = json.loads(payload, parse_float=Decimal)
        return [(one["n"], int(one["t"] * 1000), int(one["v"] * 1_000_000)) for one in records if "t" in one]
    except (ValueError, TypeError, KeyError, ArithmeticError):
        return []
