"""Figures that are possible and hardly right are asked about, each by one declared comparison with what the yard knows."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.engine.asking.entered import Entered
from monitor.engine.asking.logged_past import LoggedPast, past_of
from monitor.engine.asking.plausible import COMPARISONS, implausible, is_compared
from monitor.engine.asking.stock_tally import GRAMS, StockTally
from monitor.engine.asking.yard_sizes import BedSpace, YardSizes
from monitor.material import Weighed
from monitor.model.amounts import Amount, Dimension
from monitor.model.settings import YARD, Bin, Pile, Settings, Site
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.work import Work, WorkKind
from tests.unit.material.material_yard import record_of

T0 = 1_790_000_000_000
SETTINGS = Settings(
    site=Site(name="Yard", temperature_unit="degF"), piles={"p1": Pile(name="Bay 1")}, bins={"b1": Bin(name="Wall bin")}
)
FT2, IN = 92903, 25.4
SIZES = YardSizes({"b1": BedSpace(surface_mm2=32 * FT2, rim_mm=round(16 * IN))})
D = WorkKind


def work(kind, amount="", place="b1", at=0, **more):
    number, _, unit = amount.partition(" ")
    known = {"bags": "bag", "barrows": "barrow"}.get(unit, unit)
    return Work(time=T0 + at * HOUR_MS, place=place, kind=kind, amount=number, measure=unit, unit=known, **more)


def asked(entry, *before, sizes=SIZES):
    past = past_of(enumerate(before, 1), sizes, entry)
    return " ".join(implausible(Entered(work=entry, settings=SETTINGS, sizes=sizes, past=past)))


DELIVERED = work(D.DELIVERY, "20 bags", YARD, what="leaves")
USED = work(D.BUILT, "18 bags", "p1", at=1, what="leaves")
HARVEST = work(D.HARVESTED, "80 lb", at=1, moisture="74")
SCREENED = work(D.SCREENED, "35 lb", at=2, moisture="40", fines="22 lb", middle="8 lb", overs="5 lb")
LOOK = work(D.INSPECTED, at=1, depth="14 in")
FED = [work(D.FED, f"{lb} lb", at=day, what="scraps") for day, lb in enumerate((3, 4, 3))]


@pytest.mark.parametrize(
    ("entry", "before", "question"),
    [
        (
            work(D.HARVESTED, "8000 lb"), (),
            "Wall bin holds 2661 lb at most, by its surface and its rim at 16 in; this is 8000 lb.",
        ),
        (work(D.HARVESTED, "800 lb"), (), None),
        (work(D.WATERED, "9000 gal"), (), "Wall bin holds 638 gal at most"),
        (
            work(D.FED, "30 lb", at=9, what="scraps"), FED,
            "That is 8 times as much as the most of before (4 lb, of the last 3 times). Was 3 lb meant?",
        ),
        (work(D.FED, "30 lb", at=9, what="scraps"), FED[:1], None),
        (work(D.FED, "20 lb", at=9, what="scraps"), FED, None),
        (
            work(D.FED, "3 kg", at=9, what="scraps"), FED,
            "It was always told in lb before, from 3 to 4; this is 3 kg. Is the unit right?",
        ),
        (work(D.FED, "5 kg", at=9, what="scraps"), FED, None),
        (
            work(D.ADDED, "5 bags", "p1", at=2, what="leaves"), (DELIVERED, USED),
            "By the record 2 bags of leaves are left; this takes 5 bags.",
        ),
        (work(D.ADDED, "2 bags", "p1", at=2, what="leaves"), (DELIVERED, USED), None),
        (
            work(D.ADDED, "2 bags", "p1", at=3, what="Leaves"),
            (DELIVERED, USED, work(D.ADDED, "2 bags", "p1", at=2, what="leaves")),
            "By the record no leaves is left",
        ),
        (work(D.BUILT, at=2, place="p1", parts="leaves=5 bag; straw=9 kg"), (DELIVERED, USED), "this takes 5 bag"),
        (
            work(D.ADDED, "5 bags", "p1", at=2, what="d1"), (DELIVERED, USED),
            "By the record 2 bags of leaves are left",
        ),
        (work(D.FED, "50 lb", at=2, what="scraps"), (work(D.FED, "3 lb", what="scraps"),), None),
        (
            work(D.ADDED, "5 bags", "p1", at=2, what="leaves"), (DELIVERED, work(D.BUILT, place="p1", at=1, what="leaves")),
            None,
        ),
        (
            work(D.COUNTED, "900 bags", YARD, at=2, what="leaves"), (DELIVERED, USED),
            "came in, was counted, or can be left; this is 900 bags. Was 9 bags meant?",
        ),
        (work(D.COUNTED, "25 bags", YARD, at=2, what="leaves"), (DELIVERED, USED), None),
        (work(D.COUNTED, "900 bags", YARD, at=2, what="straw"), (DELIVERED, USED), None),
        (
            work(D.SCREENED, "350 lb", at=2), (HARVEST,),
            "h1 weighed 80 lb, and nothing gets heavier before the screen; this is 350 lb.",
        ),
        (work(D.SCREENED, "35 lb", at=2, moisture="40", fines="22 lb", middle="8 lb", overs="5 lb"), (HARVEST,), None),
        (
            work(D.SCREENED, at=2, moisture="40", fines="52 lb"), (HARVEST,),
            "By dry matter 31 lb came off the screen, and h1 had 21 lb.",
        ),
        (
            work(D.SCREENED, at=2, moisture="80"), (HARVEST,),
            "80 % of its wet mass would be water; what goes onto a screen has 35 to 45 %.",
        ),
        (work(D.HARVESTED, "80 lb", moisture="7"), (), "Was 70 % meant?"),
        (
            work(D.HARVESTED, "80 lb", moisture="0.7"), (),
            "0.7 % of its wet mass would be water; castings fresh from a bed have 60 to 85 %. Was 70 % meant?",
        ),
        (work(D.HARVESTED, "80 lb", moisture="96"), (), "Is the moisture right?"),
        (work(D.HARVESTED, "80 lb", moisture="74"), (), None),
        (
            work(D.SCREENED, at=2, moisture="62"), (work(D.HARVESTED, "80 lb", at=1, moisture="50"),),
            "h1 had 50 % when it was harvested, and what lies there dries; this is 62 %.",
        ),
        (
            work(D.INSPECTED, depth="140 in"), (),
            "140 in is more than Wall bin can be deep: its rim is at 16 in. Was 14 in meant?",
        ),
        (
            work(D.INSPECTED, at=2, depth="1.4 in"), (LOOK,),
            "The bed of Wall bin was 14 in deep at the last look; now 1.4 in. Was 14 in meant?",
        ),
        (work(D.INSPECTED, at=2, depth="12 in"), (LOOK,), None),
        (work(D.INSPECTED, at=3, depth="1.4 in"), (LOOK, work(D.INSPECTED, at=2, smell="earthy")), "Was 14 in meant?"),
        (work(D.INSPECTED, at=2, depth="14 ft"), (LOOK,), "was 14 in deep at the last look; now 14 ft. Is the unit right?"),
        (
            work(D.INSPECTED, at=2, depth="14 cm"),
            (LOOK,),
            "was 14 in deep at the last look; now 14 cm. Is the unit right?",
        ),
        (work(D.SAMPLED, "15 lb", what="worms"), (), "1 ft² carries 3 lb of worms at most; this is 15 lb."),
        (work(D.SAMPLED, "15 oz", what="worms"), (), None),
        (work(D.BEDDED, "200 lb", what="worms"), (), "Wall bin carries 96 lb of worms at most; this is 200 lb."),
        (work(D.BEDDED, "20 lb", what="worms"), (), None),
        (
            work(D.BEDDED, "10 lb", at=3, what="h1/overs"),
            (HARVEST, SCREENED),
            "By the record 5 lb of h1/overs are left; this takes 10 lb.",
        ),
        (work(D.BEDDED, "5 lb", at=3, what="h1/overs"), (HARVEST, SCREENED), None),
        (
            work(D.BEDDED, "5 lb", at=9, what="h1/overs"),
            (HARVEST, SCREENED, work(D.BEDDED, "5 lb", at=3, what="h1/overs")),
            "no h1/overs is left",
        ),
        (
            work(D.BEDDED, "1 lb", at=9, what="h1/fines"),
            (HARVEST, SCREENED, Work(time=T0 + 3 * HOUR_MS, place=YARD, kind=D.LOT, what="h1/fines", lot="lot-1")),
            "no h1/fines is left",
        ),
        (work(D.FED, "30 lb", at=9, what="melon"), FED, "Was 3 lb meant?"),
        (
            work(D.HARVESTED, "9 lb", at=2, depth="15 in"), (LOOK,),
            "The bed of Wall bin is 14 in deep; this layer is 15 in. Is the depth right?",
        ),
        (work(D.HARVESTED, "9 lb", at=2, depth="2 in"), (LOOK,), None),
        (work(D.BEDDED, "60 in"), (), "60 in is more than Wall bin can be deep: its rim is at 16 in. Was 6 in meant?"),
        (
            work(D.BUILT, "40 ft", "p1"), (),
            "A heap 40 ft high would be above 144 in, where it can take fire of itself.",
        ),
        (work(D.BUILT, "4 ft", "p1"), (), None),
    ],
)  # fmt: skip
def test_a_figure_is_asked_about_where_the_yard_knows_better(entry, before, question):
    found = asked(entry, *before)
    if question is None:
        assert found == ""
    else:
        assert question in found
        assert found.endswith(("?", "."))


def test_a_bin_of_unknown_size_and_a_yard_without_a_past_raise_no_question_about_them():
    unknown = YardSizes()
    assert asked(work(D.HARVESTED, "8000 lb"), sizes=unknown) == ""
    assert asked(work(D.INSPECTED, depth="30 in"), sizes=unknown) == ""
    assert "no bed is 39 in deep" in asked(work(D.INSPECTED, depth="140 in"), sizes=unknown)


def test_what_is_compared_is_declared_once_for_each_figure():
    assert len({(row.figure, row.beside) for row in COMPARISONS}) == len(COMPARISONS)
    assert is_compared(D.FED)
    assert not is_compared(D.TURNED)


def test_a_slip_of_a_later_day_does_not_count_before():
    late = work(D.DELIVERY, "1 bags", YARD, at=99, what="leaves")
    assert "is left" not in asked(work(D.ADDED, "9 bags", "p1", at=2, what="leaves"), late)


class Half:
    """Scales by which a bag is 10 kg and a litre half a kilogram."""

    def weigh(self, material, amount):
        if amount.dimension is Dimension.CONTAINERS:
            return Weighed(int(amount.count * 10_000))
        return (
            None
            if amount.base is None
            else Weighed(amount.base if amount.dimension is Dimension.MASS else amount.base // 2)
        )


@given(
    st.lists(
        st.tuples(
            st.sampled_from([D.DELIVERY, D.COUNTED, D.ADDED]), st.integers(1, 60), st.sampled_from(["leaves", "straw"])
        ),
        max_size=20,
    )
)
def test_the_tally_is_the_shelf_wherever_all_is_weighed(story):
    works = [Work(time=0, place="p1", kind=D.BUILT, what="chips", amount="1", measure="kg", unit="kg")]
    for step, (kind, kg, what) in enumerate(story, 1):
        place = "p1" if kind is D.ADDED else YARD
        works.append(
            Work(time=step * DAY_MS, place=place, kind=kind, what=what, amount=str(kg), measure="kg", unit="kg")
        )
    tally = StockTally(YardSizes())
    for number, one in enumerate(works, 1):
        tally.take(number, one)
    shelves = record_of(*works).shelves
    for what in ("leaves", "straw"):
        heap = tally.of(what)
        if heap is not None:
            assert heap.left[GRAMS] == sum(one.wet_g or 0 for one in shelves[what].open)


def test_amounts_that_cannot_be_compared_are_not():
    past = LoggedPast(YardSizes())
    past.take(1, DELIVERED)
    past.take(2, work(D.ADDED, "9 lb", "p1", what="leaves"))
    heap = past.stock.of("leaves")
    assert heap is not None
    assert heap.left == {}
    weighed = StockTally(YardSizes({}, Half()))
    weighed.take(1, DELIVERED)
    weighed.take(2, work(D.ADDED, "9 kg", "p1", what="leaves"))
    heap = weighed.of("d1")
    assert heap is not None
    assert heap.left == {GRAMS: Fraction(191_000)}
    assert weighed.terms("leaves", Amount(number="2", unit="bag", dimension=Dimension.CONTAINERS))[GRAMS] == 20_000
