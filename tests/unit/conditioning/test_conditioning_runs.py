"""Days in which everything happens: conditioned as a run, at any cut, they say and remember what one by one does."""

from copy import deepcopy
from dataclasses import asdict, replace

import numpy as np
import pytest

from monitor.conditioning import Conditioned, Conditioner, ConditioningState, Course
from monitor.model.flags import ACCEPTED, FlagReason
from monitor.model.readings import Reading
from monitor.model.settings import AMBIENT, Bin, Pile, Probe, Settings
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.model.units import Quantity
from monitor.model.words import Role

T0 = 1_793_577_600_000
QUICK = ProbeThresholds(flat_suspect_ms=4 * HOUR_MS, flat_fail_ms=8 * HOUR_MS, ambient_span_ms=6 * HOUR_MS)
"""As in a yard, but for waiting days until something stands still or follows the air."""


def probe(place, role, **more):
    return Probe(place=place, role=role, address="", **more)


SETTINGS = Settings(
    piles={"p1": Pile(name="Bay 1"), "p2": Pile(name="Bay 2")},
    bins={"b1": Bin(name="Bin")},
    probes={
        "air": probe(AMBIENT, Role.AMBIENT),
        "a": probe("p1", Role.CORE, resolution_micro=62_500),
        "b": probe("p1", Role.CORE),
        "c": probe("p1", Role.SURFACE, resolution_micro=500_000),
        "d": probe("p2", Role.CORE),
        "e": probe("b1", Role.BEDDING, resolution_micro=62_500),
        "m": probe("b1", Role.BEDDING, quantity=Quantity.MOISTURE),
    },
    probe_thresholds=QUICK,
)
KINDS = ["flat", "flat", "air", "spike", "jump", "code", "85", "85s", "far"]
LEVEL = {"air": 12, "a": 57, "b": 50, "c": 40, "d": 45, "e": 22, "m": 70}


def walk(rng, name, count, step_min):
    """One probe's values: mostly a quiet walk; now and then it stands still, follows the air, spikes, or sends a code."""
    hours = np.arange(count) * step_min / 60
    air = 12 + 5 * np.sin(hours / 24 * 2 * np.pi)
    found = air.copy() if name == "air" else LEVEL[name] + np.cumsum(rng.integers(-2, 3, count)) * 0.0625
    for _ in range(6):
        start, kind = (
            int(rng.integers(0, count)),
            rng.choice(["flat", "flat", "air", "spike", "jump", "code", "85", "85s", "far"]),
        )
        some = slice(start, start + int(rng.integers(1, max(2, int(14 * 60 / step_min)))))
        if kind == "flat":
            found[some] = found[start]
        elif kind == "air" and name != "m":
            found[some] = air[some] + 0.25
        elif kind == "spike":
            found[start] += rng.choice([-8, 8, 30])
        elif kind == "jump":
            found[start:] += rng.choice([-9, 9])
        elif kind == "code":
            found[start] = -127
        elif kind == "far":
            found[start] = 130
        else:
            found[start : start + (4 if kind == "85s" else 1)] = 85
    return np.round(found * 16).astype(np.int64) * 62_500


def settings_of(seed):
    """The yard's settings; every fourth yard has no probe in the air, every eighth none beside `a` in the heap."""
    gone = {"air"} if seed % 4 == 3 else {"b", "c"} if seed % 8 == 4 else set()
    return replace(SETTINGS, probes={name: one for name, one in SETTINGS.probes.items() if name not in gone})


def yard_of(seed):
    rng = np.random.default_rng(seed)
    step_min = int(rng.choice([10, 20, 30, 60]))
    count = int(rng.integers(40, 60)) * 60 // step_min
    values = {name: walk(rng, name, count, step_min) for name in LEVEL}
    silent = {name: rng.random(count) < rng.choice([0, 0.02, 0.2]) for name in LEVEL}
    late = rng.integers(0, 4, count) * MINUTE_MS if rng.random() < 0.5 else np.zeros(count, np.int64)
    commits = []
    for i in range(count):
        at = T0 + i * step_min * MINUTE_MS
        rows = [
            Reading(at - int(late[i]) + n, name, int(values[name][i]), "%" if name == "m" else "Cel")
            for n, name in enumerate(LEVEL)
            if not silent[name][i] and name in settings_of(seed).probes
        ]
        commits.append((at, sorted(rows)))
    return commits


