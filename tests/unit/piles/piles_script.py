"""Scripted records for the tests of `monitor.piles`: knots in hours and degrees, and a small rule tracker."""

from dataclasses import dataclass, field
from itertools import pairwise

from monitor.model.progress import RuleProgress
from monitor.model.thresholds import PileThresholds
from monitor.model.times import HOUR_MS
from monitor.model.words import Method, RuleState
from monitor.piles import COLDEST, HOTTEST, ChangeKind, HoldLimits, Walk, WalkState

T0 = 1_772_355_600_000  # 2026-03-01T09:00:00Z
H = HOUR_MS
LIMITS = PileThresholds()


@dataclass
class TotalTracker:
    """Met once the hold set sums to `need` and `turnings` were logged since the first hold instant."""

    need: int = 100 * 24 * H
    turnings: int = 0
    total: int = 0
    began: int | None = None
    since: int | None = None
    turned_times: int = 0
    met_at: int | None = None
    last: int = 0
    told: list[str] = field(default_factory=list)

    def _at(self, at, word):
        assert at >= self.last
        self.last = at
        self.told.append(word)

    def proven(self, at, proven):
        self._at(at, f"proven {proven} {at - T0}")

    def inside(self, at, inside):
        self._at(at, f"inside {inside} {at - T0}")
        if inside:
            assert self.since is None
            self.since = at
            self.began = at if self.began is None else self.began
        else:
            self._settle(at)
            self.total += at - self.since
            self.since = None

    def opened(self, at, turning):
        assert turning >= at
        self._at(at, f"opened {at - T0} for {turning - T0}")

    def turned(self, at):
        self._at(at, f"turned {at - T0}")
        self._settle(at)
        if self.began is not None:
            self.turned_times += 1

    def restart(self, at):
        self._at(at, f"restart {at - T0}")
        self.total, self.turned_times, self.met_at = 0, 0, None
        self.began = self.since = at if self.since is not None else None

    def _settle(self, at):
        if self.met_at is not None or self.turned_times < self.turnings:
            return
        running = at - self.since if self.since is not None else 0
        if self.total + running >= self.need:
            self.met_at = at if self.since is None else max(at - (self.total + running - self.need), self.since)

    def progress(self, at):
        self._settle(at)
        if self.met_at is not None:
            return RuleProgress(
                state=RuleState.MET, since=self.met_at, look_again=None, values={}, wants_turnings=False
            )
        state = RuleState.NOT_BEGUN if self.began is None else RuleState.RUNNING
        look = self.since + self.need - self.total if self.since is not None else None
        return RuleProgress(
            state=state,
            since=self.began,
            look_again=look,
            values={"turnings": self.turned_times},
            wants_turnings=self.turned_times < self.turnings,
        )


def milli(celsius):
    return round(celsius * 1000)


def ramp(knots, step_h=1.0):
    """Readings (hours, milli) from knots [(hour, celsius), ...] joined by lines; None in place of degrees is a gap."""
    found = []
    for (start, low), (end, high) in pairwise(knots):
        if low is None or high is None:
            continue
        count = max(round((end - start) / step_h), 1)
        found += [(start + (end - start) * k / count, low + (high - low) * k / count) for k in range(count)]
    if knots[-1][1] is not None:
        found.append(knots[-1])
    return [(T0 + round(hour * H), milli(value)) for hour, value in found]


def make_walk(state=None, method=Method.TURNED, tracker=None, hold=55_000, thresholds=LIMITS, upper=None, strict=False):
    limits = HoldLimits(hold_milli_c=hold, upper_milli_c=upper, strict=strict)
    return Walk(state or WalkState.fresh(T0), limits, thresholds, method, tracker)


def feed(walk, items):
    """Feed items in their order.

    ("r", time, probe, milli), ("round", time, low, high), ("u", time, probe) for one unread, ("in"/"out", time, probe),
    ("t"/"a"/"j", time) for turned, added, joined, ("o", time, turning) for opened, ("air", time, milli).
    """
    for item in items:
        if item[0] == "r":
            walk.reading(item[2], item[1], item[3])
        elif item[0] == "round":
            walk.reading(COLDEST, item[1], item[2])
            walk.reading(HOTTEST, item[1], item[3])
        elif item[0] == "u":
            walk.unread(item[2], item[1])
        elif item[0] == "o":
            walk.opened(item[1], item[2])
        elif item[0] == "j":
            walk.joined(item[1])
        elif item[0] == "in":
            walk.probe_in(item[2], item[1])
        elif item[0] == "out":
            walk.probe_out(item[2], item[1])
        elif item[0] == "t":
            walk.turned(item[1])
        elif item[0] == "a":
            walk.added(item[1])
        else:
            walk.ambient(item[1], item[2])


ORDER = {"out": 0, "in": 1, "o": 2, "t": 2, "a": 3, "j": 3, "air": 4, "u": 5, "r": 6, "round": 6}


def in_order(items):
    return sorted(items, key=lambda item: (item[1], ORDER[item[0]], str(item[2]) if len(item) > 2 else ""))


