"""Checks that take one value or a column of them: each of the column gets what it gets alone."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from monitor.conditioning import checks_for
from monitor.model.settings import Probe
from monitor.model.thresholds import ProbeThresholds
from monitor.model.words import Role

LIMITS = ProbeThresholds()
CHECKS = checks_for("p1-a", "Cel", Probe(place="p1", role=Role.CORE, address=""), LIMITS)
LOST = -127_000_000
EDGES = [CHECKS.low, CHECKS.high, CHECKS.step, -CHECKS.step, CHECKS.span, 0]
near = st.builds(lambda edge, off: edge + off, st.sampled_from(EDGES), st.integers(-2, 2))
pairs = st.lists(st.tuples(near, st.one_of(near, st.just(LOST))), min_size=1, max_size=20)


def alike(check, found):
    ones, others = (np.array(values, dtype=np.int64) for values in zip(*found, strict=True))
    each = [check(*pair) for pair in found]
    assert all(type(one) is bool for one in each)
    assert check(ones, others).tolist() == each
    return each


@given(pairs)
def test_a_value_fails_by_itself_alone_as_in_a_column(found):
    refused = alike(CHECKS.refuses, found)
    assert refused == [not CHECKS.low <= milli <= CHECKS.high or micro == LOST for milli, micro in found]
    without = alike(CHECKS._replace(disconnected=None).refuses, found)
    assert without == [not CHECKS.low <= milli <= CHECKS.high for milli, _ in found]


@given(pairs)
def test_a_step_must_be_confirmed_alone_as_in_a_column(found):
    jumps = alike(CHECKS.jumps, found)
    assert jumps == [
        abs(change) > LIMITS.spike_step_milli_k and after <= LIMITS.spike_span_ms for change, after in found
    ]
