"""The yard's first sheet: the day at its head, and the rows of what needs a person."""

import re
from dataclasses import replace
from html import unescape

import pytest
from page_visitor import words_of

from monitor.model.times import HOUR_MS, MINUTE_MS


def head(near):
    text = near.get("/").text
    found = re.search(r'<div class="dayline">(.*?)</div>', text, re.DOTALL)[1]
    return [
        " ".join(re.sub(r"<[^>]+>", "", one).split()) for one in re.findall(r"<(?:h1|p)>.*?</(?:h1|p)>", found, re.S)
    ]


def row(near, place):
    """Return the lines of a place's first row."""
    text = near.get("/").text
    found = re.search(rf'<li class="item [\w ]+" id="need-{place}/.*?</li>', text, re.DOTALL)[0]
    return words_of(f'<ol class="ledger">{found}</ol>', "today")


def test_the_head_says_the_day_and_the_air_that_is_known(near):
    assert head(near) == ["Tern Hollow allotments, Mon 20 July, 08:00", "air 68 °F, high 68 °F yesterday"]


def test_an_old_reading_of_the_air_says_how_old_it_is(yard, near):
    yard.clock += 3 * HOUR_MS
    assert head(near)[1] == "air 68 °F, 3 h ago, high 68 °F yesterday"


def test_yesterdays_high_is_told_only_of_a_day_that_was_watched(yard, near):
    yard.clock += 24 * HOUR_MS  # yesterday was read until eight in the morning
    assert head(near)[1] == "air 68 °F, 24 h ago"


def test_without_a_probe_in_the_air_there_is_no_number(yard, near, monkeypatch):
    from monitor.page.pictures import air_now

    monkeypatch.setattr(air_now, "AMBIENT", "elsewhere")
    assert head(near) == ["Tern Hollow allotments, Mon 20 July, 08:00"]


def test_a_row_says_where_what_how_much_why_and_what_to_press(near):
    assert row(near, "b1")[:3] == [
        "Sunny wall bin, now: 93 °F danger from 90 °F cool it",
        "Worms in danger since 05:55.",
        "Shade it; lay bottles of ice on top.",
    ]
    assert row(near, "b1")[3] == "I'll cool it"
    assert row(near, "b1")[4] == "How, what to mind at Sunny wall bin"


def test_who_takes_a_thing_stands_beside_it_and_can_give_it_back(yard, near):
    near.send("/name", name="Ann")
    near.send("/do/answer", alarm="b1/worms-in-danger", answer="seen")
    told = row(near, "b1")
    assert told[1] == "You are on it."
    assert told[4] == "Not me after all"
    assert "I'll cool it" not in told
    near.send("/name", name="Bo")
    yard.clock += 5 * MINUTE_MS
    assert row(near, "b1")[1] == "Ann has been on it since 08:00."
    assert "Ann cannot after all" in row(near, "b1"), "nobody takes Ann's job from her by mistake"
    near.send("/do/answer", alarm="b1/worms-in-danger", answer="not me after all")
    assert "I'll cool it" in row(near, "b1")


def test_what_somebody_without_a_name_took_can_be_given_back(near):
    near.send("/do/answer", alarm="b1/worms-in-danger", answer="seen")
    near.send("/name", name="Bo")
    assert "Somebody at the yard's computer cannot after all" in row(near, "b1")


def test_guests_see_what_is_wrong_and_nothing_to_press(open_page):
    elsewhere, _, keeper = open_page
    kept = keeper()
    answer = kept.send("/do/guest", name="Bo", page="/people")
    link = re.search(r"/guest/[\w.~-]+", kept.get(answer.headers.get("location", "/people")).text + answer.text)
    guest = elsewhere()
    guest.get(link[0])
    text = guest.get("/").text
    assert "Worms in danger since" in text
    assert "How, what to mind" in text
    assert "<button" not in re.search(r'<ol class="ledger">(.*?)</ol>', text, re.S)[1]


