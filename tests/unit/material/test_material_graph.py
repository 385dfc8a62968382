"""The graph of material: what went from where to where, told by small stories of a yard."""

import pytest

from monitor.material import MaterialRecord, Node, NodeKind, inputs_of, lots_with, outcomes_of, risks_of
from monitor.model.times import DAY_MS
from monitor.model.work import Work, WorkKind
from tests.unit.material.material_yard import record_of

D = WorkKind


def work(day: float, kind: WorkKind, place: str = "yard", amount: str = "", **fields: str) -> Work:
    number, _, unit = amount.partition(" ")
    return Work(time=int(day * DAY_MS), place=place, kind=kind, amount=number, measure=unit, unit=unit, **fields)


def got(record: MaterialRecord, id_: str) -> Node:
    node = record.graph.named(id_)
    assert node is not None, f"{id_} is not in {[one.id for one in record.graph.nodes()]}"
    return node


def inputs(record: MaterialRecord, id_: str) -> dict[str, bool]:
    return {one.node.id: one.certain for one in inputs_of(record.graph, got(record, id_))}


def test_one_delivery_that_can_have_served_surely_did() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="100 kg", what="leaves"),
        work(1, D.BUILT, "p1", what="leaves", amount="40 kg"),
    )
    assert inputs(record, f"p1-{DAY_MS}") == {"d1": True}
    (left,) = record.shelves["leaves"].open
    assert (left.wet_g, left.dry_g) == (60_000, 30_000)


def test_of_two_deliveries_the_oldest_is_taken_and_either_may_have_been() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="30 kg", what="Leaves"),
        work(1, D.DELIVERY, amount="50 kg", what="leaves"),
        work(2, D.BUILT, "p1", what="leaves", amount="40 kg"),
    )
    assert inputs(record, f"p1-{2 * DAY_MS}") == {"d1": False, "d2": False}
    assert [(one.node.id, one.wet_g) for one in record.shelves["leaves"].open] == [("d2", 40_000)]


def test_a_newer_delivery_that_was_not_needed_may_have_been_used_all_the_same() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="30 kg", what="leaves"),
        work(1, D.DELIVERY, amount="50 kg", what="leaves", risk="herbicide"),
        work(2, D.BUILT, "p1", what="leaves", amount="10 kg"),
    )
    heap = got(record, f"p1-{2 * DAY_MS}")
    assert inputs(record, heap.id) == {"d1": False, "d2": False}
    assert {risk: [one.id for one in nodes] for risk, nodes in risks_of(record.graph, heap).items()} == {
        "herbicide": ["d2"]
    }


def test_a_delivery_that_was_used_up_before_cannot_be_in_it() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="30 kg", what="leaves"),
        work(1, D.BUILT, "p1", what="leaves", amount="30 kg"),
        work(2, D.DELIVERY, amount="50 kg", what="leaves"),
        work(3, D.BUILT, "p2", what="leaves", amount="10 kg"),
    )
    assert inputs(record, f"p2-{3 * DAY_MS}") == {"d3": True}


def test_what_was_used_beyond_what_came_in_is_unrecorded_and_missing() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="30 kg", what="leaves"),
        work(1, D.BUILT, "p1", what="leaves", amount="50 kg"),
    )
    assert inputs(record, f"p1-{DAY_MS}") == {"d1": False, "leaves": False}
    assert record.shelves["leaves"].short_g == 20_000


def test_a_named_delivery_is_taken_whatever_else_is_there() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="30 kg", what="leaves"),
        work(1, D.DELIVERY, amount="50 kg", what="leaves"),
        work(2, D.BUILT, "p1", what="d2", amount="10 kg"),
    )
    assert inputs(record, f"p1-{2 * DAY_MS}") == {"d2": True}
    assert [(one.node.id, one.wet_g) for one in record.shelves["leaves"].open] == [("d1", 30_000), ("d2", 40_000)]


