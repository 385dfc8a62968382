"""Pieces of the page by themselves: times, waits, spans, put-offs, the readings of a plot and the table behind it."""

from types import SimpleNamespace
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from monitor.model.errors import MisuseError
from monitor.model.settings import AMBIENT, Calibration, Probe, Settings, Site
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time
from monitor.model.units import Quantity
from monitor.model.words import Role
from monitor.page.forms.put_offs import put_off_until, put_off_words
from monitor.page.forms.repeats import LATEST_MS, at_its_time
from monitor.page.pictures.plot_series import PlotSeries, series_of, series_within
from monitor.page.pictures.plot_table import MOST_ROWS, table_of
from monitor.page.pictures.time_outside import TimeOutside
from monitor.page.places.page_times import age, ago, from_field, in_full, last_evening
from monitor.page.places.rule_progress import Step
from monitor.page.ports import Column
from monitor.page.shared.static_files import HERE, StaticFiles
from monitor.page.sheets.place_span import DEFAULT_MOST_MS, LONGEST_MS, SHORTEST_MS, span_of
from monitor.page.visitors.tries import ALL_TRIES, FIRST_WAIT_S, FORGET_S, FREE_TRIES, LONGEST_WAIT_S, Tries

ZONE = ZoneInfo("America/New_York")
NOW = parse_time("2026-07-20T12:00:00Z")  # a Monday, 8:00 at the yard
SETTINGS = Settings(site=Site(name="Yard", time_zone="America/New_York"))


@pytest.mark.parametrize(
    ("before", "words"),
    [
        (0, "0 min old"),
        (-HOUR_MS, "0 min old"),
        (3 * HOUR_MS, "3 h old"),
        (DAY_MS - 1, "23 h old"),
        (DAY_MS, "1 day old"),
        (2 * DAY_MS - 1, "1 day old"),
        (2 * DAY_MS, "2 days old"),
        (40 * DAY_MS, "40 days old"),
    ],
)
def test_the_age_of_a_batch(before, words):
    assert age(NOW - before, NOW).replace("0 s", "0 min") == words


def test_a_moment_ago_is_just_now():
    assert ago(NOW - MINUTE_MS + 1, NOW) == "just now"
    assert ago(NOW - MINUTE_MS, NOW) == "1 min ago"
    assert in_full(NOW, ZONE) == "Mon 20 Jul 2026, 08:00"
    assert from_field(" 2026-07-20T08:00 ", ZONE) == NOW
    assert from_field("2026-07-20T14:00+02:00", ZONE) == NOW
    assert from_field("soon", ZONE) is None


@pytest.mark.parametrize(
    ("today", "evening"),
    [
        ("2026-07-21", "2026-07-20"),  # Tuesday: Monday
        ("2026-07-20", "2026-07-17"),  # Monday: Friday
        ("2026-07-19", "2026-07-17"),  # Sunday: Friday
        ("2026-07-18", "2026-07-17"),  # Saturday: Friday
        ("2026-07-17", "2026-07-16"),  # Friday: Thursday
    ],
)
def test_people_went_home_on_the_last_working_day_before_today(today, evening):
    assert last_evening(parse_time(f"{today}T12:00:00Z"), ZONE) == parse_time(f"{evening}T16:00:00-04:00")


def failing(times, address="a", now=0.0):
    clock = [now]
    tries = Tries(lambda: clock[0])
    for _ in range(times):
        tries.failed(address)
    return tries, clock


def test_a_wait_begins_at_the_fifth_failure_and_doubles_up_to_a_quarter_of_an_hour():
    waits = [failing(times)[0].wait_s("a") for times in range(4, 16)]
    expected = [0.0] + [min(LONGEST_WAIT_S, FIRST_WAIT_S * 2**more) for more in range(11)]
    assert waits == expected
    assert (FREE_TRIES, waits[-1]) == (5, 900.0)


def test_a_wait_runs_out_by_itself_and_a_password_that_fits_ends_the_count():
    tries, clock = failing(FREE_TRIES)
    clock[0] = 0.5
    assert tries.wait_s("a") == FIRST_WAIT_S - 0.5
    clock[0] = FIRST_WAIT_S
    assert tries.wait_s("a") == 0.0
    tries.failed("a")
    assert tries.wait_s("a") == 2 * FIRST_WAIT_S
    tries.passed("a")
    tries.failed("a")
    assert tries.wait_s("a") == 0.0
    assert tries.wait_s("another") == 0.0