def airy_of(seed):
    """Two core probes that lie in the air most of the time, beside one in its heap; whole hours are missing of each."""
    rng = np.random.default_rng(seed)
    count = 60 * 3
    hours = np.arange(count) / 3
    air = 12 + 5 * np.sin(hours / 24 * 2 * np.pi + seed)
    warm = 57 + np.cumsum(rng.integers(-1, 2, count)) * 0.0625
    inside = (hours // int(rng.integers(9, 14))) % 3 == 2
    values = {"air": air, "a": warm, "b": np.where(inside, warm - 5, air + 0.25), "d": warm - 9, "c": air + 1}
    lost = {name: np.repeat(rng.random(count // 3) < 0.15, 3) for name in values}
    return [
        (
            T0 + i * 20 * MINUTE_MS,
            [
                Reading(T0 + i * 20 * MINUTE_MS + n, name, round(float(values[name][i]) * 16) * 62_500, "Cel")
                for n, name in enumerate(sorted(values))
                if not lost[name][i]
            ],
        )
        for i in range(count)
    ]


def one_by_one(conditioner, commits, last=0):
    found = []
    for at, rows in commits:
        while (due := conditioner.due()) is not None and (now := max(due, last + 1)) <= at:
            found += conditioner.expire(now)
        for row in rows:
            found += conditioner.step(row)
        last = at
    return found


def run_of(live, commits):
    rows = [row for _, some in commits for row in some]
    first = np.concatenate(([0], np.cumsum([len(some) for _, some in commits]))).astype(np.int64)
    at, time = np.array([at for at, _ in commits], np.int64), np.array([row.time for row in rows], np.int64)
    mine = {}
    for name in dict.fromkeys(row.probe for row in rows):
        where = np.array([i for i, row in enumerate(rows) if row.probe == name], np.int64)
        mine[name] = (where, np.array([rows[i].micro for i in where], np.int64))
    return Conditioned(live, Course(at, first, time), mine), first


def is_lame(live):
    """Whether the newest reading of a probe was refused, so that the next one is looked at with care."""
    return any((one.accepted_time != one.time and one.count) for one in live.state.probes.values())


def prepared(seed, yard=yard_of, lame=False):
    """A yard, how much of it came before the run, and a conditioner that stands there with nothing waiting."""
    commits, live = yard(seed), Conditioner(ConditioningState(), settings_of(seed))
    names = {row.probe for _, rows in commits for row in rows}
    for lead in range(1, len(commits) - 12 if lame else len(commits) // 2):
        one_by_one(live, commits[lead - 1 : lead])
        known = all(live.stays(name) is not None and (live.state.probes[name].count or name == "m") for name in names)
        if lead >= 12 and known and live.due() is None and (is_lame(live) or not lame):
            return commits, lead, live
    return None


SEEDS = range(40)
AIRY = (0, 1, 2, 5, 6, 8, 9, 10)


@pytest.mark.parametrize(
    ("yard", "seed", "lame"),
    [
        (yard, seed, lame)
        for yard, seeds in ((yard_of, SEEDS), (airy_of, AIRY))
        for seed in seeds
        for lame in (False, True)
    ],
)
def test_a_run_stands_at_any_cut_where_one_by_one_does(yard, seed, lame):
    found = prepared(seed, yard, lame)
    if found is None:
        return
    commits, lead, live = found
    rest, start, settings = commits[lead:], deepcopy(live.state), settings_of(seed)
    run, first = run_of(live, rest)
    assert asdict(live.state) == asdict(start), "it only looks"
    accepted = {
        (name, int(t)): int(m)
        for name, one in run.series.items()
        for t, m in zip(one.accepted_time, one.accepted_milli, strict=True)
    }
    odd = {(one.verdict.probe, one.verdict.time): one.verdict for one in run.said()}
    keys = {(row.probe, row.time): 2 * n + 1 for n, row in enumerate(row for _, rows in rest for row in rows)}
    keys |= {(one.verdict.probe, one.verdict.time): one.key for one in run.said()}
    for name, one in run.series.items():
        assert [keys[name, int(t)] for t in one.accepted_time] == one.key.tolist(), "each is known from its reading on"
    told, done = [], 0
    for cut in sorted({0, 1, *(len(rest) * n // 7 for n in range(1, 8))}):
        told += one_by_one(live, rest[done:cut], commits[lead + done - 1][0])
        done, now = cut, commits[lead + cut - 1][0]
        other = Conditioner(deepcopy(start), settings)
        assert run.still(Conditioner(deepcopy(start), settings), int(first[cut]), now) == live.still()
        run.take_over(other, int(first[cut]), now)
        assert asdict(other.state) == asdict(live.state)
        assert list(other.state.consulted) == list(live.state.consulted)
        assert (other.due(), other.still()) == (live.due(), live.still())
        dues = [due for key, due in run.dues() if key < 2 * int(first[cut])]
        assert (dues[-1] if dues else None) == live.due()
        for name in settings.probes:
            for time in (now - HOUR_MS, now):
                assert other.late_for_others(name, time) == live.late_for_others(name, time)
    for verdict in told:
        key = (verdict.probe, verdict.time)
        assert odd.get(key, verdict) == verdict
        assert (key in accepted) is (verdict.flag in ACCEPTED)
        assert accepted.get(key, verdict.milli) == verdict.milli


def test_in_the_airy_yards_a_probe_follows_the_air_now_and_then():
    for seed in AIRY:
        commits, _, _ = prepared(seed, airy_of)
        said = one_by_one(Conditioner(ConditioningState(), settings_of(seed)), commits)
        follows = [one.reason is FlagReason.FOLLOWS_AMBIENT for one in said if one.probe == "b"]
        assert 10 < sum(follows) < len(follows) - 10


def test_in_these_yards_everything_happens():
    reasons, lengths = set(), []
    for seed in SEEDS:
        found = prepared(seed)
        lengths.append(found is not None)
        if found is not None:
            reasons |= {one.reason for one in one_by_one(Conditioner(ConditioningState(), settings_of(seed)), found[0])}
    assert reasons >= {
        FlagReason.NONE, FlagReason.SPIKE, FlagReason.POWER_UP, FlagReason.ERROR_CODE, FlagReason.GROSS_RANGE,
        FlagReason.FLAT_LINE, FlagReason.FOLLOWS_AMBIENT,
    }  # fmt: skip
    assert sum(lengths) > len(SEEDS) * 2 // 3
    assert sum(prepared(seed, lame=True) is not None for seed in SEEDS) > len(SEEDS) // 3


HOURS = QUICK.ambient_span_ms // HOUR_MS
SWING, LIKE = 8_000, 8 * QUICK.ambient_swing_milli


def hourly(swing, base=10_000, gone=0):
    """Values of `HOURS` hours that go up and down by a swing; the first hours may be missing."""
    return [None if hour < gone else base + (swing if hour % 2 else 0) for hour in range(HOURS)]


@pytest.mark.parametrize(
    ("mine", "air", "core", "follows"),
    [
        (hourly(SWING), hourly(SWING), hourly(0, 60_000), True),
        (hourly(LIKE), hourly(SWING), hourly(0, 60_000), True),
        (hourly(LIKE - 1), hourly(SWING), hourly(0, 60_000), False),
        (hourly(QUICK.flat_moved_milli_k), hourly(QUICK.flat_moved_milli_k), hourly(0, 60_000), True),
        (hourly(QUICK.flat_moved_milli_k), hourly(QUICK.flat_moved_milli_k - 1), hourly(0, 60_000), False),
        (hourly(SWING), hourly(SWING), hourly(SWING, 10_000 + QUICK.ambient_warmer_milli_k), True),
        (hourly(SWING), hourly(SWING), hourly(SWING, 9_999 + QUICK.ambient_warmer_milli_k), False),
        (hourly(SWING, gone=1), hourly(SWING, gone=1), hourly(0, 60_000, gone=1), True),
        (hourly(SWING, gone=2), hourly(SWING), hourly(0, 60_000), False),
        (hourly(SWING), hourly(SWING, gone=2), hourly(0, 60_000), False),
        (hourly(SWING), hourly(SWING), hourly(0, 60_000, gone=2), False),
        (hourly(SWING), hourly(SWING), hourly(0, 60_000, gone=HOURS), False),
        (hourly(SWING), hourly(SWING, gone=HOURS), hourly(0, 60_000), False),
    ],
)
def test_a_run_tells_at_each_edge_whether_a_probe_follows_the_air(mine, air, core, follows):
    commits = []
    for hour in range(HOURS + 3):
        rows = [("a", mine), ("air", air), ("b", core)]
        values = {name: some[hour] if hour < HOURS else 20_000 for name, some in rows}
        at = T0 + hour * HOUR_MS
        commits.append((at, [Reading(at, name, one * 1_000, "Cel") for name, one in values.items() if one is not None]))
    before = [(T0 - 9 * HOUR_MS, [Reading(T0 - 9 * HOUR_MS, name, 20_000_000, "Cel") for name in ("a", "air", "b")])]
    live = Conditioner(ConditioningState(), SETTINGS)
    one_by_one(live, before)
    run, _ = run_of(live, commits)
    told = {one.verdict.time for one in run.said() if one.verdict.reason is FlagReason.FOLLOWS_AMBIENT}
    plain = one_by_one(live, commits)
    assert told == {one.time for one in plain if one.reason is FlagReason.FOLLOWS_AMBIENT}
    assert (T0 + (HOURS + 1) * HOUR_MS in told) is follows


@pytest.mark.parametrize("first_c", [-127, 85, 130, 57])
def test_a_run_may_begin_after_a_single_reading_that_was_refused(first_c):
    def commit(minute, celsius):
        at = T0 + minute * MINUTE_MS
        return at, [Reading(at, name, round(celsius * 10**6), "Cel") for name in ("a", "air", "b")]

    before = [commit(0, first_c)]
    rest = [commit(150 + 20 * n, 57 + n * 0.0625) for n in range(30)]
    live = Conditioner(ConditioningState(), SETTINGS)
    one_by_one(live, before)
    live.expire(rest[0][0] - 1)
    start = deepcopy(live.state)
    run, first = run_of(live, rest)
    for cut in (1, 2, 30):
        live, other = (Conditioner(deepcopy(start), SETTINGS) for _ in range(2))
        one_by_one(live, rest[:cut], before[0][0])
        run.take_over(other, int(first[cut]), rest[cut - 1][0])
        assert asdict(other.state) == asdict(live.state)
