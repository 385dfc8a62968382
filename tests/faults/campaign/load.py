"""What nodes and people of a campaign's yard do all the time, each on a thread of its own."""

import os
import threading
import time
import tty
from contextlib import suppress

import paho.mqtt.client as mqtt
from senders import Sender

from monitor.codec import encode_line
from monitor.journal import Inbox, open_reader
from monitor.model.alarm_kinds import alarm_key
from monitor.model.effects import EffectKind
from monitor.model.errors import MonitorError
from monitor.model.events import EventKind
from tests.faults.yard import DAY, People, noise

RATE = 80
"""Readings a second over the broker."""

ROW = ("r1", "r2", "r3", "r4", "r5", "r6")
"""Bins of the campaign beside those of the simulated yard; each is too hot for seconds, every few seconds."""

PROBES = ("p1-a", "p1-b", "b1-a", "b2-a", *(f"{name}-a" for name in ROW))
CABLE = "p2-a"
CALM = 21.0
MARK, MARKED = "b2-a", "Shady bin"
"""The probe and the name of the bin that is never too hot while faults go on, only at the end of a round."""


class Nodes:
    """Sends readings over the broker and over a cable; `off_ms` is how wrong the nodes' clocks are."""

    def __init__(self, port, books, chance):
        self.books, self._chance = books, chance
        self.sender = Sender(port)
        self._clutter = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
        self._clutter.connect("127.0.0.1", port)
        self._clutter.loop_start()
        self.off_ms = 0
        self.late = True
        self._cable, self._other_end = os.openpty()
        tty.setraw(self._other_end)
        os.set_blocking(self._cable, False)
        self.port_name = os.ttyname(self._other_end)
        self._last, self._number = {}, 0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, daemon=True)
        self.trouble = None

    def start(self):
        self._thread.start()

    def say(self, probe, celsius, at=None):
        """Send a reading; two of a probe never have the same instant."""
        if at is None:
            at = max(int(time.time() * 1000) + self.off_ms, self._last.get(probe, 0) + 1)
            self._last[probe] = at
        self.books.send((probe, at, round(celsius * 10_000) * 100))
        self.sender.send(probe, celsius, at)

    def clutter(self, many):
        """Put noise on the wire."""
        for _ in range(many):
            self._clutter.publish("nodes/x/senml", noise(self._chance, int(time.time() * 1000)), qos=1)
            self.books.counts.note("messages of noise")

    def are_heard(self):
        """Return whether the broker has taken all that was sent."""
        return len(self.sender.taken) == len(self.sender.sent)

    def rest(self):
        """Stop sending; what is under way goes on to the broker."""
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()
        if self.trouble is not None:
            raise self.trouble

    def close(self):
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()
        self.sender.close()
        self._clutter.disconnect()
        self._clutter.loop_stop()
        os.close(self._cable)
        os.close(self._other_end)

    def _work(self):
        begun, said = time.monotonic(), 0
        try:
            while not self._stop.wait(0.01):
                while said < (time.monotonic() - begun) * RATE:
                    said += 1
                    self._speak(time.monotonic() - begun)
        except Exception as trouble:  # noqa: BLE001 - it is raised where the round is judged
            self.trouble = trouble

    def _speak(self, since_s):
        self._number += 1
        probe = PROBES[self._number % len(PROBES)]
        wobble = self._chance.randrange(4000) / 10_000
        if self.late and self._number % 8 == 0 and probe != MARK:
            # A node that kept its readings for days: they are packed as soon as they have come.
            days = self._chance.randrange(3, 9)
            return self.say(probe, 20 + wobble, int(time.time() * 1000) - days * DAY - self._number * 977)
        too_hot = probe[0] == "r" and (since_s + 1.7 * int(probe[1])) % 9 > 7
        self.say(probe, 36.5 + wobble if too_hot else (57.0 if probe[0] == "p" else CALM) + wobble)
        if self._number % 30 == 0:
            self._over_the_cable()
        return None

    def _over_the_cable(self):
        at = int(time.time() * 1000) + self.off_ms
        micro = self._chance.randrange(400, 600) * 100_000
        self.books.send((CABLE, at, micro))
        with suppress(BlockingIOError):
            os.write(self._cable, encode_line(CABLE, "temperature", micro, "Cel", at))
            self.books.counts.note("lines over the cable")


class Asking:
    """People who ask for something now and then, and wait for the answers."""

    def __init__(self, data, books, chance):
        self._data, self._books, self._chance = data, books, chance
        self._people = People(chance)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, daemon=True)
        self.wishes = True
        self.still = threading.Lock()
        """Whoever holds it has nobody ask or read an answer."""

    def start(self):
        self._thread.start()

    def close(self):
        self._stop.set()
        if self._thread.is_alive():
            self._thread.join()

    def _work(self):
        wait_s = 0.3
        while not self._stop.wait(wait_s):
            # The journal may be away, full, locked or damaged at any instant; then nobody has promised anything.
            with self.still, suppress(MonitorError, ValueError, OSError):
                if self.wishes:
                    self._wish()
            with self.still, suppress(MonitorError, OSError):
                self._read_answers()
            wait_s = self._chance.uniform(0.1, 0.7)

    def _wish(self):
        now = int(time.time() * 1000)
        with open_reader(self._data) as store:
            drafts = [one.draft for one in store.effects() if one.draft.kind is EffectKind.ALARM]
        alarms = sorted({alarm_key(one.place, one.axis, one.probe) for one in drafts if one.place != MARK[:2]})
        kind, payload, what = self._people.wish(now, alarms, _Nobody())
        if payload.get("place") == MARK[:2]:
            return
        self._books.asked[Inbox(self._data).submit(kind, payload)] = (kind, payload, str(payload.get("note", "")))
        self._books.counts.note(f"asked: {what}")

    def _read_answers(self):
        inbox = Inbox(self._data)
        for number, (kind, payload, note) in list(self._books.asked.items()):
            reply = inbox.answer(number)
            if reply is None:
                continue
            if reply.question:
                self._books.counts.note("questions asked back")
                again = inbox.submit(kind, payload, again=True)
                self._books.asked[again] = (kind, payload, note)
            elif not reply.refusal:
                self._entered(kind, note, reply.at)
            self._books.counts.note("requests refused" if reply.refusal else "requests answered")
            self._books.asked.pop(number, None)

    def _entered(self, kind, note, at):
        if at is not None and kind is EventKind.WORK and note:
            self._books.take_in(note, at)
            self._people.entries.append(at)


class _Nobody:
    """Stands for the truth that the simulation's people change."""

    def built(self, place, at):
        """No heap of this yard warms up by itself."""


def recording(path, number, books, chance):
    """Write a recording of readings long past and enter them as sent; return the readings."""
    first = int(time.time() * 1000) // 60_000 * 60_000 - 30 * DAY - number * 7
    rows = [("p1-b", first - index * 60_000, chance.randrange(20, 60) * 1_000_000) for index in range(2_000)]
    lines = [f"{_iso(at)},{probe},temperature,{micro // 1_000_000},Cel" for probe, at, micro in rows]
    path.write_text("\n".join(["time,probe,quantity,value,unit", *lines, ""]))
    for row in rows:
        books.send(row)
    return rows


def _iso(at):
    seconds = time.strftime("%Y-%m-%dT%H:%M:%S", time.gmtime(at // 1000))
    return f"{seconds}.{at % 1000:03d}Z"
