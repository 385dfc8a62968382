"""A rule of duration at, just under and just over each limit, and everything that nobody can say."""

from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.durations import Answer, BedFacts, Layer, LotDuration, Moist, lot_duration
from monitor.material import Node, NodeKind
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.words import BinKind
from monitor.model.work import Work, WorkKind
from monitor.proof.rules import load_duration_rule
from tests.unit.material.material_yard import record_of

D = WorkKind
ZONE = ZoneInfo("America/New_York")
RULE = load_duration_rule("us-nop-5021-vermicompost")
KEPT, NOT_KEPT, UNKNOWN = Answer.KEPT, Answer.NOT_KEPT, Answer.UNKNOWN


def at(*when: int) -> int:
    return round(datetime(*when, tzinfo=ZONE).timestamp() * 1000)  # type: ignore[misc,arg-type]


BEGUN = at(2026, 1, 31, 12)


def bedded(time: int = BEGUN, kind: WorkKind = D.BEDDED, place: str = "b1") -> Work:
    return Work(time=time, place=place, kind=kind, amount="10", measure="kg", unit="kg", what="leaves")


def lot_of(*works: Work, harvested: int, emptied: bool = False, place: str = "b1") -> list[Work]:
    harvest = Work(time=harvested, place=place, kind=D.HARVESTED, amount="5", measure="kg", unit="kg")
    more = [Work(time=harvested + HOUR_MS, place=place, kind=D.EMPTIED)] if emptied else []
    made = Work(time=harvested + 2 * HOUR_MS, place="yard", kind=D.LOT, what=f"h{len(works) + 1}", lot="lot-1")
    return [*works, harvest, *more, made]


def held(works: list[Work], facts: BedFacts = BedFacts(), **declared: bool) -> LotDuration:  # noqa: B008 (frozen)
    found = lot_duration(RULE, record_of(*works), Node(NodeKind.LOT, "lot-1"), lambda _: facts, declared, ZONE)
    assert found is not None
    return found


def answer(found: LotDuration, key: str) -> Answer:
    return next(one.answer for one in found.findings if one.key == key)


def duration(begun: int, harvested: int, kind: BinKind, *, indoors: bool | None = None, emptied: bool = True) -> Answer:
    works = lot_of(bedded(begun), harvested=harvested, emptied=emptied)
    return answer(held(works, BedFacts(kind=kind, indoors=indoors)), "duration")


@pytest.mark.parametrize(("off", "said"), [(-1, NOT_KEPT), (0, KEPT), (1, KEPT)])
def test_continuous_flow_60_days(off: int, said: Answer) -> None:
    assert duration(BEGUN, BEGUN + 60 * DAY_MS + off, BinKind.FLOW) is said


@pytest.mark.parametrize(("off", "said"), [(-1, NOT_KEPT), (0, KEPT), (1, KEPT)])
@pytest.mark.parametrize("kind", [BinKind.TRAYS, BinKind.TUB, BinKind.DRAWER, BinKind.HALF_DRUM])
def test_containers_indoors_4_months(kind: BinKind, off: int, said: Answer) -> None:
    # Four months from 31 January are over on 31 May; the change of clocks in March makes them an hour shorter.
    assert duration(BEGUN, at(2026, 5, 31, 12) + off, kind, indoors=True) is said


@pytest.mark.parametrize(("off", "said"), [(-1, NOT_KEPT), (0, KEPT), (1, KEPT)])
def test_windrows_outdoors_12_months(off: int, said: Answer) -> None:
    assert duration(BEGUN, at(2027, 1, 31, 12) + off, BinKind.WINDROW, indoors=False) is said


def test_a_month_without_that_day_ends_on_its_last() -> None:
    begun = at(2026, 10, 31, 12)
    assert duration(begun, at(2027, 2, 28, 12), BinKind.TUB, indoors=True) is KEPT
    assert duration(begun, at(2027, 2, 28, 12) - 1, BinKind.TUB, indoors=True) is NOT_KEPT


@pytest.mark.parametrize(
    ("kind", "indoors"),
    [(BinKind.TUB, None), (BinKind.TUB, False), (BinKind.WINDROW, None), (BinKind.WINDROW, True), (None, None)],
)
def test_a_bed_of_which_the_rule_or_the_yard_says_nothing(kind: BinKind | None, indoors: bool | None) -> None:
    for days in (1, 1000):
        works = lot_of(bedded(), harvested=BEGUN + days * DAY_MS, emptied=True)
        assert answer(held(works, BedFacts(kind=kind, indoors=indoors)), "duration") is UNKNOWN


