"""The simulated receivers: channels that refuse, hang up or are slow, and the mirror's server in all its moods."""

import heapq
import itertools
import json

from monitor.mirror.write_api import Trouble, WriteError, trouble_of
from monitor.outbox.channel_thread import Result
from monitor.outbox.outgoing_letters import NO_ANSWER

CHANNEL_MOODS = ("well", "refuses", "hangs up", "silent")
SERVER_MOODS = ("well", "away", "busy", "faulty", "rubbish", "refuses", "picky")


class Post:
    """All channels' servers. `accepted` hears each letter that one took: (channel, what it says as a dict)."""

    def __init__(self, time, chance, counts, accepted):
        self.time, self.chance, self.counts = time, chance, counts
        self.mood = {}
        self.accepted = accepted
        self.alive = object()
        """Names the program that runs; a lane of an earlier one delivers nothing any more."""

    def lane(self, name, _channel, report, _limit_s=60.0):
        """Stand for `Lane`."""
        return SimLane(self, name, report)

    def take(self, channel, letter):
        """Return why a letter did not arrive, or ""; and how long that took, seconds."""
        mood = self.mood.get(channel, "well")
        if mood == "refuses":
            self.counts.note("letters refused")
            return "550 not now", False, self.chance.uniform(0.1, 3)
        if mood == "silent":
            self.counts.note("letters without an answer, not taken")
            return NO_ANSWER, False, 60.0
        if mood == "hangs up":
            self.counts.note("letters taken without an answer")
            return NO_ANSWER, True, 60.0
        return "", True, self.chance.uniform(0.1, 20)


class SimLane:
    """One channel's lane: one letter at a time, the most urgent first."""

    def __init__(self, post, name, report):
        self._post, self._name, self._report = post, name, report
        self._mine = post.alive
        self._waiting = []
        self._count = itertools.count()
        self._busy = self._closed = False

    def put(self, letter):
        heapq.heappush(self._waiting, (-letter.priority, letter.at, next(self._count), letter))
        self._next()

    def close(self, _timeout_s):
        self._closed = True

    def _next(self):
        if self._busy or self._closed or not self._waiting or self._mine is not self._post.alive:
            return
        letter = heapq.heappop(self._waiting)[3]
        self._busy = True
        why, taken, seconds = self._post.take(self._name, letter)

        def taken_in():
            # A letter that is on its way when the program ends may be there already, or not.
            if taken and self._mine is self._post.alive:
                self._post.accepted(self._name, letter.row, json.loads(letter.data))

        def answered():
            self._busy = False
            if self._mine is self._post.alive:
                self._report(Result(self._name, letter.row, why))
                self._next()

        self._post.time.after(seconds * self._post.chance.random(), taken_in)
        self._post.time.after(seconds, answered)


class MirrorServer:
    """The time-series server: keeps points, forgets the newest in a crash, and answers by its mood."""

    def __init__(self, time, chance, counts):
        self.time, self.chance, self.counts = time, chance, counts
        self.mood = "well"
        self.points = {}
        self.set_aside = set()
        self._fresh = []
        self._opened = 0
        self._broken = True

    def crash(self):
        """Forget what came within the last ten seconds, and break the connection."""
        lately = [(key, before) for when, key, before in self._fresh if self.time.now_s - when <= 10]
        for key, before in reversed(lately):
            if before is None:
                self.points.pop(key, None)
            else:
                self.points[key] = before
        self.counts.note("points that the mirror's server forgot", len(lately))
        self._fresh, self._broken = [], True

    def connections(self):
        return self._opened

    def write(self, lines):
        if self._broken or self.mood == "away":
            self._opened, self._broken = self._opened + 1, False
        if self.mood == "away":
            self._broken = True
            raise WriteError(Trouble.AWAY, "the mirror's server cannot be reached")
        status, wait_s = {
            "busy": (429, float(self.chance.choice([1, 30, 900, 9000]))),
            "faulty": (500, None),
            "refuses": (401, None),
        }.get(self.mood, (204, None))
        if status != 204:
            self.counts.note(f"answers {status} of the mirror's server")
            raise WriteError(trouble_of(status, wait_s), f"the mirror's server answered {status}", wait_s)
        bad = [line for line in lines if self._refused(line)]
        if bad:
            self.counts.note("answers 400 of the mirror's server")
            raise WriteError(trouble_of(400, None), "the mirror's server answered 400: partial write")
        self._keep(lines)
        if self.mood == "rubbish":
            self._broken = True
            self.counts.note("answers of the mirror's server that were rubbish")
            raise WriteError(Trouble.AWAY, "the mirror's server broke off (InvalidChunkLength)")

    def _refused(self, line):
        # It never takes these, whatever its mood: the mirror must find them, set them aside and go on.
        return line.endswith("777000")

    def _keep(self, lines):
        now = self.time.now_s
        self._fresh = [one for one in self._fresh if now - one[0] <= 10]
        for line in lines:
            head, fields, *when = line.rsplit(" ", 2) if not line.endswith("alive=1i") else (line, "")
            key = (head, *when)
            self._fresh.append((now, key, self.points.get(key)))
            self.points[key] = fields
        self.counts.note("points that the mirror's server took", len(lines))