def test_a_heap_that_went_cold_has_a_turning_behind_its_fold_and_at_hand_once_it_is_taken(yard, near):
    for _ in range(24):
        yard.read(("p1-a", 50.0, "Cel"), ("p1-b", 49.0, "Cel"), after_ms=HOUR_MS)
    key = next(key for key, one in yard.alarms.items() if key.startswith("p1/") and one.on)
    text = near.get("/").text
    item = re.search(r'<li class="item today" id="need-p1/.*?</li>', text, re.S)[0]
    assert "Steam scalds" in item.split("<details")[0], "the danger is not folded away"
    near.send("/do/answer", alarm=key, answer="seen")
    assert "Not me after all" in unescape(near.get("/").text)


@pytest.mark.parametrize(("silent_h", "shown"), [(4, "4 h silent"), (50, "2 days silent")])
def test_what_is_silent_says_for_how_long(yard, near, silent_h, shown):
    yard.clock += silent_h * HOUR_MS
    with yard.writer.turn(yard.clock) as turn:
        turn.advance(yard.clock)
    told = [
        one
        for one in words_of(near.get("/").text, "today")
        if re.search(r"silent (check the probe|measure it by hand)$", one)
    ]
    assert len(told) >= 4
    assert all(shown in one for one in told)


def test_a_number_that_nothing_measures_any_more_says_how_old_it_is(yard, near):
    near.send("/do/work", place="b1", kind="probe out", probe="b1-t")
    yard.clock += 30 * MINUTE_MS
    told = row(near, "b1")
    assert told[0] == "Sunny wall bin, now: 93 °F danger from 90 °F 35 min ago cool it"


def test_a_name_that_is_shortened_in_rows_is_still_you(yard, near):
    near.send("/name", name="Ann Barnaby-Cholmondeley of the lower gate, plots nine to twenty-two")
    near.send("/do/answer", alarm="b1/worms-in-danger", answer="seen")
    told = row(near, "b1")
    assert told[1] == "You are on it."
    assert told[4] == "Not me after all"


def test_the_fire_service_is_one_tap_away_where_a_heap_may_burn_and_not_where_it_is_only_hot(yard, near):
    yard.configuration = replace(yard.configuration, fire_number="555 0100")
    yard.read(("p1-a", 72.0, "Cel"), ("p1-b", 71.5, "Cel"))
    for _ in range(8):
        yard.read(("p1-a", 72.0, "Cel"), ("p1-b", 71.5, "Cel"), after_ms=HOUR_MS)
    assert yard.alarms["p1/hot"].on
    assert "555 0100" not in " ".join(row(near, "p1"))
    yard.read(("p1-a", 79.0, "Cel"), ("p1-b", 78.5, "Cel"))
    yard.read(("p1-a", 79.0, "Cel"), ("p1-b", 78.5, "Cel"))
    assert yard.alarms["p1/too-hot"].on
    assert "Fire service: 555 0100" in row(near, "p1")


def test_the_oldest_last_reading_is_of_any_thing_that_is_measured_of_a_place(yard, near):
    from monitor.page.sheets.yard_sheet import _read_since

    for key, record in list(yard.alarms.items()):
        if record.on:
            near.send("/do/answer", alarm=key, answer="put off", until="2h")
    yard.read(("p1-a", 55.0, "Cel"), ("p1-b", 54.0, "Cel"), ("b1-t", 22.0, "Cel"), after_ms=30 * MINUTE_MS)
    with yard.look() as look:
        assert _read_since(look) == "07:55", "the bin's damp was read at 07:55, all temperatures half an hour later"


def test_a_hot_heap_whose_probes_stopped_is_looked_at_before_anything_is_measured(yard, near):
    yard.read(("p1-a", 78.0, "Cel"), ("p1-b", 77.5, "Cel"))
    yard.clock += 6 * HOUR_MS
    with yard.writer.turn(yard.clock) as turn:
        turn.advance(yard.clock)
    assert [key for key, one in yard.alarms.items() if key.startswith("p1/hot-and-lost") and one.on]
    lost = re.search(r'<li class="item [\w ]+" id="need-p1/hot-and-lost.*?</li>', near.get("/").text, re.DOTALL)[0]
    assert "<em>look now</em>" in lost
    assert "by hand" not in lost.split("<details")[0]
