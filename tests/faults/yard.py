"""The simulated yard: its configuration, what its probes read, and what its people do."""

import json
import math

from monitor.model.events import EventKind

ZONE = "America/New_York"
PILES = ("p1", "p2")
BINS = ("b1", "b2")
PROBES = {
    "p1": ("p1-a", "p1-b"),
    "p2": ("p2-a",),
    "b1": ("b1-a",),
    "b2": ("b2-a",),
}
MINUTE, HOUR, DAY = 60_000, 3_600_000, 86_400_000

_SITE = f"""
[site]
name = "Tern Hollow allotments"
time_zone = "{ZONE}"
temperature_unit = "degF"
data = "data"
[mqtt]
[[mqtt.subscriptions]]
topic = "nodes/+/senml"
form = "senml"
[piles.p1]
name = "Bay 1"
rule = "us-112-54-turned"
[piles.p2]
name = "Bay 2"
[bins.b1]
name = "Sunny wall bin"
[bins.b2]
name = "Shady bin"
[contacts.ann]
name = "Ann"
channels = ["wire", "mail"]
quiet = "none"
[contacts.ben]
name = "Ben"
channels = ["mail"]
[channels.wire]
url = "json://127.0.0.1/wire"
[channels.mail]
url = "json://127.0.0.1/mail"
[mirror]
url = "http://127.0.0.1:8086"
[page]
on = false
"""


def toml(*, gather="60s", channels=("wire", "mail"), hot=None, backup_hours=24, keep_days=None, extra=False):
    """Return a configuration; all but its keywords stays the same."""
    text = _SITE
    if "wire" not in channels:
        text = text.replace('[channels.wire]\nurl = "json://127.0.0.1/wire"\n', "").replace('"wire", ', "")
    text += f'[notices]\ngather = "{gather}"\n'
    text += f'[backup]\nfolder = "data/copies"\nevery = "{backup_hours}h"\nkeep = 3\n'
    if keep_days is not None:
        text += f'[retention]\nkeep = "{keep_days}d"\n'
    if hot is not None:
        text += f'[thresholds.pile]\nhot = "{hot} degF"\n'
    for place, probes in PROBES.items():
        for probe in probes:
            text += f'[probes.{probe}]\nplace = "{place}"\n'
    if extra:
        text += '[probes.b2-z]\nplace = "b2"\n'
    return text


BROKEN = ("[site", '[site]\nname = "Nowhere"\ntime_zone = "Mars/Base"\n', "[piles.p1]\nrule = 'no-such-rule'\n")
"""Configurations that a daemon must refuse."""


class Truth:
    """What each probe reads at each instant, thousandths of a degree Celsius."""

    def __init__(self, chance, start_ms):
        self._chance = chance
        self._built = dict.fromkeys(PILES, start_ms - 3 * DAY)
        self.fires = []
        """(place, start, end) of times when a heap was as hot as fire."""
        self._swelter = []

    def built(self, place, at):
        self._built[place] = at

    def fire(self, place, start, end):
        self.fires.append((place, start, end))

    def swelter(self, place, start, end):
        self._swelter.append((place, start, end))

    def milli(self, probe, at):
        place = probe[:2]
        wobble = self._chance.randrange(-400, 400)
        if any(one == place and start <= at < end for one, start, end in self.fires):
            return 86_000 + wobble
        if any(one == place and start <= at < end for one, start, end in self._swelter):
            return 37_000 + wobble
        daily = math.sin(2 * math.pi * (at % DAY) / DAY - 2)
        if place in PILES:
            days = (at - self._built[place]) / DAY
            core = 20_000 + 44_000 * min(1.0, days / 2) * math.exp(-max(0.0, days - 12) / 12)
            return round(core + 800 * daily) + wobble
        return round(20_000 + 4_000 * daily) + wobble


def senml(rows):
    """Return readings (probe, time in whole seconds as ms, milli) as a pack."""
    return json.dumps(
        [{"n": probe, "u": "Cel", "v": milli / 1000, "t": time // 1000} for probe, time, milli in rows]
    ).encode()


def noise(chance, now):
    """Return a payload that no reading can be made of, or none that this yard asked for."""
    return chance.choice(
        [
            b"", b"\xff\xfe", b"[", b"nan", b"[]", b"{}", b"[null]", b'[{"n":"p1-a","u":"Cel","v":1e999}]',
            b'[{"n":"p1-a","u":"K9","v":1}]', b'[{"n":"nobody","u":"Cel","v":20.5}]',
            json.dumps([{"n": "p1-a", "u": "Cel", "v": 50.5, "t": now // 1000 + 90 * 86_400}]).encode(),
            b'[{"n":"p1-a","u":"Cel","v":"hot"}]' + bytes([chance.randrange(256)]) * chance.randrange(40),
        ]
    )  # fmt: skip


class People:
    """What people ask of the program: entries, readings by hand, imports, answers, corrections."""

    def __init__(self, chance):
        self._chance = chance
        self._number = 0
        self.entries = []
        """`at` of entries that were taken in, and may be put right."""

    def wish(self, now, alarms, truth):
        """Return (kind, payload, name of what it is) of something that somebody asks for now."""
        chance = self._chance
        self._number += 1
        note = f"entry {self._number}"
        by = chance.choice(["Ann", "Ben"])
        what = chance.choice(
            ["note", "turned", "built", "watered", "fed", "hand", "import", "answer", "undo", "mend", "nonsense"]
        )
        time = now - chance.choice([0, 0, 0, 20 * MINUTE, 5 * HOUR, 2 * DAY])
        work = {"time": time, "by": by, "note": note}
        place = chance.choice(PILES)
        if what == "built":
            truth.built(place, time)
            return EventKind.WORK, work | {"kind": "built", "place": place}, what
        if what == "turned":
            return EventKind.WORK, work | {"kind": "turned", "place": place}, what
        if what in ("watered", "fed"):
            return EventKind.WORK, work | {"kind": what, "place": chance.choice(BINS)}, what
        if what == "hand":
            rows = [[time - index, f"hand:{place}", chance.randrange(20, 70) * 1_000_000, "Cel"] for index in range(2)]
            return EventKind.READINGS, {"rows": rows, "ahead": [], "by": by, "note": note}, what
        if what == "import":
            rows = [
                [now - 40 * DAY + index * MINUTE + self._number, "p1-a", chance.randrange(20, 60) * 1_000_000, "Cel"]
                for index in range(chance.choice([3, 200]))
            ]
            return EventKind.IMPORTED, {"rows": rows}, what
        return self._rarer(what, now, work, note, alarms)

    def _rarer(self, what, now, work, note, alarms):
        chance, time, by = self._chance, work["time"], work["by"]
        if what == "answer" and alarms:
            answer = chance.choice(["seen", "not me after all", "put off", "taken up again"])
            until = now + 6 * HOUR if answer == "put off" else None
            return EventKind.ANSWER, {"alarm": chance.choice(alarms), "answer": answer, "until": until, "by": by}, what
        if what in ("undo", "mend") and self.entries:
            of = chance.choice(self.entries)
            mended = None if what == "undo" else work | {"kind": "note", "place": "p1", "note": f"{note} (put right)"}
            return EventKind.CORRECTION, {"of": of, "row": 0, "work": mended, "by": by}, what
        if what == "nonsense":
            return EventKind.WORK, {"kind": "juggled", "place": "moon", "time": time}, what
        return EventKind.WORK, work | {"kind": "note", "place": chance.choice([*PILES, *BINS, "yard"])}, "note"