def test_failures_are_forgotten_after_an_hour_and_not_before():
    tries, clock = failing(FREE_TRIES + 8)
    clock[0] = FORGET_S - 0.5
    assert tries.wait_s("a") == 0.0
    tries.failed("a")
    assert tries.wait_s("a") > 2 * FIRST_WAIT_S, "the count goes on"
    fresh, clock = failing(FREE_TRIES + 8)
    clock[0] = FORGET_S
    assert fresh.wait_s("a") == 0.0
    fresh.failed("a")
    assert fresh.wait_s("a") == 0.0, "the count begins anew"


def test_sixty_failures_from_anywhere_make_everybody_wait():
    clock = [0.0]
    tries = Tries(lambda: clock[0])
    for number in range(ALL_TRIES - 1):
        tries.failed(f"address {number}")
    assert tries.wait_s("fresh") == 0.0
    tries.failed("the last")
    assert tries.wait_s("fresh") == FIRST_WAIT_S
    clock[0] = 1.5
    assert tries.wait_s("fresh") == FIRST_WAIT_S - 1.5


MORNING, EVENING = parse_time("2026-07-21T07:00:00-04:00"), parse_time("2026-07-20T18:00:00-04:00")


@pytest.mark.parametrize(
    ("text", "now", "until"),
    [
        ("2h", NOW, NOW + 2 * HOUR_MS),
        ("week", NOW, NOW + 7 * DAY_MS),
        ("evening", NOW, EVENING),
        ("evening", EVENING - 1, EVENING),
        ("evening", EVENING, EVENING + DAY_MS),
        ("morning", NOW, MORNING),
        ("morning", MORNING - 1, MORNING),
        ("morning", MORNING, MORNING + DAY_MS),
        ("2026-07-20T08:01", NOW, NOW + MINUTE_MS),
        ("2026-09-18T08:00", NOW, NOW + 60 * DAY_MS),
    ],
)
def test_a_put_off_ends_when_it_says(text, now, until):
    assert put_off_until(text, SETTINGS, now) == until


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2026-07-20T08:00", "still to come"),
        ("2026-07-20T07:59", "still to come"),
        ("", "still to come"),
        ("2026-09-18T08:01", "60 days"),
    ],
)
def test_a_put_off_needs_an_end_to_come_and_not_too_far(text, words):
    with pytest.raises(MisuseError, match=words):
        put_off_until(text, SETTINGS, NOW)


def test_put_offs_are_offered_the_shortest_first():
    assert [one for one, _ in put_off_words(SETTINGS, NOW)] == ["2h", "evening", "morning", "week"]
    at_night = parse_time("2026-07-21T03:00:00-04:00")
    assert [one for one, _ in put_off_words(SETTINGS, at_night)] == ["2h", "morning", "evening", "week"]
    assert put_off_words(SETTINGS, NOW)[0] == ("2h", "for 2 h")


def span(now=NOW, built=None, **given):
    site = SimpleNamespace(time_zone="America/New_York")
    engine = SimpleNamespace(state=SimpleNamespace(settings=SimpleNamespace(site=site)))
    given = {name.removesuffix("_"): str(text) for name, text in given.items()}
    return span_of(given, SimpleNamespace(engine=engine, now=now), SimpleNamespace(built=built))


@pytest.mark.parametrize("length", [SHORTEST_MS, DAY_MS, LONGEST_MS])
def test_a_span_that_is_given_is_shown_whichever_way_round(length):
    start = NOW - length
    assert span(from_=start, to=NOW) == (start, NOW, "")
    assert span(from_=NOW, to=start) == (start, NOW, "")


@pytest.mark.parametrize("length", [0, SHORTEST_MS - 1, LONGEST_MS + 1])
def test_a_span_too_short_or_too_long_is_replaced(length):
    assert span(from_=NOW - length, to=NOW) == (NOW - 3 * DAY_MS, NOW, "3days")


def test_a_span_ends_a_day_from_now_at_most():
    assert span(from_=NOW - DAY_MS, to=NOW + 5 * DAY_MS) == (NOW - DAY_MS, NOW + DAY_MS, "")


@pytest.mark.parametrize(
    ("asked", "built", "name"),
    [
        ("day", None, "day"),
        ("built", NOW - 5 * DAY_MS, "built"),
        ("built", None, "3days"),
        ("", NOW - DEFAULT_MOST_MS, "built"),
        ("", NOW - DEFAULT_MOST_MS - 1, "2weeks"),
        ("ever", None, "3days"),
    ],
)
def test_a_heap_is_shown_for_its_life_and_a_bin_for_three_days(asked, built, name):
    start, end, chosen = span(span=asked, built=built)
    lengths = {"day": DAY_MS, "3days": 3 * DAY_MS, "2weeks": 14 * DAY_MS, "built": NOW - (built or 0)}
    assert (start, end, chosen) == (NOW - lengths[name], NOW, name)


