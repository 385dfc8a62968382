"""The plan: a card for each place in the order of the configuration, its number, its last 72 hours; one found among many."""

import re
from html import unescape

import numpy as np
import page_yard_for_tests
import pytest
from page_visitor import browser
from page_yard_for_tests import NOW, TestYard, page_of

from monitor.drawing import PlanLine, plan_line
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.page.pictures.plan_lines import SPAN_MS


def card(near, place, path="/"):
    """Return the lines of a card."""
    text = near.get(path).text
    found = re.search(rf'<li id="at-{place}" class="ground.*?</li>', text, re.DOTALL)
    lines = re.split(r"</?(?:h3|p|div)\b[^>]*>", re.sub(r"<svg.*?</svg>", "", found[0], flags=re.DOTALL))
    return [one for line in lines if (one := " ".join(re.sub(r"<[^>]+>", "", unescape(line)).split()).strip("\u200b"))]


def drawn(near, place):
    found = re.search(rf'<li id="at-{place}" class="ground.*?</li>', near.get("/").text, re.DOTALL)[0]
    return (re.findall(r'<div class="days3">(.*?)</div>', found, re.DOTALL) or [""])[0]


def shown(near, path="/"):
    return re.findall(r'<li id="at-([\w-]+)" class="ground', near.get(path).text)


def test_a_card_has_the_state_one_number_and_how_far_the_rule_is(near):
    assert card(near, "p1") == ["Bay 1", "holding", "136 °F coldest core", "2 of 15 days, 0 of 5 turnings"]
    assert card(near, "b1") == ["Sunny wall bin, needs you now", "overheating", "93 °F"]
    assert card(near, "p2") == ["Bay 2", "empty"], "nothing lies there, so there is no number"


def test_a_burning_heap_shows_its_hottest_and_a_mark_of_its_own(yard, near):
    yard.burn()
    assert card(near, "p1")[:3] == ["Bay 1, fire danger", "fire danger, holding", "184 °F hottest core"]
    assert '<li id="at-p1" class="ground fire">' in near.get("/").text


def test_a_number_that_tells_no_longer_of_now_says_how_old_it_is(yard, near):
    yard.clock += 5 * HOUR_MS
    with yard.writer.turn(yard.clock) as turn:
        turn.advance(yard.clock)
    assert card(near, "b1")[2] == "93 °F 5 h ago"
    assert '<p class="big old"><b>93 °F</b> 5 h ago</p>' in near.get("/").text


def test_a_reading_by_hand_says_so(yard, near):
    near.send("/do/work", place="p2", kind="built", form="other", again="1")
    near.send("/do/reading", place="p2", value_1="141", value_2="139", by="Ann", again="1")
    assert card(near, "p2")[2] == "139 °F coldest core, by hand"
    assert 'class="d-plan-read"' in drawn(near, "p2"), "dots: nobody knows what was between them"
    assert 'class="d-plan-line"' not in drawn(near, "p2")


def test_the_line_keeps_its_gaps_and_ends_where_the_readings_end(yard, near):
    whole = drawn(near, "p1")
    assert whole.count('class="d-plan-line"') == 1
    assert re.search(r'aria-label="72 hours: 7\d °F to 136 °F"', whole)
    yard.read(("p1-a", 60.0, "Cel"), ("p1-b", 58.0, "Cel"), after_ms=6 * HOUR_MS)
    yard.read(("p1-a", 60.0, "Cel"), ("p1-b", 58.0, "Cel"), after_ms=HOUR_MS)
    assert drawn(near, "p1").count('class="d-plan-line"') == 2, "six hours without a reading are a gap"
    end = re.search(r'class="d-plan-end" d="M([\d.]+) ', drawn(near, "p1"))[1]
    assert float(end) > 139
    yard.clock += 36 * HOUR_MS
    end = re.search(r'class="d-plan-end" d="M([\d.]+) ', drawn(near, "p1"))[1]
    assert 68 < float(end) < 72, "half of the line is empty since"
    yard.clock += 80 * HOUR_MS
    assert drawn(near, "p1") == ""