def test_a_refused_delivery_is_not_in_the_yard() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="30 kg", what="leaves", refused="plastic in it"),
        work(1, D.BUILT, "p1", what="leaves", amount="10 kg"),
    )
    assert inputs(record, f"p1-{DAY_MS}") == {"leaves": True}
    assert record.graph.named("d1") is None


def test_a_use_without_an_amount_leaves_the_stock_in_doubt_until_it_is_counted() -> None:
    used = (work(0, D.DELIVERY, amount="30 kg", what="leaves"), work(1, D.BUILT, "p1", what="leaves"))
    shelf = record_of(*used).shelves["leaves"]
    assert (shelf.unmeasured, shelf.open[0].wet_g) == (1, 30_000)
    counted = record_of(*used, work(2, D.COUNTED, amount="12 kg", what="leaves"))
    shelf = counted.shelves["leaves"]
    assert (shelf.unmeasured, shelf.open[0].wet_g) == (0, 12_000)


def test_a_count_that_finds_more_puts_it_into_stock_as_unrecorded() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="30 kg", what="leaves"),
        work(1, D.COUNTED, amount="45 kg", what="leaves"),
        work(2, D.BUILT, "p1", what="leaves", amount="40 kg"),
    )
    assert [one.wet_g for one in record.shelves["leaves"].open] == [5_000]
    assert inputs(record, f"p1-{2 * DAY_MS}") == {"d1": False, "leaves": False}


def test_parts_of_a_mix_come_from_their_own_stocks_and_water_from_the_tap() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="30 kg", what="leaves"),
        work(0, D.DELIVERY, amount="80 kg", what="stable litter"),
        work(1, D.BUILT, "p1", parts="leaves=10 kg; stable litter=60 kg; water=40 L"),
    )
    heap = got(record, f"p1-{DAY_MS}")
    assert inputs(record, heap.id) == {"d1": True, "d2": True}
    assert record.graph.dry_left(heap) == 35_000


def test_a_heap_takes_its_past_along_and_what_came_later_is_not_in_what_left_before() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="90 kg", what="leaves"),
        work(1, D.BUILT, "p1", what="leaves", amount="80 kg"),
        work(2, D.SPLIT, "p1", amount="20 kg", to="p2"),
        work(3, D.DELIVERY, amount="10 kg", what="dung"),
        work(4, D.ADDED, "p1", what="dung", amount="10 kg"),
        work(5, D.MOVED, "p1", to="p3"),
        work(6, D.MERGED, "p2", to="p3"),
    )
    whole = f"p1-{DAY_MS}"
    assert inputs(record, f"p2-{2 * DAY_MS}") == {whole: True, "d1": True}
    assert inputs(record, whole) == {"d1": True, "d4": True, f"p2-{2 * DAY_MS}": True}
    assert record.graph.dry_left(got(record, whole)) == 45_000
    assert [one.node.id for one in outcomes_of(record.graph, got(record, "d4"))] == [whole]


def test_what_was_lost_between_two_weighings_is_gone() -> None:
    record = record_of(
        work(0, D.BUILT, "p1", what="leaves", amount="80 kg"),
        work(9, D.MOVED, "p1", amount="50 kg", to="b1"),
    )
    gone = Node(NodeKind.GONE, "2")
    assert sum(one.wet_g or 0 for one in record.graph.into[gone]) == 30_000
    assert record.graph.wet_left(got(record, "b1-day09")) == 50_000


def test_a_heap_weighed_when_it_was_moved_to_an_empty_place_has_lost_the_difference() -> None:
    record = record_of(
        work(0, D.BUILT, "p1", what="leaves", amount="80 kg"),
        work(9, D.MOVED, "p1", amount="50 kg", to="p2"),
    )
    assert record.graph.wet_left(got(record, "p1-0")) == 50_000
    assert record.graph.into[Node(NodeKind.GONE, "2")][0].wet_g == 30_000


