"""What needs a person stands in its rank, whoever has seen it; a burning heap is not offered what feeds a fire."""

import re
from dataclasses import replace
from html import unescape

import pytest
from page_visitor import browser
from page_yard_for_tests import TestYard, page_of

from monitor.model.natural_order import natural
from monitor.model.words import AlarmState
from monitor.page.pictures.section_pictures import NARROW, WIDE, section
from monitor.page.places.all_places import place_view


@pytest.fixture
def burning(yard):
    yard.burn()
    assert yard.alarms["p1/fire"].state is AlarmState.UNACKNOWLEDGED
    return yard


def listed(text):
    """Return the places of what needs doing, in order."""
    needs = re.search(r'<ol class="ledger">(.*?)id="watched"', text, re.DOTALL)[1]
    return re.findall(r'<h3><a href="/place/(\w+)"', needs)


def ranks(text):
    """Return (place, rank) of what needs doing, in order."""
    return [
        (place, rank)
        for rank, key in re.findall(r'<li class="item (\w+)[^"]*" id="need-([^"]+)"', text)
        for place in [key.split("/")[0]]
    ]


def test_a_burning_heap_is_not_offered_a_turning_nor_a_week(burning, near):
    text = near.get("/place/p1").text
    assert text.split('class="over-time"')[0].split("<main", 1)[1].count("FIRE DANGER at") == 1, "said once, not twice"
    assert "Turning now" not in text
    assert "Leave this heap shut" in text
    assert re.search(r'class="state">fire danger, holding', text)
    need = re.search(r'<li class="item fire.*?</li>', text, re.DOTALL)[0]
    assert "for 2 h" in need
    assert "for a week" not in need
    answer = near.send("/do/answer", alarm="p1/fire", answer="put off", until="week")
    assert (answer.status_code, "2 h at most" in answer.text) == (400, True)
    assert burning.alarms["p1/fire"].state is AlarmState.UNACKNOWLEDGED


def test_a_heap_that_is_well_is_still_offered_a_turning(near):
    assert "Turning now" in near.get("/place/p1").text


def test_a_fire_that_was_seen_does_not_sink(burning, near):
    near.send("/do/answer", alarm="b1/worms-in-danger", answer="seen")
    near.send("/do/answer", alarm="p1/fire", answer="seen")
    text = near.get("/").text
    assert listed(text)[:2] == ["p1", "b1"], "both highest, both seen: the fire first"
    assert ranks(text)[:2] == [("p1", "fire"), ("b1", "now")], "they keep their rank"


def quiet_hours(yard):
    """Let four hours pass in which only the heap is heard: the bin's probes fall silent."""
    yard.read(("p1-a", 84.5, "Cel"), ("p1-b", 84.0, "Cel"), after_ms=4 * 3_600_000)
    assert yard.alarms["b1/silent/b1-m"].state is AlarmState.UNACKNOWLEDGED


def test_a_lesser_alarm_that_nobody_has_seen_stands_below_a_fire_that_somebody_has(burning, near):
    near.send("/do/answer", alarm="p1/fire", answer="seen")
    near.send("/do/answer", alarm="b1/worms-in-danger", answer="seen")
    quiet_hours(burning)
    text = near.get("/").text
    assert listed(text)[:2] == ["p1", "b1"]
    assert listed(text)[2:4] == ["b1", "b1"], "the silent probes, which nobody has seen"
    assert text.index("FIRE DANGER") < text.index("No word from a probe")


def test_nothing_moves_nor_changes_its_rank_when_somebody_takes_it(burning, near):
    quiet_hours(burning)
    before = ranks(near.get("/").text)
    assert len(before) >= 4
    keys = [key for key, one in burning.alarms.items() if one.state is AlarmState.UNACKNOWLEDGED]
    assert len(keys) >= 4
    near.send("/name", name="Ann")
    for key in keys:
        near.send("/do/answer", alarm=key, answer="seen")
        assert ranks(near.get("/").text) == before, key
    assert near.get("/").text.count("ou are on it.") == len(keys)
    for key in keys:
        near.send("/do/answer", alarm=key, answer="not me after all")
        assert ranks(near.get("/").text) == before, key
    assert "ou are on it" not in near.get("/").text