def test_the_newest_food_counts_and_of_a_part_nobody_can_say_whether_it_is_in() -> None:
    food = bedded(BEGUN + 59 * DAY_MS, D.FED)
    harvested = BEGUN + 60 * DAY_MS
    flow = BedFacts(kind=BinKind.FLOW)
    assert answer(held(lot_of(bedded(), food, harvested=harvested, emptied=True), flow), "duration") is NOT_KEPT
    assert answer(held(lot_of(bedded(), food, harvested=harvested), flow), "duration") is UNKNOWN
    assert answer(held(lot_of(bedded(), food, harvested=harvested - 1), flow), "duration") is NOT_KEPT, "nor the oldest"
    later = food.time + 60 * DAY_MS
    assert answer(held(lot_of(bedded(), food, harvested=later), flow), "duration") is KEPT
    assert answer(held(lot_of(bedded(), food, harvested=later - 1), flow), "duration") is UNKNOWN


def moisture(*reads: tuple[int, int], days: int = 6) -> Answer:
    """Return the answer for readings a day apart, of these ranges."""
    moist = [Moist(BEGUN + day * DAY_MS, low, high) for day, (low, high) in enumerate(reads, 1)]
    works = lot_of(bedded(), harvested=BEGUN + days * DAY_MS, emptied=True)
    return answer(held(works, BedFacts(moist=moist)), "moisture")


@pytest.mark.parametrize(
    ("milli", "said"),
    [(69_999, NOT_KEPT), (70_000, KEPT), (70_001, KEPT), (89_999, KEPT), (90_000, KEPT), (90_001, NOT_KEPT)],
)
def test_moisture_70_to_90_percent(milli: int, said: Answer) -> None:
    assert moisture((80_000, 80_000), (milli, milli), (80_000, 80_000)) is said


@pytest.mark.parametrize(
    ("squeeze", "said"),
    [((0, 40_000), NOT_KEPT), ((50_000, 60_000), NOT_KEPT), ((60_000, 70_000), UNKNOWN), ((70_000, 100_000), UNKNOWN)],
)
def test_a_squeeze_is_a_range(squeeze: tuple[int, int], said: Answer) -> None:
    assert moisture((80_000, 80_000), squeeze) is said


@pytest.mark.parametrize(("days", "said"), [(8, KEPT), (8.01, UNKNOWN)])
def test_moisture_must_be_measured_every_7_days(days: float, said: Answer) -> None:
    harvested = BEGUN + round(days * DAY_MS)
    works = lot_of(bedded(), harvested=harvested, emptied=True)
    facts = BedFacts(moist=[Moist(BEGUN + DAY_MS, 80_000, 80_000)])
    assert answer(held(works, facts), "moisture") is said
    assert answer(held(works), "moisture") is UNKNOWN, "nobody measured"


def test_what_was_measured_before_the_bed_began_or_after_the_harvest_is_of_another() -> None:
    dry = [Moist(BEGUN - 1, 10_000, 10_000), Moist(BEGUN + 6 * DAY_MS + 1, 10_000, 10_000)]
    good = [Moist(BEGUN, 75_000, 75_000), Moist(BEGUN + 6 * DAY_MS, 75_000, 75_000)]
    works = lot_of(bedded(), harvested=BEGUN + 6 * DAY_MS, emptied=True)
    assert answer(held(works, BedFacts(moist=[*dry, *good])), "moisture") is KEPT
    for time in (BEGUN, BEGUN + 6 * DAY_MS):  # both ends belong to it
        assert answer(held(works, BedFacts(moist=[*good, Moist(time, 10_000, 10_000)])), "moisture") is NOT_KEPT


@pytest.mark.parametrize(
    ("layers", "said"),
    [
        ((25.4,), KEPT), ((25.49, 3.0), KEPT), ((25.51,), NOT_KEPT), ((26.0, None), NOT_KEPT), ((10.0, None), UNKNOWN),
        ((), UNKNOWN),
    ],
)  # fmt: skip
def test_layers_of_an_inch_at_most(layers: tuple[float | None, ...], said: Answer) -> None:
    facts = BedFacts(layers=[Layer(BEGUN + day * HOUR_MS, mm) for day, mm in enumerate(layers)])
    assert answer(held(lot_of(bedded(), harvested=BEGUN + DAY_MS), facts), "layers") is said


GOOD = BedFacts(
    kind=BinKind.FLOW,
    moist=[Moist(BEGUN + day * DAY_MS, 80_000, 80_000) for day in range(62)],
    layers=[Layer(BEGUN, 20.0)],
)
WORKS = lot_of(bedded(), harvested=BEGUN + 61 * DAY_MS, emptied=True)


def test_the_whole_is_kept_only_if_everything_is() -> None:
    assert held(WORKS, GOOD, feedstocks=True).answer is KEPT
    assert held(WORKS, GOOD).answer is UNKNOWN, "nobody said that the feedstocks are allowed"
    assert held(WORKS, GOOD, feedstocks=False).answer is NOT_KEPT
    assert held(WORKS, replace(GOOD, kind=None), feedstocks=True).answer is UNKNOWN
    assert held(WORKS, replace(GOOD, moist=()), feedstocks=True).answer is UNKNOWN
    assert held(WORKS, replace(GOOD, layers=[Layer(BEGUN, 40.0)], moist=()), feedstocks=True).answer is NOT_KEPT