def _bed(*more: Work) -> MaterialRecord:
    return record_of(
        work(0, D.DELIVERY, amount="90 kg", what="leaves"),
        work(1, D.BEDDED, "b1", what="leaves", amount="20 kg"),
        work(2, D.DELIVERY, amount="10 kg", what="coffee grounds", risk="plastic"),
        work(3, D.FED, "b1", what="coffee grounds", amount="4 kg"),
        *more,
    )


def test_a_harvest_may_contain_all_that_ever_went_into_its_bed_and_surely_is_of_the_bed() -> None:
    record = _bed(
        work(10, D.HARVESTED, "b1", amount="8 kg"),
        work(11, D.DELIVERY, amount="2 kg", what="dung"),
        work(12, D.FED, "b1", what="dung", amount="2 kg"),
    )
    assert inputs(record, "h5") == {"b1-day01": True, "d1": False, "d3": False}


def test_a_bed_that_is_emptied_after_the_harvest_is_all_in_it() -> None:
    record = _bed(
        work(10, D.HARVESTED, "b1", amount="8 kg"),
        work(10.2, D.EMPTIED, "b1"),
        work(11, D.BEDDED, "b1", what="leaves", amount="5 kg"),
        work(20, D.HARVESTED, "b1", amount="3 kg"),
    )
    assert inputs(record, "h5") == {"b1-day01": True, "d1": True, "d3": True}
    assert inputs(record, "h8") == {"b1-day11": True, "d1": False}


def test_a_bin_emptied_six_hours_after_is_and_later_is_not_harvested_whole() -> None:
    for hours, whole in ((6, True), (7, False)):
        record = _bed(work(10, D.HARVESTED, "b1", amount="8 kg"), work(10 + hours / 24, D.EMPTIED, "b1"))
        assert inputs(record, "h5")["d1"] is whole


def test_overs_that_go_back_onto_a_bed_are_an_input_there() -> None:
    record = _bed(
        work(10, D.HARVESTED, "b1", amount="8 kg", moisture="75"),
        work(11, D.SCREENED, "b1", fines="2 kg", middle="1 kg", overs="1 kg", moisture="50"),
        work(12, D.BEDDED, "b2", what="h5/overs"),
        work(13, D.FED, "b2", what="coffee grounds", amount="1 kg"),
        work(20, D.HARVESTED, "b2", amount="1 kg"),
    )
    assert [one.node.id for one in outcomes_of(record.graph, got(record, "h5/overs"))] == ["b2-day12", "h9"]
    assert {"h5/overs": False, "h5": False, "b1-day01": False}.items() <= inputs(record, "h9").items()
    harvest = got(record, "h5")
    assert record.graph.dry_left(harvest) == 0


def test_a_lot_is_traced_up_and_a_bad_delivery_down_to_the_people() -> None:
    record = _bed(
        work(10, D.HARVESTED, "b1", amount="8 kg"),
        work(11, D.LOT, what="h5", lot="lot-b1-day11"),
        work(12, D.GIVEN, lot="lot-b1-day11", amount="3 kg", receiver="a school"),
        work(13, D.GIVEN, lot="LOT-b1-day11", amount="1 kg", receiver="a neighbour"),
    )
    lot = got(record, "lot-b1-day11")
    assert inputs(record, lot.id) == {"h5": True, "b1-day01": True, "d1": False, "d3": False}
    ((outcome, moves),) = lots_with(record.graph, got(record, "d3"))
    assert (outcome.node, outcome.certain) == (lot, False)
    assert [record.entries[one.entry].receiver for one in moves] == ["a school", "a neighbour"]
    assert record.graph.wet_left(lot) == 4_000
    assert not list(lots_with(record.graph, got(record, "d3"), since=int(4 * DAY_MS)))


def test_dung_that_came_after_the_heap_became_a_lot_is_not_in_it() -> None:
    record = record_of(
        work(0, D.BUILT, "p1", what="leaves", amount="80 kg"),
        work(1, D.LOT, what="p1-0", amount="30 kg", lot="lot-p1-1"),
        work(2, D.DELIVERY, amount="5 kg", what="dung"),
        work(3, D.ADDED, "p1", what="dung", amount="5 kg"),
    )
    assert inputs(record, "lot-p1-1") == {"p1-0": True, "leaves": True}
    assert not list(lots_with(record.graph, got(record, "d3")))