def test_a_fire_on_the_yards_sheet_offers_neither_a_turning_nor_to_put_it_off(burning, near):
    text = near.get("/").text
    block = re.search(r'<li class="item fire".*?<div class="do">.*?</div>', text, re.DOTALL)[0]
    assert "Turning now" not in block
    assert "put off" not in block.lower()
    assert "<details" not in block, "nothing is folded"
    assert "Do not dig or turn it: air feeds it" in block
    assert "do not climb on it" in block
    assert "Smoke or a burnt smell?\nCall the fire service." in block
    assert "I'll keep people off" in unescape(block)
    assert "tel:" not in block, "no number that nobody wrote down for this place"
    near.send("/do/answer", alarm="p1/fire", answer="put off", until="2h")
    text = near.get("/").text
    assert ranks(text)[0] == ("p1", "fire"), "pinned until it is over"
    assert "Open it again" in text


def test_the_sites_own_fire_number_is_one_tap_away(burning, near):
    burning.configuration = replace(burning.configuration, fire_number="+1 (555) 0100", fire_address="Mill Lane")
    text = near.get("/").text
    assert '<a href="tel:+15550100">Call the fire service: <span>+1 (555) 0100</span></a>' in text
    assert "Say: a compost heap, burning inside, at Mill Lane." in text


def test_a_place_whose_alarm_was_put_off_says_so_at_a_glance(yard, near):
    from monitor.page.places.needs import needs

    quiet_hours(yard)
    near.send("/do/answer", alarm="b1/silent/b1-m", answer="put off", until="2h")
    with yard.look() as look:
        found = [one for one in needs(look.engine, look.now) if one.key == "b1/silent/b1-m"]
        view = place_view(look.engine, "b1", found, look.now)
    assert view.worst is None
    assert view.look == "watch", "no empty ring, which would say that all is well"
    assert "put off until" in view.heard


def test_a_second_press_of_seen_says_by_whom(yard, near):
    near.send("/name", name="Ann")
    assert near.send("/do/answer", alarm="b1/worms-in-danger", answer="seen").status_code == 303
    answer = near.send("/do/answer", alarm="b1/worms-in-danger", answer="seen")
    assert answer.status_code == 303
    assert "It is seen already by Ann" in near.get(answer.headers["location"]).text


def test_a_seen_is_taken_back(yard, near):
    near.send("/do/answer", alarm="b1/worms-in-danger", answer="seen")
    assert "Not me after all" in near.get("/place/b1").text
    near.send("/do/answer", alarm="b1/worms-in-danger", answer="not me after all")
    assert yard.alarms["b1/worms-in-danger"].state is AlarmState.UNACKNOWLEDGED


def test_names_stand_in_natural_order():
    names = ["Bay 10", "Bay 2", "bay 1", "Ash", "Bay 11"]
    assert sorted(names, key=natural) == ["Ash", "bay 1", "Bay 2", "Bay 10", "Bay 11"]


def test_a_yard_where_a_place_is_unknown_is_not_called_well(yard, near):
    for key, record in list(yard.alarms.items()):
        if record.state is AlarmState.UNACKNOWLEDGED:
            near.send("/do/answer", alarm=key, answer="put off", until="2h")
    from monitor.page.places.all_places import places
    from monitor.page.places.needs import needs

    yard.clock += 3 * 3_600_000
    with yard.writer.turn(yard.clock) as turn:
        turn.advance(yard.clock)
    with yard.look() as look:
        views = {view.place: view for view in places(look.engine, needs(look.engine, look.now), look.now, look.order)}
    assert not views["b1"].known
    assert not views["p1"].known
    assert views["p2"].known, "nothing lies there, so there is nothing to know"
    assert "All places are as they should be" not in near.get("/").text


