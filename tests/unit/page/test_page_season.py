"""The sheet of the season: heaps beside each other by days since they were built, and the year of each bin."""

import re

import pytest
from page_yard_for_tests import BUILT, NOW

from monitor.model.events import EventKind
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.page.sheets.season_sheet import HEAPS_MOST


def log(yard, **payload):
    assert yard.put(EventKind.WORK, payload, again=True).at is not None


def words(text):
    return " ".join(re.sub(r"<[^>]+>", " ", re.sub(r"<svg.*?</svg>", " ", text, flags=re.DOTALL)).split())


def pictures(text, kind):
    return re.findall(rf'<div class="{kind}">(<svg.*?</svg>)</div>', text, re.DOTALL)


def test_the_heap_and_the_bin_of_the_yard_with_their_figures(yard, near):
    log(yard, kind="turned", place="p1", time=NOW - 20 * HOUR_MS)
    log(yard, kind="watered", place="p1", time=NOW - 20 * HOUR_MS, amount="10", measure="gal", unit="gal")
    log(yard, kind="fed", place="b1", time=NOW - DAY_MS, amount="5", measure="lb", unit="lb", what="scraps")
    text = near.get("/season").text
    assert "<h1>Season, August 2025 to July 2026</h1>" in text
    said = words(text)
    for found in (
        "Bay 1 , built 17 Jul 2026", "To the hold 21 hours", "Turned once", "Water 10 gal, once", "C/N not known",
        "Rule not met yet: ", " of 15 days, ", "(us-112-54-turned)", "lies there still, day 3",
        "Sunny wall bin", "Hottest 93.2 °F, 20 Jul", "85 °F or more 1 day", "43 °F or less no day", "Fed 5 lb, once",
        "Alarms of heat or frost on 1 day", "Moisture 72 % Fed",
    ):  # fmt: skip
        assert found in said, (found, said[-1500:])
    (course,) = pictures(text, "course")
    assert ">t</text>" in course
    assert 'class="d-hold-line"' in course
    assert [len(pictures(text, f"band {width}")) for width in ("wide", "narrow")] == [1, 1]


def test_it_has_a_table_for_the_pictures(near):
    said = words(near.get("/season").text)
    assert "Heap C/N To the hold At the hold Hottest Turned Water Went in Rule Came of it Bay 1, 17 Jul 2026" in said
    assert (
        "Month Lowest Highest Too hot Frost Moisture Fed Harvested July 2026 71.6 °F 93.2 °F 1 day 0 days 72 %" in said
    )


def test_it_does_not_renew_itself(near):
    assert 'data-live=""' in near.get("/season").text
    assert 'data-live="/live"' in near.get("/report").text


@pytest.mark.parametrize(
    ("asked", "there", "not_there"),
    [
        ("show=heaps", "Bay 1", "Bins, day by day"),
        ("show=bins", "Sunny wall bin", "by days since they were built"),
        ("show=p2", "By the log no heap lay here", "Bins, day by day"),
        ("show=b1&year=2026", "<h1>Season, 2026</h1>", "by days since they were built"),
        ("year=2025", "By the log no heap lay here", "Look again"),
    ],
)
def test_one_place_or_one_kind_and_another_year(near, asked, there, not_there):
    text = near.get(f"/season?{asked}").text
    sheet = text[text.index("<main") :]
    assert there in sheet
    assert not_there not in sheet


@pytest.mark.parametrize(
    "asked", ["year=26", "year=2027", "year=%00", "show=none", "first=x", "first=-3", "first=99999"]
)
def test_anything_else_is_answered_and_says_so(near, asked):
    answer = near.get(f"/season?{asked}")
    assert answer.status_code == 200
    assert ("instead." in answer.text) == (not asked.startswith("first"))


def test_the_years_lead_from_one_to_another_and_keep_the_place(near):
    links = re.findall(r'href="(/season[^"]*)"', near.get("/season?show=b1").text)
    assert links[1:3] == ["/season?show=b1", "/season?year=2026&amp;show=b1"]


def test_guests_get_a_refusal(open_page):
    elsewhere, page, keeper = open_page
    _, secret = page.guests.make("a neighbour", "Ann", 0)
    guest = elsewhere("192.0.2.9")
    guest.get(f"/guest/{secret}", follow_redirects=False)
    assert guest.get("/season").status_code == 403
    assert keeper().get("/season").status_code == 200


def test_a_heap_that_nobody_read_says_so_and_draws_no_line(yard, near):
    log(
        yard,
        kind="built",
        place="p2",
        time=NOW - 2 * DAY_MS,
        parts="leaves=3 bag; <b>straw</b>=2 bag",
        note="<i>wet</i>",
    )
    text = near.get("/season?show=p2").text
    said = words(text)
    assert "To the hold nobody read it" in said
    assert "nothing is proven" in said or "none is followed" in said
    (course,) = pictures(text, "course")
    assert "d-course-line" not in course
    assert "<b>straw" not in text
    assert "<i>wet" not in text
    assert "\u202e" not in text


def test_forty_heaps_stay_readable_a_dozen_at_a_time(yard, near):
    for number in range(40):
        at = BUILT + number * HOUR_MS
        if number:
            log(yard, kind="emptied", place="p2", time=at - 1000)
        log(yard, kind="built", place="p2", time=at)
    text = near.get("/season?show=p2").text
    # On a slow computer some of them still wait.
    assert len(pictures(text, "course")) + text.count("Look again") == HEAPS_MOST
    assert pictures(text, "course")
    assert f"Heaps 1 to {HEAPS_MOST} of 40." in text
    assert len(text) < 90_000
    assert '<a href="/season?show=p2&amp;first=12">13 to 24 of 40</a>' in text
    last = near.get("/season?show=p2&first=36").text
    assert "Heaps 37 to 40 of 40." in last
    assert '<a href="/season?show=p2&amp;first=24">25 to 36 of 40</a>' in last
    assert "first=48" not in last
    assert "No more heaps." in near.get("/season?show=p2&first=48").text


def test_the_places_lead_there(near):
    assert 'href="/season?show=heaps"' in near.get("/place/p1").text
    assert 'href="/season?show=b1"' in near.get("/place/b1").text