def test_material_of_a_place_where_no_heap_lies_is_unrecorded() -> None:
    record = record_of(work(1, D.MOVED, "p1", to="b1", amount="3 kg"))
    assert [(one.source, one.wet_g) for one in record.graph.movements] == [(Node(NodeKind.UNRECORDED, ""), 3_000)]


def test_a_tarpaulin_over_a_heap_is_no_part_of_it_and_straw_from_stock_is() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="9 kg", what="straw"),
        work(1, D.BUILT, "p1", what="leaves", amount="80 kg"),
        work(2, D.COVERED, "p1", what="tarpaulin"),
        work(3, D.COVERED, "p1", what="Straw", amount="2 kg"),
    )
    assert set(inputs(record, f"p1-{DAY_MS}")) == {"leaves", "d1"}


@pytest.mark.parametrize("what", ["p1-0", "p1-0/overs", "P1-0 / Middle"])
def test_a_heaps_own_overs_put_back_are_no_movement(what: str) -> None:
    record = record_of(
        work(0, D.BUILT, "p1", what="leaves", amount="80 kg"),
        work(1, D.ADDED, "p1", what=what, amount="2 kg"),
    )
    assert inputs(record, "p1-0") == {"leaves": True}


def test_a_heaps_overs_on_another_are_of_that_heap() -> None:
    record = record_of(
        work(0, D.BUILT, "p1", what="leaves", amount="80 kg"),
        work(0, D.BUILT, "p2", what="straw", amount="80 kg"),
        work(1, D.ADDED, "p2", what="p1-0/overs", amount="2 kg"),
        work(2, D.ADDED, "p2", what="p1-0/scraps", amount="2 kg"),
    )
    assert {"p1-0", "leaves", "straw", "p1-0/scraps"} <= set(inputs(record, "p2-0"))


def test_a_gap_is_shown_above_15_percent_and_only_where_all_is_known() -> None:
    for fines, gap in (("3 kg", 25.0), ("3.6 kg", None)):
        record = _bed(
            work(10, D.HARVESTED, "b1", amount="8 kg", moisture="50"),
            work(11, D.SCREENED, "b1", fines=fines, moisture="0"),
        )
        assert record.graph.gap_percent(got(record, "h5")) == gap
    assert record.graph.gap_percent(got(_bed(work(10, D.HARVESTED, "b1")), "h5")) is None


def test_beds_begun_on_one_day_have_different_names() -> None:
    record = record_of(
        work(1, D.BEDDED, "b1", what="leaves", amount="1 kg"),
        work(1.1, D.EMPTIED, "b1"),
        work(1.2, D.BEDDED, "b1", what="leaves", amount="1 kg"),
    )
    assert [one.id for one in record.graph.nodes(NodeKind.BED)] == ["b1-day01", "b1-day01-2"]


@pytest.mark.parametrize("amount", ["", "3 bucket"])
def test_a_whole_heap_of_unknown_mass_goes_without_a_figure(amount: str) -> None:
    record = record_of(
        work(0, D.BUILT, "p1", what="leaves", amount=amount),
        work(1, D.MOVED, "p1", to="b1"),
    )
    bed = got(record, "b1-day01")
    assert [one.dry_g for one in record.graph.into[bed]] == [None]
    assert inputs(record, bed.id) == {"p1-0": True, "leaves": True}


def test_hours_are_in_order_whatever_the_order_of_entry() -> None:
    works = (
        work(2, D.BUILT, "p1", what="leaves", amount="10 kg"),
        work(1, D.DELIVERY, amount="30 kg", what="leaves"),
    )
    assert inputs(record_of(*works), f"p1-{2 * DAY_MS}") == {"d2": True}