def record(probes, work=(), air=()):
    """Items in order: `probes` is {id: knots or list of readings}; work is [("turn", hour) or others]."""
    items: list[tuple] = [("in", T0, probe) for probe in probes]
    for probe, knots in probes.items():
        readings = knots if knots and knots[0][0] >= T0 else ramp(knots)
        items += [("r", time, probe, value) for time, value in readings]
    for entry in work:
        items.append((entry[0], T0 + round(entry[1] * H), *entry[2:]))
    items += [("air", time, value) for time, value in air]
    return in_order(items)


def run(probes, work=(), air=(), each=True, **settings):
    """Feed a record, advancing after each item, and return the changes as (axis, before, after, ms since T0)."""
    walk = make_walk(**settings)
    changes = []
    for item in record(probes, work, air):
        feed(walk, [item])
        if each:
            changes += walk.advance()
    changes += walk.advance()
    return changes


def brief(changes, *axes):
    return [
        (change.axis, change.before, change.after, change.since - T0)
        for change in changes
        if (not axes or change.axis in axes) and change.reason != "built"
    ]


def phases(changes):
    return [(c.before, c.after, c.since - T0) for c in changes if c.kind is ChangeKind.PHASE and c.before is not None]


def alarms(changes, *ids):
    return [
        (c.axis, c.after, c.since - T0) for c in changes if c.kind is ChangeKind.ALARM and (not ids or c.axis in ids)
    ]


CELSIUS = [12, 18, 21, 25, 26.7, 27.5, 29, 38, 40, 41, 46, 52, 54.4, 54.7, 55, 56, 60, 61, 73, 77]
COOL_CELSIUS = [12, 16, 17.9, 18.1, 18.4, 18.7, 20, 25, 26.5, 27, 28, 39, 41, 44, 46]
MINUTES = [20, 45, 60, 60, 60, 90, 120, 121, 200, 420, 900]


def random_probe(rng, name, smooth, celsius):
    """Items of one probe in order of time: in, readings (calm or wild), outs and ins, gaps short and long."""
    at = T0 + rng.choice([0, 0, 0, 90]) * 60_000
    items: list[tuple] = [("in", at, name)]
    inside = True
    value = rng.choice(celsius)
    for _ in range(rng.randint(5, 80)):
        step = rng.randint(0, 19)
        if step == 0:
            at += 30 * 60_000
            items.append(("out" if inside else "in", at, name))
            inside = not inside
        if not inside:
            continue
        if step > (17 if smooth else 12):
            value = rng.choice(celsius)
        calm = smooth and rng.random() < 0.97
        at += rng.choice([30, 60, 60, 90] if calm else MINUTES) * 60_000 + rng.choice([0, 0, 1, 59_999])
        if rng.random() < 0.03:
            items.append(("u", at - 1, name))
        items.append(("r", at, name, round(value * 1000) + rng.randint(-400, 400)))
    return items


def random_rounds(rng, celsius):
    """Rounds by hand, hours or a day apart, now and then longer than their line bridges."""
    at = T0
    items: list[tuple] = [("in", T0, COLDEST), ("in", T0, HOTTEST)]
    value = rng.choice(celsius)
    for _ in range(rng.randint(3, 25)):
        at += rng.choice([3, 8, 12, 24, 26, 27]) * H + rng.choice([0, 1])
        value = rng.choice(celsius) if rng.random() < 0.2 else value
        low = round(value * 1000) + rng.randint(-400, 400)
        items.append(("round", at, low, low + rng.choice([0, 300, 4000])))
    return items


def random_work(rng, hours):
    """Turnings (of some the probes felt the air before they were logged), raw material, and material that had met its rule."""
    items: list[tuple] = []
    for quarter in {rng.randint(1, hours * 4) for _ in range(rng.randint(0, 4))}:
        kind, at = rng.choice("tttaj"), T0 + quarter * H // 4
        if kind == "t" and rng.random() < 0.3:
            items.append(("o", at - rng.choice([1, 20, 100]) * 60_000, at))
        items.append((kind, at))
    return in_order(items)


def random_streams(rng):
    """A random record as streams, each in its own order: one to three probes, work, ambient."""
    smooth = rng.random() < 0.5
    celsius = rng.choice([CELSIUS, CELSIUS, COOL_CELSIUS, COOL_CELSIUS[: rng.randint(4, 15)]])
    if rng.random() < 0.15:
        found = [random_rounds(rng, celsius)]
    else:
        found = [random_probe(rng, name, smooth, celsius) for name in "abc"[: rng.randint(1, 3)]]
    hours = (max(stream[-1][1] for stream in found) - T0) // H + 1
    found.append(random_work(rng, hours))
    ambient = rng.choice([None, 2, 10, 18])
    if ambient is not None:
        skip = rng.randint(2, 9)
        found.append([("air", T0 + h * H + 600_000, ambient * 1000 + h * 77 % 900) for h in range(hours) if h % skip])
    return [stream for stream in found if stream]
