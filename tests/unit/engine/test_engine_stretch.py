"""The engine's second door gives the effects and leaves the state that feeding commits one by one does, byte for byte."""

import pickle
from dataclasses import replace

import numpy as np
import pytest
from engine_both_doors import Recorder, same
from engine_scripts import BASE, scripts
from engine_yard import DAY, HOUR, MIN, T0
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.engine import NOBODY, Engine
from monitor.engine.stretch import commits_from_events, for_place, prepare, run
from monitor.model.effects import EffectKind, Occasion
from monitor.model.events import Event, EventKind
from monitor.model.thresholds import BinThresholds
from monitor.recordings import MemoryHistory
from monitor.recordings.effect_lines import effect_line

many = settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
few = settings(many, max_examples=4)


ALARM = EffectKind.ALARM


@many
@given(scripts(), st.sampled_from([1, 2, 5, 30]), st.sampled_from([20, 100, 400_000]))
def test_both_doors_say_and_remember_the_same(script, least, rows):
    drive = Recorder()
    for at, kind, payload in script:
        drive.feed(at, kind, payload)
    same(drive, script[-1][0] + 2 * DAY, least=least, rows=rows)


LEVELS = {"air": 12, "p1-a": 57, "p1-b": 56, "p2-a": 45, "b1-t": 24, "b1-u": 26, "b1-m": 75, "b2-t": 28}


class Week:
    """Days of readings every few minutes: daily swings, noise, spikes, codes, gaps, stuck and lost probes, disorder."""

    def __init__(self, seed, hours=(12, 48)):
        self.seed = seed
        rng = self.rng = np.random.default_rng(seed)
        self.step = int(rng.choice([2 * MIN, 5 * MIN, 10 * MIN, 20 * MIN]))
        self.count = int(rng.integers(*hours)) * HOUR // self.step
        self.t = np.arange(self.count) * self.step
        self.jitter = int(rng.choice([0, 0, 20_000, 4 * MIN]))
        self.disorder = float(rng.choice([0, 0, 0, 0.001]))
        self.swing = float(rng.choice([0.5, 4, 12]))
        self.readings = self._readings()

    def __repr__(self):
        return f"Week({self.seed})"

    def _readings(self):
        rng, count = self.rng, self.count
        loss, noise = rng.choice([0, 0, 0.01, 0.2]), rng.choice([0.01, 0.1, 0.6])
        spikes = rng.choice([0, 0, 0.003, 0.02])
        columns = {name: self._values(level, noise, spikes) for name, level in LEVELS.items()}
        present = {name: rng.random(count) >= loss for name in LEVELS}
        for name, value in columns.items():
            what = rng.choice(["fine", "fine", "fine", "stuck", "silent", "like air"])
            start = int(rng.integers(count))
            end = start + int(rng.integers(1, count))
            if what == "stuck":
                value[start:end] = value[start]
            elif what == "silent":
                present[name][start:end] = False
            elif what == "like air":
                value[start:end] = 12 + self.swing * np.sin(self.t / DAY * 6.283)[start:end]
            columns[name] = np.round(value * 16) / 16 if name != "b2-t" else value
        return [
            (int(T0 + self.t[i]), [self._row(i, name, columns[name][i]) for name in columns if present[name][i]])
            for i in range(count)
        ]

    def _values(self, level, noise, spikes):
        rng, count = self.rng, self.count
        shift = rng.choice([0, 0, 0, -15, 4, 9, 16, 25])
        value = level + shift + self.swing * np.sin(self.t / DAY * 6.283 + rng.random()) + rng.normal(0, noise, count)
        value += np.cumsum(rng.normal(0, noise / 5, count))
        hit = rng.random(count) < spikes
        value[hit] += rng.choice([-30, -6, 8, 25], hit.sum())
        value[rng.random(count) < spikes / 3] = -127
        value[rng.random(count) < spikes / 3] = 85
        return value

    def _row(self, i, name, value):
        time = int(T0 + self.t[i])
        if self.jitter:
            time += int(self.rng.integers(-self.jitter, self.jitter + 1))
        if self.disorder and self.rng.random() < self.disorder:
            time -= int(self.rng.integers(0, 9 * HOUR))
        return [time, name, round(float(value) * 1_000_000), "%" if name == "b1-m" else "Cel"]


weeks = st.builds(Week, st.integers(0, 1 << 30))


def fed(week, others=()):
    drive = Recorder()
    drive.feed(T0 - 2 * MIN, "settings", 0)
    others = sorted(others, key=lambda one: one[0])
    for at, rows in week.readings:
        while others and others[0][0] <= at:
            drive.feed(*others.pop(0))
        drive.feed(at, "readings", {"rows": rows, "ahead": []})
    return drive


@many
@given(weeks, st.sampled_from([300, 400_000]))
def test_both_doors_agree_on_days_of_readings(week, rows):
    drive = fed(week)
    same(drive, week.readings[-1][0] + DAY, rows=rows)


