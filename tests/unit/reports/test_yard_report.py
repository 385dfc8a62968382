"""The report's figures, told by small stories of a yard."""

from datetime import date
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.material import Weighed, YardOfMaterial, read_log
from monitor.model.amounts import Amount
from monitor.model.containers import Container
from monitor.model.effects import Draft, Effect, EffectKind
from monitor.model.methane import MethaneFactor
from monitor.model.times import DAY_MS, HOUR_MS, parse_time
from monitor.model.work import Work, WorkKind
from monitor.reports import HeapTurn, Kept, Report, Span, Spread, Turn, heap_turns, month_named, yard_report
from tests.unit.material.material_yard import BINS, HalfDry, NaiveHeaps

D = WorkKind
ZONE = ZoneInfo("America/New_York")
OCTOBER = month_named("2026-10", ZONE)
BEGIN = OCTOBER.start
BUCKETS = Container(
    tare_g=1_000, full_g={"food scraps": tuple(18_200 + off for off in (-600, -600, 0, 600, 600)), "dung": (20_000,)}
)
"""Five full buckets of food scraps, 17.2 kg each with a standard deviation of 0.6 kg."""


def work(day: float, kind: WorkKind, place: str = "yard", amount: str = "", **fields: str) -> Work:
    number, _, unit = amount.partition(" ")
    time = BEGIN + round(day * DAY_MS)
    return Work(time=time, place=place, kind=kind, amount=number, measure=unit, unit=unit, **fields)


def bucket_spread(one: Work) -> Spread | None:
    if one.unit != "bucket":
        return None
    held = BUCKETS.content(one.what, float(one.amount), None)
    return None if held is None else Spread(f"bucket/{one.what.casefold()}", held.error_g)


class ByTheBucket(HalfDry):
    """Scales that know what a bucket holds."""

    def weigh(self, material: str, amount: Amount) -> Weighed | None:
        if amount.unit != "bucket":
            return super().weigh(material, amount)
        held = BUCKETS.content(material, float(amount.count), None)
        return None if held is None else Weighed(round(held.mass_g), round(held.mass_g / 2))


def report_of(*works: Work, span: Span = OCTOBER, now: int = OCTOBER.end, **more: object) -> Report:
    base = {"heap_turns": (), "read_by_hand": (), "answered": (), "first": BEGIN, "factor": None} | more
    heaps = NaiveHeaps(list(works))
    record = read_log(enumerate(works, 1), YardOfMaterial(heaps, ByTheBucket(), BINS, lambda at: f"day{at // DAY_MS}"))
    return yard_report(
        Kept(
            record=record, now=now, heap_at=heaps.lying, spread_of=bucket_spread,
            volume_ml=lambda unit: 20_000 if unit == "bucket" else None, **base,  # type: ignore[arg-type]
        ),
        span,
    )  # fmt: skip


def test_what_came_in_by_supplier_and_material_and_how_it_is_known() -> None:
    report = report_of(
        work(1, D.DELIVERY, amount="100 kg", what="leaves", source="The park"),
        work(2, D.DELIVERY, amount="60 L", what="Leaves ", source="the  park"),
        work(3, D.DELIVERY, amount="4 bag", what="leaves", source="the park"),
        work(3, D.DELIVERY, amount="10 kg", what="straw"),
        work(4, D.DELIVERY, amount="9 kg", what="straw", refused="wet"),
        work(40, D.DELIVERY, amount="500 kg", what="leaves"),
    )
    straw, leaves = report.rows
    assert (leaves.supplier, leaves.material, leaves.month) == ("The park", "leaves", "2026-10")
    assert (leaves.mass.entries, leaves.mass.measured_g, leaves.mass.estimated_g, leaves.mass.without) == (
        3,
        100_000,
        30_000,
        1,
    )
    assert leaves.mass.measured_share == pytest.approx(100 / 130)
    assert (straw.supplier, straw.mass.known_g, straw.mass.measured_share) == ("", 10_000, 1.0)
    assert report.taken_in.mass.known_g == 140_000
    assert [one.refused for one in report.refused] == ["wet"]


