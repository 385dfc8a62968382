"""The table of heat status: what coming in does, row by row."""

from itertools import product

import pytest

from monitor.material import Change, HeatStatus, after_coming_in, change_by, status_of_record

RAW, RUNNING, MET, VOID = HeatStatus.RAW, HeatStatus.RUNNING, HeatStatus.MET, HeatStatus.VOID


@pytest.mark.parametrize(
    ("before", "brought", "small", "after"),
    [
        # anything into raw: raw
        *((RAW, brought, small, RAW) for brought, small in product(HeatStatus, (True, False))),
        # raw or running (and what is void) into anything else: void, however little
        *((b, w, s, VOID) for b, w, s in product((RUNNING, MET, VOID), (RAW, RUNNING, VOID), (True, False))),
        (MET, MET, False, MET),
        (MET, MET, True, MET),
        (RUNNING, MET, True, RUNNING),
        (RUNNING, MET, False, VOID),
        (VOID, MET, True, VOID),
        (VOID, MET, False, VOID),
    ],
)
def test_what_comes_in_leaves_the_status_of_the_table(before, brought, small, after):
    assert after_coming_in(before, brought, small=small) is after


@pytest.mark.parametrize("small", [True, False])
def test_only_met_material_leaves_the_count_as_it_was(small):
    assert {change_by(one, small=small) for one in (RAW, RUNNING, VOID)} == {Change.ANEW}
    assert change_by(MET, small=small) is (Change.NONE if small else Change.UNLESS_MET)


@pytest.mark.parametrize(
    ("met", "holding", "held_before", "status"),
    [(True, True, False, MET), (False, True, True, RUNNING), (False, False, True, VOID), (False, False, False, RAW)],
)
def test_a_record_has_one_status(met, holding, held_before, status):
    assert status_of_record(met=met, holding=holding, held_before=held_before) is status