def test_a_heap_built_just_now_is_shown_for_an_hour():
    assert span(built=NOW - MINUTE_MS) == (NOW - SHORTEST_MS, NOW, "built")


def look(columns, probe=None, flagged=()):
    """Return a look at one probe's readings: columns of (unit, [(time, millionths), …])."""
    made = [Column(unit, *(np.array(side, np.int64) for side in zip(*rows, strict=True))) for unit, rows in columns]
    probes = {} if probe is None else {"p": probe}
    return SimpleNamespace(
        engine=SimpleNamespace(state=SimpleNamespace(settings=SimpleNamespace(probes=probes))),
        columns=lambda _probe, start, end: [
            Column(one.unit, *(side[(one.time >= start) & (one.time <= end)] for side in (one.time, one.micro)))
            for one in made
        ],
        dropped=lambda *_: set(flagged),
    )


def test_readings_of_two_units_are_one_line_in_order_of_time():
    found = series_of(
        look([("Cel", [(10, 20_000_000), (30, 21_000_000)]), ("[degF]", [(20, 68_000_000)])]), "p", 0, 100
    )
    assert (found.time.tolist(), found.milli.tolist()) == ([10, 20, 30], [20_000, 20_000, 21_000])
    assert found.quantity is Quantity.TEMPERATURE


def test_flagged_readings_and_those_outside_the_span_are_not_drawn():
    rows = [(at, 20_000_000 + at) for at in (9, 10, 20, 30, 31)]
    found = series_of(look([("Cel", rows)], flagged=[20]), "p", 10, 30)
    assert found.time.tolist() == [10, 30]


def test_a_calibration_counts_from_the_instant_it_is_in_force():
    plus_half = Calibration(points=((0, 500),), start=20)
    probe = Probe(place=AMBIENT, role=Role.AMBIENT, address="", calibrations=(plus_half,))
    rows = [(at, 10_000_000) for at in (10, 19, 20, 30)]
    assert series_of(look([("Cel", rows)], probe), "p", 0, 100).milli.tolist() == [10_000, 10_000, 10_500, 10_500]


@pytest.mark.parametrize(
    ("start", "end", "times"),
    [
        (20, 40, [10, 20, 30, 40, 50]),
        (21, 39, [20, 30, 40]),
        (10, 50, [10, 20, 30, 40, 50]),
        (41, 49, [40, 50]),
    ],
)
def test_one_reading_on_either_side_carries_the_line_to_the_edge(start, end, times):
    rows = [(at, 20_000_000) for at in (10, 20, 30, 40, 50)]
    assert series_within(look([("Cel", rows)]), "p", start, end, 15).time.tolist() == times


def test_the_line_is_carried_over_no_longer_gap():
    rows = [(at, 20_000_000) for at in (0, 100, 200)]
    assert series_within(look([("Cel", rows)]), "p", 50, 150, 49).time.tolist() == [100]
    assert series_within(look([("Cel", rows)]), "p", 50, 150, 50).time.tolist() == [0, 100, 200]


def test_what_a_probe_read_outside_is_not_drawn():
    rows = [(at, 20_000_000) for at in range(0, 100, 10)]
    away = (TimeOutside(start=20, end=40, fit=60, logged=20),)
    assert series_within(look([("Cel", rows)]), "p", 0, 90, 10, away).time.tolist() == [0, 10, 60, 70, 80, 90]
    still = (TimeOutside(start=20, end=None, fit=None, logged=20),)
    assert series_within(look([("Cel", rows)]), "p", 0, 90, 10, still).time.tolist() == [0, 10]


def line(times, milli, quantity=Quantity.TEMPERATURE, outings=()):
    return PlotSeries("p", quantity, np.array(times, np.int64), np.array(milli, np.int64), outings)


def table(*lines, start, end):
    return table_of([SimpleNamespace(series=lines)], start, end, "degC", ZONE, NOW)


def test_a_short_span_has_a_row_for_each_hour_the_newest_first():
    start = NOW - 2 * HOUR_MS
    found = table(
        line([start, start + 1, start + HOUR_MS], [20_000, 21_500, 22_000]),
        line([start], [70_000], Quantity.MOISTURE),
        start=start,
        end=NOW,
    )
    assert (found.step, found.left_out, found.columns) == ("hour", 0, ("p", "p"))
    assert [when for when, _ in found.rows] == ["07:00", "06:00"]
    assert [cells[0] for _, cells in found.rows] == ["22 °C", "20 to 21.5 °C"]
    assert found.rows[-1][1][1] == "70 %"


