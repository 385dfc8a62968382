"""A season in words: every fact says only what is known, and nothing is rounded up."""

from datetime import date
from zoneinfo import ZoneInfo

import pytest
from typed_command import ENTRIES

from monitor.app.console.measures import Measures
from monitor.app.seasons import SeasonWords
from monitor.app.seasons.season_gathered import Season
from monitor.configuration import load_text
from monitor.material import HeatStatus, Node, NodeKind
from monitor.model.thresholds import BinThresholds
from monitor.model.times import DAY_MS, HOUR_MS, parse_time
from monitor.proof.rules import rule_ids
from monitor.reports import BinYear, HeapCourse, HeatCourse, Span, Step, Sum, Watered

SETTINGS = load_text(ENTRIES, None, {}, rules=rule_ids()).settings
BUILT = parse_time("2026-03-01T17:00:00Z")
SPAN = Span(date(2026, 1, 1), date(2026, 12, 31), ZoneInfo("America/New_York"))
NOW = BUILT + 40 * DAY_MS
RULE = "us-112-54-turned"


def heat(**more):
    hottest = (BUILT + 4 * DAY_MS, 65_000)
    given = {"hold_milli_c": 55_000, "counts_from": BUILT, "steps": [Step(BUILT, 20_000, 65_000)], "hottest": hottest}
    return HeatCourse(**(given | more))


def facts(course=None, **more):
    heap = HeapCourse(
        **(
            {
                "batch": "p1-2026-03-01",
                "place": "p1",
                "built": BUILT,
                "ended": None,
                "rule": RULE,
                "heat": course or heat(),
            }
            | more
        )
    )
    (shown,) = SeasonWords(Season(SPAN, NOW, [heap], []), SETTINGS, Measures(True)).heaps()
    return {one.name: one.words for one in shown.facts} | {"course": shown.course}


@pytest.mark.parametrize(
    ("course", "said"),
    [
        (heat(), "not yet, on day 40"),
        (heat(steps=(), hottest=None), "nobody read it"),
        (heat(holds=[(BUILT + 3 * DAY_MS - 1, NOW)]), "2.9 days"),
        (heat(holds=[(BUILT + DAY_MS, NOW)]), "1 day"),
        (heat(holds=[(BUILT + 23 * HOUR_MS + 59, NOW)]), "23 hours"),
        (heat(holds=[(BUILT + 6 * DAY_MS, NOW)], counts_from=BUILT + 4 * DAY_MS), "2 days, counted anew from day 4"),
        (heat(waits=True), "–"),
    ],
)
def test_days_to_the_hold_are_cut_off_and_never_rounded_up(course, said):
    assert facts(course)["To the hold"] == said


def test_a_heap_that_went_without_holding_never_did():
    assert facts(ended=NOW)["To the hold"] == "never"


def test_time_at_the_hold_with_its_longest_piece():
    holds = [(BUILT, BUILT + 9 * DAY_MS)]
    assert facts(heat(holds=holds, held_ms=9 * DAY_MS, longest_ms=9 * DAY_MS))["At the hold"] == "9 days"
    found = facts(heat(holds=holds, held_ms=9 * DAY_MS, longest_ms=5 * DAY_MS))
    assert found["At the hold"] == "9 days, 5 days in one piece"
    assert found["course"].held == "at 131 °F: 9 days"
    assert facts()["At the hold"] == "–"
    assert facts()["course"].held == ""


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"rule": "none"}, "none is followed"),
        ({"course": heat(waits=True)}, f"{RULE}, being worked out"),
        ({}, f"nothing is proven by {RULE}"),
        (
            {"course": heat(heat=HeatStatus.MET, met_at=BUILT + 17 * DAY_MS, progress="x")},
            f"met on 18 Mar 2026, day 17 ({RULE})",
        ),
        ({"course": heat(heat=HeatStatus.RUNNING, progress="3 of 15 days")}, f"not met yet: 3 of 15 days ({RULE})"),
        (
            {"course": heat(heat=HeatStatus.RUNNING, progress="3 of 15 days"), "ended": NOW},
            f"not met: 3 of 15 days ({RULE})",
        ),
        (
            {"course": heat(heat=HeatStatus.VOID, progress="0 of 15 days")},
            f"not met yet: raw material came in and made it begin anew, 0 of 15 days ({RULE})",
        ),
    ],
)
def test_the_verdict_by_the_rule(more, said):
    assert facts(**more)["Rule"] == said


