"""What is said at once of a reading by hand: the worst limit that it is beyond, what to do, how old it is; and of rounds."""

from dataclasses import replace

import pytest

from monitor.model.alarm_kinds import Alarm
from monitor.model.settings import Bin, Pile, Settings, Site
from monitor.model.thresholds import BinThresholds, PileThresholds
from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.notices import beyond, meaning, next_round_words, read_words

T0 = 1_772_355_600_000
HEAP = PileThresholds(hot_milli_c=65_000, hot_dwell_ms=12 * HOUR_MS, too_hot_milli_c=75_000, fire_milli_c=80_000)
BED = BinThresholds(
    overheating_milli_c=29_000,
    overheating_dwell_ms=20 * MINUTE_MS,
    danger_all_milli_c=32_000,
    danger_all_dwell_ms=15 * MINUTE_MS,
    danger_any_milli_c=35_000,
    near_freezing_milli_c=4_000,
    freezing_milli_c=1_000,
)
SETTINGS = Settings(
    site=Site(name="Tern Hollow", time_zone="Europe/Berlin", temperature_unit="degC"),
    piles={"p1": Pile(name="Bay 1", thresholds=HEAP)},
    bins={"b1": Bin(name="Wall bin", thresholds=BED)},
)


@pytest.mark.parametrize(
    ("place", "milli", "meant"),
    [
        ("p1", 64_999, None),
        ("p1", 65_000, (Alarm.HOT, 65_000, 12 * HOUR_MS)),
        ("p1", 74_999, (Alarm.HOT, 65_000, 12 * HOUR_MS)),
        ("p1", 75_000, (Alarm.TOO_HOT, 75_000, 0)),
        ("p1", 79_999, (Alarm.TOO_HOT, 75_000, 0)),
        ("p1", 80_000, (Alarm.FIRE, 80_000, 0)),
        ("b1", 28_999, None),
        ("b1", 29_000, (Alarm.OVERHEATING, 29_000, 20 * MINUTE_MS)),
        ("b1", 32_000, (Alarm.OVERHEATING, 29_000, 20 * MINUTE_MS)),
        ("b1", 32_001, (Alarm.WORMS_IN_DANGER, 32_000, 15 * MINUTE_MS)),
        ("b1", 35_000, (Alarm.WORMS_IN_DANGER, 32_000, 15 * MINUTE_MS)),
        ("b1", 35_001, (Alarm.WORMS_IN_DANGER, 35_000, 0)),
        ("b1", 4_001, None),
        ("b1", 4_000, (Alarm.FREEZING, 4_000, 0)),
        ("b1", 1_001, (Alarm.FREEZING, 4_000, 0)),
        ("b1", 1_000, (Alarm.FREEZING, 1_000, 0)),
        ("nowhere", 90_000, None),
    ],
)
def test_the_worst_limit_that_a_reading_is_beyond_is_found_at_the_limit_itself(place, milli, meant):
    assert beyond(SETTINGS, place, milli) == meant


def said(place, *milli, ago_ms=0, settings=SETTINGS):
    read = [(f"hand:{place}/{number}", one) for number, one in enumerate(milli)]
    return meaning(settings, place, read, T0, T0 + ago_ms)


def test_a_reading_within_its_limits_means_nothing():
    assert said("p1", 60_000) == said("b1", 20_000) == said("b1") == said("nowhere", 99_000) == ""


def test_a_reading_is_told_with_its_limit_and_what_to_do():
    assert said("p1", 76_500).startswith("76.5 °C is too hot (limit 75 °C): keep your hands out: it scalds. ")
    assert said("p1", 81_000).startswith("81 °C is fire danger (limit 80 °C): keep people off. ")
    assert said("b1", 36_000).startswith("36 °C puts the worms in danger (limit 35 °C): shade it now ")
    assert said("b1", 3_000).startswith("3 °C is close to freezing (limit 4 °C): carry it indoors ")
    assert said("b1", 0).startswith("0 °C is close to freezing (limit 1 °C): ")
    assert said("b1", -1).startswith("0 °C is below freezing (limit 1 °C): ")


