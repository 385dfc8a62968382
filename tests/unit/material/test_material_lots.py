"""The words that a lot's record allows on its label."""

import pytest

from monitor.material import HeatStatus, MaterialRecord, NodeKind, Treated, held_back, trace_lot, treated
from monitor.model.times import DAY_MS
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
