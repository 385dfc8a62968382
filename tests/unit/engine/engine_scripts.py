"""Random scripts of events for the small yard: jitter, disorder, duplicates, gaps, backlogs, work, answers, restarts."""

from dataclasses import replace
from typing import Any

from engine_yard import DAY, HOUR, MIN, SETTINGS, T0, core, yard
from hypothesis import strategies as st

from monitor.model.settings import Calibration, Pile, Probe
from monitor.model.thresholds import PileThresholds
from monitor.model.units import Quantity
from monitor.model.words import Method, Role

QUICK = PileThresholds(stalled_ms=20 * HOUR, cooling_dwell_ms=3 * HOUR, turning_every_ms=8 * HOUR, hot_dwell_ms=2 * HOUR,
                       cold_corner_dwell_ms=5 * HOUR, no_rule_hold_ms=6 * HOUR)  # fmt: skip
"""Short delays, so that a script of a few days passes through everything."""

PROBES = ("air", "p1-a", "p1-b", "p1-m", "p1-s", "p2-a", "b1-t", "b1-u", "b1-m", "b2-t")
WET = ("b1-m", "p1-m")
LEVELS = {
    "air": (4, 12, 25),
    "p1-a": (18, 35, 54.9, 55, 55.2, 58, 66, 71.5, 77, 83, 101, 85, -127),
    "p1-b": (18, 35, 54.9, 55, 55.2, 58, 66, 71.5, 77, 83),
    "p1-m": (35, 45, 55, 68),
    "p1-s": (12, 30, 50, 78, 83),
    "p2-a": (20, 45, 56, 60, 72, 83),
    "b1-t": (3, 5, 9, 15, 20, 27, 30, 33, 36),
    "b1-u": (3, 9, 15, 20, 27, 30, 33, 36),
    "b1-m": (50, 59, 61, 75, 84, 86, 90),
    "b2-t": (3, 4.5, 6, 20, 30, 36),
}
BASE = yard(piles={
    "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0, thresholds=QUICK),
    "p2": Pile(name="Bay 2", rule="us-112-54-static", method=Method.STATIC, thresholds=QUICK),
    "p3": Pile(name="Bay 3", thresholds=QUICK),
}, probes={
    **yard().probes, "p1-m": core("p1", quantity=Quantity.MOISTURE),
    "p1-s": Probe(place="p1", role=Role.SURFACE, address=""),
})  # fmt: skip


def _settings():
    offset = Calibration(points=((50_000, 50_700),), start=T0 + 5 * HOUR)
    probes = BASE.probes
    return [
        BASE,
        replace(BASE, probes={**probes, "p1-a": core("p1", calibrations=(offset,))}),
        replace(BASE, probes={k: v for k, v in probes.items() if k != "b1-u"}),
        replace(BASE, probes={**probes, "p1-c": core("p1")}),
        replace(BASE, probes={**probes, "p1-b": core("p2")}),
        replace(BASE, probes={k: v for k, v in probes.items() if k != "p1-b"}),
        replace(BASE, bins={"b1": BASE.bins["b1"]}, probes={k: v for k, v in probes.items() if k != "b2-t"}),
        replace(BASE, piles={"p1": BASE.piles["p1"]}, probes={k: v for k, v in probes.items() if k != "p2-a"}),
        replace(BASE, piles={**BASE.piles, "p1": replace(BASE.piles["p1"], thresholds=PileThresholds(warm_milli_c=30_000))}),
    ]  # fmt: skip


SETTINGS[:] = _settings()

seconds = st.integers(0, 600).map(lambda s: s * 1000)


@st.composite
def _commit(draw, at):
    """Some readings around `at`: fresh, late, a backlog, out of order, twice."""
    rows = []
    kind = draw(st.sampled_from(["fresh", "fresh", "fresh", "jitter", "late", "backlog", "some"]))
    names = (
        PROBES
        if kind in ("fresh", "jitter", "backlog")
        else draw(st.lists(st.sampled_from(PROBES), min_size=1, max_size=4))
    )
    for name in names:
        level = draw(st.sampled_from(LEVELS[name]))
        unit = "%" if name in WET else "Cel"
        times = [at]
        if kind == "jitter":
            times = [at - draw(seconds)]
        elif kind == "late":
            times = [at - draw(st.sampled_from([6 * MIN, 30 * MIN, 3 * HOUR, 20 * HOUR]))]
        elif kind == "backlog":
            times = list(range(at - 7 * HOUR, at + 1, 20 * MIN))
        for n, time in enumerate(times):
            wobble = n % 3 / 8
            rows.append([time, name, round((level + wobble) * 1_000_000), unit])
    ahead = [["p1-a", at + HOUR]] if draw(st.integers(0, 9)) == 0 else []
    return ("readings", {"rows": rows, "ahead": ahead})


