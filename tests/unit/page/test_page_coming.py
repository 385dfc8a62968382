"""The table of the days around today: headers and words for the ear, letters for the eye, and no reading of years."""

import re
from html import unescape

from monitor.app.page_ports.page_coming import KeptComing
from monitor.diary import Due
from monitor.model.times import DAY_MS, HOUR_MS


def rows(text):
    """Return for each place of the table the words of its seven days."""
    table = re.search(r'<table class="tide">(.*?)</table>', text, re.S)[1]
    found = {}
    for place, row in re.findall(r'<tr id="tide-([\w-]+)">(.*?)</tr>', table, re.S):
        cells = re.findall(r"<td[^>]*>(.*?)</td>", row, re.S)
        found[place] = ["".join(re.findall(r'<span class="aside">(.*?)</span>', cell)).strip() for cell in cells]
    return found


def test_what_was_done_and_what_is_due_stand_at_their_days(yard, near):
    near.send("/do/work", place="p1", kind="turned", when="2026-07-19T08:00", form="other", again="1")
    near.send("/do/work", place="b1", kind="fed", amount="1", measure="kg", form="fed", again="1")
    text = near.get("/").text
    table = rows(text)
    assert list(table) == ["p1", "b1"], "in the order of the configuration, without what has nothing to show"
    assert all(len(cells) == 7 for cells in table.values())
    assert table["p1"][1] == "turn it, done."
    assert table["b1"][2] == "feed it, done."
    assert text.index('id="today"') < text.index('id="coming"') < text.index('id="plan"')


def test_its_heads_say_their_day_in_full_and_which_is_today(near):
    text = near.get("/").text
    if 'id="coming"' not in text:
        near.send("/do/work", place="p1", kind="turned")
        text = near.get("/").text
    heads = re.findall(r'<th scope="col"([^>]*)>.*?<span class="aside">(.*?)</span></th>', text)
    assert [words for _, words in heads][:3] == ["Saturday 18 July", "Sunday 19 July", "Monday 20 July"]
    assert [bool(more) for more, _ in heads] == [False, False, True, False, False, False, False]
    assert re.search(r'<th scope="row"><a href="/place/p1">Bay 1</a></th>', text)


def test_every_letter_has_its_words_below(near):
    near.send("/do/work", place="p1", kind="turned")
    near.send("/do/work", place="b1", kind="watered", amount="1", measure="L", form="other", again="1")
    text = unescape(near.get("/").text)
    key = re.search(r'<p class="hint tide-key">(.*?)</p>', text, re.S)[1]
    shown = set(re.findall(r'<b aria-hidden="true">(\S)</b>', text))
    assert {"T", "W"} <= shown
    assert set(re.findall(r"<b>(\S)</b>", key)) == shown
    assert '<span class="is-done">' in key


def test_nothing_done_and_nothing_due_is_no_table(yard, near, monkeypatch):
    from monitor.app.page_ports.page_yard import JournalLook

    monkeypatch.setattr(JournalLook, "coming", lambda self, until: [])
    assert 'class="tide"' not in near.get("/").text


def test_the_log_is_asked_again_only_when_somebody_entered_something(yard, monkeypatch):
    from monitor.app.page_ports import page_coming

    asked = []

    def counted(one, sources):
        asked.append(sources)
        return []

    monkeypatch.setattr(page_coming, "of_places", counted)
    kept = KeptComing()
    until = yard.clock + 4 * DAY_MS

    def look():
        with yard.look() as one:
            kept.of_places(one._asked(until))
        return asked.count(page_coming.OF_PLACES_LOG)

    assert (look(), look()) == (1, 1)
    yard.read(("p1-a", 60.0, "Cel"), after_ms=1000)
    assert look() == 1, "a reading moves nothing of the log"
    yard.put("work", {"time": yard.clock, "place": "p1", "kind": "turned"}, again=True)
    assert look() == 2
    yard.clock += HOUR_MS
    assert look() == 3, "time alone moves it, too"


def test_the_air_of_years_is_not_read(yard, monkeypatch):
    from monitor.app.diary import due_list

    def never(_):
        raise AssertionError("the seasons were asked")

    monkeypatch.setattr(due_list, "seasons", never)
    with yard.look() as look:
        found = look.coming(look.now + 4 * DAY_MS)
    assert all(isinstance(one, Due) and one.place in ("p1", "p2", "b1") for one in found)
    assert due_list.seasons not in (*due_list.OF_PLACES, *due_list.OF_PLACES_LOG)