def test_a_yard_without_places_claims_nothing(tmp_path):
    from monitor.configuration import load_text
    from monitor.proof.rules import rule_ids

    yard = TestYard(tmp_path, lived=True)
    try:
        import json

        from monitor.configuration import canonical_settings
        from monitor.model.events import EventKind

        bare = load_text('[site]\nname = "Bare"\ntime_zone = "UTC"\n', None, {}, rules=rule_ids())
        with yard.writer.turn(yard.clock) as turn:
            turn.event(EventKind.STARTED, {"down_since": None})
            turn.event(EventKind.SETTINGS, {"settings": json.loads(canonical_settings(bare.settings))})
        app, _ = page_of(yard)
        text = browser(app).get("/").text
        assert "as they should be" not in text
        assert "Nothing needs doing" not in text
        assert "No pile and no bin is in the configuration yet" in text
        labels = browser(app).get("/labels").text
        assert "nothing to label" in labels
        assert "()" not in labels
        assert "No pile and no bin is in the configuration yet" in browser(app).get("/season").text
    finally:
        yard.close()


def test_after_a_turning_the_sheet_says_that_it_took(yard, near):
    near.send("/do/work", place="p1", kind="turned")
    text = near.get("/place/p1").text
    assert "Getting warm again" not in text, "its probes lie outside"
    assert re.search(r"Turned \d\d:\d\d; its probes lie outside", text)
    assert "0 of 5 turnings; the 1st counts when it is back at temperature" in text
    near.send("/do/probes", place="p1")
    yard.read(("p1-a", 40.0, "Cel"), ("p1-b", 40.0, "Cel"), after_ms=2 * 3_600_000)
    assert "Getting warm again since the turning" in near.get("/place/p1").text
    for _ in range(12):
        yard.read(("p1-a", 60.0, "Cel"), ("p1-b", 60.0, "Cel"))
    text = near.get("/place/p1").text
    assert "1 of 5 turnings" in text
    assert "counts when it is back" not in text


def test_the_yard_says_who_watches_what(yard, near):
    text = near.get("/").text
    assert "2 places watched by probes" in text
    near.send("/do/work", place="p2", kind="built", when="2026-07-19T08:00", form="other")
    near.send("/do/reading", place="p2", value_1="141", value_2="138", by="Ann", again="1")
    text = near.get("/").text
    assert "1 read by hand (Bay 2: Ann" in text
    assert "<b>138 °F</b> coldest core, by hand" in text


def test_an_emptied_bin_is_empty_and_shows_neither_food_nor_worms(yard, near):
    near.send("/do/work", place="b1", kind="fed", amount="1", measure="kg", form="fed")
    assert "d-feed" in near.get("/place/b1").text
    near.send("/do/work", place="b1", kind="emptied", form="other")
    text = near.get("/place/b1").text
    assert '<p class="state">empty</p>' in text
    assert "d-feed" not in text.split("</svg>")[0]
    assert "d-worm" not in text.split("</svg>")[0]


def test_a_remark_under_a_plot_names_days_by_their_date(yard, near):
    # The worms' alarm rang on Monday morning; whoever reads its remark on Wednesday must not take *yesterday* for Tuesday.
    yard.clock += 48 * 3_600_000
    with yard.writer.turn(yard.clock) as turn:
        turn.advance(yard.clock)
    remarks = re.findall(
        r'<li value="\d+"[^>]*class="told">(.*?)</li>', near.get("/place/b1?span=3days").text, re.DOTALL
    )
    assert remarks
    assert any("WORMS IN DANGER" in one for one in remarks)
    assert not any("since yesterday" in one or "since today" in one for one in remarks)


def test_an_empty_bay_shows_no_heap_and_offers_no_turning(near):
    text = near.get("/place/p2").text
    assert "By the log nothing lies here" in text
    assert "Turning now" not in text
    assert "its steam scalds" not in text
    assert "Nothing is known to lie there." in text
    assert 'class="d-earth"' in near.get("/place/p1").text
    assert 'class="d-earth"' not in text


def test_a_heap_that_nobody_said_was_built_is_not_said_to_be(yard, near):
    near.send("/do/reading", place="p2", value_1="141", by="Ann", again="1")
    text = near.get("/place/p2").text
    assert "heating, first read just now" in text
    assert re.search(r"<li>first read \d", text)
    assert "since its first reading" in text
    assert "<li>built" not in text
    assert " old</p>" not in text


