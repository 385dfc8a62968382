"""When rounds by hand prove: whenever no probe serves the heap; held against a plain walk through what happened."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from monitor.engine.batches.hand_rounds import proving_spans
from monitor.engine.context.batch_deeds import Deed
from monitor.engine.context.places import FOREVER

BUILT, END = 5, 30
COMES, GOES = (Deed.ENTER, Deed.CAME_IN), (Deed.LEAVE, Deed.WENT_OUT)

deeds = st.lists(
    st.tuples(
        st.integers(0, 20), st.integers(0, 3), st.sampled_from([*COMES, *GOES, Deed.TURNED]), st.sampled_from("ab")
    ),
    max_size=8,
).map(sorted)


def alone_at(actions, instant):
    inside = set()
    for at, _, what, probe in actions:
        if max(at, BUILT) <= instant:
            inside = inside | {probe} if what in COMES else inside - {probe} if what in GOES else inside
    return not inside


@given(deeds)
def test_rounds_prove_from_the_building_on_wherever_no_probe_is_in_the_heap(actions):
    spans = proving_spans(actions, BUILT)
    told = [any(start <= at < end for start, end in spans) for at in range(BUILT, END)]
    assert told == [alone_at(actions, at) for at in range(BUILT, END)]
    assert all(BUILT <= start < end for start, end in spans)
    assert all(one[1] < other[0] for one, other in pairwise(spans)), "apart, so one span is one"
    assert all(end == FOREVER or end < END for _, end in spans)