def test_the_dry_matter_of_a_lot_is_shared_out_among_all_that_went_in() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="30 kg", what="leaves"),
        work(0, D.DELIVERY, amount="90 kg", what="stable litter"),
        work(1, D.BUILT, "p1", parts="leaves=20 kg; stable litter=60 kg"),
        work(20, D.SPLIT, "p1", amount="40 kg", to="b1"),
        work(21, D.FED, "b1", what="leaves", amount="10 kg"),
        work(30, D.HARVESTED, "b1", amount="10 kg", moisture="60"),
        work(31, D.LOT, what="h6", lot="lot"),
        work(32, D.FED, "b1", what="stable litter", amount="30 kg"),
    )
    found = {one.node.id: one.dry_g for one in inputs_of(record.graph, got(record, "lot"), with_shares=True)}
    # 4 kg dry: the bed got 20 kg dry of the heap (a quarter leaves) and 5 kg dry of leaves.
    heap = f"p1-{DAY_MS}"
    assert found == {"h6": 4_000, "b1-day20": 4_000, heap: 3_200, "d1": 800 + 800, "d2": 2_400}


def test_a_chain_of_a_thousand_harvests_is_traced() -> None:
    works = [work(0, D.BEDDED, "b1", what="leaves", amount="500 kg")]
    for day in range(1, 1501, 3):
        works += [
            work(day, D.HARVESTED, "b1", amount="2 kg", moisture="50"),
            work(day + 1, D.SCREENED, "b1", fines="1 kg", overs="1 kg", moisture="50"),
            work(day + 2, D.BEDDED, "b1", what=f"h{len(works) + 1}/overs"),
        ]
    record = record_of(*works)
    last = record.graph.nodes(NodeKind.HARVEST)[-1]
    found = inputs_of(record.graph, last, with_shares=True)
    assert len(found) == 2 + 2 * 499  # the bed, the leaves, and each earlier harvest with its overs
    assert {one.node.id: one.certain for one in found}["b1-day00"]


def test_a_delivery_in_which_no_risk_was_found_brings_none() -> None:
    record = record_of(
        work(1, D.DELIVERY, amount="50 kg", what="leaves", risk="none"),
        work(2, D.BUILT, place="p1", amount="50 kg", what="leaves"),
    )
    assert record.graph.risks == {}


def test_a_stock_of_nothing_can_be_counted() -> None:
    record = record_of(
        work(1, D.DELIVERY, amount="50 kg", what="leaves"), work(2, D.COUNTED, amount="0 kg", what="leaves")
    )
    assert [one.wet_g for one in record.shelves["leaves"].open] == []


def test_what_was_added_at_the_minute_at_which_its_heap_moved_is_in_it() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="9 kg", what="leaves"),
        work(1, D.BUILT, "p1", what="litter", amount="80 kg"),
        work(2, D.ADDED, "p1", what="leaves", amount="4 kg"),
        work(2, D.MOVED, "p1", to="p2"),
    )
    assert "d1" in inputs(record, f"p1-{DAY_MS}")


def test_material_named_by_a_heap_that_was_thrown_onto_another_is_of_that_other() -> None:
    record = record_of(
        work(0, D.DELIVERY, amount="9 kg", what="leaves"),
        work(1, D.BUILT, "p1", what="litter", amount="80 kg"),
        work(1, D.BUILT, "p2", what="leaves", amount="9 kg"),
        work(2, D.MERGED, "p1", to="p2"),
        work(3, D.BEDDED, "b1", what=f"P1-{DAY_MS}", amount="5 kg"),
    )
    assert inputs(record, "b1-day03")["d1"], "a recall finds the leaves"


def test_nothing_is_left_of_what_nobody_wrote_down() -> None:
    record = record_of(
        work(1, D.BUILT, "p2", amount="80 kg"),
        work(2, D.MERGED, "p1", to="p2"),
    )
    assert [move.wet_g for move in record.graph.into[got(record, f"p2-{DAY_MS}")]] == [80_000, None]