@given(st.lists(st.sampled_from(["kind", "moist", "layers", "feedstocks"]), min_size=1, unique=True))
def test_never_met_while_one_thing_is_unknown(missing: list[str]) -> None:
    facts = replace(GOOD, **{key: None if key == "kind" else () for key in missing if key != "feedstocks"})
    declared = {} if "feedstocks" in missing else {"feedstocks": True}
    assert held(WORKS, facts, **declared).answer is UNKNOWN


def test_a_lot_of_two_beds_is_as_good_as_the_worse() -> None:
    works = [
        bedded(), bedded(BEGUN + 50 * DAY_MS, place="b2"),
        Work(time=BEGUN + 61 * DAY_MS, place="b1", kind=D.HARVESTED, amount="5", measure="kg", unit="kg"),
        Work(time=BEGUN + 61 * DAY_MS, place="b2", kind=D.HARVESTED, amount="5", measure="kg", unit="kg"),
        Work(time=BEGUN + 62 * DAY_MS, place="yard", kind=D.LOT, what="h3, h4", lot="lot-1"),
    ]  # fmt: skip
    found = held(works, GOOD, feedstocks=True)
    assert answer(found, "duration") is NOT_KEPT
    assert next(one.why for one in found.findings if one.key == "duration").startswith("b2-")


def test_a_heap_in_the_lot_did_not_pass_a_bed_and_a_lot_of_heaps_alone_is_no_matter_of_the_rule() -> None:
    built = Work(time=BEGUN, place="p1", kind=D.BUILT, amount="10", measure="kg", unit="kg", what="leaves")
    heap = f"p1-{BEGUN}"
    made = Work(time=BEGUN + 62 * DAY_MS, place="yard", kind=D.LOT, what=heap, lot="lot-1")
    record = record_of(built, made)
    assert lot_duration(RULE, record, Node(NodeKind.LOT, "lot-1"), lambda _: GOOD, {}, ZONE) is None
    mixed = [*WORKS[:-1], built, replace(made, what=f"h2, {heap}")]
    found = held(mixed, GOOD, feedstocks=True)
    assert (found.findings[0].key, found.answer) == ("beds", NOT_KEPT)
    assert heap in found.findings[0].why


def test_a_delivery_in_the_lot_did_not_pass_a_bed() -> None:
    bought = Work(time=BEGUN, place="yard", kind=D.DELIVERY, amount="9", measure="kg", unit="kg", what="castings")
    found = held([*WORKS[:-1], bought, replace(WORKS[-1], what=f"h2, d{len(WORKS)}")], GOOD, feedstocks=True)
    assert (found.findings[0].key, found.answer) == ("beds", NOT_KEPT)
    assert found.findings[0].why.startswith(f"d{len(WORKS)} went into it")


def test_a_lot_out_of_another_lot_is_followed_to_the_bed() -> None:
    again = Work(time=WORKS[-1].time + HOUR_MS, place="yard", kind=D.LOT, what="lot-1", lot="lot-2")
    record = record_of(*WORKS, again)
    found = lot_duration(RULE, record, Node(NodeKind.LOT, "lot-2"), lambda _: GOOD, {"feedstocks": True}, ZONE)
    assert found is not None
    assert found.answer is KEPT


def test_through_the_screen_to_the_bed() -> None:
    harvested = BEGUN + 61 * DAY_MS
    works = [
        bedded(), Work(time=harvested, place="b1", kind=D.HARVESTED, amount="5", measure="kg", unit="kg"),
        Work(time=harvested + DAY_MS, place="b1", kind=D.SCREENED, fines="3 kg", overs="1 kg", moisture="45"),
        bedded(harvested + 2 * DAY_MS, D.FED),
        Work(time=harvested + 3 * DAY_MS, place="yard", kind=D.LOT, what="h2/fines", lot="lot-1"),
    ]  # fmt: skip
    assert answer(held(works, GOOD), "duration") is KEPT, "what was fed after the harvest is not in it"


def test_the_reasons_in_words() -> None:
    whys = {one.key: one.why for one in held(WORKS, replace(GOOD, layers=[Layer(BEGUN, 30.0)])).findings}
    bed = f"b1-day{BEGUN // DAY_MS}"
    assert whys == {
        "duration": f"{bed}: the last that went in lay there 61 days, and the rule asks for 60 days",
        "moisture": f"{bed}: it was always within 70 to 90 % when it was measured",
        "layers": f"{bed}: a feeding made a layer of 1.2 in (30 mm), and thin is 1.0 in (25 mm) at most",
        "feedstocks": (
            '"only feedstocks that organic production allows": the record cannot say so; a person can, as a test of the lot '
            "called feedstocks"
        ),
    }