@st.composite
def _steady(draw, at):
    """A stretch of regular readings: several commits, ten or twenty minutes apart."""
    levels = {name: draw(st.sampled_from(LEVELS[name])) for name in PROBES}
    step = draw(st.sampled_from([10 * MIN, 20 * MIN, 90 * MIN]))
    count = draw(st.integers(3, 24))
    return [
        (at + n * step, "readings", {
            "rows": [
                [at + n * step, name, round((level + (n % 4) / 16) * 1_000_000), "%" if name in WET else "Cel"]
                for name, level in levels.items()
            ],
            "ahead": [],
        })
        for n in range(count)
    ]  # fmt: skip


_work = st.sampled_from([
    ("p1", "turned", {}), ("p1", "turned", {}), ("p1", "added", {}), ("p1", "built", {}), ("p1", "emptied", {}),
    ("p2", "built", {}), ("p2", "turned", {}), ("p1", "moved", {"to": "p3"}), ("p3", "moved", {"to": "p1"}),
    ("p1", "moved", {"to": "p3", "note": "probes left, not a turning"}), ("p1", "split", {"to": "p3"}),
    ("p2", "split", {"to": "p1"}), ("p3", "merged", {"to": "p1"}), ("p1", "merged", {"to": "p2"}),
    ("p1", "probe out", {"probe": "p1-a"}), ("p1", "probe in", {"probe": "p1-a"}), ("p2", "probe in", {"probe": "p1-b"}),
    ("b1", "probe in", {"probe": "p1-a"}), ("p1", "probe in", {"probe": "p1-b"}), ("ambient", "probe in", {"probe": "p2-a"}),
    ("b1", "fed", {}), ("b1", "watered", {}), ("b2", "fed", {}), ("p1", "watered", {}), ("", "note", {"note": "rain"}),
    ("p1", "probe in", {"probe": "b1-t"}), ("b1", "emptied", {}), ("b1", "bedded", {}), ("b2", "emptied", {}),
    ("b1", "probe out", {"probe": "b1-t"}), ("b1", "probe in", {"probe": "b1-t"}), ("b1", "probe out", {"probe": "b1-m"}),
    ("b1", "probe in", {"probe": "b1-m"}), ("b2", "probe out", {"probe": "b2-t"}), ("p1", "probe out", {"probe": "p1-s"}),
    ("p1", "probe in", {"probe": "p1-s"}), ("p1", "turned", {}),
])  # fmt: skip
ALARMS = ("p1/stalled", "p1/hot", "p1/too-hot", "p1/fire", "p1/turning-due", "p1/cold-corner", "b1/overheating",
          "b1/worms-in-danger", "b1/too-wet", "p1/silent/p1-a", "b2/silent/b2-t", "p1/look-at-probe/p1-a", "b1/freezing",
          "/link/mqtt", "/clock/")  # fmt: skip
ANSWERS = ("seen", "not me after all", "put off", "taken up again", "out of service", "back")


def _do_work(draw, at, worked):
    place, done, more = draw(_work)
    back = draw(st.sampled_from([0, 0, 0, 10 * MIN, 5 * HOUR, 40 * HOUR]))
    payload = {"time": at - back, "place": place, "kind": done, **more}
    worked.append((at, payload))
    return "work", payload


def _answer(draw, at, worked):
    until = at + draw(st.sampled_from([HOUR, 20 * HOUR]))
    said = draw(st.sampled_from(ANSWERS))
    return "answer", {"alarm": draw(st.sampled_from(ALARMS)), "answer": said, "until": until, "by": "Ann"}


def _correct(draw, at, worked):
    if not worked:
        return None
    of, was = draw(st.sampled_from(worked))
    work = draw(st.sampled_from([None, {**was, "time": was["time"] - HOUR}, {**was, "kind": "note"}]))
    return "correction", {"of": of, "work": work, "by": "Ann"}


