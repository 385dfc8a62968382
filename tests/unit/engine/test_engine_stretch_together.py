"""Both doors agree on a heap whose probes pass the same limits one after another, of which only the outermost count."""

from dataclasses import replace

import numpy as np
import pytest
from engine_both_doors import Recorder, same
from engine_scripts import BASE
from engine_yard import DAY, HOUR, MIN, T0, air, core, plain
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.engine import Engine
from monitor.engine.stretch import ColumnHistory, commits_from_events, feed_commits
from monitor.model.thresholds import PileThresholds
from monitor.piles import Walk

few = settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
PROBES = ("p1-a", "p1-b", "p1-c", "p1-d")
YARD = replace(
    BASE, piles={"p1": BASE.piles["p1"]}, bins={}, probes={"air": air(), **{name: core("p1") for name in PROBES}}
)


class Close:
    """Four probes close to each other and to one limit after another; each may come at its own moment of the step."""

    def __init__(self, seed):
        self.seed = seed
        rng = self.rng = np.random.default_rng(seed)
        self.step = int(rng.choice([3 * MIN, 10 * MIN, 25 * MIN]))
        self.t = np.arange(int(rng.integers(3, 9)) * DAY // self.step) * self.step
        self.quick = bool(rng.random() < 0.5)

    def __repr__(self):
        return f"Close({self.seed})"

    def events(self):
        """Yield (at, kind, payload), in order."""
        rng, t = self.rng, self.t
        levels = rng.choice([26.7, 40, 40.3, 54.6, 55, 65, 70.8, 22], size=4)
        course = np.interp(t / t[-1], np.linspace(0, 1, 4), levels) + np.cumsum(rng.normal(0, 0.05, len(t)))
        noise = rng.choice([0.02, 0.2, 1.0])
        apart, stagger = rng.choice([0.1, 0.6, 3.0]), rng.random() < 0.5
        moments = {name: int(rng.integers(0, self.step)) if stagger else 0 for name in PROBES}
        lost = {name: self._lost() for name in PROBES}
        values = {
            name: np.round((course + n * apart + rng.normal(0, noise, len(t))) * 16) * 62_500
            for n, name in enumerate(PROBES)
        }
        outside = np.round((rng.uniform(0, 22) + 4 * np.sin(t / DAY * 6.283)) * 16) * 62_500
        for i in range(len(t)):
            coming = {0: [[int(T0 + t[i]), "air", int(outside[i]), "Cel"]]}
            for name in PROBES:
                if not lost[name][i]:
                    row = [int(T0 + t[i]) + moments[name], name, int(values[name][i]), "Cel"]
                    coming.setdefault(moments[name], []).append(row)
            work = (int(rng.integers(1, self.step)), self._work(int(T0 + t[i]))) if rng.random() < 2e-3 else None
            if work is not None and work[0] not in coming:
                coming[work[0]] = work[1]
            for moment in sorted(coming):
                at, what = int(T0 + t[i]) + moment, coming[moment]
                yield (at, "work", {**what, "time": at}) if isinstance(what, dict) else (
                    at, "readings", {"rows": what, "ahead": []},
                )  # fmt: skip

    def _lost(self):
        lost = self.rng.random(len(self.t)) < self.rng.choice([0, 0, 0.02])
        if self.rng.random() < 0.3:
            start = int(self.rng.integers(len(self.t)))
            lost[start : start + int(self.rng.integers(1, DAY // self.step))] = True
        return lost

    def _work(self, at):
        kind = str(self.rng.choice(["turned", "added", "probe out", "probe in"]))
        probe = {"probe": str(self.rng.choice(PROBES))} if kind.startswith("probe") else {}
        return {"time": at, "place": "p1", "kind": kind, **probe}


def fed(close, *, quick):
    drive, base = Recorder(), YARD
    if quick:
        limits = PileThresholds(ready_dwell_ms=20 * HOUR, ready_age_ms=2 * DAY, ready_ambient_span_ms=DAY)
        base = replace(YARD, piles={name: replace(pile, thresholds=limits) for name, pile in YARD.piles.items()})
    drive.feed(T0 - 2 * MIN, "settings", plain(base))
    for at, kind, payload in close.events():
        drive.feed(at, kind, payload)
    return drive


@few
@given(st.integers(0, 1 << 30).map(Close), st.sampled_from([90, 400_000]))
def test_both_doors_agree_on_probes_that_pass_limits_together(close, rows):
    same(fed(close, quick=close.quick), int(T0 + close.t[-1]) + DAY, rows=rows)


class Fixed(Close):
    """Four probes a degree apart that fall through the hold temperature, back and forth, without a silence."""

    def __init__(self):
        super().__init__(1)
        self.step = 5 * MIN
        self.t = np.arange(4 * DAY // self.step) * self.step

    def events(self):
        for i, t in enumerate(self.t):
            at, base = int(T0 + t), 52 + 4 * np.cos(t / DAY) + 0.3 * (i % 3)
            rows = [[at, name, int(round((base + n) * 16) * 62_500), "Cel"] for n, name in enumerate(PROBES)]
            yield at, "readings", {"rows": rows, "ahead": []}


def test_the_walk_steps_only_where_the_coldest_or_the_hottest_passes(monkeypatch):
    drive = fed(Fixed(), quick=False)
    steps = []
    step = Walk._step
    monkeypatch.setattr(Walk, "_step", lambda walk, at, *more: (steps.append(at), step(walk, at, *more))[1])
    engine, history = Engine(), ColumnHistory()
    for piece in commits_from_events(drive.events):
        engine.feed(piece, history) if hasattr(piece, "kind") else feed_commits(engine, piece, history)
    few_steps = len(steps)
    steps.clear()
    engine, history = Engine(), ColumnHistory()
    for event in drive.events:
        engine.feed(event, history)
    assert 0 < few_steps < len(steps) * 0.8
    same(drive, int(T0 + 5 * DAY))


@pytest.mark.parametrize(
    ("seed", "rows"), [(13, 400_000), (105, 90), (186, 90)], ids=["moving limits", "moving limits, in pieces", "rule"]
)
def test_both_doors_agree_on_weeks_that_once_told_them_apart(seed, rows):
    close = Close(seed)
    same(fed(close, quick=close.quick), int(T0 + close.t[-1]) + DAY, rows=rows)