def test_what_a_probe_read_outside_its_heap_is_not_on_the_line(yard, near):
    near.send("/do/work", place="p1", kind="turned")
    for _ in range(3):
        yard.read(("p1-a", 16.0, "Cel"), ("p1-b", 15.0, "Cel"), after_ms=20 * MINUTE_MS)
    assert card(near, "p1") == ["Bay 1, needs you", "holding", "Its core probes are outside"]
    near.send("/do/probes", place="p1")
    for _ in range(3):
        yard.read(("p1-a", 58.0, "Cel"), ("p1-b", 57.0, "Cel"), after_ms=HOUR_MS)
    assert re.search(r'aria-label="72 hours: \d+ °F to 1\d\d °F"', drawn(near, "p1")), "59 °F was the air's"
    assert drawn(near, "p1").count('class="d-plan-line"') == 2


def test_a_line_is_short_and_costs_only_its_own_hours(yard, near, monkeypatch):
    from monitor.app.page_ports.page_yard import JournalLook

    asked = []
    real = JournalLook.columns

    def columns(self, probe, start, end):
        asked.append((probe, start, end))
        return real(self, probe, start, end)

    monkeypatch.setattr(JournalLook, "columns", columns)
    for minute in range(60):
        yard.read(("p1-a", 60.0 + minute % 7, "Cel"), ("p1-b", 55.0 + minute % 5, "Cel"), after_ms=MINUTE_MS)
    line = re.search(r'class="d-plan-line" d="([^"]+)"', drawn(near, "p1"))[1]
    assert len(re.findall(r"[l ]", line)) < 200
    assert len(line) < 900
    assert min(start for _, start, _ in asked) >= yard.clock - SPAN_MS - 3 * HOUR_MS
    assert {probe for probe, _, _ in asked} == {"p1-b", "b1-t", "amb"}, "one series for each card, and the air"


def test_the_line_of_a_drawing_stands_within_its_frame():
    svg = plan_line(
        PlanLine(times=np.array([0, 50, 100]), milli=np.array([-20, 25, 999]), start=0, end=100, low=0, high=50,
                 band=(20, 30), max_gap_ms=60, words="<72 hours>")
    )  # fmt: skip
    assert 'preserveAspectRatio="none"' in svg
    assert 'd="M0 36l70-16 70-16"' in svg
    assert "&lt;72 hours&gt;" in svg


@pytest.fixture
def forty(tmp_path, monkeypatch):
    more = "".join(f'[piles.x{n}]\nname = "Row {n}"\n' for n in range(1, 21))
    more += "".join(f'[bins.y{n}]\nname = "Worm box {n}"\n' for n in range(1, 18))
    monkeypatch.setattr(page_yard_for_tests, "TOML", page_yard_for_tests.TOML + more)
    made = TestYard(tmp_path)
    yield made
    made.close()


def test_few_places_need_no_form(near):
    assert '<form class="narrow' not in near.get("/").text


def test_one_among_forty_is_found_without_a_script(forty):
    near = browser(page_of(forty)[0])
    text = near.get("/").text
    assert '<form class="narrow not-printed" method="get" action="/" data-look>' in text
    assert len(shown(near)) == 40
    assert shown(near)[:4] == ["p1", "p2", "x1", "x2"], "as somebody wrote them down"
    assert shown(near, "/?find=ROW+1&show=") == ["x1", *(f"x{n}" for n in range(10, 20))]
    assert shown(near, "/?show=bins")[0] == "b1"
    assert len(shown(near, "/?show=bins")) == 18
    assert len(shown(near, "/?show=heaps")) == 22
    assert "b1" in shown(near, "/?show=needs")
    assert "p2" not in shown(near, "/?show=needs")
    assert shown(near, "/?find=box&show=heaps") == []
    assert "No place is like that" in near.get("/?find=box&show=heaps").text
    assert len(shown(near, "/?show=nonsense")) == 40
    assert 'value="&lt;b&gt;"' in near.get("/?find=<b>").text


def test_what_needs_doing_is_not_narrowed_down(forty):
    near = browser(page_of(forty)[0])
    assert "Worms in danger since" in near.get("/?find=nowhere").text


def test_the_work_of_the_last_weeks_is_read_alone_and_is_the_same(yard):
    for days, kind in ((40, "turned"), (20, "watered"), (2, "turned"), (1, "note")):
        yard.put("work", {"time": NOW - days * DAY_MS, "place": "p1", "kind": kind, "note": "x"}, again=True)
    with yard.look() as look:
        lately = look.works("p1", NOW - 25 * DAY_MS)
        assert [entry.work.kind for entry in lately] == ["watered", "turned", "note"]
        assert "_all_works" not in vars(look)
        assert next(entry.work.kind for entry in look.works("p1")) == "turned"
        assert [one for one in look.works("p1") if one.work.time > NOW - 25 * DAY_MS] == lately