def _clock(draw, at, worked):
    return "clock", {"state": draw(st.sampled_from(["jumped", "confirmed", "unconfirmed"])), "by_ms": 200_000}


def _link(draw, at, worked):
    return "link", {"what": "source", "name": "mqtt", "up": draw(st.booleans()), "why": "refused"}


def _import(draw, at, worked):
    rows = [[t, "p1-a", 56_000_000 + t % 7 * 1000, "Cel"] for t in range(at - 9 * HOUR + 7, at - 5 * HOUR, 30 * MIN)]
    return "imported", {"rows": rows, "work": [{"time": at - 8 * HOUR, "place": "p1", "kind": "turned"}]}


HAND_LEVELS = {"p1": (30, 54.9, 57, 71.5, 84), "p2": (45, 57, 66), "p3": (57, 60), "b1": (3, 20, 31, 36)}


def _hand(draw, at, worked):
    """A round by hand: some spots of a place, maybe late."""
    place = draw(st.sampled_from(["p1", "p1", "p2", "p3", "b1"]))
    time = at - draw(st.sampled_from([0, 0, HOUR, 13 * HOUR])) - draw(seconds)
    spots = draw(st.lists(st.sampled_from(["", ":top", ":core"]), min_size=1, max_size=3, unique=True))
    rows = [
        [time + n * MIN, f"hand:{place}{spot}", round(draw(st.sampled_from(HAND_LEVELS[place])) * 1_000_000), "Cel"]
        for n, spot in enumerate(spots)
    ]
    return "readings", {"rows": rows, "ahead": [], "by": "Ann"}


def _again(draw, at, rows):
    """Other values of instants that have one already."""
    if not rows:
        return None
    chosen = draw(st.lists(st.sampled_from(rows), min_size=1, max_size=3, unique_by=lambda row: (row[0], row[1])))
    by = draw(st.sampled_from([-30_000_000, -1_000_000, 1_000_000]))
    kind = draw(st.sampled_from(["readings", "imported"]))
    return kind, {"rows": [[time, name, micro + by, unit] for time, name, micro, unit in chosen], "ahead": []}


def _take_back(draw, at, rows):
    """A reading by hand that is taken back."""
    known = [row for row in rows if row[1].startswith("hand:")]
    if not known:
        return None
    time, name, _, _ = draw(st.sampled_from(known))
    return "correction", {"reading": {"time": time, "probe": name}, "by": "Ann"}


def _change_settings(draw, at, worked):
    return "settings", draw(st.sampled_from(range(len(SETTINGS))))


def _read(draw, at, worked):
    return draw(_commit(at))


OF_ROWS = (_again, _take_back)
"""What is done with readings that are there already."""
KINDS = (
    _read,
    _read,
    _do_work,
    _do_work,
    _answer,
    _answer,
    _change_settings,
    _correct,
    _clock,
    _link,
    _import,
    _hand,
    _hand,
    *OF_ROWS,
)
GAPS = (MIN, 10 * MIN, 10 * MIN, 40 * MIN, 3 * HOUR, 9 * HOUR, 30 * HOUR)


@st.composite
def scripts(draw, *, restarts=True, least=4, most=14):
    """Events as (at, kind, payload), `at` strictly rising, beginning with a start and settings."""
    at = T0 - MIN
    events: list[tuple[int, str, Any]] = [(at - 1, "started", {"down_since": None}), (at, "settings", 0)]
    worked: list[tuple[int, dict]] = []
    for _ in range(draw(st.integers(least, most))):
        at = at + 1 + draw(st.sampled_from(GAPS))
        what = draw(st.sampled_from(["steady", "restart", *KINDS, *["steady"] * 2]))
        if what == "steady":
            events += draw(_steady(at))
        elif what == "restart" and restarts:
            down = at - draw(st.sampled_from([1, MIN, 50 * MIN]))
            events.append((at, "started", {"down_since": max(down, events[-1][0])}))
        elif callable(what):
            known = [
                row for _, kind, payload in events[-60:] if kind in ("readings", "imported") for row in payload["rows"]
            ]
            if (found := what(draw, at, known if what in OF_ROWS else worked)) is not None:
                events.append((at, *found))
        at = events[-1][0]
    return events


__all__ = ["BASE", "DAY", "SETTINGS", "scripts"]
