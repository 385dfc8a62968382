"""The words that a lot's record allows on its label."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.material import (
    HeatStatus,
    MaterialRecord,
    NodeKind,
    Treated,
    held_back,
    inputs_of,
    trace_lot,
    treated,
)
from monitor.model.times import DAY_MS
from monitor.model.work import Work
from monitor.model.work_kinds import declared
from tests.unit.material.material_yard import record_of
from tests.unit.material.test_material_graph import D, got, work

HEAP = f"p1-{DAY_MS}"


def said(record: MaterialRecord, met: tuple[str, ...]) -> tuple[Treated, list[str]]:
    inputs = trace_lot(
        record.graph, got(record, "lot"),
        lambda node, at: HeatStatus.MET if node.id in met and at >= 10 * DAY_MS else HeatStatus.RUNNING,
        lambda entry: declared(record.entries[entry].kind).feeds,
    )  # fmt: skip
    return treated(inputs)


def castings(*more, bedding="p1-86400000"):
    return record_of(
        work(0, D.DELIVERY, amount="90 kg", what="stable litter"),
        work(0, D.DELIVERY, amount="90 kg", what="coffee grounds"),
        work(0.5, D.DELIVERY, amount="90 kg", what="coffee grounds"),
        work(1, D.BUILT, "p1", what="stable litter", amount="80 kg"),
        work(20, D.BEDDED, "b1", what=bedding, amount="20 kg"),
        *more,
        work(40, D.HARVESTED, "b1", amount="8 kg"),
        work(41, D.LOT, what=f"h{6 + len(more)}", lot="lot"),
    )


FED = work(25, D.FED, "b1", what="coffee grounds", amount="4 kg")


@pytest.mark.parametrize(
    ("more", "bedding", "met", "words"),
    [
        ((), HEAP, (HEAP,), (Treated.ALL, [HEAP])),
        ((FED,), HEAP, (HEAP,), (Treated.BEDDING, [HEAP])),
        ((FED,), HEAP, (), (Treated.NOTHING, [])),
        ((work(26, D.BEDDED, "b1", what="stable litter", amount="4 kg"), FED), HEAP, (HEAP,), (Treated.PART, [HEAP])),
        ((work(26, D.BEDDED, "b1", what="coffee grounds", amount="4 kg"), FED), HEAP, (HEAP,), (Treated.PART, [HEAP])),
        ((), "stable litter", (HEAP,), (Treated.NOTHING, [])),
    ],
)
def test_the_label_follows_from_the_record(more, bedding, met, words):
    assert said(castings(*more, bedding=bedding), met) == words


def test_a_heap_that_met_its_rule_only_later_was_not_treated_when_it_went_on():
    record = record_of(
        work(1, D.BUILT, "p1", what="stable litter", amount="80 kg"),
        work(5, D.BEDDED, "b1", what=HEAP, amount="20 kg"),
        work(40, D.HARVESTED, "b1", amount="8 kg"),
        work(41, D.LOT, what="h3", lot="lot"),
    )
    assert said(record, (HEAP,)) == (Treated.NOTHING, [])


def test_a_lot_of_nothing_that_was_recorded_says_so():
    record = record_of(work(40, D.HARVESTED, "b1", amount="8 kg"), work(41, D.LOT, what="h1", lot="lot"))
    assert said(record, ()) == (Treated.UNKNOWN, [])


def test_food_of_thousands_of_open_deliveries_is_known_at_once():
    works = [work(day / 100, D.DELIVERY, amount="900 kg", what="coffee grounds") for day in range(3000)]
    works += [work(31 + day / 100, D.FED, "b1", what="coffee grounds", amount="1 kg") for day in range(300)]
    record = record_of(*works, work(40, D.HARVESTED, "b1", amount="8 kg"), work(41, D.LOT, what="h3301", lot="lot"))
    inputs = trace_lot(record.graph, got(record, "lot"), lambda *_: HeatStatus.RAW, lambda _: True)
    deliveries = [one for one in inputs if one.found.node.kind is NodeKind.DELIVERY]
    assert len(deliveries) == 3000
    assert all(one.food for one in deliveries)


@pytest.mark.parametrize(
    ("wanted", "results", "reasons"),
    [
        ((), {}, []),
        (("Bean test",), {}, ["Bean test is not in"]),
        (("Bean test",), {"bean test": True}, []),
        (("Bean test",), {"bean test": False}, ["Bean test was not passed"]),
        (("Bean test",), {"bean test": True, "salt": False}, ["salt was not passed"]),
    ],
)
def test_a_lot_is_held_back_until_its_tests_are_passed(wanted, results, reasons):
    assert held_back(wanted, results) == reasons


def test_a_bed_that_gives_more_than_ever_went_in_held_something_before() -> None:
    """A keeper begins to write things down with a bed that is full already, and beds a treated heap on top."""
    record = record_of(
        work(1, D.BUILT, "p1", what="stable litter", amount="80 kg"),
        work(20, D.BEDDED, "b1", what=HEAP, amount="4 kg"),
        work(40, D.HARVESTED, "b1", amount="30 kg", moisture="60"),
        work(41, D.LOT, what="h3", lot="lot"),
    )
    assert said(record, (HEAP,)) == (Treated.PART, [HEAP])


def test_a_bed_harvested_before_anything_was_laid_into_it_held_something() -> None:
    record = record_of(
        work(1, D.BUILT, "p1", what="stable litter", amount="80 kg"),
        work(10, D.HARVESTED, "b1", amount="1 kg"),
        work(20, D.BEDDED, "b1", what=HEAP, amount="20 kg"),
        work(40, D.HARVESTED, "b1", amount="1 kg"),
        work(41, D.LOT, what="h4", lot="lot"),
    )
    assert said(record, (HEAP,)) == (Treated.PART, [HEAP])


def bedded_with_treated(*more: Work, begun: dict[str, str], first: int = 20) -> MaterialRecord:
    return record_of(
        work(1, D.BUILT, "p1", what="stable litter", amount="80 kg"),
        work(first, D.BEDDED, "b1", what=HEAP, amount="20 kg"),
        *more,
        work(40, D.HARVESTED, "b1", amount="1 kg"),
        work(41, D.LOT, what=f"h{3 + len(more)}", lot="lot"),
        begun=begun,
    )


@pytest.mark.parametrize(
    ("begun", "more", "words"),
    [
        ({}, (), Treated.SINCE),
        ({"b1": "day19"}, (), Treated.SINCE),
        ({"b1": "day20"}, (), Treated.ALL),
        ({"b1": "day25"}, (), Treated.ALL),  # with its worms
        ({"b1": "day19"}, (work(22, D.FED, "b1", what="coffee grounds", amount="4 kg"),), Treated.PART),
    ],
)
def test_a_bed_that_may_have_been_full_when_the_log_began_is_not_all_heat_treated(begun, more, words) -> None:
    record = bedded_with_treated(*more, begun=begun)
    assert said(record, (HEAP,)) == (words, [HEAP])
    earlier = [one for one in inputs_of(record.graph, got(record, "lot")) if one.node.kind is NodeKind.EARLIER]
    assert [(one.node.id, one.certain) for one in earlier] == ([] if words is Treated.ALL else [("b1", False)])


def test_what_lay_in_a_bed_before_the_record_is_gone_once_it_was_emptied() -> None:
    emptied = work(15, D.EMPTIED, "b1")
    assert said(bedded_with_treated(emptied, begun={}), (HEAP,)) == (Treated.ALL, [HEAP])
    before = work(14, D.BEDDED, "b1", what=HEAP, amount="2 kg")
    assert said(bedded_with_treated(before, emptied, begun={}), (HEAP,)) == (Treated.ALL, [HEAP])


def test_the_day_on_which_a_later_bed_was_begun_says_nothing_of_the_first() -> None:
    record = record_of(
        work(1, D.BUILT, "p1", what="stable litter", amount="80 kg"),
        work(12, D.BEDDED, "b1", what=HEAP, amount="2 kg"),
        work(13, D.HARVESTED, "b1", amount="1 kg"),
        work(14, D.LOT, what="h3", lot="lot"),
        work(25, D.EMPTIED, "b1"),
        work(26, D.BEDDED, "b1", what=HEAP, amount="2 kg"),
        begun={"b1": "day26"},
    )
    assert said(record, (HEAP,)) == (Treated.SINCE, [HEAP])


def test_how_much_came_from_each_is_not_told_where_nobody_knows_what_lay_there_before() -> None:
    for begun, told in (({"b1": "day20"}, 500), ({}, None)):
        record = bedded_with_treated(begun=begun)
        found = {one.node.id: one.dry_g for one in inputs_of(record.graph, got(record, "lot"), with_shares=True)}
        assert found[HEAP] == told


@given(st.permutations(range(5)), st.booleans())
def test_no_order_of_entries_makes_a_label_say_all_of_a_bed_that_was_there_before(order, whole) -> None:
    """Whatever is done to a bed of which nobody said when it was begun, no lot of it is *all heat treated*."""
    deeds = [
        work(0, D.BEDDED, "b1", what=HEAP, amount="9 kg"),
        work(0, D.BEDDED, "b1", what=HEAP),
        work(0, D.FED, "b1", what=HEAP, amount="2 kg"),
        work(0, D.HARVESTED, "b1", amount="1 kg"),
        work(0, D.HARVESTED, "b1"),
    ]
    log = [work(1, D.BUILT, "p1", what="stable litter", amount="80 kg")]
    log += [replace(deeds[one], time=(20 + at) * DAY_MS) for at, one in enumerate(order)]
    log += [work(30, D.HARVESTED, "b1", amount="1 kg")]
    log += [work(30.1, D.EMPTIED, "b1")] if whole else []
    log += [work(31, D.LOT, what="h7", lot="lot")]
    assert said(record_of(*log, begun={}), (HEAP,))[0] is Treated.SINCE
    assert said(record_of(*log), (HEAP,))[0] is (Treated.ALL if order[0] < 3 else Treated.PART)