def test_a_hand_reading_beside_probes_stands_on_the_sheet(yard, near):
    near.send("/do/reading", place="b1", value="84.5", by="somebody at the yard's computer")
    text = near.get("/place/b1").text
    assert "84.5 °F by hand, somebody at the yard&#39;s computer, just now" in text
    assert "in the bedding" in text
    near.send("/do/reading", place="p1", value="150")
    text = near.get("/place/p1").text
    assert "150 °F by hand" in text
    assert "inside: coldest" in text


def test_one_probe_outside_stops_no_more_than_its_own_readings(yard, near):
    near.send("/do/work", place="p1", kind="probe out", probe="p1-a")
    text = near.get("/place/p1").text
    assert re.search(r"A probe has been outside since \d\d:\d\d", text)
    assert "Put it back in when the work is done; until then what it shows counts for nothing." in text
    assert "nothing counts for the rule" not in text
    near.send("/do/work", place="p1", kind="probe out", probe="p1-b")
    text = near.get("/place/p1").text
    assert "Its core probes are outside" in text
    assert "2 probes have been outside" in text


def test_a_burning_heap_is_not_called_getting_warm(burning, near):
    near.send("/do/work", place="p1", kind="turned", form="other", again="1")
    near.send("/do/probes", place="p1")
    burning.read(("p1-a", 85.0, "Cel"), ("p1-b", 84.0, "Cel"))
    text = near.get("/place/p1").text
    assert "fire danger, " in text
    assert "Getting warm again" not in text


def test_a_day_of_which_nothing_is_known_is_not_said_to_count(yard, near):
    for _ in range(12):
        yard.read(("p1-a", 60.0, "Cel"), ("p1-b", 60.0, "Cel"))
    assert "Running; today counts so far." in near.get("/place/p1").text
    yard.clock += 30 * 24 * 3_600_000
    text = near.get("/place/p1").text
    assert "today counts so far" not in text
    assert "Running; nothing of the last 30 days counts yet." in text


def test_a_guest_reads_no_name_of_who_put_an_alarm_off(yard, near):
    from monitor.page.places.needs import needs

    quiet_hours(yard)
    near.send("/name", name="Ann")
    near.send("/do/answer", alarm="b1/silent/b1-m", answer="put off", until="2h")
    with yard.look() as look:
        found = [one for one in needs(look.engine, look.now) if one.key == "b1/silent/b1-m"]
        view = place_view(look.engine, "b1", found, look.now, names=False)
    assert found[0].stand.endswith(" by Ann")
    assert "put off until" in view.heard
    assert "Ann" not in view.heard


def test_a_probe_that_is_just_back_is_not_shown_as_if_it_counted(yard, near):
    near.send("/do/work", place="b1", kind="probe out", probe="b1-t")
    near.send("/do/work", place="b1", kind="probe in", probe="b1-t")
    yard.read(("b1-t", 31.0, "Cel"), after_ms=60_000)
    text = near.get("/place/b1").text
    assert re.search(r"87\.8 °F in the bedding \(just back: counts again from \d\d:\d\d\)", text)
    assert re.search(r"just now, counts again from \d\d:\d\d</span>", text)
    yard.read(("b1-t", 31.0, "Cel"), after_ms=61 * 60_000)
    assert "counts again" not in near.get("/place/b1").text


def test_a_place_says_how_warm_it_is_by_one_probe_or_from_its_coldest_to_its_hottest(yard, near):
    heap, bed = near.get("/place/p1").text, near.get("/place/b1").text
    assert "<p>inside: coldest 136.4 °F, hottest 140 °F</p>" in heap
    assert "93.2 °F in the bedding" in bed
    assert "to 93.2 °F in the bedding" not in bed
    near.send("/do/work", place="p1", kind="probe out", probe="p1-b")
    assert "<p>140 °F at p1-a</p>" in near.get("/place/p1").text


