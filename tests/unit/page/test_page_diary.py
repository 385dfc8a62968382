"""The sheet of the diary: by day, today first, and safe whatever people call their places."""

import re

import pytest
from page_visitor import browser
from page_yard_for_tests import NOW, TestYard, page_of

from monitor.model.times import DAY_MS


def words(text):
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def test_a_week_ahead_by_day(near):
    text = near.get("/diary").text
    assert re.findall(r"<h2>([^<]+)</h2>", text)[0] == "Tomorrow, Tue 21 Jul"
    said = words(text)
    assert "Bay 1 : turn it. 7 days of slack. Its rule wants more: 5 turnings are left, and 13 days." in said
    assert 'aria-current="true">a week<' in text


def test_what_is_expected_is_set_apart_and_has_no_hour(near):
    month = near.get("/diary?days=30").text
    (line,) = re.findall(r'<li data-key="expect/p1/met[^"]*" class="expected">(.*?)</li>', month, re.DOTALL)
    assert words(line).startswith("Bay 1 : its rule is met then if all goes well (2 of 15 days, 0 of 5 turnings done).")
    assert '<span class="when"></span>' in line
    assert "expect/" not in near.get("/diary?days=7").text


@pytest.mark.parametrize("days", ["", "0", "8", "-7", "x" * 300, "30 OR 1"])
def test_any_other_number_of_days_is_a_week(near, days):
    answer = near.get("/diary", params={"days": days})
    assert answer.status_code == 200
    assert 'aria-current="true">a week<' in answer.text


def test_a_burning_heap_has_nothing_else_to_do(yard, near):
    yard.burn()
    text = near.get("/diary?days=30").text
    (line,) = re.findall(r'<li data-key="[^"]*/p1/[^"]*" class="off">(.*?)</li>', text, re.DOTALL)
    assert "keep off" in words(line)
    assert "leave it shut and do no work there" in words(line)
    assert not re.search(r'data-key="(turn|read|expect)/p1', text)


def test_what_is_late_is_marked(yard, near):
    yard.clock = NOW + 4 * DAY_MS
    text = near.get("/diary").text
    (due,) = re.findall(r'<li data-key="turn/p1/[^"]*" class="(\w+)">', text)
    assert due == "due", "it is past due and can still wait"
    assert re.search(r"[Dd]ue \d+ (h|day|days) ago", text)


def test_no_name_breaks_out(tmp_path):
    yard = TestYard(tmp_path, pile_name='"<b>Bay</b> & 1"')
    try:
        app, _ = page_of(yard)
        text = browser(app).get("/diary").text
        assert "&lt;b&gt;Bay&lt;/b&gt; &amp; 1" in text
        assert "<b>" not in text
    finally:
        yard.close()


def test_a_yard_in_which_nothing_falls_due_says_so(tmp_path):
    yard = TestYard(tmp_path, lived=True)
    try:
        app, _ = page_of(yard)
        assert "Nothing falls due within a week." in browser(app).get("/diary").text
    finally:
        yard.close()


def test_before_you_go_has_what_falls_due_and_who_is_on_duty(yard, near):
    said = words(near.get("/before").text)
    assert "Due until tomorrow night Tue 05:15 Bay 1: turn it, 7 days of slack (Ann)" in said
