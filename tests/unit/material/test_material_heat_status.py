"""The table of heat status: what coming in does, row by row."""

import pytest

from monitor.material import Change, HeatStatus, change_by, status_of_record

RAW, RUNNING, MET, VOID = HeatStatus.RAW, HeatStatus.RUNNING, HeatStatus.MET, HeatStatus.VOID


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