@pytest.mark.parametrize("loads", [(40,), (20, 20), (1,) * 40], ids=["at once", "in two loads", "one by one"])
def test_the_error_of_buckets_is_the_standard_error_of_the_mean_times_their_number(loads: tuple[int, ...]) -> None:
    # yard-work §6: 40 buckets of which 5 were weighed at 17.2 ± 0.6 kg are 688 ± 11 kg, however they came in.
    report = report_of(
        *(work(day / 2, D.DELIVERY, amount=f"{load} bucket", what="food scraps") for day, load in enumerate(loads))
    )
    (row,) = report.rows
    assert (row.mass.measured_g, row.mass.estimated_g) == (688_000, 0)
    assert row.doubt.error_g == pytest.approx(40 * 600 / 5**0.5)
    assert round(row.doubt.error_g / 1000) == 11
    assert row.doubt.once == 0


def test_buckets_of_two_suppliers_are_off_together_and_other_materials_on_their_own() -> None:
    report = report_of(
        work(1, D.DELIVERY, amount="30 bucket", what="food scraps", source="the school"),
        work(2, D.DELIVERY, amount="10 bucket", what="Food scraps", source="the inn"),
        work(3, D.DELIVERY, amount="3 bucket", what="dung", source="the inn"),
        work(4, D.DELIVERY, amount="50 kg", what="leaves", source="the inn"),
    )
    assert report.taken_in.doubt.error_g == pytest.approx(40 * 600 / 5**0.5)
    assert sum(row.doubt.error_g for row in report.rows) == pytest.approx(40 * 600 / 5**0.5)
    assert report.taken_in.doubt.once == 1, "a single full bucket of dung was weighed"


def test_a_season_tells_its_months_apart() -> None:
    report = report_of(
        work(1, D.DELIVERY, amount="10 kg", what="leaves"),
        work(30.99, D.DELIVERY, amount="20 kg", what="leaves"),
        work(31, D.DELIVERY, amount="40 kg", what="leaves"),
        span=Span(date(2026, 1, 1), date(2026, 12, 31), ZONE),
        now=BEGIN + 100 * DAY_MS,
    )
    assert [(row.month, row.mass.known_g) for row in report.rows] == [("2026-10", 30_000), ("2026-11", 40_000)]


def test_food_harvests_fractions_and_what_people_got() -> None:
    report = report_of(
        work(1, D.BEDDED, "b1", "50 kg", what="leaves"),
        work(2, D.FED, "b1", "4 kg", what="scraps"),
        work(3, D.FED, "b1", what="scraps"),
        work(4, D.HARVESTED, "b1", "20 kg", moisture="75"),
        work(5, D.SCREENED, "b1", fines="9 kg", overs="2 kg", moisture="45"),
        work(6, D.LOT, what="h4/fines", lot="lot-1"),
        work(7, D.GIVEN, amount="2 kg", lot="lot-1", receiver="Ann"),
        work(8, D.GIVEN, amount="1.5 bag", lot="lot-1", receiver=" ann "),
        work(9, D.GIVEN, amount="3 bag", lot="lot-1", receiver="The school"),
    )
    assert (report.fed.entries, report.fed.known_g, report.fed.without, report.fed.dry_g) == (2, 4_000, 1, 2_000)
    assert (report.harvested.known_g, report.harvested.dry_g) == (20_000, 5_000)
    assert {name: (one.known_g, one.dry_g) for name, one in report.screened.items()} == {
        "fines": (9_000, 4_950), "overs": (2_000, 1_100),
    }  # fmt: skip
    assert (report.given_out.mass.entries, report.given_out.mass.known_g, report.given_out.mass.without) == (
        3,
        2_000,
        2,
    )
    assert report.given_out.containers == {"bag": Fraction(9, 2)}
    assert report.given_out.people == 2
    (gap,) = report.gaps
    assert (gap.node.id, gap.percent) == ("h4", pytest.approx(100 * (5_000 - 6_050) / 5_000))


def test_a_gap_of_15_percent_is_none() -> None:
    def gaps(fines: str) -> list[str]:
        report = report_of(
            work(1, D.BEDDED, "b1", "50 kg", what="leaves"),
            work(4, D.HARVESTED, "b1", "20 kg", moisture="50"),
            work(5, D.SCREENED, "b1", fines=fines, moisture="50"),
        )
        return [one.node.id for one in report.gaps]

    assert gaps("17 kg") == []
    assert gaps("16.99 kg") == ["h2"]
    assert gaps("23 kg") == []
    assert gaps("23.01 kg") == ["h2"]


