"""Records held as arrays are judged as those held as tuples, whatever the walk from day to day passes over."""

import random

import numpy as np
import pytest

from monitor.proof import (
    Alternative,
    Days,
    HoldBasis,
    HoldSet,
    Limits,
    Outcome,
    Rule,
    Status,
    Turnings,
    evaluate,
    failing_days,
    interval_arrays,
)
from monitor.proof.intervals import next_start
from monitor.proof.spans import Spans

LIMITS = Limits(low_milli_c=55_000)


def spans(pairs):
    columns = np.array(list(pairs), dtype=np.int64).reshape(-1, 2)
    return Spans(columns[:, 0], columns[:, 1])


def rule_of(part):
    return Rule(
        id="test",
        title="",
        jurisdiction="",
        section="",
        methods=(),
        feedstock="",
        wording="",
        source="",
        status=Status.SEEN,
        alternatives=(Alternative(limits=LIMITS, parts=(part,)),),
    )


def random_sets(rng, end, steady):
    """Mostly proven; holds of any length, single instants of both kinds now and then."""
    proven, hold, at = [], [], rng.choice([0, 3])
    while at < end:
        stop = min(end, at + rng.choice([0, 2, 30, 90, 200] if not steady else [200, 400]))
        proven.append((at, stop))
        own = at + rng.choice([0, 0, 1])
        while own <= stop:
            finish = min(stop, own + rng.choice([0, 1, 2, 4, 30, 60]))
            hold.append((own, finish))
            own = finish + rng.choice([1, 1, 2, 3])
        at = stop + rng.choice([1, 2, 9, 30])
    return tuple(proven), tuple(hold)


def watching(first_worth_trying, steps):
    """The same, noting down from where to where it leads."""

    def watched(*given):
        skip = first_worth_trying(*given)

        def noting(at):
            steps.append((at, skip(at)))
            return steps[-1][1]

        return noting

    return watched


@pytest.mark.parametrize("seed", range(5))
def test_arrays_and_tuples_come_to_the_same_finding(seed, monkeypatch):
    rng = random.Random(seed)
    seen, passed_over = set(), 0
    for _ in range(120):
        end = rng.choice([100, 300, 500])
        day = rng.choice([6, 12, 40])
        part = Days(
            count=rng.randint(1, 4),
            consecutive=rng.random() < 0.4,
            turnings=rng.choice([None, Turnings(count=2, apart_ms=5)]),
            day_ms=day,
            least_ms=day // 2,
            recovery_ms=rng.choice([3, day]),
        )
        proven, hold = random_sets(rng, end, steady=rng.random() < 0.5)
        asked = {"start": 0, "end": end, "turnings": sorted(rng.randint(0, end) for _ in range(rng.choice([0, 2, 4])))}
        plain = HoldSet(basis=HoldBasis.COLDEST, proven=proven, hold=hold, probes=())
        expected = evaluate(rule_of(part), [plain], **asked)
        steps = []
        with monkeypatch.context() as patch:
            patch.setattr(interval_arrays, "LONG", -1)

            patch.setattr(failing_days, "first_worth_trying", watching(failing_days.first_worth_trying, steps))
            long = HoldSet(basis=HoldBasis.COLDEST, proven=spans(proven), hold=spans(hold), probes=())
            found = evaluate(rule_of(part), [long], **asked)
        assert found == expected
        seen.add(found.outcome)
        passed_over += sum(1 for at, to in steps if at != to)
    assert {Outcome.MET, Outcome.NOT_MET} <= seen
    assert passed_over > 50


def test_where_a_walk_would_stop():
    # From 0: bad from 10 on. Days of 20 that need 5: from 12 bad from 14 on; from 30 nothing bad.
    hold, bad = spans([(0, 10), (12, 14), (16, 18), (30, 60)]), spans([(10, 12), (14, 16), (18, 30)])
    part = Days(count=1, day_ms=20, least_ms=5)
    known = spans([(0, 60)])
    skip = failing_days.first_worth_trying(part, hold, bad, known, 60)
    assert skip(next_start(hold, 11)) == 30
    assert skip(16) == 30
    assert skip(None) is None
    # A day that is hardly known neither counts nor fails, so it must be tried.
    sparse, twice = spans([(0, 10), (12, 14), (30, 60)]), spans([(10, 11), (14, 15)])
    assert failing_days.first_worth_trying(part, hold, twice, known, 60)(12) == 16
    hardly = Days(count=1, day_ms=6, least_ms=5)
    assert failing_days.first_worth_trying(hardly, hold, twice, sparse, 60)(12) == 12
    assert failing_days.first_worth_trying(part, hold, (), known, 60)(12) == 12