@many
@given(weeks, st.data())
def test_both_doors_agree_with_other_work_between(week, data):
    others, last = [], week.readings[-1][0]
    for _ in range(data.draw(st.integers(1, 6))):
        at = data.draw(st.integers(T0, last))
        others.append(
            data.draw(
                st.sampled_from([
                    (at, "work", {"time": at, "place": "p1", "kind": "turned"}),
                    (at, "work", {"time": at - HOUR, "place": "p1", "kind": "turned"}),
                    (at, "work", {"time": at, "place": "b1", "kind": "fed"}),
                    (at, "work", {"time": at, "place": "p2", "kind": "built"}),
                    (at, "work", {"time": at, "place": "p1", "kind": "moved", "to": "p3"}),
                    (at, "work", {"time": at, "place": "b1", "kind": "probe in", "probe": "p1-a"}),
                    (at, "answer", {"alarm": "b1/overheating", "answer": "seen", "by": "Ann"}),
                    (at, "answer", {"alarm": "p1/hot", "answer": "put off", "until": at + 5 * HOUR, "by": "Ann"}),
                    (at, "settings", 1), (at, "settings", 2), (at, "settings", 8),
                    (at, "started", {"down_since": at - 1}),
                    (at, "link", {"what": "source", "name": "mqtt", "up": False, "why": "refused"}),
                ])
            )
        )  # fmt: skip
    drive = fed(week, others)
    same(drive, last + DAY)


def replayed(events, changed, until):
    engine, history, effects = Engine(), MemoryHistory(), []
    first = Event(events[0].at - 1, EventKind.SETTINGS, {"settings": changed})
    for event in [first, *events]:
        if event.at <= until:
            history.take(event.payload)
            effects += engine.feed(event, history)
    return effects + engine.advance(until)


def lines(effects):
    return [effect_line(effect) for effect in effects]


def rung(effects):
    """What a run says that nobody reads: no texts, no conditions of bins, no digests."""
    return [
        (effect.at, replace(effect.draft, why="", text=""))
        for effect in effects
        if effect.draft.kind is not EffectKind.CONDITION and effect.draft.axis != Occasion.DIGEST
    ]


SMALL = [
    {"place": "b1", "kind": "fed"}, {"place": "b1", "kind": "watered"}, {"place": "b2", "kind": "bedded"},
    {"alarm": "b1/overheating", "answer": "seen", "by": "Ann"}, {"alarm": "b1/too-wet", "answer": "put off", "by": "Ann"},
    {"alarm": "p1/hot", "answer": "out of service", "by": "Ann"},
]  # fmt: skip


def small(week, data):
    """Draw what is done and answered in a week."""
    last = week.readings[-1][0]
    found = []
    for _ in range(data.draw(st.integers(0, 8))):
        at, what = data.draw(st.integers(T0, last)), dict(data.draw(st.sampled_from(SMALL)))
        what |= {"time": at} if "kind" in what else {"until": at + 5 * HOUR} if what["answer"] == "put off" else {}
        found.append((at, "work" if "kind" in what else "answer", what))
    return found


@few
@given(
    st.integers(0, 1 << 30),
    st.sampled_from(["b1", "p1", None]),
    st.integers(26_000, 33_000),
    st.integers(0, 90),
    st.data(),
)
def test_a_prepared_recording_runs_as_the_replay_with_those_settings(seed, place, limit, minutes, data):
    week = Week(seed, (20, 50))
    events = fed(week, small(week, data)).events[3:]
    pieces, plain = commits_from_events(events), BASE
    if place is not None:
        pieces, plain = for_place(pieces, plain, place)
    prepared = pickle.loads(pickle.dumps(prepare(pieces, plain)))
    expanded = [one for piece in prepared.pieces for one in all_of(piece)]
    until = expanded[-1].at - HOUR
    ordinary = {}
    for more in (0, 2_000, 0):
        bins = {
            name: replace(
                bin_, thresholds=BinThresholds(overheating_milli_c=limit + more, overheating_dwell_ms=minutes * MIN)
            )
            for name, bin_ in plain.bins.items()
        }
        piles = {
            name: replace(p, thresholds=replace(p.thresholds, hot_milli_c=60_000 + more))
            for name, p in plain.piles.items()
        }
        changed = replace(plain, bins=bins, piles=piles)
        if more not in ordinary:
            ordinary[more] = replayed(expanded, changed, until)
        assert lines(run(prepared, changed, until)) == lines(ordinary[more])
        unread = run(prepared, changed, until, NOBODY)
        assert rung(unread) == rung(ordinary[more])
        assert not any(effect.draft.text or effect.draft.why for effect in unread if effect.draft.kind is ALARM)


def all_of(piece):
    if isinstance(piece, Event):
        return [piece]
    found = []
    for n in range(len(piece) + 1):
        found += piece.between.get(n, ())
        found += [piece.event(n)] if n < len(piece) else []
    return found


def test_small_events_are_joined_with_the_commits_around_them():
    week = Week(7, (20, 21))
    at = week.readings[5][0] + 1_000
    events = fed(week, [(at, "work", {"time": at, "place": "b1", "kind": "fed"})]).events[3:]
    [piece] = prepare(commits_from_events(events), BASE).pieces
    assert [one.at for one in all_of(piece)] == [one.at for one in events]
    assert list(piece.between) == [4]
    assert [one.at for one in all_of(piece.until(at))] == [one.at for one in events if one.at <= at]


def test_settings_may_differ_in_thresholds_only():
    pieces = commits_from_events([Event(T0, EventKind.READINGS, {"rows": [[T0, "air", 1000, "Cel"]], "ahead": []})])
    prepared = prepare(pieces, BASE)
    with pytest.raises(ValueError, match="thresholds"):
        run(prepared, replace(BASE, probes={}))