def test_what_is_gone_is_told_where_it_was_weighed() -> None:
    report = report_of(
        work(1, D.BUILT, "p1", "100 kg", what="leaves"),
        work(8, D.MOVED, "p1", "60 kg", to="b1"),
        work(9, D.DELIVERY, amount="50 kg", what="straw"),
        work(10, D.COUNTED, amount="30 kg", what="straw"),
        work(11, D.EMPTIED, "b1"),
    )
    told = [(one.kind, one.node.id, one.wet_g) for one in report.gone]
    assert told == [(D.MOVED, f"p1-{BEGIN + DAY_MS}", 40_000), (D.COUNTED, "d3", 20_000)], (
        "nobody weighed what was cleared"
    )


def test_water_also_in_the_heap_and_in_buckets() -> None:
    report = report_of(
        work(1, D.WATERED, "p1", "40 L"),
        work(2, D.WATERED, "p1", "2 bucket"),
        work(3, D.WATERED, "p1", "2 bag"),
        work(4, D.WATERED, "b1"),
        work(5, D.BUILT, "p1", parts="leaves=3 bag; water=10 L"),
        work(32, D.WATERED, "b1", "99 L"),
    )
    assert (report.watered.entries, report.watered.ml, report.watered.without) == (5, 90_000, 2)


def test_turnings_less_than_six_hours_apart_are_one_and_belong_to_where_they_began() -> None:
    end = 31.0
    report = report_of(
        work(0, D.BUILT, "p1", what="leaves"),
        work(0, D.BUILT, "p2", what="leaves"),
        work(-1 / 24, D.TURNED, "p1"),
        work(1, D.TURNED, "p1"),
        work(1 + 5.99 / 24, D.TURNED, "p1"),
        work(1.1, D.TURNED, "p2"),
        work(1 + 6 / 24, D.TURNED, "p1"),
        work(end - 1 / 24, D.TURNED, "p1"),
        work(end + 1 / 24, D.TURNED, "p1"),
        work(20, D.MOVED, "p2", to="p3"),
        work(21, D.MOVED, "p3", to="p2", note="not a turning"),
    )
    assert (report.turnings.logged, report.turnings.counted) == (6, 5)


def test_a_heap_that_was_turned_and_moved_within_six_hours_was_turned_once() -> None:
    built = [work(0, D.BUILT, "p1", what="leaves"), work(0, D.BUILT, "p3", what="leaves")]
    report = report_of(*built, work(1, D.TURNED, "p1"), work(1.1, D.MOVED, "p1", to="p2"), work(1.1, D.TURNED, "p3"))
    assert (report.turnings.logged, report.turnings.counted) == (3, 2)


def test_what_was_given_without_an_amount_counts_the_person() -> None:
    report = report_of(
        work(1, D.BEDDED, "b1", "50 kg", what="leaves"),
        work(4, D.HARVESTED, "b1", "20 kg"),
        work(6, D.LOT, what="h2", lot="lot-1"),
        work(7, D.GIVEN, lot="lot-1", receiver="Ann"),
    )
    given = report.given_out
    assert (given.mass.entries, given.mass.without, given.mass.known_g, given.people, given.containers) == (
        1,
        1,
        0,
        1,
        {},
    )


def test_incidents_and_the_rest_by_kind_and_time() -> None:
    report = report_of(
        work(3, D.WEATHER, note="frost"), work(2, D.INCIDENT, note="fork in a foot"), work(1, D.INCIDENT, note="smoke"),
        work(4, D.VISITORS, note="class 4b"), work(5, D.PEST, note="rats", spot="gate"), work(6, D.COMPLAINT, note="smell"),
        work(40, D.INCIDENT, note="later"), work(7, D.NOTE, note="no report of this"),
    )  # fmt: skip
    assert [one.note for one in report.told] == ["smoke", "fork in a foot", "smell", "rats", "class 4b", "frost"]


def test_days_without_an_entry_a_reading_or_an_answer() -> None:
    hours = {day: BEGIN + day * DAY_MS + 20 * HOUR_MS for day in range(31)}
    report = report_of(
        work(1.5, D.SEEN, "p1"), read_by_hand=[hours[2]], answered=[hours[4], hours[30]], first=BEGIN - DAY_MS,
        now=OCTOBER.start + 6 * DAY_MS + HOUR_MS,
    )  # fmt: skip
    assert [day.day for day in report.unlooked] == [1, 4, 6]
    assert report.days_counted == 6, "today is not over"