@pytest.mark.parametrize(
    ("water", "said"),
    [
        (Watered(0, 0, 0), "–"),
        (Watered(2, 75_708, 0), "20 gal, twice"),
        (Watered(3, 75_708, 1), "at least 20 gal, 3 times"),
        (Watered(1, 0, 1), "nobody knows how much, once"),
    ],
)
def test_water_as_far_as_it_is_known(water, said):
    assert facts(water=water)["Water"] == said


def test_what_went_in_and_what_came_of_it():
    assert facts()["Went in"] == "nobody wrote that down"
    assert facts()["Came of it"] == "lies there still, day 40"
    went = facts(
        made_of="leaves\u202e  and  more",
        start=Sum(entries=1, measured_g=45_359),
        added_at=(BUILT + DAY_MS,),
        carbon=31.4,
        turned=(BUILT + DAY_MS,),
    )
    assert went["Went in"] == "100 lb: leaves and more; more was added once"
    assert (went["C/N"], went["Turned"]) == ("31", "once")
    came = facts(
        ended=NOW,
        end=Sum(entries=2, measured_g=45_359),
        became=[
            Node(NodeKind.BED, "b1-2026-04-01"),
            Node(NodeKind.LOT, "lot-p1-2026-04-01"),
            Node(NodeKind.BATCH, "p2-2026-04-01"),
        ],
    )
    assert came["Came of it"] == (
        "100 lb taken out: bedding of Wall bin, lot lot-p1-2026-04-01, batch p2-2026-04-01; gone on 10 Apr 2026"
    )
    assert facts(ended=NOW)["Came of it"] == "gone on 10 Apr 2026; nobody wrote down what became of it"
    assert facts(ended=NOW, merged_into="p2-x")["Came of it"] == "thrown onto p2-x; gone on 10 Apr 2026"


def bin_facts(**more):
    nothing = dict.fromkeys(("hot", "danger", "near_frost", "frost", "alarmed", "taken"), ())
    given = {
        "place": "b1",
        "limits": BinThresholds(),
        "heat": {},
        "damp": {},
        "fed": {},
        "fed_in_all": Sum(),
        "taken_in_all": Sum(),
    }
    one = BinYear(**(nothing | given | more))
    (shown,) = SeasonWords(Season(SPAN, NOW, [], [one]), SETTINGS, Measures(True)).bins()
    return shown, {fact.name: fact.words for fact in shown.facts}


def test_a_bin_of_which_nothing_is_known_has_no_picture():
    shown, found = bin_facts()
    assert (shown.band, found, shown.months) == (None, {}, ())


def test_days_past_the_limits_of_a_bin():
    days = [date(2026, 7, day) for day in (1, 2, 3)]
    heat_ = {days[0]: (10_000, 36_000), days[1]: (3_000, 30_000), days[2]: (12_000, 20_000)}
    shown, found = bin_facts(
        heat=heat_, hot=days[:2], danger=days[:1], near_frost=days[1:2], frost=days[1:2], alarmed=days[:1]
    )
    assert found["85 °F or more"] == "2 days, 1 of them more than 95 °F"
    assert found["43 °F or less"] == "1 day, even 39 °F or less"
    assert (found["Coldest"], found["Hottest"]) == ("37.4 °F, 2 Jul", "96.8 °F, 1 Jul")
    assert found["Alarms of heat or frost"] == "on 1 day"
    assert shown.months == (("July 2026", "37.4 °F", "96.8 °F", "2 days", "1 day", "–", "–", "–"),)
    assert (shown.band.hot_days, shown.band.frost_days) == (days[:2], days[1:2])


def test_food_is_drawn_as_a_share_of_the_most_of_all_bins():
    fed = {"2026-03": Sum(entries=1, measured_g=1_000), "2026-04": Sum(entries=2, measured_g=4_000)}
    shown, found = bin_facts(fed=fed, fed_in_all=Sum(entries=3, measured_g=5_000))
    assert shown.band.fed == {"2026-03": 0.25, "2026-04": 1.0}
    assert found["Fed"] == "11 lb, 3 times"
    assert [row[0] for row in shown.months] == ["March 2026", "April 2026"]
    assert found["Temperature"] == "nobody read it"
