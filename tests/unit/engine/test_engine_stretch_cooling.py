"""Both doors agree on heaps that cool for weeks: limits that move by the hour, levels passed, air that comes and goes."""

from dataclasses import replace

import numpy as np
from engine_both_doors import Recorder, same
from engine_scripts import BASE
from engine_yard import DAY, HOUR, MIN, T0, plain
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.model.thresholds import PileThresholds

few = settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)


class Cooling:
    """Two heaps of two probes and one, held hot for some days, then cooling, with reheating, noise, gaps and turnings."""

    def __init__(self, seed):
        self.seed = seed
        rng = self.rng = np.random.default_rng(seed)
        self.step = int(rng.choice([5 * MIN, 10 * MIN, 20 * MIN, 30 * MIN, 70 * MIN]))
        self.t = np.arange(int(rng.integers(6, 16)) * DAY // self.step) * self.step
        self.quick = bool(rng.random() < 0.5)

    def __repr__(self):
        return f"Cooling({self.seed})"

    def events(self):
        """Yield (at, kind, payload)."""
        rng, t = self.rng, self.t
        noise = rng.choice([0.003, 0.05, 0.4])
        values = {name: self._heap(noise) for name in ("p1-a", "p1-b", "p2-a")}
        swing = rng.choice([1, 5])
        values["air"] = rng.uniform(0, 22) + swing * np.sin(t / DAY * 6.283) + rng.normal(0, 0.1, len(t))
        present = {name: rng.random(len(t)) >= rng.choice([0, 0, 0.05]) for name in values}
        for name in values:
            if rng.random() < 0.4:
                start = int(rng.integers(len(t)))
                present[name][start : start + int(rng.integers(1, 3 * DAY // self.step))] = False
        jitter = rng.integers(0, self.step // 2, len(t)) if rng.random() < 0.3 else np.zeros(len(t), np.int64)
        for i in range(len(t)):
            at = int(T0 + t[i])
            rows = [
                [at - int(jitter[i]), name, round(float(np.round(values[name][i] * 16) / 16) * 1_000_000), "Cel"]
                for name in values
                if present[name][i]
            ]
            yield at, "readings", {"rows": rows, "ahead": []}
            if rng.random() < 1e-3:
                yield at + 1, "work", {"time": at + 1, "place": "p1", "kind": str(rng.choice(["turned", "added"]))}

    def _heap(self, noise):
        rng, day = self.rng, self.t / DAY
        hot, fall = rng.uniform(0.5, 4), rng.uniform(1, 6)
        value = np.where(day < hot, rng.uniform(56, 64), 14 + 46 * np.exp(-(day - hot) / fall))
        again = rng.uniform(hot, day[-1])
        value = value + np.where(day > again, rng.choice([0, 0, 4, 7, 15]) * np.exp(-np.abs(day - again - 1)), 0)
        return value + np.cumsum(rng.normal(0, noise / 10, len(day))) + rng.normal(0, noise, len(day))


@few
@given(st.integers(0, 1 << 30).map(Cooling), st.sampled_from([60, 400_000]))
def test_both_doors_agree_on_heaps_that_cool(weeks, rows):
    drive = Recorder()
    base = BASE
    if not weeks.quick:
        limits = PileThresholds(ready_dwell_ms=30 * HOUR, ready_age_ms=4 * DAY, ready_ambient_span_ms=2 * DAY)
        base = replace(BASE, piles={name: replace(pile, thresholds=limits) for name, pile in BASE.piles.items()})
    drive.feed(T0 - 2 * MIN, "settings", plain(base))
    for at, kind, payload in weeks.events():
        drive.feed(at, kind, payload)
    same(drive, int(T0 + weeks.t[-1]) + DAY, rows=rows)