def test_two_days_are_shown_by_the_hour_and_more_by_the_day():
    assert table(line([], []), start=NOW - 2 * DAY_MS, end=NOW).step == "hour"
    assert table(line([], []), start=NOW - 2 * DAY_MS - 1, end=NOW).step == "day"


def test_a_day_is_the_yards_own_also_when_the_clocks_change():
    start = parse_time("2026-10-30T12:00:00-04:00")
    end = parse_time("2026-11-03T12:00:00-05:00")
    # The first of November has 25 hours; its last reading is of 23:30.
    found = table(line([parse_time("2026-11-01T23:30:00-05:00")], [20_000]), start=start, end=end)
    assert [when for when, _ in found.rows] == ["Tue 3 Nov", "Mon 2 Nov", "Sun 1 Nov", "Sat 31 Oct", "Fri 30 Oct"]
    assert [cells[0] for _, cells in found.rows] == ["–", "–", "20 °C", "–", "–"]


def test_a_long_table_says_how_many_rows_are_left_out():
    found = table(line([], []), start=NOW - (MOST_ROWS + 9) * DAY_MS, end=NOW)
    assert (len(found.rows), found.left_out) == (MOST_ROWS, 10)


def test_the_readings_beside_the_span_are_not_in_its_table():
    start = NOW - HOUR_MS
    found = table(line([start - 1, NOW + 1], [1_000, 2_000]), start=start, end=NOW)
    assert {cells for _, cells in found.rows} == {("–",)}


@pytest.mark.parametrize(
    ("outing", "cells"),
    [
        (TimeOutside(start=NOW - HOUR_MS, end=None, fit=None, logged=0), ["out", "–"]),
        (TimeOutside(start=NOW - 2 * HOUR_MS, end=NOW - HOUR_MS, fit=NOW - HOUR_MS, logged=0), ["–", "out"]),
        (TimeOutside(start=NOW - 2 * HOUR_MS, end=NOW - HOUR_MS, fit=NOW, logged=0), ["not counted", "out"]),
        (TimeOutside(start=NOW - 2 * HOUR_MS, end=NOW - HOUR_MS + 1, fit=NOW, logged=0), ["out", "out"]),
        (TimeOutside(start=NOW, end=None, fit=None, logged=0), ["–", "–"]),
    ],
)
def test_a_row_without_readings_says_why(outing, cells):
    found = table(line([], [], outings=(outing,)), start=NOW - 2 * HOUR_MS, end=NOW)
    assert [row[0] for _, row in found.rows] == cells


@pytest.mark.parametrize(
    ("done", "needed", "whole"),
    [(2, 5, True), (0, 1, True), (2.5, 5, False), (2, 4.5, False), (3, 31, True), (3, 32, False), (0, 0, False)],
)
def test_counts_that_are_whole_and_few_are_drawn_as_single_strokes(done, needed, whole):
    assert Step(done=done, needed=needed, words="").whole is whole


@pytest.mark.parametrize(
    ("form", "when"),
    [
        ({"late_ms": "999"}, None),
        ({"late_ms": "1000"}, "2026-07-20T11:59:59"),
        ({"late_ms": str(LATEST_MS)}, "whatever"),
        ({"late_ms": str(LATEST_MS + 1)}, None),
        ({"late_ms": "-5000"}, None),
        ({"late_ms": "5000", "when": "08:00"}, "08:00"),
        ({}, None),
    ],
)
def test_a_form_that_came_late_bears_the_time_at_which_it_was_pressed(form, when):
    found = at_its_time(form, NOW).get("when")
    assert (found is None) is (when is None)
    assert when in (None, "whatever") or found.startswith(when)


def test_scripts_go_out_without_what_only_serves_their_readers():
    files = StaticFiles()
    written = (HERE / "static" / "kept.js").read_text(encoding="utf-8")
    sent = bytes(files.answer("kept.js").body).decode()
    assert 0 < len(sent) < len(written)
    assert not any(line.lstrip() != line or line.startswith("//") or not line for line in sent.splitlines())
    # A text over several lines would lose its indentation.
    assert all(
        line.count("`") % 2 == 0 for path in (HERE / "static").glob("*.js") for line in path.read_text().splitlines()
    )


@pytest.mark.parametrize(
    "text", ["9999-12-31T23:59", "0001-01-01T00:00", "0001-01-01T00:00+23:00", "9999-12-31T23:00-12:00"]
)
def test_a_time_at_the_end_of_the_calendar_is_no_time_of_a_field(text):
    """Found for a law of its fuzzer: in another zone it lies beyond the calendar, and the page answered with a fault."""
    assert from_field(text, ZONE) is None
    assert from_field(text, ZoneInfo("Asia/Tokyo")) is None
