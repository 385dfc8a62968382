"""Whatever happens to a batch, its case says what the engine's own progress says at the engine's own frontier."""

from random import Random

import pytest
from certificate_yard import DAY, HOUR, MIN, T0, Journal, yard

from monitor.certificate import judge_case
from monitor.model.settings import Pile
from monitor.model.words import Method
from monitor.proof.verdict import Outcome

STEP = 30 * MIN


def live_through(journal, rng):
    """A week of one batch: heat that comes and goes, silence, late readings, turnings, moves, additions, probes out."""
    journal.work(T0, "p1", "built", entered=T0)
    place, outside, entries = "p1", {}, []
    level = {"p1-a": 58.0, "p1-b": 57.0}
    for at in range(T0 + MIN, T0 + 7 * DAY, STEP):
        level = {probe: min(66.0, max(52.5, heat + rng.uniform(-0.7, 0.7))) for probe, heat in level.items()}
        now = {p: 10 + rng.random() if outside.get(p, 0) > at else level[p] for p in level if rng.random() > 0.04}
        if rng.random() < 0.9:
            now["air"] = 6 + 4 * rng.random()
        if rng.random() < 0.01:
            now["p1-a"] = -127
        late = at + 3 * HOUR if rng.random() < 0.02 else None
        rows = [[at, probe, round(value * 1_000_000), "Cel"] for probe, value in sorted(now.items())]
        journal.put(at if late is None else late, "readings", {"rows": rows})
        what = rng.random()
        if what < 0.012:
            done = at + MIN - (rng.choice((0, 0, 4 * HOUR)))
            entries.append((journal.work(done, place, "turned", entered=at + 2 * MIN), done))
            outside = {probe: done + rng.choice((40, 90)) * MIN for probe in level}
            if rng.random() < 0.5:
                for probe in level:
                    journal.work(done + 40 * MIN, place, "probe in", probe=probe, entered=at + 45 * MIN)
        elif what < 0.015:
            journal.work(at + MIN, place, "added", entered=at + 2 * MIN)
        elif what < 0.018:
            there = "p2" if place == "p1" else "p1"
            note = rng.choice(("", "not a turning"))
            journal.work(at + MIN, place, "moved", to=there, note=note, entered=at + 2 * MIN)
            place, outside = there, dict.fromkeys(level, at + 70 * MIN) if not note else outside
        elif what < 0.021:
            journal.work(at + MIN, place, "probe out", probe="p1-b", entered=at + 2 * MIN)
            outside["p1-b"] = at + 5 * HOUR
        elif what < 0.025 and entries:
            entry, done = rng.choice(entries)
            right = {"time": done + HOUR, "place": place, "kind": "turned"}
            journal.put(at + 3 * MIN, "correction", {"of": entry, "work": rng.choice((right, None))})


@pytest.mark.parametrize("seed", range(6))
def test_the_case_and_the_engine_agree(tmp_path, seed):
    rng = Random(seed)
    turned = seed % 2 == 0
    rule, method = ("us-112-54-turned", Method.TURNED) if turned else ("us-503-pfrp-static", Method.STATIC)
    piles = {place: Pile(name=place, rule=rule, method=method) for place in ("p1", "p2")}
    probes = {name: probe for name, probe in yard().probes.items() if name in ("air", "p1-a", "p1-b")}
    journal = Journal(tmp_path, yard(piles=piles, probes=probes))
    try:
        live_through(journal, rng)
        batch = "p1-2026-11-01"
        now, progress, total_ms = journal.live(batch)
        finding = judge_case(journal.case(batch, end=now)).finding
    finally:
        journal.writer.close()
    assert (finding.outcome is Outcome.MET) == (progress.state.value == "met")
    assert finding.met_at == progress.since or finding.met_at is None
    assert finding.total_ms == total_ms
    shared = {key: value for key, value in finding.values.items() if key in progress.values}
    assert shared == {key: progress.values[key] for key in shared}
    assert shared