def test_days_before_the_record_began_are_no_days_without_an_entry() -> None:
    report = report_of(work(9.5, D.SEEN, "p1"), first=BEGIN + 12 * DAY_MS)
    assert report.days_counted == 22, "an entry about earlier work begins the record too"
    assert report.unlooked[0].day == 11
    assert report_of(first=None).days_counted == 0


def test_the_day_on_which_clocks_go_back_is_one_day() -> None:
    november = month_named("2026-11", ZONE)
    late = parse_time("2026-11-02T04:30:00Z")  # 23:30 on Sunday the 1st, which has 25 hours
    report = report_of(span=november, now=november.end, first=november.start, read_by_hand=[late])
    assert date(2026, 11, 1) not in report.unlooked
    assert (len(report.unlooked), report.days_counted) == (29, 30)


@given(st.lists(st.integers(-DAY_MS, 32 * DAY_MS)))
def test_looked_and_unlooked_days_make_up_the_month(offsets: list[int]) -> None:
    seen = [BEGIN + one for one in offsets]
    report = report_of(read_by_hand=seen, first=BEGIN - 2 * DAY_MS)
    looked = {(at - BEGIN) // DAY_MS for at in seen if OCTOBER.has(at)}
    assert len(report.unlooked) + len(looked) == report.days_counted == 31


def test_methane_only_by_the_yards_own_factor() -> None:
    delivered = work(1, D.DELIVERY, amount="250 kg", what="leaves")
    assert report_of(delivered).methane_g is None
    report = report_of(delivered, factor=MethaneFactor(0.04, "made up for this test"))
    assert report.methane_g == 10_000


def rule_effect(
    at: int, before: str, after: str, reason: str = "rule", since: int | None = None, batch: str = "p1-a"
) -> Effect:
    draft = Draft(
        place="p1", kind=EffectKind.RULE, axis="us-112-54-turned", before=before, after=after, why="",
        since=at if since is None else since, reason=reason, values={"batch": batch},
    )  # fmt: skip
    return Effect(at=at, ordinal=0, draft=draft)


def turned(effects: list[Effect]) -> list[tuple[str, int]]:
    return [(one.what.value, one.at) for one in heap_turns(effects)]


def test_a_heap_that_met_its_rule_and_became_void() -> None:
    met = [rule_effect(1, "not begun", "running"), rule_effect(9, "running", "met", since=7)]
    assert turned(met) == [("met", 7)]
    void = [*met, rule_effect(12, "met", "not begun", "raw added")]
    assert turned(void) == [("met", 7), ("void", 12)]
    assert turned([*void, rule_effect(13, "not begun", "running"), rule_effect(30, "running", "met")])[-1] == (
        "met",
        30,
    )


def test_raw_material_that_was_taken_back_made_nothing_void() -> None:
    told = [
        rule_effect(9, "running", "met", since=7),
        rule_effect(12, "met", "not begun", "raw added"),
        rule_effect(14, "not begun", "met", "record changed", since=7),
    ]
    assert turned(told) == [("met", 7)]


def test_a_heap_that_only_seemed_to_have_met_its_rule_never_did() -> None:
    seemed = [rule_effect(9, "running", "met"), rule_effect(10, "met", "running", "record changed")]
    assert turned(seemed) == []
    assert turned([*seemed, rule_effect(20, "running", "met")]) == [("met", 20)]


def test_heaps_do_not_mix_and_other_effects_say_nothing_of_rules() -> None:
    phase = rule_effect(1, "heating", "holding")
    other = Effect(at=1, ordinal=1, draft=Draft(
        place="p1", kind=EffectKind.PHASE, axis="phase", before="heating", after="met", why="", since=1, reason="held",
    ))  # fmt: skip
    effects = [phase, other, rule_effect(5, "running", "met"), rule_effect(6, "met", "running", batch="p2-a")]
    assert turned(effects) == [("met", 5)]


def test_a_turn_belongs_to_the_time_in_which_it_became_true() -> None:
    turns = [HeapTurn("p1-a", "p1", "r", Turn.MET, at) for at in (BEGIN - 1, BEGIN, OCTOBER.end - 1, OCTOBER.end)]
    assert [one.at for one in report_of(heap_turns=turns).heap_turns] == [BEGIN, OCTOBER.end - 1]
