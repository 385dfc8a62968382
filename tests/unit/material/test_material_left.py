"""Laws of what is left of a harvest: dry matter is counted and water is not, and nobody can be given more than there was."""

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from monitor.material import Left, MaterialRecord, Node, NodeKind, Weighed, inputs_of
from monitor.model.times import HOUR_MS
from monitor.model.work import Work, WorkKind
from tests.unit.material.material_yard import record_of

D = WorkKind
KG, PERCENT = st.integers(1, 60), st.integers(0, 95)
WEIGHING = Fraction(105, 100)


def _work(step: int, kind: WorkKind, kg: int | None = None, **fields: str) -> Work:
    amount = {} if kg is None else {"amount": str(kg), "measure": "kg", "unit": "kg"}
    return Work(time=step * 7 * HOUR_MS, place=fields.pop("place", "yard"), kind=kind, **amount, **fields)


@st.composite
def harvests(draw: st.DrawFn) -> list[Work]:
    """Make up a harvest that is screened, perhaps twice, and made into lots; every moisture was measured."""
    works = [
        _work(0, D.BEDDED, 90, place="b1", what="leaves"),
        _work(1, D.HARVESTED, draw(KG), place="b1", moisture=str(draw(PERCENT))),
    ]
    for step in range(2, draw(st.integers(2, 9))):
        if draw(st.booleans()):
            fractions = {name: f"{draw(st.integers(0, 20))} kg" for name in ("fines", "middle", "overs")}
            works.append(_work(step, D.SCREENED, place="b1", what="h2", moisture=str(draw(PERCENT)), **fractions))
            continue
        what = draw(st.sampled_from(["h2", "h2/fines", "h2/middle", "h2/overs"]))
        moisture = draw(st.sampled_from(["", str(draw(PERCENT))]))
        works.append(_work(step, D.LOT, draw(st.none() | KG), what=what, lot=f"lot-{step}", moisture=moisture))
    return works


def _of_harvest(record: MaterialRecord, kind: NodeKind) -> int:
    """Return the dry matter (g) that came from the harvest into all nodes of a kind, by the shares that a trace tells."""
    found = (inputs_of(record.graph, node, with_shares=True) for node in record.graph.nodes(kind))
    return sum(one.dry_g or 0 for some in found for one in some if one.node.id == "h2")


@given(harvests())
def test_lots_and_losses_have_no_more_dry_matter_than_was_harvested(works: list[Work]) -> None:
    record = record_of(*works)
    (harvest,) = record.graph.nodes(NodeKind.HARVEST)
    harvested = record.graph.into[harvest][0].dry_g or 0
    gone = sum(one.dry_g or 0 for node in record.graph.nodes(NodeKind.GONE) for one in record.graph.into[node])
    assert _of_harvest(record, NodeKind.LOT) + gone <= harvested + len(works)  # each share is rounded to a gram


@given(harvests())
def test_no_share_and_no_rest_is_below_nothing(works: list[Work]) -> None:
    record = record_of(*works)
    for node in record.graph.nodes(NodeKind.HARVEST, NodeKind.FRACTION):
        left = record.graph.left(node)
        assert record.graph.dry_left(node) >= 0 or left.boundless
        assert left.wet_g >= 0
    for lot in record.graph.nodes(NodeKind.LOT):
        assert all((one.wet_g or 0) >= 0 and (one.dry_g or 0) >= 0 for one in record.graph.into[lot])
        assert all((one.dry_g or 0) >= 0 for one in inputs_of(record.graph, lot, with_shares=True))


@given(KG, PERCENT, KG, PERCENT, KG, PERCENT)
def test_it_is_asked_exactly_where_more_dry_matter_is_wanted_than_is_left(
    kg: int, pct: int, first: int, first_pct: int, more: int, more_pct: int
) -> None:
    record = record_of(
        _work(0, D.BEDDED, 90, place="b1", what="leaves"),
        _work(1, D.HARVESTED, kg, place="b1", moisture=str(pct)),
        _work(2, D.LOT, first, what="h2", lot="lot-1", moisture=str(first_pct)),
    )
    left = record.graph.left(Node(NodeKind.HARVEST, "h2"))
    dry = Fraction(kg * (100 - pct) - first * (100 - first_pct)) * 10
    wanted = more * (100 - more_pct) * 10
    assert left.is_exceeded_by(Weighed(more * 1000, wanted)) is (wanted > max(Fraction(0), dry) * WEIGHING)


def test_the_rest_of_a_screened_harvest_weighs_what_its_dry_matter_weighs_at_the_moisture_of_the_screening() -> None:
    # yard-work §9: 100 kg at 74 % are 47.27 kg at 45 %; of these 37 kg went through the screen.
    record = record_of(
        _work(0, D.BEDDED, 90, place="b1", what="leaves"),
        _work(1, D.HARVESTED, 100, place="b1", moisture="74"),
        _work(2, D.SCREENED, place="b1", moisture="45", fines="30 kg", middle="7 kg"),
    )
    left = record.graph.left(Node(NodeKind.HARVEST, "h2"))
    assert (left.dry_g, left.wet_g) == (26_000 - 20_350, 10_273)


def test_a_lot_of_all_that_is_left_has_the_mass_of_the_moisture_that_was_measured_for_it() -> None:
    record = record_of(
        _work(0, D.BEDDED, 90, place="b1", what="leaves"),
        _work(1, D.HARVESTED, 100, place="b1", moisture="74"),
        _work(2, D.LOT, what="h2", lot="lot-1", moisture="35"),
    )
    (made,) = record.graph.into[Node(NodeKind.LOT, "lot-1")]
    assert (made.wet_g, made.dry_g) == (40_000, 26_000)


def test_where_nobody_measured_moisture_masses_are_compared_as_they_lie() -> None:
    left = Left(wet_g=10_000, undried=True, boundless=True)
    assert [left.is_exceeded_by(Weighed(grams)) for grams in (10_000, 10_500, 10_501)] == [False, False, True]
    assert not Left(wet_g=0, unclear=True).is_exceeded_by(Weighed(10_000))
    some_left_unweighed = Left(wet_g=9_000, dry_g=3_000, unclear=True, undried=True)
    assert [some_left_unweighed.is_exceeded_by(Weighed(9_000, grams)) for grams in (3_150, 3_151)] == [False, True]


def test_a_lot_of_a_part_that_no_screening_weighed_has_an_unknown_mass_and_not_all_of_the_harvest() -> None:
    record = record_of(
        _work(0, D.BEDDED, 90, place="b1", what="leaves"),
        _work(1, D.HARVESTED, 20, place="b1", moisture="75"),
        _work(2, D.LOT, what="h2/fines", lot="lot-1"),
    )
    (made,) = record.graph.into[Node(NodeKind.LOT, "lot-1")]
    assert (made.source, made.wet_g, made.dry_g) == (Node(NodeKind.HARVEST, "h2"), None, None)
