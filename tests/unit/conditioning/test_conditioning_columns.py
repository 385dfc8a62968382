"""Conditioning of many readings at once says and remembers what one at a time does."""

from copy import deepcopy
from dataclasses import asdict

import numpy as np
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.conditioning import Conditioned, Conditioner, ConditioningState, Course
from monitor.conditioning.calibration import Line
from monitor.conditioning.suspects import calibrated
from monitor.model.readings import Reading
from monitor.model.settings import AMBIENT, Bin, Pile, Probe, Settings
from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.model.units import Quantity
from monitor.model.words import Role

T0 = 1_793_577_600_000
MICRO = 1_000_000


def probe(place, role, **more):
    return Probe(place=place, role=role, address="", **more)


SETTINGS = Settings(
    piles={"p1": Pile(name="Bay 1")}, bins={"b1": Bin(name="Bin")},
    probes={
        "air": probe(AMBIENT, Role.AMBIENT),
        "a": probe("p1", Role.CORE, resolution_micro=62_500),
        "b": probe("p1", Role.CORE),
        "c": probe("b1", Role.BEDDING),
        "m": probe("b1", Role.BEDDING, quantity=Quantity.MOISTURE),
    },
)  # fmt: skip
many = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)


@st.composite
def values(draw, count, base):
    """A walk with steps, spikes, codes and stretches in which nothing moves."""
    seed = draw(st.integers(0, 1 << 30))
    rng = np.random.default_rng(seed)
    found = base + np.cumsum(rng.integers(-3, 4, count)) * draw(st.sampled_from([0, 0.0625, 0.5, 2.5]))
    for _ in range(draw(st.integers(0, 5))):
        start = int(rng.integers(0, count))
        length = int(rng.choice([1, 1, 2, 5, 60]))
        kind = rng.choice(["spike", "code", "85", "far", "flat", "flat", "air", "step"])
        part = slice(start, min(start + length, count))
        if kind == "flat":
            found[start : start + count // 2] = found[start]
        elif kind == "step":
            found[start:] += rng.choice([-7, 7, 20])
        elif kind == "air":
            found[start:] = 12 + 4 * np.sin(np.arange(count - start) / 40)
        else:
            found[part] = {"spike": found[start] + 8, "code": -127, "85": 85, "far": 120}[str(kind)]
    return np.round(found * MICRO).astype(np.int64)


@st.composite
def records(draw):
    """Commits with rows of five probes: steps of minutes or hours, some late, some ahead, some silent for a while."""
    count = draw(st.integers(20, 300))
    step = draw(st.sampled_from([MINUTE_MS, 10 * MINUTE_MS, 20 * MINUTE_MS, 29 * MINUTE_MS, HOUR_MS, 3 * HOUR_MS]))
    rng = np.random.default_rng(draw(st.integers(0, 1 << 30)))
    levels = {"air": 12, "a": 50, "b": 15, "c": 22, "m": 70}
    columns = {name: draw(values(count, base)) for name, base in levels.items()}
    jitter = draw(st.sampled_from([0, 0, 3 * MINUTE_MS]))
    silent = draw(st.sampled_from([0, 0, 0.05, 0.3]))
    newest, commits = {}, []
    for i in range(count):
        at = T0 + i * step
        rows = []
        for name in columns:
            time = at + int(rng.integers(-jitter, jitter + 1)) if jitter else at
            if rng.random() < silent or time <= newest.get(name, 0):
                continue
            newest[name] = time
            rows.append(Reading(time, name, int(columns[name][i]), "%" if name == "m" else "Cel"))
        commits.append((at, sorted(rows)))
    return commits


def one_by_one(conditioner, commits):
    """Feed commits as the engine does: deadlines before them; return verdicts in order."""
    found, last = [], None
    for at, rows in commits:
        while (due := conditioner.due()) is not None and (now := max(due, last + 1)) <= at:
            found += conditioner.expire(now)
        for row in rows:
            found += conditioner.step(row)
        last = at
    return found


def columns_of(commits):
    rows = [row for _, all_of in commits for row in all_of]
    first = np.concatenate(([0], np.cumsum([len(all_of) for _, all_of in commits]))).astype(np.int64)
    course = Course(
        np.array([at for at, _ in commits], np.int64), first, np.array([row.time for row in rows], np.int64)
    )
    mine = {}
    for name in dict.fromkeys(row.probe for row in rows):
        where = [i for i, row in enumerate(rows) if row.probe == name]
        mine[name] = (np.array(where, np.int64), np.array([rows[i].micro for i in where], np.int64))
    return rows, course, mine


def as_verdicts(run, rows):
    """Everything that was said, in order: (key, order, time, probe, milli, accepted, flag of what was not plain)."""
    odd = {(one.verdict.time, one.verdict.probe): one for one in run.said()}
    found = [(one.key, one.order, one.verdict) for one in run.said()]
    for name, series in run.series.items():
        for key, time, milli in zip(series.key, series.accepted_time, series.accepted_milli, strict=True):
            if (int(time), name) not in odd:
                found.append((int(key), (1 << 62, name, 0), (int(time), name, int(milli))))
    return [one[2] for one in sorted(found, key=lambda one: one[:2])]


@many
@given(records(), st.integers(3, 40), st.floats(0, 1))
def test_a_run_says_and_remembers_what_one_by_one_does(commits, lead, share):
    live = Conditioner(ConditioningState(), SETTINGS)
    one_by_one(live, commits[:lead])
    rest = commits[lead:]
    names = {row.probe for _, rows in rest for row in rows}
    if live.due() is not None or not rest or any(live.stays(name) is None for name in names):
        return
    if not all(live.state.probes[n].count or n == "m" for n in names):
        return
    rows, course, mine = columns_of(rest)
    if not mine:
        return
    start = deepcopy(live.state)
    run = Conditioned(live, course, mine)
    assert asdict(live.state) == asdict(start)
    cut = round(share * len(rest))
    said = one_by_one(live, rest[:cut])
    got = as_verdicts(run, rows)[: len(said)]
    plain = [v if len(one) == 5 else tuple(v[:3]) for v, one in zip(said, got, strict=True)]
    assert [tuple(one) for one in plain] == [tuple(one) for one in got]
    other = Conditioner(start, SETTINGS)
    now = rest[cut - 1][0] if cut else commits[lead - 1][0]
    run.take_over(other, int(course.first[cut]), now)
    assert asdict(other.state) == asdict(live.state)
    assert run.still(Conditioner(deepcopy(start), SETTINGS), 0, 0) is not None
    assert other.still() == live.still()
    assert other.due() == live.due()
    dues = [due for key, due in run.dues() if key < 2 * int(course.first[cut])]
    assert (dues[-1] if dues else None) == live.due()


@many
@given(records(), st.integers(3, 40), st.floats(0, 1))
def test_still_probes_are_told_without_taking_over(commits, lead, share):
    live = Conditioner(ConditioningState(), SETTINGS)
    one_by_one(live, commits[:lead])
    rest = commits[lead:]
    names = {row.probe for _, rows in rest for row in rows}
    if live.due() is not None or not names or any(live.stays(name) is None for name in names):
        return
    if not all(live.state.probes[n].count or n == "m" for n in names):
        return
    _, course, mine = columns_of(rest)
    run = Conditioned(live, course, mine)
    cut = round(share * len(rest))
    before = Conditioner(deepcopy(live.state), SETTINGS)
    one_by_one(live, rest[:cut])
    now = rest[cut - 1][0] if cut else commits[lead - 1][0]
    assert run.still(before, int(course.first[cut]), now) == live.still()


@given(
    st.lists(st.integers(-(10**18), 10**18), min_size=1, max_size=20),
    st.tuples(st.integers(-9000, 9000), st.integers(-(10**9), 10**9), st.integers(1, 10**6)),
)
def test_arrays_are_calibrated_as_single_values_are(micros, line):
    line = Line(*line)
    try:
        got = calibrated(line, np.array(micros, np.int64)).tolist()
    except OverflowError:
        assert max(abs(line.milli(m)) for m in micros) > 2**62
        return
    assert got == [line.milli(m) for m in micros]