def test_what_harms_only_if_it_stays_says_for_how_long():
    assert said("b1", 30_000) == (
        "30 °C is too warm if it stays beyond 29 °C for 20 min or longer: "
        "shade and air it; do not feed it; lay cool damp bedding on top."
    )
    assert said("b1", 33_000).startswith(
        "33 °C puts the worms in danger if it stays beyond 32 °C for 15 min or longer: "
    )


@pytest.mark.parametrize(
    ("place", "read", "speaks"),
    [
        ("p1", (76_000, 90_000, 81_000, 20_000), "90 °C is fire danger"),
        ("p1", (79_000, 76_000), "79 °C is too hot"),
        ("b1", (36_000, 37_000, 33_000), "37 °C puts the worms"),
        ("b1", (33_000, 35_500), "35.5 °C puts the worms in danger (limit 35 °C)"),
        ("b1", (3_000, 2_000), "2 °C is close to freezing"),
        ("b1", (-2_000, 34_000), "34 °C puts the worms"),
        ("b1", (31_000, 30_000), "31 °C is too warm"),
        ("b1", (31_000, 2_000), "2 °C is close to freezing"),  # the other harms only if it stays
    ],
)
def test_of_several_spots_the_one_furthest_beyond_the_worst_limit_speaks(place, read, speaks):
    assert said(place, *read).startswith(speaks)
    assert said(place, *reversed(read)).startswith(speaks)


@pytest.mark.parametrize(
    ("ago_ms", "end"),
    [
        (HOUR_MS - 1, "and log it."),
        (HOUR_MS, "That was 1 h ago: read it again."),
        (4 * HOUR_MS - 1, "That was 3 h ago: read it again."),
    ],
)
def test_an_old_reading_says_its_age_in_whole_hours(ago_ms, end):
    assert said("p1", 81_000, ago_ms=ago_ms).endswith(end)


def test_a_reading_that_no_heap_can_have_asks_for_the_unit():
    most = SETTINGS.probe_thresholds.gross_high_milli_c
    asks = "If the other unit was meant, take it back and write it anew."
    assert said("p1", most + 1).endswith(asks)
    assert asks not in said("p1", most)


def test_numbers_stand_in_the_unit_of_the_yard():
    settings = replace(SETTINGS, site=replace(SETTINGS.site, temperature_unit="degF"))
    assert said("p1", 81_000, settings=settings).startswith("177.8 °F is fire danger (limit 176 °F): ")


@pytest.mark.parametrize(
    ("place", "spots", "by", "ago_ms", "why_not", "words"),
    [
        ("p1", 4, "Ann", 3 * HOUR_MS, "", "60 °C by hand, Ann, 3 h ago, coldest of 4"),
        ("b1", 2, "", MINUTE_MS - 1, "", "65 °C by hand, just now, hottest of 2"),
        ("p1", 1, "An\nn", MINUTE_MS, "", "60 °C by hand, An n, 1 min ago"),
        ("b1", 1, "", 0, "the heap was turned since", "65 °C by hand, just now: the heap was turned since"),
    ],
)
def test_the_last_round_is_told_by_its_number_its_reader_and_its_age(place, spots, by, ago_ms, why_not, words):
    assert read_words(SETTINGS, place, (60_000, 65_000), spots, by, ago_ms, why_not=why_not) == words


def say(instant):
    return {10: "Monday", 20: "Tuesday", 30: "Wednesday"}[instant]


@pytest.mark.parametrize(
    ("now", "words"),
    [
        (19, "next round due by Tuesday"),
        (20, "a round is missed, due by Tuesday: read it by hand before Wednesday"),
        (29, "a round is missed, due by Tuesday: read it by hand before Wednesday"),
        (30, "the chain of rounds is broken since Monday: read it by hand now"),
    ],
)
def test_a_round_is_due_then_missed_then_the_chain_is_broken(now, words):
    assert next_round_words((10, 20, 30), now, say) == words