def test_what_was_last_heard_stays_on_the_sheet_with_its_age_when_nothing_speaks_any_more(yard, near):
    # `status` says the same: a number that vanishes looks like one that never was.
    yard.read(("p1-a", 60.0, "Cel"), ("b1-t", 22.0, "Cel"), ("b1-m", 72.0, "%"))
    yard.read(("amb", 20.0, "Cel"), after_ms=4 * 3_600_000)
    heap, bed = near.get("/place/p1").text, near.get("/place/b1").text
    assert re.search(r"<p>140 °F at p1-a, \d+ h ago, not known since</p>", heap)
    assert re.search(r"71.6 °F at b1-t, \d+ h ago, not known since, 72 % at b1-m, \d+ h ago, not known since", bed)
    assert "inside:" not in heap
    assert "°F in the bedding" not in bed


def status_of(yard, kind):
    """Return what `status` says of the places of a kind, by id."""
    from monitor.app.yard.yard_status import status_values
    from monitor.app.yard.yard_view import YardView
    from monitor.journal import open_reader

    with open_reader(yard.folder) as store, store.view():
        view = YardView(yard.writer.engine, store, None, None, None, [])
        return {one["place"]: one for one in status_values(view, yard.clock)[kind]}


def test_a_reading_by_hand_that_counts_no_longer_is_said_as_status_says_it(yard, near):
    near.send("/do/reading", place="b1", value="70", by="Ann")
    yard.clock += 15 * 24 * 3_600_000
    with yard.writer.turn(yard.clock) as turn:
        turn.advance(yard.clock)
    words = status_of(yard, "bins")["b1"]["by_hand"]["words"]
    assert words == "70 °F by hand, Ann, 15 days ago: too long ago to count"
    assert words in near.get("/place/b1").text


def test_what_was_read_by_hand_stays_on_the_sheet_of_a_place_that_is_empty_by_the_log(yard, near):
    near.send("/do/reading", place="p2", value_1="141", value_2="139", by="Ann", again="1")
    near.send("/do/reading", place="b1", value="70", by="Ann", again="1")
    for place in ("p2", "b1"):
        near.send("/do/work", place=place, kind="emptied", form="other", again="1")
    heap = status_of(yard, "piles")["p2"]["by_hand"]["words"]
    assert heap == "139 °F by hand, Ann, just now, coldest of 2: of the heap that is gone from here"
    lines = "By the log nothing lies here; log a heap as built when it is made.", heap
    assert "".join(f"<p>{line}</p>\n" for line in lines) in near.get("/place/p2").text
    assert status_of(yard, "bins")["b1"]["by_hand"]["words"] in near.get("/place/b1").text


def test_nobody_is_sent_to_put_probes_back_into_a_heap_that_may_burn(yard, near):
    near.send("/do/work", place="p1", kind="turned")
    text = near.get("/place/p1").text
    assert "Put them back in when the work is done" in text
    assert '<button class="main">All probes are back in</button>' in text
    assert "If you take it" not in text, "there is nothing to press"
    near.send("/do/reading", place="p1", value="185", by="Ann")
    assert yard.alarms["p1/fire"].state is AlarmState.UNACKNOWLEDGED
    for path in ("/place/p1", "/"):
        text = near.get(path).text
        assert "Put them back" not in text
        assert "Leave them out while the heap may burn" in text
    assert (
        '<button class="main">'
        not in near.get("/place/p1").text.replace("Write it down", "").split('class="over-time"')[1]
    )
    assert "All probes are back in" in near.get("/place/p1").text, "it can still be written down"
    assert "If you take it" in near.get("/place/p1").text


@pytest.mark.parametrize("width", [WIDE, NARROW])
def test_no_word_in_the_picture_of_a_heap_is_cut_while_its_probes_lie_outside(yard, near, width):
    near.send("/do/work", place="p1", kind="turned")
    yard.clock += 13 * 60_000
    with yard.look() as look:
        view = place_view(look.engine, "p1", [], look.now)
        # As many probes as a heap of the demo has.
        drawn = section(look.engine, replace(view, probes=view.probes * 2), look.now, width)
    texts = re.findall(r"<text[^>]*>([^<]*)</text>", drawn)
    assert texts.count("out") == 4
    assert [one for one in texts if "…" in one] == []
